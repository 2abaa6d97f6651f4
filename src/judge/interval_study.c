/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The study of intervals, mesh by mesh: curves and sensitivity here, the rest in interval_past.c,
 * interval_life.c, interval_cost.c and interval_reading.c. */
#include "interval_study.h"

#include "tenter/base/alloc.h"

static const double most_days = 3652.5;

static void draw_curve(const judge *j, const interval_inner *of, tenter_interval_mesh *mesh) {
  tenter_interval_curve *c = &mesh->curve;
  double floor = mesh->interval->floor, first = judge__interval_start(j) / 24;
  double step = log(most_days / first) / (TENTER_INTERVAL_POINTS - 1);
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++) {
    double hours = 24 * (c->days[i] = first * exp(step * i));
    c->below[i] = judge__interval_below(j, of, floor, hours);
    c->low[i] = judge__interval_share(j, of, floor, 0.05, hours);
    c->high[i] = judge__interval_share(j, of, floor, 0.95, hours);
  }
}

static void vary_risk(const judge *j, const interval_inner *of, tenter_interval_mesh *mesh) {
  static const double share[TENTER_INTERVAL_RISKS] = {0.2, 0.5, 1, 2, 4};
  for (int i = 0; i < TENTER_INTERVAL_RISKS; i++) {
    mesh->risks[i] = fmin(0.9, share[i] * mesh->interval->risk);
    mesh->risk_days[i] = judge__interval_days(j, of, mesh->interval->floor, mesh->risks[i]);
  }
}

static void count_in_use(const judge *j, tenter_interval_study *study) {
  for (size_t i = 0; i < j->review->screen_count; i++) {
    uint32_t mesh = j->shop->mountings[j->review->screens[i].mounting].is.mesh;
    for (size_t m = 0; m < study->count; m++)
      study->meshes[m].in_use += study->meshes[m].interval->mesh == mesh;
  }
}

static void list_meshes(const tenter_review *review, tenter_interval_study *study) {
  for (size_t i = 0; i < review->interval_count; i++)
    if (review->intervals[i].lot == TENTER_NO_NAME)
      study->meshes[study->count++].interval = &review->intervals[i];
    else
      study->meshes[study->count - 1].lots++;
}

static tenter_status fill(const judge *j, const past_lives *past, tenter_pool *pool,
                          tenter_interval_study *study, tenter_interval_mesh *mesh,
                          tenter_error *error) {
  const interval_inner *of = &j->intervals[mesh->interval - j->review->intervals];
  uint32_t slot = interval_slot(j, mesh->interval);
  size_t first = 0, end;
  while (first < past->count && past->lives[first].slot < slot)
    first++;
  for (end = first; end < past->count && past->lives[end].slot == slot;)
    end++;
  draw_curve(j, of, mesh);
  vary_risk(j, of, mesh);
  tenter_status status = judge__interval_spacing(j, of, mesh, error);
  if (!status)
    status = judge__interval_life(mesh->interval, &past->lives[first], end - first, pool,
                                  study->arena, &mesh->life, error);
  return status;
}

tenter_status tenter_interval_study_new(const tenter_review *review, tenter_pool *pool,
                                        tenter_interval_study **study, tenter_error *error) {
  const judge *j = review->judged;
  tenter_arena *arena = tenter_arena_new();
  tenter_interval_study *made = arena ? tenter_arena_alloc(arena, 1, sizeof *made) : NULL;
  past_lives past = {0};
  if (made)
    made->meshes = tenter_arena_alloc(arena, review->interval_count, sizeof *made->meshes);
  if (!made || !made->meshes) {
    tenter_arena_free(arena);
    return tenter_fail_memory(error);
  }
  made->review = review;
  made->arena = arena;
  list_meshes(review, made);
  count_in_use(j, made);
  tenter_status status = judge__past_lives(j, &past, error);
  for (size_t m = 0; m < made->count && !status; m++)
    status = fill(j, &past, pool, made, &made->meshes[m], error);
  if (!status)
    judge__interval_costs(j, &past, made);
  tenter_free(past.lives);
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
