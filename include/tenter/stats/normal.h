/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The standard normal distribution: one variable, two correlated ones, the greatest of several.
 * NaN in, NaN out; infinite limits are allowed everywhere. Nothing is allocated. */
#ifndef TENTER_STATS_NORMAL_H
#define TENTER_STATS_NORMAL_H

#include <math.h>
#include <stddef.h>

/* ---- one variable ---- */

/* P(Z <= z); full relative accuracy in the lower tail. */
static inline double tenter_normal_below(double z) {
  return erfc(-z * M_SQRT1_2) / 2;
}

/* P(Z > z); full relative accuracy in the upper tail. */
static inline double tenter_normal_above(double z) {
  return erfc(z * M_SQRT1_2) / 2;
}

static inline double tenter_normal_density(double z) {
  return exp(-z * z / 2) * (M_2_SQRTPI * M_SQRT1_2 / 2);
}

/* P(low < N(mean, sd^2) <= high); sd 0 is a certainty. 0 where high <= low. No cancellation in
 * either tail. */
double tenter_normal_between(double mean, double sd, double low, double high);

/* z with P(Z <= z) = p: Wichura 1988, Appl. Statist. 37:477 (AS 241), 1e-15 relative. -inf at 0,
 * inf at 1, NaN outside. */
double tenter_normal_quantile(double p);

/* ---- two variables with correlation rho (-1 .. 1, both ends exact) ---- */

/* P(X > h and Y > k), absolute error below 1e-13, about 0.2 us: by Owen's T function (Owen 1956,
 * Ann. Math. Statist. 27:1075), integrated by Gauss-Legendre after his reduction to slopes up to 1.
 * NaN for |rho| > 1. */
double tenter_normal_both_above(double h, double k, double rho);

/* P(X <= h and Y <= k). */
double tenter_normal_both_below(double h, double k, double rho);

/* The same as tenter_normal_both_above where 1 - rho^2 is known better than rho tells it (close to
 * +-1): rest = 1 - rho^2, above or at 0. */
double tenter_normal_both_above_rest(double h, double k, double rho, double rest);

/* ---- the greatest of k independent |Z| ---- */

/* P(greatest > z) = 1 - (1 - 2 P(Z > z))^k (Sidak 1967, J. Amer. Statist. Ass. 62:626; for
 * correlated ones an upper bound). k may be a fraction, above 0; z below 0 gives 1. */
double tenter_normal_greatest_above(double k, double z);

/* z with P(greatest <= z) = p: a bound that holds for all k at once. p in 0 .. 1. */
double tenter_normal_greatest_quantile(double k, double p);

#endif
