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
void sin_cos(double x, double &s, double &c);
double arctan2(double y, double x);
inline double arccos(double c) { return arctan2(std::sqrt((1.0 - c) * (1.0 + c)), c); }

Mat rotation(Vec axis, double angle);
Vec rotate(Vec axis, double angle, Vec v);
Vec rotation_vector(const Mat &r);

}  // namespace handfast
