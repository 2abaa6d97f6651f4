/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths of EWMA and CUSUM by integral equations.
 *
 * Model      one recursion for both: y' = keep y + gain z + drift on [low, high]; above high is a
 *            signal, below low is one too (two-sided EWMA) or becomes low (a barrier: CUSUM,
 *            one-sided EWMA).
 * Equation   L(y) = 1 + P(y' at the barrier) L(low) + integral of L(y') k(y, y') dy'
 *            (Page 1954, Biometrika 41:100; Crowder 1987, Technometrics 29:401), k the density of
 *            y' given y: an analytic kernel, so that Gauss-Legendre nodes (Nystroem) converge
 *            geometrically. Nodes are doubled until two answers agree.
 * Two sides  of a CUSUM: 1/L = 1/L+ + 1/L- from 0; with a head start of at most half the decision,
 *            when one side signals the other has come to 0, so L = (L+(h) L-(0) + L+(0) L-(h)
 *            - L+(0) L-(0)) / (L+(0) + L-(0)) (Lucas and Crosier 1982, Technometrics 24:199).
 * Exact EWMA limits: the density of the average is carried forward while they grow, then
 *            L = sum P(T > k) + integral of density L.
 * Relies on arl_law, chart_numeric and GSL's LU. */
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "arl_internal.h"
#include "chart_numeric.h"
#include "tenter/base/alloc.h"

enum { FIRST_NODES = 24, MOST_NODES = 800 };

typedef struct recursion {
  double keep, gain, drift, low, high;
  bool barrier;
} recursion;

/* Nodes on [low, high] and, last, the barrier: point[count - 1] = low with weight 0 in integrals.
 */
typedef struct grid {
  size_t nodes, count; /* count = nodes + barrier */
  double *point, *weight, *value, *matrix;
  size_t *order; /* of the LU */
} grid;

static void grid_free(grid *g) {
  tenter_free(g->point);
  tenter_free(g->order);
  memset(g, 0, sizeof *g);
}

static tenter_status grid_new(const recursion *r, size_t nodes, grid *g, tenter_error *error) {
  size_t n = nodes + r->barrier;
  *g = (grid){.nodes = nodes, .count = n};
  g->point = tenter_alloc(n * (n + 3), sizeof *g->point);
  g->order = tenter_alloc(n, sizeof *g->order);
  if (!g->point || !g->order) {
    grid_free(g);
    tenter_fail_memory(error);
    return TENTER_FAILED;
  }
  g->weight = g->point + n;
  g->value = g->weight + n;
  g->matrix = g->value + n;
  chart_nodes(nodes, r->low, r->high, g->point, g->weight);
  if (r->barrier)
    g->point[nodes] = r->low;
  return TENTER_OK;
}

static double kernel(const recursion *r, const arl_law *law, double from, double to) {
  return arl_law_density(law, (to - r->keep * from - r->drift) / r->gain) / fabs(r->gain);
}

/* P(y' at the barrier). */
static double caught(const recursion *r, const arl_law *law, double from) {
  double z = (r->low - r->keep * from - r->drift) / r->gain;
  return r->gain > 0 ? arl_law_below(law, z) : arl_law_above(law, z);
}

/* The weight of value[j] in the expectation from a place. */
static double share(const recursion *r, const arl_law *law, const grid *g, double from, size_t j) {
  return j < g->nodes ? g->weight[j] * kernel(r, law, from, g->point[j]) : caught(r, law, from);
}

static double expectation(const recursion *r, const arl_law *law, const grid *g, double from) {
  double sum = 0;
  for (size_t j = 0; j < g->count; j++)
    sum += share(r, law, g, from, j) * g->value[j];
  return sum;
}

/* (I - K) value = 1. */
static tenter_status solve(const recursion *r, const arl_law *law, grid *g, tenter_error *error) {
  size_t n = g->count;
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j < n; j++)
      g->matrix[i * n + j] = (double)(i == j) - share(r, law, g, g->point[i], j);
    g->value[i] = 1;
  }
  gsl_matrix_view a = gsl_matrix_view_array(g->matrix, n, n);
  gsl_vector_view b = gsl_vector_view_array(g->value, n);
  gsl_permutation order = {n, g->order};
  int sign;
  if (gsl_linalg_LU_decomp(&a.matrix, &order, &sign) != 0 ||
      gsl_linalg_LU_svx(&a.matrix, &order, &b.vector) != 0)
    return tenter_fail(error, TENTER_FAILED, "The equation of a run length can't be solved.");
  return TENTER_OK;
}

