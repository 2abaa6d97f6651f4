/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The model of the shop as of a moment.
 *
 * Outline: each screen's stretches of the settled tables are found by binary search; blocks of
 * screens are built by tasks into drafts of their own (mountings.c, sessions.c, properties.c), and
 * the drafts are strung together in order of screens. What a draft holds depends on its screens
 * only, so the number of threads changes nothing. */
#include "tenter/shop/shop.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "model.h"
#include "order.h"
#include "tenter/base/alloc.h"

enum { BLOCK_SCREENS = 256 };

bool tenter__grow(void **array, size_t count, size_t size) {
  if (count & (count - 1))
    return true;
  void *grown = tenter_resize(*array, count ? 2 * count : 1, size);
  if (!grown)
    return false;
  *array = grown;
  return true;
}

void tenter__find(draft *d, uint32_t screen, tenter_row a, tenter_row b, tenter_say id,
                  const tenter_value *values, size_t count) {
  const tenter_settings *settings = &d->config->settings;
  tenter_form form = {(tenter_mark)settings->report_mark, (tenter_dates)settings->report_dates};
  tenter_finding found = {.screen = screen, .rows = {a, b}};
  tenter_say_both(d->arena, form, id, values, count, &found.text, &found.shown);
  if (tenter_arena_failed(d->arena) ||
      !tenter__grow((void **)&d->findings, d->finding_count, sizeof *d->findings)) {
    d->failed = true;
    return;
  }
  d->findings[d->finding_count++] = found;
}

/* ---- where things stand in the settled tables
 * ---------------------------------------------------- */

/* The first index in [low, high) whose screen is not below screen. Each table its own accessor. */
#define FIRST_OF(name, element)                                                                    \
  static uint32_t first_##name(const tenter_tables *t, uint32_t screen, uint32_t low,              \
                               uint32_t high) {                                                    \
    while (low < high) {                                                                           \
      uint32_t middle = low + (high - low) / 2;                                                    \
      if (element < screen)                                                                        \
        low = middle + 1;                                                                          \
      else                                                                                         \
        high = middle;                                                                             \
    }                                                                                              \
    return low;                                                                                    \
  }
FIRST_OF(reading, t->readings.screen[middle])
FIRST_OF(event, t->events[middle].screen)
FIRST_OF(register, t->registers[middle].screen)

static screen_rows rows_of(const tenter_tables *t, uint32_t screen, tenter_time as_of) {
  screen_rows rows = {.screen = screen};
  uint32_t readings = (uint32_t)t->readings.count, events = (uint32_t)t->event_count;
  rows.reading = first_reading(t, screen, 0, readings);
  rows.reading_late = first_reading(t, screen + 1, rows.reading, readings);
  rows.event = first_event(t, screen, 0, events);
  rows.event_late = first_event(t, screen + 1, rows.event, events);
  rows.reg = first_register(t, screen, 0, (uint32_t)t->register_count);
  rows.reg_end = first_register(t, screen + 1, rows.reg, (uint32_t)t->register_count);
  rows.reading_end = rows.reading_late;
  while (rows.reading_end > rows.reading && t->readings.taken[rows.reading_end - 1] > as_of)
    rows.reading_end--;
  rows.event_end = rows.event_late;
  while (rows.event_end > rows.event && t->events[rows.event_end - 1].at.at > as_of)
    rows.event_end--;
  return rows;
}

/* Whether the shop had the screen by then: something dated says so, or nothing about it has a date.
 */
static bool known_by(const tenter_tables *t, const screen_rows *rows, tenter_time as_of) {
  if (rows->reading_end > rows->reading || rows->event_end > rows->event)
    return true;
  bool dated = rows->reading_late > rows->reading || rows->event_late > rows->event;
  for (uint32_t i = rows->reg; i < rows->reg_end; i++) {
    tenter_time stretched = t->registers[i].attributes.stretched.at;
    if (stretched != TENTER_NO_TIME && stretched <= as_of)
      return true;
    dated = dated || stretched != TENTER_NO_TIME;
  }
  return rows->reg_end > rows->reg && !dated;
}

/* ---- drafts
 * --------------------------------------------------------------------------------------- */

typedef struct building {
  tenter_shop *shop;
  const tenter_shop *later; /* or NULL */
  draft *drafts;
  size_t draft_count;
} building;

static void build_screen(draft *d, tenter_shop *shop, uint32_t screen) {
  screen_rows rows = rows_of(d->tables, screen, d->as_of);
  size_t first = d->mounting_count;
  shop->screens[screen] = (tenter_screen){.first_mounting = (uint32_t)first, .current = UINT32_MAX};
  if (!known_by(d->tables, &rows, d->as_of))
    return;
  tenter__mountings(d, &rows);
  if (!d->failed)
    tenter__sessions(d, &rows, first);
  if (!d->failed)
    tenter__properties(d, &rows, first);
  shop->screens[screen].mounting_count = (uint32_t)(d->mounting_count - first);
}

