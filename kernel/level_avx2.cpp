#define LANES 8
#define LEVEL_NAME "avx2"
#define LEVEL_TABLE level_avx2
#include "level.inc"
