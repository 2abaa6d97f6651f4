/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings out of their chunks into the columns of the tables.
 *
 * Rows mostly come by time, and are wanted by screen: the columns are filled screen by screen, so
 * that settling mostly finds them in order and need not move them again. Rows of one screen that
 * follow each other are a run; runs are put in order by counting, and a block of them is moved by
 * a task. */
#include "load.h"
#include "tenter/base/alloc.h"

enum {
  MOST_STRETCHES = 16,
  BLOCK_RUNS = 4096,
  LEAST_RUN = 3 /* rows, on average, to be worth it */
};

typedef struct move {
  const input *in;
  chunk *from;
  size_t to; /* first row in the columns, where rows keep their order */
  uint32_t line_base;
  uint16_t file;
} move;

typedef struct run {
  uint32_t move, first, count; /* rows of a chunk */
} run;

typedef struct moving {
  tenter_readings *readings;
  move *moves;
  size_t count, screens;
  size_t stretches, first[MOST_STRETCHES + 1]; /* first move of each stretch */
  uint32_t *next; /* by stretch, screen: runs, then where the next goes */
  run *runs;      /* in order of screens; NULL: rows keep their order */
  size_t run_count;
  size_t *block_row; /* by block of runs: its first row in the columns */
} moving;

static const uint32_t *screens_of(const move *m) {
  return m->in->lexicons[m->from->worker]->to_names[TENTER_NAME_SCREEN];
}

static void move_more(tenter_readings *r, const move *m, size_t i, const setup *how, size_t to) {
  const lexicon *words = m->in->lexicons[m->from->worker];
  staged_more more = {.note = TENTER_NO_NAME};
  if (m->from->more)
    more = m->from->more[i];
  if (r->attributes)
    r->attributes[to] = more.attributes ? words->to_attributes[more.attributes] : 0;
  if (r->note)
    r->note[to] =
        more.note == TENTER_NO_NAME ? more.note : words->to_names[TENTER_NAME_NOTE][more.note];
  if (r->row)
    r->row[to] = more.row;
  if (r->operator)
    r->operator[to] = how->operator;
  if (r->trial)
    r->trial[to] = how->trial;
  if (r->file)
    r->file[to] = m->file;
}

/* Rows [first, first + count) of a chunk to the columns from `to` on. */
static void move_rows(tenter_readings *r, const move *m, size_t first, size_t count, size_t to) {
  const lexicon *words = m->in->lexicons[m->from->worker];
  const staged *rows = m->from->items;
  const uint32_t *screens = screens_of(m);
  bool with_more = r->attributes || r->note || r->row || r->operator|| r->trial || r->file;
  for (size_t i = first; i < first + count; i++, to++) {
    const setup *how = &words->to_setups[rows[i].setup >> 8];
    r->tension[to] = rows[i].tension;
    r->taken[to] = rows[i].taken;
    r->screen[to] = screens[rows[i].screen];
    r->line[to] = m->line_base + rows[i].line;
    r->position[to] = how->position;
    r->meter[to] = how->meter;
    r->direction[to] = (uint8_t)how->direction;
    r->flags[to] = (uint8_t)rows[i].setup;
    if (with_more)
      move_more(r, m, i, how, to);
  }
}

static void move_chunk(void *context, size_t number, size_t thread) {
  (void)thread;
  const moving *all = context;
  const move *m = &all->moves[number];
  move_rows(all->readings, m, 0, m->from->count, m->to);
  tenter__chunk_drop_items(m->from);
}

static void drop_chunk(void *context, size_t number, size_t thread) {
  (void)thread;
  tenter__chunk_drop_items(((const moving *)context)->moves[number].from);
}

static void move_block(void *context, size_t number, size_t thread) {
  (void)thread;
  const moving *all = context;
  size_t to = all->block_row[number], end = (number + 1) * BLOCK_RUNS;
  for (size_t i = number * BLOCK_RUNS; i < end && i < all->run_count; i++) {
    const run *each = &all->runs[i];
    move_rows(all->readings, &all->moves[each->move], each->first, each->count, to);
    to += each->count;
  }
}

/* ---- runs ---- */

static size_t run_end(const staged *rows, size_t first, size_t count) {
  size_t end = first + 1;
  while (end < count && rows[end].screen == rows[first].screen)
    end++;
  return end;
}

static void count_stretch(void *context, size_t number, size_t thread) {
  (void)thread;
  const moving *all = context;
  uint32_t *next = all->next + number * all->screens;
  for (size_t k = all->first[number]; k < all->first[number + 1]; k++) {
    const move *m = &all->moves[k];
    const staged *rows = m->from->items;
    for (size_t i = 0; i < m->from->count; i = run_end(rows, i, m->from->count))
      next[screens_of(m)[rows[i].screen]]++;
  }
}

static void place_stretch(void *context, size_t number, size_t thread) {
  (void)thread;
  const moving *all = context;
  uint32_t *next = all->next + number * all->screens;
  for (size_t k = all->first[number]; k < all->first[number + 1]; k++) {
    const move *m = &all->moves[k];
    const staged *rows = m->from->items;
    for (size_t i = 0, end; i < m->from->count; i = end) {
      end = run_end(rows, i, m->from->count);
      all->runs[next[screens_of(m)[rows[i].screen]]++] =
          (run){(uint32_t)k, (uint32_t)i, (uint32_t)(end - i)};
    }
  }
}

