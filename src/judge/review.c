/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Puts the answers together: one step after the other, each over all sessions, mountings or
 * screens, blocks of them in parallel. */
#include <string.h>

#include "actions.h"
#include "charts.h"
#include "evenness.h"
#include "forecast.h"
#include "interval.h"
#include "plan.h"
#include "population.h"
#include "sets.h"
#include "stations.h"
#include "tenter/base/alloc.h"
#include "weeks.h"

enum { BLOCK_SCREENS = 256, MOST_MISSING = 8 };

/* ---- screens -------------------------------------------------------------------------------- */

/* The screens of a block that are in use. */
static void list_block(void *context, size_t task, size_t worker) {
  (void)worker;
  const judge *j = context;
  size_t end = (task + 1) * BLOCK_SCREENS;
  for (uint32_t i = (uint32_t)(task * BLOCK_SCREENS); i < end && i < j->shop->screen_count; i++) {
    if (j->review_index[i] == UINT32_MAX)
      continue;
    tenter_review_screen *screen = &j->review->screens[j->review_index[i]];
    const tenter_mounting *m = &j->shop->mountings[j->shop->screens[i].current];
    screen->screen = i;
    screen->mounting = j->shop->screens[i].current;
    screen->age_hours = tenter_mounting_age_hours(m, j->shop->as_of);
    screen->read = m->session_count > 0;
  }
}

static tenter_status list_screens(judge *j, tenter_error *error) {
  tenter_review *review = j->review;
  size_t count = 0, screens = j->shop->screen_count;
  j->review_index = tenter_arena_alloc(j->arena, screens, sizeof *j->review_index);
  if (!j->review_index)
    return tenter_fail_memory(error);
  for (uint32_t i = 0; i < screens; i++)
    j->review_index[i] = j->shop->screens[i].current == UINT32_MAX ? UINT32_MAX : (uint32_t)count++;
  review->screen_count = count;
  review->screens = tenter_arena_alloc(j->arena, count, sizeof *review->screens);
  j->screens = tenter_arena_alloc(j->arena, count, sizeof *j->screens);
  if (!review->screens || !j->screens)
    return tenter_fail_memory(error);
  tenter_pool_run(j->pool, (screens + BLOCK_SCREENS - 1) / BLOCK_SCREENS, list_block, j);
  return TENTER_OK;
}

/* What needs a screen alone. */
static void judge_screen(judge *j, size_t i) {
  tenter_review_screen *screen = &j->review->screens[i];
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  if (screen->read) {
    size_t latest = m->first_session + m->session_count - 1;
    screen->latest =
        (tenter_latest){.session = latest, .adjusted_mean = j->sessions[latest].adjusted};
    if (j->texts)
      judge__session_latest(j, latest, &screen->latest);
    j->screens[i].shift = judge__shift(j, latest);
    j->screens[i].shifted = (j->sessions[latest].state & SESSION_SHIFTED) != 0;
  }
  judge__forecast(j, i);
  judge__conformity(j, i);
}

typedef struct blocks {
  judge *j;
  tenter_arena **arenas;
} blocks;

static void judge_block(void *context, size_t task, size_t worker) {
  (void)worker;
  blocks *b = context;
  judge *j = b->j;
  size_t end = (task + 1) * BLOCK_SCREENS;
  b->arenas[task] = tenter_arena_new();
  evenness_room room;
  bool done = judge__evenness_new(j, &room) && b->arenas[task];
  for (size_t i = task * BLOCK_SCREENS; done && i < end && i < j->review->screen_count; i++) {
    judge_screen(j, i);
    judge__evenness(j, i, &room);
    done = judge__action(j, i, b->arenas[task]);
  }
  judge__evenness_release(&room);
  j->failed[task] = !done;
}

static tenter_status judge_screens(judge *j, tenter_error *error) {
  size_t count = (j->review->screen_count + BLOCK_SCREENS - 1) / BLOCK_SCREENS;
  blocks b = {.j = j, .arenas = tenter_alloc(count + 1, sizeof *b.arenas)};
  j->failed = tenter_arena_alloc(j->arena, count, sizeof *j->failed);
  if (!b.arenas || !j->failed) {
    tenter_free(b.arenas);
    return tenter_fail_memory(error);
  }
  tenter_pool_run(j->pool, count, judge_block, &b);
  bool done = true;
  for (size_t i = 0; i < count; i++) {
    done = done && !j->failed[i];
    if (b.arenas[i])
      tenter_arena_adopt(j->arena, b.arenas[i]);
  }
  tenter_free(b.arenas);
  return done ? TENTER_OK : tenter_fail_memory(error);
}

/* ---- the whole ------------------------------------------------------------------------------ */

static void sum_up(judge *j) {
  tenter_review *review = j->review;
  for (size_t a = 0; a < TENTER_ACTION_COUNT; a++)
    review->actions[a] = 0;
  for (size_t i = 0; i < review->screen_count; i++) {
    review->actions[review->screens[i].action]++;
    review->uncertainty_assumed |= j->screens[i].assumed;
  }
  for (size_t a = 0; a < TENTER_ACTION_COUNT && review->week_count > 0; a++)
    review->weeks[review->week_count - 1].actions[a] = review->actions[a];
}

