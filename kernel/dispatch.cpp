// Chooses the instruction level once, when first asked.
#include <cstdlib>
#include <cstring>
#include <stdexcept>
#include <string>

#include "tables.h"

namespace handfast {

extern const Level level_baseline;
#if defined(HANDFAST_WIDE_LEVELS)
extern const Level level_avx2, level_avx512;
#endif

int available_levels(const Level **out) {
    int count = 0;
    out[count++] = &level_baseline;
#if defined(HANDFAST_WIDE_LEVELS)
    if (__builtin_cpu_supports("avx2")) out[count++] = &level_avx2;
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw") &&
        __builtin_cpu_supports("avx512vl"))
        out[count++] = &level_avx512;
#endif
    return count;
}

static const Level &choose() {
    const Level *levels[3];
    const int count = available_levels(levels);
    const char *wanted = std::getenv("HANDFAST_KERNEL_LEVEL");
    if (!wanted || !*wanted) return *levels[count - 1];
    std::string names;
    for (int i = 0; i < count; ++i) {
        if (!std::strcmp(levels[i]->name, wanted)) return *levels[i];
        names += std::string(i ? ", " : "") + levels[i]->name;
    }
    throw std::runtime_error("HANDFAST_KERNEL_LEVEL is '" + std::string(wanted) + "'; this machine has: " + names);
}

const Level &current_level() {
    static const Level &level = choose();
    return level;
}

}  // namespace handfast
