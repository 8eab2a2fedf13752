// A tree of boxes over the triangles of a surface.
#include "surface.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace handfast::proof {

namespace {

constexpr int LEAF = 1;  // triangles in a leaf, more only where their middles coincide

Point unit(Point p) { return (1.0 / std::sqrt(dot(p, p))) * p; }

struct Range {
    double low[3] = {1e300, 1e300, 1e300}, high[3] = {-1e300, -1e300, -1e300};
    void take(Point p) {
        const double c[3] = {p.x, p.y, p.z};
        for (int i = 0; i < 3; ++i) low[i] = std::min(low[i], c[i]), high[i] = std::max(high[i], c[i]);
    }
    double span(int i) const { return high[i] - low[i]; }
};

struct Making {
    const std::vector<Triangle> &all;
    std::vector<double> middles[3];
    std::vector<int> order;
    std::vector<Node> nodes;

    explicit Making(const std::vector<Triangle> &triangles) : all(triangles), order(triangles.size()), nodes(1) {
        for (auto &along : middles) along.reserve(all.size());
        for (const Triangle &t : all) {
            const Point sum = t.a + t.b + t.c;
            middles[0].push_back(sum.x), middles[1].push_back(sum.y), middles[2].push_back(sum.z);
        }
        std::iota(order.begin(), order.end(), 0);
        nodes.reserve(2 * all.size() + 1);
        if (!all.empty()) split(0, 0, int(all.size()));
    }

    // Fills the node `at` with `count` triangles from `first` on, in halves along the axis on which they spread most.
    void split(size_t at, int first, int count) {
        Range box, spread;
        for (int k = first; k < first + count; ++k) {
            const size_t one = size_t(order[size_t(k)]);
            box.take(all[one].a), box.take(all[one].b), box.take(all[one].c);
            spread.take({middles[0][one], middles[1][one], middles[2][one]});
        }
        const double *l = box.low, *h = box.high;
        nodes[at].box = {{(l[0] + h[0]) / 2, (l[1] + h[1]) / 2, (l[2] + h[2]) / 2},
                         {(h[0] - l[0]) / 2, (h[1] - l[1]) / 2, (h[2] - l[2]) / 2}};
        int axis = spread.span(1) > spread.span(0) ? 1 : 0;
        if (spread.span(2) > spread.span(axis)) axis = 2;
        if (count <= LEAF || !(spread.span(axis) > 0)) {
            nodes[at].first = first, nodes[at].count = count;
            return;
        }
        const std::vector<double> &along = middles[axis];
        const auto begin = order.begin() + first;
        std::nth_element(begin, begin + count / 2, begin + count,
                         [&](int a, int b) { return along[size_t(a)] < along[size_t(b)]; });
        const size_t child = nodes.size();
        nodes[at].first = int(child), nodes[at].count = 0;
        nodes.resize(child + 2);
        split(child, first, count / 2);
        split(child + 1, first + count / 2, count - count / 2);
    }
};

// A vertex of each set of triangles that hang together by their corners.
std::vector<int> one_of_each(std::size_t known, const int *indices, std::size_t count) {
    std::vector<int> leads(known);
    std::iota(leads.begin(), leads.end(), 0);
    const auto first = [&](int k) {
        while (leads[size_t(k)] != k) k = leads[size_t(k)] = leads[size_t(leads[size_t(k)])];
        return k;
    };
    for (size_t k = 0; k < 3 * count; k += 3)
        for (size_t i = 1; i < 3; ++i) leads[size_t(first(indices[k + i]))] = first(indices[k]);
    std::vector<char> seen(known);
    std::vector<int> out;
    for (size_t k = 0; k < 3 * count; ++k) {
        const int lead = first(indices[k]);
        if (!seen[size_t(lead)]) seen[size_t(lead)] = 1, out.push_back(lead);
    }
    return out;
}

}  // namespace

Surface::Surface(const double *vertices, std::size_t known, const int *indices, std::size_t count, bool is_solid) : solid(is_solid) {
    const auto point = [&](int k) { return Point{vertices[3 * k], vertices[3 * k + 1], vertices[3 * k + 2]}; };
    std::vector<Triangle> all(count);
    for (size_t k = 0; k < count; ++k) {
        Triangle &t = all[k];
        t = {point(indices[3 * k]), point(indices[3 * k + 1]), point(indices[3 * k + 2]), {}, {}};
        const Point u = t.b - t.a, v = t.c - t.a, n = cross(u, v);
        if (dot(n, n) <= 1e-12 * dot(u, u) * dot(v, v)) continue;
        t.normal = unit(n);
        t.out[0] = unit(cross(t.b - t.a, n)), t.out[1] = unit(cross(t.c - t.b, n)), t.out[2] = unit(cross(t.a - t.c, n));
    }
    Making made(all);
    triangles.reserve(count);
    for (int k : made.order) triangles.push_back(all[size_t(k)]);
    nodes = std::move(made.nodes);
    for (int k : one_of_each(known, indices, count)) ends.push_back(point(k));
}

bool Surface::holds(Point p) const {
    return std::all_of(triangles.begin(), triangles.end(), [&](const Triangle &t) { return dot(p - t.a, t.normal) <= 0; });
}

}  // namespace handfast::proof
