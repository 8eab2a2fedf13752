// Bindings of the arm and its kinematics.
#include "bound.h"

namespace handfast {

Rows take_rows(nb::handle given, const char *name, long m, long n) {
    In<double> in;
    if (!nb::try_cast(given, in.array))
        in.array = nb::cast<decltype(in.array)>(nb::module_::import_("numpy").attr("ascontiguousarray")(given, "float64"));
    const bool one = in.array.ndim() == 1;
    return {one ? take<double>(nb::cast(in.array), name, {n}) : take<double>(nb::cast(in.array), name, {m, n}), one ? 0 : size_t(n)};
}

static void require_rigid(const double *t, const std::string &name) {
    const Pose pose = pose_from_rows(t);
    const Mat square = pose.r * transpose(pose.r);
    double off = std::fabs(t[12]) + std::fabs(t[13]) + std::fabs(t[14]) + std::fabs(t[15] - 1.0);
    for (int i = 0; i < 9; ++i) off = std::max(off, std::fabs(square.m[i] - (i % 4 == 0)));
    const double *r = pose.r.m;
    const double det = dot({r[0], r[1], r[2]}, cross({r[3], r[4], r[5]}, {r[6], r[7], r[8]}));
    if (off > 1e-6 || det < 0)
        throw nb::value_error((name + ": expected a rotation and the row 0 0 0 1, found one off by " +
                               std::to_string(off) + (det < 0 ? " that mirrors" : "")).c_str());
}

void require_rigid_rows(const In<double> &in, const std::string &name) {
    for (size_t i = 0; i < in.array.size() / 16; ++i)
        require_rigid(in.data() + 16 * i, in.array.ndim() == 2 ? name : name + "[" + std::to_string(i) + "]");
}

static void make(Arm *self, nb::handle placements, nb::handle axes, nb::handle tip, nb::handle base, nb::handle lo, nb::handle hi) {
    const In<double> p = take<double>(placements, "placements", {ANY, 4, 4});
    const long n = long(p.rows());
    if (n < 1 || n > MAX_JOINTS)
        throw nb::value_error(("placements: expected 1 to 12 joints, found " + std::to_string(n)).c_str());
    const In<double> a = take<double>(axes, "axes", {n, 3}), t = take<double>(tip, "tip", {4, 4}),
                     b = take<double>(base, "base", {4, 4}), l = take<double>(lo, "lo", {n}), h = take<double>(hi, "hi", {n});
    require_rigid_rows(p, "placements"), require_rigid_rows(t, "tip"), require_rigid_rows(b, "base");
    for (long i = 0; i < n; ++i) {
        const double *v = a.data() + 3 * i;
        if (std::fabs(norm({v[0], v[1], v[2]}) - 1.0) > 1e-6)
            throw nb::value_error(("axes[" + std::to_string(i) + "]: expected a unit vector, found length " +
                                   std::to_string(norm({v[0], v[1], v[2]}))).c_str());
        if (l.data()[i] > h.data()[i])
            throw nb::value_error(("lo[" + std::to_string(i) + "]: expected at most hi " + std::to_string(h.data()[i]) +
                                   ", found " + std::to_string(l.data()[i])).c_str());
    }
    new (self) Arm{make_arm({int(n), p.data(), a.data(), t.data(), b.data(), l.data(), h.data()}), {}};
    self->axes = axes_of(self->table);
}

static Out<double> fk_rows(const Arm &arm, nb::handle q_, bool links) {
    const size_t n = size_t(arm.table.n), each = links ? n + 1 : 1;
    const In<double> q = take<double>(q_, "q", {ANY, long(n)});
    const size_t m = q.rows();
    auto out = std::make_unique<double[]>(m * each * 16);
    {
        nb::gil_scoped_release release;
        Pose poses[MAX_JOINTS + 1];
        for (size_t i = 0; i < m; ++i) {
            if (links)
                link_poses(arm.table, q.data() + i * n, poses);
            else
                poses[0] = tip_pose(arm.table, q.data() + i * n);
            for (size_t k = 0; k < each; ++k) pose_to_rows(poses[k], out.get() + (i * each + k) * 16);
        }
    }
    return links ? give(std::move(out), {m, each, 4, 4}) : give(std::move(out), {m, 4, 4});
}

static Out<double> jacobian_rows(const Arm &arm, nb::handle q_) {
    const size_t n = size_t(arm.table.n);
    const In<double> q = take<double>(q_, "q", {ANY, long(n)});
    const size_t m = q.rows();
    auto out = std::make_unique<double[]>(m * 6 * n);
    {
        nb::gil_scoped_release release;
        for (size_t i = 0; i < m; ++i) tip_jacobian(arm.table, q.data() + i * n, out.get() + i * 6 * n);
    }
    return give(std::move(out), {m, 6, n});
}

template <class Solve>
static nb::tuple solve_rows(const Arm &arm, nb::handle targets, Solve solve) {
    const size_t n = size_t(arm.table.n);
    const In<double> t = take<double>(targets, "targets", {ANY, 4, 4});
    require_rigid_rows(t, "targets");
    const size_t m = t.rows();
    auto q = std::make_unique<double[]>(m * BRANCHES * n);
    auto valid = std::make_unique<bool[]>(m * BRANCHES);
    {
        nb::gil_scoped_release release;
        for (size_t i = 0; i < m; ++i)
            solve(i, pose_from_rows(t.data() + 16 * i), q.get() + i * BRANCHES * n, valid.get() + i * BRANCHES);
    }
    return nb::make_tuple(give(std::move(q), {m, BRANCHES, n}), give(std::move(valid), {m, BRANCHES}));
}

static std::vector<double> middle_of_limits(const ArmTable &arm) {
    std::vector<double> middle;
    for (int j = 0; j < arm.n; ++j) middle.push_back(0.5 * (arm.lo[j] + arm.hi[j]));
    return middle;
}

static Out<bool> reach_rows(const Arm &arm, nb::handle targets) {
    const In<double> t = take<double>(targets, "targets", {ANY, 4, 4});
    require_rigid_rows(t, "targets");
    const size_t m = t.rows();
    const std::vector<double> near = middle_of_limits(arm.table);
    auto reached = std::make_unique<bool[]>(m);
    {
        nb::gil_scoped_release release;
        for (size_t i = 0; i < m; ++i)
            reached[i] = any_branch(arm.table, arm.axes, pose_from_rows(t.data() + 16 * i), near.data());
    }
    return give(std::move(reached), {m});
}

static Out<double> turn_to_rows(const Arm &arm, nb::handle targets, nb::handle near_) {
    const In<double> t = take<double>(targets, "targets", {ANY, 4, 4}), near = take<double>(near_, "near", {arm.table.n});
    require_rigid_rows(t, "targets");
    const size_t m = t.rows();
    auto out = std::make_unique<double[]>(m);
    {
        nb::gil_scoped_release release;
        for (size_t i = 0; i < m; ++i)
            out[i] = least_turn(arm.table, arm.axes, pose_from_rows(t.data() + 16 * i), near.data());
    }
    return give(std::move(out), {m});
}

static nb::tuple ik_rows(const Arm &arm, nb::handle targets, nb::object near_) {
    const nb::object near = near_.is_none() ? nb::cast(give(middle_of_limits(arm.table), {size_t(arm.table.n)})) : near_;
    const Rows rows = take_rows(near, "near", long(nb::len(targets)), arm.table.n);
    return solve_rows(arm, targets, [&](size_t i, const Pose &target, double *q, bool *valid) {
        all_branches(arm.table, arm.axes, target, rows.row(i), q, valid);
    });
}

static nb::tuple numeric_rows(const Arm &arm, nb::handle targets, nb::object starts, int restarts, int iterations, uint64_t seed) {
    In<double> s;
    if (!starts.is_none()) s = take<double>(starts, "starts", {ANY, arm.table.n});
    const Restarts how = {starts.is_none() ? nullptr : s.data(), starts.is_none() ? 0 : s.rows(), std::max(restarts, 0), iterations, seed};
    return solve_rows(arm, targets, [&](size_t i, const Pose &target, double *q, bool *valid) {
        search_inverse(arm.table, target, how, i, q, valid);
    });
}

static nb::tuple turn_rows(nb::handle q_, nb::handle lo_, nb::handle hi_, nb::handle near_) {
    const In<double> q = take<double>(q_, "q", {ANY, ANY});
    const size_t m = q.rows(), n = q.array.shape(1);
    const In<double> lo = take<double>(lo_, "lo", {long(n)}), hi = take<double>(hi_, "hi", {long(n)});
    const Rows near = take_rows(near_, "near", long(m), long(n));
    auto out = std::make_unique<double[]>(m * n);
    auto found = std::make_unique<bool[]>(m);
    for (size_t i = 0; i < m; ++i)
        found[i] = nearest_turns(q.data() + i * n, lo.data(), hi.data(), near.row(i), int(n), out.get() + i * n);
    return nb::make_tuple(give(std::move(out), {m, n}), give(std::move(found), {m}));
}

static Out<double> equivalent_rows(nb::handle q_, nb::handle lo_, nb::handle hi_, nb::handle near_, size_t most) {
    const In<double> q = take<double>(q_, "q", {ANY});
    const size_t n = q.rows();
    const In<double> lo = take<double>(lo_, "lo", {long(n)}), hi = take<double>(hi_, "hi", {long(n)}),
                     near = take<double>(near_, "near", {long(n)});
    const std::vector<double> all = all_turns(q.data(), lo.data(), hi.data(), near.data(), int(n), most);
    return give(all, {n ? all.size() / n : 0, n});
}

static const char *structure_name(const Arm &arm) {
    const Structure s = arm.axes.structure;
    return s == SPHERICAL_WRIST ? "spherical-wrist" : s == THREE_PARALLEL ? "three-parallel" : "numeric";
}

void bind_arm(nb::module_ &m) {
    using namespace nb::literals;
    nb::class_<Arm>(m, "Arm")
        .def("__init__", &make, "placements"_a, "axes"_a, "tip"_a, "base"_a, "lo"_a, "hi"_a)
        .def_prop_ro("n", [](const Arm &a) { return a.table.n; })
        .def_prop_ro("lo", [](const Arm &a) { return give(std::vector<double>(a.table.lo, a.table.lo + a.table.n), {size_t(a.table.n)}); }, nb::rv_policy::move)
        .def_prop_ro("hi", [](const Arm &a) { return give(std::vector<double>(a.table.hi, a.table.hi + a.table.n), {size_t(a.table.n)}); }, nb::rv_policy::move);
    m.def("structure", &structure_name, "arm"_a);
    m.def("fk", [](const Arm &arm, nb::handle q) { return fk_rows(arm, q, false); }, "arm"_a, "q"_a);
    m.def("fk_links", [](const Arm &arm, nb::handle q) { return fk_rows(arm, q, true); }, "arm"_a, "q"_a);
    m.def("jacobian", &jacobian_rows, "arm"_a, "q"_a);
    m.def("ik", &ik_rows, "arm"_a, "targets"_a, "near"_a.none() = nb::none());
    m.def("ik_reaches", &reach_rows, "arm"_a, "targets"_a);
    m.def("ik_turn", &turn_to_rows, "arm"_a, "targets"_a, "near"_a);
    m.def("ik_numeric", &numeric_rows, "arm"_a, "targets"_a, "starts"_a.none() = nb::none(), nb::kw_only(), "restarts"_a = 24,
          "iterations"_a = 60, "seed"_a = 0);
    m.def("turns", &turn_rows, "q"_a, "lo"_a, "hi"_a, "near"_a);
    m.def("equivalents", &equivalent_rows, "q"_a, "lo"_a, "hi"_a, "near"_a, "most"_a = 64);
}

}  // namespace handfast
