/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The distinct texts, positions and attributes that one worker met in one file, under ids of its
 * own; and putting them together under the ids of the tables. Ids are given when a row is
 * accepted, never before, so that a rejected row leaves no trace. */
#ifndef TENTER_INTAKE_LEXICON_H
#define TENTER_INTAKE_LEXICON_H

#include "tenter/shop/tables.h"

/* Distinct attributes; entry 0 is "nothing given". */
typedef struct attribute_set {
  tenter_attributes *items;
  uint32_t count, room;
  uint32_t *slots; /* item + 1, 0 free; slot_count is a power of 2 */
  uint32_t slot_count;
} attribute_set;

/* The id of attributes, added if new; UINT32_MAX when memory runs out. */
uint32_t tenter__attributes_add(attribute_set *set, const tenter_attributes *attributes);
void tenter__attributes_release(attribute_set *set);

/* Distinct positions; ids of names are ids of positions. */
typedef struct position_set {
  tenter_names *keys;
  tenter_position *items; /* label: in arena, the first in natural order of those met */
  uint32_t room;
  tenter_arena *arena; /* of the labels; borrowed */
} position_set;

/* The id of place with the label; TENTER_NO_NAME when memory runs out. */
uint32_t tenter__position_add(position_set *set, const tenter_position *place, tenter_text label);
void tenter__positions_release(position_set *set);

/* How a reading was taken: what repeats from row to row, under one id. */
typedef struct setup {
  uint16_t position, meter, operator, trial;
  uint16_t direction; /* tenter_direction; 16 bits leave no padding */
} setup;

typedef struct setup_set {
  setup *items;
  uint32_t count, room;
  uint32_t *slots; /* item + 1, 0 free; slot_count is a power of 2 */
  uint32_t slot_count;
} setup_set;

enum { MOST_SETUPS = 1 << 24 };

/* The id of a setup, added if new; UINT32_MAX when memory runs out or there are MOST_SETUPS. */
uint32_t tenter__setup_add(setup_set *set, const setup *of);

typedef struct lexicon {
  tenter_names *names[TENTER_NAME_KINDS]; /* made when first needed */
  position_set positions;
  attribute_set attributes;
  setup_set setups;
  tenter_arena *arena;
  /* where its ids go in the tables, once merged; TENTER_NO_NAME for what no row uses */
  uint32_t *to_names[TENTER_NAME_KINDS], *to_positions, *to_attributes;
  setup *to_setups; /* what they are in ids of the tables */
} lexicon;

lexicon *tenter__lexicon_new(void);
void tenter__lexicon_free(lexicon *lexicon);

/* The id of text in one of its tables; TENTER_NO_NAME when memory runs out. */
uint32_t tenter__lexicon_name(lexicon *lexicon, tenter_name_kind kind, tenter_text text);

/* What the rows that count use. */
typedef struct used_ids {
  uint8_t *names[TENTER_NAME_KINDS], *positions, *attributes, *setups; /* one byte an id */
} used_ids;

/* Everything together, under construction. */
typedef struct merged {
  tenter_tables *tables;
  position_set positions;
  attribute_set attributes;
} merged;

/* Adds what a lexicon holds to the whole and fills its to_... arrays. False when memory runs out.
 * used: ids that count (all where NULL). */
bool tenter__lexicon_merge(lexicon *from, const used_ids *used, merged *into);

#endif
