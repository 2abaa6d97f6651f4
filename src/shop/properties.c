/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What holds for a mounting, by rank: the event that started it, columns in its own readings' rows,
 * the mounting before (mesh and lot of a re-tension), the register, [mesh ...], [spec].
 *
 * Each rank is gathered whole, so that values that contradict each other at one rank are seen as
 * such: they are taken as unknown, and lower ranks are not asked. */
#include "model.h"

#include <math.h>
#include <string.h>

#include "order.h"

/* X(kind, field, passing, SHOP_ entry of the catalogue): passing fields may change during a
 * mounting, the latest row holds. */
#define FIELDS(X)                                                                                  \
  X(MESH, mesh, false, MESH)                                                                       \
  X(LOT, lot, false, LOT)                                                                          \
  X(STATION, station, false, STATION)                                                              \
  X(PLACE, place, true, PLACE)                                                                     \
  X(SET, set, true, SET)                                                                           \
  X(CUSTOMER, customer, true, CUSTOMER)                                                            \
  X(ORDER, order, true, NUMBER_OF_ORDER)                                                           \
  X(FRAME, frame, false, FRAME)                                                                    \
  X(WHEN, needed_on, true, NEEDED_ON)                                                              \
  X(NUMBER, target, false, TARGET)                                                                 \
  X(NUMBER, minus, false, MINUS)                                                                   \
  X(NUMBER, plus, false, PLUS)                                                                     \
  X(NUMBER, floor, false, FLOOR)                                                                   \
  X(NUMBER, coarse_floor, false, COARSE_FLOOR)                                                     \
  X(NUMBER, maximum, false, MAXIMUM)                                                               \
  X(NUMBER, width_cm, false, WIDTH)                                                                \
  X(NUMBER, height_cm, false, HEIGHT)

#define INDEX(kind, field, ...) AT_##field,
enum { FIELDS(INDEX) FIELD_COUNT };
#define ENTRY(kind, field, passing, entry) TENTER_SAY_SHOP_##entry,
static const tenter_say field_entries[] = {FIELDS(ENTRY)};

/* One rank, or all ranks so far. */
typedef struct rank {
  tenter_attributes is;
  bool given[FIELD_COUNT], clash[FIELD_COUNT];
  tenter_row from[FIELD_COUNT], other[FIELD_COUNT]; /* the rows that say so; that say otherwise */
  tenter_attributes otherwise;
} rank;

static bool has_id(uint32_t id) {
  return id != TENTER_NO_NAME;
}

static bool has_number(double number) {
  return !isnan(number);
}

#define HAS_MESH(v) has_id(v)
#define HAS_LOT(v) has_id(v)
#define HAS_STATION(v) has_id(v)
#define HAS_PLACE(v) has_id(v)
#define HAS_SET(v) has_id(v)
#define HAS_CUSTOMER(v) has_id(v)
#define HAS_ORDER(v) has_id(v)
#define HAS_FRAME(v) ((v) != TENTER_FRAME_UNKNOWN)
#define HAS_WHEN(v) ((v).at != TENTER_NO_TIME)
#define HAS_NUMBER(v) has_number(v)
#define SAME_WHEN(a, b) (order_when(a, b) == 0)
#define SAME_PLAIN(a, b) ((a) == (b))
#define SAME_MESH SAME_PLAIN
#define SAME_LOT SAME_PLAIN
#define SAME_STATION SAME_PLAIN
#define SAME_PLACE SAME_PLAIN
#define SAME_SET SAME_PLAIN
#define SAME_CUSTOMER SAME_PLAIN
#define SAME_ORDER SAME_PLAIN
#define SAME_FRAME SAME_PLAIN
#define SAME_NUMBER SAME_PLAIN

/* Adds what one row says to its rank. in_time: rows come in order of time, so that passing fields
 * take the latest. */
