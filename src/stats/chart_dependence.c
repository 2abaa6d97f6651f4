/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether neighbouring points are alike, and what that does to limits. Relies on chart_numeric. */
#include <math.h>

#include "chart_numeric.h"
#include "tenter/stats/charts.h"

enum { FEWEST_POINTS = 8 }; /* below, the normal law of lag1 is no more than a guess */
static const double most = 0.95;

/* Formula    lag1 = sum of d_t d_(t+1) / sum of d^2, d from the mean of all.
 * Reference  Moran (1948), Biometrika 35:255-260: mean -1/n and variance (n-2)^2 / (n^2 (n-1)) for
 *            independent normal points; with gaps, for the pairs there are. Bias (1 + 4 r)/n of an
 *            autoregression: Kendall (1954), Biometrika 41:403-404. */
tenter_control_dependence tenter_control_dependence_of(const double *points, size_t count) {
  tenter_control_dependence r = {0, NAN, NAN, NAN, NAN};
  double sum = 0, n = 0, square = 0, product = 0;
  for (size_t i = 0; i < count; i++)
    if (isfinite(points[i])) {
      sum += points[i];
      n++;
    }
  double mean = sum / n, before = NAN;
  for (size_t i = 0; i < count; i++) {
    double d = isfinite(points[i]) ? points[i] - mean : NAN;
    square += isnan(d) ? 0 : d * d;
    if (!isnan(d * before)) {
      product += d * before;
      r.pairs++;
    }
    before = d;
  }
  if (n < FEWEST_POINTS || r.pairs == 0 || !(square > 0))
    return r;
  double pairs = (double)r.pairs;
  r.lag1 = product / square;
  double expected = -pairs / (n * (n - 1));
  double sd = (n - 2) / n * sqrt(pairs) / (n - 1);
  r.p_value = 2 * chart_above(fabs(r.lag1 - expected) / sd);
  double rho = fmin(fmax(r.lag1 + (1 + 4 * r.lag1) / n, -most), most);
  r.widen = 1 / sqrt(1 - rho);
  r.false_rate = 2 * chart_above(3 * sqrt(1 - rho));
  return r;
}

/* For an autoregression the mean of n points is worth n (1 - r)/(1 + r) independent ones, a
 * variance n (1 - r^2)/(1 + r^2) (Bartlett 1946, J. Roy. Statist. Soc. Suppl. 8:27-41). Never more
 * than there were: a negative r is not trusted to gain anything. */
void tenter_control_allow(tenter_control_limits *limits,
                          const tenter_control_dependence *dependence) {
  bool moving = limits->kind != TENTER_CONTROL_AVERAGES && !limits->known;
  if (!moving || isnan(dependence->widen))
    return;
  double rho = 1 - 1 / (dependence->widen * dependence->widen);
  limits->sigma *= dependence->widen;
  limits->centre_weight *= fmin((1 - rho) / (1 + rho), 1);
  limits->worth.freedom *= (1 - rho * rho) / (1 + rho * rho);
}
