/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A table of distinct texts with small numbers as ids: 0, 1, 2 ... in order of
 * arrival. Keeps copies of its own. */
#ifndef TENTER_BASE_NAMES_H
#define TENTER_BASE_NAMES_H

#include <stdint.h>

#include "tenter/base/text.h"

typedef struct tenter_names tenter_names;

#define TENTER_NO_NAME UINT32_MAX /* "no name" wherever an id stands */

/* A new, empty table; NULL when memory runs out. */
tenter_names *tenter_names_new(void);
void tenter_names_free(tenter_names *names);

/* The id of text, added if new; TENTER_NO_NAME when memory runs out. */
uint32_t tenter_names_add(tenter_names *names, tenter_text text);

/* The id of text, or TENTER_NO_NAME. */
uint32_t tenter_names_find(const tenter_names *names, tenter_text text);

uint32_t tenter_names_count(const tenter_names *names);

/* The text of id as a NUL-terminated string, valid until the table is freed;
 * "" for TENTER_NO_NAME or an id out of range. */
const char *tenter_names_get(const tenter_names *names, uint32_t id);
tenter_text tenter_names_text(const tenter_names *names, uint32_t id);

/* Puts the names in natural order (tenter_text_natural) and gives every one a
 * new id; to[old id] = new id for all of them (count entries, caller's
 * array). False when memory runs out: the table is as it was. */
bool tenter_names_sort(tenter_names *names, uint32_t *to);

/* The name nearest to text by edit distance, or TENTER_NO_NAME when none is
 * within a third of its length (at least 2 edits). */
uint32_t tenter_names_nearest(const tenter_names *names, tenter_text text);

#endif
