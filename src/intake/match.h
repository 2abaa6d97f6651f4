/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What columns.c (one header cell) gives to layout.c (the header row). */
#ifndef TENTER_INTAKE_MATCH_H
#define TENTER_INTAKE_MATCH_H

#include "columns.h"

const char *tenter__role_name(column_role role);
unsigned tenter__role_tables(column_role role);
unit_class tenter__role_unit(column_role role);

/* Reads one header cell; its texts are in the arena. False when memory runs out. */
bool tenter__column_match(const columns *patterns, const tenter_config *config, tenter_text text,
                          const number_layout *numbers, tenter_arena *arena, column *found);

uint32_t tenter__text_hash(const char *text, size_t length);

/* Whether the config has a pattern for role. */
bool tenter__role_is_own(const columns *patterns, const tenter_config *config, column_role role);

/* Reads text as the header of a wide column: a place, a direction or both. Sets role, direction,
 * placed and place of *found. */
bool tenter__wide_read(tenter_text text, const number_layout *numbers, tenter_arena *arena,
                       column *found);

#endif
