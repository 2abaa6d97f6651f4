/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What limits allow of a point, plain or widened for their own uncertainty, and the standardised
 * point. Relies on chart_worth, chart_numeric and GSL's chi-square and normal distributions. */
#include <gsl/gsl_cdf.h>
#include <math.h>

#include "chart_internal.h"
#include "chart_numeric.h"

double chart_sigma_of_point(const tenter_control_limits *l, size_t n) {
  return l->kind == TENTER_CONTROL_AVERAGES ? l->sigma / sqrt((double)n) : l->sigma;
}

double chart_centre_variance(const tenter_control_limits *l, size_t n) {
  return (l->kind == TENTER_CONTROL_AVERAGES ? (double)n : 1.0) / l->centre_weight;
}

/* x - centre = quotient * this: the centre varies too. */
static double quotient_unit(const tenter_control_limits *l, size_t n) {
  return chart_sigma_of_point(l, n) * sqrt(1 + chart_centre_variance(l, n));
}

static bool widened(const tenter_control_limits *l, tenter_control_when when) {
  return when == TENTER_CONTROL_NEXT && !l->known;
}

double tenter_control_z(const tenter_control_limits *l, size_t n, double mean,
                        tenter_control_when when) {
  if (l->state != TENTER_CONTROL_READY || n == 0 || !isfinite(mean))
    return NAN;
  double off = mean - l->centre;
  if (!widened(l, when))
    return off / chart_sigma_of_point(l, n);
  double tail = chart_quotient_above(l->worth, fabs(off) / quotient_unit(l, n));
  double z = tail > 0 ? gsl_cdf_ugaussian_Qinv(tail) : 38; /* the end of what doubles can tell */
  return off < 0 ? -z : z;
}

static double half_width(const tenter_control_limits *l, size_t n, tenter_control_when when) {
  if (!widened(l, when))
    return l->width * chart_sigma_of_point(l, n);
  return chart_quotient_quantile(l->worth, chart_above(l->width)) * quotient_unit(l, n);
}

tenter_control_rates tenter_control_false_alarms(const tenter_control_limits *l, size_t n) {
  tenter_control_rates rates = {NAN, NAN};
  if (l->state != TENTER_CONTROL_READY || n == 0)
    return rates;
  rates.nominal = rates.plain = 2 * chart_above(l->width);
  if (!l->known) {
    double x = l->width / sqrt(1 + chart_centre_variance(l, n));
    rates.plain = 2 * chart_quotient_above(l->worth, x);
  }
  return rates;
}

/* ---- the spread chart ---- */

/* P(spread of n <= factor * sigma), sigma known or averaged over the values its estimate can have.
 */
typedef struct spread_chance {
  bool range;
  size_t n, count;
  double ratio[CHART_WORTH_NODES], weight[CHART_WORTH_NODES];
  double wanted;
} spread_chance;

static double chance_below(const spread_chance *c, double factor) {
  double freedom = (double)c->n - 1, sum = 0;
  for (size_t i = 0; i < c->count; i++) {
    double at = factor * c->ratio[i];
    sum += c->weight[i] *
           (c->range ? tenter_range_cdf(c->n, at) : gsl_cdf_chisq_P(freedom * at * at, freedom));
  }
  return sum;
}

static double chance_excess(double factor, void *context) {
  spread_chance *c = context;
  return chance_below(c, factor) - c->wanted;
}

/* The factor with the chance that the plain factor has for known sigma. */
static double widened_factor(bool range, size_t n, tenter_control_worth worth, double plain) {
  if (plain <= 0)
    return 0;
  spread_chance c = {.range = range, .n = n, .count = 1, .ratio = {1}, .weight = {1}};
  c.wanted = chance_below(&c, plain);
  c.count = chart_worth_nodes(worth, 0.7, 1e-10, c.ratio, c.weight);
  double high = 2 * plain;
  while (chance_excess(high, &c) < 0 && high < 1e6)
    high *= 2;
  return chart_root(chance_excess, &c, 0, high);
}

static tenter_status spread_bounds(const tenter_control_limits *l, size_t n,
                                   tenter_control_when when, tenter_control_bounds *b,
                                   tenter_error *error) {
  bool range = l->spread == TENTER_SPREAD_RANGE;
  double centre = tenter_chart_c4((double)n), sd = sqrt(1 - centre * centre);
  if (range) {
    tenter_chart_constants constants;
    tenter_status status = tenter_chart_constants_of(n, &constants, error);
    if (status != TENTER_OK)
      return status;
    centre = constants.d2;
    sd = constants.d3;
  }
  double lower = fmax(centre - l->width * sd, 0), upper = centre + l->width * sd;
  if (widened(l, when)) {
    lower = widened_factor(range, n, l->within_worth, lower);
    upper = widened_factor(range, n, l->within_worth, upper);
  }
  b->spread_centre = centre * l->within;
  b->spread_lower = lower * l->within;
  b->spread_upper = upper * l->within;
  return TENTER_OK;
}

tenter_status tenter_control_bounds_at(const tenter_control_limits *limits, size_t n,
                                       tenter_control_when when, tenter_control_bounds *bounds,
                                       tenter_error *error) {
  if (n == 0)
    return tenter_fail(error, TENTER_USAGE, "Control limits are for subgroups of 1 or more.");
  tenter_control_bounds b = {NAN, NAN, NAN, NAN, NAN};
  if (limits->state == TENTER_CONTROL_READY) {
    double half = half_width(limits, n, when);
    b.lower = limits->centre - half;
    b.upper = limits->centre + half;
    bool spread = limits->kind != TENTER_CONTROL_INDIVIDUALS && n > 1 && limits->within > 0;
    tenter_status status = spread ? spread_bounds(limits, n, when, &b, error) : TENTER_OK;
    if (status != TENTER_OK)
      return status;
  }
  *bounds = b;
  return TENTER_OK;
}
