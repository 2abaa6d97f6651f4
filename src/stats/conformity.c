/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measured value against limits, its uncertainty counted. */
#include "tenter/stats/conformity.h"

#include "tenter/stats/normal.h"

double tenter_conformity_probability(double value, double u, double low, double high) {
  if (isnan(value) || isnan(u) || isnan(low) || isnan(high))
    return NAN;
  if (u == 0)
    return value >= low && value <= high ? 1 : 0;
  return tenter_normal_between(value, u, low, high);
}

tenter_conformity tenter_conformity_decide(double value, double u, double k, double low,
                                           double high) {
  double guard = k * u;
  if (isnan(value) || isnan(guard) || isnan(low) || isnan(high))
    return TENTER_CONFORMITY_UNDECIDED;
  if (value >= low + guard && value <= high - guard)
    return TENTER_CONFORMITY_INSIDE;
  if (value <= low - guard || value >= high + guard)
    return TENTER_CONFORMITY_OUTSIDE;
  return TENTER_CONFORMITY_UNDECIDED;
}
