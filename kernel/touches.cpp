// Which points of the rims press on material, how deep and how they have moved along it.
#include "touches.h"

#include <algorithm>

#include "depth.h"

namespace handfast {

namespace {

constexpr double ANEW = 1e-5;       // points that have moved this far are looked at anew, one by one [m]
constexpr double ROUNDING = 1e-12;  // of positions [m]

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
        (inside(opens, beside * middle) ? in : out) = middle;
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

// How far the points of a rim move at most from one place to another in the material's frame.
double moved_by(const Rim &rim, const Pose &from, const Pose &to) {
    double turned = 0;
    for (int i = 0; i < 9; ++i) turned += (to.r.m[i] - from.r.m[i]) * (to.r.m[i] - from.r.m[i]);
    const Vec middle{0, 0, rim.height};
    return norm(to * middle - from * middle) + rim.radius * std::sqrt(turned);
}

}  // namespace

Touches::Touches(const std::vector<Shape> &shapes, const std::vector<Rim> &rims, const Vec *points)
    : shapes_(shapes), rims_(rims), points_(points), at_(shapes.size()), to_(shapes.size()), seen_(rims.size()) {
    int all = 0;
    for (const Rim &rim : rims) all = std::max(all, rim.start + rim.count);
    out_by_.resize(size_t(all)), walled_by_.resize(size_t(all));
}

void Touches::find(const std::vector<Pose> &poses, const std::vector<Pose> &before, std::vector<Touch> &found) {
    found.clear();
    for (size_t i = 0; i < shapes_.size(); ++i) {
        at_[i] = placed(poses, shapes_[i].body) * shapes_[i].at;
        to_[i] = inverse(at_[i]);
    }
    for (size_t k = 0; k < rims_.size(); ++k) {
        const Rim &rim = rims_[k];
        const Shape &in = shapes_[size_t(rim.material)];
        const Pose &material = at_[size_t(rim.material)], &points = at_[size_t(rim.points_on)];
        const Met met{int(k), to_[size_t(rim.material)] * points, material, points};
        if (apart(rim, in, met.into)) continue;
        if (in.also < 0) {
            const double gone = moved_since_seen(k, met.into);
            for (int i = rim.start; i < rim.start + rim.count; ++i)
                if (out_by_[size_t(i)] <= gone) press(met, points_[i], before, found);
        } else {
            beside_hole(met, shapes_[size_t(in.also)], before, found);
        }
    }
}

// How far the points of a rim have moved at most, in the material's frame, since they were looked at one by one; looked at
// anew where that is too far. A point that was further out of the material is not in it now. beside: from the points' shape
// to the hole that the material opens into, if it does.
double Touches::moved_since_seen(size_t k, const Pose &into, const Pose *beside) {
    const Rim &rim = rims_[k];
    if (seen_[k].once) {
        const double gone = moved_by(rim, seen_[k].into, into);
        if (gone < ANEW) return gone;
    }
    const Shape &in = shapes_[size_t(rim.material)];
    for (int i = rim.start; i < rim.start + rim.count; ++i) {
        out_by_[size_t(i)] = out_of(in, into * points_[i]) - ROUNDING;
        if (beside) walled_by_[size_t(i)] = within(shapes_[size_t(in.also)], *beside * points_[i]);
    }
    seen_[k] = {into, true};
    return 0.0;
}

// Where another hole opens there is no wall. A circle leaves the wall somewhere between two of its points, on the ridge
// between the holes, and presses on it there.
void Touches::beside_hole(const Met &met, const Shape &opens, const std::vector<Pose> &before, std::vector<Touch> &found) {
    const Rim &rim = rims_[size_t(met.rim)];
    const Shape &in = shapes_[size_t(rim.material)];
    const Pose beside = to_[size_t(in.also)] * met.points;
    const double gone = moved_since_seen(size_t(met.rim), met.into, &beside);
    const bool circle = rim.radius - rim.inner < 1e-9 && rim.count > 2;
    const Vec *first = points_ + rim.start;
    const auto is_walled = [&](int i) {
        const double by = walled_by_[size_t(rim.start + i)];
        return std::fabs(by) > gone + ROUNDING ? by > 0 : inside(opens, beside * first[i]);
    };
    bool walled = is_walled(rim.count - 1);
    for (int i = 0; i < rim.count; ++i) {
        const bool was = walled;
        walled = is_walled(i);
        if (circle && was != walled) {
            const Vec last = first[(i + rim.count - 1) % rim.count];
            const Vec there = leaves(opens, beside, was ? last : first[i], was ? first[i] : last);
            if (inside(in, met.into * there)) {
                const Vec beyond = at_[size_t(in.also)].r * depth_in(opens, beside * there).normal;
                press(met, there, before, found, &beyond);
            }
        }
        if (walled && out_by_[size_t(rim.start + i)] <= gone) press(met, first[i], before, found);
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
