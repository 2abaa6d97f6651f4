/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fitting the nested model: Newton steps on the average information over the relative Cholesky
 * factors of T and t, scaled so that 1 means a standard deviation as large as a typical unit's own
 * error. -2 log L is even in each diagonal element, so that a variance of zero is an ordinary
 * stationary point and needs no bounds; its curvature there is twice the derivative by the
 * variance, which the constant second derivatives of T = L L' carry in.
 * Relies on: GSL (eigenvalues), base/alloc. */
#include <math.h>
#include <string.h>

#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

enum { N = NESTED_PARAMETERS, MOST_STEPS = 100, MOST_HALVINGS = 30 };

static const double enough = 1e-10;    /* stop when a step promises less of -2 log L */
static const double nil_factor = 1e-3; /* diagonal below which zero is tried */

/* A search over the active elements of x; factor = scale * x. */
typedef struct search {
  nested_state *state;
  bool ml;
  size_t n;
  size_t active[N];
  double scale[N], x[N]; /* all six; inactive ones stay 0 */
  double value;          /* -2 log L at x */
  double gradient[N], hessian[N * N];
  size_t evaluations;
} search;

static nested_point point_of(const search *s, const double *x) {
  nested_point at;
  for (size_t k = 0; k < N; k++)
    at.factor[k] = s->scale[k] * x[k];
  return at;
}

static double value_at(search *s, const double *x) {
  nested_point at = point_of(s, x);
  nested_evaluate(s->state, &at);
  double value = nested_deviance(s->state, s->ml, NULL);
  return isnan(value) ? INFINITY : value;
}

/* The derivative of (T00, T01, T11) by (l11, l21, l22): rows T. */
static void factor_jacobian(const double *l, double J[3][3]) {
  const double j[3][3] = {{2 * l[0], 0, 0}, {l[1], l[0], 0}, {0, 2 * l[1], 2 * l[2]}};
  memcpy(J, j, sizeof j);
}

/* First and average second derivatives by the elements (T00, T01, T11, t00, t01, t11), sigma^2
 * profiled out. */
static void element_derivatives(const search *s, double g[N], double h[N * N]) {
  const nested_state *st = s->state;
  double df = (double)st->plan->products->observations - (s->ml ? 0 : (double)st->plan->fixed);
  double variance = st->square / df, c[N];
  for (size_t i = 0; i < 2; i++) {
    sym2 q = scale2(st->quad[i], 1 / variance), t = st->trace[i];
    c[3 * i] = q.level;
    c[3 * i + 1] = 2 * q.cross;
    c[3 * i + 2] = q.slope;
    g[3 * i] = t.level - q.level;
    g[3 * i + 1] = 2 * (t.cross - q.cross);
    g[3 * i + 2] = t.slope - q.slope;
  }
  for (size_t j = 0; j < N; j++)
    for (size_t k = 0; k < N; k++)
      h[j * N + k] = st->information[j * N + k] / variance - c[j] * c[k] / df;
}

/* The same by the six factors: J'hJ and the second derivatives of T, t; both times scale. */
static void factor_derivatives(const search *s, const double g[N], const double h[N * N],
                               double gf[N], double hf[N * N]) {
  double J[2][3][3];
  const double *l = s->state->at.factor;
  factor_jacobian(l, J[0]);
  factor_jacobian(l + 3, J[1]);
  for (size_t j = 0; j < N; j++) {
    gf[j] = 0;
    for (size_t r = 0; r < 3; r++)
      gf[j] += s->scale[j] * J[j / 3][r][j % 3] * g[j / 3 * 3 + r];
    for (size_t k = 0; k < N; k++) {
      double sum = 0;
      for (size_t r = 0; r < 3; r++)
        for (size_t t = 0; t < 3; t++)
          sum += J[j / 3][r][j % 3] * h[(j / 3 * 3 + r) * N + k / 3 * 3 + t] * J[k / 3][t][k % 3];
      hf[j * N + k] = sum * s->scale[j] * s->scale[k];
    }
  }
  for (size_t i = 0; i < N; i += 3) {
    hf[i * N + i] += 2 * g[i] * s->scale[i] * s->scale[i];
    hf[i * N + i + 1] += g[i + 1] * s->scale[i] * s->scale[i + 1];
    hf[(i + 1) * N + i] += g[i + 1] * s->scale[i] * s->scale[i + 1];
    hf[(i + 1) * N + i + 1] += 2 * g[i + 2] * s->scale[i + 1] * s->scale[i + 1];
    hf[(i + 2) * N + i + 2] += 2 * g[i + 2] * s->scale[i + 2] * s->scale[i + 2];
  }
}

/* Gradient and curvature at the state's point, for the active elements. */
static void differentiate(search *s) {
  double g[N], h[N * N], gf[N], hf[N * N];
  nested_differentiate(s->state, !s->ml);
  s->evaluations++;
  element_derivatives(s, g, h);
  factor_derivatives(s, g, h, gf, hf);
  for (size_t j = 0; j < s->n; j++) {
    s->gradient[j] = gf[s->active[j]];
    for (size_t k = 0; k < s->n; k++)
      s->hessian[j * s->n + k] = hf[s->active[j] * N + s->active[k]];
  }
}

