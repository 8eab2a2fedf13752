// The least distance between two surfaces: down both trees, what is nearer first.
#include <algorithm>
#include <cmath>
#include <memory>

#include "surface.h"

namespace handfast::proof {

namespace {

constexpr double CLOSE = 1e-8;  // what is no nearer than the least so far but for this is not looked at [m]

// What another surface has, as seen from here: worked out when it is first asked for.
template <class Kind> struct Seen {
    std::unique_ptr<Kind[]> kept;
    std::unique_ptr<char[]> known;
    explicit Seen(size_t count) : kept(new Kind[count]), known(new char[count]()) {}
    template <class Make> const Kind &get(size_t k, const Make &make) {
        if (!known[k]) kept[k] = make(), known[k] = 1;
        return kept[k];
    }
};

double past(double between, double reach) { return std::max(std::fabs(between) - reach, 0.0); }

// How far apart two boxes of one frame are, squared.
double apart(const Box &m, const Box &n) {
    const Point d = n.middle - m.middle, reach = n.half + m.half;
    const double x = past(d.x, reach.x), y = past(d.y, reach.y), z = past(d.z, reach.z);
    return x * x + y * y + z * z;
}

// The box along the axes here that holds a box from there.
Box around(const Box &box, const Placing &placing) {
    const auto reach = [&](Point row) {
        return std::fabs(row.x) * box.half.x + std::fabs(row.y) * box.half.y + std::fabs(row.z) * box.half.z;
    };
    return {placing(box.middle), {reach(placing.r[0]), reach(placing.r[1]), reach(placing.r[2])}};
}

struct Search {
    const Surface &a, &b;
    const Placing &to_a;
    double best;  // least distance so far
    double far, square;  // what is no nearer than this is not looked at; its square
    const double settled;  // less than this is looked for no further
    Seen<Box> boxes_of_b;
    Seen<Triangle> triangles_of_b;

    Search(const Surface &first, const Surface &second, const Placing &placing, double enough, double good)
        : a(first), b(second), to_a(placing), settled(good), boxes_of_b(b.nodes.size()), triangles_of_b(b.triangles.size()) {
        found(enough);
    }

    void found(double least) { best = least, far = std::max(best - CLOSE, best / 2), square = far * far; }

    // No more than the distance of what two nodes hold, squared. The other way about, with boxes along the axes of the
    // second, it would say more, but cost more than it saves.
    double boxes(int m, int n) {
        const Box &other = b.nodes[size_t(n)].box;
        return apart(a.nodes[size_t(m)].box, boxes_of_b.get(size_t(n), [&] { return around(other, to_a); }));
    }

    const Triangle &placed(int k) {
        const Triangle &t = b.triangles[size_t(k)];
        return triangles_of_b.get(size_t(k), [&]() -> Triangle {
            return {to_a(t.a), to_a(t.b), to_a(t.c), to_a.turned(t.normal),
                    {to_a.turned(t.out[0]), to_a.turned(t.out[1]), to_a.turned(t.out[2])}};
        });
    }

    // Whether one triangle lies beyond a plane, no nearer than the least so far.
    static bool beyond(Point at, Point normal, const Triangle &other, double limit) {
        return dot(other.a - at, normal) >= limit && dot(other.b - at, normal) >= limit && dot(other.c - at, normal) >= limit;
    }

    // Whether a plane along one triangle, or through an edge of it and square to it, shows the other no nearer than the least.
    bool told(const Triangle &one, const Triangle &other) const {
        return beyond(one.a, one.normal, other, far) || beyond(one.a, -1.0 * one.normal, other, far) ||
               beyond(one.a, one.out[0], other, far) || beyond(one.b, one.out[1], other, far) || beyond(one.c, one.out[2], other, far);
    }

    void leaves(const Node &m, const Node &n) {
        for (int i = m.first; i < m.first + m.count; ++i)
            for (int j = n.first; j < n.first + n.count; ++j) {
                const Triangle &one = a.triangles[size_t(i)], &two = placed(j);
                if (told(one, two) || told(two, one)) continue;
                const double least = apart_squared(one, two);
                if (least < best * best) found(std::sqrt(least));
            }
    }

    void go(int at_a, int at_b) {
        const Node &m = a.nodes[size_t(at_a)], &n = b.nodes[size_t(at_b)];
        if (m.count && n.count) return leaves(m, n);
        const Point p = m.box.half, q = n.box.half;
        const bool first = n.count || (!m.count && p.x + p.y + p.z >= q.x + q.y + q.z);
        const int child = first ? m.first : n.first;
        const double one = first ? boxes(child, at_b) : boxes(at_a, child);
        const double two = first ? boxes(child + 1, at_b) : boxes(at_a, child + 1);
        const int near = two < one ? 1 : 0;
        if (std::min(one, two) < square) first ? go(child + near, at_b) : go(at_a, child + near);
        if (best < settled) return;
        if (std::max(one, two) < square) first ? go(child + 1 - near, at_b) : go(at_a, child + 1 - near);
    }
};

// Whether a piece of a surface that does not cut another lies within that, which is solid.
bool any_in(const Surface &solid, const Surface &other, const Placing &other_in_solid) {
    return solid.solid &&
           std::any_of(other.ends.begin(), other.ends.end(), [&](Point p) { return solid.holds(other_in_solid(p)); });
}

double least(double enough, double settled, const Surface &a, const Surface &b, const Placing &b_in_a) {
    if (a.triangles.empty() || b.triangles.empty()) return enough;
    Search search(a, b, b_in_a, enough, settled);
    if (search.boxes(0, 0) < search.square) search.go(0, 0);
    if (search.best > 0 && (any_in(a, b, b_in_a) || any_in(b, a, b_in_a.back()))) return 0;
    return search.best;
}

}  // namespace

double gap_up_to(double enough, const Surface &a, const Surface &b, const Placing &b_in_a) {
    return least(enough, 0, a, b, b_in_a);
}

bool nearer(double than, const Surface &a, const Surface &b, const Placing &b_in_a) {
    return least(than, than, a, b, b_in_a) < than;
}

}  // namespace handfast::proof
