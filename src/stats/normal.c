/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The standard normal distribution, one and two variables. */
#include "tenter/stats/normal.h"

#include <gsl/gsl_cdf.h>

#include "gauss.h"

/* ---- one variable ---- */

/* Taken in the tail that is the smaller, where it keeps its digits. */
double tenter_normal_between(double mean, double sd, double low, double high) {
  if (isnan(mean) || isnan(sd) || isnan(low) || isnan(high))
    return NAN;
  if (high <= low)
    return 0;
  if (sd == 0)
    return mean > low && mean <= high ? 1 : 0;
  double a = (low - mean) / sd, b = (high - mean) / sd;
  return a > 0 ? tenter_normal_above(a) - tenter_normal_above(b)
               : tenter_normal_below(b) - tenter_normal_below(a);
}

double tenter_normal_quantile(double p) {
  if (!(p >= 0 && p <= 1))
    return NAN;
  if (p == 0 || p == 1)
    return p == 0 ? -INFINITY : INFINITY;
  return gsl_cdf_ugaussian_Pinv(p);
}

/* ---- two variables ---- */

enum { FAR = 40 }; /* P(Z > 40) is 0 in double precision */

/* The integral over the correlation (Drezner and Wesolowsky), written in the angle asin(rho), which
 * takes the root out of the integrand; fewer nodes where the angle is small. */
static double moderate(double h, double k, double rho) {
  const double *x = gauss6_x, *w = gauss6_w;
  int half = 3;
  if (fabs(rho) >= 0.75) {
    x = gauss20_x, w = gauss20_w;
    half = 10;
  } else if (fabs(rho) >= 0.3) {
    x = gauss12_x, w = gauss12_w;
    half = 6;
  }
  double hk = h * k, hs = (h * h + k * k) / 2, angle = asin(rho) / 2, sum = 0;
  for (int i = 0; i < half; i++)
    for (int side = -1; side <= 1; side += 2) {
      double s = sin(angle * (1 + side * x[i]));
      sum += w[i] * exp((s * hk - hs) / (1 - s * s));
    }
  return sum * angle / (2 * M_PI) + tenter_normal_above(h) * tenter_normal_above(k);
}

/* What rho falls short of 1, as an integral in sqrt(1 - rho^2) from which Genz (2004, eq. 6) takes
 * the expansion at 0 off, so that 20 nodes are enough; rest = 1 - rho^2 and rho > 0. */
static double shortfall(double h, double k, double rest) {
  double hk = h * k, a = sqrt(rest), b2 = (h - k) * (h - k);
  double c = (4 - hk) / 8, d = (12 - hk) / 16, e = -(b2 / rest + hk) / 2, sum = 0;
  if (e > -100)
    sum = a * exp(e) * (1 - c * (b2 - rest) * (1 - d * b2 / 5) / 3 + c * d * rest * rest / 5);
  if (-hk < 100) {
    double b = sqrt(b2);
    sum -= exp(-hk / 2) * sqrt(2 * M_PI) * tenter_normal_below(-b / a) * b *
           (1 - c * b2 * (1 - d * b2 / 5) / 3);
  }
  for (int i = 0; i < 10; i++)
    for (int side = -1; side <= 1; side += 2) {
      double x = a / 2 * (1 + side * gauss20_x[i]), x2 = x * x, root = sqrt(1 - x2);
      e = -(b2 / x2 + hk) / 2;
      if (e > -100)
        sum += a / 2 * gauss20_w[i] * exp(e) *
               (exp(-hk * x2 / (2 * (1 + root) * (1 + root))) / root - (1 + c * x2 * (1 + d * x2)));
    }
  return sum / (2 * M_PI);
}

static double strong(double h, double k, double rho, double rest) {
  double other = rho > 0 ? k : -k;
  double off = rest > 0 ? shortfall(h, other, rest) : 0;
  if (rho > 0)
    return tenter_normal_above(fmax(h, k)) - off;
  double both = other > h ? tenter_normal_between(0, 1, h, other) : 0;
  return both + off;
}

double tenter_normal_both_above_rest(double h, double k, double rho, double rest) {
  if (isnan(h) || isnan(k) || !(fabs(rho) <= 1) || !(rest >= 0))
    return NAN;
  if (h >= FAR || k >= FAR)
    return 0;
  if (h <= -FAR || k <= -FAR)
    return tenter_normal_above(fmax(h, k)); /* fmax: both may be far */
  double p = fabs(rho) < 0.925 ? moderate(h, k, rho) : strong(h, k, rho, rest);
  return fmin(1, fmax(0, p));
}

double tenter_normal_both_above(double h, double k, double rho) {
  return tenter_normal_both_above_rest(h, k, rho, (1 - rho) * (1 + rho));
}

double tenter_normal_both_below(double h, double k, double rho) {
  return tenter_normal_both_above(-h, -k, rho);
}

/* ---- the greatest of several ---- */

double tenter_normal_greatest_above(double k, double z) {
  if (isnan(k) || isnan(z) || k <= 0)
    return NAN;
  return z <= 0 ? 1 : -expm1(k * log1p(-2 * tenter_normal_above(z)));
}

/* The tail of one: (1 - p^(1/k)) / 2, without cancellation for large k. */
double tenter_normal_greatest_quantile(double k, double p) {
  if (!(k > 0) || !(p >= 0 && p <= 1))
    return NAN;
  if (p == 0 || p == 1)
    return p == 0 ? 0 : INFINITY;
  return -tenter_normal_quantile(-expm1(log(p) / k) / 2);
}
