/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The columns of readings in canonical order: a counting sort by screen gives an order of row
 * numbers, each screen's stretch of it is sorted and rid of repetitions (a block of screens a
 * task), and each column is gathered into that order. */
#include <stdlib.h>
#include <string.h>

#include "order.h"
#include "settle.h"
#include "tenter/base/alloc.h"

enum { BLOCK_READINGS = 1 << 17, RENAME_BLOCK = 1 << 18, MOST_STRETCHES = 16 };

/* ---- new ids in the columns --------------------------------------------------------------------
 */

static void rename32(uint32_t *column, size_t from, size_t to, const renumbering *renumber) {
  if (!column || renumber->identical)
    return;
  for (size_t i = from; i < to; i++)
    column[i] = moved(renumber, column[i]);
}

static void rename16(uint16_t *column, size_t from, size_t to, const renumbering *renumber) {
  if (!column || renumber->identical)
    return;
  for (size_t i = from; i < to; i++)
    column[i] = moved16(renumber, column[i]);
}

static void rename_block(void *context, size_t task, size_t worker) {
  (void)worker;
  settling *s = context;
  tenter_readings *r = &s->tables->readings;
  size_t from = task * RENAME_BLOCK;
  size_t to = from + RENAME_BLOCK < r->count ? from + RENAME_BLOCK : r->count;
  rename32(r->screen, from, to, &s->names[TENTER_NAME_SCREEN]);
  rename32(r->attributes, from, to, &s->attributes);
  rename32(r->note, from, to, &s->names[TENTER_NAME_NOTE]);
  rename16(r->file, from, to, &s->sources);
  rename16(r->position, from, to, &s->positions);
  rename16(r->meter, from, to, &s->names[TENTER_NAME_METER]);
  rename16(r->operator, from, to, &s->names[TENTER_NAME_OPERATOR]);
}

/* ---- order within a screen ---------------------------------------------------------------------
 */

/* A reading to be sorted: most of its place in the order, and its row number. */
typedef struct item {
  uint64_t key; /* taken, position, direction, low bits of trial */
  uint32_t index;
} item;

static item item_of(const tenter_readings *r, uint32_t index) {
  uint64_t key = (uint64_t)r->taken[index] << 32 | (uint64_t)r->position[index] << 16 |
                 (uint64_t)r->direction[index] << 14 | (tenter_reading_trial(r, index) & 0x3fffU);
  return (item){key, index};
}

static uint32_t optional(const uint32_t *column, uint32_t index) {
  return column ? column[index] : 0;
}

/* All but the key, file and line. */
static int rest_order(const tenter_readings *r, uint32_t a, uint32_t b) {
  CHAIN(order_whole(tenter_reading_trial(r, a), tenter_reading_trial(r, b)));
  CHAIN(order_whole(r->meter[a], r->meter[b]));
  CHAIN(order_whole(tenter_reading_operator(r, a), tenter_reading_operator(r, b)));
  CHAIN(order_number(r->tension[a], r->tension[b]));
  CHAIN(order_whole(optional(r->attributes, a), optional(r->attributes, b)));
  CHAIN(order_whole(optional(r->note, a), optional(r->note, b)));
  CHAIN(order_whole(optional(r->row, a), optional(r->row, b)));
  return order_whole(r->flags[a], r->flags[b]);
}

static int file_line_order(const tenter_readings *r, uint32_t a, uint32_t b) {
  tenter_row x = tenter_reading_row(r, a), y = tenter_reading_row(r, b);
  CHAIN(order_whole(x.file, y.file));
  return order_whole(x.line, y.line);
}

static int item_order(const tenter_readings *r, const item *a, const item *b) {
  CHAIN((a->key > b->key) - (a->key < b->key));
  CHAIN(rest_order(r, a->index, b->index));
  return file_line_order(r, a->index, b->index);
}

static void insertion_sort(const tenter_readings *r, item *items, size_t count) {
  for (size_t i = 1; i < count; i++) {
    item moving = items[i];
    size_t at = i;
    for (; at > 0 && item_order(r, &items[at - 1], &moving) > 0; at--)
      items[at] = items[at - 1];
    items[at] = moving;
  }
}

static void merge(const tenter_readings *r, item *items, size_t middle, size_t count,
                  item *scratch) {
  if (item_order(r, &items[middle - 1], &items[middle]) <= 0)
    return; /* in order already, as rows in order of time are */
  memcpy(scratch, items, middle * sizeof *items);
  size_t left = 0, right = middle, out = 0;
  while (left < middle && right < count)
    items[out++] =
        item_order(r, &scratch[left], &items[right]) <= 0 ? scratch[left++] : items[right++];
  memcpy(items + out, scratch + left, (middle - left) * sizeof *items);
}

