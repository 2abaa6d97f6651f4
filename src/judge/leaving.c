/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The change-point test of one mounting; see leaving.h for model and method. Pure numbers: knows no
 * screens. */
#include "leaving.h"

#include <math.h>
#include <stdint.h>

#include "tenter/base/alloc.h"
#include "tenter/base/mix.h"
#include "tenter/stats/normal.h"

enum { DRAWS = 1024 };

/* ---- the filter ----------------------------------------------------------------------------- */

/* State of (a, k) after the first session, nothing known of a before. */
static own_curve first_state(const leaving_series *s, size_t first, double y, double k) {
  double c = s->curve[first], v = s->k_sd * s->k_sd;
  return (own_curve){
      .a = y - k * c, .k = k, .var_a = s->variance[first] + c * c * v, .var_k = v, .cov = -c * v};
}

/* Takes one session in; its forecast error, standardized. */
static double take(own_curve *state, double c, double variance, double y) {
  double with_a = state->var_a + c * state->cov, with_k = state->cov + c * state->var_k;
  double total = with_a + c * with_k + variance, error = y - state->a - state->k * c;
  state->a += with_a / total * error;
  state->k += with_k / total * error;
  state->var_a -= with_a * with_a / total;
  state->var_k -= with_k * with_k / total;
  state->cov -= with_a * with_k / total;
  return error / sqrt(total);
}

/* Standardized forecast errors of sessions 1 .. count - 1 of values y. */
static void forecast_errors(const leaving_series *s, const double *y, double k, double *error) {
  own_curve state = first_state(s, 0, y[0], k);
  for (size_t i = 1; i < s->count; i++)
    error[i - 1] = take(&state, s->curve[i], s->variance[i], y[i]);
}

own_curve judge__own_curve(const leaving_series *series, size_t from) {
  leaving_series s = *series;
  if (from > 0) { /* what the sessions before say of k */
    own_curve before =
        judge__own_curve(&(leaving_series){from, s.curve, s.y, s.variance, s.k_mean, s.k_sd}, 0);
    s.k_mean = before.k;
    s.k_sd = sqrt(before.var_k);
  }
  own_curve state = first_state(&s, from, s.y[from], s.k_mean);
  for (size_t i = from + 1; i < s.count; i++)
    take(&state, s.curve[i], s.variance[i], s.y[i]);
  return state;
}

/* ---- the steps ------------------------------------------------------------------------------ */

/* Of each possible step (rows) what a step of 1 does to the forecast errors (columns), as a vector
 * of length 1; length[row] is what it was. */
typedef struct steps {
  size_t count;      /* of rows and of columns: sessions - 1 */
  double *direction; /* count * count */
  double *length;
  double *draw; /* scratch: count */
} steps;

static void release(steps *t) {
  tenter_free(t->direction);
  tenter_free(t->length);
  tenter_free(t->draw);
}

static double dot(const double *a, const double *b, size_t first, size_t count) {
  double sum = 0;
  for (size_t i = first; i < count; i++)
    /* NOLINTNEXTLINE(clang-analyzer-core.*): draws are filled for all steps */
    sum += a[i] * b[i];
  return sum;
}

static bool make_steps(const leaving_series *s, steps *t) {
  size_t n = s->count - 1;
  *t = (steps){.count = n};
  t->direction = tenter_alloc(n * n, sizeof *t->direction);
  t->length = tenter_alloc(n, sizeof *t->length);
  t->draw = tenter_alloc(n, sizeof *t->draw);
  double *y = tenter_alloc(s->count, sizeof *y);
  bool made = t->direction && t->length && t->draw && y;
  for (size_t k = 0; made && k < n; k++) {
    double *row = &t->direction[k * n];
    for (size_t i = 0; i < s->count; i++)
      y[i] = i > k; /* session k + 1 is the first that is moved */
    forecast_errors(s, y, 0, row);
    t->length[k] = sqrt(dot(row, row, k, n));
    for (size_t i = 0; i < n; i++)
      row[i] /= t->length[k];
  }
  tenter_free(y);
  return made;
}

/* ---- the chance of so great a statistic ----------------------------------------------------- */

/* 1 / how many |z| reach the limit, in one draw in which that of step k does. */
static double share_of_draw(const steps *t, size_t k, double limit, uint64_t *random) {
  const double *chosen = &t->direction[k * t->count];
  for (size_t i = 0; i < t->count; i++)
    t->draw[i] = tenter_normal_quantile(tenter_draw_uniform(random));
  double tail = -tenter_normal_quantile(tenter_draw_uniform(random) * tenter_normal_above(limit));
  double move = tail - dot(chosen, t->draw, k, t->count);
  for (size_t i = k; i < t->count; i++)
    t->draw[i] += move * chosen[i];
  size_t reached = 0;
  for (size_t r = 0; r < t->count; r++)
    reached += r == k || fabs(dot(&t->direction[r * t->count], t->draw, r, t->count)) >= limit;
  return 1 / (double)reached;
}

static double chance_of(const steps *t, double limit) {
  double each = 2 * tenter_normal_above(limit), shares = 0;
  uint64_t random = 20260105;
  for (size_t i = 0; i < DRAWS; i++)
    /* NOLINTNEXTLINE(clang-analyzer-core.*): there are two steps at least */
    shares += share_of_draw(t, i % t->count, limit, &random);
  return fmin(1, (double)t->count * each * shares / DRAWS);
}

/* ---- the test ------------------------------------------------------------------------------- */

bool judge__leaving(const leaving_series *series, double rate, leaving_result *result) {
  *result = (leaving_result){.change = NAN, .change_se = NAN, .p = 1, .forecast_error = NAN};
  leaving_series s = *series;
  if (s.count < 2)
    return true;
  size_t skipped = s.count > LEAVING_MOST ? s.count - LEAVING_MOST : 0;
  s = (leaving_series){s.count - skipped,    s.curve + skipped, s.y + skipped,
                       s.variance + skipped, s.k_mean,          s.k_sd};
  double error[LEAVING_MOST], most = -1;
  steps t;
  bool made = make_steps(&s, &t);
  if (made) {
    forecast_errors(&s, s.y, s.k_mean, error);
    for (size_t k = 0; k < t.count; k++) {
      double z = dot(&t.direction[k * t.count], error, k, t.count);
      if (!(fabs(z) > most))
        continue;
      most = fabs(z);
      result->at = skipped + k + 1;
      result->change = z / t.length[k];
      result->change_se = 1 / t.length[k];
    }
    double alone = 2 * tenter_normal_above(most);
    result->p = alone > rate ? fmin(1, alone * (double)t.count) : chance_of(&t, most);
    result->left = result->p <= rate;
    result->forecast_error = error[s.count - 2];
  }
  release(&t);
  return made;
}
