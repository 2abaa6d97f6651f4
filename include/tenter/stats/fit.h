/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Weighted nonlinear least squares for any model that is given as a function and its Jacobian, and
 * what is said about every fit: why it stopped, how its residuals run.
 *
 * Model      y_i = f_i(theta) + e_i,   var e_i = sigma^2 / w_i,   low <= theta <= high.
 * Estimator  the theta of least sum w (y - f)^2.
 * Method     a trust region in the manner of Levenberg and Marquardt: More 1978 (Numerical
 * Analysis, Dundee 1977, Lecture Notes in Mathematics 630:105), on a pivoted QR of the Jacobian
 * with scaled columns; parameters on a bound whose gradient points outside rest there, steps are
 * cut at the bounds. Where a first search does not converge, others begin with a shorter step.
 * Accuracy   the search ends when the next step would gain less than tolerance of the sum of
 *            squares, about sqrt(tolerance n) of a standard error.
 * Checked    on all 27 nonlinear sets of NIST StRD from both starts (tests/stats/test_fit_nist.c).
 *
 * A workspace is made once and serves any number of fits, one at a time; fits allocate nothing. */
#ifndef TENTER_STATS_FIT_H
#define TENTER_STATS_FIT_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"

enum { TENTER_FIT_PARAMETERS = 16 }; /* the most parameters */

/* ---- why a search ended ---- */

/* name, whether the result is a minimum; the sentences are in tenter/words/laws.h */
#define TENTER_FIT_STOPS(X)                                                                        \
  X(LINEAR, true)                                                                                  \
  X(GAIN, true)                                                                                    \
  X(STEP, true)                                                                                    \
  X(GRADIENT, true)                                                                                \
  X(EXACT, true)                                                                                   \
  X(BOUNDS, true)                                                                                  \
  X(STUCK, false)                                                                                  \
  X(ITERATIONS, false)                                                                             \
  X(UNDEFINED, false)

typedef enum tenter_fit_stop {
#define X(name, minimum) TENTER_FIT_STOP_##name,
  TENTER_FIT_STOPS(X)
#undef X
      TENTER_FIT_STOP_COUNT
} tenter_fit_stop;

bool tenter_fit_stop_minimum(tenter_fit_stop stop);         /* did it end at a minimum? */
const char *tenter_fit_stop_sentence(tenter_fit_stop stop); /* in plain words */

/* ---- workspace ---- */

typedef struct tenter_fit_space tenter_fit_space;

/* Room for fits of up to count points and parameters (<= TENTER_FIT_PARAMETERS). TENTER_USAGE for
 * sizes that are 0 or too large, TENTER_FAILED without memory. */
tenter_status tenter_fit_space_new(size_t count, size_t parameters, tenter_fit_space **space,
                                   tenter_error *error);
void tenter_fit_space_free(tenter_fit_space *space);

/* ---- the fit ---- */

/* Fills value[count] at theta. False where the model is not defined there (the search steps back);
 * a value that is not finite counts as that too. */
typedef bool tenter_fit_function(void *context, const double *theta, double *value);

/* Fills jacobian[k * count + i] = d f_i / d theta_k. */
typedef bool tenter_fit_jacobian(void *context, const double *theta, double *jacobian);

typedef struct tenter_fit_problem {
  size_t count, parameters;
  tenter_fit_function *function;
  tenter_fit_jacobian *jacobian;
  void *context;            /* handed to both */
  const double *y;          /* count */
  const double *weight;     /* count, all >= 0; NULL: all 1 */
  const double *low, *high; /* parameters each, low <= high; NULL: none. Equal: held fixed */
  size_t max_iterations;    /* of each search; 0: 1000 */
  double tolerance;         /* 0: 1e-16 */
} tenter_fit_problem;

typedef struct tenter_fit {
  size_t count, parameters, rank; /* rank: columns of the Jacobian that are told apart */
  double parameter[TENTER_FIT_PARAMETERS];
  double se[TENTER_FIT_PARAMETERS]; /* NaN on a bound, and where rank falls short */
  double covariance[TENTER_FIT_PARAMETERS *
                    TENTER_FIT_PARAMETERS]; /* [j * parameters + k]; NaN likewise */
  bool on_bound[TENTER_FIT_PARAMETERS];
  double rss;    /* weighted */
  double sigma;  /* sqrt(rss / (count - parameters free)) */
  double loglik; /* with sigma^2 at rss / n; points of weight 0 don't count in n */
  double aicc;   /* sigma^2 counted among the k parameters; NaN unless n >= k + 2 */
  size_t iterations, evaluations, searches;
  tenter_fit_stop stop;
} tenter_fit;

/* Fits from start. A search that ends badly is no error: see fit->stop. TENTER_USAGE where the
 * problem is larger than the space or a bound is wrong; TENTER_INPUT where y or a weight is not
 * finite, a weight is negative, or fewer points have weight than there are parameters. */
tenter_status tenter_fit_run(tenter_fit_space *space, const tenter_fit_problem *problem,
                             const double *start, tenter_fit *fit, tenter_error *error);

/* Corrected Akaike criterion (Hurvich and Tsai 1989, Biometrika 76:297): -2 loglik + 2k +
 * 2k(k+1)/(n-k-1), k counting sigma^2. NaN unless n >= k + 2. */
double tenter_fit_aicc(double loglik, size_t count, size_t k);

/* ---- residuals ---- */

typedef struct tenter_fit_runs {
  size_t count;    /* residuals that are not zero */
  size_t runs;     /* stretches of one sign */
  double expected; /* runs to expect of residuals in random order; NaN if all have one sign */
  double p;        /* two-sided, exact up to 200, then normal; NaN if all have one sign */
  double lag1;     /* correlation of each residual with the next; NaN below 3 or all equal */
} tenter_fit_runs;

/* Runs of signs (Wald and Wolfowitz 1940, Ann. Math. Stat. 11:147; two-sided p: twice the smaller
 * tail, at most 1) and the lag-1 autocorrelation of residuals in their order, zeros left out of the
 * runs. */
tenter_fit_runs tenter_fit_runs_test(const double *residual, size_t count);

#endif