/* Merge sort from the bottom up, since readings mostly come nearly in order. scratch holds count
 * items. */
static void sort_items(const tenter_readings *r, item *items, size_t count, item *scratch) {
  enum { RUN = 24 };
  for (size_t from = 0; from < count; from += RUN)
    insertion_sort(r, items + from, count - from < RUN ? count - from : RUN);
  for (size_t width = RUN; width < count; width *= 2)
    for (size_t from = 0; from + width < count; from += 2 * width)
      merge(r, items + from, width, count - from < 2 * width ? count - from : 2 * width, scratch);
}

/* ---- repetitions -------------------------------------------------------------------------------
 */

static bool same_row(const tenter_readings *r, uint32_t a, uint32_t b) {
  tenter_row x = tenter_reading_row(r, a), y = tenter_reading_row(r, b);
  return x.file == y.file && x.line == y.line;
}

/* Rows taken out, by file; a wide row counts once however many readings it held. */
typedef struct dropped_rows {
  tenter_row *rows; /* those with a `row` hash, perhaps of several readings */
  size_t count;
  uint64_t *plain; /* by file: rows of one reading */
} dropped_rows;

static bool drop(const tenter_readings *r, uint32_t index, dropped_rows *dropped) {
  if (optional(r->row, index) == 0) {
    dropped->plain[tenter_reading_row(r, index).file]++;
    return true;
  }
  if ((dropped->count & (dropped->count - 1)) == 0) {
    tenter_row *grown =
        tenter_resize(dropped->rows, dropped->count ? 2 * dropped->count : 1, sizeof *grown);
    if (!grown)
      return false;
    dropped->rows = grown;
  }
  dropped->rows[dropped->count++] = tenter_reading_row(r, index);
  return true;
}

/* Takes out of sorted items those that repeat the first of their equals from another row. Returns
 * how many are left, or SIZE_MAX when memory runs out. */
static size_t drop_repeats(const tenter_readings *r, item *items, size_t count,
                           dropped_rows *dropped) {
  size_t kept = 0, first = 0; /* first of the equals at hand, among the kept */
  for (size_t i = 0; i < count; i++) {
    bool equal = kept && items[first].key == items[i].key &&
                 rest_order(r, items[first].index, items[i].index) == 0;
    if (equal && !same_row(r, items[first].index, items[i].index)) {
      if (!drop(r, items[i].index, dropped))
        return SIZE_MAX;
      continue;
    }
    if (!equal)
      first = kept;
    items[kept++] = items[i];
  }
  return kept;
}

/* ---- blocks of screens -------------------------------------------------------------------------
 */

typedef struct block {
  uint32_t from, to; /* screens */
  size_t kept;
  dropped_rows dropped;
  bool failed;
} block;

typedef struct ordering {
  settling *s;
  uint32_t *order; /* row numbers, by screen */
  size_t *starts;  /* of each screen's stretch of order; one more than screens */
  size_t *kept;    /* of each screen */
  block *blocks;
  size_t block_count, total;
} ordering;

static bool sort_screen(ordering *o, block *b, uint32_t screen, item *items, item *scratch) {
  const tenter_readings *r = &o->s->tables->readings;
  uint32_t *order = o->order + o->starts[screen];
  size_t count = o->starts[screen + 1] - o->starts[screen];
  for (size_t i = 0; i < count; i++)
    items[i] = item_of(r, order[i]);
  sort_items(r, items, count, scratch);
  size_t kept = o->s->keep_repeats ? count : drop_repeats(r, items, count, &b->dropped);
  if (kept == SIZE_MAX)
    return false;
  for (size_t i = 0; i < kept; i++)
    order[i] = items[i].index;
  o->kept[screen] = kept;
  return true;
}

static void sort_block(void *context, size_t task, size_t worker) {
  (void)worker;
  ordering *o = context;
  block *b = &o->blocks[task];
  size_t most = 0;
  for (uint32_t screen = b->from; screen < b->to; screen++) {
    size_t count = o->starts[screen + 1] - o->starts[screen];
    most = count > most ? count : most;
  }
  item *items = tenter_alloc(2 * most + 1, sizeof *items);
  b->dropped.plain = tenter_alloc(o->s->tables->source_count + 1, sizeof *b->dropped.plain);
  b->failed = !items || !b->dropped.plain;
  for (uint32_t screen = b->from; screen < b->to && !b->failed; screen++) {
    b->failed = !sort_screen(o, b, screen, items, items + most);
    b->kept += o->kept[screen];
  }
  tenter_free(items);
}

/* Counting by screen, a stretch of rows a task: next[stretch * screens + screen] counts, then tells
 * where the stretch's next row of the screen goes. */
