/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Weights of M-estimation, their scale and standard errors, and the linear fit by iterated weighted
 * least squares. Relies on the QR of fit_qr.c. */
#include "tenter/stats/mestimate.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "fit_internal.h"
#include "tenter/base/alloc.h"

/* 95 % efficiency at the normal distribution (Holland and Welsch 1977). */
#define HUBER_K 1.345
#define BISQUARE_C 4.685
/* The upper quartile of the normal distribution, to the four digits that rlm uses. */
#define MAD_CONSTANT 0.6745

double tenter_psi_weight(tenter_psi psi, double u) {
  double size = fabs(u), rest;
  switch (psi) {
  case TENTER_PSI_HUBER:
    return size > HUBER_K ? HUBER_K / size : isnan(u) ? u : 1;
  case TENTER_PSI_BISQUARE:
    rest = 1 - (size / BISQUARE_C) * (size / BISQUARE_C);
    return rest < 0 ? 0 : rest * rest;
  case TENTER_PSI_NONE:
    break;
  }
  return isnan(u) ? u : 1;
}

double tenter_psi_slope(tenter_psi psi, double u) {
  double size = fabs(u), ratio;
  switch (psi) {
  case TENTER_PSI_HUBER:
    return isnan(u) ? u : size <= HUBER_K;
  case TENTER_PSI_BISQUARE:
    ratio = (size / BISQUARE_C) * (size / BISQUARE_C);
    return ratio > 1 ? 0 : (1 - ratio) * (1 - 5 * ratio);
  case TENTER_PSI_NONE:
    break;
  }
  return isnan(u) ? u : 1;
}

double tenter_mad_scale(const double *r, size_t count, double *scratch) {
  if (count == 0)
    return NAN;
  for (size_t i = 0; i < count; i++)
    scratch[i] = fabs(r[i]);
  return gsl_stats_median(scratch, 1, count) / MAD_CONSTANT;
}

double tenter_mestimate_sigma(tenter_psi psi, const double *r, size_t count, size_t parameters,
                              double scale) {
  double n = (double)count, p = (double)parameters, square = 0, mean = 0, spread = 0;
  if (count <= parameters)
    return NAN;
  for (size_t i = 0; i < count; i++) {
    double w = tenter_psi_weight(psi, r[i] / scale);
    square += r[i] * w * r[i] * w;
    mean += tenter_psi_slope(psi, r[i] / scale) / n;
  }
  for (size_t i = 0; i < count; i++) {
    double from = tenter_psi_slope(psi, r[i] / scale) - mean;
    spread += from * from;
  }
  if (!(mean > 0))
    return NAN;
  double k = 1 + p * (spread / (n - 1)) / (n * mean * mean);
  return sqrt(square / (n - p)) * k / mean;
}

/* ---- the linear fit ---- */

typedef struct linear {
  size_t n, p;
  const double *x, *y, *prior;
  double *robust, *matrix, *right, *r, *scratch; /* n, n p, n, n, n */
} linear;

static double prior_root(const linear *l, size_t i) {
  return l->prior ? sqrt(l->prior[i]) : 1;
}

/* Weighted least squares with prior and robust weights; false where columns depend on each other.
 */
static bool solve(const linear *l, double *coefficient) {
  size_t order[FIT_P];
  double R[FIT_P * FIT_P], length[FIT_P], z[FIT_P];
  for (size_t k = 0; k < l->p; k++) { /* columns of length 1: the rank is then a matter of angles */
    double square = 0;
    for (size_t i = 0; i < l->n; i++) {
      double v = prior_root(l, i) * sqrt(l->robust[i]) * l->x[k * l->n + i];
      l->matrix[k * l->n + i] = v;
      square += v * v;
    }
    length[k] = sqrt(square);
    for (size_t i = 0; i < l->n && square > 0; i++)
      l->matrix[k * l->n + i] /= length[k];
  }
  for (size_t i = 0; i < l->n; i++)
    l->right[i] = -prior_root(l, i) * sqrt(l->robust[i]) * l->y[i];
  if (fit_qr(l->matrix, l->n, l->p, l->right, order, R) < l->p)
    return false;
  fit_back_solve(R, l->p, l->p, l->right, z);
  for (size_t k = 0; k < l->p; k++)
    coefficient[order[k]] = z[k] / length[order[k]];
  return true;
}

/* Residuals times the root of the prior weight. */
static void residuals(const linear *l, const double *coefficient) {
  for (size_t i = 0; i < l->n; i++) {
    double fitted = 0;
    for (size_t k = 0; k < l->p; k++)
      fitted += coefficient[k] * l->x[k * l->n + i];
    l->r[i] = prior_root(l, i) * (l->y[i] - fitted);
  }
}

