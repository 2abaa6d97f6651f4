/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Variable projection: at given searched parameters the linear ones of each series are solved for,
 * and what is left is what the search sees.
 *
 *   A = root * basis = Q R by modified Gram-Schmidt, which goes on with root * y as one more column
 *   (so it is backward stable: Bjorck 1967, BIT 7:1); r is what is left of it, c = R^-1 Q'(root *
 * y). Kaufman's Jacobian of r is -(I - QQ') root * d(basis c)/ds: its gradient is exact, and its
 * inverse square is the searched block of the full covariance. With the plateau below its least
 * value the convex problem has its solution at that value: the column is taken out and solved
 * again. A linear parameter that is fixed (for its profile) is a column less. */
#include <math.h>
#include <string.h>

#include "law_internal.h"

#define COLUMN_TOLERANCE 1e-10 /* a column of which less is left depends on those before it */

/* Takes the part along unit column q out of v; returns its length. */
static double take_out(const double *q, double *v, size_t n) {
  double along = fit_dot(q, v, n);
  for (size_t i = 0; i < n; i++)
    v[i] -= along * q[i];
  return along;
}

/* Orthonormal columns of root * phi from column `from` on; R column by column, [j][k] for j <= k.
 */
static void orthogonalise(tenter_law_space *space, law_series *series, size_t from,
                          double R[LAW_LINEAR][LAW_LINEAR]) {
  size_t n = series->n, stride = space->count;
  const double *root = space->root + series->first;
  series->rank = 0;
  for (size_t k = from; k < space->row->info.linear; k++) {
    const double *phi = space->phi + k * stride + series->first;
    double *q = space->q + k * stride + series->first;
    series->used[k] = false;
    if (k + 1 == space->fixed)
      continue;
    for (size_t i = 0; i < n; i++)
      q[i] = root[i] * phi[i];
    double whole = sqrt(fit_dot(q, q, n));
    for (size_t j = from; j < k; j++)
      if (series->used[j])
        R[j][k] = take_out(space->q + j * stride + series->first, q, n);
    double left = sqrt(fit_dot(q, q, n));
    series->used[k] = left > COLUMN_TOLERANCE * whole;
    if (!series->used[k])
      continue;
    R[k][k] = left;
    double inverse = 1 / left;
    for (size_t i = 0; i < n; i++)
      q[i] *= inverse;
    series->rank++;
  }
}

/* Linear parameters from column `from` on and what they leave of r. */
static void solve_from(tenter_law_space *space, law_series *series, size_t from, double *r) {
  double R[LAW_LINEAR][LAW_LINEAR] = {{0}}, d[LAW_LINEAR] = {0};
  size_t stride = space->count;
  orthogonalise(space, series, from, R);
  for (size_t k = from; k < space->row->info.linear; k++)
    if (series->used[k])
      d[k] = take_out(space->q + k * stride + series->first, r, series->n);
  for (size_t k = space->row->info.linear; k-- > from;) {
    series->c[k] = k + 1 == space->fixed ? space->fixed_at : 0;
    if (!series->used[k])
      continue;
    double sum = d[k];
    for (size_t j = k + 1; j < space->row->info.linear; j++)
      if (series->used[j])
        sum -= R[k][j] * series->c[j];
    series->c[k] = sum / R[k][k];
  }
}

/* root * (y - first * its basis), less a fixed one further on */
static void weighted_values(const tenter_law_space *space, const law_series *series, double first,
                            double *r) {
  bool other = space->fixed > 1;
  const double *phi = space->phi + (other ? (space->fixed - 1) * space->count : 0);
  for (size_t i = 0; i < series->n; i++) {
    size_t at = series->first + i;
    r[i] = space->root[at] * (space->y[at] - first * space->phi[at]);
    if (other)
      r[i] -= space->root[at] * space->fixed_at * phi[at];
  }
}

