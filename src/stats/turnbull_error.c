/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How sure Turnbull's estimate is: by the observed information, and by weighting the rows at
 * random. Relies on turnbull_search.c. */
#include <math.h>

#include "draws.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/normal.h"
#include "turnbull_internal.h"

/* ---- observed information ------------------------------------------------------------------- */

/* The variance of the cumulated mass at a boundary is its entry on the diagonal of the inverse of
 * the Hessian. NaN where the data leave the masses open, so that there is no inverse. */
static double error_at(turnbull_search *s, size_t boundary, double *unit) {
  unit[boundary] = 1;
  bool solved = turnbull_search_solve(s, unit, s->target, 1e-9);
  unit[boundary] = 0;
  return solved && s->target[boundary] > 0 ? sqrt(s->target[boundary]) : NAN;
}

static void limits_of(double survival, double se, double z, double *low, double *high) {
  double minus = -log(survival), reach = exp(z * se / (survival * minus));
  *low = exp(-minus * reach);
  *high = exp(-minus / reach);
}

tenter_status tenter_turnbull_band(const tenter_turnbull *turnbull, double level, double *se,
                                   double *low, double *high, tenter_error *error) {
  turnbull_search s;
  double z = tenter_normal_quantile((1 + level) / 2);
  double *unit = tenter_alloc(turnbull->count + 1, sizeof *unit);
  if (!unit)
    return tenter_fail_memory(error);
  tenter_status status = turnbull_search_make(turnbull->rows, &s, error);
  if (status == TENTER_OK) {
    turnbull_search_begin(&s, turnbull->index, turnbull->mass, turnbull->count);
    turnbull_search_curve(&s);
    for (size_t k = 0; k + 1 < turnbull->count; k++) {
      se[k] = error_at(&s, k + 1, unit);
      limits_of(turnbull->survival[k], se[k], z, &low[k], &high[k]);
    }
    se[turnbull->count - 1] = low[turnbull->count - 1] = high[turnbull->count - 1] = NAN;
    turnbull_search_release(&s);
  }
  tenter_free(unit);
  return status;
}

/* ---- rows weighted at random ---------------------------------------------------------------- */

/* A copy of the rows with other weights; the intervals are shared. */
static tenter_status weight_rows(const tenter_turnbull_rows *rows, uint64_t seed,
                                 tenter_turnbull_rows *again, tenter_error *error) {
  *again = *rows;
  again->count = 0;
  again->weight = 0;
  again->edge = tenter_alloc(rows->count, sizeof *again->edge);
  if (!again->edge)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < rows->count; i++) {
    turnbull_edge edge = rows->edge[i];
    edge.weight = draw_gamma(&seed, edge.weight);
    if (edge.weight < 1e-9 * rows->edge[i].weight)
      continue; /* too little to be told from nothing */
    again->edge[again->count++] = edge;
    again->weight += edge.weight;
  }
  return TENTER_OK;
}

tenter_status tenter_turnbull_resample(const tenter_turnbull *turnbull, uint64_t seed,
                                       tenter_turnbull *again, tenter_error *error) {
  tenter_turnbull_rows rows;
  turnbull_search search;
  tenter_status status = weight_rows(turnbull->rows, seed, &rows, error);
  if (status != TENTER_OK)
    return status;
  status = turnbull_search_make(&rows, &search, error);
  if (status == TENTER_OK) {
    turnbull_search_begin(&search, turnbull->index, turnbull->mass, turnbull->count);
    turnbull_search_climb(&search);
    status = turnbull_take(&search, again, error);
    turnbull_search_release(&search);
  }
  tenter_free(rows.edge);
  return status;
}

/* ---- intervals of quantiles ----------------------------------------------------------------- */

typedef struct drawing {
  const tenter_turnbull *turnbull;
  size_t quantiles, draws;
  const double *p;
  uint64_t seed;
  double *left, *right; /* quantiles rows of draws */
  tenter_status *status;
} drawing;

static void draw_one(void *context, size_t task, size_t worker) {
  (void)worker;
  drawing *d = context;
  tenter_turnbull again;
  d->status[task] = tenter_turnbull_resample(d->turnbull, d->seed + task, &again, NULL);
  if (d->status[task] != TENTER_OK)
    return;
  for (size_t q = 0; q < d->quantiles; q++) {
    tenter_interval at = tenter_turnbull_quantile(&again, d->p[q]);
    d->left[q * d->draws + task] = at.low;
    d->right[q * d->draws + task] = at.high;
  }
  tenter_turnbull_release(&again);
}

static bool all_done(const drawing *d) {
  for (size_t i = 0; i < d->draws; i++)
    if (d->status[i] != TENTER_OK)
      return false;
  return true;
}

tenter_status tenter_turnbull_quantile_intervals(const tenter_turnbull *turnbull, size_t quantiles,
                                                 const double *p, double level, size_t draws,
                                                 uint64_t seed, tenter_pool *pool,
                                                 tenter_interval *value, tenter_interval *interval,
                                                 tenter_error *error) {
  drawing d = {.turnbull = turnbull, .quantiles = quantiles, .draws = draws, .p = p, .seed = seed};
  if (quantiles == 0 || draws == 0 || !(level > 0 && level < 1))
    return tenter_fail(error, TENTER_USAGE,
                       "Intervals need a quantile, a draw and a level between 0 and 1.");
  d.left = tenter_alloc(draws, quantiles * sizeof *d.left);
  d.right = tenter_alloc(draws, quantiles * sizeof *d.right);
  d.status = tenter_alloc(draws, sizeof *d.status);
  bool done = d.left && d.right && d.status;
  if (done) {
    tenter_pool_run(pool, draws, draw_one, &d);
    done = all_done(&d);
  }
  for (size_t q = 0; done && q < quantiles; q++) {
    if (value)
      value[q] = tenter_turnbull_quantile(turnbull, p[q]);
    interval[q].low = draw_percentiles(&d.left[q * draws], draws, level).low;
    interval[q].high = draw_percentiles(&d.right[q * draws], draws, level).high;
  }
  tenter_free(d.left);
  tenter_free(d.right);
  tenter_free(d.status);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
