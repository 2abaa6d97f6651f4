/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A gauge study that is not balanced: crossed random effects by restricted maximum likelihood.
 *
 * Outline. Repeats within a cell (part x person) tell of the repeats' variance alone; the cells'
 * means y have V = p J_part + o J_person + i I + e diag(1 / n), with one likelihood for both. With
 * e profiled out it has three parameters, the others' sd in units of e's, found by the simplex of
 * Nelder and Mead (even functions of them, so that zero is no edge). Information of the variances:
 * tr(P V_a P V_b) / 2 (Searle, Casella, McCulloch 1992, Variance Components, section 6.6). */
#include <gsl/gsl_blas.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multimin.h>
#include <math.h>

#include "gauge_internal.h"
#include "tenter/base/alloc.h"

enum { PART, PERSON, BOTH, REPEAT, COMPONENTS, MOST_CELLS = 200, STEPS = 2000, STARTS = 3 };

static const double nil = 1e-5; /* sd in units of the repeats' that count as zero */

typedef struct cells {
  size_t count, readings;
  size_t *part, *person;
  double *n, *mean;
  double within; /* sum of squares of repeats about their cell's mean */
  double logs;   /* of n, summed */
  gsl_matrix *v;
  gsl_vector *one, *rest; /* V^-1 of ones and of what the mean leaves, under way */
  double repeat;          /* e of the last evaluation */
  double mean_of_all;
} cells;

/* ---- cells ---------------------------------------------------------------------------------- */

static bool cells_new(cells *c, size_t most) {
  *c = (cells){.part = tenter_alloc(most, sizeof *c->part),
               .person = tenter_alloc(most, sizeof *c->person),
               .n = tenter_alloc(most, sizeof *c->n),
               .mean = tenter_alloc(most, sizeof *c->mean)};
  return c->part && c->person && c->n && c->mean;
}

static bool cells_room(cells *c) {
  c->v = gsl_matrix_alloc(c->count, c->count);
  c->one = gsl_vector_alloc(c->count);
  c->rest = gsl_vector_alloc(c->count);
  return c->v && c->one && c->rest;
}

static void cells_release(cells *c) {
  tenter_free(c->part);
  tenter_free(c->person);
  tenter_free(c->n);
  tenter_free(c->mean);
  gsl_matrix_free(c->v);
  gsl_vector_free(c->one);
  gsl_vector_free(c->rest);
}

/* From cell means and counts by part * people + person. */
static void cells_fill(cells *c, const gauge_data *d, const double *mean, const size_t *count) {
  for (size_t i = 0; i < d->parts * d->people; i++) {
    if (count[i] == 0)
      continue;
    c->part[c->count] = i / d->people;
    c->person[c->count] = i % d->people;
    c->n[c->count] = (double)count[i];
    c->mean[c->count++] = mean[i];
    c->logs += log((double)count[i]);
  }
  c->readings = d->count;
  for (size_t i = 0; i < d->count; i++) {
    double off = d->value[i] - mean[d->part[i] * d->people + d->person[i]];
    c->within += off * off;
  }
}

/* Cells that share a part with another person's: without them part and interaction are one. */
static size_t shared_parts(const cells *c) {
  size_t shared = 0;
  for (size_t i = 1; i < c->count; i++) /* in order of parts */
    shared += c->part[i] == c->part[i - 1];
  return shared;
}

/* ---- likelihood ----------------------------------------------------------------------------- */

static double covariance(const cells *c, const double variance[COMPONENTS], size_t a, size_t b) {
  double v = (c->part[a] == c->part[b] ? variance[PART] : 0) +
             (c->person[a] == c->person[b] ? variance[PERSON] : 0);
  return a == b ? v + variance[BOTH] + variance[REPEAT] / c->n[a] : v;
}

/* The Cholesky factor of V into c->v, V^-1 1 into c->one; returns log |V|, NaN where it can't. */
static double factor(cells *c, const double variance[COMPONENTS]) {
  double logs = 0;
  for (size_t a = 0; a < c->count; a++)
    for (size_t b = 0; b < c->count; b++)
      gsl_matrix_set(c->v, a, b, covariance(c, variance, a, b));
  if (gsl_linalg_cholesky_decomp1(c->v))
    return NAN;
  for (size_t a = 0; a < c->count; a++)
    logs += 2 * log(gsl_matrix_get(c->v, a, a));
  gsl_vector_set_all(c->one, 1);
  return gsl_linalg_cholesky_svx(c->v, c->one) ? NAN : logs;
}

