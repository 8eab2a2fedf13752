#include <nanobind/stl/string.h>

#include "arrays.h"
#include "tables.h"

NB_MODULE(_kernel, m) {
    using namespace handfast;
    current_level();  // a level this machine lacks is an error at import, not later
    m.doc() = "The compiled kernel; see _kernel.pyi for shapes, units and frames.";
    m.attr("SLACK") = double(SLACK);
    m.def("level", [] { return std::string(current_level().name); });
    m.def("levels", [] {
        const Level *levels[3];
        const int count = available_levels(levels);
        nb::list names;
        for (int i = 0; i < count; ++i) names.append(nb::str(levels[i]->name));
        return names;
    });
    bind_arm(m);
    bind_scene(m);
    bind_path(m);
    bind_contact(m);
    bind_chance(m);
    bind_solid(m);
    // Arms that caches hold until the program ends are no leak, and nobody wants to read of them.
    nanobind::set_leak_warnings(false);
}
