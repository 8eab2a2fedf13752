// How deep a point lies in the material of a shape, and the way out.
#pragma once
#include "contact.h"

namespace handfast {

struct Depth {
    double value;
    Vec normal;  // out of the material, in the shape's frame
};

// p in the shape's frame [m]; not above 0: outside.
Depth depth_in(const Shape &, Vec p);
// Whether it lies in the material.
bool inside(const Shape &, Vec p);
// How far it is out of the material at least, 0 inside.
double out_of(const Shape &, Vec p);
// How far it is at least from where a round hole's material ends, negative out of it.
double within(const Shape &, Vec p);

}  // namespace handfast
