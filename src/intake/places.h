/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words for places, directions, events and frames. */
#ifndef TENTER_INTAKE_PLACES_H
#define TENTER_INTAKE_PLACES_H

#include "tenter/shop/tables.h"

enum { MOST_LAYOUT = 99 };

/* Which places the position numbers 1, 2, 3 ... stand for. */
typedef struct number_layout {
  tenter_position places[MOST_LAYOUT];
  size_t count;
} number_layout;

/* Reads the words of [intake] layout (separated by commas or semicolons, else by blanks). Returns
 * NULL, or the word that is no place, in the arena; "" when memory runs out. */
const char *tenter__layout_read(const char *words, tenter_arena *arena, number_layout *layout);

/* What a position's text means: centre, compass, words, r1c1 .. r3c3, a number of the layout (may
 * be NULL), or x,y in cm. The label is not set. False where it is none of these; *place is then of
 * unknown place. */
bool tenter__place_read(tenter_text text, const number_layout *layout, tenter_position *place);

/* A place x_cm, y_cm from the middle. */
tenter_position tenter__place_at(double x_cm, double y_cm);

/* What tells places apart, in at most 64 bytes: two texts with the same key are one position. Of
 * an unknown place it is empty: the label tells them apart. */
enum { PLACE_KEY_SIZE = 64 };
void tenter__place_key(const tenter_position *place, char key[PLACE_KEY_SIZE]);

/* "centre", "top left" ...; "" for others. */
const char *tenter__place_word(const tenter_position *place);

/* TENTER_WARP or TENTER_WEFT; TENTER_DIRECTIONS where text is no known word. */
tenter_direction tenter__direction_read(tenter_text text);

/* The event that a word names; TENTER_EVENT_NOTE for others. */
tenter_event_kind tenter__event_read(tenter_text text);

/* TENTER_FRAME_UNKNOWN for other words. */
tenter_frame tenter__frame_read(tenter_text text);

/* A plain thread count becomes "120/cm" or "305/in" by the unit (TENTER_COUNT_...); any other mesh
 * is as it stands. */
tenter_text tenter__mesh_text(tenter_text text, int count_unit, char *full, size_t size);

/* text in ASCII lower case without blanks, '_', '-' and '.', cut at size - 1 bytes. */
size_t tenter__fold(tenter_text text, char *folded, size_t size);

#endif
