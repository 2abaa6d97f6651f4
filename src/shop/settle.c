/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one canonical order of what was read.
 *
 * Outline: names, positions, sources and attributes are sorted and every id renumbered
 * (renumber_*); the small tables are sorted and rid of repetitions; then the readings: a counting
 * sort by screen gives an order of row numbers, each screen's stretch of it is sorted and rid of
 * repetitions (in parallel, a block of screens a task), and each column is gathered into that
 * order, one at a time, so that the scratch is one order and as many columns as there are threads.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "order.h"
#include "settle.h"
#include "tenter/shop/tables.h"

/* NOLINTNEXTLINE(readability-function-size): one line a field, macros counted */
int tenter__attributes_order(const tenter_attributes *a, const tenter_attributes *b) {
  CHAIN(order_whole(a->mesh, b->mesh));
  CHAIN(order_whole(a->lot, b->lot));
  CHAIN(order_whole(a->station, b->station));
  CHAIN(order_whole(a->place, b->place));
  CHAIN(order_whole(a->set, b->set));
  CHAIN(order_whole(a->customer, b->customer));
  CHAIN(order_whole(a->order, b->order));
  CHAIN(order_whole(a->frame, b->frame));
  CHAIN(order_when(a->stretched, b->stretched));
  CHAIN(order_when(a->needed_on, b->needed_on));
  CHAIN(order_number(a->target, b->target));
  CHAIN(order_number(a->minus, b->minus));
  CHAIN(order_number(a->plus, b->plus));
  CHAIN(order_number(a->floor, b->floor));
  CHAIN(order_number(a->coarse_floor, b->coarse_floor));
  CHAIN(order_number(a->maximum, b->maximum));
  CHAIN(order_number(a->width_cm, b->width_cm));
  return order_number(a->height_cm, b->height_cm);
}

/* ---- ids ------------------------------------------------------------------------------------ */

static bool renumbering_make(settling *s, renumbering *renumber, size_t count) {
  renumber->count = (uint32_t)count;
  renumber->to = tenter_arena_alloc(s->scratch, count + 1, sizeof *renumber->to);
  return renumber->to != NULL;
}

static void renumbering_close(renumbering *renumber) {
  renumber->identical = true;
  for (uint32_t id = 0; id < renumber->count; id++)
    renumber->identical = renumber->identical && renumber->to[id] == id;
}

static bool renumber_names(settling *s) {
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++) {
    tenter_names *names = s->tables->names[kind];
    if (!renumbering_make(s, &s->names[kind], tenter_names_count(names)) ||
        !tenter_names_sort(names, s->names[kind].to))
      return false;
    renumbering_close(&s->names[kind]);
  }
  return true;
}

/* Things with their old index, to be sorted. */
typedef struct indexed {
  const void *thing;
  uint32_t index;
} indexed;

typedef int indexed_order(const void *a, const void *b);

/* Sorts count things of size bytes each with order (over indexed), moves them into place and fills
 * renumber. Things that order calls equal become one where merge is set; returns how many are left,
 * or SIZE_MAX when memory runs out. */
static size_t renumber_things(settling *s, void *things, size_t count, size_t size,
                              indexed_order *order, bool merge, renumbering *renumber) {
  indexed *sorted = tenter_arena_alloc(s->scratch, count + 1, sizeof *sorted);
  char *copy = tenter_arena_alloc(s->scratch, count + 1, size);
  if (!sorted || !copy || !renumbering_make(s, renumber, count))
    return SIZE_MAX;
  if (count)
    memcpy(copy, things, count * size);
  for (size_t i = 0; i < count; i++)
    sorted[i] = (indexed){copy + i * size, (uint32_t)i};
  qsort(sorted, count, sizeof *sorted, order);
  size_t kept = 0;
  for (size_t i = 0; i < count; i++) {
    bool same = merge && i > 0 && order(&sorted[i - 1], &sorted[i]) == 0;
    if (!same)
      memcpy((char *)things + kept++ * size, sorted[i].thing, size);
    renumber->to[sorted[i].index] = (uint32_t)(kept - 1);
  }
  renumbering_close(renumber);
  return kept;
}

