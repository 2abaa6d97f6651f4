/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The order of the next weeks' turns. */
#include "work_plan.h"

#include <math.h>
#include <stdlib.h>

static int compare_ids(uint32_t a, uint32_t b) {
  return (a > b) - (a < b);
}

/* More first; NaN counts as nothing. */
static int more_first(double a, double b) {
  return (b > a) - (b < a);
}

static int by_mesh(const void *a, const void *b) {
  const work_turn *x = a, *y = b;
  if (x->week != y->week)
    return x->week < y->week ? -1 : 1;
  int order = compare_ids(x->mesh, y->mesh);
  return order != 0 ? order : more_first(x->first, y->first);
}

static int in_order(const void *a, const void *b) {
  const work_turn *x = a, *y = b;
  if (x->week != y->week)
    return x->week < y->week ? -1 : 1;
  int order = more_first(x->mesh_first, y->mesh_first);
  if (order == 0)
    order = compare_ids(x->mesh, y->mesh);
  if (order == 0)
    order = more_first(x->first, y->first);
  return order != 0 ? order : compare_ids(x->screen->screen, y->screen->screen);
}

bool work_plan_opens(const work_plan *plan, size_t i) {
  return i == 0 || plan->turns[i].week != plan->turns[i - 1].week ||
         plan->turns[i].mesh != plan->turns[i - 1].mesh;
}

static double at_risk(const tenter_review_screen *screen, bool readings) {
  double own = readings ? screen->turn.value : screen->forecast.below_floor_at_horizon;
  double now = screen->action >= TENTER_ACTION_RESTRETCH ? (double)screen->action : 0;
  return (isnan(own) ? (double)readings : own) + (readings ? 0 : now);
}

bool work_plan_new(const tenter_review *review, bool readings, tenter_arena *arena,
                   work_plan *plan) {
  *plan = (work_plan){tenter_arena_alloc(arena, review->screen_count, sizeof(work_turn)), 0};
  if (plan->turns == NULL)
    return false;
  for (size_t i = 0; i < review->screen_count; i++) {
    const tenter_review_screen *screen = &review->screens[i];
    int week = readings ? screen->turn.read_week : screen->turn.restretch_week;
    if (week >= 0 && week < TENTER_PLAN_WEEKS)
      plan->turns[plan->count++] =
          (work_turn){screen, review->shop->mountings[screen->mounting].is.mesh, week,
                      at_risk(screen, readings), 0};
  }
  if (plan->count == 0)
    return true;
  qsort(plan->turns, plan->count, sizeof *plan->turns, by_mesh);
  for (size_t i = 0; i < plan->count; i++)
    plan->turns[i].mesh_first =
        work_plan_opens(plan, i) ? plan->turns[i].first : plan->turns[i - 1].mesh_first;
  qsort(plan->turns, plan->count, sizeof *plan->turns, in_order);
  return true;
}
