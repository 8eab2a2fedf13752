// Small vectors, rotations and our own elementary functions, float64. Not for the level units.
#pragma once
#include <cmath>

#include "tables.h"

namespace handfast {

constexpr double PI = 3.14159265358979323846;

struct Vec {
    double x, y, z;
};

inline Vec operator+(Vec a, Vec b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
inline Vec operator-(Vec a, Vec b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
inline Vec operator*(double s, Vec a) { return {s * a.x, s * a.y, s * a.z}; }
inline double dot(Vec a, Vec b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
inline Vec cross(Vec a, Vec b) { return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x}; }
inline double norm(Vec a) { return std::sqrt(dot(a, a)); }
inline Vec unit(Vec a) { return (1.0 / norm(a)) * a; }

struct Mat {
    double m[9];  // row major
};

inline Vec operator*(const Mat &a, Vec v) {
    return {a.m[0] * v.x + a.m[1] * v.y + a.m[2] * v.z, a.m[3] * v.x + a.m[4] * v.y + a.m[5] * v.z,
            a.m[6] * v.x + a.m[7] * v.y + a.m[8] * v.z};
}
inline Mat operator*(const Mat &a, const Mat &b) {
    Mat c;
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j)
            c.m[3 * i + j] = a.m[3 * i] * b.m[j] + a.m[3 * i + 1] * b.m[3 + j] + a.m[3 * i + 2] * b.m[6 + j];
    return c;
}
inline Mat transpose(const Mat &a) { return {{a.m[0], a.m[3], a.m[6], a.m[1], a.m[4], a.m[7], a.m[2], a.m[5], a.m[8]}}; }

struct Pose {
    Mat r;
    Vec p;
};

inline Pose operator*(const Pose &a, const Pose &b) { return {a.r * b.r, a.r * b.p + a.p}; }
inline Pose inverse(const Pose &a) { return {transpose(a.r), -1.0 * (transpose(a.r) * a.p)}; }
inline Pose pose_of(const Rigid &t) {
    Pose out;
    for (int i = 0; i < 9; ++i) out.r.m[i] = t.r[i];
    out.p = {t.p[0], t.p[1], t.p[2]};
    return out;
}

// Sine, cosine and arctangent after Cephes (Moshier): the C library picks its versions by processor, these do not.
inline void sin_cos(double x, double &s, double &c) {
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

inline double arctan(double x) {  // x >= 0
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

inline double arctan2(double y, double x) {
    const double ay = std::fabs(y), ax = std::fabs(x);
    double a = ax == 0.0 ? (ay == 0.0 ? 0.0 : PI / 2) : arctan(ay / ax);
    if (x < 0.0) a = PI - a;
    return y < 0.0 ? -a : a;
}

inline double arccos(double c) { return arctan2(std::sqrt((1.0 - c) * (1.0 + c)), c); }

Mat rotation(Vec axis, double angle);
Vec rotate(Vec axis, double angle, Vec v);
Vec rotation_vector(const Mat &r);

}  // namespace handfast