/* From the middle outwards does not read well; by rows from the top, as one reads. */
static int position_order(const void *a, const void *b) {
  const tenter_position *p = ((const indexed *)a)->thing, *q = ((const indexed *)b)->thing;
  CHAIN(order_number(-p->y, -q->y));
  CHAIN(order_number(p->x, q->x));
  CHAIN(order_number(-p->y_cm, -q->y_cm));
  CHAIN(order_number(p->x_cm, q->x_cm));
  return tenter_text_natural(tenter_text_of(p->label), tenter_text_of(q->label));
}

static int source_order(const void *a, const void *b) {
  const tenter_source *p = ((const indexed *)a)->thing, *q = ((const indexed *)b)->thing;
  CHAIN(tenter_text_compare(tenter_text_of(p->file), tenter_text_of(q->file)));
  return strcmp(p->sha256, q->sha256);
}

static int attributes_order(const void *a, const void *b) {
  return tenter__attributes_order(((const indexed *)a)->thing, ((const indexed *)b)->thing);
}

static void rename_attributes(const settling *s, tenter_attributes *is) {
  is->mesh = moved(&s->names[TENTER_NAME_MESH], is->mesh);
  is->lot = moved(&s->names[TENTER_NAME_LOT], is->lot);
  is->station = moved(&s->names[TENTER_NAME_STATION], is->station);
  is->place = moved(&s->names[TENTER_NAME_PLACE], is->place);
  is->set = moved(&s->names[TENTER_NAME_SET], is->set);
  is->customer = moved(&s->names[TENTER_NAME_CUSTOMER], is->customer);
  is->order = moved(&s->names[TENTER_NAME_ORDER], is->order);
}

/* Entry 0 stays "nothing given"; the others are sorted, equal ones become one. */
static bool renumber_attributes(settling *s) {
  tenter_tables *tables = s->tables;
  size_t count = tables->attribute_count;
  for (size_t i = 1; i < count; i++)
    rename_attributes(s, &tables->attributes[i]);
  renumbering others;
  size_t kept = renumber_things(s, tables->attributes + 1, count - 1, sizeof *tables->attributes,
                                attributes_order, true, &others);
  if (kept == SIZE_MAX || !renumbering_make(s, &s->attributes, count))
    return false;
  s->attributes.to[0] = 0;
  for (size_t i = 1; i < count; i++)
    s->attributes.to[i] = others.to[i - 1] + 1;
  renumbering_close(&s->attributes);
  tables->attribute_count = kept + 1;
  return true;
}

static bool renumber_all(settling *s) {
  tenter_tables *tables = s->tables;
  return renumber_names(s) &&
         renumber_things(s, tables->positions, tables->position_count, sizeof *tables->positions,
                         position_order, false, &s->positions) != SIZE_MAX &&
         renumber_things(s, tables->sources, tables->source_count, sizeof *tables->sources,
                         source_order, false, &s->sources) != SIZE_MAX &&
         renumber_attributes(s);
}

/* ---- the small tables -------------------------------------------------------------------------
 */

/* How the rows of one small table are told apart. */
typedef struct row_table {
  void *rows;
  size_t count, size, row_offset; /* of the tenter_row in a row */
  int (*content)(const void *a, const void *b);
  int (*order)(const void *a, const void *b); /* content, then row */
} row_table;

static tenter_row *row_of(const row_table *table, size_t index) {
  return (tenter_row *)(void *)((char *)table->rows + index * table->size + table->row_offset);
}

/* Sorts a table; a row that says what an earlier one said goes off `accepted`, onto `repeated`.
 * Returns how many rows are left. */
