// Bindings of what the chance that parts go in is worked out with.
#include "arrays.h"
#include "tables.h"
#include "together.h"

namespace handfast {

static nb::tuple chords(nb::handle rows_, nb::handle along_, nb::handle middle_, nb::handle radii_, double most) {
    const In<double> radii = take<double>(radii_, "radii", {ANY, ANY}), along = take<double>(along_, "along", {ANY, long(radii.array.shape(1))});
    const long k = long(radii.rows()), f = long(along.rows()), n = long(radii.array.shape(1));
    const In<double> rows = take<double>(rows_, "rows", {2 * k, f}), middle = take<double>(middle_, "middle", {2 * k, n});
    const size_t size = size_t(k) * size_t(n);
    std::unique_ptr<double[]> near(new double[size]), far(new double[size]);  // not zeroed: all of it is written
    const Discs discs{size_t(k), size_t(n), size_t(f), rows.data(), along.data(), middle.data(), radii.data(), most};
    {
        nb::gil_scoped_release release;
        current_level().chords(discs, near.get(), far.get());
    }
    return nb::make_tuple(give(std::move(near), {size_t(k), size_t(n)}), give(std::move(far), {size_t(k), size_t(n)}));
}

static Out<bool> together(nb::handle A_, nb::handle back_, nb::handle off_, nb::handle rooms_, int sweeps, double inside, double step) {
    const In<double> A = take<double>(A_, "A", {ANY, 2, 3});
    const long k = long(A.rows());
    const In<double> back = take<double>(back_, "back", {k, 3, 2}), off = take<double>(off_, "off", {ANY, 2 * k});
    const In<double> rooms = take<double>(rooms_, "rooms", {long(off.rows()), k});
    auto out = std::make_unique<bool[]>(off.rows());
    {
        nb::gil_scoped_release release;
        go_together({size_t(k), A.data(), back.data()}, off.data(), rooms.data(), off.rows(), {sweeps, inside, step}, out.get());
    }
    return give(std::move(out), {off.rows()});
}

void bind_chance(nb::module_ &m) {
    using namespace nb::literals;
    m.def("chords", &chords, "rows"_a, "along"_a, "middle"_a, "radii"_a, nb::kw_only(), "most"_a);
    m.def("together", &together, "A"_a, "back"_a, "off"_a, "rooms"_a, nb::kw_only(), "sweeps"_a, "inside"_a, "step"_a);
}

}  // namespace handfast
