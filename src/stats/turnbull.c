/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Turnbull's estimate: the fit, and what is read from it. Relies on turnbull_rows.c and
 * turnbull_search.c. */
#include "tenter/stats/turnbull.h"

#include <math.h>

#include "tenter/base/alloc.h"
#include "turnbull_internal.h"

void tenter_turnbull_release(tenter_turnbull *turnbull) {
  if (!turnbull)
    return;
  void *blocks[] = {turnbull->left, turnbull->right, turnbull->mass, turnbull->survival,
                    turnbull->index};
  for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
    tenter_free(blocks[i]);
  turnbull_rows_free(turnbull->rows);
  *turnbull = (tenter_turnbull){0};
}

/* Survival from the far end, so that small shares keep their digits. */
static void fill(const turnbull_search *s, tenter_turnbull *t) {
  double total = s->sum[s->count], beyond = 0;
  for (size_t k = t->count; k-- > 0;) {
    t->index[k] = s->support[k];
    t->left[k] = s->rows->left[s->support[k]];
    t->right[k] = s->rows->right[s->support[k]];
    t->mass[k] = s->mass[k] / total;
    t->survival[k] = beyond;
    beyond += t->mass[k];
  }
}

tenter_status turnbull_take(const turnbull_search *search, tenter_turnbull *turnbull,
                            tenter_error *error) {
  tenter_turnbull t = {.count = search->count,
                       .weight = search->rows->weight,
                       .loglik = turnbull_search_loglik(search),
                       .gap = search->gap,
                       .intervals = search->rows->intervals,
                       .steps = search->steps,
                       .converged = turnbull_search_is_near(search)};
  double **arrays[] = {&t.left, &t.right, &t.mass, &t.survival};
  bool done = (t.index = tenter_alloc(t.count, sizeof *t.index)) != NULL;
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    done &= (*arrays[i] = tenter_alloc(t.count, sizeof **arrays[i])) != NULL;
  if (!done) {
    tenter_turnbull_release(&t);
    return tenter_fail_memory(error);
  }
  fill(search, &t);
  *turnbull = t;
  return TENTER_OK;
}

static tenter_status fit_rows(const tenter_turnbull_rows *rows, tenter_turnbull *turnbull,
                              tenter_error *error) {
  turnbull_search search;
  tenter_status status = turnbull_search_make(rows, &search, error);
  if (status != TENTER_OK)
    return status;
  turnbull_search_begin(&search, NULL, NULL, 0);
  turnbull_search_climb(&search);
  status = turnbull_take(&search, turnbull, error);
  turnbull_search_release(&search);
  return status;
}

/* Masses span as many digits as weights do; beyond 1e9 sums would swallow the small ones. */
static tenter_status check_weights(const tenter_life *life, tenter_error *error) {
  double least = INFINITY, most = 0;
  for (size_t i = 0; life->weight && i < life->count; i++) {
    most = fmax(most, life->weight[i]);
    least = life->weight[i] > 0 ? fmin(least, life->weight[i]) : least;
  }
  if (most > 1e9 * least)
    return tenter_fail(error, TENTER_INPUT,
                       "Weights from %g to %g are too far apart: let the greatest be at most 1e9 "
                       "times the least, or leave the least out.",
                       least, most);
  return TENTER_OK;
}

tenter_status tenter_turnbull_run(const tenter_life *life, tenter_turnbull *turnbull,
                                  tenter_error *error) {
  tenter_life_tally tally;
  tenter_turnbull_rows *rows = NULL;
  tenter_status status = tenter_life_count(life, &tally, error);
  if (status == TENTER_OK)
    status = check_weights(life, error);
  if (status == TENTER_OK)
    status = turnbull_rows_make(life, &rows, error);
  if (status != TENTER_OK)
    return status;
  status = fit_rows(rows, turnbull, error);
  if (status == TENTER_OK)
    turnbull->rows = rows;
  else
    turnbull_rows_free(rows);
  return status;
}

/* ---- what is read from it ------------------------------------------------------------------- */

/* How many masses lie wholly at or before t. */
static size_t masses_by(const tenter_turnbull *turnbull, double t) {
  size_t low = 0, high = turnbull->count;
  while (low < high) {
    size_t middle = (low + high) / 2;
    if (turnbull->right[middle] <= t)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

tenter_interval tenter_turnbull_survival(const tenter_turnbull *turnbull, double t) {
  if (isnan(t))
    return (tenter_interval){NAN, NAN};
  size_t k = masses_by(turnbull, t);
  double above = k > 0 ? turnbull->survival[k - 1] : 1;
  bool inside = k < turnbull->count && turnbull->left[k] < t;
  return (tenter_interval){inside ? turnbull->survival[k] : above, above};
}

tenter_interval tenter_turnbull_quantile(const tenter_turnbull *turnbull, double p) {
  const double rounding = 1e-12;
  if (!(p > 0 && p < 1))
    return (tenter_interval){NAN, NAN};
  size_t k = 0;
  while (k + 1 < turnbull->count && turnbull->survival[k] > 1 - p + rounding)
    k++;
  return (tenter_interval){turnbull->left[k], turnbull->right[k]};
}

tenter_life_curve tenter_turnbull_curve(const tenter_turnbull *turnbull, bool early, double *times,
                                        double *survival) {
  size_t count = turnbull->count;
  bool outlived = isinf(turnbull->right[count - 1]);
  tenter_life_curve curve = {.steps = times,
                             .survival = survival,
                             .count = outlived ? count - 1 : count,
                             .end = outlived ? turnbull->left[count - 1] : INFINITY};
  for (size_t k = 0; k < curve.count; k++) {
    times[k] = early ? turnbull->left[k] : turnbull->right[k];
    survival[k] = turnbull->survival[k];
  }
  return curve;
}
