/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Acceptance by variables, in the n, k form of ISO 3951-1: a delivery is accepted when in a sample
 * of n the mean lies at least k standard deviations within its limit. Supposes a normal law and an
 * unsorted delivery. Nothing is allocated. */
#ifndef TENTER_STATS_ACCEPTANCE_H
#define TENTER_STATS_ACCEPTANCE_H

#include <stdbool.h>
#include <stddef.h>

typedef struct tenter_plan {
  size_t count; /* n, >= 2 (>= 1 with sigma known) */
  double k;
  double sigma; /* known standard deviation of the process; NaN: taken from the sample */
} tenter_plan;

typedef struct tenter_plan_result {
  double lower_quality, upper_quality; /* (mean - lower) / sd, (upper - mean) / sd; inf without that
                                          limit; NaN for equal values without a known sigma */
  bool accepted;                       /* both at least k (separate limits of one k) */
} tenter_plan_result;

/* The result for a sample of mean and sd (used where sigma is NaN); limits may be -inf, inf. */
tenter_plan_result tenter_plan_decide(const tenter_plan *plan, double mean, double sd, double lower,
                                      double upper);

/* The operating characteristic: the chance to accept a delivery of which a share (0 .. 1) lies
 * beyond one limit. sigma unknown: P(T >= k sqrt(n)), T noncentral t with n - 1 degrees of freedom
 * and noncentrality z(1 - share) sqrt(n); known: P(Z <= sqrt(n) (z(1 - share) - k)). With two
 * limits the chance is this where all lies beyond one of them, less where it is shared. */
double tenter_plan_accepts(const tenter_plan *plan, double share);

/* The share that is accepted with a chance (strictly between 0 and 1): its inverse. */
double tenter_plan_quality(const tenter_plan *plan, double chance);

#endif
