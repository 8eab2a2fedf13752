// Bindings of path search, shortcuts and timing.
#include "bound.h"

namespace handfast {

struct Search {
    std::vector<double> path;
    size_t n;
    SearchResult did;
};

static Search search(const Cover &c, const World &w, nb::handle start_, nb::handle goals_, int64_t iterations, uint64_t seed,
                     double margin, double resolution, double stride) {
    Question a;
    ask(a, c, w, margin, resolution);
    const long n = c.data.arm.n;
    const In<double> start = take<double>(start_, "start", {n}), goals = take<double>(goals_, "goals", {ANY, n});
    if (!(stride > 0)) throw nb::value_error("stride: expected a positive number");
    Search s = {{}, size_t(n), {}};
    nb::gil_scoped_release release;
    current_level().search(a.scene, start.data(), goals.data(), int(goals.rows()), iterations, stride, seed, s.did);
    if (s.did.path) {
        s.path.assign(s.did.path, s.did.path + size_t(s.did.waypoints) * s.n);
        give_memory(s.did.path);
    }
    return s;
}

static const char *outcome_name(const Search &s) {
    const Outcome o = s.did.outcome;
    return o == FOUND ? "found" : o == START_BLOCKED ? "start blocked" : o == GOALS_BLOCKED ? "goals blocked" : "iterations";
}

static Out<double> shorten(const Cover &c, const World &w, nb::handle path_, int64_t iterations, uint64_t seed, double margin, double resolution) {
    Question a;
    ask(a, c, w, margin, resolution);
    const size_t n = size_t(c.data.arm.n);
    const In<double> path = take<double>(path_, "path", {ANY, long(n)});
    iterations = std::max<int64_t>(iterations, 0);
    std::vector<double> room(path.data(), path.data() + path.rows() * n);
    {
        nb::gil_scoped_release release;
        room.resize((path.rows() + size_t(iterations)) * n);
        const int k = current_level().shortcut(a.scene, room.data(), int(path.rows()), iterations, seed);
        room.resize(size_t(k) * n);
    }
    return give(room, {room.size() / n, n});
}

static void require_positive(const In<double> &in, const char *name) {
    for (size_t i = 0; i < in.rows(); ++i)
        if (!(in.data()[i] > 0))
            throw nb::value_error((std::string(name) + "[" + std::to_string(i) + "]: expected a positive limit, found " +
                                   std::to_string(in.data()[i])).c_str());
}

struct Timing {
    TimedPath timed;
    size_t n;
};

static Timing time_of(nb::handle path_, nb::handle vmax_, nb::handle amax_, double corner, nb::object durations) {
    const In<double> path = take<double>(path_, "path", {ANY, ANY});
    const long n = long(path.array.shape(1)), k = long(path.rows());
    if (k < 1 || n < 1) throw nb::value_error("path: expected at least one waypoint and one joint");
    const In<double> vmax = take<double>(vmax_, "vmax", {n}), amax = take<double>(amax_, "amax", {n});
    require_positive(vmax, "vmax"), require_positive(amax, "amax");
    if (!(corner >= 0)) throw nb::value_error("corner: expected at least 0");
    In<double> d;
    if (!durations.is_none()) d = take<double>(durations, "durations", {k - 1});
    nb::gil_scoped_release release;
    return {time_polyline(path.data(), size_t(k), {int(n), vmax.data(), amax.data(), corner}, durations.is_none() ? nullptr : d.data()), size_t(n)};
}

static Out<int32_t> steps_of(nb::handle ends_a_, nb::handle ends_b_, nb::handle closed_, int32_t never) {
    const In<bool> ends_a = take<bool>(ends_a_, "ends_a", {ANY}), ends_b = take<bool>(ends_b_, "ends_b", {ANY});
    const size_t n = ends_a.rows(), m = ends_b.rows();
    const In<bool> closed = take<bool>(closed_, "closed", {long(n), long(m)});
    auto out = std::make_unique<int32_t[]>(n * m);
    {
        nb::gil_scoped_release release;
        least_steps(ends_a.data(), n, ends_b.data(), m, closed.data(), never, out.get());
    }
    return give(std::move(out), {n, m});
}

void bind_path(nb::module_ &m) {
    using namespace nb::literals;
    nb::class_<Search>(m, "Search")
        .def_prop_ro("path", [](const Search &s) -> nb::object {
            return s.did.outcome == FOUND ? nb::cast(give(s.path, {s.path.size() / s.n, s.n})) : nb::none();
        })
        .def_prop_ro("outcome", &outcome_name)
        .def_prop_ro("goal", [](const Search &s) { return s.did.goal; })
        .def_prop_ro("iterations", [](const Search &s) { return s.did.iterations; })
        .def_prop_ro("nodes", [](const Search &s) { return s.did.nodes; })
        .def_prop_ro("edges", [](const Search &s) { return s.did.edges; });
    m.def("rrt_connect", &search, "cover"_a, "world"_a, "start"_a, "goals"_a, nb::kw_only(), "iterations"_a = 20000, "seed"_a = 0,
          "margin"_a = 0.0, "resolution"_a = 0.01, "stride"_a = 0.6);
    m.def("shortcut", &shorten, "cover"_a, "world"_a, "path"_a, nb::kw_only(), "iterations"_a = 200, "seed"_a = 0, "margin"_a = 0.0,
          "resolution"_a = 0.01);
    nb::class_<Timing>(m, "Timing")
        .def_prop_ro("t", [](const Timing &s) { return give(s.timed.t, {s.timed.t.size()}); }, nb::rv_policy::move)
        .def_prop_ro("q", [](const Timing &s) { return give(s.timed.q, {s.timed.t.size(), s.n}); }, nb::rv_policy::move)
        .def_prop_ro("v", [](const Timing &s) { return give(s.timed.v, {s.timed.t.size(), s.n}); }, nb::rv_policy::move)
        .def_prop_ro("at", [](const Timing &s) { return give(s.timed.at, {s.timed.at.size()}); }, nb::rv_policy::move)
        .def_prop_ro("deviation", [](const Timing &s) { return s.timed.deviation; });
    m.def("time_path", &time_of, "path"_a, "vmax"_a, "amax"_a, "corner"_a, "durations"_a.none() = nb::none());
    m.def("least_steps", &steps_of, "ends_a"_a, "ends_b"_a, "closed"_a, "never"_a);
}

}  // namespace handfast
