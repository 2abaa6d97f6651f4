/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between gauge.c (balanced studies) and gauge_unbalanced.c. */
#ifndef TENTER_SRC_STATS_GAUGE_INTERNAL_H
#define TENTER_SRC_STATS_GAUGE_INTERNAL_H

#include "tenter/stats/gauge.h"

typedef struct gauge_data {
  size_t count, parts, people;
  const uint32_t *part, *person;
  const double *value;
} gauge_data;

/* A variance with an interval by the chi-square of df; NaN: none. */
tenter_gauge_part gauge__part(double variance, double df);

/* Fills all of the study but shares and the analysis of variance; mean and count by cell, part *
 * people + person. */
tenter_status gauge__unbalanced(const gauge_data *d, const double *mean, const size_t *count,
                                tenter_gauge_study *study, tenter_error *error);

#endif
