#define LANES 16
#define LEVEL_NAME "avx512"
#define LEVEL_TABLE level_avx512
#include "level.inc"
