// Numpy arrays in and out, with messages that say what was expected and what was found.
#pragma once
#include <nanobind/nanobind.h>
#include <nanobind/ndarray.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <initializer_list>
#include <memory>
#include <string>
#include <vector>

namespace handfast {

namespace nb = nanobind;

constexpr long ANY = -1;  // any length of an axis

template <class T>
struct In {
    nb::ndarray<const T, nb::c_contig, nb::device::cpu> array;
    const T *data() const { return array.data(); }
    size_t rows() const { return array.shape(0); }
};

inline std::string shape_text(std::initializer_list<long> shape) {
    std::string text = "(";
    for (long s : shape) text += (s == ANY ? std::string("any") : std::to_string(s)) + ", ";
    return text.substr(0, text.size() - 2) + ")";
}

template <class T>
const char *dtype_name() {
    return std::is_same_v<T, bool> ? "bool" : std::is_same_v<T, double> ? "float64" : std::is_same_v<T, int> ? "int32" : "uint32";
}

template <class T>
void require_shape(const In<T> &in, const char *name, std::initializer_list<long> shape) {
    bool fits = in.array.ndim() == shape.size();
    std::string found;
    for (size_t i = 0; i < in.array.ndim(); ++i) {
        const long want = fits ? shape.begin()[i] : ANY;
        fits = fits && (want == ANY || long(in.array.shape(i)) == want);
        found += std::to_string(in.array.shape(i)) + ", ";
    }
    if (fits) return;
    found = "(" + (found.empty() ? found : found.substr(0, found.size() - 2)) + ")";
    throw nb::value_error((std::string(name) + ": expected shape " + shape_text(shape) + ", found " + found).c_str());
}

// Without a way out of the loop, so that it runs several at a time: this is asked of every array that comes in.
inline bool all_finite(const double *values, size_t count) {
    constexpr uint64_t EXPONENT = 0x7ff0000000000000, LAST = 0x0010000000000000;
    uint64_t found = 0;
    for (size_t i = 0; i < count; ++i) {
        uint64_t bits;
        std::memcpy(&bits, values + i, sizeof bits);
        found |= (bits & EXPONENT) + LAST;  // carries into the sign where all bits of the exponent are set
    }
    return !(found >> 63);
}

template <class T>
In<T> take(nb::handle given, const char *name, std::initializer_list<long> shape) {
    In<T> in;
    if (!nb::try_cast(given, in.array)) {
        const nb::object made = nb::module_::import_("numpy").attr("ascontiguousarray")(given, dtype_name<T>());
        in.array = nb::cast<decltype(in.array)>(made);
    }
    require_shape(in, name, shape);
    if constexpr (std::is_same_v<T, double>)
        if (!all_finite(in.data(), in.array.size()))
            for (size_t i = 0; i < in.array.size(); ++i)
                if (!std::isfinite(in.data()[i]))
                    throw nb::value_error((std::string(name) + ": entry " + std::to_string(i) + " is not finite").c_str());
    return in;
}

// A (m, n) or a single (n,) argument: the row of each of m.
struct Rows {
    In<double> in;
    size_t stride;
    const double *row(size_t i) const { return in.data() + i * stride; }
};

Rows take_rows(nb::handle given, const char *name, long m, long n);

template <class T>
using Out = nb::ndarray<nb::numpy, T>;

template <class T>
Out<T> give(std::unique_ptr<T[]> data, std::initializer_list<size_t> shape) {
    T *raw = data.release();
    nb::capsule owner(raw, [](void *p) noexcept { delete[] static_cast<T *>(p); });
    return Out<T>(raw, shape, owner);
}

template <class T>
Out<T> give(const std::vector<T> &v, std::initializer_list<size_t> shape) {
    auto data = std::make_unique<T[]>(v.size());
    std::copy(v.begin(), v.end(), data.get());
    return give(std::move(data), shape);
}

void bind_arm(nb::module_ &);
void bind_scene(nb::module_ &);
void bind_path(nb::module_ &);
void bind_contact(nb::module_ &);
void bind_chance(nb::module_ &);
void bind_solid(nb::module_ &);

}  // namespace handfast