static void build_block(void *context, size_t task, size_t worker) {
  (void)worker;
  building *b = context;
  tenter_shop *shop = b->shop;
  draft *d = &b->drafts[task];
  *d = (draft){
      .tables = shop->tables, .config = shop->config, .later = b->later, .as_of = shop->as_of};
  d->arena = tenter_arena_new();
  d->seen = tenter_alloc((shop->tables->position_count + 1) * TENTER_DIRECTIONS, sizeof *d->seen);
  d->failed = !d->arena || !d->seen;
  size_t to = (task + 1) * BLOCK_SCREENS;
  for (size_t screen = task * BLOCK_SCREENS; screen < to && screen < shop->screen_count; screen++)
    if (!d->failed)
      build_screen(d, shop, (uint32_t)screen);
  for (size_t i = 0; i < d->session_count; i++)
    d->reading_count += d->sessions[i].count;
}

static void draft_release(draft *d) {
  tenter_free(d->mountings);
  tenter_free(d->sessions);
  tenter_free(d->findings);
  tenter_free(d->seen);
  tenter_arena_free(d->arena);
}

/* Copies one draft to its place in the shop; ids within the draft become ids of the shop. */
static void string_draft(void *context, size_t task, size_t worker) {
  (void)worker;
  const building *b = context;
  tenter_shop *shop = b->shop;
  const draft *d = &b->drafts[task];
  size_t mountings = d->mountings_before, sessions = d->sessions_before;
  for (size_t i = 0; i < d->mounting_count; i++) {
    shop->mountings[mountings + i] = d->mountings[i];
    shop->mountings[mountings + i].first_session += sessions;
  }
  for (size_t i = 0; i < d->session_count; i++) {
    shop->sessions[sessions + i] = d->sessions[i];
    shop->sessions[sessions + i].mounting += (uint32_t)mountings;
  }
  for (size_t i = 0; i < d->finding_count; i++)
    shop->findings[d->findings_before + i] = d->findings[i];
  size_t to = (task + 1) * BLOCK_SCREENS;
  for (size_t i = task * BLOCK_SCREENS; i < to && i < shop->screen_count; i++) {
    tenter_screen *screen = &shop->screens[i];
    screen->first_mounting += (uint32_t)mountings;
    uint32_t last = screen->first_mounting + screen->mounting_count - 1;
    if (screen->mounting_count && shop->mountings[last].end == TENTER_END_NONE)
      screen->current = last;
  }
}

/* Where each draft goes; false where one failed. */
static bool plan_drafts(building *b) {
  tenter_shop *shop = b->shop;
  for (size_t i = 0; i < b->draft_count; i++) {
    draft *d = &b->drafts[i];
    if (d->failed)
      return false;
    d->mountings_before = shop->mounting_count;
    d->sessions_before = shop->session_count;
    d->findings_before = shop->finding_count;
    shop->mounting_count += d->mounting_count;
    shop->session_count += d->session_count;
    shop->finding_count += d->finding_count;
    shop->reading_count += d->reading_count;
  }
  return true;
}

static bool string_drafts(building *b, tenter_pool *pool) {
  tenter_shop *shop = b->shop;
  if (!plan_drafts(b))
    return false;
  shop->mountings =
      tenter_arena_alloc(shop->arena, shop->mounting_count + 1, sizeof *shop->mountings);
  shop->sessions = tenter_arena_alloc(shop->arena, shop->session_count + 1, sizeof *shop->sessions);
  shop->findings = tenter_arena_alloc(shop->arena, shop->finding_count + 1, sizeof *shop->findings);
  if (!shop->mountings || !shop->sessions || !shop->findings)
    return false;
  tenter_pool_run(pool, b->draft_count, string_draft, b);
  for (size_t i = 0; i < b->draft_count; i++) {
    tenter_arena_adopt(shop->arena, b->drafts[i].arena);
    b->drafts[i].arena = NULL;
  }
  return true;
}

/* ---- rows after as_of
 * ----------------------------------------------------------------------------- */

static int row_order(const void *a, const void *b) {
  return order_row(*(const tenter_row *)a, *(const tenter_row *)b);
}

