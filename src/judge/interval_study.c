/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The study of intervals, mesh by mesh and lot by lot: curves and sensitivity here, the rest in
 * interval_past.c, interval_life.c, interval_cost.c and interval_reading.c. */
#include <stdlib.h>

#include "interval_study.h"
#include "tenter/base/alloc.h"

static const double most_days = 3652.5;

/* band: with what is not known of the share, which takes most of the time. */
static void draw_curve(const judge *j, const interval_inner *of, bool band,
                       tenter_interval_group *group) {
  tenter_interval_curve *c = &group->curve;
  double floor = group->interval->floor, first = judge__interval_start(j) / 24;
  double step = log(most_days / first) / (TENTER_INTERVAL_POINTS - 1);
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++) {
    double hours = 24 * (c->days[i] = first * exp(step * i));
    c->below[i] = judge__interval_below(j, of, floor, hours);
    c->low[i] = band ? judge__interval_share(j, of, floor, 0.05, hours) : NAN;
    c->high[i] = band ? judge__interval_share(j, of, floor, 0.95, hours) : NAN;
  }
}

static void vary_risk(const judge *j, const interval_inner *of, tenter_interval_group *group) {
  static const double share[TENTER_INTERVAL_RISKS] = {0.2, 0.5, 1, 2, 4};
  for (int i = 0; i < TENTER_INTERVAL_RISKS; i++) {
    group->risks[i] = fmin(0.9, share[i] * group->interval->risk);
    group->risk_days[i] = judge__interval_days(j, of, group->interval->floor, group->risks[i]);
  }
}

/* ---- meshes --------------------------------------------------------------------------------- */

static tenter_status fill_mesh(const judge *j, const past_lives *of, tenter_pool *pool,
                               tenter_arena *arena, tenter_interval_group *mesh,
                               usual_reading *usual, tenter_error *error) {
  const interval_inner *inner = &j->intervals[mesh->interval - j->review->intervals];
  draw_curve(j, inner, true, mesh);
  vary_risk(j, inner, mesh);
  judge__interval_cost(j, of, mesh);
  tenter_status status = judge__usual_reading(j, interval_slot(j, mesh->interval), usual, error);
  if (!status) {
    judge__interval_spacing(j, inner, usual, mesh);
    status = judge__interval_life(mesh->interval, of, pool, arena, &mesh->life, error);
  }
  return status;
}

/* ---- lots ----------------------------------------------------------------------------------- */

typedef struct lots_task {
  const judge *j;
  tenter_interval_study *study;
  past_lives *of;              /* by lot */
  const usual_reading **usual; /* by lot: of its mesh */
  tenter_error *errors;
  tenter_status *statuses;
} lots_task;

static void fill_lot(void *context, size_t task, size_t worker) {
  (void)worker;
  const lots_task *t = context;
  tenter_interval_group *lot = &t->study->lots[task];
  const interval_inner *inner = &t->j->intervals[lot->interval - t->j->review->intervals];
  draw_curve(t->j, inner, false, lot);
  vary_risk(t->j, inner, lot);
  judge__interval_spacing(t->j, inner, t->usual[task], lot);
  judge__interval_cost(t->j, &t->of[task], lot);
  t->statuses[task] =
      judge__interval_life(lot->interval, &t->of[task], NULL, NULL, &lot->life, &t->errors[task]);
}

/* A lot a task: hundreds of them take little each. */
static tenter_status fill_lots(const judge *j, past_lives *past, const usual_reading *usual,
                               tenter_pool *pool, tenter_interval_study *study,
                               tenter_error *error) {
  size_t count = study->lot_count, at = 0, mesh = 0;
  lots_task t = {.j = j,
                 .study = study,
                 .of = tenter_alloc(count, sizeof *t.of),
                 .usual = tenter_alloc(count, sizeof *t.usual),
                 .errors = tenter_alloc(count, sizeof *t.errors),
                 .statuses = tenter_alloc(count, sizeof *t.statuses)};
  tenter_status status =
      t.of && t.usual && t.errors && t.statuses ? TENTER_OK : tenter_fail_memory(error);
  judge__past_by_lot(past);
  for (size_t i = 0; i < count && !status; i++) { /* both are in the order of meshes */
    t.of[i] = judge__past_of(past, j, study->lots[i].interval, &at);
    while (study->meshes[mesh].interval->mesh != study->lots[i].interval->mesh)
      mesh++;
    t.usual[i] = &usual[mesh];
  }
  if (!status)
    tenter_pool_run(pool, count, fill_lot, &t);
  for (size_t i = 0; i < count && !status; i++)
    if ((status = t.statuses[i]) != TENTER_OK)
      *error = t.errors[i];
  tenter_free(t.of);
  tenter_free(t.usual);
  tenter_free(t.errors);
  tenter_free(t.statuses);
  return status;
}

