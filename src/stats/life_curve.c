/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Curves of survival, by a law or by steps. Relies on life_law.c. */
#include <math.h>

#include "gauss.h"
#include "life_law.h"
#include "tenter/stats/moments.h"

static double score_of(const tenter_life_curve *curve, double t) {
  return (log(t) - curve->location) / curve->scale;
}

/* How many steps are at or before t (`at`), or before it. */
static size_t steps_by(const tenter_life_curve *curve, double t, bool at) {
  size_t low = 0, high = curve->count;
  while (low < high) {
    size_t middle = (low + high) / 2;
    if (curve->steps[middle] < t || (at && curve->steps[middle] == t))
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

static double after_steps(const tenter_life_curve *curve, size_t count) {
  return count > 0 ? curve->survival[count - 1] : 1;
}

double tenter_life_survival(const tenter_life_curve *curve, double t) {
  if (isnan(t) || (curve->steps && t > curve->end))
    return NAN;
  if (curve->steps)
    return after_steps(curve, steps_by(curve, t, true));
  return t > 0 ? life_law_survival(curve->law, score_of(curve, t)) : 1;
}

double tenter_life_survival_before(const tenter_life_curve *curve, double t) {
  if (!curve->steps || isnan(t) || t > curve->end)
    return tenter_life_survival(curve, t);
  return after_steps(curve, steps_by(curve, t, false));
}

double tenter_life_quantile(const tenter_life_curve *curve, double p) {
  const double rounding = 1e-12;
  if (!(p > 0 && p < 1))
    return NAN;
  if (!curve->steps)
    return exp(curve->location + curve->scale * life_law_quantile(curve->law, p));
  size_t k = 0;
  while (k < curve->count && curve->survival[k] > 1 - p + rounding)
    k++;
  return k < curve->count ? curve->steps[k] : INFINITY;
}

double tenter_life_hazard(const tenter_life_curve *curve, double t) {
  if (curve->steps || !(t > 0))
    return NAN;
  double w = score_of(curve, t);
  return life_law_density(curve->law, w) / life_law_survival(curve->law, w) / (curve->scale * t);
}

/* ---- the integral --------------------------------------------------------------------------- */

static double exposure_of_steps(const tenter_life_curve *curve, double t) {
  double before = 0, survival = 1;
  tenter_sum sum = {0};
  if (!(t <= curve->end))
    return NAN;
  for (size_t k = 0; k < curve->count && curve->steps[k] < t; k++) {
    tenter_sum_add(&sum, survival * (curve->steps[k] - before));
    before = curve->steps[k];
    survival = curve->survival[k];
  }
  if (survival > 0)
    tenter_sum_add(&sum, survival * (t - before));
  return tenter_sum_total(&sum);
}

/* The integral of P(T > u) u over log u. */
static double panel(const tenter_life_curve *curve, double from, double to) {
  double middle = (from + to) / 2, half = (to - from) / 2, sum = 0;
  for (int i = 0; i < 10; i++)
    for (int side = -1; side <= 1; side += 2) {
      double y = middle + side * half * gauss20_x[i];
      double w = (y - curve->location) / curve->scale;
      sum += gauss20_w[i] * exp(y) * life_law_survival(curve->law, w);
    }
  return half * sum;
}

/* Below the quantile of 1e-18 survival is 1 to rounding; what lies 40 below the end in log time, or
 * above W = 100, where survival is below e^-100, adds nothing. Panels are as narrow as the
 * integrand needs, which is smooth on the scale of both log u and W; there are at most 71. */
static double exposure_of_law(const tenter_life_curve *curve, double t) {
  double top = fmin(log(t), curve->location + 100 * curve->scale);
  double bottom = curve->location + curve->scale * life_law_quantile(curve->law, 1e-18);
  bottom = fmax(bottom, top - 40);
  if (!(bottom < top))
    return t;
  size_t count = (size_t)ceil((top - bottom) / fmin(1, 2 * curve->scale));
  double width = (top - bottom) / (double)count;
  tenter_sum sum = {exp(bottom), 0};
  for (size_t i = 0; i < count; i++)
    tenter_sum_add(&sum,
                   panel(curve, bottom + (double)i * width, bottom + (double)(i + 1) * width));
  return tenter_sum_total(&sum);
}

double tenter_life_exposure(const tenter_life_curve *curve, double t) {
  if (!(t > 0))
    return isnan(t) ? NAN : 0;
  if (curve->steps)
    return exposure_of_steps(curve, t);
  if (!isfinite(curve->location) || !(curve->scale > 0) || isinf(curve->scale))
    return NAN;
  if (isinf(t))
    return exp(curve->location) * life_law_mean(curve->law, curve->scale);
  return exposure_of_law(curve, t);
}