static bool count_later(tenter_shop *shop) {
  const tenter_tables *t = shop->tables;
  const tenter_readings *r = &t->readings;
  shop->later = tenter_arena_alloc(shop->arena, t->source_count + 1, sizeof *shop->later);
  tenter_row *rows = NULL;
  size_t count = 0;
  bool made = shop->later != NULL;
  for (size_t i = 0; i < r->count && made; i++) {
    if (r->taken[i] <= shop->as_of)
      continue;
    if (!r->row || r->row[i] == 0) { /* a row of one reading */
      shop->later[tenter_reading_row(r, i).file]++;
      continue;
    }
    made = tenter__grow((void **)&rows, count, sizeof *rows);
    if (made)
      rows[count++] = tenter_reading_row(r, i);
  }
  if (made && count)
    qsort(rows, count, sizeof *rows, row_order);
  for (size_t i = 0; i < count && made; i++) /* a wide row is one row */
    shop->later[rows[i].file] += i == 0 || row_order(&rows[i - 1], &rows[i]) != 0;
  tenter_free(rows);
  if (!made)
    return false;
  for (size_t i = 0; i < t->event_count; i++)
    shop->later[t->events[i].row.file] += t->events[i].at.at > shop->as_of;
  for (size_t i = 0; i < t->check_count; i++)
    shop->later[t->checks[i].row.file] += t->checks[i].at.at > shop->as_of;
  return true;
}

/* ---- public
 * --------------------------------------------------------------------------------------- */

tenter_time tenter_tables_last_day_end(const tenter_tables *tables) {
  tenter_time last = TENTER_NO_TIME;
  for (size_t i = 0; i < tables->readings.count; i++)
    if (tables->readings.taken[i] > last)
      last = tables->readings.taken[i];
  if (last == TENTER_NO_TIME)
    for (size_t i = 0; i < tables->event_count; i++)
      if (tables->events[i].at.at > last)
        last = tables->events[i].at.at;
  if (last == TENTER_NO_TIME)
    for (size_t i = 0; i < tables->register_count; i++)
      if (tables->registers[i].attributes.stretched.at > last)
        last = tables->registers[i].attributes.stretched.at;
  return last == TENTER_NO_TIME ? last : tenter_day_start(last) + TENTER_DAY - 1;
}

static tenter_status build(const tenter_tables *tables, const tenter_config *config,
                           tenter_time as_of, const tenter_shop *later, tenter_pool *pool,
                           tenter_shop **shop, tenter_error *error) {
  tenter_arena *arena = tenter_arena_new();
  tenter_shop *made = arena ? tenter_arena_alloc(arena, 1, sizeof *made) : NULL;
  if (!made) {
    tenter_arena_free(arena);
    return tenter_fail_memory(error);
  }
  *made = (tenter_shop){.tables = tables, .config = config, .arena = arena, .as_of = as_of};
  made->screen_count = tenter_names_count(tables->names[TENTER_NAME_SCREEN]);
  made->screens = tenter_arena_alloc(arena, made->screen_count + 1, sizeof *made->screens);
  building b = {.shop = made, .later = later};
  b.draft_count = (made->screen_count + BLOCK_SCREENS - 1) / BLOCK_SCREENS;
  b.drafts = tenter_alloc(b.draft_count + 1, sizeof *b.drafts);
  bool done = made->screens && b.drafts;
  if (done) {
    tenter_pool_run(pool, b.draft_count, build_block, &b);
    done = string_drafts(&b, pool) && count_later(made);
  }
  for (size_t i = 0; b.drafts && i < b.draft_count; i++)
    draft_release(&b.drafts[i]);
  tenter_free(b.drafts);
  if (!done) {
    tenter_shop_free(made);
    return tenter_fail_memory(error);
  }
  *shop = made;
  return TENTER_OK;
}

tenter_status tenter_shop_new(const tenter_tables *tables, const tenter_config *config,
                              tenter_time as_of, tenter_pool *pool, tenter_shop **shop,
                              tenter_error *error) {
  return build(tables, config, as_of, NULL, pool, shop, error);
}

tenter_status tenter_shop_earlier(const tenter_shop *later, tenter_time as_of, tenter_pool *pool,
                                  tenter_shop **shop, tenter_error *error) {
  return build(later->tables, later->config, as_of, as_of <= later->as_of ? later : NULL, pool,
               shop, error);
}

void tenter_shop_free(tenter_shop *shop) {
  if (shop)
    tenter_arena_free(shop->arena); /* which holds shop itself */
}

double tenter_mounting_age_hours(const tenter_mounting *mounting, tenter_time at) {
  if (mounting->zero.at == TENTER_NO_TIME)
    return NAN;
  return (double)(at - mounting->zero.at) / TENTER_HOUR;
}

double tenter_mounting_age_doubt_hours(const tenter_mounting *mounting,
                                       const tenter_session *session) {
  return 12.0 * mounting->zero.date_only + 12.0 * session->date_only;
}