/* ---- steps ---- */

/* GSL's workspace is made here, of n numbers four times: a search that ends early for want of
 * memory would end at another answer. */
bool nested_axes(size_t n, const double *matrix, double *values, double *vectors) {
  double copy[(N + 1) * (N + 1)], room[4][N + 1];
  gsl_eigen_symmv_workspace workspace = {n, room[0], room[1], room[2], room[3]};
  memcpy(copy, matrix, n * n * sizeof *copy);
  gsl_matrix_view a = gsl_matrix_view_array(copy, n, n);
  gsl_matrix_view v = gsl_matrix_view_array(vectors, n, n);
  gsl_vector_view e = gsl_vector_view_array(values, n);
  int status = gsl_eigen_symmv(&a.matrix, &e.vector, &v.matrix, &workspace);
  return status == GSL_SUCCESS;
}

/* The Newton step with curvatures made positive; returns what it promises (half of g'd is the gain
 * of a quadratic), or -1. A direction that curves down at a stationary point is stepped along. */
static double newton_step(const search *s, double *step) {
  double values[N] = {0}, vectors[N * N] = {0}, most = 0, promise = 0;
  if (!nested_axes(s->n, s->hessian, values, vectors))
    return -1;
  for (size_t k = 0; k < s->n; k++)
    most = fmax(most, fabs(values[k]));
  memset(step, 0, N * sizeof *step);
  for (size_t k = 0; k < s->n; k++) {
    double along = 0, curve = fmax(fabs(values[k]), 1e-7 * most);
    for (size_t j = 0; j < s->n; j++)
      along += vectors[j * s->n + k] * s->gradient[j];
    double move = curve > 0 ? -along / curve : 0;
    bool saddle = values[k] < -1e-6 * most && fabs(move) < 0.05;
    if (saddle)
      move = along > 0 ? -0.1 : 0.1;
    promise += saddle ? fabs(values[k]) * move * move : fabs(along * move);
    for (size_t j = 0; j < s->n; j++)
      step[s->active[j]] += vectors[j * s->n + k] * move;
  }
  return promise / 2;
}

/* Shortens a step that is long beside x. */
static void limit_step(const search *s, double *step) {
  double length = 0, size = 1;
  for (size_t k = 0; k < N; k++) {
    length = fmax(length, fabs(step[k]));
    size = fmax(size, fabs(s->x[k]));
  }
  for (size_t k = 0; k < N && length > 2 * size; k++)
    step[k] *= 2 * size / length;
}

/* Halves the step until -2 log L falls; false where it doesn't. */
static bool descend(search *s, const double *step) {
  double x[N], fraction = 1;
  for (size_t tries = 0; tries < MOST_HALVINGS; tries++) {
    for (size_t k = 0; k < N; k++)
      x[k] = s->x[k] + fraction * step[k];
    double value = value_at(s, x);
    if (value < s->value) {
      s->value = value;
      memcpy(s->x, x, sizeof x);
      return true;
    }
    fraction /= 2;
  }
  value_at(s, s->x);
  return false;
}

/* Newton steps from x to a stationary point; true when one was reached. */
static bool run(search *s) {
  s->value = value_at(s, s->x);
  for (size_t steps = 0; steps < MOST_STEPS; steps++) {
    double step[N] = {0};
    differentiate(s);
    double promise = newton_step(s, step);
    if (promise < 0)
      return false;
    limit_step(s, step);
    bool last = promise < enough;
    if (!descend(s, step) || last)
      return last || promise < 1e-6 * (1 + 1e-6 * fabs(s->value));
  }
  return false;
}

/* ---- boundaries ---- */

/* Sets element k to zero where that is no worse. */
static void try_zero(search *s, size_t k) {
  double x[N];
  if (s->x[k] == 0 || fabs(s->x[k]) > nil_factor)
    return;
  memcpy(x, s->x, sizeof x);
  x[k] = 0;
  double value = value_at(s, x);
  if (value <= s->value + 1e-8) {
    memcpy(s->x, x, sizeof x);
    s->value = value;
  }
}

/* A variance of zero or a correlation of +-1 among active elements. */
static bool at_boundary(const search *s, size_t first, tenter_nested_terms terms) {
  const double *x = s->x + first;
  return terms == TENTER_NESTED_LEVEL ? x[0] == 0
                                      : terms == TENTER_NESTED_LINE && (x[0] == 0 || x[2] == 0);
}

static void round_boundaries(search *s) {
  for (size_t first = 0; first < N; first += 3) {
    try_zero(s, first + 2);
    try_zero(s, first);
    if (s->x[first + 2] == 0)
      try_zero(s, first + 1);
  }
  value_at(s, s->x);
}

