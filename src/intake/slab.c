/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counted pieces of memory. */
#include "slab.h"

#include <stdatomic.h>

#include "tenter/base/alloc.h"

enum { SLAB_SIZE = 16 << 20, ALIGNMENT = 64 };

struct slab {
  atomic_size_t holders; /* chunks, and the pen while it is open */
  char *bytes;
  size_t size, used;
};

static slab *slab_new(size_t size) {
  slab *made = tenter_alloc(1, sizeof *made);
  if (!made)
    return NULL;
  made->size = size;
  made->bytes = tenter_alloc_scattered(size, 1);
  atomic_init(&made->holders, 1);
  if (made->bytes)
    return made;
  tenter_free(made);
  return NULL;
}

void tenter__slab_let_go(slab *of) {
  if (!of || atomic_fetch_sub(&of->holders, 1) != 1)
    return;
  tenter_free(of->bytes);
  tenter_free(of);
}

void tenter__slab_close(slab_pen *pen) {
  tenter__slab_let_go(pen->open);
  pen->open = NULL;
}

void *tenter__slab_room(slab_pen *pen, size_t size, size_t all, slab **from) {
  if (!pen->open || pen->open->size - pen->open->used < size) {
    tenter__slab_close(pen);
    size_t wanted = all < SLAB_SIZE ? all : SLAB_SIZE;
    pen->open = slab_new(wanted > size ? wanted : size);
    if (!pen->open)
      return NULL;
  }
  *from = pen->open;
  atomic_fetch_add(&pen->open->holders, 1);
  return pen->open->bytes + pen->open->used;
}

void tenter__slab_used(slab_pen *pen, size_t size) {
  size_t used = pen->open->used + (size + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
  pen->open->used = used < pen->open->size ? used : pen->open->size;
}
