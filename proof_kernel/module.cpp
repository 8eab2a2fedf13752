// The proof's own compiled module: gaps between surfaces of triangles. It shares nothing with the planner's kernel.
#include <nanobind/nanobind.h>
#include <nanobind/ndarray.h>

#include <cmath>

#include "surface.h"

namespace nb = nanobind;
using namespace nb::literals;
using namespace handfast::proof;

namespace {

using Vertices = nb::ndarray<const double, nb::shape<-1, 3>, nb::c_contig, nb::device::cpu>;
using Indices = nb::ndarray<const int, nb::shape<-1, 3>, nb::c_contig, nb::device::cpu>;
using Pose = nb::ndarray<const double, nb::shape<4, 4>, nb::c_contig, nb::device::cpu>;

Placing placing(const Pose &pose) {
    const double *p = pose.data();
    return {{{p[0], p[1], p[2]}, {p[4], p[5], p[6]}, {p[8], p[9], p[10]}}, {p[3], p[7], p[11]}};
}

Placing second_in_first(const Pose &a, const Pose &b) {
    const Placing back = placing(a).back(), other = placing(b);
    const Placing columns = other.back();
    Placing out{};
    for (int i = 0; i < 3; ++i)
        out.r[i] = {dot(back.r[i], columns.r[0]), dot(back.r[i], columns.r[1]), dot(back.r[i], columns.r[2])};
    out.t = back.turned(other.t - placing(a).t);
    return out;
}

void check(const Vertices &vertices, const Indices &triangles) {
    for (size_t i = 0; i < 3 * vertices.shape(0); ++i)
        if (!std::isfinite(vertices.data()[i])) throw nb::value_error("vertices: expected finite lengths");
    for (size_t i = 0; i < 3 * triangles.shape(0); ++i)
        if (triangles.data()[i] < 0 || size_t(triangles.data()[i]) >= vertices.shape(0))
            throw nb::value_error("triangles: expected indices of vertices");
}

}  // namespace

NB_MODULE(_gaps, m) {
    m.doc() = "Gaps between surfaces of triangles, for the proof alone.";
    nb::class_<Surface>(m, "Surface")
        .def("__init__", [](Surface *self, Vertices vertices, Indices triangles) {
            check(vertices, triangles);
            new (self) Surface(vertices.data(), triangles.data(), triangles.shape(0));
        }, "vertices"_a, "triangles"_a);
    m.def("gap_up_to", [](double enough, const Surface &a, Pose at_a, const Surface &b, Pose at_b) {
        const Placing b_in_a = second_in_first(at_a, at_b);
        nb::gil_scoped_release release;
        return gap_up_to(enough, a, b, b_in_a);
    }, "enough"_a, "a"_a, "T_world_a"_a, "b"_a, "T_world_b"_a);
    m.def("nearer", [](double than, const Surface &a, Pose at_a, const Surface &b, Pose at_b) {
        const Placing b_in_a = second_in_first(at_a, at_b);
        nb::gil_scoped_release release;
        return nearer(than, a, b, b_in_a);
    }, "than"_a, "a"_a, "T_world_a"_a, "b"_a, "T_world_b"_a);
}
