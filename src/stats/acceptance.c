/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans for acceptance by variables. Relies on the noncentral t. */
#include "tenter/stats/acceptance.h"

#include <math.h>

#include "tenter/stats/noncentral.h"
#include "tenter/stats/normal.h"

static bool usable(const tenter_plan *plan) {
  return isfinite(plan->k) && plan->count >= (isnan(plan->sigma) ? 2 : 1);
}

tenter_plan_result tenter_plan_decide(const tenter_plan *plan, double mean, double sd, double lower,
                                      double upper) {
  double sigma = isnan(plan->sigma) ? sd : plan->sigma;
  if (!(sigma > 0))
    return (tenter_plan_result){NAN, NAN, false};
  double low = (mean - lower) / sigma, high = (upper - mean) / sigma;
  return (tenter_plan_result){low, high, usable(plan) && low >= plan->k && high >= plan->k};
}

double tenter_plan_accepts(const tenter_plan *plan, double share) {
  if (!usable(plan) || !(share >= 0 && share <= 1))
    return NAN;
  if (share == 0 || share == 1)
    return share == 0 ? 1 : 0;
  double root = sqrt((double)plan->count), z = -tenter_normal_quantile(share);
  if (!isnan(plan->sigma))
    return tenter_normal_below(root * (z - plan->k));
  return tenter_noncentral_t_above(plan->k * root, (double)plan->count - 1, z * root);
}

double tenter_plan_quality(const tenter_plan *plan, double chance) {
  if (!usable(plan) || !(chance > 0 && chance < 1))
    return NAN;
  double root = sqrt((double)plan->count);
  if (!isnan(plan->sigma))
    return tenter_normal_above(plan->k + tenter_normal_quantile(chance) / root);
  double delta = tenter_noncentral_t_delta(plan->k * root, (double)plan->count - 1, 1 - chance);
  return tenter_normal_above(delta / root);
}