/* Iterates with psi from the coefficients at hand, until the residuals stand still. */
static bool iterate(const linear *l, tenter_psi psi, tenter_mestimate *result) {
  result->converged = false;
  residuals(l, result->coefficient);
  for (size_t round = 0; round < 1000 && !result->converged; round++) {
    double change = 0, square = 0;
    result->scale = tenter_mad_scale(l->r, l->n, l->scratch);
    if (!(result->scale > 0)) /* more than half of the points are met exactly */
      return true;
    for (size_t i = 0; i < l->n; i++)
      l->robust[i] = tenter_psi_weight(psi, l->r[i] / result->scale);
    memcpy(l->scratch, l->r, l->n * sizeof *l->r);
    if (!solve(l, result->coefficient))
      return false;
    residuals(l, result->coefficient);
    for (size_t i = 0; i < l->n; i++) {
      change += (l->r[i] - l->scratch[i]) * (l->r[i] - l->scratch[i]);
      square += l->scratch[i] * l->scratch[i];
    }
    result->iterations++;
    result->converged = change <= 1e-24 * square;
  }
  return true;
}

static void standard_errors(const linear *l, tenter_psi psi, tenter_mestimate *result) {
  double inverse[FIT_P * FIT_P];
  result->sigma = tenter_mestimate_sigma(psi, l->r, l->n, l->p, result->scale);
  for (size_t i = 0; i < l->n; i++)
    for (size_t k = 0; k < l->p; k++)
      l->matrix[k * l->n + i] = prior_root(l, i) * l->x[k * l->n + i];
  fit_inverse(l->matrix, l->n, l->p, NULL, inverse, l->p);
  for (size_t k = 0; k < l->p; k++)
    result->se[k] = result->sigma * sqrt(inverse[k * l->p + k]);
}

static tenter_status check(size_t count, size_t columns, const double *x, const double *y,
                           const double *prior, tenter_error *error) {
  if (columns == 0 || columns > TENTER_MESTIMATE_COLUMNS || count <= columns)
    return tenter_fail(error, TENTER_INPUT,
                       "a linear fit needs 1 to %d columns and more points than columns; it got "
                       "%zu columns and %zu points",
                       TENTER_MESTIMATE_COLUMNS, columns, count);
  bool good = true;
  for (size_t i = 0; i < count * columns; i++)
    good &= isfinite(x[i]) != 0;
  for (size_t i = 0; i < count; i++)
    good &= isfinite(y[i]) && (!prior || (isfinite(prior[i]) && prior[i] >= 0));
  return good ? TENTER_OK
              : tenter_fail(error, TENTER_INPUT,
                            "a linear fit got a number that is not finite, or "
                            "a negative weight");
}

static bool run(const linear *l, tenter_psi psi, bool from_huber, tenter_mestimate *result) {
  for (size_t i = 0; i < l->n; i++)
    l->robust[i] = 1;
  if (!solve(l, result->coefficient))
    return false;
  if (psi == TENTER_PSI_BISQUARE && from_huber && !iterate(l, TENTER_PSI_HUBER, result))
    return false;
  if (!iterate(l, psi, result))
    return false;
  standard_errors(l, psi, result);
  return true;
}

tenter_status tenter_mestimate_fit(tenter_psi psi, bool from_huber, size_t count, size_t columns,
                                   const double *x, const double *y, const double *prior,
                                   double *robust, tenter_mestimate *result, tenter_error *error) {
  tenter_status status = check(count, columns, x, y, prior, error);
  if (status != TENTER_OK)
    return status;
  if (count > SIZE_MAX / (TENTER_MESTIMATE_COLUMNS + 4))
    return tenter_fail_memory(error);
  double *block = tenter_alloc(count * (columns + 4), sizeof *block);
  if (!block)
    return tenter_fail_memory(error);
  linear l = {.n = count, .p = columns, .x = x, .y = y, .prior = prior, .robust = block};
  l.right = block + count;
  l.r = l.right + count;
  l.scratch = l.r + count;
  l.matrix = l.scratch + count;
  memset(result, 0, sizeof *result);
  result->count = count;
  result->columns = columns;
  if (!run(&l, psi, from_huber, result))
    status = tenter_fail(error, TENTER_INPUT, "the columns of a linear fit depend on each other");
  else if (robust)
    memcpy(robust, l.robust, count * sizeof *robust);
  tenter_free(block);
  return status;
}
