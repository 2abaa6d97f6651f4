/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The only door to the heap, so that tests can slam it (they wrap these symbols
 * at link time). */
#ifndef TENTER_BASE_ALLOC_H
#define TENTER_BASE_ALLOC_H

#include <stddef.h>

/* count * size bytes, zeroed; NULL when memory runs out, the product overflows
 * or either is 0. Release with tenter_free. */
void *tenter_alloc(size_t count, size_t size);

/* Grows or shrinks a block of tenter_alloc (or NULL) to count * size bytes; new
 * bytes are not set. NULL on failure, and the old block is kept. */
/* The same, for a block that is read here and there: in huge pages where the system has them. What
 * is filled and read in order is better off without: a page is cleared while it is hot. */
void *tenter_alloc_scattered(size_t count, size_t size);

void *tenter_resize(void *block, size_t count, size_t size);

/* Frees a block; NULL is nothing. */
void tenter_free(void *block);

#endif
