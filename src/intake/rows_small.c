/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of the register, of events and of meter checks. */
#include <math.h>
#include <stdio.h>

#include "rows.h"

static bool needed_name(reader *r, column_role role, const char *what) {
  tenter_text text = cell_of(r, role);
  if (text.length > 0 && tenter__is_name(text))
    return true;
  if (text.length == 0)
    tenter__reject(r, TENTER_SAY_KIND_NO_NAME, TENTER_SAY_ROW_NOTHING, what, END);
  else
    tenter__reject(r, TENTER_SAY_KIND_NUL, TENTER_SAY_ROW_NAME_NUL, what, END);
  return false;
}

void tenter__take_register(reader *r) {
  if (!needed_name(r, ROLE_SCREEN, "screen"))
    return;
  tenter_register_row row = {.row.line = r->line};
  tenter__read_attributes(r, &row.attributes);
  row.screen = tenter__take_name(r, ROLE_SCREEN, TENTER_NAME_SCREEN);
  tenter_register_row *kept = tenter__new_item(r);
  if (!kept)
    return;
  *kept = row;
  r->out->accepted++;
}

/* Impressions are whole: digits, or digits with a point and zeros as spreadsheets write it; "1,200"
 * is refused, since it can be read in two ways. */
static double take_count(reader *r) {
  tenter_text text = cell_of(r, ROLE_COUNT);
  if (text.length == 0)
    return NAN;
  double value;
  bool marked;
  const char *point = memchr(text.start, '.', text.length);
  bool three = point && text.start + text.length - point == 4;
  if (tenter__number_read(text, '.', &value, &marked) == NUMBER_READ && !three && value >= 0 &&
      value <= 1e12 && value == floor(value))
    return value;
  char shown[SHOWN_SIZE];
  tenter__remark(r, TENTER_SAY_KIND_COUNT, TENTER_SAY_ROW_COUNT, tenter__shown(text, shown), END);
  return NAN;
}

static double take_target(reader *r) {
  tenter_text text = cell_of(r, ROLE_TARGET);
  const tenter_settings *s = r->all->settings;
  bounds within = {s->least_tension, s->most_tension};
  double value;
  row_fault fault;
  if (text.length == 0)
    return NAN;
  if (tenter__read_scaled(r, text, column_of(r, ROLE_TARGET), within, &value, &fault))
    return value;
  tenter__remark(r, fault.kind, TENTER_SAY_ROW_COLUMN_LEFT, column_of(r, ROLE_TARGET)->read_as,
                 fault.detail, END);
  return NAN;
}

void tenter__take_event(reader *r) {
  tenter_event event = {.row.line = r->line, .word = TENTER_NO_NAME};
  if (!needed_name(r, ROLE_SCREEN, "screen") || !tenter__take_taken(r, "time", &event.at) ||
      !needed_name(r, ROLE_EVENT, "event"))
    return;
  tenter_text word = cell_of(r, ROLE_EVENT);
  event.kind = tenter__event_read(word);
  if (event.kind == TENTER_EVENT_NOTE)
    event.word = tenter__take_name(r, ROLE_EVENT, TENTER_NAME_NOTE);
  event.screen = tenter__take_name(r, ROLE_SCREEN, TENTER_NAME_SCREEN);
  event.count = take_count(r);
  event.lot = tenter__take_name(r, ROLE_LOT, TENTER_NAME_LOT);
  event.mesh = tenter__take_mesh(r);
  event.station = tenter__take_name(r, ROLE_STATION, TENTER_NAME_STATION);
  event.operator= tenter__take_name(r, ROLE_OPERATOR, TENTER_NAME_OPERATOR);
  event.target = take_target(r);
  tenter_event *kept = tenter__new_item(r);
  if (!kept)
    return;
  *kept = event;
  r->out->accepted++;
}

/* A check may be of the meter's zero, so that only the upper limit of tensions holds. */
void tenter__take_check(reader *r) {
  tenter_meter_check check = {.row.line = r->line};
  const tenter_settings *s = r->all->settings;
  bounds nominal = {0, s->most_tension}, indicated = {-s->least_tension, s->most_tension};
  if (!needed_name(r, ROLE_METER, "meter") || !tenter__take_taken(r, "time", &check.at) ||
      !tenter__take_number(r, ROLE_NOMINAL, "nominal", nominal, &check.nominal) ||
      !tenter__take_number(r, ROLE_INDICATED, "indicated", indicated, &check.indicated))
    return;
  check.meter = tenter__take_name(r, ROLE_METER, TENTER_NAME_METER);
  check.operator= tenter__take_name(r, ROLE_OPERATOR, TENTER_NAME_OPERATOR);
  tenter_meter_check *kept = tenter__new_item(r);
  if (!kept)
    return;
  *kept = check;
  r->out->accepted++;
}
