/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Survival without a law from interval-censored times (life.h): Turnbull's estimate.
 *
 * Estimator  the distribution of greatest likelihood, product over rows of P(lower < T <= upper)^w.
 *            It lives on the innermost intervals: those that begin with a lower end, close with an
 *            upper end and have no other end between (Turnbull 1976, J. R. Statist. Soc. B 38:290;
 *            Peto 1973, Appl. Statist. 22:86). Where within such an interval its mass lies, the
 *            data don't say. Exact and right-censored rows alone give Kaplan and Meier's estimate.
 * Method     the problem is concave. A support begins with the fewest intervals that give every
 *            row one, and takes in, stretch by stretch, the interval whose gradient is greatest (as
 *            Wang 2008, Comput. Statist. Data Anal. 52:2388). On it a few self-consistency steps,
 *            then Newton's method in the summed masses (by conjugate gradients), brought back to
 *            rising order by isotonic regression, as the iterative convex minorant is (Groeneboom,
 *            Wellner 1992), with step lengths as Jongbloed's (1998, J. Comput. Graph. Statist.
 *            7:310); masses that fall to 0 leave.
 * Accuracy   `gap` bounds how far the log-likelihood is below its greatest value, whatever the
 *            search did: the greatest directional derivative of a concave function.
 * Cost       O(n log n) to sort the ends, then about 30 passes: 100,000 rows take 0.03 to 0.2 s,
 *            less than R's survreg takes for a Weibull fit to them (tools/bench life).
 *
 * What is uncertain. tenter_turnbull_band goes by the observed information of the positive masses,
 * which is right in large samples where looks fall on a fixed set of ages (Turnbull 1976, sec. 4).
 * Where every life has looks at ages of its own the estimate converges with the cube root of n
 * only, and neither it nor resampling has a proof (Sen, Banerjee, Woodroofe 2010, Ann. Statist.
 * 38:1953). Counted on lives like those of mountings (tests/stats/test_turnbull_coverage.c), 90 %
 * intervals from 20 to 320 lives hold the truth in 83 to 93 % (band) and 84 to 90 % (resampled
 * quantiles of 0.1 and 0.5; on a fixed set of ages 95 % and more). Below the share that a few
 * failures make they don't: the 0.05 quantile of 20 lives, 63 %. */
#ifndef TENTER_STATS_TURNBULL_H
#define TENTER_STATS_TURNBULL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/pool.h"
#include "tenter/base/status.h"
#include "tenter/stats/life.h"
#include "tenter/stats/trend.h"

/* What was fitted, by innermost intervals. */
typedef struct tenter_turnbull_rows tenter_turnbull_rows;

typedef struct tenter_turnbull {
  size_t count;         /* masses above 0, in order of time */
  uint32_t *index;      /* which of the innermost intervals each has, from 0 */
  double *left, *right; /* mass k lies in (left, right]; at right where both are equal; right is
                           INFINITY for what outlives all that was seen to fail */
  double *mass;         /* they sum to 1 */
  double *survival;     /* after right[k]: what lies beyond; the last is 0 */
  double weight;        /* of the rows that say something */
  double loglik;
  double gap;       /* the greatest log-likelihood is at most this much above loglik */
  size_t intervals; /* innermost intervals */
  size_t steps;     /* of the search */
  bool converged;   /* gap <= 1e-8 + 1e-12 weight */
  tenter_turnbull_rows *rows;
} tenter_turnbull;

/* Fits. TENTER_INPUT for rows that can't be used, or weights more than 1e9 times others;
 * TENTER_FAILED without memory. On success release it; the arrays of life are not needed any more.
 */
tenter_status tenter_turnbull_run(const tenter_life *life, tenter_turnbull *turnbull,
                                  tenter_error *error);
void tenter_turnbull_release(tenter_turnbull *turnbull);

/* Survival at t: what the data leave open. low = high outside of intervals that hold mass; inside,
 * low as if all of it lay before t, high as if after. */
tenter_interval tenter_turnbull_survival(const tenter_turnbull *turnbull, double t);

/* Where the share p (0 < p < 1) has failed: the interval of the mass that reaches it; low = high
 * where it is exact; high INFINITY where more than 1 - p outlived all that was seen to fail. */
tenter_interval tenter_turnbull_quantile(const tenter_turnbull *turnbull, double p);

/* As a curve of steps with each mass at the left (early) or right end of its interval. times and
 * survival (count each) are filled and must outlive the curve. What outlives all is not placed: the
 * curve ends where that begins (right: at the last look before). */
tenter_life_curve tenter_turnbull_curve(const tenter_turnbull *turnbull, bool early, double *times,
                                        double *survival);

/* ---- uncertainty ---- */

/* Standard errors of survival[k] by the observed information, and limits at `level` from the normal
 * law of log(-log S). se, low, high hold count; NaN for the last, whose survival is 0 for certain.
 * NaN also where the data leave open how masses share out. Conjugate gradients for each: a
 * millisecond for 100 masses. */
tenter_status tenter_turnbull_band(const tenter_turnbull *turnbull, double level, double *se,
                                   double *low, double *high, tenter_error *error);

/* The fit anew with the rows weighted at random: each row of weight w gets a gamma(w) weight (the
 * Bayesian bootstrap: Rubin 1981, Ann. Statist. 9:130). The same seed gives the same; threads may
 * share turnbull. again is to be released; it has no rows, so no band or resampling of its own. */
tenter_status tenter_turnbull_resample(const tenter_turnbull *turnbull, uint64_t seed,
                                       tenter_turnbull *again, tenter_error *error);

/* Intervals of quantiles from `draws` fits anew (seeds seed, seed + 1, ...), at `level`: low is the
 * lower percentile of the left ends, high the upper one of the right ends; INFINITY where the draws
 * say so. p, value (tenter_turnbull_quantile's) and interval hold quantiles each; value may be
 * NULL. pool may be NULL; the number of threads changes nothing. */
tenter_status tenter_turnbull_quantile_intervals(const tenter_turnbull *turnbull, size_t quantiles,
                                                 const double *p, double level, size_t draws,
                                                 uint64_t seed, tenter_pool *pool,
                                                 tenter_interval *value, tenter_interval *interval,
                                                 tenter_error *error);

#endif