/* Sentences on what the data lack. */
static tenter_status say_missing(judge *j, tenter_error *error) {
  tenter_review *review = j->review;
  size_t no_target = 0, no_floor = 0, no_zero = 0, no_mesh = 0, n = review->screen_count, k = 0;
  for (size_t i = 0; i < n; i++) {
    const tenter_mounting *m = &j->shop->mountings[review->screens[i].mounting];
    no_target += isnan(m->is.target) != 0;
    no_floor += isnan(m->is.floor) != 0;
    no_zero += m->zero.at == TENTER_NO_TIME;
    no_mesh += m->is.mesh == TENTER_NO_NAME;
  }
  const char **missing = tenter_arena_alloc(j->arena, MOST_MISSING, sizeof *missing);
  if (!missing)
    return tenter_fail_memory(error);
  const struct {
    tenter_say id;
    size_t screens;
  } lacks[] = {{TENTER_SAY_MISSING_TARGET, no_target},
               {TENTER_SAY_MISSING_FLOOR, no_floor},
               {TENTER_SAY_MISSING_STRETCH, no_zero},
               {TENTER_SAY_MISSING_MESH, no_mesh}};
  for (size_t i = 0; i < sizeof lacks / sizeof *lacks; i++)
    if (lacks[i].screens > 0)
      missing[k++] =
          tenter_say_fill(j->arena, lacks[i].id, tenter_say_count(j->arena, lacks[i].screens),
                          tenter_say_count(j->arena, n), (const char *)NULL);
  if (j->tables->check_count == 0 && review->meter_count > 0)
    missing[k++] = tenter_say_text(TENTER_SAY_MISSING_CHECKS);
  if (tenter_arena_failed(j->arena))
    return tenter_fail_memory(error);
  review->missing = missing;
  review->missing_count = k;
  return TENTER_OK;
}

typedef tenter_status step(judge *j, tenter_error *error);

static tenter_status run(judge *j, judge_depth depth, tenter_error *error) {
  static step *const steps[] = {
      list_screens,         judge__sessions, judge__meters, judge__patterns, judge__slips,
      judge__session_noise, judge__studies,  judge__shifts, judge__doubts,   judge__population};
  static step *const more[] = {judge__sets,     judge__lots,       judge__intervals, judge__plan,
                               judge__stations, judge__tell_slips, say_missing};
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < sizeof steps / sizeof *steps && !status; i++)
    status = steps[i](j, error);
  if (!status && depth >= JUDGE_ACTIONS)
    status = judge_screens(j, error);
  for (size_t i = 0; i < sizeof more / sizeof *more && !status && j->texts; i++)
    status = more[i](j, error);
  if (!status)
    sum_up(j);
  return status;
}

tenter_status judge__shop(const tenter_shop *shop, const judge *newer, judge_depth depth,
                          tenter_pool *pool, tenter_review **review, tenter_error *error) {
  tenter_arena *arena = tenter_arena_new();
  judge *j = arena ? tenter_arena_alloc(arena, 1, sizeof *j) : NULL;
  tenter_review *made = j ? tenter_arena_alloc(arena, 1, sizeof *made) : NULL;
  if (!made) {
    tenter_arena_free(arena);
    return tenter_fail_memory(error);
  }
  *j = (judge){.shop = shop,
               .tables = shop->tables,
               .readings = &shop->tables->readings,
               .settings = &shop->config->settings,
               .pool = pool,
               .arena = arena,
               .review = made,
               .newer = newer,
               .texts = depth == JUDGE_ALL,
               .mesh_slots = tenter_names_count(shop->tables->names[TENTER_NAME_MESH]) + 1};
  made->shop = shop;
  made->arena = arena;
  made->expected_false_alarms = NAN;
  made->judged = j;
  tenter_status status = run(j, depth, error);
  if (status)
    tenter_review_free(made);
  else
    *review = made;
  return status;
}

tenter_status tenter_review_new(const tenter_shop *shop, bool before, tenter_pool *pool,
                                tenter_review **review, tenter_error *error) {
  tenter_review *made = NULL;
  chart_scheme scheme;
  tenter_status status = judge__shop(shop, NULL, JUDGE_ALL, pool, &made, error);
  if (!made)
    return status;
  if (!status && before)
    status = judge__chart_scheme(made->judged, &scheme, error);
  if (!status && before)
    status = judge__weeks(made->judged, &scheme, error);
  if (!status && before)
    status = judge__charts(made->judged, &scheme, error);
  if (!status && before)
    status = judge__trends(made->judged, error);
  if (!status)
    sum_up(made->judged);
  if (status) {
    tenter_review_free(made);
    return status;
  }
  judge__population_release(made->judged);
  made->judged->newer = NULL;
  *review = made;
  return TENTER_OK;
}

void tenter_review_free(tenter_review *review) {
  if (!review)
    return;
  judge__population_release(review->judged);
  tenter_arena_free(review->arena);
}

double tenter_review_session_mean(const tenter_review *review, size_t session,
                                  double *uncertainty) {
  if (uncertainty)
    *uncertainty = judge__session_uncertainty(review->judged, session, true, NULL);
  return review->judged->sessions[session].adjusted;
}
