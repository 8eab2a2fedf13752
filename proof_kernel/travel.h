// How far the pieces of a moving arm can move at most.
#pragma once
#include <cstddef>

namespace handfast::proof {

// An arm of n joints: axes (n, 3) in the joint frames, reach (n) from each joint's origin to the next one's [m].
struct Chain {
    std::size_t n;
    const double *axes, *reach;
};

// P pieces at I instants: joints (I, n + 1, 4, 4) T_world_joint; steps (I, C, n) of the joints; centre (I, P, 3), radius
// (P); joint_of (P): the joint each moves with, 0 for those that are left out.
struct Asked {
    std::size_t instants, controls, pieces;
    const double *joints, *steps, *centre, *radius;
    const long long *joint_of;
};

// shift (I, C, P, 3), rest, turn, travel (I, P), tail (I, P, tails): as Nodes of the proof has them. Only those of pieces
// that are asked about are written.
struct Bounds {
    std::size_t tails;
    double *shift, *rest, *turn, *travel, *tail;
};

// A point p of a piece: |p(q + d) - p(q)| <= |J d| + sum over i, k of |d_i| |d_k| L_max(i,k) / 2, for the second
// derivative of p by q_i and q_k is at most the distance L of p from the later joint's origin. J d is linear in d, and d
// lies in the hull of the control steps, so its largest value is at one of them. L is bounded by the lengths of the links
// between.
void travel(const Chain &, const Asked &, const Bounds &);

}  // namespace handfast::proof
