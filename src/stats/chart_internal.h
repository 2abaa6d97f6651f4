/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files of the control charts. */
#ifndef TENTER_STATS_CHART_INTERNAL_H
#define TENTER_STATS_CHART_INTERNAL_H

#include "tenter/stats/charts.h"

/* A standard deviation and what it is worth; NaN where nothing tells. */
typedef struct chart_sigma {
  double value;
  tenter_control_worth worth;
} chart_sigma;

/* The worth of an estimate with this squared coefficient of variation, made of so many independent
 * contrasts. */
tenter_control_worth chart_worth_of(double variation, double contrasts);

/* Values of estimate / sigma with weights (sum 1) that give means over it: the trapezoidal rule
 * with a step in standard deviations of its logarithm, down to a weight of least times the highest.
 * Room for CHART_WORTH_NODES each; how many. */
enum { CHART_WORTH_NODES = 400 };
size_t chart_worth_nodes(tenter_control_worth worth, double step, double least, double *ratio,
                         double *weight);

/* The law of z * sigma / estimate for z standard normal: P(> x), density at x >= 0, and the x >= 0
 * that P(> x) = above has. */
double chart_quotient_above(tenter_control_worth worth, double x);
double chart_quotient_density(tenter_control_worth worth, double x);
double chart_quotient_quantile(tenter_control_worth worth, double above);

/* Sigma within subgroups, by the plain or the robust estimate of the header. TENTER_FAILED without
 * memory. */
tenter_status chart_sigma_within(const tenter_subgroup *subgroups, size_t count,
                                 tenter_control_spread spread, bool robust, chart_sigma *sigma,
                                 tenter_error *error);

/* Sigma of the points by their moving ranges. */
tenter_status chart_sigma_moving(const tenter_subgroup *subgroups, size_t count, bool robust,
                                 chart_sigma *sigma, tenter_error *error);

/* The median of count > 0 values, which are reordered. */
double chart_median(double *values, size_t count);

/* The standard deviation of an average of n in its own chart. */
double chart_sigma_of_point(const tenter_control_limits *limits, size_t n);

/* The variance of the centre in units of that of an average of n. */
double chart_centre_variance(const tenter_control_limits *limits, size_t n);

#endif
