/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Times to failure that are known only to lie between two looks: the rows, the laws, curves of
 * survival, Kaplan and Meier's estimate, and endings that may have to do with the failure.
 * turnbull.h estimates without a law, life_fit.h by a law, renewal.h makes a decision of either.
 *
 * A row says that the time T lies in (lower, upper], of any unit, 0 at the start of life:
 *   lower = upper            seen to fail at that time
 *   lower = 0 < upper        failed before its first look (left-censored)
 *   0 < lower < upper        failed between two looks
 *   upper = INFINITY         not seen to fail (right-censored at lower)
 *   lower = 0, upper = INF   says nothing; counted, and otherwise left out
 * Censoring must not have to do with the failure to come; where an ending may, see
 * tenter_life_endings. Where a row can't be used (NaN, lower below 0 or infinite, upper below
 * lower, a weight below 0 or not finite, none of weight above 0 that says something), functions
 * return TENTER_INPUT and name the row, counted from 1. */
#ifndef TENTER_STATS_LIFE_H
#define TENTER_STATS_LIFE_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"
#include "tenter/stats/trend.h"

/* ---- rows ---- */

typedef struct tenter_life {
  size_t count;
  const double *lower, *upper;
  const double *weight; /* as many alike; a fraction is allowed, 0 is no row; NULL: 1 each */
} tenter_life;

/* Sums of weights. */
typedef struct tenter_life_tally {
  double exact, left, interval, right; /* by kind of row */
  double silent;                       /* rows that say nothing */
} tenter_life_tally;

/* Checks every row and counts them. */
tenter_status tenter_life_count(const tenter_life *life, tenter_life_tally *tally,
                                tenter_error *error);

/* ---- endings that may have to do with the failure ---- */

/* What to make of a life that was ended (a screen re-stretched because it was low): no estimate
 * can tell, so that the truth lies between the bounds (Peterson 1976, Proc. Nat. Acad. Sci.
 * 73:11). */
typedef enum tenter_ending {
  TENTER_ENDING_CENSORED, /* it would have gone on as others of its age */
  TENTER_ENDING_FAILED,   /* it failed in (lower, ended] */
  TENTER_ENDING_SURVIVED  /* it would have outlived all that was seen */
} tenter_ending;

/* Rows as they are under one of these. ended[i] is when row i, right-censored at lower[i], was
 * ended for a reason that may have to do with the failure; NaN: it was not. lower and upper (count
 * each; those of life itself are allowed) get the rows. TENTER_INPUT also where an ended row has
 * an upper that is finite, or ended is below its lower or infinite. */
tenter_status tenter_life_endings(const tenter_life *life, const double *ended,
                                  tenter_ending ending, double *lower, double *upper,
                                  tenter_error *error);

/* ---- laws ---- */

/* log T = location + scale W, for W of a standard law; survreg of R's survival has the same
 * location (its intercept and coefficients) and scale.
 *   EXPONENTIAL   P(W > w) = exp(-e^w), scale = 1
 *   WEIBULL       the same, any scale: shape = 1 / scale, characteristic life = e^location
 *   LOGNORMAL     standard normal: median = e^location
 *   LOGLOGISTIC   P(W > w) = 1 / (1 + e^w): median = e^location
 * Constant and name. */
#define TENTER_LIFE_LAWS(X)                                                                        \
  X(EXPONENTIAL, "exponential")                                                                    \
  X(WEIBULL, "Weibull")                                                                            \
  X(LOGNORMAL, "lognormal")                                                                        \
  X(LOGLOGISTIC, "log-logistic")

typedef enum tenter_life_law {
#define X(constant, name) TENTER_LIFE_##constant,
  TENTER_LIFE_LAWS(X)
#undef X
      TENTER_LIFE_LAW_COUNT
} tenter_life_law;

/* The name; NULL outside the list. */
const char *tenter_life_law_name(tenter_life_law law);

/* ---- curves of survival ---- */

/* P(T > t), by a law or by steps. The arrays belong to others and must outlive it. */
typedef struct tenter_life_curve {
  tenter_life_law law;    /* where steps is NULL */
  double location, scale; /* of log T */
  const double *steps;    /* times of falls, rising; NULL: by the law */
  const double *survival; /* after each fall */
  size_t count;           /* of falls, 0 if none was seen: survival 1 */
  double end;             /* up to where it is known; INFINITY where survival falls to 0 */
} tenter_life_curve;

/* P(T > t); 1 below 0. NaN where it isn't known: beyond the end of steps, t NaN. */
double tenter_life_survival(const tenter_life_curve *curve, double t);

/* The same just before t: P(T >= t). */
double tenter_life_survival_before(const tenter_life_curve *curve, double t);

/* The least t with P(T > t) <= 1 - p, 0 < p < 1; INFINITY where steps don't fall that far. */
double tenter_life_quantile(const tenter_life_curve *curve, double p);

/* The integral of P(T > u) from 0 to t: the mean time until failure or t, whichever is first; t =
 * INFINITY: the mean life, which may be infinite. To 1e-12 of itself, about 10 us for a law (Gauss
 * and Legendre's rule in log time). NaN where it isn't known. */
double tenter_life_exposure(const tenter_life_curve *curve, double t);

/* The hazard of a law, density / survival; NaN for steps. */
double tenter_life_hazard(const tenter_life_curve *curve, double t);

/* ---- Kaplan and Meier ---- */

/* An estimate of a time with its interval; INFINITY where what was seen does not reach it. */
typedef struct tenter_life_time {
  double value, low, high;
} tenter_life_time;

typedef struct tenter_kaplan_meier {
  size_t count; /* different times of failure */
  double *time, *at_risk, *events;
  double *survival;   /* after time */
  double *se;         /* Greenwood; NaN where survival is 0 */
  double *low, *high; /* of survival; NaN where it is 0, or has not fallen */
  double level;
  double last; /* the greatest time seen: beyond it nothing is known unless survival is 0 */
} tenter_kaplan_meier;

/* The product-limit estimate of rows that are exact or right-censored (Kaplan, Meier 1958, J. Amer.
 * Statist. Ass. 53:457), standard errors by Greenwood (1926), intervals at `level` (0.95) from the
 * normal law of log(-log S) (Kalbfleisch, Prentice 2002, The Statistical Analysis of Failure Time
 * Data, 1.4). A life censored at a time of failure was at risk then. TENTER_INPUT also for a row
 * of another kind. Release on success. O(n log n). */
tenter_status tenter_kaplan_meier_run(const tenter_life *life, double level,
                                      tenter_kaplan_meier *km, tenter_error *error);
void tenter_kaplan_meier_release(tenter_kaplan_meier *km);

/* The least time with survival <= 1 - p, and where its interval does the same (Brookmeyer, Crowley
 * 1982, Biometrics 38:29). */
tenter_life_time tenter_kaplan_meier_quantile(const tenter_kaplan_meier *km, double p);

/* As a curve of steps; borrows km. */
tenter_life_curve tenter_kaplan_meier_curve(const tenter_kaplan_meier *km);

#endif
