/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cells that are not on the hot path: times in any order, numbers with units, names, the
 * register's columns. */
#include <math.h>
#include <stdio.h>

#include "rows.h"
#include "tenter/base/alloc.h"

bool tenter__is_name(tenter_text text) {
  return memchr(text.start, '\0', text.length) == NULL;
}

bool tenter__row_is_blank(const reader *r) {
  for (size_t i = 0; i < r->in->layout.count; i++)
    if (cell_trim(r->cells[i]).length > 0)
      return false;
  return !r->memory->more_cells;
}

/* Items that outgrow their slab go into a block of their own. */
static void *grow_items(chunk *out, size_t room, size_t size) {
  void *items = out->items_in ? tenter_alloc(room, size) : tenter_resize(out->items, room, size);
  if (!items)
    return NULL;
  if (out->items_in) {
    memcpy(items, out->items, out->count * size);
    tenter__slab_let_go(out->items_in);
    out->items_in = NULL;
  }
  return out->items = items;
}

void *tenter__new_item(reader *r) {
  chunk *out = r->out;
  if (out->count == out->room) {
    size_t room = out->room + out->room / 2 + 16;
    void *items = grow_items(out, room, r->in->item_size);
    if (items && out->more) {
      staged_more *more = tenter_resize(out->more, room, sizeof *more);
      if (more)
        out->more = more;
      r->failed = r->failed || !more;
    }
    if (!items || r->failed) {
      r->failed = true;
      return NULL;
    }
    out->room = room;
  }
  return (char *)out->items + out->count++ * r->in->item_size;
}

/* ---- times ---------------------------------------------------------------------------------- */

static void note_orders(reader *r, tenter_text text, unsigned orders) {
  order_evidence *evidence = &r->out->orders;
  if (evidence->count[orders]++ == 0) {
    evidence->first[orders].line = r->line;
    snprintf(evidence->first[orders].text, sizeof evidence->first[orders].text, "%.*s",
             (int)text.length, text.start);
  }
}

/* Fills a fault in; false, as what found it returns. */
__attribute__((sentinel)) static bool faulty(row_fault *fault, tenter_say kind, tenter_say id,
                                             ...) {
  va_list values;
  va_start(values, id);
  tenter_say_put_list(fault->detail, sizeof fault->detail, id, values);
  va_end(values);
  fault->kind = kind;
  return false;
}

/* Reads a time and says why not. future: it may lie ahead. */
static bool read_time(reader *r, tenter_text text, bool future, tenter_when *when,
                      row_fault *fault) {
  char shown[SHOWN_SIZE], least[FIGURE_SIZE], most[FIGURE_SIZE];
  unsigned orders;
  if (!tenter__time_read(text, r->in->order, when, &orders))
    return faulty(fault, TENTER_SAY_KIND_TIME, TENTER_SAY_ROW_TIME, tenter__shown(text, shown),
                  END);
  if (orders && r->in->forced_order && !(orders & r->in->order))
    return faulty(fault, TENTER_SAY_KIND_TIME, TENTER_SAY_ROW_TIME_ORDER,
                  tenter__shown(text, shown), tenter__order_word(r->in->order), END);
  if (orders && !r->in->forced_order)
    note_orders(r, text, orders);
  if (when->at < r->all->least_at || when->at >= r->all->most_at)
    return faulty(fault, TENTER_SAY_KIND_TIME_RANGE, TENTER_SAY_ROW_TIME_YEAR,
                  tenter__shown(text, shown), tenter__figure(r->all->settings->least_year, least),
                  tenter__figure(r->all->settings->most_year, most), END);
  if (!future && when->at > r->all->now_limit)
    return faulty(fault, TENTER_SAY_KIND_TIME_RANGE, TENTER_SAY_ROW_TIME_FUTURE,
                  tenter__shown(text, shown), END);
  return true;
}

/* Joins a time of day from a column of its own. */
static bool join_clock(reader *r, tenter_when *when) {
  tenter_text text = cell_of(r, ROLE_CLOCK);
  if (text.length == 0 || !when->date_only)
    return true;
  int seconds = tenter__clock_read(text);
  if (seconds < 0) {
    char shown[SHOWN_SIZE];
    tenter__reject(r, TENTER_SAY_KIND_CLOCK, TENTER_SAY_ROW_CLOCK, tenter__shown(text, shown), END);
    return false;
  }
  *when = (tenter_when){tenter_day_start(when->at) + seconds, false};
  if (when->at <= r->all->now_limit)
    return true;
  tenter__reject(r, TENTER_SAY_KIND_TIME_RANGE, TENTER_SAY_ROW_CLOCK_FUTURE, END);
  return false;
}