/* ---- all ------------------------------------------------------------------------------------ */

static int group_order(const void *key, const void *element) {
  const tenter_review_interval *x = key;
  const tenter_review_interval *y = ((const tenter_interval_group *)element)->interval;
  if (x->mesh != y->mesh)
    return x->mesh < y->mesh ? -1 : 1;
  return (x->lot > y->lot) - (x->lot < y->lot);
}

static void count_in(tenter_interval_group *groups, size_t count, uint32_t mesh, uint32_t lot) {
  const tenter_review_interval key = {.mesh = mesh, .lot = lot};
  tenter_interval_group *found = bsearch(&key, groups, count, sizeof *groups, group_order);
  if (found)
    found->in_use++;
}

/* Screens of each mesh and lot; both are in the order of their names' ids. */
static void count_in_use(const judge *j, tenter_interval_study *study) {
  for (size_t i = 0; i < j->review->screen_count; i++) {
    const tenter_attributes *is = &j->shop->mountings[j->review->screens[i].mounting].is;
    count_in(study->meshes, study->count, is->mesh, TENTER_NO_NAME);
    if (is->lot != TENTER_NO_NAME)
      count_in(study->lots, study->lot_count, is->mesh, is->lot);
  }
}

static void list_groups(const tenter_review *review, tenter_interval_study *study) {
  for (size_t i = 0; i < review->interval_count; i++)
    if (review->intervals[i].lot == TENTER_NO_NAME)
      study->meshes[study->count++].interval = &review->intervals[i];
    else
      study->lots[study->lot_count++].interval = &review->intervals[i];
}

static tenter_status fill(const judge *j, tenter_pool *pool, tenter_interval_study *study,
                          tenter_error *error) {
  past_lives past = {0};
  size_t at = 0;
  usual_reading *usual = tenter_arena_alloc(study->arena, study->count, sizeof *usual);
  tenter_status status = usual ? judge__past_lives(j, &past, error) : tenter_fail_memory(error);
  for (size_t m = 0; m < study->count && !status; m++) {
    past_lives of = judge__past_of(&past, j, study->meshes[m].interval, &at);
    status = fill_mesh(j, &of, pool, study->arena, &study->meshes[m], &usual[m], error);
  }
  if (!status && study->lot_count > 0)
    status = fill_lots(j, &past, usual, pool, study, error);
  if (!status)
    judge__interval_calendar(study);
  tenter_free(past.lives);
  return status;
}

tenter_status tenter_interval_study_new(const tenter_review *review, tenter_pool *pool,
                                        tenter_interval_study **study, tenter_error *error) {
  tenter_arena *arena = tenter_arena_new();
  tenter_interval_study *made = arena ? tenter_arena_alloc(arena, 1, sizeof *made) : NULL;
  if (made) {
    made->meshes = tenter_arena_alloc(arena, review->interval_count, sizeof *made->meshes);
    made->lots = tenter_arena_alloc(arena, review->interval_count, sizeof *made->lots);
  }
  if (!made || !made->meshes || !made->lots) {
    tenter_arena_free(arena);
    return tenter_fail_memory(error);
  }
  made->review = review;
  made->arena = arena;
  list_groups(review, made);
  count_in_use(review->judged, made);
  tenter_status status = fill(review->judged, pool, made, error);
  if (status)
    tenter_arena_free(arena);
  else
    *study = made;
  return status;
}

void tenter_interval_study_free(tenter_interval_study *study) {
  if (study)
    tenter_arena_free(study->arena);
}
