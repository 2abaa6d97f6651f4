/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The heap behind one door. Nothing else in the project calls calloc, realloc or free. */
#include "tenter/base/alloc.h"

#include <stdint.h>
#include <stdlib.h>

void *tenter_alloc(size_t count, size_t size) {
  if (count == 0 || size == 0 || count > SIZE_MAX / size)
    return NULL;
  return calloc(count, size);
}

void *tenter_resize(void *block, size_t count, size_t size) {
  if (count == 0 || size == 0 || count > SIZE_MAX / size)
    return NULL;
  return realloc(block, count * size);
}

void tenter_free(void *block) {
  free(block);
}
