/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kaplan and Meier's estimate. Relies on life.c and the heap. */
#include <math.h>
#include <stdlib.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/life.h"
#include "tenter/stats/normal.h"

typedef struct ending {
  double time, failed, lost; /* weights that failed, and were censored, then */
} ending;

static int by_time(const void *a, const void *b) {
  const ending *x = a, *y = b;
  return (x->time > y->time) - (x->time < y->time);
}

/* Endings in order of time, those of one time together; how many. */
static size_t gather(const tenter_life *life, ending *endings) {
  size_t count = 0, kept = 0;
  for (size_t i = 0; i < life->count; i++) {
    double weight = life->weight ? life->weight[i] : 1;
    bool failed = life->lower[i] == life->upper[i];
    if (weight > 0 && (failed || life->lower[i] > 0))
      endings[count++] = (ending){life->lower[i], failed ? weight : 0, failed ? 0 : weight};
  }
  qsort(endings, count, sizeof *endings, by_time);
  for (size_t i = 0; i < count; i++) {
    if (kept > 0 && endings[kept - 1].time == endings[i].time) {
      endings[kept - 1].failed += endings[i].failed;
      endings[kept - 1].lost += endings[i].lost;
    } else {
      endings[kept++] = endings[i];
    }
  }
  return kept;
}

void tenter_kaplan_meier_release(tenter_kaplan_meier *km) {
  if (!km)
    return;
  void *blocks[] = {km->time, km->at_risk, km->events, km->survival, km->se, km->low, km->high};
  for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
    tenter_free(blocks[i]);
  *km = (tenter_kaplan_meier){0};
}

static bool make_room(tenter_kaplan_meier *km, size_t count) {
  double **arrays[] = {&km->time, &km->at_risk, &km->events, &km->survival,
                       &km->se,   &km->low,     &km->high};
  bool done = true;
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    done &= (*arrays[i] = tenter_alloc(count, sizeof **arrays[i])) != NULL;
  return done;
}

static void add_step(tenter_kaplan_meier *km, const ending *e, double at_risk, double survival,
                     double greenwood, double z) {
  size_t k = km->count++;
  double minus = -log(survival), reach = exp(z * sqrt(greenwood) / minus);
  bool open = !(survival > 0);
  km->time[k] = e->time;
  km->at_risk[k] = at_risk;
  km->events[k] = e->failed;
  km->survival[k] = survival;
  km->se[k] = open ? NAN : survival * sqrt(greenwood);
  km->low[k] = open ? NAN : exp(-minus * reach);
  km->high[k] = open ? NAN : exp(-minus / reach);
}

/* at_risk from the far end, so that the last is exact and survival falls to 0 where all failed. */
static void walk(tenter_kaplan_meier *km, const ending *endings, size_t count, double *at_risk) {
  double z = tenter_normal_quantile((1 + km->level) / 2), survival = 1, greenwood = 0, sum = 0;
  for (size_t i = count; i-- > 0;)
    at_risk[i] = sum += endings[i].failed + endings[i].lost;
  for (size_t i = 0; i < count; i++) {
    double failed = endings[i].failed, left = at_risk[i] - failed;
    if (!(failed > 0))
      continue;
    survival *= left / at_risk[i];
    greenwood += failed / (at_risk[i] * left);
    add_step(km, &endings[i], at_risk[i], survival, greenwood, z);
  }
  km->last = count > 0 ? endings[count - 1].time : 0;
}

tenter_status tenter_kaplan_meier_run(const tenter_life *life, double level,
                                      tenter_kaplan_meier *km, tenter_error *error) {
  tenter_life_tally tally;
  tenter_status status = tenter_life_count(life, &tally, error);
  if (status != TENTER_OK)
    return status;
  for (size_t i = 0; i < life->count; i++)
    if (life->lower[i] < life->upper[i] && !isinf(life->upper[i]))
      return tenter_fail(error, TENTER_INPUT,
                         "Row %zu, (%g, %g]: Kaplan and Meier's estimate knows failures at a time "
                         "and lives that go on, but no intervals.",
                         i + 1, life->lower[i], life->upper[i]);
  tenter_kaplan_meier made = {.level = level};
  ending *endings = tenter_alloc(life->count, sizeof *endings);
  double *at_risk = tenter_alloc(life->count, sizeof *at_risk);
  bool done = endings && at_risk && make_room(&made, life->count);
  if (done)
    walk(&made, endings, gather(life, endings), at_risk);
  tenter_free(endings);
  tenter_free(at_risk);
  if (!done) {
    tenter_kaplan_meier_release(&made);
    return tenter_fail_memory(error);
  }
  *km = made;
  return TENTER_OK;
}

/* The time of the first step at or below 1 - p of one column; NaN is passed over. */
static double first_below(const tenter_kaplan_meier *km, const double *column, double p) {
  const double rounding = 1e-12;
  for (size_t k = 0; k < km->count; k++)
    if (column[k] <= 1 - p + rounding)
      return km->time[k];
  return INFINITY;
}

tenter_life_time tenter_kaplan_meier_quantile(const tenter_kaplan_meier *km, double p) {
  if (!(p > 0 && p < 1))
    return (tenter_life_time){NAN, NAN, NAN};
  return (tenter_life_time){first_below(km, km->survival, p), first_below(km, km->low, p),
                            first_below(km, km->high, p)};
}

tenter_life_curve tenter_kaplan_meier_curve(const tenter_kaplan_meier *km) {
  bool ends = km->count == 0 || km->survival[km->count - 1] > 0;
  return (tenter_life_curve){.steps = km->time,
                             .survival = km->survival,
                             .count = km->count,
                             .end = ends ? km->last : INFINITY};
}