bool tenter__take_taken(reader *r, const char *what, tenter_when *when) {
  tenter_text text = cell_of(r, ROLE_TAKEN);
  if (text.length == 0) {
    tenter__reject(r, TENTER_SAY_KIND_NO_TIME, TENTER_SAY_ROW_NOTHING, what, END);
    return false;
  }
  row_fault fault;
  if (!read_time(r, text, false, when, &fault)) {
    tenter__reject(r, fault.kind, TENTER_SAY_ROW_AS_SAID, fault.detail, END);
    return false;
  }
  return join_clock(r, when);
}

/* ---- numbers -------------------------------------------------------------------------------- */

static const char *unit_of(const column *of) {
  bool length = of->role == ROLE_WIDTH || of->role == ROLE_HEIGHT || of->role == ROLE_X_CM ||
                of->role == ROLE_Y_CM;
  return length ? "cm" : "N/cm";
}

bool tenter__read_scaled(reader *r, tenter_text text, const column *of, bounds within,
                         double *value, row_fault *fault) {
  char shown[SHOWN_SIZE], is[FIGURE_SIZE], least[FIGURE_SIZE], most[FIGURE_SIZE];
  bool marked;
  char mark = r->in->dialect.mark;
  number_form form = tenter__number_read(text, mark, value, &marked);
  if (form != NUMBER_NONE && marked)
    r->out->marks[form == NUMBER_OTHER_MARK]++;
  if (form == NUMBER_NONE)
    return faulty(fault, TENTER_SAY_KIND_NUMBER, TENTER_SAY_ROW_NUMBER, tenter__shown(text, shown),
                  END);
  if (form == NUMBER_OTHER_MARK && marked)
    return faulty(fault, TENTER_SAY_KIND_MARK,
                  mark == '.' ? TENTER_SAY_ROW_MARK_COMMA : TENTER_SAY_ROW_MARK_POINT,
                  tenter__shown(text, shown), END);
  *value = *value * of->multiply / of->divide;
  if (*value >= within.least && *value <= within.most)
    return true;
  return faulty(fault, TENTER_SAY_KIND_NUMBER_RANGE, TENTER_SAY_ROW_NUMBER_RANGE,
                tenter__figure(*value, is), unit_of(of), tenter__figure(within.least, least),
                tenter__figure(within.most, most), END);
}

bool tenter__take_number(reader *r, column_role role, const char *what, bounds within,
                         double *value) {
  tenter_text text = cell_of(r, role);
  if (text.length == 0) {
    tenter__reject(r, TENTER_SAY_KIND_NO_NUMBER, TENTER_SAY_ROW_NOTHING, what, END);
    return false;
  }
  row_fault fault;
  if (tenter__read_scaled(r, text, column_of(r, role), within, value, &fault))
    return true;
  tenter__reject(r, fault.kind, TENTER_SAY_ROW_COLUMN, what, fault.detail, END);
  return false;
}

/* ---- what a row holds besides --------------------------------------------------------------- */

static uint64_t mix(uint64_t state, uint64_t word) {
  uint64_t product = (state ^ word) * UINT64_C(0x9E3779B97F4A7C15);
  return product ^ product >> 32;
}

/* Sums, so that the order of columns does not matter. */
void tenter__hash_cell(reader *r, const column *of, tenter_text text) {
  uint64_t state = of->hash + UINT64_C(0x100000000);
  for (size_t i = 0; i < text.length; i++)
    state = mix(state, (unsigned char)text.start[i]);
  r->row_hash += mix(state, text.length);
}

uint32_t tenter__row_hash(reader *r, bool always) {
  const layout *l = &r->in->layout;
  for (size_t i = 0; i < l->count; i++)
    if (l->columns[i].role == ROLE_NONE) {
      tenter_text text = cell_trim(r->cells[i]);
      if (text.length > 0)
        tenter__hash_cell(r, &l->columns[i], text);
    }
  uint32_t hash = (uint32_t)(r->row_hash ^ r->row_hash >> 32);
  return hash == 0 && (always || r->row_hash != 0) ? 1 : hash;
}

/* ---- names ---------------------------------------------------------------------------------- */

static uint32_t keep_name(reader *r, tenter_name_kind kind, tenter_text text) {
  uint32_t id = tenter__lexicon_name(r->words, kind, text);
  r->failed = r->failed || id == TENTER_NO_NAME;
  return id;
}

static bool refuse_name(reader *r, column_role role, tenter_text text) {
  if (tenter__is_name(text))
    return false;
  tenter__remark(r, TENTER_SAY_KIND_NUL, TENTER_SAY_ROW_NAME_NUL_LEFT, column_of(r, role)->read_as,
                 END);
  return true;
}

