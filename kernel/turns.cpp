// A revolute joint's angle is known modulo 2 pi: which of the equivalents lie within limits.
#include <algorithm>

#include "kernel.h"

namespace handfast {

constexpr double TURN = 2.0 * PI;
constexpr double EDGE = 1e-9;  // an angle this far outside a limit is on it [rad]

bool nearest_turns(const double *q, const double *lo, const double *hi, const double *near, int n, double *out) {
    bool found = true;
    for (int j = 0; j < n; ++j) {
        const double least = std::ceil((lo[j] - EDGE - q[j]) / TURN), most = std::floor((hi[j] + EDGE - q[j]) / TURN);
        const double wish = std::floor((near[j] - q[j]) / TURN + 0.5);
        const bool some = least <= most;
        const double turned = q[j] + TURN * std::min(std::max(wish, least), most);
        out[j] = some ? std::min(std::max(turned, lo[j]), hi[j]) : q[j];
        found = found && some;
    }
    return found;
}

std::vector<double> all_turns(const double *q, const double *lo, const double *hi, const double *near, int n, size_t most) {
    std::vector<std::pair<double, std::vector<double>>> found{{0.0, {}}};  // squared distance from near, joints so far
    for (int j = 0; j < n; ++j) {
        std::vector<std::pair<double, std::vector<double>>> longer;
        const double last = std::floor((hi[j] + EDGE - q[j]) / TURN);
        for (const auto &[gap2, joints] : found)
            for (double k = std::ceil((lo[j] - EDGE - q[j]) / TURN); k <= last; k += 1.0) {
                longer.push_back({gap2, joints});
                const double turned = std::min(std::max(q[j] + TURN * k, lo[j]), hi[j]);
                longer.back().first += (turned - near[j]) * (turned - near[j]);
                longer.back().second.push_back(turned);
            }
        // Distances only grow joint by joint and every prefix can be completed alike: the nearest prefixes suffice.
        std::stable_sort(longer.begin(), longer.end(), [](const auto &a, const auto &b) { return a.first < b.first; });
        if (longer.size() > most) longer.resize(most);
        found = std::move(longer);
    }
    std::vector<double> out;
    for (const auto &[gap2, joints] : found) out.insert(out.end(), joints.begin(), joints.end());
    return out;
}

}  // namespace handfast
