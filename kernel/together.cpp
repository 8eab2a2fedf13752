// Whether all regions of a mate can be met at once: cyclic projections, a lot at a time.
#include "together.h"

#include <cmath>
#include <vector>

namespace handfast {

namespace {

struct Spot {
    double x, y;
};

Spot where(const Regions &r, size_t j, const double *off, const double *v) {
    const double *A = r.A + 6 * j;
    return {off[2 * j] + A[0] * v[0] + A[1] * v[1] + A[2] * v[2], off[2 * j + 1] + A[3] * v[0] + A[4] * v[1] + A[5] * v[2]};
}

bool holds(const Regions &r, const double *off, const double *rooms, const double *v) {
    for (size_t j = 0; j < r.count; ++j) {
        const Spot s = where(r, j, off, v);
        if (!(std::sqrt(s.x * s.x + s.y * s.y) <= rooms[j] + ROOM_SLACK)) return false;
    }
    return true;
}

bool goes(const Regions &r, const double *off, const double *rooms, const Sweeps &s) {
    double v[3] = {0.0, 0.0, 0.0};
    for (int sweep = 0; sweep < s.count; ++sweep) {
        bool inside = true;
        for (size_t j = 0; j < r.count; ++j) {
            const Spot at = where(r, j, off, v);
            const double length = std::sqrt(at.x * at.x + at.y * at.y);
            inside = inside && length - rooms[j] <= ROOM_SLACK;
            const double over = 1.0 - s.inside * rooms[j] / (length > 1e-15 ? length : 1e-15);
            if (!(over > 0.0)) continue;
            const double *back = r.back + 6 * j;
            for (int i = 0; i < 3; ++i) v[i] -= s.step * over * (back[2 * i] * at.x + back[2 * i + 1] * at.y);
        }
        // What was met on the way may have been lost again, so ask once more.
        if (inside && holds(r, off, rooms, v)) return true;
    }
    return holds(r, off, rooms, v);
}

}  // namespace

void go_together(const Regions &regions, const double *off, const double *rooms, size_t lots, const Sweeps &sweeps, bool *out) {
    for (size_t i = 0; i < lots; ++i)
        out[i] = goes(regions, off + 2 * regions.count * i, rooms + regions.count * i, sweeps);
}

}  // namespace handfast
