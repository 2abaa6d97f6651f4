/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Capability indices, shares outside, and their intervals. */
#include "tenter/stats/capability.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/charts.h"
#include "tenter/stats/moments.h"
#include "tenter/stats/noncentral.h"
#include "tenter/stats/normal.h"

enum { LEAST = 3 };

/* An estimate of sigma that varies as (chi-square of freedom)^(power / 2). `unbiased`: scaled to be
 * right on average; else its square is (a standard deviation). */
typedef struct spread {
  double sigma, freedom, power;
  bool unbiased;
} spread;

static const tenter_estimate unknown = {NAN, NAN, NAN};

/* The p-quantile of the estimate over sigma. */
static double ratio(const spread *s, double p) {
  double chi = pow(gsl_cdf_chisq_Pinv(p, s->freedom), s->power / 2);
  if (!s->unbiased)
    return chi / pow(s->freedom, s->power / 2);
  gsl_sf_result top, bottom;
  double half = s->freedom / 2;
  if (gsl_sf_lngamma_e(half + s->power / 2, &top) || gsl_sf_lngamma_e(half, &bottom))
    return NAN;
  return chi / exp(s->power / 2 * M_LN2 + top.val - bottom.val);
}

/* Degrees of freedom of a standard deviation that varies as much. */
static double worth(const spread *s) {
  return s->freedom / (s->power * s->power);
}

static tenter_estimate width_index(const spread *s, double lower, double upper, double level) {
  double value = (upper - lower) / (6 * s->sigma), tail = (1 - level) / 2;
  if (!isfinite(value))
    return unknown;
  return (tenter_estimate){value, value * ratio(s, tail), value * ratio(s, 1 - tail)};
}

/* The nearer limit, and Bissell's interval. */
static tenter_estimate nearer_index(const spread *s, const tenter_capability *c, double lower,
                                    double upper, double level) {
  double value = fmin(upper - c->mean, c->mean - lower) / (3 * s->sigma);
  if (!isfinite(value))
    return unknown;
  double half = tenter_normal_quantile((1 + level) / 2) *
                sqrt(1 / (9 * (double)c->count) + value * value / (2 * worth(s)));
  return (tenter_estimate){value, value - half, value + half};
}

/* With one limit: 3 sqrt(n) times the index, as seen, is noncentral t about 3 sqrt(n) times the
 * true one. */
static tenter_estimate one_limit_index(const tenter_capability *c, double distance, double level) {
  double n = (double)c->count, value = distance / (3 * c->sd), tail = (1 - level) / 2;
  double t = 3 * sqrt(n) * value;
  return (tenter_estimate){value, tenter_noncentral_t_delta(t, n - 1, 1 - tail) / (3 * sqrt(n)),
                           tenter_noncentral_t_delta(t, n - 1, tail) / (3 * sqrt(n))};
}

/* ---- shares outside ------------------------------------------------------------------------- */

/* Beyond a limit that lies quality standard deviations away from the mean. */
static double unbiased_share(double quality, double n) {
  double x = 0.5 * (1 - quality * sqrt(n) / (n - 1));
  if (x <= 0 || x >= 1)
    return x <= 0 ? 0 : 1;
  return gsl_cdf_beta_P(x, n / 2 - 1, n / 2 - 1);
}

static tenter_interval share_interval(double quality, double n, double error) {
  double t = quality * sqrt(n), tail = error / 2;
  double near = tenter_noncentral_t_delta(t, n - 1, 1 - tail) / sqrt(n);
  double far = tenter_noncentral_t_delta(t, n - 1, tail) / sqrt(n);
  return (tenter_interval){tenter_normal_above(far), tenter_normal_above(near)};
}

/* distance: from the mean to the limit, outward. *joint: at half the error. */
static tenter_estimate share_beyond(const tenter_capability *c, double distance, double level,
                                    tenter_interval *joint) {
  *joint = (tenter_interval){0, 0};
  if (isinf(distance))
    return (tenter_estimate){0, 0, 0};
  double n = (double)c->count, quality = distance / c->sd;
  tenter_interval own = share_interval(quality, n, 1 - level);
  *joint = share_interval(quality, n, (1 - level) / 2);
  return (tenter_estimate){unbiased_share(quality, n), own.low, own.high};
}

static void shares(tenter_capability *c, double lower, double upper, double level) {
  tenter_interval low, high;
  c->below = share_beyond(c, c->mean - lower, level, &low);
  c->above = share_beyond(c, upper - c->mean, level, &high);
  c->outside = (tenter_estimate){fmin(1, c->below.value + c->above.value), low.low + high.low,
                                 fmin(1, low.high + high.high)};
  if (isinf(lower))
    c->outside = c->above;
  else if (isinf(upper))
    c->outside = c->below;
}

/* ---- the whole ------------------------------------------------------------------------------ */

static tenter_status find_within(const double *values, size_t count, spread *within,
                                 tenter_error *error) {
  tenter_subgroup *groups = tenter_alloc(count, sizeof *groups);
  if (!groups)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < count; i++)
    groups[i] = tenter_subgroup_of(&values[i], 1);
  tenter_control_options options =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  options.robust = TENTER_ROBUST_NEVER; /* what the process did is what counts */
  tenter_control_limits limits;
  tenter_status status = tenter_control_estimate(groups, count, &options, &limits, error);
  if (status == TENTER_OK)
    *within = (spread){limits.state == TENTER_CONTROL_READY ? limits.sigma : NAN,
                       limits.worth.freedom, limits.worth.power, true};
  tenter_free(groups);
  return status;
}

static void count_outside(const double *values, double lower, double upper, double level,
                          tenter_capability *c) {
  for (size_t i = 0; i < c->count; i++)
    c->counted += values[i] < lower || values[i] > upper;
  c->counted_share = tenter_exact_interval(c->counted, c->count, level);
}

static void indices(tenter_capability *c, const spread *within, double lower, double upper,
                    double level) {
  spread overall = {c->sd, (double)c->count - 1, 1, false};
  c->within = within->sigma;
  if (isfinite(within->sigma)) {
    c->within_freedom = worth(within);
    c->cp = width_index(within, lower, upper, level);
    c->cpk = nearer_index(within, c, lower, upper, level);
  }
  c->pp = width_index(&overall, lower, upper, level);
  c->ppk = nearer_index(&overall, c, lower, upper, level);
  if (isinf(lower) != isinf(upper))
    c->ppk = one_limit_index(c, isinf(lower) ? upper - c->mean : c->mean - lower, level);
}

tenter_status tenter_capability_of(const double *values, size_t count, double lower, double upper,
                                   double level, tenter_capability *capability,
                                   tenter_error *error) {
  tenter_moments m = tenter_moments_of(values, count);
  tenter_capability c = {.count = count,
                         .mean = m.mean,
                         .sd = m.sd,
                         .within = NAN,
                         .within_freedom = NAN,
                         .cp = unknown,
                         .cpk = unknown,
                         .pp = unknown,
                         .ppk = unknown,
                         .below = unknown,
                         .above = unknown,
                         .outside = unknown};
  count_outside(values, lower, upper, level, &c);
  if (count >= LEAST && m.sd > 0) {
    spread within = {NAN, NAN, NAN, false};
    tenter_status status = find_within(values, count, &within, error);
    if (status != TENTER_OK)
      return status;
    indices(&c, &within, lower, upper, level);
    shares(&c, lower, upper, level);
  }
  *capability = c;
  return TENTER_OK;
}
