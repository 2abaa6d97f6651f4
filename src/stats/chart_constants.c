/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Constants of control charts from their definitions. Relies on erfc, lgamma and Gauss-Legendre
 * nodes; tables are for the tests only. */
#include <math.h>

#include "chart_numeric.h"
#include "tenter/stats/charts.h"

enum { RANGE_NODES = 96 };
static const double range_end = 16; /* P(R > 16) < 1e-24 for 100 readings */

/* Gamma(x + 1/2) / (Gamma(x) sqrt x) by its expansion at infinity (Tricomi and Erdelyi 1951,
 * Pacific J. Math. 1:133), good to 1e-13 from x = 30; by lgamma below, which loses digits where two
 * large logarithms cancel. */
static double gamma_ratio(double x) {
  static const double term[] = {1.0,           -1.0 / 8,        1.0 / 128,      5.0 / 1024,
                                -21.0 / 32768, -399.0 / 262144, 869.0 / 4194304};
  if (x < 30)
    return exp(lgamma(x + 0.5) - lgamma(x)) / sqrt(x);
  double sum = 0;
  for (size_t k = sizeof term / sizeof *term; k > 0; k--)
    sum = sum / x + term[k - 1];
  return sum;
}

double tenter_chart_c4(double n) {
  return n > 1 ? gamma_ratio(0.5 * (n - 1)) : NAN;
}

static double power(double base, size_t n) {
  double result = 1;
  while (n > 0) {
    if (n & 1)
      result *= base;
    base *= base;
    n >>= 1;
  }
  return result;
}

/* Formula     F(r) = n * integral of phi(x) (Phi(x + r) - Phi(x))^(n-1) dx  (Tippett 1925,
 *             Biometrika 17:364), with x = t - r/2 even in t after phi has been symmetrised.
 * Algorithm   the trapezoidal rule on the whole line, exponentially accurate for an integrand that
 *             is analytic and falls as exp(-t^2/2); the step follows the narrowest case, width
 *             1/sqrt(n). Relative error of the integral below 1e-12. */
double tenter_range_cdf(size_t n, double range) {
  if (n < 2 || isnan(range))
    return NAN;
  if (range <= 0)
    return 0;
  double half = 0.5 * range, step = 0.8 / sqrt((double)n), sum = 0;
  for (size_t k = 0;; k++) {
    double t = (double)k * step;
    double inside = power(chart_above(t - half) - chart_above(t + half), n - 1);
    double term = (chart_density(t - half) + chart_density(t + half)) * inside;
    sum += k == 0 ? 0.5 * term : term;
    if (t > half && term <= 1e-18 * sum)
      return fmin((double)n * step * sum, 1);
    if (t > half + 40)
      return sum > 0 ? fmin((double)n * step * sum, 1) : 0;
  }
}

/* E R = integral of P(R > r), E R^2 = integral of 2 r P(R > r). */
static void range_moments(size_t n, double *mean, double *deviation) {
  double r[RANGE_NODES], weight[RANGE_NODES], first = 0, second = 0;
  chart_nodes(RANGE_NODES, 0, range_end, r, weight);
  for (size_t i = 0; i < RANGE_NODES; i++) {
    double above = 1 - tenter_range_cdf(n, r[i]);
    first += weight[i] * above;
    second += weight[i] * 2 * r[i] * above;
  }
  *mean = first;
  *deviation = sqrt(second - first * first);
}

static double beyond_median(double range, void *n) {
  return tenter_range_cdf(*(size_t *)n, range) - 0.5;
}

static double lower_factor(double factor) {
  return fmax(factor, 0);
}

tenter_status tenter_chart_constants_of(size_t n, tenter_chart_constants *c, tenter_error *error) {
  if (n < 2 || n > TENTER_CHART_SIZE_MAX)
    return tenter_fail(error, TENTER_USAGE,
                       "Chart constants are known for subgroups of 2 to %d readings, not %zu.",
                       TENTER_CHART_SIZE_MAX, n);
  double root = sqrt((double)n);
  c->c4 = tenter_chart_c4((double)n);
  range_moments(n, &c->d2, &c->d3);
  c->median_range = chart_root(beyond_median, &n, 0, range_end);
  double s = 3 * sqrt(1 - c->c4 * c->c4), r = 3 * c->d3;
  c->A = 3 / root;
  c->A2 = c->A / c->d2;
  c->A3 = c->A / c->c4;
  c->B3 = lower_factor(1 - s / c->c4);
  c->B4 = 1 + s / c->c4;
  c->B5 = lower_factor(c->c4 - s);
  c->B6 = c->c4 + s;
  c->D1 = lower_factor(c->d2 - r);
  c->D2 = c->d2 + r;
  c->D3 = lower_factor(1 - r / c->d2);
  c->D4 = 1 + r / c->d2;
  c->E2 = 3 / c->d2;
  c->E3 = 3 / c->c4;
  return TENTER_OK;
}
