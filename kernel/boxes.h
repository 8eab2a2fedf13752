// Boxes that stand turned, around bodies.
#pragma once
#include "maths.h"

namespace handfast {

struct SolidBox {
    Mat turned;     // world -> box
    Vec origin;     // its middle, turned into its own axes
    Vec middle;     // its middle in world
    double half[3];
};

// Whether a, carried along by `step`, stays at least `apart` from b. False proves nothing.
bool stay_apart(const SolidBox &a, const SolidBox &b, Vec step, double apart);

constexpr int MAX_CUTS = 15;

// Of n boxes, least and largest coordinates and what counts as their middle (n x 3): the volume that is saved by two boxes
// around them instead of one, cut at the best of some shares of the middles' span along an axis; which lie below the cut.
double best_cut(const double *low, const double *high, const double *middle, size_t n, const double *shares, int share_count,
                bool *below);

}  // namespace handfast
