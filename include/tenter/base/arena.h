/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An arena: memory that is given out piece by piece and freed all at once. One
 * a load, one a review. Not safe to share between threads: give each task its
 * own and let the parent adopt it. */
#ifndef TENTER_BASE_ARENA_H
#define TENTER_BASE_ARENA_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/text.h"

typedef struct tenter_arena tenter_arena;

/* A new, empty arena; NULL when memory runs out. */
tenter_arena *tenter_arena_new(void);

/* count * size zeroed bytes, aligned for any type, owned by the arena; NULL when
 * memory runs out or the product overflows (0 bytes give a valid pointer). */
void *tenter_arena_alloc(tenter_arena *arena, size_t count, size_t size);

/* A NUL-terminated copy of text in the arena; NULL when memory runs out. */
char *tenter_arena_copy(tenter_arena *arena, tenter_text text);

/* A formatted, NUL-terminated string in the arena; NULL when memory runs out. */
char *tenter_arena_print(tenter_arena *arena, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Moves all that child owns to parent and frees child itself. */
void tenter_arena_adopt(tenter_arena *parent, tenter_arena *child);

/* True once the arena could not give what it was asked for (or adopted one that could not), so that
 * a writer of many small texts checks once, at the end. */
bool tenter_arena_failed(const tenter_arena *arena);

/* Bytes taken from the heap. */
size_t tenter_arena_size(const tenter_arena *arena);

/* Frees all of it; NULL is nothing. */
void tenter_arena_free(tenter_arena *arena);

#endif