/* Something that is computed on a grid. */
typedef tenter_status on_grid(const recursion *r, const arl_law *law, grid *g, void *context,
                              double *answer, tenter_error *error);

/* Infinite where two answers in turn are too long, or beyond what can be told (then they may be
 * below 1). */
static tenter_status refine(on_grid *f, const recursion *r, const arl_law *law,
                            arl_accuracy accuracy, void *context, double *answer,
                            tenter_error *error) {
  double before = NAN;
  for (size_t nodes = FIRST_NODES; nodes <= MOST_NODES; nodes *= 2) {
    grid g;
    tenter_status status = grid_new(r, nodes, &g, error);
    if (status != TENTER_OK)
      return status;
    status = f(r, law, &g, context, answer, error);
    grid_free(&g);
    if (status != TENTER_OK)
      return status;
    bool endless = !(*answer >= 1 && *answer < accuracy.longest);
    if (endless && isinf(before)) {
      *answer = INFINITY;
      return TENTER_OK;
    }
    if (!endless &&
        fabs(*answer - before) <= (accuracy.relative + accuracy.rate * *answer) * *answer)
      return TENTER_OK;
    before = endless ? INFINITY : *answer;
  }
  return tenter_fail(
      error, TENTER_FAILED,
      "A run length can't be computed: it is beyond what doubles can tell, or the points "
      "hardly vary beside the limits.");
}

/* ---- fixed limits ---- */

static tenter_status length_from(const recursion *r, const arl_law *law, grid *g, void *from,
                                 double *arl, tenter_error *error) {
  tenter_status status = solve(r, law, g, error);
  *arl = 1 + expectation(r, law, g, *(double *)from);
  return status;
}

static recursion ewma_recursion(const tenter_scheme *s) {
  double high = s->width * sqrt(s->lambda / (2 - s->lambda));
  return (recursion){1 - s->lambda, s->lambda, 0, s->one_sided ? 0 : -high, high, s->one_sided};
}

static recursion cusum_recursion(const tenter_scheme *s, int side) {
  return (recursion){1, side, -s->reference, 0, s->decision, true};
}

/* ---- exact limits of an EWMA ---- */

typedef struct growing {
  const tenter_scheme *scheme;
  double end; /* the limits count as grown when they lack less than this, relative */
} growing;

static double limit_after(const tenter_scheme *s, size_t points) {
  double decay = pow(1 - s->lambda, 2 * (double)points);
  return s->width * sqrt(s->lambda / (2 - s->lambda) * (1 - decay));
}

/* The density of the average after the next point, at nodes within the new limits; P(alive). */
static double carry(const recursion *r, const arl_law *law, grid *g, const double *unit,
                    const double *unit_weight, double old_limit, double limit, double *density) {
  size_t n = g->nodes;
  double *next = g->matrix, alive = 0;
  for (size_t i = 0; i < n; i++) {
    next[i] = old_limit == 0 ? kernel(r, law, 0, limit * unit[i]) : 0;
    for (size_t j = 0; old_limit > 0 && j < n; j++)
      next[i] += old_limit * unit_weight[j] * density[j] *
                 kernel(r, law, old_limit * unit[j], limit * unit[i]);
    alive += limit * unit_weight[i] * next[i];
  }
  memcpy(density, next, n * sizeof *density);
  return alive;
}

