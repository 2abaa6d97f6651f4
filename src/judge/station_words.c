/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What to adjust at a station, in the shop's own words for sides. */
#include "stations.h"
#include "tenter/base/buffer.h"

static const char *const words[] = {
#define STATION_WORD(constant, word) word,
    TENTER_STATION_NUMBERS(STATION_WORD)};

const char *tenter_station_word(tenter_station_number number) {
  return number < TENTER_STATION_COUNT ? words[number] : "";
}

/* ---- sides ---------------------------------------------------------------------------------- */

/* Positions on the side that lies along +x, -x, +y or -y: its middle where the shop reads there,
 * else its corners. */
static void say_side(const judge *j, double x, double y, tenter_buffer *out) {
  const tenter_tables *t = j->tables;
  size_t named = 0;
  for (int corners = 0; corners < 2 && named == 0; corners++)
    for (size_t i = 0; i < t->position_count; i++) {
      const tenter_position *p = &t->positions[i];
      double along = p->x * x + p->y * y, across = p->x * y + p->y * x;
      bool there = p->kind == (corners ? TENTER_PLACE_CORNER : TENTER_PLACE_SIDE) && along > 0.5 &&
                   (corners || fabs(across) < 0.3);
      if (!there || (named > 0 && !corners))
        continue;
      tenter_buffer_text(out, named > 0 ? " and "
                              : corners ? "the side with "
                                        : "the side you call ");
      tenter_buffer_text(out, p->label);
      named++;
    }
  if (named == 0)
    tenter_buffer_text(out, x > 0   ? "the right side"
                            : x < 0 ? "the left side"
                            : y > 0 ? "the upper side"
                                    : "the lower side");
}

/* "1.3 ± 0.1" */
static void say_size(tenter_form form, double size, double se, tenter_buffer *out) {
  tenter_form_fixed(out, form, size, 1);
  tenter_buffer_text(out, " ± ");
  tenter_form_fixed(out, form, se, 1);
}

static void say_tilt(const judge *j, tenter_form form, double x, double y, double size, double se,
                     tenter_buffer *out) {
  tenter_buffer side = {0};
  say_side(j, x, y, &side);
  const char *name = tenter_buffer_string(&side);
  tenter_buffer_print(out, "T%s", name ? name + 1 : "his side");
  tenter_buffer_text(out, " draws harder: ");
  say_size(form, size, se, out);
  tenter_buffer_text(out, " N/cm more across the screen than at the other stations. Ease ");
  tenter_buffer_text(out, name ? name : "it");
  tenter_buffer_text(out, " by half of it, or bring ");
  say_side(j, -x, -y, out);
  tenter_buffer_text(out, " up by as much.");
  tenter_buffer_release(&side);
}

/* ---- each number ---------------------------------------------------------------------------- */

static void say_number(const judge *j, tenter_form form, const tenter_review_station *s,
                       tenter_station_number n, tenter_buffer *out) {
  double size = judge__station_size(n, s->off[n]), se = judge__station_size(n, s->off_se[n]);
  double sign = size < 0 ? -1 : 1;
  if (out->length > 0)
    tenter_buffer_text(out, " ");
  switch (n) {
  case TENTER_STATION_TILT_X:
    say_tilt(j, form, sign, 0, fabs(size), se, out);
    break;
  case TENTER_STATION_TILT_Y:
    say_tilt(j, form, 0, sign, fabs(size), se, out);
    break;
  case TENTER_STATION_CORNER:
    tenter_buffer_text(out, "The corners come out ");
    say_size(form, fabs(size), se, out);
    tenter_buffer_print(out, " N/cm %s against the centre than at the other stations: %s.",
                        size > 0 ? "tighter" : "looser",
                        size > 0 ? "ease the corners" : "look at the clamps next to the corners");
    break;
  default:
    tenter_buffer_print(out, "The %s lags behind the %s by ", size > 0 ? "weft" : "warp",
                        size > 0 ? "warp" : "weft");
    say_size(form, fabs(size), se, out);
    tenter_buffer_text(out, " N/cm more than at the other stations: draw it further, or the other "
                            "less.");
  }
}

static const char caution[] =
    " Tight corners tear mesh: ease them before anything is raised, stay under the mesh maker's "
    "maximum, protect your eyes, follow the stretcher maker's instructions, and measure the next "
    "screens again.";

static const char *advise(const judge *j, tenter_form form, const tenter_review_station *station) {
  tenter_buffer out = {0};
  for (int n = 0; n < TENTER_STATION_COUNT; n++)
    if (station->uneven[n])
      say_number(j, form, station, (tenter_station_number)n, &out);
  for (size_t i = 0; i < station->confounded_count; i++)
    tenter_buffer_print(&out, "%s %s", i == 0 ? " It can't be told from" : " and",
                        station->confounded_with[i]);
  if (station->confounded_count > 0)
    tenter_buffer_text(&out, ": which of the two, the readings can't say.");
  if (*j->settings->orientation)
    tenter_buffer_print(&out, " (%s.)", j->settings->orientation);
  tenter_buffer_text(&out, caution);
  const char *text = tenter_buffer_string(&out);
  const char *copy = text ? tenter_arena_print(j->arena, "%s", text) : NULL;
  tenter_buffer_release(&out);
  return copy;
}

bool judge__station_advice(const judge *j, tenter_review_station *station) {
  tenter_form plain = {TENTER_MARK_POINT, TENTER_DATES_ISO};
  station->advice = advise(j, plain, station);
  station->shown = advise(j, judge__form(j), station);
  return station->advice && station->shown;
}