static size_t settle_table(settling *s, const row_table *table) {
  char *rows = table->rows;
  for (size_t i = 0; i < table->count; i++)
    row_of(table, i)->file = moved16(&s->sources, row_of(table, i)->file);
  if (table->count)
    qsort(rows, table->count, table->size, table->order);
  size_t kept = 0;
  for (size_t i = 0; i < table->count; i++) {
    char *row = rows + i * table->size;
    if (!s->keep_repeats && kept && table->content(rows + (kept - 1) * table->size, row) == 0) {
      tenter_source *source = &s->tables->sources[row_of(table, i)->file];
      source->accepted--;
      source->repeated++;
    } else {
      memmove(rows + kept++ * table->size, row, table->size);
    }
  }
  return kept;
}

static int register_content(const void *a, const void *b) {
  const tenter_register_row *p = a, *q = b;
  CHAIN(order_whole(p->screen, q->screen));
  return tenter__attributes_order(&p->attributes, &q->attributes);
}

static int register_order(const void *a, const void *b) {
  CHAIN(register_content(a, b));
  return order_row(((const tenter_register_row *)a)->row, ((const tenter_register_row *)b)->row);
}

static void settle_registers(settling *s) {
  tenter_tables *tables = s->tables;
  for (size_t i = 0; i < tables->register_count; i++) {
    tenter_register_row *row = &tables->registers[i];
    row->screen = moved(&s->names[TENTER_NAME_SCREEN], row->screen);
    rename_attributes(s, &row->attributes);
  }
  row_table table = {tables->registers,
                     tables->register_count,
                     sizeof(tenter_register_row),
                     offsetof(tenter_register_row, row),
                     register_content,
                     register_order};
  tables->register_count = settle_table(s, &table);
}

static int event_content(const void *a, const void *b) {
  const tenter_event *p = a, *q = b;
  CHAIN(order_whole(p->screen, q->screen));
  CHAIN(order_when(p->at, q->at));
  CHAIN(order_whole(p->kind, q->kind));
  CHAIN(order_whole(p->word, q->word));
  CHAIN(order_number(p->count, q->count));
  CHAIN(order_whole(p->lot, q->lot));
  CHAIN(order_whole(p->mesh, q->mesh));
  CHAIN(order_whole(p->station, q->station));
  CHAIN(order_whole(p->operator, q->operator));
  return order_number(p->target, q->target);
}

static int event_order(const void *a, const void *b) {
  CHAIN(event_content(a, b));
  return order_row(((const tenter_event *)a)->row, ((const tenter_event *)b)->row);
}

static void settle_events(settling *s) {
  tenter_tables *tables = s->tables;
  for (size_t i = 0; i < tables->event_count; i++) {
    tenter_event *event = &tables->events[i];
    event->screen = moved(&s->names[TENTER_NAME_SCREEN], event->screen);
    event->lot = moved(&s->names[TENTER_NAME_LOT], event->lot);
    event->mesh = moved(&s->names[TENTER_NAME_MESH], event->mesh);
    event->station = moved(&s->names[TENTER_NAME_STATION], event->station);
    event->operator= moved(&s->names[TENTER_NAME_OPERATOR], event->operator);
    event->word = moved(&s->names[TENTER_NAME_NOTE], event->word);
  }
  row_table table = {tables->events,       tables->event_count,
                     sizeof(tenter_event), offsetof(tenter_event, row),
                     event_content,        event_order};
  tables->event_count = settle_table(s, &table);
}

static int check_content(const void *a, const void *b) {
  const tenter_meter_check *p = a, *q = b;
  CHAIN(order_whole(p->meter, q->meter));
  CHAIN(order_when(p->at, q->at));
  CHAIN(order_number(p->nominal, q->nominal));
  CHAIN(order_number(p->indicated, q->indicated));
  return order_whole(p->operator, q->operator);
}

static int check_order(const void *a, const void *b) {
  CHAIN(check_content(a, b));
  return order_row(((const tenter_meter_check *)a)->row, ((const tenter_meter_check *)b)->row);
}

