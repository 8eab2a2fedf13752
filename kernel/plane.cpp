// Least steps to each cell of the plane of two hands' own times.
#include <algorithm>

#include "kernel.h"

namespace handfast {

// Row by row: both hands went on, but across no closed corner; or the first alone, where the second may wait; and then the
// second alone, where the first may.
void least_steps(const bool *ends_a, size_t n, const bool *ends_b, size_t m, const bool *closed, int32_t never, int32_t *out) {
    for (size_t i = 0; i < n; ++i) {
        const bool *shut = closed + i * m, *shut_above = shut - m;
        int32_t *row = out + i * m;
        const int32_t *above = row - m;
        for (size_t j = 0; j < m; ++j) {
            int32_t steps = i || j ? never : 0;
            if (i && j && !shut_above[j] && !shut[j - 1]) steps = above[j - 1] + 1;
            if (i && ends_b[j]) steps = std::min(steps, above[j] + 1);
            if (ends_a[i] && j) steps = std::min(steps, row[j - 1] + 1);
            row[j] = shut[j] ? never : std::min(steps, never);
        }
    }
}

}  // namespace handfast