uint32_t tenter__take_name(reader *r, column_role role, tenter_name_kind kind) {
  tenter_text text = cell_of(r, role);
  if (text.length == 0 || refuse_name(r, role, text))
    return TENTER_NO_NAME;
  return keep_name(r, kind, text);
}

uint32_t tenter__take_mesh(reader *r) {
  tenter_text text = cell_of(r, ROLE_MESH);
  if (text.length == 0 || refuse_name(r, ROLE_MESH, text))
    return TENTER_NO_NAME;
  int unit = column_of(r, ROLE_MESH)->count_unit;
  if (unit == TENTER_COUNT_NONE)
    unit = r->all->settings->count_unit;
  char full[32];
  tenter_text mesh = tenter__mesh_text(text, unit, full, sizeof full);
  return keep_name(r, TENTER_NAME_MESH, mesh);
}

/* ---- the register's columns ----------------------------------------------------------------- */

static void remark_cell(reader *r, column_role role, tenter_text text, const row_fault *fault) {
  tenter__hash_cell(r, column_of(r, role), text);
  tenter__remark(r, fault->kind, TENTER_SAY_ROW_COLUMN_LEFT, column_of(r, role)->read_as,
                 fault->detail, END);
}

static double optional_number(reader *r, column_role role, bounds within) {
  tenter_text text = cell_of(r, role);
  double value;
  row_fault fault;
  if (text.length == 0)
    return NAN;
  if (tenter__read_scaled(r, text, column_of(r, role), within, &value, &fault))
    return value + 0.0; /* no -0 */
  remark_cell(r, role, text, &fault);
  return NAN;
}

static tenter_when optional_time(reader *r, column_role role, bool future) {
  tenter_text text = cell_of(r, role);
  tenter_when when;
  row_fault fault;
  if (text.length > 0 && read_time(r, text, future, &when, &fault))
    return when;
  if (text.length > 0)
    remark_cell(r, role, text, &fault);
  return (tenter_when){.at = TENTER_NO_TIME};
}

static tenter_frame optional_frame(reader *r) {
  tenter_text text = cell_of(r, ROLE_FRAME);
  tenter_frame frame = text.length ? tenter__frame_read(text) : TENTER_FRAME_UNKNOWN;
  if (text.length > 0 && frame == TENTER_FRAME_UNKNOWN) {
    char shown[SHOWN_SIZE];
    row_fault fault;
    faulty(&fault, TENTER_SAY_KIND_FRAME, TENTER_SAY_ROW_FRAME, tenter__shown(text, shown), END);
    remark_cell(r, ROLE_FRAME, text, &fault);
  }
  return frame;
}

void tenter__read_attributes(reader *r, tenter_attributes *is) {
  const tenter_settings *s = r->all->settings;
  bounds tension = {s->least_tension, s->most_tension}, tolerance = {0, s->most_tension};
  bounds length = {1, 10000};
  *is = tenter_attributes_none();
  is->mesh = tenter__take_mesh(r);
  is->lot = tenter__take_name(r, ROLE_LOT, TENTER_NAME_LOT);
  is->station = tenter__take_name(r, ROLE_STATION, TENTER_NAME_STATION);
  is->place = tenter__take_name(r, ROLE_PLACE, TENTER_NAME_PLACE);
  is->set = tenter__take_name(r, ROLE_SET, TENTER_NAME_SET);
  is->customer = tenter__take_name(r, ROLE_CUSTOMER, TENTER_NAME_CUSTOMER);
  is->order = tenter__take_name(r, ROLE_ORDER, TENTER_NAME_ORDER);
  is->frame = optional_frame(r);
  is->stretched = optional_time(r, ROLE_STRETCHED, false);
  is->needed_on = optional_time(r, ROLE_NEEDED_ON, true);
  is->target = optional_number(r, ROLE_TARGET, tension);
  is->minus = optional_number(r, ROLE_MINUS, (bounds){-s->most_tension, s->most_tension});
  is->minus = fabs(is->minus); /* "-1.5" is how some write it */
  is->plus = optional_number(r, ROLE_PLUS, tolerance);
  is->floor = optional_number(r, ROLE_FLOOR, tension);
  is->coarse_floor = optional_number(r, ROLE_COARSE_FLOOR, tension);
  is->maximum = optional_number(r, ROLE_MAXIMUM, tension);
  is->width_cm = optional_number(r, ROLE_WIDTH, length);
  is->height_cm = optional_number(r, ROLE_HEIGHT, length);
}
