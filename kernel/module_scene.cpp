// Bindings of covers, worlds and the collision tests.
#include "bound.h"

namespace handfast {

void require_rigid_rows(const In<double> &in, const std::string &name);  // module_arm.cpp

static void require_radii(const In<double> &rows, size_t column, const char *name) {
    for (size_t i = 0; i < rows.rows(); ++i)
        if (rows.data()[i * rows.array.shape(1) + column] <= 0)
            throw nb::value_error((std::string(name) + "[" + std::to_string(i) + "]: expected a positive radius, found " +
                                   std::to_string(rows.data()[i * rows.array.shape(1) + column])).c_str());
}

static void require_links(const In<int> &in, int n, const char *name) {
    for (size_t i = 0; i < in.array.size(); ++i)
        if (in.data()[i] < -1 || in.data()[i] > n)
            throw nb::value_error((std::string(name) + ": expected links -1 to " + std::to_string(n) + ", found " +
                                   std::to_string(in.data()[i])).c_str());
}

static void make_cover(Cover *self, const Arm &arm, nb::handle spheres, nb::handle links, nb::object pairs, nb::object masks) {
    const In<double> s = take<double>(spheres, "spheres", {ANY, 4});
    const In<int> l = take<int>(links, "links", {long(s.rows())});
    require_radii(s, 3, "spheres");
    require_links(l, arm.table.n, "links");
    In<int> p;
    In<uint32_t> k;
    if (!pairs.is_none()) p = take<int>(pairs, "pairs", {ANY, 2}), require_links(p, arm.table.n, "pairs");
    if (!masks.is_none()) k = take<uint32_t>(masks, "masks", {long(s.rows())});
    new (self) Cover;
    self->arm = arm;
    CoverData &d = self->data;
    d.arm = arm.table;
    d.spheres.assign(s.data(), s.data() + 4 * s.rows());
    d.links.assign(l.data(), l.data() + s.rows());
    fill_cover(d, masks.is_none() ? nullptr : k.data(), pairs.is_none() ? nullptr : p.data(), pairs.is_none() ? 0 : p.rows());
}

static Obstacle obstacle_of(Kind kind, size_t row, double thick, const double *p) {
    Obstacle o = {kind, int(row), ~0u, float(thick), {}, {}, {}};
    for (int i = 0; p && i < 3; ++i) o.p[i] = float(p[i]);
    return o;
}

static void add_boxes(World &w, nb::handle poses, nb::handle halves) {
    const In<double> t = take<double>(poses, "box_poses", {ANY, 4, 4});
    const In<double> h = take<double>(halves, "box_halves", {long(t.rows()), 3});
    require_rigid_rows(t, "box_poses");
    for (size_t i = 0; i < t.rows(); ++i) {
        const double *m = t.data() + 16 * i, p[3] = {m[3], m[7], m[11]};
        Obstacle o = obstacle_of(BOX, i, 0.0, p);
        for (int r = 0; r < 3; ++r) {
            if (h.data()[3 * i + size_t(r)] < 0)
                throw nb::value_error(("box_halves[" + std::to_string(i) + "]: expected half extents of at least 0").c_str());
            o.h[r] = float(h.data()[3 * i + size_t(r)]);
            for (int c = 0; c < 3; ++c) o.a[3 * r + c] = float(m[4 * c + r]);
        }
        w.obstacles.push_back(o);
    }
}

static void add_capsules(World &w, nb::handle given) {
    const In<double> t = take<double>(given, "capsules", {ANY, 7});
    require_radii(t, 6, "capsules");
    for (size_t i = 0; i < t.rows(); ++i) {
        const double *c = t.data() + 7 * i;
        Obstacle o = obstacle_of(CAPSULE, i, c[6], c);
        double length2 = 0;
        for (int k = 0; k < 3; ++k) o.a[k] = float(c[3 + k] - c[k]), length2 += (c[3 + k] - c[k]) * (c[3 + k] - c[k]);
        o.a[3] = length2 > 1e-12 ? float(1.0 / length2) : 0.0f;
        w.obstacles.push_back(o);
    }
}

static void add_spheres(World &w, nb::handle given) {
    const In<double> t = take<double>(given, "spheres", {ANY, 4});
    require_radii(t, 3, "spheres");
    for (size_t i = 0; i < t.rows(); ++i) w.obstacles.push_back(obstacle_of(BALL, i, t.data()[4 * i + 3], t.data() + 4 * i));
}

static void add_half_spaces(World &w, nb::handle given) {
    const In<double> t = take<double>(given, "half_spaces", {ANY, 4});
    for (size_t i = 0; i < t.rows(); ++i) {
        const double *h = t.data() + 4 * i;
        if (std::fabs(norm({h[0], h[1], h[2]}) - 1.0) > 1e-6)
            throw nb::value_error(("half_spaces[" + std::to_string(i) + "]: expected a unit normal, found length " +
                                   std::to_string(norm({h[0], h[1], h[2]}))).c_str());
        Obstacle o = obstacle_of(HALF_SPACE, i, 0.0, nullptr);
        for (int k = 0; k < 4; ++k) o.a[k] = float(h[k]);
        w.obstacles.push_back(o);
    }
}

static void make_world(World *self, nb::object box_poses, nb::object box_halves, nb::object capsules, nb::object spheres,
                       nb::object half_spaces, nb::object masks) {
    World w;
    if (box_poses.is_none() != box_halves.is_none())
        throw nb::value_error("box_poses and box_halves: expected both or neither, found one");
    if (!box_poses.is_none()) add_boxes(w, box_poses, box_halves);
    if (!capsules.is_none()) add_capsules(w, capsules);
    if (!spheres.is_none()) add_spheres(w, spheres);
    if (!half_spaces.is_none()) add_half_spaces(w, half_spaces);
    if (!masks.is_none()) {
        const In<uint32_t> k = take<uint32_t>(masks, "masks", {long(w.obstacles.size())});
        for (size_t i = 0; i < w.obstacles.size(); ++i) w.obstacles[i].mask = k.data()[i];
    }
    new (self) World(std::move(w));
}

void ask(Question &a, const Cover &c, const World &w, double margin, double resolution) {
    if (c.data.least_radius + margin <= 0)
        throw nb::value_error(("margin: expected more than minus the smallest radius, " + std::to_string(-c.data.least_radius) +
                               ", found " + std::to_string(margin)).c_str());
    if (!(resolution > 0 && std::isfinite(resolution) && std::isfinite(margin)))
        throw nb::value_error("resolution, margin: expected a positive and a finite number");
    a.world = {int(w.obstacles.size()), w.obstacles.data()};
    a.scene = {&c.data.arm, &c.data.table, &a.world, margin, resolution};
}

static In<double> configurations(const Cover &c, nb::handle q, const char *name, long m = ANY) {
    return take<double>(q, name, {m, c.data.arm.n});
}

static Out<bool> free_of(const Cover &c, const World &w, nb::handle q_, double margin) {
    Question a;
    ask(a, c, w, margin, 1.0);
    const In<double> q = configurations(c, q_, "q");
    const size_t m = q.rows();
    auto out = std::make_unique<bool[]>(m);
    {
        nb::gil_scoped_release release;
        current_level().free(a.scene, q.data(), m, out.get());
    }
    return give(std::move(out), {m});
}

struct Nearest {
    std::vector<float> distance;
    std::vector<int> sphere, obstacle, kind;
};

static Nearest nearest_of(const Cover &c, const World &w, nb::handle q_) {
    Question a;
    ask(a, c, w, 0.0, 1.0);
    const In<double> q = configurations(c, q_, "q");
    const size_t m = q.rows();
    Nearest r = {std::vector<float>(m), std::vector<int>(m), std::vector<int>(m), std::vector<int>(m)};
    nb::gil_scoped_release release;
    current_level().nearest(a.scene, q.data(), m, r.distance.data(), r.sphere.data(), r.obstacle.data(), r.kind.data());
    return r;
}

static Out<bool> edges_free(const Cover &c, const World &w, nb::handle qa_, nb::handle qb_, double margin, double resolution) {
    Question a;
    ask(a, c, w, margin, resolution);
    const In<double> qa = configurations(c, qa_, "qa"), qb = configurations(c, qb_, "qb", long(qa.rows()));
    const size_t m = qa.rows();
    auto out = std::make_unique<bool[]>(m);
    {
        nb::gil_scoped_release release;
        current_level().edges(a.scene, qa.data(), qb.data(), m, out.get());
    }
    return give(std::move(out), {m});
}

static Out<float> between_of(const Cover &ca, nb::handle qa_, const Cover &cb, nb::handle qb_, double far) {
    if (std::isnan(far)) throw nb::value_error("far: expected a number");
    const World none;
    Question a, b;
    ask(a, ca, none, 0.0, 1.0), ask(b, cb, none, 0.0, 1.0);
    const In<double> qa = configurations(ca, qa_, "qa"), qb = configurations(cb, qb_, "qb");
    const size_t m = qa.rows(), k = qb.rows();
    auto out = std::make_unique<float[]>(m * k);
    {
        nb::gil_scoped_release release;
        current_level().between(a.scene, qa.data(), m, b.scene, qb.data(), k, float(far), out.get());
    }
    return give(std::move(out), {m, k});
}

static Out<bool> closer_of(const Cover &ca, nb::handle qa_, nb::handle way_a_, const Cover &cb, nb::handle qb_,
                           nb::handle way_b_, double margin) {
    if (!std::isfinite(margin)) throw nb::value_error("margin: expected a number");
    const World none;
    Question a, b;
    ask(a, ca, none, 0.0, 1.0), ask(b, cb, none, 0.0, 1.0);
    const In<double> qa = configurations(ca, qa_, "qa"), qb = configurations(cb, qb_, "qb");
    const size_t m = qa.rows(), k = qb.rows();
    const In<double> way_a = take<double>(way_a_, "way_a", {long(m)}), way_b = take<double>(way_b_, "way_b", {long(k)});
    auto out = std::make_unique<bool[]>(m * k);
    {
        nb::gil_scoped_release release;
        current_level().closer(a.scene, qa.data(), way_a.data(), m, b.scene, qb.data(), way_b.data(), k, margin, out.get());
    }
    return give(std::move(out), {m, k});
}

static Out<double> spheres_of(const Cover &c, nb::handle q_) {
    const In<double> q = configurations(c, q_, "q");
    const size_t m = q.rows(), k = c.data.links.size();
    auto out = std::make_unique<double[]>(m * k * 4);
    for (size_t i = 0; i < m; ++i) spheres_in_world(c.data, q.data() + i * size_t(c.data.arm.n), out.get() + i * k * 4);
    return give(std::move(out), {m, k, 4});
}

static Out<double> travel_of(const Cover &c, nb::handle qa_, nb::handle qb_) {
    const In<double> qa = configurations(c, qa_, "qa"), qb = configurations(c, qb_, "qb", long(qa.rows()));
    const size_t m = qa.rows(), n = size_t(c.data.arm.n);
    auto out = std::make_unique<double[]>(m);
    for (size_t i = 0; i < m; ++i) out[i] = edge_travel(c.data, qa.data() + i * n, qb.data() + i * n);
    return give(std::move(out), {m});
}

static void bind_nouns(nb::module_ &m) {
    using namespace nb::literals;
    nb::class_<Cover>(m, "Cover")
        .def("__init__", &make_cover, "arm"_a, "spheres"_a, "links"_a, "pairs"_a.none() = nb::none(), "masks"_a.none() = nb::none())
        .def_prop_ro("arm", [](const Cover &c) { return c.arm; })
        .def_prop_ro("count", [](const Cover &c) { return c.data.table.count; });
    nb::class_<World>(m, "World")
        .def("__init__", &make_world, nb::kw_only(), "box_poses"_a.none() = nb::none(), "box_halves"_a.none() = nb::none(),
             "capsules"_a.none() = nb::none(), "spheres"_a.none() = nb::none(), "half_spaces"_a.none() = nb::none(),
             "masks"_a.none() = nb::none())
        .def_prop_ro("count", [](const World &w) { return w.obstacles.size(); });
    nb::class_<Nearest>(m, "Nearest")
        .def_prop_ro("distance", [](const Nearest &r) { return give(r.distance, {r.distance.size()}); }, nb::rv_policy::move)
        .def_prop_ro("sphere", [](const Nearest &r) { return give(r.sphere, {r.sphere.size()}); }, nb::rv_policy::move)
        .def_prop_ro("obstacle", [](const Nearest &r) { return give(r.obstacle, {r.obstacle.size()}); }, nb::rv_policy::move)
        .def_prop_ro("kind", [](const Nearest &r) { return give(r.kind, {r.kind.size()}); }, nb::rv_policy::move);
}

void bind_scene(nb::module_ &m) {
    using namespace nb::literals;
    bind_nouns(m);
    m.attr("BOX") = int(BOX), m.attr("CAPSULE") = int(CAPSULE), m.attr("SPHERE") = int(BALL);
    m.attr("HALF_SPACE") = int(HALF_SPACE), m.attr("SELF") = int(SELF), m.attr("NOTHING") = int(NOTHING);
    m.def("spheres_at", &spheres_of, "cover"_a, "q"_a);
    m.def("free", &free_of, "cover"_a, "world"_a, "q"_a, "margin"_a = 0.0);
    m.def("nearest", &nearest_of, "cover"_a, "world"_a, "q"_a);
    m.def("clearance", [](const Cover &c, const World &w, nb::handle q) {
        const Nearest r = nearest_of(c, w, q);
        return give(r.distance, {r.distance.size()});
    }, "cover"_a, "world"_a, "q"_a);
    m.def("travel", &travel_of, "cover"_a, "qa"_a, "qb"_a);
    m.def("edge_free", &edges_free, "cover"_a, "world"_a, "qa"_a, "qb"_a, "margin"_a = 0.0, "resolution"_a = 0.01);
    m.def("between", &between_of, "cover_a"_a, "qa"_a, "cover_b"_a, "qb"_a, "far"_a = HUGE_VAL);
    m.def("closer", &closer_of, "cover_a"_a, "qa"_a, "way_a"_a, "cover_b"_a, "qb"_a, "way_b"_a, "margin"_a);
}

}  // namespace handfast
