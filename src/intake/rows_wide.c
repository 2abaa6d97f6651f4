/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of one session each: a column for each place, direction or both. */
#include <math.h>
#include <stdio.h>

#include "rows.h"

/* One cell of the row: a number, or why not. */
typedef struct wide_cell {
  double value;
  bool filled, good;
  row_fault fault;
} wide_cell;

static void read_cell(reader *r, const column *of, tenter_text text, wide_cell *cell) {
  const tenter_settings *s = r->all->settings;
  bounds within = {s->least_tension, s->most_tension};
  cell->filled = text.length > 0;
  cell->good = cell->filled && tenter__read_scaled(r, text, of, within, &cell->value, &cell->fault);
}

/* How many cells are filled; the first that is bad, with why, in *bad. good: how many are good. */
static size_t look_over(reader *r, size_t *good, size_t *first_bad, wide_cell *bad) {
  const layout *l = &r->in->layout;
  size_t filled = 0;
  *good = 0;
  *first_bad = l->count;
  for (size_t i = 0; i < l->count; i++) {
    wide_cell cell;
    if (l->columns[i].role != ROLE_CELL)
      continue;
    read_cell(r, &l->columns[i], cell_trim(r->cells[i]), &cell);
    filled += cell.filled;
    *good += cell.good;
    if (cell.filled && !cell.good && *first_bad == l->count) {
      *first_bad = i;
      *bad = cell;
    }
  }
  return filled;
}

static uint16_t place_of(reader *r, const column *of, const reading_head *head) {
  if (!of->placed)
    return head->how.position;
  uint32_t id =
      tenter__position_add(&r->words->positions, &of->place, tenter_text_of(of->place.label));
  r->failed = r->failed || id == TENTER_NO_NAME;
  return (uint16_t)id;
}

/* What the reading adds to the row's hash: which column, and the value. */
static void hash_value(reader *r, const column *of, double value) {
  char text[64];
  int length = snprintf(text, sizeof text, "%.17g", value);
  column thing = {.hash = of->thing_hash};
  tenter__hash_cell(r, &thing, (tenter_text){text, (size_t)length});
}

static void keep_cell(reader *r, const column *of, tenter_text text, reading_head *head) {
  wide_cell cell;
  uint64_t marks[2] = {r->out->marks[0], r->out->marks[1]};
  read_cell(r, of, text, &cell);
  r->out->marks[0] = marks[0]; /* counted when the row was looked over */
  r->out->marks[1] = marks[1];
  if (!cell.filled)
    return;
  if (!cell.good) {
    tenter__hash_cell(r, of, text);
    tenter__remark(r, cell.fault.kind, TENTER_SAY_ROW_ONE_LEFT, of->header, cell.fault.detail, END);
    return;
  }
  hash_value(r, of, cell.value);
  staged one = head->base;
  setup how = head->how;
  one.tension = cell.value;
  how.position = place_of(r, of, head);
  if (of->direction != TENTER_DIRECTION_NONE)
    how.direction = (uint16_t)of->direction;
  if (of->misnamed)
    one.setup |= TENTER_READING_MISNAMED_UNIT;
  one.setup |= tenter__intern_setup(r, &how) << 8;
  tenter__keep_reading(r, &one, &head->more);
}

void tenter__take_session(reader *r) {
  const layout *l = &r->in->layout;
  size_t good, first_bad;
  wide_cell bad;
  if (look_over(r, &good, &first_bad, &bad) == 0) {
    r->out->blank++; /* a sheet that was not filled in */
    return;
  }
  reading_head head;
  if (!tenter__take_head(r, &head))
    return;
  if (good == 0) {
    tenter__reject(r, bad.fault.kind, TENTER_SAY_ROW_NO_READING, l->columns[first_bad].header,
                   bad.fault.detail, END);
    return;
  }
  if (!tenter__intern_head(r, &head))
    return;
  size_t first = r->out->count;
  for (size_t i = 0; i < l->count && !r->failed; i++)
    if (l->columns[i].role == ROLE_CELL)
      keep_cell(r, &l->columns[i], cell_trim(r->cells[i]), &head);
  uint32_t hash = tenter__row_hash(r, true);
  for (size_t i = first; i < r->out->count && r->out->more; i++)
    r->out->more[i].row = hash;
  r->out->accepted++;
}
