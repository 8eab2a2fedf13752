// Quasi-static insertion in contact, for the trials: see contact.cpp.
#pragma once
#include <cstddef>
#include <vector>

#include "maths.h"

namespace handfast {

inline Vec operator*(const Pose &a, Vec v) { return a.r * v + a.p; }

constexpr int MAX_PLANES = 6;
constexpr int MAX_BODIES = 4;

// Material is where every one of these is positive: a u + b z + c for each plane, and between the flanks of a gear.
// u: depth in the cross-section, behind the wall of a hole or a slot (sign 1: u = distance from the middle - radius)
// or below the surface of a shaft (sign -1: u = radius - distance); half: of a slot's middle line, along x.
struct Shape {
    int kind, body, also, planes;  // kind 0 round or slot, 1 gear; body -1: does not move; also: another hole it opens into
    double sign, radius, half;
    double teeth, base, half_tooth, root;  // of a gear: tooth's half angle at the base circle [rad]; base and root radius
    double plane[MAX_PLANES][3];
    Pose at;  // in the body's frame
};

// A row of points on the rim of one shape that may meet the material of another.
struct Rim {
    int points_on, material, start, count;
    double height, inner, radius;  // z of all of them; least and greatest distance from the shape's z axis
};

struct Body {
    Pose at, now;                            // where it is at rest, or is commanded to, and is: of its centre of compliance
    double lateral, axial, angular, spin;    // stiffness of what holds it [N/m, N m/rad], axes of `at`; spin about z
};

struct Going {
    Vec way;  // unit, in the world
    double length, limit, friction, stiffness, slip;
    const double *stops;  // travel of the command after each step, rising to length
    size_t count;
};

struct Gone {
    double travel = 0, peak = 0;
    bool over = false;
    int steps = 0, iterations = 0, unsettled = 0;  // unsettled: steps that ended without balance
    std::vector<double> deepest;  // of each rim
    std::vector<double> felt;     // step by step: travel of the command, force of what holds it along the way and across, its moment
    std::vector<Pose> poses;
};

Gone insert_in_contact(const std::vector<Shape> &, const std::vector<Rim> &, const Vec *points,
                       const std::vector<Body> &, const Going &);

}  // namespace handfast
