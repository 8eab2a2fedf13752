// Binding of the quasi-static insertion.
#include "arrays.h"
#include "contact.h"
#include "kernel.h"

namespace handfast {

constexpr size_t SHAPE_COLUMNS = 11, RIM_COLUMNS = 7;

static std::vector<Shape> shapes_of(const In<double> &rows, const In<double> &planes, const In<double> &at, size_t bodies) {
    std::vector<Shape> shapes;
    for (size_t i = 0; i < rows.rows(); ++i) {
        const double *r = rows.data() + SHAPE_COLUMNS * i, *p = planes.data() + 3 * MAX_PLANES * i;
        Shape s{int(r[0]), int(r[1]), int(r[2]), int(r[3]), r[4], r[5], r[6], r[7], r[8], r[9], r[10], {},
                pose_from_rows(at.data() + 16 * i)};
        if (s.planes < 1 || s.planes > MAX_PLANES || s.body < -1 || s.body >= int(bodies) || s.also < -1 || s.also >= int(rows.rows()))
            throw nb::value_error(("shapes[" + std::to_string(i) + "]: expected 1 to 6 planes, a body and another shape that there are").c_str());
        for (int k = 0; k < 3 * MAX_PLANES; ++k) s.plane[k / 3][k % 3] = p[k];
        shapes.push_back(s);
    }
    return shapes;
}

static std::vector<Rim> rims_of(const In<double> &rows, size_t shapes, size_t points) {
    std::vector<Rim> rims;
    for (size_t i = 0; i < rows.rows(); ++i) {
        const double *r = rows.data() + RIM_COLUMNS * i;
        const Rim rim{int(r[0]), int(r[1]), int(r[2]), int(r[3]), r[4], r[5], r[6]};
        if (rim.points_on < 0 || rim.material < 0 || size_t(rim.points_on) >= shapes || size_t(rim.material) >= shapes ||
            rim.start < 0 || rim.count < 0 || size_t(rim.start + rim.count) > points)
            throw nb::value_error(("rims[" + std::to_string(i) + "]: expected shapes and points that there are").c_str());
        rims.push_back(rim);
    }
    return rims;
}

static nb::tuple insertion(nb::handle shapes_, nb::handle planes_, nb::handle at_, nb::handle rims_, nb::handle points_,
                           nb::handle bodies_, nb::handle now_, nb::handle held_, nb::handle way_, nb::handle stops_,
                           double limit, double friction, double stiffness, double slip) {
    const In<double> shapes = take<double>(shapes_, "shapes", {ANY, long(SHAPE_COLUMNS)});
    const long ns = long(shapes.rows());
    const In<double> planes = take<double>(planes_, "planes", {ns, MAX_PLANES, 3}), at = take<double>(at_, "T_body_shape", {ns, 4, 4}),
                     rims = take<double>(rims_, "rims", {ANY, long(RIM_COLUMNS)}), points = take<double>(points_, "points", {ANY, 3}),
                     bodies = take<double>(bodies_, "T_world_body", {ANY, 4, 4});
    const long nb_ = long(bodies.rows());
    if (nb_ < 1 || nb_ > MAX_BODIES)
        throw nb::value_error(("T_world_body: expected 1 to 4 bodies, found " + std::to_string(nb_)).c_str());
    const In<double> now = take<double>(now_, "T_world_now", {nb_, 4, 4});
    const In<double> held = take<double>(held_, "held", {nb_, 4}), way = take<double>(way_, "way", {3}),
                     stops = take<double>(stops_, "stops", {ANY});
    if (stops.rows() < 1) throw nb::value_error("stops: expected at least one, found none");
    const std::vector<Shape> all = shapes_of(shapes, planes, at, size_t(nb_));
    const std::vector<Rim> edges = rims_of(rims, all.size(), points.rows());
    std::vector<Vec> where;
    for (size_t i = 0; i < points.rows(); ++i) where.push_back({points.data()[3 * i], points.data()[3 * i + 1], points.data()[3 * i + 2]});
    std::vector<Body> moving;
    for (size_t b = 0; b < size_t(nb_); ++b) {
        const double *k = held.data() + 4 * b;
        moving.push_back({pose_from_rows(bodies.data() + 16 * b), pose_from_rows(now.data() + 16 * b), k[0], k[1], k[2], k[3]});
    }
    const Going going{{way.data()[0], way.data()[1], way.data()[2]}, stops.data()[stops.rows() - 1], limit, friction, stiffness, slip,
                      stops.data(), stops.rows()};
    Gone gone;
    {
        nb::gil_scoped_release release;
        gone = insert_in_contact(all, edges, where.data(), moving, going);
    }
    auto poses = std::make_unique<double[]>(16 * size_t(nb_));
    for (size_t b = 0; b < size_t(nb_); ++b) pose_to_rows(gone.poses[b], poses.get() + 16 * b);
    return nb::make_tuple(gone.travel, gone.peak, gone.over, give(gone.deepest, {gone.deepest.size()}),
                          give(std::move(poses), {size_t(nb_), 4, 4}), gone.steps, gone.iterations, gone.unsettled,
                          give(gone.felt, {gone.felt.size() / 4, 4}));
}

void bind_contact(nb::module_ &m) {
    using namespace nb::literals;
    m.def("insertion", &insertion, "shapes"_a, "planes"_a, "T_body_shape"_a, "rims"_a, "points"_a, "T_world_body"_a, "T_world_now"_a, "held"_a, "way"_a,
          "stops"_a, nb::kw_only(), "limit"_a, "friction"_a, "stiffness"_a, "slip"_a);
}

}  // namespace handfast
