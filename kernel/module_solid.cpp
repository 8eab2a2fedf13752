// Bindings of what meshes and the boxes around bodies are asked.
#include "arrays.h"
#include "boxes.h"
#include "kernel.h"

namespace handfast {

static Out<double> windings(nb::handle points_, nb::handle faces_) {
    const In<double> points = take<double>(points_, "points", {ANY, 3}), faces = take<double>(faces_, "faces", {ANY, 3, 3});
    auto out = std::make_unique<double[]>(points.rows());
    {
        nb::gil_scoped_release release;
        count_windings(points.data(), points.rows(), faces.data(), faces.rows(), out.get());
    }
    return give(std::move(out), {points.rows()});
}

static std::vector<SolidBox> boxes_of(nb::handle turned_, nb::handle origin_, nb::handle half_) {
    const In<double> turned = take<double>(turned_, "turned", {ANY, 3, 3});
    const long n = long(turned.rows());
    const In<double> origin = take<double>(origin_, "origin", {n, 3}), half = take<double>(half_, "standing half", {n, 3});
    std::vector<SolidBox> boxes;
    boxes.reserve(size_t(n));
    for (size_t i = 0; i < size_t(n); ++i) {
        SolidBox box;
        std::copy(turned.data() + 9 * i, turned.data() + 9 * i + 9, box.turned.m);
        const double *o = origin.data() + 3 * i, *h = half.data() + 3 * i;
        box.origin = {o[0], o[1], o[2]};
        box.middle = transpose(box.turned) * box.origin;
        std::copy(h, h + 3, box.half);
        boxes.push_back(box);
    }
    return boxes;
}

static std::vector<SolidBox> boxes_at(nb::handle poses_, nb::handle middle_, nb::handle half_) {
    const In<double> poses = take<double>(poses_, "poses", {ANY, 4, 4});
    const long n = long(poses.rows());
    const In<double> middle = take<double>(middle_, "middle", {n, 3}), half = take<double>(half_, "half", {n, 3});
    std::vector<SolidBox> boxes;
    boxes.reserve(size_t(n));
    for (size_t i = 0; i < size_t(n); ++i) {
        const Pose pose = pose_from_rows(poses.data() + 16 * i);
        const double *c = middle.data() + 3 * i, *h = half.data() + 3 * i;
        SolidBox box{transpose(pose.r), {}, pose.r * Vec{c[0], c[1], c[2]} + pose.p, {h[0], h[1], h[2]}};
        box.origin = box.turned * box.middle;
        boxes.push_back(box);
    }
    return boxes;
}

static nb::list near_pairs(nb::handle poses, nb::handle middle, nb::handle half, nb::handle turned, nb::handle origin,
                           nb::handle half_b, nb::handle step_, double apart) {
    const std::vector<SolidBox> a = boxes_at(poses, middle, half), b = boxes_of(turned, origin, half_b);
    const In<double> step = take<double>(step_, "step", {3});
    const Vec way = {step.data()[0], step.data()[1], step.data()[2]};
    nb::list found;
    for (size_t i = 0; i < a.size(); ++i)
        for (size_t k = 0; k < b.size(); ++k)
            if (!stay_apart(a[i], b[k], way, apart)) found.append(nb::make_tuple(i, k));
    return found;
}

static nb::tuple cut_of(nb::handle low_, nb::handle high_, nb::handle middle_, nb::handle shares_) {
    const In<double> low = take<double>(low_, "low", {ANY, 3});
    const long n = long(low.rows());
    const In<double> high = take<double>(high_, "high", {n, 3}), middle = take<double>(middle_, "middle", {n, 3}),
                     shares = take<double>(shares_, "shares", {ANY});
    if (shares.rows() > MAX_CUTS) throw nb::value_error("shares: expected at most 15");
    auto below = std::make_unique<bool[]>(size_t(n));
    const double saved = best_cut(low.data(), high.data(), middle.data(), size_t(n), shares.data(), int(shares.rows()), below.get());
    return nb::make_tuple(saved, give(std::move(below), {size_t(n)}));
}

void bind_solid(nb::module_ &m) {
    using namespace nb::literals;
    m.def("windings", &windings, "points"_a, "faces"_a);
    m.def("best_cut", &cut_of, "low"_a, "high"_a, "middle"_a, "shares"_a);
    m.def("near_pairs", &near_pairs, "poses"_a, "middle"_a, "half"_a, "turned"_a, "origin"_a, "standing_half"_a, "step"_a, "apart"_a);
}

}  // namespace handfast
