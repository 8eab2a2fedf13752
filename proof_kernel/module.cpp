// The proof's own compiled module: gaps between surfaces of triangles, and how far an arm's pieces can move. It shares
// nothing with the planner's kernel.
#include <nanobind/nanobind.h>
#include <nanobind/ndarray.h>

#include <cmath>

#include "surface.h"
#include "travel.h"

namespace nb = nanobind;
using namespace nb::literals;
using namespace handfast::proof;

namespace {

template <int... N> using In = nb::ndarray<const double, nb::shape<N...>, nb::c_contig, nb::device::cpu>;
template <int... N> using Out = nb::ndarray<double, nb::shape<N...>, nb::c_contig, nb::device::cpu>;
using Indices = nb::ndarray<const int, nb::shape<-1, 3>, nb::c_contig, nb::device::cpu>;
using Joints = nb::ndarray<const long long, nb::shape<-1>, nb::c_contig, nb::device::cpu>;
using Pose = In<4, 4>;

Placing placing(const Pose &pose) {
    const double *p = pose.data();
    for (int i = 0; i < 16; ++i)  // nothing is nearer than what is nowhere: that must not be taken for clear
        if (!std::isfinite(p[i])) throw nb::value_error("poses: expected finite numbers");
    return {{{p[0], p[1], p[2]}, {p[4], p[5], p[6]}, {p[8], p[9], p[10]}}, {p[3], p[7], p[11]}};
}

Placing second_in_first(const Pose &a, const Pose &b) {
    const Placing back = placing(a).back(), other = placing(b), columns = other.back();
    Placing out{};
    for (int i = 0; i < 3; ++i)
        out.r[i] = {dot(back.r[i], columns.r[0]), dot(back.r[i], columns.r[1]), dot(back.r[i], columns.r[2])};
    out.t = back(other.t);
    return out;
}

void check(const In<-1, 3> &vertices, const Indices &triangles) {
    for (size_t i = 0; i < 3 * vertices.shape(0); ++i)
        if (!std::isfinite(vertices.data()[i])) throw nb::value_error("vertices: expected finite lengths");
    for (size_t i = 0; i < 3 * triangles.shape(0); ++i)
        if (triangles.data()[i] < 0 || size_t(triangles.data()[i]) >= vertices.shape(0))
            throw nb::value_error("triangles: expected indices of vertices");
}

void bounds(In<-1, 3> axes, In<-1> reach, In<-1, -1, 4, 4> joints, In<-1, -1, -1> steps, In<-1, -1, 3> centre, In<-1> radius,
            Joints joint_of, Out<-1, -1, -1, 3> shift, Out<-1, -1> rest, Out<-1, -1> turn, Out<-1, -1> far, Out<-1, -1, -1> tail) {
    const size_t n = axes.shape(0), instants = steps.shape(0), controls = steps.shape(1), pieces = radius.shape(0);
    const auto table = [&](const auto &a) { return a.shape(0) == instants && a.shape(1) == pieces; };
    bool fits = reach.shape(0) == n && joints.shape(0) == instants && joints.shape(1) == n + 1 && steps.shape(2) == n && table(centre) &&
                joint_of.shape(0) == pieces && shift.shape(0) == instants && shift.shape(1) == controls && shift.shape(2) == pieces &&
                table(rest) && table(turn) && table(far) && table(tail) && tail.shape(2) > n;
    for (size_t p = 0; p < joint_of.shape(0); ++p) fits = fits && joint_of.data()[p] >= 0 && size_t(joint_of.data()[p]) <= n;
    if (!fits) throw nb::value_error("travel: expected arrays of n joints, I instants, C control steps and P pieces");
    travel({n, axes.data(), reach.data()},
           {instants, controls, pieces, joints.data(), steps.data(), centre.data(), radius.data(), joint_of.data()},
           {tail.shape(2), shift.data(), rest.data(), turn.data(), far.data(), tail.data()});
}

}  // namespace

NB_MODULE(_compiled, m) {
    m.doc() = "What is compiled for the proof alone.";
    nb::class_<Surface>(m, "Surface")
        .def("__init__", [](Surface *self, In<-1, 3> vertices, Indices triangles, bool solid) {
            check(vertices, triangles);
            new (self) Surface(vertices.data(), vertices.shape(0), triangles.data(), triangles.shape(0), solid);
        }, "vertices"_a, "triangles"_a, "solid"_a);
    m.def("gap_up_to", [](double enough, const Surface &a, Pose at_a, const Surface &b, Pose at_b) {
        const Placing b_in_a = second_in_first(at_a, at_b);
        nb::gil_scoped_release release;
        return gap_up_to(enough, a, b, b_in_a);
    }, "enough"_a, "a"_a, "T_world_a"_a, "b"_a, "T_world_b"_a);
    m.def("travel", &bounds, "axes"_a, "reach"_a, "joints"_a, "steps"_a, "centre"_a, "radius"_a, "joint_of"_a,
          "shift"_a.noconvert(), "rest"_a.noconvert(), "turn"_a.noconvert(), "travel"_a.noconvert(), "tail"_a.noconvert());
    m.def("nearer", [](double than, const Surface &a, Pose at_a, const Surface &b, Pose at_b) {
        const Placing b_in_a = second_in_first(at_a, at_b);
        nb::gil_scoped_release release;
        return nearer(than, a, b, b_in_a);
    }, "than"_a, "a"_a, "T_world_a"_a, "b"_a, "T_world_b"_a);
}
