// The canonical JSON text of plain values: keys in order, no white space, floats as Python's repr writes them.
#include <charconv>
#include <version>

#include "arrays.h"

namespace handfast {

#if defined(__cpp_lib_to_chars)
// Python's repr: the shortest digits that read back as the number, with an exponent below 1e-4 and from 1e16 on.
static void add_float(std::string &text, double value) {
    char made[32];
    const char *end = std::to_chars(made, made + sizeof made, value, std::chars_format::scientific).ptr;
    const char *mark = std::find(static_cast<const char *>(made), end, 'e'), *digit = made;
    if (*digit == '-') text += *digit++;
    std::string digits(1, *digit);
    if (digit + 1 < mark) digits.append(digit + 2, mark);  // past the point
    int power = 0;
    std::from_chars(mark + (mark[1] == '+' ? 2 : 1), end, power);
    const int count = int(digits.size());
    if (power < -4 || power >= 16) {
        text.append(digits, 0, 1);
        if (count > 1) text.append(".").append(digits, 1);
        text += power < 0 ? "e-" : "e+";
        if (std::abs(power) < 10) text += '0';
        text += std::to_string(std::abs(power));
    } else if (power < 0) {
        text.append("0.").append(size_t(-power - 1), '0').append(digits);
    } else if (power + 1 >= count) {
        text.append(digits).append(size_t(power + 1 - count), '0').append(".0");
    } else {
        text.append(digits, 0, size_t(power + 1)).append(".").append(digits, size_t(power + 1));
    }
}

#else
// Standard libraries that write no floats, that of macOS among them: as Python does, to the same text, more slowly.
static void add_float(std::string &text, double value) {
    char *made = PyOS_double_to_string(value, 'r', 0, Py_DTSF_ADD_DOT_0, nullptr);
    if (!made) nb::raise_python_error();
    text += made;
    PyMem_Free(made);
}
#endif

static std::string_view letters_of(PyObject *word) {
    Py_ssize_t length = 0;
    const char *letters = PyUnicode_AsUTF8AndSize(word, &length);
    if (!letters) nb::raise_python_error();  // half of a pair of code units has no UTF-8
    return {letters, size_t(length)};
}

static void add_word(std::string &text, std::string_view letters) {
    constexpr char HEX[] = "0123456789abcdef", NAMED[] = "\bb\tt\nn\ff\rr\"\"\\\\";
    text += '"';
    for (const char c : letters) {
        const bool plain = static_cast<unsigned char>(c) >= 0x20 && c != '"' && c != '\\';
        const char *named = plain ? nullptr : std::find(NAMED, NAMED + sizeof NAMED - 1, c);
        if (plain)
            text += c;
        else if (named != NAMED + sizeof NAMED - 1 && (named - NAMED) % 2 == 0)
            text.append("\\").append(1, named[1]);
        else
            text.append("\\u00").append(1, HEX[c >> 4]).append(1, HEX[c & 15]);
    }
    text += '"';
}

static void add(std::string &text, PyObject *value);

static void add_object(std::string &text, PyObject *value) {
    std::vector<std::pair<std::string_view, PyObject *>> entries;
    entries.reserve(size_t(PyDict_Size(value)));
    PyObject *key, *entry;
    for (Py_ssize_t at = 0; PyDict_Next(value, &at, &key, &entry);) {
        if (!PyUnicode_Check(key)) throw nb::type_error("expected words as keys");
        entries.emplace_back(letters_of(key), entry);
    }
    std::sort(entries.begin(), entries.end(), [](const auto &a, const auto &b) { return a.first < b.first; });
    const char *before = "{";
    for (const auto &[name, kept] : entries) {
        text += before;
        before = ",";
        add_word(text, name);
        text += ':';
        add(text, kept);
    }
    text += entries.empty() ? "{}" : "}";
}

static void add_row(std::string &text, PyObject *value) {
    const bool listed = PyList_Check(value);
    const Py_ssize_t count = listed ? PyList_Size(value) : PyTuple_Size(value);
    text += '[';
    for (Py_ssize_t i = 0; i < count; ++i) {
        if (i) text += ',';
        add(text, listed ? PyList_GetItem(value, i) : PyTuple_GetItem(value, i));
    }
    text += ']';
}

static void add_nested(std::string &text, PyObject *value) {
    if (Py_EnterRecursiveCall(" while writing JSON")) nb::raise_python_error();
    try {
        PyDict_Check(value) ? add_object(text, value) : add_row(text, value);
    } catch (...) {
        Py_LeaveRecursiveCall();
        throw;
    }
    Py_LeaveRecursiveCall();
}

static void add(std::string &text, PyObject *value) {
    if (PyFloat_Check(value)) {
        const double number = PyFloat_AsDouble(value);
        if (!std::isfinite(number)) throw nb::value_error("expected finite numbers");
        add_float(text, number);
    } else if (PyList_Check(value) || PyTuple_Check(value) || PyDict_Check(value)) {
        add_nested(text, value);
    } else if (PyUnicode_Check(value)) {
        add_word(text, letters_of(value));
    } else if (value == Py_None || PyBool_Check(value)) {
        text += value == Py_None ? "null" : value == Py_True ? "true" : "false";
    } else if (PyLong_Check(value)) {
        const nb::object digits = nb::steal(PyNumber_ToBase(value, 10));
        if (!digits.is_valid()) nb::raise_python_error();
        text += letters_of(digits.ptr());
    } else {
        throw nb::type_error("expected numbers, words, None, lists and dicts of them");
    }
}

static nb::str json_text(nb::handle value) {
    std::string text;
    add(text, value.ptr());
    return nb::str(text.data(), text.size());
}

void bind_text(nb::module_ &m) {
    using namespace nb::literals;
    m.def("json_text", &json_text, "value"_a.none());
}

}  // namespace handfast
