/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Has a mounting left its curve, and when? A change-point test with a stated false-alarm rate.
 *
 * Model. y_i = a + k c_i + e_i, e_i ~ N(0, variance_i) with known variances; c_i is the curve that
 * is usual for the lot, at the age of session i; k ~ N(k_mean, k_sd^2) is how many times as much
 * this mounting loses; nothing is known of a beforehand. The alternative is a step at one of the
 * sessions 2 .. n: that session and all after it lie d higher, d of any sign.
 *
 * Test. One-step forecast errors of the model, each in units of its own standard deviation, are
 * independent standard normal numbers while nothing happens (Kalman 1960; Brown, Durbin and Evans
 * 1975, J. R. Statist. Soc. B 37:149). A step at session s adds d times a known vector to them; its
 * estimate in units of its standard error is z_s, and the statistic is the greatest |z_s|. The z_s
 * depend on each other; p, the chance of so great a statistic in a calm mounting, is found by
 * drawing from those mountings alone that are as extreme at a chosen s, and weighing each draw by
 * how many of its z are (Naiman and Priebe 2001, J. Comput. Graph. Statist. 10:296, from memory).
 * A mounting is said to have left where p <= rate: that share of calm mountings is named by chance,
 * whatever their number of sessions, the newest session tested like all others. */
#ifndef TENTER_JUDGE_LEAVING_H
#define TENTER_JUDGE_LEAVING_H

#include <stdbool.h>
#include <stddef.h>

enum { LEAVING_MOST = 256 }; /* sessions; where there are more, the newest */

typedef struct leaving_series {
  size_t count;
  const double *curve, *y, *variance; /* count each, in order of time; variances above 0 */
  double k_mean, k_sd;                /* k_sd above 0 */
} leaving_series;

typedef struct leaving_result {
  bool left;
  size_t at;                /* the session from which on it lies elsewhere; 0 with too few */
  double change, change_se; /* d and its standard error, the session given; NaN with too few */
  double p; /* of the greatest |z|; 1 with fewer than 2 sessions. Where a step looked for at one
               session alone would not be named: an upper bound, the sum over the sessions */
  double forecast_error; /* one-step error of the newest session, standardized; NaN with 1 */
} leaving_result;

/* False when memory runs out. The draws are the same on every run. */
bool judge__leaving(const leaving_series *series, double rate, leaving_result *result);

/* The mounting's own (a, k): means, variances, covariance. a is learned from the sessions from
 * `from` on, k from all. */
typedef struct own_curve {
  double a, k, var_a, var_k, cov;
} own_curve;
own_curve judge__own_curve(const leaving_series *series, size_t from);

#endif