static tenter_status length_growing(const recursion *r, const arl_law *law, grid *g, void *context,
                                    double *arl, tenter_error *error) {
  const growing *how = context;
  size_t n = g->nodes;
  double *unit = tenter_alloc(3 * n, sizeof *unit), limit = 0, sum = 1;
  if (!unit)
    return tenter_fail_memory(error);
  double *unit_weight = unit + n, *density = unit_weight + n;
  chart_nodes(n, -1, 1, unit, unit_weight);
  for (size_t k = 1;; k++) {
    double next = limit_after(how->scheme, k);
    double alive = carry(r, law, g, unit, unit_weight, limit, next, density);
    limit = next;
    if (limit >= r->high * (1 - how->end))
      break;
    sum += alive;
  }
  tenter_status status = solve(r, law, g, error);
  for (size_t i = 0; i < n; i++) /* the nodes of the grid are the unit nodes, stretched */
    sum += limit * unit_weight[i] * density[i] * g->value[i];
  tenter_free(unit);
  *arl = sum;
  return status;
}

/* ---- entry: average run length ---- */

/* The formula above; a side that never signals drops out. */
static double both_sides(const double zero[2], const double head[2]) {
  if (isinf(zero[1]))
    return head[0];
  if (isinf(zero[0]))
    return head[1];
  double all = zero[0] + zero[1];
  return head[0] * (zero[1] / all) + (head[1] - zero[1]) * (zero[0] / all);
}

static tenter_status cusum(const tenter_scheme *s, const arl_law *law, arl_accuracy accuracy,
                           double *arl, tenter_error *error) {
  double zero = 0, head = s->head_start, from_zero[2], from_head[2];
  for (int side = 0; side < (s->one_sided ? 1 : 2); side++) {
    recursion r = cusum_recursion(s, side == 0 ? 1 : -1);
    tenter_status status = refine(length_from, &r, law, accuracy, &head, &from_head[side], error);
    from_zero[side] = from_head[side];
    if (status == TENTER_OK && head > 0 && !s->one_sided)
      status = refine(length_from, &r, law, accuracy, &zero, &from_zero[side], error);
    if (status != TENTER_OK)
      return status;
  }
  if (s->one_sided) {
    *arl = from_head[0];
    return TENTER_OK;
  }
  *arl = both_sides(from_zero, from_head);
  return TENTER_OK;
}

tenter_status arl_sums(const tenter_scheme *s, const arl_law *law, arl_accuracy accuracy,
                       double *arl, tenter_error *error) {
  if (s->kind == TENTER_SCHEME_CUSUM)
    return cusum(s, law, accuracy, arl, error);
  recursion r = ewma_recursion(s);
  double zero = 0;
  growing how = {s, 0.01 * accuracy.relative};
  return s->exact ? refine(length_growing, &r, law, accuracy, &how, arl, error)
                  : refine(length_from, &r, law, accuracy, &zero, arl, error);
}

/* ---- steady state ---- */

/* Left eigenvector of the kernel under N(0, 1), the distribution of the statistic given no signal,
 * by power iteration. density: one value a point of the grid, that of the barrier a probability. */
static void settle(const recursion *r, const grid *g, double *density, double *next) {
  arl_law calm = arl_law_of((tenter_process){0, 1});
  double change = 1;
  for (size_t i = 0; i < g->count; i++) {
    density[i] = i < g->nodes ? 1 / (r->high - r->low) : 0;
    for (size_t j = 0; j < g->count; j++) /* matrix[i][j]: i -> j */
      g->matrix[i * g->count + j] =
          j < g->nodes ? kernel(r, &calm, g->point[i], g->point[j]) : caught(r, &calm, g->point[i]);
  }
  for (int step = 0; step < 20000 && change > 1e-13; step++) {
    double mass = 0;
    for (size_t j = 0; j < g->count; j++)
      next[j] = 0;
    for (size_t i = 0; i < g->count; i++)
      for (size_t j = 0; j < g->count; j++)
        next[j] += (i < g->nodes ? g->weight[i] : 1) * density[i] * g->matrix[i * g->count + j];
    for (size_t j = 0; j < g->count; j++)
      mass += (j < g->nodes ? g->weight[j] : 1) * next[j];
    change = 0;
    for (size_t j = 0; j < g->count; j++) {
      change = fmax(change, fabs(next[j] / mass - density[j]));
      density[j] = next[j] / mass;
    }
  }
}