static void project(tenter_law_space *space, law_series *series, double *r) {
  bool fixed = space->fixed == 1;
  double first = fixed ? space->fixed_at : space->plateau_min;
  series->held = fixed || space->plateau == TENTER_LAW_PLATEAU_KNOWN;
  if (!series->held) {
    weighted_values(space, series, 0, r);
    solve_from(space, series, 0, r);
    series->held = space->plateau == TENTER_LAW_PLATEAU_BOUNDED && series->used[0] &&
                   series->c[0] < space->plateau_min;
  }
  if (!series->held)
    return;
  weighted_values(space, series, first, r);
  series->used[0] = false;
  solve_from(space, series, 1, r);
  series->c[0] = first;
}

bool law_residual(void *context, const double *s, double *r) {
  tenter_law_space *space = context;
  law_ages ages = {space->count, space->t, space->log_t};
  space->row->basis(ages, s, space->phi, space->count, space->work);
  for (size_t k = 0; k < space->series_count; k++)
    project(space, &space->series[k], r + space->series[k].first);
  return true;
}

/* d value / d s of one series, times root and sign. */
static void weighted_slope(tenter_law_space *space, const law_series *series, const double *s,
                           double sign, double *out) {
  size_t first = series->first, n = space->count;
  law_ages ages = {series->n, space->t + first, space->log_t + first};
  space->row->slope(ages, s, series->c, space->phi + first, out + first, n, space->work + first);
  for (size_t k = 0; k < space->searched; k++)
    for (size_t i = first; i < first + series->n; i++)
      out[k * n + i] *= sign * space->root[i];
}

bool law_jacobian(void *context, const double *s, double *jacobian) {
  tenter_law_space *space = context;
  size_t n = space->count;
  for (size_t l = 0; l < space->series_count; l++) {
    const law_series *series = &space->series[l];
    weighted_slope(space, series, s, -1, jacobian);
    for (size_t k = 0; k < space->searched; k++)
      for (size_t j = 0; j < space->row->info.linear; j++)
        if (series->used[j])
          take_out(space->q + j * n + series->first, jacobian + k * n + series->first, series->n);
  }
  return true;
}

void law_factor(tenter_law_space *space) {
  double R[LAW_LINEAR][LAW_LINEAR];
  for (size_t k = 0; k < space->series_count; k++)
    orthogonalise(space, &space->series[k], space->series[k].held ? 1 : 0, R);
}

void law_full_jacobian(tenter_law_space *space, const double *s, double *jacobian) {
  size_t n = space->count, linear = space->row->info.linear;
  for (size_t k = 0; k < linear; k++)
    for (size_t i = 0; i < n; i++)
      jacobian[k * n + i] = space->root[i] * space->phi[k * n + i];
  if (space->searched > 0)
    weighted_slope(space, &space->series[0], s, 1, jacobian + linear * n);
}

void law_plain_residual(const tenter_law_space *space, double *out) {
  for (size_t l = 0; l < space->series_count; l++) {
    const law_series *series = &space->series[l];
    for (size_t i = series->first; i < series->first + series->n; i++) {
      double value = 0;
      for (size_t k = 0; k < space->row->info.linear; k++)
        value += series->c[k] * space->phi[k * space->count + i];
      out[i] = space->y[i] - value;
    }
  }
}

void law_search_by(tenter_law_space *space, law_residuals *residual, law_residuals *jacobian,
                   const double *low, const double *high, double *s, fit_outcome *outcome) {
  fit_task task = {.n = space->count,
                   .p = space->searched,
                   .residual = residual,
                   .jacobian = jacobian,
                   .context = space,
                   .low = low,
                   .high = high,
                   .unit = 1,
                   .factor = 1,
                   .size = space->size,
                   .tolerance = space->tolerance,
                   .max_iterations = 1000,
                   .r = space->r,
                   .trial = space->trial,
                   .matrix = space->matrix};
  fit_search(&task, s, outcome);
}

void law_search(tenter_law_space *space, const double *low, const double *high, double *s,
                fit_outcome *outcome) {
  if (space->searched > 0) {
    law_search_by(space, law_residual, law_jacobian, low, high, s, outcome);
    return;
  }
  double square = 0;
  law_residual(space, s, space->r);
  for (size_t i = 0; i < space->count; i++)
    square += space->r[i] * space->r[i];
  *outcome = (fit_outcome){.stop = TENTER_FIT_STOP_LINEAR, .evaluations = 1, .rss = square};
}
