/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noncentral t by quadrature of its definition; quantiles by roots. Relies on GSL for log erfc,
 * the hazard of the normal law and the gamma function. */
#include "tenter/stats/noncentral.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_erf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdbool.h>

#include "chart_numeric.h"
#include "tenter/stats/normal.h"

enum { HALVINGS = 9, BISECTIONS = 30 };

static const double negligible = 42; /* exp(-42) of the mode is below the last digit of the sum */

/* The integral over s of P(Z <= a s + b) times the density of s. */
typedef struct integrand {
  double freedom, a, b;
  double top; /* logarithm at the mode */
} integrand;

static double log_below(double z) {
  if (z > -20)
    return log(tenter_normal_below(z));
  gsl_sf_result r;
  return gsl_sf_log_erfc_e(-z * M_SQRT1_2, &r) == GSL_SUCCESS ? r.val - M_LN2 : NAN;
}

/* Logarithm of the integrand in x = log s, without its constant. */
static double log_at(const integrand *f, double x) {
  return f->freedom * (x - expm1(2 * x) / 2) + log_below(f->a * exp(x) + f->b);
}

/* density / P(Z <= z) */
static double hazard_below(double z) {
  if (z > -20)
    return tenter_normal_density(z) / tenter_normal_below(z);
  gsl_sf_result r;
  return gsl_sf_hazard_e(-z, &r) == GSL_SUCCESS ? r.val : NAN;
}

/* The slope of log_at over s: falls from +inf on, through nought at the mode. */
static double slope(double s, const integrand *f) {
  return f->freedom * (1 / s - s) + f->a * hazard_below(f->a * s + f->b);
}

/* Near the mode is near enough: it only centres the sum. */
static double mode(const integrand *f) {
  double low = -1, high = 1;
  while (slope(exp(low), f) < 0)
    low *= 2;
  while (slope(exp(high), f) > 0)
    high *= 2;
  for (int i = 0; i < BISECTIONS; i++) {
    double middle = (low + high) / 2;
    if (slope(exp(middle), f) > 0)
      low = middle;
    else
      high = middle;
  }
  return (low + high) / 2;
}

/* From the mode to where nothing more is to be had, in the direction of way. */
static double reach(const integrand *f, double centre, double way) {
  double step = 1e-4;
  while (f->top - log_at(f, centre + way * step) < negligible)
    step *= 1.5;
  return step;
}

/* x = centre + width sinh(y): one side may fall within a hundredth, the other over forty. */
static double term(const integrand *f, double centre, double width, double y) {
  return exp(log_at(f, centre + width * sinh(y)) - f->top) * cosh(y);
}

static double trapezoid(const integrand *f, double centre) {
  double left = reach(f, centre, -1), right = reach(f, centre, 1);
  double width = fmin(left, right) / 4, step = 0.5;
  double low = -asinh(left / width), high = asinh(right / width), sum = 0, area = 0;
  for (int i = 0; i < HALVINGS; i++, step /= 2) {
    /* all points at first, then those between */
    long first = lrint(ceil(low / step)), last = lrint(floor(high / step)), stride = i == 0 ? 1 : 2;
    for (long k = first + (stride == 2 && first % 2 == 0); k <= last; k += stride)
      sum += term(f, centre, width, (double)k * step);
    double finer = width * step * sum;
    /* the error is squared with each halving, so the finer sum is right to twice as many digits */
    bool still = fabs(finer - area) <= 1e-9 * finer;
    area = finer;
    if (still)
      break;
  }
  return area;
}

/* The density of log s is scale * exp(freedom (x - expm1(2 x) / 2)); Stirling's part is taken out
 * of the gamma function, for it cancels. */
static double scale_of(double freedom) {
  gsl_sf_result star;
  if (gsl_sf_gammastar_e(freedom / 2, &star) != GSL_SUCCESS)
    return NAN;
  return 2 * sqrt(freedom / 2) / (sqrt(2 * M_PI) * star.val);
}

static double integral(double freedom, double a, double b) {
  if (!(freedom > 0) || isinf(freedom) || !isfinite(a) || !isfinite(b))
    return NAN;
  integrand f = {freedom, a, b, 0};
  double centre = mode(&f);
  f.top = log_at(&f, centre);
  if (isnan(f.top))
    return NAN;
  double value = scale_of(freedom) * exp(f.top) * trapezoid(&f, centre);
  return fmin(1, value);
}

double tenter_noncentral_t_below(double t, double freedom, double delta) {
  if (isinf(t))
    return t > 0 ? 1 : 0;
  return integral(freedom, t, -delta);
}

double tenter_noncentral_t_above(double t, double freedom, double delta) {
  if (isinf(t))
    return t > 0 ? 0 : 1;
  return integral(freedom, -t, delta);
}

/* ---- roots ---- */

typedef struct wanted {
  double freedom, other; /* delta, or t */
  double p;              /* wanted below; above 1/2 its complement is wanted above */
  bool of_delta;         /* the unknown is delta */
} wanted;

/* Logarithm of the tail found over the tail wanted: falls or rises through nought. */
static double off(double x, void *context) {
  const wanted *w = context;
  double t = w->of_delta ? w->other : x, delta = w->of_delta ? x : w->other;
  if (w->p <= 0.5)
    return log(fmax(tenter_noncentral_t_below(t, w->freedom, delta), 1e-300) / w->p);
  return -log(fmax(tenter_noncentral_t_above(t, w->freedom, delta), 1e-300) / (1 - w->p));
}

/* off rises in t and falls in delta. */
static double solve(wanted *w, double guess) {
  double way = w->of_delta ? -1 : 1, reach_now = 1 + fabs(guess) / 4;
  double low = guess, high = guess;
  for (int i = 0; i < 200 && way * off(low, w) > 0; i++, reach_now *= 2)
    low = guess - reach_now;
  reach_now = 1 + fabs(guess) / 4;
  for (int i = 0; i < 200 && way * off(high, w) < 0; i++, reach_now *= 2)
    high = guess + reach_now;
  return chart_root(off, w, low, high);
}

double tenter_noncentral_t_quantile(double p, double freedom, double delta) {
  if (!(p >= 0 && p <= 1) || !(freedom > 0) || !isfinite(delta))
    return NAN;
  if (p == 0 || p == 1)
    return p == 0 ? -INFINITY : INFINITY;
  wanted w = {freedom, delta, p, false};
  return solve(&w, delta + tenter_normal_quantile(p) * sqrt(1 + delta * delta / (2 * freedom)));
}

double tenter_noncentral_t_delta(double t, double freedom, double p) {
  if (!(p > 0 && p < 1) || !(freedom > 0) || !isfinite(t))
    return NAN;
  wanted w = {freedom, t, p, true};
  return solve(&w, t - tenter_normal_quantile(p) * sqrt(1 + t * t / (2 * freedom)));
}
