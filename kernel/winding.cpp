// How often a mesh goes around points, counted along a ray up z: a face crossed from within counts one, from without minus one.
#include <algorithm>

#include "kernel.h"

namespace handfast {

// Twice the area of the triangle p a b seen along z, positive if anticlockwise.
static double twice_area(const double *p, const double *a, const double *b) {
    return (a[0] - p[0]) * (b[1] - p[1]) - (a[1] - p[1]) * (b[0] - p[0]);
}

// 1 where the face is above the point and looks up, -1 where it looks down, else 0. A ray through an edge crosses nothing.
static double crossing(const double *p, const double *face) {
    double area[3];
    for (int i = 0; i < 3; ++i) area[i] = twice_area(p, face + 3 * i, face + 3 * ((i + 1) % 3));
    const bool up = area[0] > 0 && area[1] > 0 && area[2] > 0, down = area[0] < 0 && area[1] < 0 && area[2] < 0;
    if (!up && !down) return 0.0;
    // Each area weighs the corner that is not on its edge.
    const double height = (area[0] * face[8] + area[1] * face[2] + area[2] * face[5]) / (area[0] + area[1] + area[2]);
    return height > p[2] ? (up ? 1.0 : -1.0) : 0.0;
}

void count_windings(const double *points, size_t m, const double *faces, size_t n, double *out) {
    std::fill(out, out + m, 0.0);
    double least[3] = {HUGE_VAL, HUGE_VAL, HUGE_VAL}, most[3] = {-HUGE_VAL, -HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < m; ++i)
        for (int k = 0; k < 3; ++k) {
            least[k] = std::min(least[k], points[3 * i + k]);
            most[k] = std::max(most[k], points[3 * i + k]);
        }
    for (size_t j = 0; j < n; ++j) {
        const double *f = faces + 9 * j;
        double low[2], high[3];
        for (int k = 0; k < 3; ++k) high[k] = std::max(std::max(f[k], f[3 + k]), f[6 + k]);
        for (int k = 0; k < 2; ++k) low[k] = std::min(std::min(f[k], f[3 + k]), f[6 + k]);
        // Points that are asked for together lie together: few faces are above them at all.
        if (high[2] < least[2] || high[0] < least[0] || high[1] < least[1] || low[0] > most[0] || low[1] > most[1]) continue;
        for (size_t i = 0; i < m; ++i) {
            const double *p = points + 3 * i;
            if (p[0] >= low[0] && p[0] <= high[0] && p[1] >= low[1] && p[1] <= high[1] && p[2] < high[2]) out[i] += crossing(p, f);
        }
    }
}

}  // namespace handfast