static tenter_status length_steady(const recursion *r, const arl_law *law, grid *g, void *context,
                                   double *arl, tenter_error *error) {
  (void)context;
  double *density = tenter_alloc(2 * g->count, sizeof *density);
  if (!density)
    return tenter_fail_memory(error);
  settle(r, g, density, density + g->count);
  tenter_status status = solve(r, law, g, error);
  *arl = 0;
  for (size_t i = 0; i < g->count; i++)
    *arl += (i < g->nodes ? g->weight[i] : 1) * density[i] * g->value[i];
  tenter_free(density);
  return status;
}

tenter_status arl_sums_steady(const tenter_scheme *s, const arl_law *law, arl_accuracy accuracy,
                              double *arl, tenter_error *error) {
  recursion r = s->kind == TENTER_SCHEME_CUSUM ? cusum_recursion(s, 1) : ewma_recursion(s);
  return refine(length_steady, &r, law, accuracy, NULL, arl, error);
}

/* ---- survival ---- */

typedef struct survival {
  const tenter_scheme *scheme;
  double from;
  size_t count;
  double *alive;
} survival;

/* u_0 = 1, u_(k+1)(y) = E u_k(y'): P(no signal in k points | start at y). */
static tenter_status alive_fixed(const recursion *r, const arl_law *law, grid *g, survival *s,
                                 tenter_error *error) {
  double *next = tenter_alloc(g->count, sizeof *next);
  if (!next)
    return tenter_fail_memory(error);
  size_t n = g->count;
  for (size_t i = 0; i < n; i++) {
    g->value[i] = 1;
    for (size_t j = 0; j < n; j++)
      g->matrix[i * n + j] = share(r, law, g, g->point[i], j);
  }
  for (size_t k = 0; k < s->count; k++) {
    s->alive[k] = k == 0 ? 1 : fmin(expectation(r, law, g, s->from), 1);
    if (k == 0)
      continue;
    for (size_t i = 0; i < n; i++) {
      next[i] = 0;
      for (size_t j = 0; j < n; j++)
        next[i] += g->matrix[i * n + j] * g->value[j];
    }
    memcpy(g->value, next, n * sizeof *next);
  }
  tenter_free(next);
  return TENTER_OK;
}

static tenter_status alive_growing(const recursion *r, const arl_law *law, grid *g, survival *s,
                                   tenter_error *error) {
  size_t n = g->nodes;
  double *unit = tenter_alloc(3 * n, sizeof *unit), limit = 0;
  if (!unit)
    return tenter_fail_memory(error);
  double *unit_weight = unit + n, *density = unit_weight + n;
  chart_nodes(n, -1, 1, unit, unit_weight);
  for (size_t k = 0; k < s->count; k++) {
    double next = limit_after(s->scheme, k);
    s->alive[k] = k == 0 ? 1 : fmin(carry(r, law, g, unit, unit_weight, limit, next, density), 1);
    limit = next;
  }
  tenter_free(unit);
  return TENTER_OK;
}

/* The answer that is refined is the sum of all, at least 1. */
static tenter_status alive_on(const recursion *r, const arl_law *law, grid *g, void *context,
                              double *answer, tenter_error *error) {
  survival *s = context;
  tenter_status status = s->scheme->kind == TENTER_SCHEME_EWMA && s->scheme->exact
                             ? alive_growing(r, law, g, s, error)
                             : alive_fixed(r, law, g, s, error);
  *answer = 0;
  for (size_t k = 0; status == TENTER_OK && k < s->count; k++)
    *answer += s->alive[k];
  return status;
}

tenter_status arl_sums_alive(const tenter_scheme *s, const arl_law *law, arl_accuracy accuracy,
                             size_t count, double *alive, tenter_error *error) {
  bool cusum = s->kind == TENTER_SCHEME_CUSUM;
  recursion r = cusum ? cusum_recursion(s, 1) : ewma_recursion(s);
  survival context = {s, cusum ? s->head_start : 0, count, alive};
  double sum;
  return count == 0 ? TENTER_OK : refine(alive_on, &r, law, accuracy, &context, &sum, error);
}