typedef struct counting {
  ordering *o;
  size_t screens, stretch; /* rows */
  uint32_t *next;
} counting;

static size_t stretch_end(const counting *c, size_t task) {
  size_t end = (task + 1) * c->stretch, count = c->o->s->tables->readings.count;
  return end < count ? end : count;
}

static void count_rows(void *context, size_t task, size_t worker) {
  (void)worker;
  const counting *c = context;
  const uint32_t *screen = c->o->s->tables->readings.screen;
  uint32_t *next = c->next + task * c->screens;
  for (size_t i = task * c->stretch, end = stretch_end(c, task); i < end; i++)
    next[screen[i]]++;
}

static void place_rows(void *context, size_t task, size_t worker) {
  (void)worker;
  const counting *c = context;
  const uint32_t *screen = c->o->s->tables->readings.screen;
  uint32_t *next = c->next + task * c->screens, *order = c->o->order;
  for (size_t i = task * c->stretch, end = stretch_end(c, task); i < end; i++)
    order[next[screen[i]]++] = (uint32_t)i;
}

static void turn_into_places(const counting *c, size_t stretches) {
  uint32_t at = 0;
  for (size_t screen = 0; screen < c->screens; screen++) {
    c->o->starts[screen] = at;
    for (size_t i = 0; i < stretches; i++) {
      uint32_t count = c->next[i * c->screens + screen];
      c->next[i * c->screens + screen] = at;
      at += count;
    }
  }
  c->o->starts[c->screens] = at;
}

/* Rows of a screen by counting: starts, and the row numbers in order of the file. As many stretches
 * as need no more room than the rows themselves. */
static bool count_screens(ordering *o) {
  settling *s = o->s;
  const tenter_readings *r = &s->tables->readings;
  counting c = {.o = o, .screens = tenter_names_count(s->tables->names[TENTER_NAME_SCREEN])};
  size_t stretches = r->count / (4 * c.screens + BLOCK_READINGS);
  stretches = stretches < 1 ? 1 : stretches > MOST_STRETCHES ? MOST_STRETCHES : stretches;
  c.stretch = (r->count + stretches - 1) / stretches;
  c.next = tenter_alloc(stretches * c.screens, sizeof *c.next);
  o->starts = tenter_alloc(c.screens + 2, sizeof *o->starts);
  o->kept = tenter_alloc(c.screens + 1, sizeof *o->kept);
  o->order = tenter_alloc(r->count + 1, sizeof *o->order);
  bool done = c.next && o->starts && o->kept && o->order;
  if (done) {
    tenter_pool_run(s->pool, stretches, count_rows, &c);
    turn_into_places(&c, stretches);
    tenter_pool_run(s->pool, stretches, place_rows, &c);
  }
  tenter_free(c.next);
  return done;
}

/* Cuts the screens into blocks of about BLOCK_READINGS readings; depends on the data only. */
static bool cut_blocks(ordering *o) {
  size_t screens = tenter_names_count(o->s->tables->names[TENTER_NAME_SCREEN]);
  o->blocks = tenter_alloc(o->s->tables->readings.count / BLOCK_READINGS + 2, sizeof *o->blocks);
  if (!o->blocks)
    return false;
  size_t begun = 0;
  for (uint32_t screen = 0; screen < screens; screen++) {
    if (o->block_count == 0 || o->starts[screen] - begun >= BLOCK_READINGS) {
      begun = o->starts[screen];
      o->blocks[o->block_count++] = (block){.from = screen};
    }
    o->blocks[o->block_count - 1].to = screen + 1;
  }
  return true;
}

static void ordering_release(ordering *o) {
  for (size_t i = 0; i < o->block_count; i++) {
    tenter_free(o->blocks[i].dropped.rows);
    tenter_free(o->blocks[i].dropped.plain);
  }
  tenter_free(o->blocks);
  tenter_free(o->starts);
  tenter_free(o->kept);
  tenter_free(o->order);
}

static int row_order(const void *a, const void *b) {
  return order_row(*(const tenter_row *)a, *(const tenter_row *)b);
}

static void count_dropped(tenter_tables *tables, dropped_rows *dropped) {
  if (dropped->count)
    qsort(dropped->rows, dropped->count, sizeof *dropped->rows, row_order);
  for (size_t i = 0; i < dropped->count; i++)
    if (i == 0 || order_row(dropped->rows[i - 1], dropped->rows[i]) != 0)
      dropped->plain[dropped->rows[i].file]++;
  for (size_t file = 0; file < tables->source_count; file++) {
    tables->sources[file].accepted -= dropped->plain[file];
    tables->sources[file].repeated += dropped->plain[file];
  }
}