/* ---- the fit ---- */

static void activate(search *s, size_t first, tenter_nested_terms terms, const double *start) {
  const nested_plan *plan = s->state->plan;
  double scale[3] = {1 / sqrt(plan->unit_level), 1 / sqrt(plan->unit_slope),
                     1 / sqrt(plan->unit_slope)};
  memcpy(s->scale + first, scale, sizeof scale);
  size_t count = terms == TENTER_NESTED_LINE ? 3 : terms == TENTER_NESTED_LEVEL ? 1 : 0;
  for (size_t k = 0; k < count; k++) {
    s->active[s->n++] = first + k;
    s->x[first + k] = start[first + k] / s->scale[first + k];
  }
}

/* Refuses data without anything to estimate sigma^2 from. */
static tenter_status check_residual(nested_state *state, tenter_nested_terms unit,
                                    tenter_error *error) {
  const tenter_nested_products *p = state->plan->products;
  size_t q = state->plan->q;
  if (p->observations < state->plan->fixed + 1)
    return tenter_fail(error, TENTER_INPUT,
                       "%zu observations are too few for a nested model with %zu fixed effects",
                       p->observations, state->plan->fixed);
  nested_point none = {{0}};
  nested_evaluate(state, &none);
  double least = 1e-24 * p->raw[q - 1];
  bool own_all = unit == (p->terms == 2 ? TENTER_NESTED_LINE : TENTER_NESTED_LEVEL);
  if (!(state->square > least) || (own_all && !(p->within[q * q - 1] > least)))
    return tenter_fail(error, TENTER_INPUT,
                       "the observations of a nested model lie exactly on lines and leave no "
                       "residual to judge anything by");
  return TENTER_OK;
}

/* sigma^2 for a start: what is left within units, or else of all; the state is at zero. */
static double first_residual(const nested_state *state) {
  const tenter_nested_products *p = state->plan->products;
  size_t q = state->plan->q, lines = 0;
  for (size_t i = 0; i < p->unit_count; i++) {
    const double *record = nested_unit(p, i);
    lines += (size_t)(record[UNIT_A] > 0) + (size_t)(record[UNIT_B] > 0);
  }
  double within = p->within[q * q - 1], all = state->square / (double)p->observations;
  bool enough_within = p->observations > lines && within > 1e-6 * state->square;
  return enough_within ? within / (double)(p->observations - lines) : all;
}

/* From relative factors about shift to variances about 0. */
static sym2 component(const nested_state *s, sym2 relative, double variance) {
  return move2(scale2(relative, variance), -s->plan->shift);
}

static tenter_status finish(search *s, nested_plan *plan, tenter_pool *pool, tenter_nested_fit *fit,
                            tenter_error *error) {
  nested_state *state = s->state;
  double df = (double)plan->products->observations - (s->ml ? 0 : (double)plan->fixed);
  double variance = state->square / df;
  nested_point at = state->at;
  fit->components = (tenter_nested_components){variance, component(state, state->group, variance),
                                               component(state, state->unit, variance)};
  fit->loglik = -s->value / 2;
  fit->observations = plan->products->observations;
  fit->rank = plan->fixed;
  fit->evaluations = s->evaluations;
  fit->group_boundary = at_boundary(s, 0, fit->structure.group);
  fit->unit_boundary = at_boundary(s, 3, fit->structure.unit);
  nested_state_free(state);
  return nested_solution_new(plan, &at, variance, pool, &fit->solution, error);
}

tenter_status tenter_nested_fit_run(const tenter_nested_products *products,
                                    const tenter_nested_options *options, tenter_nested_fit *fit,
                                    tenter_error *error) {
  search s = {.ml = options->ml};
  nested_plan *plan = NULL;
  tenter_nested_fit result = {0};
  tenter_status status = tenter_nested_structure_find(products, options, &result.structure, error);
  bool grouped = result.structure.group != TENTER_NESTED_NONE;
  if (status == TENTER_OK)
    status = nested_plan_new(products, grouped, &plan, error);
  if (status)
    return status;
  status = nested_state_new(plan, options->pool, &s.state, error);
  if (status == TENTER_OK && !nested_score_room(s.state))
    status = tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = check_residual(s.state, result.structure.unit, error);
  if (status) {
    nested_state_free(s.state);
    nested_plan_free(plan);
    return status;
  }
  double start[N];
  nested_start(plan, first_residual(s.state), start);
  activate(&s, 0, result.structure.group, start);
  activate(&s, 3, result.structure.unit, start);
  result.converged = s.n == 0 || run(&s);
  round_boundaries(&s);
  if (s.n == 0)
    s.value = value_at(&s, s.x);
  status = finish(&s, plan, options->pool, &result, error);
  if (status == TENTER_OK)
    *fit = result;
  return status;
}

void tenter_nested_fit_release(tenter_nested_fit *fit) {
  tenter_nested_solution_free(fit->solution);
  fit->solution = NULL;
}
