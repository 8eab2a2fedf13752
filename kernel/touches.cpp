// Which points of the rims press on material, how deep and how they have moved along it.
#include "touches.h"

#include <algorithm>

#include "depth.h"

namespace handfast {

namespace {

Pose placed(const std::vector<Pose> &poses, int body) {
    return body < 0 ? Pose{{{1, 0, 0, 0, 1, 0, 0, 0, 1}}, {0, 0, 0}} : poses[size_t(body)];
}

// Where the circle through two neighbouring points about z, the first in the material of `opens`, leaves it.
Vec leaves(const Shape &opens, const Pose &beside, Vec in, Vec out) {
    const double radius = std::sqrt(in.x * in.x + in.y * in.y);
    for (int halved = 0; halved < 20; ++halved) {
        Vec middle = 0.5 * (in + out);
        const double now = radius / std::sqrt(middle.x * middle.x + middle.y * middle.y);
        middle.x *= now, middle.y *= now;
        (depth_in(opens, beside.r * middle + beside.p).value > 0 ? in : out) = middle;
    }
    return in;
}

// Whether no point of the rim can lie in the material, judged by the circle that holds them.
bool apart(const Rim &rim, const Shape &in, const Pose &into) {
    const Vec middle = into * Vec{0, 0, rim.height};
    const double tilt = std::min(1.0, std::sqrt(into.r.m[2] * into.r.m[2] + into.r.m[5] * into.r.m[5]));
    const double up = rim.radius * tilt, x = middle.x - std::clamp(middle.x, -in.half, in.half);
    const double aside = std::sqrt(x * x + middle.y * middle.y);
    const double flat = rim.inner * std::sqrt(1.0 - tilt * tilt);
    const double least = std::max(0.0, std::max(flat - aside, aside - rim.radius));
    const double u = in.sign > 0 ? aside + rim.radius - in.radius : in.radius - least;
    for (int i = 0; i < in.planes; ++i) {
        const double *p = in.plane[i];
        if (p[0] * u + std::max(p[1] * (middle.z - up), p[1] * (middle.z + up)) + p[2] <= 0) return true;
    }
    return false;
}

}  // namespace

void Touches::find(const std::vector<Pose> &poses, const std::vector<Pose> &before, std::vector<Touch> &found) const {
    found.clear();
    for (size_t k = 0; k < rims_.size(); ++k) {
        const Rim &rim = rims_[k];
        const Shape &on = shapes_[size_t(rim.points_on)], &in = shapes_[size_t(rim.material)];
        const Pose a = placed(poses, on.body), b = placed(poses, in.body);
        const Pose into = inverse(b * in.at) * (a * on.at);
        if (apart(rim, in, into)) continue;
        const Met met{int(k), into, b * in.at, a * on.at};
        if (in.also < 0) {
            for (int i = rim.start; i < rim.start + rim.count; ++i) press(met, points_[i], before, found);
        } else {
            const Shape &opens = shapes_[size_t(in.also)];
            beside_hole(met, opens, b * opens.at, before, found);
        }
    }
}

// Where another hole opens there is no wall. A circle leaves the wall somewhere between two of its points, on the ridge
// between the holes, and presses on it there.
void Touches::beside_hole(const Met &met, const Shape &opens, const Pose &hole, const std::vector<Pose> &before,
                          std::vector<Touch> &found) const {
    const Rim &rim = rims_[size_t(met.rim)];
    const Pose beside = inverse(hole) * met.points;
    const bool circle = rim.radius - rim.inner < 1e-9 && rim.count > 2;
    const Vec *first = points_ + rim.start;
    bool walled = depth_in(opens, beside.r * first[rim.count - 1] + beside.p).value > 0;
    for (int i = 0; i < rim.count; ++i) {
        const bool was = walled;
        walled = depth_in(opens, beside.r * first[i] + beside.p).value > 0;
        if (circle && was != walled) {
            const Vec last = first[(i + rim.count - 1) % rim.count];
            const Vec there = leaves(opens, beside, was ? last : first[i], was ? first[i] : last);
            const Vec beyond = hole.r * depth_in(opens, beside.r * there + beside.p).normal;
            press(met, there, before, found, &beyond);
        }
        if (walled) press(met, first[i], before, found);
    }
}

// A point of a rim, in its shape's frame, if it lies in the other's material. beyond: out of the wall that meets the
// other one in a ridge, where the point is that at which a circle crosses the ridge: it stays on it as the body moves,
// so that the ridge presses square to itself and to the circle.
void Touches::press(const Met &met, Vec point, const std::vector<Pose> &before, std::vector<Touch> &found,
                    const Vec *beyond) const {
    const Rim &rim = rims_[size_t(met.rim)];
    const Shape &on = shapes_[size_t(rim.points_on)], &in = shapes_[size_t(rim.material)];
    Depth d = depth_in(in, met.into.r * point + met.into.p);
    if (d.value <= 0) return;
    Vec normal = met.material.r * d.normal;
    const Vec at = met.points * point;
    if (beyond) {
        const Vec circle = met.points.r * Vec{-point.y, point.x, 0};
        const double across = dot(*beyond, circle);
        if (std::fabs(across) < 1e-3 * norm(circle)) return;  // runs along the ridge: its own points press
        const Vec square = normal - (dot(normal, circle) / across) * *beyond;
        const double size = norm(square);
        if (size < 0.1) return;
        normal = (1.0 / size) * square, d.value /= size;
    }
    // How far each body carried the point there since the step before: from where it was in that body.
    const Vec ours = placed(before, on.body) * (on.at * point);
    const Vec theirs = placed(before, in.body) * (in.at * (inverse(met.material) * at));
    Vec along = (at - ours) - (at - theirs);
    along = along - dot(along, normal) * normal;
    found.push_back({at, normal, along, d.value, on.body, in.body, met.rim});
}

}  // namespace handfast
