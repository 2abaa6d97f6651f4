/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to adjust at a station, in the shop's own words for sides. */
#include "stations.h"

static const char *const words[] = {
#define STATION_WORD(constant, word) word,
    TENTER_STATION_NUMBERS(STATION_WORD)};

const char *tenter_station_word(tenter_station_number number) {
  return number < TENTER_STATION_COUNT ? words[number] : "";
}

/* ---- sides ---------------------------------------------------------------------------------- */

/* The side that lies along +x, -x, +y or -y. */
typedef struct side {
  double x, y;
} side;

/* The entries of a side where a sentence begins with it, and within one. */
enum { OF_SIDE, OF_CORNERS, OF_RIGHT, OF_LEFT, OF_UPPER, OF_LOWER };
static const tenter_say begins[] = {
    TENTER_SAY_STATION_BEGINS_SIDE,  TENTER_SAY_STATION_BEGINS_CORNERS,
    TENTER_SAY_STATION_BEGINS_RIGHT, TENTER_SAY_STATION_BEGINS_LEFT,
    TENTER_SAY_STATION_BEGINS_UPPER, TENTER_SAY_STATION_BEGINS_LOWER};
static const tenter_say within[] = {TENTER_SAY_STATION_SIDE,       TENTER_SAY_STATION_SIDE_CORNERS,
                                    TENTER_SAY_STATION_SIDE_RIGHT, TENTER_SAY_STATION_SIDE_LEFT,
                                    TENTER_SAY_STATION_SIDE_UPPER, TENTER_SAY_STATION_SIDE_LOWER};

static bool lies_at(const tenter_position *p, side at, bool corner) {
  double along = p->x * at.x + p->y * at.y, across = p->x * at.y + p->y * at.x;
  if (p->kind != (corner ? TENTER_PLACE_CORNER : TENTER_PLACE_SIDE) || along <= 0.5)
    return false;
  return corner || fabs(across) < 0.3;
}

/* In the shop's own words: its middle where the shop reads there, else its corners. */
static const char *say_side(const judge *j, side at, const tenter_say entries[]) {
  const tenter_tables *t = j->tables;
  const char *corners = NULL;
  for (size_t i = 0; i < t->position_count; i++)
    if (lies_at(&t->positions[i], at, false))
      return tenter_say_fill(j->arena, entries[OF_SIDE], t->positions[i].label, (const char *)NULL);
  for (size_t i = 0; i < t->position_count; i++)
    if (lies_at(&t->positions[i], at, true))
      corners = corners ? tenter_say_fill(j->arena, TENTER_SAY_LIST_AND, corners,
                                          t->positions[i].label, (const char *)NULL)
                        : t->positions[i].label;
  if (corners)
    return tenter_say_fill(j->arena, entries[OF_CORNERS], corners, (const char *)NULL);
  return tenter_say_text(entries[at.x > 0   ? OF_RIGHT
                                 : at.x < 0 ? OF_LEFT
                                 : at.y > 0 ? OF_UPPER
                                            : OF_LOWER]);
}

/* ---- each number ---------------------------------------------------------------------------- */

static const char *say_number(const judge *j, tenter_form form, const tenter_review_station *s,
                              tenter_station_number n) {
  double size = judge__station_size(n, s->off[n]), sign = size < 0 ? -1 : 1;
  const char *by = tenter_say_fixed(j->arena, form, fabs(size), 1);
  const char *se = tenter_say_fixed(j->arena, form, judge__station_size(n, s->off_se[n]), 1);
  if (n == TENTER_STATION_TILT_X || n == TENTER_STATION_TILT_Y) {
    side hard = n == TENTER_STATION_TILT_X ? (side){sign, 0} : (side){0, sign};
    return tenter_say_fill(j->arena, TENTER_SAY_STATION_TILT, say_side(j, hard, begins), by, se,
                           say_side(j, hard, within), say_side(j, (side){-hard.x, -hard.y}, within),
                           (const char *)NULL);
  }
  tenter_say id =
      n == TENTER_STATION_CORNER
          ? (size > 0 ? TENTER_SAY_STATION_CORNERS_TIGHT : TENTER_SAY_STATION_CORNERS_LOOSE)
          : (size > 0 ? TENTER_SAY_STATION_WEFT_LAGS : TENTER_SAY_STATION_WARP_LAGS);
  return tenter_say_fill(j->arena, id, by, se, (const char *)NULL);
}

static const char *add(const judge *j, const char *all, const char *more) {
  return all == NULL ? more
                     : tenter_say_fill(j->arena, TENTER_SAY_STATION_ADVICE_MORE, all, more,
                                       (const char *)NULL);
}

static const char *say_confounded(const judge *j, const tenter_review_station *station) {
  const char *all = station->confounded_with[0];
  for (size_t i = 1; i < station->confounded_count; i++)
    all = tenter_say_fill(j->arena, TENTER_SAY_LIST_AND, all, station->confounded_with[i],
                          (const char *)NULL);
  return tenter_say_fill(j->arena, TENTER_SAY_STATION_NOT_TOLD, all, (const char *)NULL);
}

static const char *advise(const judge *j, tenter_form form, const tenter_review_station *station) {
  const char *all = NULL;
  for (int n = 0; n < TENTER_STATION_COUNT; n++)
    if (station->uneven[n])
      all = add(j, all, say_number(j, form, station, (tenter_station_number)n));
  if (station->confounded_count > 0)
    all = add(j, all, say_confounded(j, station));
  if (*j->settings->orientation)
    all = add(j, all,
              tenter_say_fill(j->arena, TENTER_SAY_STATION_ORIENTATION, j->settings->orientation,
                              (const char *)NULL));
  return add(j, all, tenter_say_text(TENTER_SAY_STATION_CAUTION));
}

bool judge__station_advice(const judge *j, tenter_review_station *station) {
  station->advice = advise(j, TENTER_FORM_PLAIN, station);
  station->shown = advise(j, judge__form(j), station);
  return !tenter_arena_failed(j->arena);
}
