#include "maths.h"

namespace handfast {

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
