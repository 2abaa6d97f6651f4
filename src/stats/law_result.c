/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a fitted law amounts to: parameters and their covariance, likelihood, what a constant would
 * have done, residual diagnostics, notes. The workspace stands at its x when this begins. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#include "law_internal.h"

enum { P = TENTER_LAW_PARAMETERS };

#define SAME_CORRELATION 0.9999 /* beyond it two parameters are one */
#define RUNS_P 0.01
#define CONSTANT_P 0.05
#define DOWNWEIGHTED 0.5

static void parameters(const tenter_law_space *space, tenter_law_curve *curve) {
  const tenter_law_info *info = &space->row->info;
  curve->count = space->weighty;
  curve->series = space->series_count;
  curve->free = 0;
  for (size_t k = 0; k < info->linear; k++)
    curve->parameter[k] = space->series_count == 1 ? space->series[0].c[k] : NAN;
  for (size_t k = 0; k < space->series_count; k++)
    curve->free += space->series[k].rank;
  curve->on_bound[0] = space->series_count == 1 && space->series[0].held;
  for (size_t k = 0; k < space->searched; k++) {
    size_t at = info->linear + k;
    curve->parameter[at] = info->is_time[at] ? exp(space->x[k]) : space->x[k];
    curve->on_bound[at] = space->x[k] <= space->low[k] || space->x[k] >= space->high[k];
    curve->free += !curve->on_bound[at];
  }
}

/* Residuals times the root of the prior weight, points of no weight left out. */
static size_t standardized(const tenter_law_space *space, double *out) {
  size_t n = 0;
  for (size_t i = 0; i < space->count; i++)
    if (space->prior[i] > 0)
      out[n++] = space->last[i] * sqrt(space->prior[i]);
  return n;
}

/* (J'J)^-1 on the natural scale. Robust: of the prior weights alone, as summary.rlm has it. Returns
 * whether all free parameters are told apart. */
static bool inverse_square(tenter_law_space *space, bool robust, tenter_law_curve *curve) {
  const tenter_law_info *info = &space->row->info;
  size_t linear = info->linear, all = info->parameters;
  for (size_t k = 0; k < P * P; k++)
    curve->covariance[k] = NAN;
  if (robust) {
    for (size_t i = 0; i < space->count; i++)
      space->root[i] = sqrt(space->prior[i]);
    law_factor(space);
  }
  bool single = space->series_count == 1, full;
  if (single) {
    law_full_jacobian(space, space->x, space->matrix);
    full = fit_inverse(space->matrix, space->count, all, curve->on_bound, curve->covariance, P) ==
           curve->free;
  } else if (space->searched > 0) {
    size_t at = linear * P + linear, bound = 0;
    law_jacobian(space, space->x, space->matrix);
    for (size_t k = 0; k < space->searched; k++)
      bound += curve->on_bound[linear + k];
    full = fit_inverse(space->matrix, space->count, space->searched, curve->on_bound + linear,
                       curve->covariance + at, P) == space->searched - bound;
  } else
    full = true;
  for (size_t i = 0; robust && i < space->count; i++) /* as it was */
    space->root[i] = sqrt(space->prior[i] * space->robust[i]);
  for (size_t k = linear; k < all; k++)
    for (size_t j = 0; info->is_time[k] && j < all; j++) {
      curve->covariance[k * P + j] *= curve->parameter[k];
      curve->covariance[j * P + k] *= curve->parameter[k];
    }
  return full;
}

static void errors(tenter_law_space *space, tenter_psi psi, double scale, tenter_law_curve *curve) {
  bool robust = psi != TENTER_PSI_NONE, told = inverse_square(space, robust, curve);
  double df = (double)curve->count - (double)curve->free;
  size_t n = standardized(space, space->trial);
  curve->scale = scale;
  curve->sigma = df > 0 ? sqrt(curve->rss / df) : NAN;
  if (robust && df > 0)
    curve->sigma = tenter_mestimate_sigma(psi, space->trial, n, curve->free, scale);
  for (size_t k = 0; k < P * P; k++)
    curve->covariance[k] *= curve->sigma * curve->sigma;
  for (size_t k = 0; k < P; k++)
    curve->se[k] = sqrt(curve->covariance[k * P + k]);
  if (!told)
    curve->notes |= TENTER_LAW_UNDETERMINED;
  for (size_t j = 0; j < space->row->info.parameters; j++)
    for (size_t k = 0; k < j; k++)
      if (fabs(curve->covariance[j * P + k]) > SAME_CORRELATION * curve->se[j] * curve->se[k])
        curve->notes |= TENTER_LAW_UNDETERMINED;
}

/* Against a constant of each series. */
static void against_constant(const tenter_law_space *space, tenter_law_curve *curve) {
  double about = 0;
  for (size_t l = 0; l < space->series_count; l++) {
    size_t first = space->series[l].first, end = first + space->series[l].n;
    double sum = 0, weight = 0;
    for (size_t i = first; i < end; i++) {
      double w = space->prior[i] * space->robust[i];
      weight += w;
      sum += w * space->y[i];
    }
    for (size_t i = first; i < end && weight > 0; i++) {
      double from = space->y[i] - sum / weight;
      about += space->prior[i] * space->robust[i] * from * from;
    }
  }
  double gained = (double)curve->free - (double)space->series_count;
  double df = (double)curve->count - (double)curve->free;
  curve->explained = about > 0 ? 1 - curve->rss / about : NAN;
  curve->p_constant = NAN;
  if (gained > 0 && df > 0 && curve->rss > 0)
    curve->p_constant =
        gsl_cdf_fdist_Q(fmax(about - curve->rss, 0) / gained / (curve->rss / df), gained, df);
  if (!(about > 0) || curve->p_constant > CONSTANT_P)
    curve->notes |= TENTER_LAW_EXPLAINS_NOTHING;
}

