/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A straight line by weighted least squares, plain or robust.
 *
 * Model. y = level + slope u + e, var e = sigma^2 / weight, at u in any unit. (A loss per decade is
 * -slope at u = log10(age / 24 h).)
 * Estimator. From centred sums: slope = Suy / Suu, level = ymean - slope umean. sigma is either
 * known, or estimated as sqrt(RSS / (count - 2)).
 * Reference. Draper, Smith 1998, Applied Regression Analysis, ch. 1; updating of the sums: West
 * 1979, Comm. ACM 22:532; merging: Chan, Golub, LeVeque 1983, Amer. Statist. 37:242.
 * Accuracy: all certified digits but the last two of NIST StRD Norris.
 * Too few data: functions return false and leave NaN in what is not known. Nothing is allocated. */
#ifndef TENTER_STATS_LINE_H
#define TENTER_STATS_LINE_H

#include <stdbool.h>
#include <stddef.h>

/* Sums about the means. Start from {0}. */
typedef struct tenter_line_sums {
  size_t count;
  double weight;         /* sum of weights */
  double u_mean, y_mean; /* weighted */
  double uu, uy, yy;     /* weighted sums of products about the means */
} tenter_line_sums;

/* Adds a point; a weight of 0 adds nothing, not even to count. */
void tenter_line_sums_add(tenter_line_sums *sums, double u, double y, double weight);
/* Adds all points of another set. */
void tenter_line_sums_merge(tenter_line_sums *sums, const tenter_line_sums *more);

typedef struct tenter_line_fit {
  size_t count;
  double level, slope;       /* slope is NaN where all u agree; level then too, unless u is 0 */
  double level_se, slope_se; /* NaN where sigma is not known and count < 3 */
  double cov;                /* of level and slope */
  double u_mean, mean_se; /* weighted mean of u, where the line is known best, and its se there */
  double sigma;           /* sd of a point of weight 1: as given, or estimated (NaN: count < 3) */
  double df;              /* count - 2 where sigma is estimated; infinite where it was given */
  double rss;             /* weighted sum of squared residuals */
} tenter_line_fit;

/* The line of the sums. sigma: known sd of a point of weight 1, or NaN to estimate it. True where
 * level and slope are known: two different u at least (1e-10 of their size apart). */
bool tenter_line_solve(const tenter_line_sums *sums, double sigma, tenter_line_fit *fit);

/* The same from data, in two passes (the residuals are taken from the data, so that rss has no
 * cancellation). weight NULL is all 1. */
bool tenter_line_least_squares(size_t count, const double *u, const double *y, const double *weight,
                               double sigma, tenter_line_fit *fit);

/* The value of the line at u, and its standard error (se may be NULL): of the line, not of a new
 * point. */
double tenter_line_fit_at(const tenter_line_fit *fit, double u, double *se);

/* Robust line, for series in which a session may be misread at either end (mestimate.h does the
 * same for any columns, but starts from least squares, which one such point can carry away):
 * M-estimate with Tukey's bisquare, tuning constant 4.685 (95 % efficient at the
 * normal), scale = median |residual| / 0.6745 of each step, iteratively reweighted (Holland, Welsch
 * 1977, Comm. Statist. A6:813; Beaton, Tukey 1974, Technometrics 16:147), started from the repeated
 * median line (Siegel 1982, Biometrika 69:242; of at most 256 evenly picked points), which half the
 * points being wrong can't carry away. Residuals are multiplied by the square root of weight (NULL:
 * all 1).
 *
 * robust[count] receives what weight each point kept: 1 = in line, 0 = taken no notice of.
 * scratch[count] is overwritten. fit has df = count - 2, sigma = the scale, rss as weighted by
 * robust, and standard errors by Huber 1981, Robust Statistics, eq. 7.6.6, as MASS::rlm gives them.
 * Where at least half the points lie on one line exactly, the scale is 0, and points on the line
 * keep 1, others 0. False below three points or with all u equal: robust is then all 1 and fit the
 * least-squares one. *converged (may be NULL): false when 200 steps did not settle to 1e-10. */
bool tenter_line_robust(size_t count, const double *u, const double *y, const double *weight,
                        double *robust, double *scratch, bool *converged, tenter_line_fit *fit);

#endif
