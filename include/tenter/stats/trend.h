/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Trends without a model, shares with an interval, and many tests at once. Nothing is allocated. */
#ifndef TENTER_STATS_TREND_H
#define TENTER_STATS_TREND_H

#include <stddef.h>

/* ---- trend ---- */

/* Mann-Kendall test of a trend in y against its order (Mann 1945, Econometrica 13:245; variance
 * with ties: Kendall 1975, Rank Correlation Methods, 4.4), with continuity correction. O(count^2).
 */
typedef struct tenter_mann_kendall {
  double s;        /* pairs that rise less pairs that fall */
  double variance; /* of s without a trend */
  double z;        /* (s -+ 1) / sd, 0 where s is 0 */
  double p;        /* two-sided, normal approximation: fair from 10 values on; NaN below 4 values or
                      where all are equal */
} tenter_mann_kendall;
tenter_mann_kendall tenter_mann_kendall_of(const double *y, size_t count);

/* Theil-Sen line: the median of the slopes of all pairs with different x (Theil 1950; Sen 1968,
 * J. Amer. Statist. Ass. 63:1379), its interval from Kendall's S with the variance for ties in y
 * and x (Sen 1968, 4), the intercept median(y) - slope * median(x). */
typedef struct tenter_theil_sen {
  double slope, low, high; /* interval at the level asked for; NaN where it reaches beyond all
                              pairs, and all NaN without two different x */
  double intercept;
  size_t pairs;
} tenter_theil_sen;

/* x NULL is 0, 1, 2, ... level, as 0.95, of the interval. scratch holds
 * tenter_theil_sen_scratch(count) doubles. O(count^2 log count): for hundreds of values. */
tenter_theil_sen tenter_theil_sen_of(const double *x, const double *y, size_t count, double level,
                                     double *scratch);
size_t tenter_theil_sen_scratch(size_t count);

/* ---- a share ---- */

typedef struct tenter_interval {
  double low, high;
} tenter_interval;

/* Wilson's interval for a share of hits in count (Wilson 1927, J. Amer. Statist. Ass. 22:209),
 * without continuity correction. hits may be a fraction (a sum of chances). NaN for count 0 or hits
 * outside 0 .. count. */
tenter_interval tenter_wilson_interval(double hits, double count, double level);

/* The exact interval, which covers at least at its level (Clopper, Pearson 1934, Biometrika
 * 26:404), from the beta distribution. NaN for count 0 or hits above count. */
tenter_interval tenter_exact_interval(size_t hits, size_t count, double level);

/* ---- many tests ---- */

/* Benjamini-Hochberg adjusted p-values (Benjamini, Hochberg 1995, J. R. Statist. Soc. B 57:289):
 * reject those with adjusted <= q to hold the false-discovery rate at q. p in 0 .. 1, any order;
 * NaN is no test: it stays NaN and does not count. order[count] is scratch. adjusted may be p. */
void tenter_benjamini_hochberg(const double *p, size_t count, double *adjusted, size_t *order);

#endif
