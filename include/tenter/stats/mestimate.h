/* SPDX-License-Identifier: GPL-3.0-or-later */
/* M-estimation: weights that fade as a residual grows, and a linear fit that uses them.
 *
 * A residual of standardized size u = r / s, s = median|r| / 0.6745, gets the weight psi(u) / u:
 *   Huber     1 up to |u| = 1.345, then 1.345 / |u|         (Huber 1964, Ann. Math. Stat. 35:73)
 *   bisquare  (1 - (u / 4.685)^2)^2 inside, 0 outside       (Beaton and Tukey 1974, Technometrics
 * 16:147) Both constants give 95 % efficiency when errors are normal (Holland and Welsch 1977,
 * Comm. Stat. A6:813). The scale is re-estimated at each step about zero, as R's MASS::rlm does. */
#ifndef TENTER_STATS_MESTIMATE_H
#define TENTER_STATS_MESTIMATE_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"

typedef enum tenter_psi { TENTER_PSI_NONE, TENTER_PSI_HUBER, TENTER_PSI_BISQUARE } tenter_psi;

/* The weight of a standardized residual, 0 .. 1; TENTER_PSI_NONE gives 1, NaN gives NaN. */
double tenter_psi_weight(tenter_psi psi, double u);

/* The derivative of psi at u; 1 for TENTER_PSI_NONE. */
double tenter_psi_slope(tenter_psi psi, double u);

/* median|r| / 0.6745 about zero; scratch of count doubles is overwritten. NaN for count = 0. */
double tenter_mad_scale(const double *r, size_t count, double *scratch);

/* How much wider than least squares the standard errors are: sqrt of (K / mean psi')^2 times
 * sum (w u s)^2 / (n - p) (Huber 1981, Robust Statistics, eq. 7.6.6-7.6.8; so does summary.rlm).
 * This is the standard deviation by which the square roots of the diagonal of (X'X)^-1 are
 * multiplied. r are residuals already multiplied by the roots of the prior weights. NaN where count
 * <= parameters or no residual is inside. */
double tenter_mestimate_sigma(tenter_psi psi, const double *r, size_t count, size_t parameters,
                              double scale);

/* ---- a line, a plane: linear models ---- */

enum { TENTER_MESTIMATE_COLUMNS = 16 }; /* the most columns */

typedef struct tenter_mestimate {
  size_t count, columns;
  double coefficient[TENTER_MESTIMATE_COLUMNS];
  double se[TENTER_MESTIMATE_COLUMNS];
  double scale; /* s */
  double sigma; /* what se was computed with */
  size_t iterations;
  bool converged; /* false: 1000 steps were not enough, or the scale fell to nothing (see scale) */
} tenter_mestimate;

/* y on the columns of x (x[k * count + i], column by column; an intercept is a column of ones) by
 * iterated weighted least squares, from the least-squares fit. prior (NULL: all 1) are weights
 * proportional to 1 / variance. robust (NULL or count doubles) receives the weights of the last
 * step. The bisquare can have several solutions; from_huber starts it at the Huber fit, which
 * leaves fewer to chance. TENTER_INPUT where count <= columns, columns are 0 or too many, a number
 * is not finite, a weight is negative or the columns depend on each other; TENTER_FAILED without
 * memory. */
tenter_status tenter_mestimate_fit(tenter_psi psi, bool from_huber, size_t count, size_t columns,
                                   const double *x, const double *y, const double *prior,
                                   double *robust, tenter_mestimate *result, tenter_error *error);

#endif
