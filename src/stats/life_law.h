/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The standard laws of W in log T = location + scale W (life.h). */
#ifndef TENTER_STATS_LIFE_LAW_H
#define TENTER_STATS_LIFE_LAW_H

#include "tenter/stats/life.h"

/* Of a row (low, high] in W, or of a failure at low = high: the logarithm of its chance (of its
 * density), and the derivatives by both ends; of an exact one all are by low. low -INFINITY and
 * high INFINITY are allowed. */
typedef struct life_slope {
  double value;
  double by_low, by_high;                       /* first */
  double by_low_low, by_low_high, by_high_high; /* second */
} life_slope;

life_slope life_law_slope(tenter_life_law law, double low, double high);

/* Is the density all but constant from low to high, both finite, so that the logarithm of the
 * chance is that of the density in the middle and of the width, to 1e-9? */
bool life_law_is_narrow(tenter_life_law law, double low, double high);

double life_law_survival(tenter_life_law law, double w); /* P(W > w) */
double life_law_below(tenter_life_law law, double w);    /* P(W <= w), digits kept near 0 */
double life_law_density(tenter_life_law law, double w);
double life_law_score(tenter_life_law law, double w);    /* derivative of log density */
double life_law_quantile(tenter_life_law law, double p); /* w with P(W <= w) = p */
double life_law_mean(tenter_life_law law, double scale); /* E e^(scale W); INFINITY where it is */

#endif
