/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files of the control charts. */
#ifndef TENTER_STATS_CHART_INTERNAL_H
#define TENTER_STATS_CHART_INTERNAL_H

#include "tenter/stats/charts.h"

/* A standard deviation and what it is worth: that of freedom + 1 independent readings, by its
 * coefficient of variation; NaN where nothing tells. */
typedef struct chart_sigma {
  double value, freedom;
} chart_sigma;

/* The degrees of freedom at which s has this squared coefficient of variation:
 * (1 - c4^2) / c4^2 = variation, c4 of freedom + 1. */
double chart_freedom(double variation);

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
