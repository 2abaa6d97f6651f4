/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Interval-censored times by a law: accelerated failure time models by maximum likelihood.
 *
 * Model      log T = x'b + scale W, W of a standard law (life.h), so that e^b is the factor by
 * which a column stretches time. Rows as in life.h; a time of 0 can't be a failure here. Estimator
 * maximum likelihood over b and scale; survreg of R's survival, same parameters and the same
 * log-likelihood (densities of T, not of log T). Method     Newton in b / scale and 1 / scale, in
 * which all four likelihoods are concave whatever the censoring (Burridge 1981, J. R. Statist. Soc.
 * B 43:41), with halved steps; so a maximum that exists is found from any start. Covariance: the
 * inverse of the observed information, as b and log scale. Cost       about 8 passes over the rows.
 *
 * A fit that means nothing is no error: `state` says why, and all numbers of it are NaN. */
#ifndef TENTER_STATS_LIFE_FIT_H
#define TENTER_STATS_LIFE_FIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/status.h"
#include "tenter/stats/life.h"

/* Why there is a fit or none; the sentences are in tenter/words/laws.h. */
#define TENTER_LIFE_STATES(X)                                                                      \
  X(FITTED)                                                                                        \
  X(NO_FAILURES)                                                                                   \
  X(NO_SURVIVORS)                                                                                  \
  X(ONE_TIME)                                                                                      \
  X(REVERSED)                                                                                      \
  X(DEPENDENT)                                                                                     \
  X(SEPARATED)                                                                                     \
  X(UNSETTLED)

typedef enum tenter_life_state {
#define X(constant) TENTER_LIFE_##constant,
  TENTER_LIFE_STATES(X)
#undef X
      TENTER_LIFE_STATE_COUNT
} tenter_life_state;

/* The sentence; NULL outside the list. */
const char *tenter_life_state_sentence(tenter_life_state state);

/* What the location depends on: count rows of `terms` columns, finite. A constant is a column of
 * ones. */
typedef struct tenter_life_design {
  size_t terms;
  const double *x; /* NULL: one column of ones */
} tenter_life_design;

typedef struct tenter_life_fit {
  tenter_life_law law;
  tenter_life_state state;
  size_t terms;
  double *coefficient; /* b */
  double scale;
  double *covariance; /* terms + 1 rows and columns: b, then log scale (0 where scale is fixed) */
  double loglik;
  double slope; /* what is left of the gradient, as log-likelihood a full step would gain */
  size_t iterations;
  tenter_life_tally tally;
} tenter_life_fit;

/* Fits. TENTER_INPUT for rows or columns that can't be used (named, counted from 1), TENTER_USAGE
 * for a law outside the list or terms = 0. On success, whatever the state, release it. */
tenter_status tenter_life_fit_run(const tenter_life *life, const tenter_life_design *design,
                                  tenter_life_law law, tenter_life_fit *fit, tenter_error *error);
void tenter_life_fit_release(tenter_life_fit *fit);

/* Standard error of coefficient k, or, k = terms, of log scale. */
double tenter_life_fit_se(const tenter_life_fit *fit, size_t k);

/* The law at x (terms values; NULL: 1 and zeros) as a curve. */
tenter_life_curve tenter_life_fit_curve(const tenter_life_fit *fit, const double *x);

/* The time by which the share p has failed (0 < p < 1), its interval at `level` from the normal law
 * of its logarithm (delta method; Meeker, Escobar 1998, Statistical Methods for Reliability Data,
 * 8.4). */
tenter_life_time tenter_life_fit_quantile(const tenter_life_fit *fit, const double *x, double p,
                                          double level);

/* P(T > t) at x; value in .value, its interval from the normal law of (log t - x'b) / scale. */
tenter_life_time tenter_life_fit_survival(const tenter_life_fit *fit, const double *x, double t,
                                          double level);

/* The quantile's interval by the profile likelihood: the times at which twice the log-likelihood,
 * all else at its best, lies within the chi-square quantile of the maximum. Better than the above
 * with few failures. life and design as fitted. An end that the likelihood leaves open is 0 or
 * INFINITY. About 20 fits. */
tenter_status tenter_life_fit_quantile_profile(const tenter_life *life,
                                               const tenter_life_design *design,
                                               const tenter_life_fit *fit, const double *x,
                                               double p, double level, tenter_life_time *time,
                                               tenter_error *error);

/* A draw from what is known of the curve at x: b and log scale from the normal law with the fit's
 * covariance. The same seed gives the same. */
tenter_life_curve tenter_life_fit_draw(const tenter_life_fit *fit, const double *x, uint64_t seed);

#endif