/* NOLINTNEXTLINE(readability-function-size): one line a field, macros counted */
static void rank_add(rank *r, const tenter_attributes *says, tenter_row row, bool in_time) {
#define ADD(kind, field, passing, words)                                                           \
  if (HAS_##kind(says->field)) {                                                                   \
    if (!r->given[AT_##field] || (passing && in_time)) {                                           \
      r->given[AT_##field] = true;                                                                 \
      r->is.field = says->field;                                                                   \
      r->from[AT_##field] = row;                                                                   \
    } else if (!r->clash[AT_##field] && !SAME_##kind(r->is.field, says->field)) {                  \
      r->clash[AT_##field] = true;                                                                 \
      r->otherwise.field = says->field;                                                            \
      r->other[AT_##field] = row;                                                                  \
    }                                                                                              \
  }
  FIELDS(ADD)
#undef ADD
}

static const char *frame_word(tenter_frame frame) {
  return frame == TENTER_FRAME_GLUED ? "glued" : "retensionable";
}

/* The value of a field as a person wrote it. */
static tenter_value said(const draft *d, const tenter_attributes *is, int field) {
  tenter_names *const *names = d->tables->names;
#define SAY_NAME(kind, value)                                                                      \
  return tenter_value_text(tenter_names_get(names[TENTER_NAME_##kind], value))
#define SAY_MESH(v) SAY_NAME(MESH, v)
#define SAY_LOT(v) SAY_NAME(LOT, v)
#define SAY_STATION(v) SAY_NAME(STATION, v)
#define SAY_PLACE(v) SAY_NAME(PLACE, v)
#define SAY_SET(v) SAY_NAME(SET, v)
#define SAY_CUSTOMER(v) SAY_NAME(CUSTOMER, v)
#define SAY_ORDER(v) SAY_NAME(ORDER, v)
#define SAY_FRAME(v) return tenter_value_text(frame_word(v))
#define SAY_WHEN(v) return tenter_value_when(v)
#define SAY_NUMBER(v) return tenter_value_digits(v, 6)
#define SAY(kind, name, ...)                                                                       \
  case AT_##name:                                                                                  \
    SAY_##kind(is->name);
  switch (field) { FIELDS(SAY) }
#undef SAY
  return tenter_value_text("");
}

static tenter_value field_words(int field) {
  return tenter_value_text(tenter_say_text(field_entries[field]));
}

static void say_clash(draft *d, uint32_t screen, const rank *r, int field) {
  const tenter_value values[] = {field_words(field), said(d, &r->is, field),
                                 said(d, &r->otherwise, field)};
  tenter__find(d, screen, r->from[field], r->other[field], TENTER_SAY_SHOP_CLASH, values, 3);
}

/* Lets a rank speak where the ranks above it have not. */
/* NOLINTNEXTLINE(readability-function-size): one line a field, macros counted */
static void rank_apply(draft *d, uint32_t screen, rank *all, const rank *next) {
#define APPLY(kind, field, ...)                                                                    \
  if (!all->given[AT_##field] && next->given[AT_##field]) {                                        \
    all->given[AT_##field] = true;                                                                 \
    all->from[AT_##field] = next->from[AT_##field];                                                \
    if (next->clash[AT_##field])                                                                   \
      say_clash(d, screen, next, AT_##field);                                                      \
    else                                                                                           \
      all->is.field = next->is.field;                                                              \
  }
  FIELDS(APPLY)
#undef APPLY
}

static rank rank_new(void) {
  return (rank){.is = tenter_attributes_none(), .otherwise = tenter_attributes_none()};
}

/* ---- the ranks ---------------------------------------------------------------------------------
 */

/* The events that are stages of the stretch that began the mounting. */
static rank of_events(const draft *d, const screen_rows *rows, const tenter_mounting *m) {
  rank r = rank_new();
  if (m->began == TENTER_EVENT_NOTE)
    return r;
  tenter_time last =
      m->stretched.date_only ? tenter_day_start(m->stretched.at) + TENTER_DAY : m->stretched.at + 1;
  for (uint32_t i = rows->event; i < rows->event_end; i++) {
    const tenter_event *event = &d->tables->events[i];
    bool stretch = event->kind <= TENTER_EVENT_REMESHED;
    if (!stretch || event->at.at < m->begins || event->at.at >= last)
      continue;
    tenter_attributes says = tenter_attributes_none();
    says.lot = event->lot;
    says.mesh = event->mesh;
    says.station = event->station;
    says.target = event->target;
    rank_add(&r, &says, event->row, false);
  }
  return r;
}

static rank of_readings(const draft *d, const tenter_mounting *m) {
  rank r = rank_new();
  const tenter_readings *columns = &d->tables->readings;
  if (!columns->attributes || m->session_count == 0)
    return r;
  const tenter_session *last = &d->sessions[m->first_session + m->session_count - 1];
  uint32_t before = 0;
  for (uint32_t i = d->sessions[m->first_session].first; i < last->first + last->count; i++) {
    uint32_t id = columns->attributes[i];
    if (id != before && id != 0)
      rank_add(&r, &d->tables->attributes[id], tenter_reading_row(columns, i), true);
    before = id;
  }
  return r;
}

/* A re-tension keeps mesh and lot of the mounting before it. */
static rank of_before(const tenter_mounting *m, const tenter_mounting *before) {
  rank r = rank_new();
  if (!before || m->began != TENTER_EVENT_RETENSIONED)
    return r;
  tenter_attributes says = tenter_attributes_none();
  says.mesh = before->is.mesh;
  says.lot = before->is.lot;
  rank_add(&r, &says, before->source, false);
  return r;
}

static rank of_register(const draft *d, const screen_rows *rows) {
  rank r = rank_new();
  for (uint32_t i = rows->reg; i < rows->reg_end; i++)
    rank_add(&r, &d->tables->registers[i].attributes, d->tables->registers[i].row, false);
  return r;
}

static rank of_spec(const tenter_spec *spec) {
  rank r = rank_new();
  tenter_attributes says = tenter_attributes_none();
  says.target = spec->target;
  says.minus = spec->minus;
  says.plus = spec->plus;
  says.floor = spec->floor;
  says.coarse_floor = spec->coarse_floor;
  says.maximum = spec->maximum;
  rank_add(&r, &says, (tenter_row){0}, false);
  return r;
}

/* ---- together ----------------------------------------------------------------------------------
 */

static void take_evenness(tenter_mounting *m, const tenter_spec *spec) {
  if (has_number(spec->evenness_point))
    m->evenness_point = spec->evenness_point;
  if (has_number(spec->evenness_spread))
    m->evenness_spread = spec->evenness_spread;
  if (has_number(spec->warp_weft))
    m->warp_weft = spec->warp_weft;
}

/* [mesh ...] of its mesh, then [spec]. */
static void apply_config(draft *d, tenter_mounting *m, rank *all) {
  const tenter_config *config = d->config;
  const char *mesh = tenter_names_get(d->tables->names[TENTER_NAME_MESH], all->is.mesh);
  const tenter_spec builtin = tenter_spec_default();
  take_evenness(m, &builtin);
  const tenter_spec *own = NULL;
  for (size_t i = 1; i < config->spec_count && *mesh; i++)
    if (strcmp(config->specs[i].mesh, mesh) == 0)
      own = &config->specs[i];
  if (config->spec_count)
    take_evenness(m, &config->specs[0]);
  if (own) {
    take_evenness(m, own);
    rank r = of_spec(own);
    rank_apply(d, m->screen, all, &r);
  }
  if (config->spec_count) {
    rank r = of_spec(&config->specs[0]);
    rank_apply(d, m->screen, all, &r);
  }
}

/* Says where the lower of two limits is over the higher: both are taken as they stand. */
static void check_order(draft *d, uint32_t screen, const rank *all, int low, double lower, int high,
                        double higher) {
  if (!(lower > higher))
    return;
  tenter_row a = all->from[low], b = all->from[high];
  if (order_row(a, b) == 0)
    b = (tenter_row){0}; /* one row says both */
  const tenter_value values[] = {field_words(low), tenter_value_digits(lower, 6), field_words(high),
                                 tenter_value_digits(higher, 6)};
  tenter__find(d, screen, a, b, TENTER_SAY_SHOP_ORDER, values, 4);
}

static void check_limits(draft *d, const tenter_mounting *m, const rank *all) {
  const tenter_attributes *is = &m->is;
  check_order(d, m->screen, all, AT_floor, is->floor, AT_target, is->target);
  check_order(d, m->screen, all, AT_coarse_floor, is->coarse_floor, AT_floor, is->floor);
  check_order(d, m->screen, all, AT_target, is->target, AT_maximum, is->maximum);
  if (!has_number(is->target))
    check_order(d, m->screen, all, AT_floor, is->floor, AT_maximum, is->maximum);
}

static void resolve(draft *d, const screen_rows *rows, tenter_mounting *m,
                    const tenter_mounting *before, bool current) {
  rank all = rank_new(), next = of_events(d, rows, m);
  rank_apply(d, m->screen, &all, &next);
  next = of_readings(d, m);
  rank_apply(d, m->screen, &all, &next);
  next = of_before(m, before);
  rank_apply(d, m->screen, &all, &next);
  if (current) {
    next = of_register(d, rows);
    rank_apply(d, m->screen, &all, &next);
  }
  apply_config(d, m, &all);
  m->is = all.is;
  m->is.stretched = m->stretched;
  m->floor_from_target = !all.given[AT_floor] && has_number(m->is.target);
  if (m->floor_from_target)
    m->is.floor = d->config->settings.floor_share * m->is.target;
  if (current)
    check_limits(d, m, &all);
  if (before && m->began == TENTER_EVENT_RETENSIONED)
    m->cycle = before->cycle + 1;
}

void tenter__properties(draft *d, const screen_rows *rows, size_t first) {
  for (size_t i = first; i < d->mounting_count; i++)
    resolve(d, rows, &d->mountings[i], i > first ? &d->mountings[i - 1] : NULL,
            i + 1 == d->mounting_count);
}
