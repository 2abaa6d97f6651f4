/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lists of rows behind a finding: the first are named, the others counted. */
#include "sources.h"

#include <string.h>

#include "actions.h"

static bool same_row(tenter_row a, tenter_row b) {
  return a.file == b.file && a.line == b.line;
}

void judge__add_row(row_list *s, tenter_row row) {
  for (uint32_t i = 0; i < s->count; i++)
    if (same_row(s->rows[i], row))
      return; /* one row of a wide table holds many readings */
  if (s->count < TENTER_SOURCES_NAMED) {
    s->rows[s->count++] = row;
  } else if (!same_row(s->last, row)) {
    s->last = row;
    s->more++;
  }
}

void judge__add_reading(const judge *j, row_list *s, size_t reading) {
  judge__add_row(s, tenter_reading_row(j->readings, reading));
}

void judge__add_session(const judge *j, row_list *s, size_t session) {
  const tenter_session *given = &j->shop->sessions[session];
  for (size_t i = given->first; i < given->first + given->count; i++)
    judge__add_reading(j, s, i);
}

/* ---- of signals ----------------------------------------------------------------------------- */

static bool give_to_signal(const row_list *s, tenter_arena *arena, tenter_chart_signal *signal) {
  tenter_row *rows = tenter_arena_alloc(arena, s->count, sizeof *rows);
  if (!rows)
    return false;
  memcpy(rows, s->rows, s->count * sizeof *rows);
  signal->sources = rows;
  signal->source_count = s->count;
  signal->more_sources = s->more;
  return true;
}

bool judge__session_sources(judge *j, const size_t *list, size_t count,
                            tenter_chart_signal *signal) {
  row_list s = {0};
  for (size_t i = 0; i < count; i++)
    judge__add_session(j, &s, list[i]);
  return give_to_signal(&s, j->arena, signal);
}

bool judge__check_sources(judge *j, size_t first, size_t count, tenter_chart_signal *signal) {
  row_list s = {0};
  const tenter_meter_check *checks = j->tables->checks;
  for (size_t i = 0, named = 0; i < j->tables->check_count && named < count; i++)
    if (checks[i].meter == checks[first].meter &&
        tenter_day_start(checks[i].at.at) == tenter_day_start(checks[first].at.at)) {
      judge__add_row(&s, checks[i].row);
      named++;
    }
  return give_to_signal(&s, j->arena, signal);
}
