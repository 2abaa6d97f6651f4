/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is a sample normal? A test and a picture. Nothing is allocated. */
#ifndef TENTER_STATS_NORMALITY_H
#define TENTER_STATS_NORMALITY_H

#include <stddef.h>

enum { TENTER_NORMALITY_LEAST = 8 }; /* values below which the test says nothing */

/* Anderson-Darling test of a normal law with mean and sd taken from the sample (Anderson, Darling
 * 1954; Stephens 1974). a2 is the plain statistic; the e-Handbook of NIST/SEMATECH multiplies it by
 * 1 + 4/n - 25/n^2. adjusted = a2 (1 + 0.75/n + 2.25/n^2), and p from it, are those of D'Agostino,
 * Stephens 1986, Goodness-of-Fit Techniques, table 4.9; p is not below 3.7e-24. NaN with fewer than
 * TENTER_NORMALITY_LEAST values or where all are equal. */
typedef struct tenter_normality {
  size_t count;
  double mean, sd, a2, adjusted, p;
} tenter_normality;

/* sorted: rising. */
tenter_normality tenter_normality_of(const double *sorted, size_t count);

/* The normal probability plot: expected[i] is the standard normal quantile of the median of the
 * i-th order statistic of a uniform sample (Filliben 1975, Technometrics 17:111; e-Handbook
 * 1.3.3.21): 1 - 0.5^(1/n), (i - 0.3175) / (n + 0.365), 0.5^(1/n). A normal sample lies near the
 * line mean + sd * expected. */
void tenter_normal_plot(size_t count, double *expected);

#endif