/* Closes the gaps that repetitions left in the order, and counts them. */
static bool close_gaps(ordering *o) {
  for (size_t i = 0; i < o->block_count; i++) {
    block *b = &o->blocks[i];
    if (b->failed)
      return false;
    count_dropped(o->s->tables, &b->dropped);
    for (uint32_t screen = b->from; screen < b->to; screen++) {
      if (o->total != o->starts[screen])
        memmove(o->order + o->total, o->order + o->starts[screen],
                o->kept[screen] * sizeof *o->order);
      o->total += o->kept[screen];
    }
  }
  return true;
}

/* ---- gathering ---------------------------------------------------------------------------------
 */

typedef struct column {
  void **bytes;
  size_t size;
} column;

enum { COLUMNS = 14, CHAINS = 4 };

/* Columns are gathered in chains: the room of a column that has been gathered is that of the next,
 * no wider one of its chain, since fresh pages cost more than the gathering. */
typedef struct gathering {
  const ordering *o;
  column columns[COLUMNS]; /* the widest first */
  size_t count;
  bool failed[CHAINS];
} gathering;

#define GATHER(type)                                                                               \
  static void gather_##type(type *to, const type *from, const uint32_t *order, size_t count) {     \
    for (size_t i = 0; i < count; i++)                                                             \
      to[i] = from[order[i]];                                                                      \
  }
GATHER(uint8_t)
GATHER(uint16_t)
GATHER(uint32_t)
GATHER(double)

static void gather_column(const ordering *o, const column *c, void *to) {
  switch (c->size) {
  case 1:
    gather_uint8_t(to, *c->bytes, o->order, o->total);
    break;
  case 2:
    gather_uint16_t(to, *c->bytes, o->order, o->total);
    break;
  case 4:
    gather_uint32_t(to, *c->bytes, o->order, o->total);
    break;
  default:
    gather_double(to, *c->bytes, o->order, o->total);
  }
}

/* Every CHAINS-th column from task on. */
static void gather_chain(void *context, size_t task, size_t worker) {
  (void)worker;
  gathering *g = context;
  size_t rows = g->o->s->tables->readings.count + 1; /* what every column has room for */
  void *spare = NULL;
  for (size_t i = task; i < g->count && !g->failed[task]; i += CHAINS) {
    column *c = &g->columns[i];
    void *room = spare ? tenter_resize(spare, rows, c->size) : tenter_alloc(rows, c->size);
    g->failed[task] = !room;
    if (!room)
      break;
    gather_column(g->o, c, room);
    spare = *c->bytes;
    *c->bytes = room;
  }
  tenter_free(spare);
}

static bool in_order(const ordering *o) {
  size_t count = o->s->tables->readings.count;
  for (size_t i = 0; i < o->total; i++)
    if (o->order[i] != i)
      return false;
  return o->total == count;
}

static bool gather_all(ordering *o) {
  tenter_readings *r = &o->s->tables->readings;
  gathering g = {.o = o};
#define COLUMN(name)                                                                               \
  if (r->name)                                                                                     \
  g.columns[g.count++] = (column){(void **)(void *)&r->name, sizeof *r->name}
  COLUMN(tension); /* the widest first */
  COLUMN(taken);
  COLUMN(screen);
  COLUMN(line);
  COLUMN(attributes);
  COLUMN(note);
  COLUMN(row);
  COLUMN(file);
  COLUMN(position);
  COLUMN(meter);
  COLUMN(operator);
  COLUMN(trial);
  COLUMN(direction);
  COLUMN(flags);
#undef COLUMN
  tenter_pool_run(o->s->pool, CHAINS, gather_chain, &g);
  for (size_t i = 0; i < CHAINS; i++)
    if (g.failed[i])
      return false;
  r->count = o->total;
  return true;
}

tenter_status tenter__settle_readings(settling *s, tenter_error *error) {
  tenter_readings *r = &s->tables->readings;
  if (r->count == 0)
    return TENTER_OK;
  if (r->count > UINT32_MAX)
    return tenter_fail(error, TENTER_FAILED,
                       "%zu readings: more than one run can hold (4294967295); split the files, "
                       "for example by year",
                       r->count);
  r->only_file = moved16(&s->sources, r->only_file);
  tenter_pool_run(s->pool, (r->count + RENAME_BLOCK - 1) / RENAME_BLOCK, rename_block, s);
  ordering o = {.s = s};
  bool done = count_screens(&o) && cut_blocks(&o);
  if (done) {
    tenter_pool_run(s->pool, o.block_count, sort_block, &o);
    done = close_gaps(&o) && (in_order(&o) || gather_all(&o));
  }
  ordering_release(&o);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
