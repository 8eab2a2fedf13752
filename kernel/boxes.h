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

}  // namespace handfast
