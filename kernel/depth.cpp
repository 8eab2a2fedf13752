// Depth in the material of round shapes, slots and gears.
#include "depth.h"

#include <algorithm>

namespace handfast {

namespace {

double involute(double cosine) { return std::sqrt(std::max(0.0, 1.0 - cosine * cosine)) / cosine - arccos(std::min(1.0, cosine)); }

// Depth below the nearer flank of a gear's tooth, and out of it; below the root circle all is material.
Depth flank(const Shape &s, double x, double y) {
    const double rho = std::sqrt(x * x + y * y), pitch = 2.0 * PI / s.teeth;
    if (rho < s.root) return {1.0, {0, 0, 0}};
    const double angle = arctan2(y, x), off = angle - pitch * std::floor(angle / pitch + 0.5), side = off < 0 ? -1.0 : 1.0;
    const double cosine = rho > s.base ? s.base / rho : 1.0;
    const double value = rho * cosine * (s.half_tooth - involute(cosine) - std::fabs(off));
    // The normal of an involute is tangent to its base circle.
    const double sine = std::sqrt(1.0 - cosine * cosine), rx = x / rho, ry = y / rho;
    return {value, {sine * rx - side * cosine * ry, sine * ry + side * cosine * rx, 0}};
}

double below_wall(const Shape &s, Vec p) {
    const double x = p.x - std::clamp(p.x, -s.half, s.half);
    return s.sign * (std::sqrt(x * x + p.y * p.y) - s.radius);
}

}  // namespace

Depth depth_in(const Shape &s, Vec p) {
    const double x = p.x - std::clamp(p.x, -s.half, s.half), rho = std::sqrt(x * x + p.y * p.y);
    const double u = s.sign * (rho - s.radius), inward = rho > 1e-12 ? s.sign / rho : 0.0;
    Depth out{HUGE_VAL, {0, 0, 0}};
    const double *nearest = nullptr;
    for (int i = 0; i < s.planes; ++i) {
        const double d = s.plane[i][0] * u + s.plane[i][1] * p.z + s.plane[i][2];
        if (d < out.value) out.value = d, nearest = s.plane[i];
        if (d <= 0) return {d, {0, 0, 0}};
    }
    out.normal = {-nearest[0] * inward * x, -nearest[0] * inward * p.y, -nearest[1]};
    if (s.kind == 1) {
        const Depth side = flank(s, p.x, p.y);
        if (side.value < out.value) return side;
    }
    return out;
}

bool inside(const Shape &s, Vec p) {
    const double u = below_wall(s, p);
    for (int i = 0; i < s.planes; ++i)
        if (s.plane[i][0] * u + s.plane[i][1] * p.z + s.plane[i][2] <= 0) return false;
    return s.kind != 1 || flank(s, p.x, p.y).value > 0;
}

// Distances along each plane's normal change no faster than the point moves, nor, but for a twentieth, the depth behind a
// flank.
double out_of(const Shape &s, Vec p) {
    const double u = below_wall(s, p);
    double most = 0;
    for (int i = 0; i < s.planes; ++i) most = std::max(most, -(s.plane[i][0] * u + s.plane[i][1] * p.z + s.plane[i][2]));
    if (s.kind != 1) return most;
    const double above_root = std::sqrt(p.x * p.x + p.y * p.y) - s.root;
    return std::max(most, above_root > 0 ? std::min(above_root, -flank(s, p.x, p.y).value / 1.06) : 0.0);
}

double within(const Shape &s, Vec p) {
    const double u = below_wall(s, p);
    double least = HUGE_VAL;
    for (int i = 0; i < s.planes; ++i) least = std::min(least, s.plane[i][0] * u + s.plane[i][1] * p.z + s.plane[i][2]);
    return least;
}

}  // namespace handfast
