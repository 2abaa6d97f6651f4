/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Large pieces of memory that a worker hands out to its chunks one after the other, and that go
 * back when the last chunk in them has been moved on: large ones are cheaper for the system to
 * give (see base/alloc.c), and going back piece by piece keeps the peak low. */
#ifndef TENTER_INTAKE_SLAB_H
#define TENTER_INTAKE_SLAB_H

#include <stddef.h>

typedef struct slab slab;

/* The piece that a worker fills; all zero at first. */
typedef struct slab_pen {
  slab *open;
} slab_pen;

/* Room for at least `size` bytes behind what the pen gave before; NULL when memory runs out. all:
 * about how many bytes will be wanted altogether. *from is the slab it lies in, which the caller
 * holds until tenter__slab_let_go. */
void *tenter__slab_room(slab_pen *pen, size_t size, size_t all, slab **from);

/* Says how many bytes of the last room were used; the next begins behind them. */
void tenter__slab_used(slab_pen *pen, size_t size);

void tenter__slab_let_go(slab *of); /* NULL is nothing; from any thread */
void tenter__slab_close(slab_pen *pen);

#endif
