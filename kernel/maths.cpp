#include "maths.h"

namespace handfast {

void sin_cos(double x, double &s, double &c) {
    const double n = std::floor(x * (2.0 / PI) + 0.5);
    const double y = ((x - n * 1.57079625129699707031) - n * 7.54978941586159635335e-8) - n * 5.39030285815811905290e-15;
    const double z = y * y;
    const double ps = (((((1.58962301576546568060e-10 * z - 2.50507477628578072866e-8) * z + 2.75573136213857245213e-6) * z -
                         1.98412698295895385996e-4) * z + 8.33333333332211858878e-3) * z - 1.66666666666666307295e-1) * z * y + y;
    const double pc = (((((-1.13585365213876817300e-11 * z + 2.08757008419747316778e-9) * z - 2.75573141792967388112e-7) * z +
                         2.48015872888517045348e-5) * z - 1.38888888888730564116e-3) * z + 4.16666666666665929218e-2) * z * z -
                      0.5 * z + 1.0;
    const int quarter = int(int64_t(n) & 3);
    s = quarter == 0 ? ps : quarter == 1 ? pc : quarter == 2 ? -ps : -pc;
    c = quarter == 0 ? pc : quarter == 1 ? -ps : quarter == 2 ? -pc : ps;
}

static double arctan(double x) {  // x >= 0
    double base = 0.0, rest = 0.0;
    if (x > 2.41421356237309504880) {
        base = PI / 2, rest = 6.123233995736765886130e-17, x = -1.0 / x;
    } else if (x > 0.66) {
        base = PI / 4, rest = 0.5 * 6.123233995736765886130e-17, x = (x - 1.0) / (x + 1.0);
    }
    const double z = x * x;
    const double p = (((-8.750608600031904122785e-1 * z - 1.615753718733365076637e1) * z - 7.500855792314704667340e1) * z -
                      1.228866684490136173410e2) * z - 6.485021904942025371773e1;
    const double q = ((((z + 2.485846490142306297962e1) * z + 1.650270098316988542046e2) * z + 4.328810604912902668951e2) * z +
                      4.853903996359136964868e2) * z + 1.945506571482613964425e2;
    return base + ((x * (z * p / q) + x) + rest);
}

double arctan2(double y, double x) {
    const double ay = std::fabs(y), ax = std::fabs(x);
    double a = ax == 0.0 ? (ay == 0.0 ? 0.0 : PI / 2) : arctan(ay / ax);
    if (x < 0.0) a = PI - a;
    return y < 0.0 ? -a : a;
}

Mat rotation(Vec k, double angle) {
    double s, c;
    sin_cos(angle, s, c);
    const double v = 1.0 - c;
    return {{c + v * k.x * k.x, v * k.x * k.y - s * k.z, v * k.x * k.z + s * k.y,
             v * k.x * k.y + s * k.z, c + v * k.y * k.y, v * k.y * k.z - s * k.x,
             v * k.x * k.z - s * k.y, v * k.y * k.z + s * k.x, c + v * k.z * k.z}};
}

Vec rotate(Vec k, double angle, Vec v) {
    double s, c;
    sin_cos(angle, s, c);
    return c * v + s * cross(k, v) + ((1.0 - c) * dot(k, v)) * k;
}

Vec rotation_vector(const Mat &r) {
    const Vec w = {0.5 * (r.m[7] - r.m[5]), 0.5 * (r.m[2] - r.m[6]), 0.5 * (r.m[3] - r.m[1])};
    const double s = norm(w), c = 0.5 * (r.m[0] + r.m[4] + r.m[8] - 1.0), angle = arctan2(s, c);
    if (c > -0.99) return (s > 1e-300 ? angle / s : 1.0) * w;
    // Near a half turn the axis is the largest column of r + r^T - (2c) I, with the sign of w.
    int k = r.m[0] > r.m[4] ? (r.m[0] > r.m[8] ? 0 : 2) : (r.m[4] > r.m[8] ? 1 : 2);
    double a[3];
    for (int i = 0; i < 3; ++i) a[i] = 0.5 * (r.m[3 * i + k] + r.m[3 * k + i]) - (i == k ? c : 0.0);
    const Vec axis = unit({a[0], a[1], a[2]});
    return (dot(axis, w) < 0.0 ? -angle : angle) * axis;
}

}  // namespace handfast
