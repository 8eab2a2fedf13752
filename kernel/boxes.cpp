// Which boxes come near each other while one of them is carried along without turning: by separating axes after
// S. Gottschalk, M. C. Lin, D. Manocha, "OBBTree" (SIGGRAPH 1996), each span drawn out by what is passed over.
#include "boxes.h"

#include <algorithm>

namespace handfast {

static double least_of(const double *x, const double *step) { return std::min(x[0], x[0] + step[0]); }
static double most_of(const double *x, const double *step) { return std::max(x[0], x[0] + step[0]); }

// How far the span x to x + step stays out of -reach to reach; below 0: it does not.
static double out_of(double x, double step, double reach) { return std::max(least_of(&x, &step), -most_of(&x, &step)) - reach; }

bool stay_apart(const SolidBox &a, const SolidBox &b, Vec step, double apart) {
    // All in the frame of b: where the middle of a is, which way its axes point, how it is carried.
    const Vec d = b.turned * a.middle - b.origin, s = b.turned * step;
    const Mat m = b.turned * transpose(a.turned);
    const double at[3] = {d.x, d.y, d.z}, way[3] = {s.x, s.y, s.z};
    double of[9];
    for (int i = 0; i < 9; ++i) of[i] = std::fabs(m.m[i]);
    double gap2 = 0.0;  // from the ball around a to b
    for (int i = 0; i < 3; ++i) {
        const double out = std::max(out_of(at[i], way[i], b.half[i]), 0.0);
        gap2 += out * out;
        if (out - (a.half[0] * of[3 * i] + a.half[1] * of[3 * i + 1] + a.half[2] * of[3 * i + 2]) >= apart) return true;
    }
    const double ball = norm({a.half[0], a.half[1], a.half[2]});
    if (gap2 >= (ball + apart) * (ball + apart)) return true;
    for (int j = 0; j < 3; ++j) {
        const double x = at[0] * m.m[j] + at[1] * m.m[3 + j] + at[2] * m.m[6 + j];
        const double along = way[0] * m.m[j] + way[1] * m.m[3 + j] + way[2] * m.m[6 + j];
        const double reach = a.half[j] + b.half[0] * of[j] + b.half[1] * of[3 + j] + b.half[2] * of[6 + j];
        if (out_of(x, along, reach) >= apart) return true;
    }
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) {  // across axis i of b and axis j of a
            const int i1 = (i + 1) % 3, i2 = (i + 2) % 3, j1 = (j + 1) % 3, j2 = (j + 2) % 3;
            const double length2 = 1.0 - m.m[3 * i + j] * m.m[3 * i + j];
            if (length2 < 1e-6) continue;  // nearly parallel: the faces have said it
            const double y = m.m[3 * i1 + j], z = m.m[3 * i2 + j];
            const double reach = b.half[i1] * of[3 * i2 + j] + b.half[i2] * of[3 * i1 + j] + a.half[j1] * of[3 * i + j2] +
                                 a.half[j2] * of[3 * i + j1];
            if (out_of(at[i2] * y - at[i1] * z, way[i2] * y - way[i1] * z, reach) >= apart * std::sqrt(length2)) return true;
        }
    return false;
}

namespace {

struct Box {
    double low[3] = {HUGE_VAL, HUGE_VAL, HUGE_VAL}, high[3] = {-HUGE_VAL, -HUGE_VAL, -HUGE_VAL};
    size_t count = 0;

    void around(const double *least, const double *most, size_t n) {
        for (int k = 0; k < 3; ++k) low[k] = std::min(low[k], least[k]), high[k] = std::max(high[k], most[k]);
        count += n;
    }
    double volume() const { return (high[0] - low[0]) * (high[1] - low[1]) * (high[2] - low[2]); }
};

}  // namespace

double best_cut(const double *low, const double *high, const double *middle, size_t n, const double *shares, int share_count,
                bool *below) {
    std::fill(below, below + n, false);
    Box whole, middles;
    for (size_t i = 0; i < n; ++i) whole.around(low + 3 * i, high + 3 * i, 1), middles.around(middle + 3 * i, middle + 3 * i, 1);
    double best = 0.0, where = 0.0;
    int along = -1;
    for (int axis = 0; axis < 3; ++axis) {
        double at[MAX_CUTS];
        for (int k = 0; k < share_count; ++k)
            at[k] = middles.low[axis] + shares[k] * (middles.high[axis] - middles.low[axis]);
        Box slab[MAX_CUTS + 1], above[MAX_CUTS + 2];
        for (size_t i = 0; i < n; ++i) {
            int k = 0;
            while (k < share_count && middle[3 * i + axis] >= at[k]) ++k;
            slab[k].around(low + 3 * i, high + 3 * i, 1);
        }
        for (int k = share_count; k >= 0; --k) above[k] = above[k + 1], above[k].around(slab[k].low, slab[k].high, slab[k].count);
        Box under;
        for (int k = 0; k < share_count; ++k) {
            under.around(slab[k].low, slab[k].high, slab[k].count);
            if (under.count == 0 || under.count == n) continue;
            const double saved = whole.volume() - under.volume() - above[k + 1].volume();
            if (saved > best) best = saved, along = axis, where = at[k];
        }
    }
    for (size_t i = 0; i < n && along >= 0; ++i) below[i] = middle[3 * i + along] < where;
    return best;
}

}  // namespace handfast
