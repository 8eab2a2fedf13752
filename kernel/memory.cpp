// Aligned memory for the level units, which may not instantiate anything from the standard library.
#include <new>

#include "tables.h"

namespace handfast {

void *take_memory(size_t bytes) { return ::operator new(bytes ? bytes : 1, std::align_val_t(64)); }
void give_memory(void *p) { ::operator delete(p, std::align_val_t(64)); }

}  // namespace handfast
