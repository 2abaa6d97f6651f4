/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The heap behind one door. Nothing else in the project calls calloc, realloc or free. */
#define _DEFAULT_SOURCE /* madvise */
#include "tenter/base/alloc.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

enum { LARGE = 8 << 20, PAGE = 4096 };

/* Only advice: what comes of it changes nothing but the speed. */
static void advise(void *block, size_t bytes) {
#ifdef MADV_HUGEPAGE
  if (block != NULL && bytes >= LARGE) {
    size_t skip = (size_t)(-(uintptr_t)block & (PAGE - 1));
    madvise((char *)block + skip, (bytes - skip) & ~(size_t)(PAGE - 1), MADV_HUGEPAGE);
  }
#else
  (void)block;
  (void)bytes;
#endif
}

void *tenter_alloc(size_t count, size_t size) {
  return count == 0 || size == 0 || count > SIZE_MAX / size ? NULL : calloc(count, size);
}

void *tenter_alloc_scattered(size_t count, size_t size) {
  void *block = tenter_alloc(count, size);
  if (block)
    advise(block, count * size);
  return block;
}

void *tenter_resize(void *block, size_t count, size_t size) {
  return count == 0 || size == 0 || count > SIZE_MAX / size ? NULL : realloc(block, count * size);
}

void tenter_free(void *block) {
  free(block);
}
