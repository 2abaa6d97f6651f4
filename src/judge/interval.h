/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_SRC_JUDGE_INTERVAL_H
#define TENTER_SRC_JUDGE_INTERVAL_H

#include "population.h"

/* A mounting of a mesh or lot yet to be made, beside review->intervals and in its order. */
typedef struct interval_inner {
  const new_mounting *nodes; /* review->node_count */
  double *weight;            /* of the nodes; they add up to 1 */
} interval_inner;

/* review->intervals and j->intervals. O(mountings + intervals). */
tenter_status judge__intervals(judge *j, tenter_error *error);

/* The same question at another risk: days alone. */
double judge__interval_days(const judge *j, const interval_inner *of, double floor, double risk);

/* The chance that the new mounting is below the floor at an age, or was when it had settled; never
 * falls with the age. */
double judge__interval_below(const judge *j, const interval_inner *of, double floor,
                             double age_hours);

/* Chance that the share of all such mountings that is below the floor at an age is over the risk:
 * what is not known of their mean line and of the variance components. */
double judge__interval_reached(const judge *j, const interval_inner *of, double floor, double risk,
                               double age_hours);

/* A share of mountings is below the floor at an age: the mean over what is not known is
 * judge__interval_below; this is its p-point (0 < p < 1). */
double judge__interval_share(const judge *j, const interval_inner *of, double floor, double p,
                             double age_hours);

#endif