static void likelihood(const tenter_law_space *space, bool robust, tenter_law_curve *curve) {
  double log_weight = 0;
  size_t k = space->searched + 1;
  for (size_t i = 0; i < space->count; i++)
    if (space->prior[i] > 0 && space->prior[i] != 1)
      log_weight += log(space->prior[i]);
  for (size_t l = 0; l < space->series_count; l++)
    k += space->series[l].rank +
         (space->series[l].held && space->plateau == TENTER_LAW_PLATEAU_BOUNDED);
  curve->loglik = robust ? NAN : fit_loglik(curve->rss, curve->count, log_weight);
  curve->aicc = tenter_fit_aicc(curve->loglik, curve->count, k);
  if (curve->count < k + 2)
    curve->notes |= TENTER_LAW_TOO_FEW;
}

/* The curve of series l at point i. */
static double fitted(const tenter_law_space *space, const law_series *series, size_t i) {
  double value = 0;
  for (size_t k = 0; k < space->row->info.linear; k++)
    value += series->c[k] * space->phi[k * space->count + i];
  return value;
}

/* Whether the curves, all in all, end higher than they begin. */
static bool rises(const tenter_law_space *space) {
  double change = 0;
  for (size_t l = 0; l < space->series_count; l++) {
    const law_series *series = &space->series[l];
    if (series->n > 0)
      change += fitted(space, series, series->first + series->n - 1) -
                fitted(space, series, series->first);
  }
  return change > 0;
}

/* A time beyond the oldest reading, or known no better than to its own size. */
static void judge_times(const tenter_law_space *space, tenter_law_curve *curve) {
  const tenter_law_info *info = &space->row->info;
  double oldest = 0;
  for (size_t i = 0; i < space->count; i++)
    oldest = fmax(oldest, space->t[i]);
  for (size_t k = info->linear; k < info->parameters; k++) {
    if (!info->is_time[k])
      continue;
    if (curve->parameter[k] > oldest)
      curve->notes |= TENTER_LAW_NO_LEVELLING;
    if (curve->se[k] > curve->parameter[k])
      curve->notes |= TENTER_LAW_UNDETERMINED;
  }
}

static void judge_residuals(tenter_law_space *space, bool robust, tenter_law_curve *curve) {
  size_t n = standardized(space, space->trial);
  curve->runs = tenter_fit_runs_test(space->trial, n);
  if (curve->runs.p < RUNS_P)
    curve->notes |= TENTER_LAW_NOT_RANDOM;
  if (robust && curve->series == 1 && space->prior[space->count - 1] > 0 &&
      space->robust[space->count - 1] < DOWNWEIGHTED)
    curve->notes |= TENTER_LAW_NEWEST_DOWNWEIGHTED;
}

void law_result(tenter_law_space *space, tenter_psi psi, double scale, tenter_law_curve *curve) {
  bool robust = psi != TENTER_PSI_NONE, held = false, bound = false;
  curve->rss = 0;
  for (size_t i = 0; i < space->count; i++)
    curve->rss += space->r[i] * space->r[i];
  space->rss = curve->rss;
  parameters(space, curve);
  against_constant(space, curve);
  likelihood(space, robust, curve);
  errors(space, psi, scale, curve);
  judge_times(space, curve);
  judge_residuals(space, robust, curve);
  for (size_t l = 0; l < space->series_count; l++)
    held |= space->series[l].held && space->plateau == TENTER_LAW_PLATEAU_BOUNDED;
  for (size_t k = space->row->info.linear; k < P; k++)
    bound |= curve->on_bound[k];
  curve->notes |= (tenter_fit_stop_minimum(curve->stop) ? 0 : TENTER_LAW_NOT_CONVERGED) |
                  (held ? TENTER_LAW_PLATEAU_HELD : 0) | (bound ? TENTER_LAW_ON_BOUND : 0) |
                  (rises(space) ? TENTER_LAW_RISES : 0) |
                  (curve->count <= curve->free ? TENTER_LAW_EXACT : 0);
}

double tenter_law_predict(const tenter_law_curve *curve, double age_hours, double *se) {
  double gradient[P],
      value = tenter_law_gradient(curve->law, curve->parameter, age_hours, gradient);
  size_t all = tenter_law_describe(curve->law)->parameters;
  double variance = 0;
  for (size_t j = 0; j < all; j++)
    for (size_t k = 0; k < all; k++)
      if (!curve->on_bound[j] && !curve->on_bound[k])
        variance += gradient[j] * gradient[k] * curve->covariance[j * P + k];
  if (se)
    *se = sqrt(variance < 0 ? 0 : variance); /* NaN stays NaN */
  return value;
}