static void turn_into_places(moving *m) {
  uint32_t at = 0;
  for (size_t screen = 0; screen < m->screens; screen++)
    for (size_t i = 0; i < m->stretches; i++) {
      uint32_t count = m->next[i * m->screens + screen];
      m->next[i * m->screens + screen] = at;
      at += count;
    }
  m->run_count = at;
}

/* Cuts the chunks into stretches of about as many rows, no more than the counts are worth. */
static void cut_stretches(moving *m, size_t readings) {
  size_t want = readings / (4 * m->screens + 1);
  want = want > MOST_STRETCHES ? MOST_STRETCHES : want;
  m->stretches = 0;
  for (size_t k = 0; k < m->count && want > 0; k++)
    if (m->moves[k].to * want >= m->stretches * readings)
      m->first[m->stretches++] = k;
  m->first[m->stretches] = m->count;
}

/* Puts the runs in order; runs stays NULL where there are too many of them, or no memory. */
static void order_runs(moving *m, size_t readings, tenter_pool *pool) {
  if (readings > UINT32_MAX)
    return;
  cut_stretches(m, readings);
  m->next = m->stretches > 0 ? tenter_alloc(m->stretches * m->screens, sizeof *m->next) : NULL;
  if (!m->next)
    return;
  tenter_pool_run(pool, m->stretches, count_stretch, m);
  turn_into_places(m);
  if (m->run_count > readings / LEAST_RUN)
    return;
  m->block_row = tenter_alloc(m->run_count / BLOCK_RUNS + 1, sizeof *m->block_row);
  m->runs = m->block_row ? tenter_alloc(m->run_count, sizeof *m->runs) : NULL;
  if (!m->runs)
    return;
  tenter_pool_run(pool, m->stretches, place_stretch, m);
  for (size_t i = 0, row = 0; i < m->run_count; i++) {
    if (i % BLOCK_RUNS == 0)
      m->block_row[i / BLOCK_RUNS] = row;
    row += m->runs[i].count;
  }
}

/* ---- all of them ---- */

static size_t plan_moves(const intake *all, const uint32_t *bases, moving *m) {
  size_t readings = 0;
  for (size_t i = 0; i < all->input_count; i++) {
    const input *in = &all->inputs[i];
    if (in->layout.table == TENTER_TABLE_READINGS)
      for (size_t k = 0; k < in->chunk_count; k++) {
        if (in->chunks[k].count > 0)
          m->moves[m->count++] = (move){in, &in->chunks[k], readings, bases[k], (uint16_t)i};
        readings += in->chunks[k].count;
      }
    bases += in->chunk_count;
  }
  return readings;
}

static tenter_status reserve_columns(const intake *all, size_t readings, tenter_error *error) {
  tenter_readings *to = &all->tables->readings;
  unsigned optional = 0, files = 0;
  uint16_t only = 0;
  for (size_t i = 0; i < all->input_count; i++) {
    const input *in = &all->inputs[i];
    if (in->layout.table != TENTER_TABLE_READINGS)
      continue;
    optional |= (in->has_attributes ? TENTER_READINGS_ATTRIBUTES : 0) |
                (in->has_note ? TENTER_READINGS_NOTE : 0) |
                (in->has_row ? TENTER_READINGS_ROW : 0) |
                (in->layout.at[ROLE_OPERATOR] >= 0 ? TENTER_READINGS_OPERATOR : 0) |
                (in->layout.at[ROLE_TRIAL] >= 0 ? TENTER_READINGS_TRIAL : 0) |
                (files++ > 0 ? TENTER_READINGS_FILE : 0);
    only = (uint16_t)i;
  }
  tenter_status status = tenter_readings_reserve(to, readings, optional, error);
  to->only_file = only;
  return status;
}

static void move_all_rows(moving *m, tenter_pool *pool) {
  if (!m->runs) {
    tenter_pool_run(pool, m->count, move_chunk, m);
    return;
  }
  tenter_pool_run(pool, (m->run_count + BLOCK_RUNS - 1) / BLOCK_RUNS, move_block, m);
  tenter_pool_run(pool, m->count, drop_chunk, m);
}

tenter_status tenter__move_readings(intake *all, const uint32_t *bases, tenter_error *error) {
  moving m = {.readings = &all->tables->readings,
              .screens = tenter_names_count(all->tables->names[TENTER_NAME_SCREEN]),
              .moves = tenter_alloc(tenter__count_chunks(all) + 1, sizeof *m.moves)};
  if (!m.moves)
    return tenter_fail_memory(error);
  size_t readings = plan_moves(all, bases, &m);
  tenter_status status = reserve_columns(all, readings, error);
  if (status == TENTER_OK) {
    order_runs(&m, readings, all->pool);
    move_all_rows(&m, all->pool);
  }
  tenter_free(m.block_row);
  tenter_free(m.runs);
  tenter_free(m.next);
  tenter_free(m.moves);
  return status;
}
