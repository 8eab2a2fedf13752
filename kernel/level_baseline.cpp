#define LANES 4
#define LEVEL_NAME "baseline"
#define LEVEL_TABLE level_baseline
#include "level.inc"