static void settle_checks(settling *s) {
  tenter_tables *tables = s->tables;
  for (size_t i = 0; i < tables->check_count; i++) {
    tenter_meter_check *check = &tables->checks[i];
    check->meter = moved(&s->names[TENTER_NAME_METER], check->meter);
    check->operator= moved(&s->names[TENTER_NAME_OPERATOR], check->operator);
  }
  row_table table = {tables->checks,
                     tables->check_count,
                     sizeof(tenter_meter_check),
                     offsetof(tenter_meter_check, row),
                     check_content,
                     check_order};
  tables->check_count = settle_table(s, &table);
}

static int problem_order(const void *a, const void *b) {
  const tenter_problem *p = a, *q = b;
  CHAIN(order_row(p->row, q->row));
  CHAIN(order_whole(!p->rejected, !q->rejected));
  CHAIN(strcmp(p->reason, q->reason));
  return strcmp(p->text, q->text);
}

/* Columns of a file stay in the order of its header: a stable counting sort by file. */
static bool settle_columns(settling *s) {
  tenter_tables *tables = s->tables;
  size_t count = tables->column_count;
  tenter_column *old = tenter_arena_alloc(s->scratch, count + 1, sizeof *old);
  size_t *next = tenter_arena_alloc(s->scratch, tables->source_count + 1, sizeof *next);
  if (!old || !next)
    return false;
  for (size_t i = 0; i < count; i++) {
    old[i] = tables->columns[i];
    old[i].file = moved16(&s->sources, old[i].file);
    next[old[i].file + 1]++;
  }
  for (size_t file = 1; file <= tables->source_count; file++)
    next[file] += next[file - 1];
  for (size_t i = 0; i < count; i++)
    tables->columns[next[old[i].file]++] = old[i];
  return true;
}

static bool settle_small(settling *s) {
  tenter_tables *tables = s->tables;
  settle_registers(s);
  settle_events(s);
  settle_checks(s);
  for (size_t i = 0; i < tables->problem_count; i++)
    tables->problems[i].row.file = moved16(&s->sources, tables->problems[i].row.file);
  if (tables->problem_count)
    qsort(tables->problems, tables->problem_count, sizeof *tables->problems, problem_order);
  return settle_columns(s);
}

/* ---- places in cm ------------------------------------------------------------------------------
 */

/* x,y positions become centre, corner or side by their share of the widest x and y of the shop:
 * within a quarter of both is the centre, beyond a half of both a corner. */
static void settle_places(tenter_tables *tables) {
  double wide = 0, high = 0;
  for (size_t i = 0; i < tables->position_count; i++) {
    wide = fmax(wide, fabs(tables->positions[i].x_cm)); /* fmax passes NaN over */
    high = fmax(high, fabs(tables->positions[i].y_cm));
  }
  for (size_t i = 0; i < tables->position_count; i++) {
    tenter_position *p = &tables->positions[i];
    if (isnan(p->x_cm) || isnan(p->y_cm))
      continue;
    p->x = wide > 0 ? p->x_cm / wide : 0;
    p->y = high > 0 ? p->y_cm / high : 0;
    bool middle = fabs(p->x) <= 0.25 && fabs(p->y) <= 0.25;
    bool corner = fabs(p->x) >= 0.5 && fabs(p->y) >= 0.5;
    p->kind = middle ? TENTER_PLACE_CENTRE : corner ? TENTER_PLACE_CORNER : TENTER_PLACE_SIDE;
  }
}

tenter_status tenter_tables_settle(tenter_tables *tables, const tenter_settings *settings,
                                   tenter_pool *pool, tenter_error *error) {
  settling s = {.tables = tables,
                .pool = pool,
                .scratch = tenter_arena_new(),
                .keep_repeats = settings->repeats == TENTER_REPEATS_KEEP};
  tenter_status status = TENTER_OK;
  settle_places(tables);
  if (!s.scratch || !renumber_all(&s) || !settle_small(&s))
    status = tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = tenter__settle_readings(&s, error);
  tables->settled = status == TENTER_OK;
  tenter_arena_free(s.scratch);
  return status;
}