/* Twice the negative restricted log-likelihood at sd in units of the repeats'. */
static double deviance(const gsl_vector *at, void *context) {
  cells *c = context;
  double variance[COMPONENTS] = {[REPEAT] = 1}, ones = 0, sum = 0, squares = c->within;
  for (size_t k = 0; k < at->size; k++)
    variance[k] = gsl_vector_get(at, k) * gsl_vector_get(at, k);
  double logs = factor(c, variance), df = (double)c->readings - 1;
  if (isnan(logs))
    return GSL_POSINF;
  for (size_t i = 0; i < c->count; i++) {
    ones += gsl_vector_get(c->one, i);
    sum += gsl_vector_get(c->one, i) * c->mean[i];
  }
  c->mean_of_all = sum / ones;
  for (size_t i = 0; i < c->count; i++)
    gsl_vector_set(c->rest, i, c->mean[i] - c->mean_of_all);
  if (gsl_linalg_cholesky_svx(c->v, c->rest))
    return GSL_POSINF;
  for (size_t i = 0; i < c->count; i++)
    squares += gsl_vector_get(c->rest, i) * (c->mean[i] - c->mean_of_all);
  c->repeat = squares / df;
  return df * (1 + log(2 * M_PI * c->repeat)) + logs + c->logs + log(ones);
}

/* Best sd in units of the repeats'; returns the deviance there, NaN without memory. */
static double search(cells *c, gsl_vector *at, gsl_vector *step) {
  gsl_multimin_fminimizer *s =
      gsl_multimin_fminimizer_alloc(gsl_multimin_fminimizer_nmsimplex2, at->size);
  gsl_multimin_function f = {deviance, at->size, c};
  double best = NAN;
  for (int start = 0; s && start < STARTS; start++) { /* anew from where it stopped */
    gsl_vector_set_all(step, start ? 0.1 : 0.5);
    if (gsl_multimin_fminimizer_set(s, &f, at, step))
      break;
    for (int i = 0; i < STEPS && gsl_multimin_fminimizer_size(s) > 1e-9; i++)
      if (gsl_multimin_fminimizer_iterate(s))
        break;
    gsl_vector_memcpy(at, s->x);
    best = s->fval;
  }
  gsl_multimin_fminimizer_free(s);
  return best;
}

/* Variances from sd in units of the repeats', where the deviance was evaluated last. */
static void take_variances(const cells *c, const gsl_vector *at, double variance[COMPONENTS]) {
  variance[BOTH] = 0;
  variance[REPEAT] = c->repeat;
  for (size_t k = 0; k < at->size; k++) {
    double ratio = fabs(gsl_vector_get(at, k));
    variance[k] = ratio > nil ? ratio * ratio * c->repeat : 0;
  }
}

/* With or without the interaction: variances at the best, and the deviance; NaN where it can't. */
static double fit(cells *c, bool both, double variance[COMPONENTS]) {
  size_t n = both ? COMPONENTS - 1 : BOTH;
  gsl_vector *at = gsl_vector_alloc(n), *step = gsl_vector_alloc(n);
  double best = NAN;
  if (at && step) {
    gsl_vector_set_all(at, 1);
    best = search(c, at, step);
    if (!isnan(best)) {
      best = deviance(at, c);
      take_variances(c, at, variance);
    }
  }
  gsl_vector_free(at);
  gsl_vector_free(step);
  return best;
}

/* ---- intervals ------------------------------------------------------------------------------ */

/* P V_k: P = V^-1 - V^-1 1 1' V^-1 / 1' V^-1 1. */
static void fill_product(const cells *c, const gsl_matrix *p, size_t k, gsl_matrix *out) {
  double unit[COMPONENTS] = {0};
  unit[k] = 1;
  gsl_matrix *v = c->v;
  for (size_t a = 0; a < c->count; a++)
    for (size_t b = 0; b < c->count; b++)
      gsl_matrix_set(v, a, b, covariance(c, unit, a, b));
  gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, p, v, 0, out);
}

static bool fill_projection(cells *c, const double variance[COMPONENTS], gsl_matrix *p) {
  double ones = 0;
  if (isnan(factor(c, variance)))
    return false;
  gsl_matrix_memcpy(p, c->v);
  if (gsl_linalg_cholesky_invert(p))
    return false;
  for (size_t i = 0; i < c->count; i++)
    ones += gsl_vector_get(c->one, i);
  return gsl_blas_dger(-1 / ones, c->one, c->one, p) == 0;
}

static double trace_of_product(const gsl_matrix *a, const gsl_matrix *b) {
  double trace = 0;
  for (size_t i = 0; i < a->size1; i++)
    for (size_t k = 0; k < a->size2; k++)
      trace += gsl_matrix_get(a, i, k) * gsl_matrix_get(b, k, i);
  return trace;
}

