// Regions of several pairs that have to be met at once: see together.cpp.
#pragma once
#include <cstddef>

namespace handfast {

constexpr double ROOM_SLACK = 1e-12;  // by which a region is taken as met [m]

struct Regions {
    size_t count;
    const double *A, *back;  // count x 2 x 3, and their pseudo-inverses count x 3 x 2
};

struct Sweeps {
    int count;
    double inside, step;  // share of a region's room that is aimed at; of the way there that is gone
};

void go_together(const Regions &, const double *off, const double *rooms, size_t lots, const Sweeps &, bool *out);

}  // namespace handfast
