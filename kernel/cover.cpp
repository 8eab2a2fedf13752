// Spheres on links: sorted, moved to the turned joint frames, bounded, and how far each joint swings them.
#include <algorithm>
#include <numeric>

#include "kernel.h"

namespace handfast {

static Vec centre_in_frame(const CoverData &c, int row) {
    const double *s = &c.spheres[4 * size_t(row)];
    const int link = c.links[size_t(row)], n = c.arm.n;
    const Vec p = {s[0], s[1], s[2]};
    if (link < 0) return p;
    if (link == n) return pose_of(c.arm.tip).r * p + pose_of(c.arm.tip).p;
    Mat turned;
    std::copy(c.arm.turned[link], c.arm.turned[link] + 9, turned.m);
    return transpose(turned) * p;
}

// A sphere around the slot's spheres: centre of their box, radius to the farthest, rounded up.
static void bound_slot(CoverTable &t, int slot, const uint32_t *mask) {
    const int first = t.first[slot], last = t.first[slot + 1];
    float *b = t.bound[slot];
    std::fill(b, b + 4, 0.0f);
    t.bound_mask[slot] = 0;
    if (first == last) return;
    const float *axis[3] = {t.x, t.y, t.z};
    for (int k = 0; k < 3; ++k) {
        float lo = axis[k][first] - t.r[first], hi = axis[k][first] + t.r[first];
        for (int i = first; i < last; ++i)
            lo = std::min(lo, axis[k][i] - t.r[i]), hi = std::max(hi, axis[k][i] + t.r[i]);
        b[k] = 0.5f * (lo + hi);
    }
    for (int i = first; i < last; ++i) {
        const Vec d = {double(t.x[i]) - b[0], double(t.y[i]) - b[1], double(t.z[i]) - b[2]};
        b[3] = std::max(b[3], float(norm(d) + t.r[i] + 1e-5));
        t.bound_mask[slot] |= mask[i];
    }
}

// reach[i]: the largest distance from joint i's axis of any sphere centre it moves, whatever the joints after it do.
static void measure_reach(CoverData &c) {
    const int n = c.arm.n;
    std::fill(c.table.reach, c.table.reach + MAX_JOINTS, 0.0);
    for (size_t row = 0; row < c.links.size(); ++row) {
        const int link = std::min(c.links[row], n - 1);
        const Vec p = centre_in_frame(c, int(row));
        double beyond = norm(p);  // from joint i + 1's origin to the sphere, at most
        for (int i = link; i >= 0; --i) {
            const Vec at = i == link ? p : pose_of(c.arm.step[i + 1]).p;
            const double radial = std::sqrt(at.x * at.x + at.y * at.y);
            c.table.reach[i] = std::max(c.table.reach[i], i == link ? radial : radial + beyond);
            if (i < link) beyond += norm(at);
        }
    }
}

void fill_cover(CoverData &c, const uint32_t *masks, const int *pairs, size_t pair_count) {
    const size_t k = c.links.size();
    c.order.resize(k);
    std::iota(c.order.begin(), c.order.end(), 0);
    std::stable_sort(c.order.begin(), c.order.end(), [&](int a, int b) { return c.links[size_t(a)] < c.links[size_t(b)]; });
    c.least_radius = HUGE_VAL;
    for (int row : c.order) {
        const Vec p = centre_in_frame(c, row);
        c.x.push_back(float(p.x)), c.y.push_back(float(p.y)), c.z.push_back(float(p.z));
        c.r.push_back(float(c.spheres[4 * size_t(row) + 3]));
        c.mask.push_back(masks ? masks[row] : ~0u);
        c.least_radius = std::min(c.least_radius, c.spheres[4 * size_t(row) + 3]);
    }
    for (size_t i = 0; i < 2 * pair_count; ++i) c.pair.push_back(pairs[i] + 1);
    CoverTable &t = c.table;
    t.count = int(k), t.slots = c.arm.n + 2;
    t.x = c.x.data(), t.y = c.y.data(), t.z = c.z.data(), t.r = c.r.data();
    t.mask = c.mask.data(), t.order = c.order.data();
    t.pairs = int(pair_count), t.pair = c.pair.data();
    for (int s = 0; s <= t.slots; ++s)
        t.first[s] = int(std::count_if(c.links.begin(), c.links.end(), [&](int link) { return link + 1 < s; }));
    for (int s = 0; s < t.slots; ++s) bound_slot(t, s, t.mask);
    measure_reach(c);
}

void spheres_in_world(const CoverData &c, const double *q, double *out) {
    Pose links[MAX_JOINTS + 1];
    link_poses(c.arm, q, links);
    for (size_t row = 0; row < c.links.size(); ++row) {
        const double *s = &c.spheres[4 * row];
        const Pose t = c.links[row] < 0 ? pose_of(c.arm.base) : links[c.links[row]];
        const Vec p = t.r * Vec{s[0], s[1], s[2]} + t.p;
        out[4 * row] = p.x, out[4 * row + 1] = p.y, out[4 * row + 2] = p.z, out[4 * row + 3] = s[3];
    }
}

double edge_travel(const CoverData &c, const double *qa, const double *qb) {
    double travel = 0;
    for (int j = 0; j < c.arm.n; ++j) travel += std::fabs(qb[j] - qa[j]) * c.table.reach[j];
    return travel;
}

}  // namespace handfast