/* Covariances of the variances; rows of those at zero stay zero. False where it can't be had. */
static bool covariances(cells *c, const double variance[COMPONENTS],
                        double cov[COMPONENTS][COMPONENTS]) {
  size_t kept[COMPONENTS] = {0}, n = 0, count = c->count;
  gsl_matrix *p = gsl_matrix_alloc(count, count), *product[COMPONENTS] = {NULL};
  bool done = p && fill_projection(c, variance, p);
  for (size_t k = 0; k < COMPONENTS && done; k++) {
    if (!(variance[k] > 0))
      continue;
    product[n] = gsl_matrix_alloc(count, count);
    done = product[n] != NULL;
    if (done)
      fill_product(c, p, k, product[n]);
    kept[n++] = k;
  }
  double room[COMPONENTS * COMPONENTS] = {0};
  for (size_t a = 0; a < n && done; a++)
    for (size_t b = 0; b < n; b++)
      room[a * n + b] = trace_of_product(product[a], product[b]) / 2;
  if (done && n > 0) {
    room[n * n - 1] += (double)(c->readings - count) / 2 / (variance[REPEAT] * variance[REPEAT]);
    gsl_matrix_view information = gsl_matrix_view_array(room, n, n);
    done = !gsl_linalg_cholesky_decomp1(&information.matrix) &&
           !gsl_linalg_cholesky_invert(&information.matrix);
  }
  for (size_t a = 0; a < n && done; a++)
    for (size_t b = 0; b < n; b++)
      cov[kept[a]][kept[b]] = room[a * n + b];
  for (size_t a = 0; a < COMPONENTS; a++)
    gsl_matrix_free(product[a]);
  gsl_matrix_free(p);
  return done;
}

/* The sum of some of the variances, with Satterthwaite's degrees of freedom 2 v^2 / var(v). */
static tenter_gauge_part sum_of(const double variance[COMPONENTS],
                                double cov[COMPONENTS][COMPONENTS], const bool in[COMPONENTS]) {
  double v = 0, spread = 0;
  for (size_t a = 0; a < COMPONENTS; a++) {
    v += in[a] ? variance[a] : 0;
    for (size_t b = 0; b < COMPONENTS; b++)
      spread += in[a] && in[b] ? cov[a][b] : 0;
  }
  return gauge__part(v, spread > 0 ? 2 * v * v / spread : NAN);
}

static void take_parts(const cells *c, const double variance[COMPONENTS],
                       double cov[COMPONENTS][COMPONENTS], tenter_gauge_study *s) {
  s->mean = c->mean_of_all;
  s->repeatability = sum_of(variance, cov, (bool[]){false, false, false, true});
  s->interaction_part = sum_of(variance, cov, (bool[]){false, false, true, false});
  s->between_people = sum_of(variance, cov, (bool[]){false, true, false, false});
  s->between_parts = sum_of(variance, cov, (bool[]){true, false, false, false});
  s->reproducibility = sum_of(variance, cov, (bool[]){false, true, true, false});
  s->gauge = sum_of(variance, cov, (bool[]){false, true, true, true});
  s->total = sum_of(variance, cov, (bool[]){true, true, true, true});
}

/* ---- all of it ------------------------------------------------------------------------------ */

static tenter_status run(cells *c, tenter_gauge_study *s, tenter_error *error) {
  double full[COMPONENTS] = {0}, without[COMPONENTS] = {0}, cov[COMPONENTS][COMPONENTS] = {{0}};
  double apart = fit(c, true, full);
  double together = fit(c, false, without);
  if (isnan(apart) || isnan(together))
    return tenter_fail_memory(error);
  double ratio = together - apart; /* half of it is a chi-square, for zero is an edge */
  s->interaction_p = ratio > 0 ? gsl_cdf_chisq_Q(ratio, 1) / 2 : 0.5;
  s->pooled = s->interaction_p > TENTER_GAUGE_POOL_ABOVE;
  if (!s->pooled)
    apart = fit(c, true, full);
  s->log_likelihood = -(s->pooled ? together : apart) / 2;
  const double *variance = s->pooled ? without : full;
  if (!covariances(c, variance, cov))
    return tenter_fail(error, TENTER_INPUT,
                       "the study's variances can't be told apart: let more people read the same "
                       "points");
  take_parts(c, variance, cov, s);
  return TENTER_OK;
}

tenter_status gauge__unbalanced(const gauge_data *d, const double *mean, const size_t *count,
                                tenter_gauge_study *study, tenter_error *error) {
  cells c;
  tenter_status status =
      cells_new(&c, d->parts * d->people) ? TENTER_OK : tenter_fail_memory(error);
  if (!status) {
    cells_fill(&c, d, mean, count);
    bool tells = d->parts > 1 && d->people > 1 && c.readings > c.count && shared_parts(&c) > 1;
    if (!tells || c.count > MOST_CELLS)
      status = tenter_fail(error, TENTER_INPUT,
                           c.count > MOST_CELLS
                               ? "the study is too large to be analysed without being balanced: at "
                                 "most 200 pairs of a part and a person"
                               : "the study tells too little: at least two people must read the "
                                 "same points, and some points at least twice");
  }
  if (!status)
    status = cells_room(&c) ? run(&c, study, error) : tenter_fail_memory(error);
  cells_release(&c);
  return status;
}
