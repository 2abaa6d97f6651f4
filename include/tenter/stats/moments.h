/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain numbers of one sample: sums, mean, spread, quantiles.
 *
 * Values are finite doubles of any unit; results are in that unit. Where there are too few values a
 * result is NaN, never 0. Nothing is allocated. Accuracy: on the univariate sets of the NIST
 * Statistical Reference Datasets all certified digits of the mean, and at least eight of the sd. */
#ifndef TENTER_STATS_MOMENTS_H
#define TENTER_STATS_MOMENTS_H

#include <math.h>
#include <stddef.h>

/* ---- compensated sum ---- */

/* A running sum that keeps what rounding drops (Neumaier 1974, Z. angew. Math. Mech. 54:39). Its
 * error does not grow with the number of terms. Start from {0}. */
typedef struct tenter_sum {
  double sum, rest;
} tenter_sum;

static inline void tenter_sum_add(tenter_sum *s, double value) {
  double total = s->sum + value;
  s->rest += fabs(s->sum) >= fabs(value) ? (s->sum - total) + value : (value - total) + s->sum;
  s->sum = total;
}

static inline double tenter_sum_total(const tenter_sum *s) {
  return s->sum + s->rest;
}

/* ---- one sample ---- */

typedef struct tenter_moments {
  size_t count;
  double mean;            /* NaN for no values */
  double sd;              /* divisor count - 1; NaN below two values */
  double min, max, range; /* NaN for no values */
} tenter_moments;

/* Two passes, sums compensated (the corrected two-pass algorithm: Chan, Golub, LeVeque 1983,
 * Amer. Statist. 37:242, eq. 1.7). */
tenter_moments tenter_moments_of(const double *values, size_t count);

/* Sum of weight * value / sum of weight, weights >= 0; NaN where they sum to 0. */
double tenter_weighted_mean(const double *values, const double *weights, size_t count);

/* ---- order statistics: the values are put in another order ---- */

/* Quantile of type 7 of Hyndman and Fan 1996, Amer. Statist. 50:361: linear between order
 * statistics, with the rank 1 + (count - 1) p. p is held to 0 .. 1. NaN for no values. Expected
 * O(count). */
double tenter_quantile_of(double *values, size_t count, double p);

/* The middle value, or the mean of the two middle ones; NaN for no values. */
double tenter_median_of(double *values, size_t count);

/* Median of |value - centre|: the values are overwritten with |value - centre|. Times
 * TENTER_MAD_SD it estimates the sd of a normal sample. NaN for no values. */
double tenter_mad_of(double *values, size_t count, double centre);

#define TENTER_MAD_SD 1.482602218505602 /* 1 / quantile of the standard normal at 3/4 */

#endif
