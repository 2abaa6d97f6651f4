/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The standard normal distribution, one and two variables. */
#include "tenter/stats/normal.h"

#include <gsl/gsl_cdf.h>
#include <stdbool.h>

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

static const double far = 40;  /* P(Z > 40) is 0 in double precision */
static const double faint = 9; /* exp(-faint^2 / 2) is below rounding */

/* Owen's T for 0 <= a <= 1: integral over x in 0 .. a of exp(-h^2 (1 + x^2) / 2) / (1 + x^2), over
 * 2 pi. The nearest poles are at +-i: Gauss-Legendre with m nodes errs by 4.6^-2m at a = 1, by
 * 16^-2m at a = 1/4. */
static double owen_near(double h, double a) {
  const double *x = a <= 0.25 ? gauss6_x : gauss10_x, *w = a <= 0.25 ? gauss6_w : gauss10_w;
  int half = a <= 0.25 ? 3 : 5;
  double factor = -h * h / 2, sum = 0;
  if (fabs(h) > faint)
    return 0;
  for (int i = 0; i < half; i++) {
    double low = a * (1 - x[i]) / 2, high = a * (1 + x[i]) / 2;
    double p = 1 + low * low, q = 1 + high * high;
    sum += w[i] * (q * exp(factor * p) + p * exp(factor * q)) / (p * q);
  }
  return sum * a / (4 * M_PI);
}

/* Owen's T(h, a), odd in a, even in h; above 1 by T(h, a) + T(a h, 1 / a) = (Q(h) + Q(a h)) / 2 -
 * Q(h) Q(a h) for h >= 0 (Owen 1956, eq. 2.3), Q the upper tail. upper = Q(|h|). */
static double owen(double h, double a, double upper) {
  double size = fabs(a), t;
  h = fabs(h);
  if (size <= 1) {
    t = owen_near(h, size);
  } else {
    double other = h * size, tail = tenter_normal_above(other);
    t = (upper + tail) / 2 - upper * tail - owen_near(other, 1 / size);
  }
  return copysign(t, a);
}

/* The part of one limit, h: T at the slope of the line from the origin to the corner (h, k) in
 * uncorrelated coordinates. k - rho h is taken apart where rho is
 * close to +-1. */
static double part(double h, double k, double rho, double rest, double upper) {
  double reach = k - rho * h;
  if (fabs(rho) > 0.5)
    reach = rho > 0 ? (k - h) + h * rest / (1 + rho) : (k + h) - h * rest / (1 - rho);
  if (h == 0) /* the slope is infinite */
    return reach == 0 ? 0 : copysign(0.25, reach);
  return owen(h, reach / (h * sqrt(rest)), upper);
}

/* rho = 1: X = Y. rho = -1: X = -Y. */
static double linked(double h, double k, double rho) {
  return rho > 0 ? tenter_normal_above(fmax(h, k)) : tenter_normal_between(0, 1, h, -k);
}

double tenter_normal_both_above_rest(double h, double k, double rho, double rest) {
  if (isnan(h) || isnan(k) || !(fabs(rho) <= 1) || !(rest >= 0))
    return NAN;
  if (h >= far || k >= far)
    return 0;
  if (h <= -far || k <= -far)
    return tenter_normal_above(fmax(h, k));
  if (rest == 0)
    return linked(h, k, rho);
  if (h == 0 && k == 0)
    return 0.25 + atan2(rho, sqrt(rest)) / (2 * M_PI);
  double q_h = tenter_normal_above(fabs(h)), q_k = tenter_normal_above(fabs(k));
  bool apart = h * k < 0 || (h * k == 0 && h + k < 0);
  double p = ((h < 0 ? 1 - q_h : q_h) + (k < 0 ? 1 - q_k : q_k)) / 2 - (apart ? 0.5 : 0) -
             part(h, k, rho, rest, q_h) - part(k, h, rho, rest, q_k);
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
