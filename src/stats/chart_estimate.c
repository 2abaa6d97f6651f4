/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Limits of control charts from the past: subgroups, centre, sigma, signals of the past, and the
 * step to medians when there are some. Relies on chart_sigma and chart_bounds. */
#include <float.h>
#include <gsl/gsl_math.h>
#include <math.h>

#include "chart_internal.h"
#include "tenter/base/alloc.h"

tenter_subgroup tenter_subgroup_of(const double *values, size_t count) {
  tenter_subgroup s = {0, NAN, NAN, NAN};
  double sum = 0, low = INFINITY, high = -INFINITY;
  for (size_t i = 0; i < count; i++)
    if (isfinite(values[i])) {
      s.count++;
      sum += values[i];
      low = fmin(low, values[i]);
      high = fmax(high, values[i]);
    }
  if (s.count == 0)
    return s;
  double mean = sum / (double)s.count, square = 0, rest = 0;
  for (size_t i = 0; i < count; i++)
    if (isfinite(values[i])) {
      double d = values[i] - mean;
      square += d * d;
      rest += d;
    }
  s.mean = mean + rest / (double)s.count;
  if (s.count > 1) {
    s.deviation = sqrt(fmax(square - rest * rest / (double)s.count, 0) / ((double)s.count - 1));
    s.range = high - low;
  }
  return s;
}

/* ---- the centre ---- */

static bool by_readings(const tenter_control_limits *limits) {
  return limits->kind == TENTER_CONTROL_AVERAGES;
}

static void centre_mean(const tenter_subgroup *subgroup, size_t count, tenter_control_limits *l) {
  double sum = 0, weight = 0, rest = 0;
  for (int pass = 0; pass < 2; pass++) /* the second adds what rounding left */
    for (size_t i = 0; i < count; i++) {
      double w = by_readings(l) ? (double)subgroup[i].count : (double)(subgroup[i].count > 0);
      if (w <= 0)
        continue;
      if (pass == 0) {
        sum += w * subgroup[i].mean;
        weight += w;
      } else {
        rest += w * (subgroup[i].mean - sum / weight);
      }
    }
  l->centre = (sum + rest) / weight;
  l->centre_weight = weight;
}

/* The median of m points with densities f at their common median has variance m / (4 (sum f)^2); a
 * normal one has f = 1 / (sd sqrt(2 pi)). */
static tenter_status centre_median(const tenter_subgroup *subgroup, size_t count,
                                   tenter_control_limits *l, tenter_error *error) {
  double *mean = tenter_alloc(count, sizeof *mean), density = 0;
  if (!mean)
    return tenter_fail_memory(error);
  size_t m = 0;
  for (size_t i = 0; i < count; i++)
    if (subgroup[i].count > 0) {
      mean[m++] = subgroup[i].mean;
      density += by_readings(l) ? sqrt((double)subgroup[i].count) : 1;
    }
  l->centre = chart_median(mean, m);
  l->centre_weight = 2 / M_PI * density * density / (double)m;
  tenter_free(mean);
  return TENTER_OK;
}

/* ---- all parameters, plain or robust ---- */

static double mean_reciprocal(const tenter_subgroup *subgroup, size_t count) {
  double sum = 0, m = 0;
  for (size_t i = 0; i < count; i++)
    if (subgroup[i].count > 0) {
      sum += 1 / (double)subgroup[i].count;
      m++;
    }
  return sum / m;
}

/* Sets centre, sigma and what they are worth; state says whether they make limits. */
static tenter_status parameters(const tenter_subgroup *subgroup, size_t count, bool robust,
                                tenter_control_limits *l, tenter_error *error) {
  chart_sigma within = {NAN, {NAN, NAN}}, moving = within;
  tenter_status status = TENTER_OK;
  if (robust)
    status = centre_median(subgroup, count, l, error);
  else
    centre_mean(subgroup, count, l);
  if (status == TENTER_OK && l->kind != TENTER_CONTROL_INDIVIDUALS)
    status = chart_sigma_within(subgroup, count, l->spread, robust, &within, error);
  if (status == TENTER_OK && l->kind != TENTER_CONTROL_AVERAGES)
    status = chart_sigma_moving(subgroup, count, robust, &moving, error);
  if (status != TENTER_OK)
    return status;
  chart_sigma sigma = by_readings(l) ? within : moving;
  l->sigma = sigma.value;
  l->worth = sigma.worth;
  l->within = within.value;
  l->within_worth = within.worth;
  if (l->kind == TENTER_CONTROL_THREE_WAY) {
    double own = within.value * within.value * mean_reciprocal(subgroup, count);
    l->between = sqrt(fmax(moving.value * moving.value - own, 0));
  }
  /* equal readings whose mean was rounded have a sigma of rounding errors */
  bool flat = l->sigma <= 8 * DBL_EPSILON * fabs(l->centre);
  bool nothing = isnan(l->sigma) || (l->kind == TENTER_CONTROL_THREE_WAY && isnan(l->within));
  l->state = nothing ? TENTER_CONTROL_TOO_FEW : flat ? TENTER_CONTROL_FLAT : TENTER_CONTROL_READY;
  l->robust = robust;
  return TENTER_OK;
}

/* ---- signals of the past ---- */

static bool outside(double x, double lower, double upper) {
  return x < lower || x > upper;
}

/* Subgroups outside plain limits. Bounds are kept for sizes up to TENTER_CHART_SIZE_MAX, since
 * those of ranges cost an integration. */
static tenter_status past_signals(const tenter_subgroup *subgroup, size_t count,
                                  tenter_control_limits *l, tenter_error *error) {
  tenter_control_bounds kept[TENTER_CHART_SIZE_MAX + 1], *b;
  bool known[TENTER_CHART_SIZE_MAX + 1] = {false};
  l->past_signals = 0;
  for (size_t i = 0; i < count; i++) {
    size_t n = subgroup[i].count, slot = n <= TENTER_CHART_SIZE_MAX ? n : 0;
    if (n == 0)
      continue;
    b = &kept[slot];
    if (!known[slot] || slot == 0) {
      tenter_status status = tenter_control_bounds_at(l, n, TENTER_CONTROL_PAST, b, error);
      if (status != TENTER_OK)
        return status;
      known[slot] = true;
    }
    double spread = l->spread == TENTER_SPREAD_RANGE ? subgroup[i].range : subgroup[i].deviation;
    l->past_signals += outside(subgroup[i].mean, b->lower, b->upper) ||
                       outside(spread, b->spread_lower, b->spread_upper);
  }
  return TENTER_OK;
}

/* ---- entry ---- */

static tenter_status check(const tenter_subgroup *subgroup, size_t count,
                           const tenter_control_options *o, tenter_error *error) {
  if (!(o->width > 0) || !isfinite(o->width))
    return tenter_fail(error, TENTER_USAGE, "The width of control limits must be above 0 sigma.");
  bool ranges = o->spread == TENTER_SPREAD_RANGE && o->kind != TENTER_CONTROL_INDIVIDUALS;
  for (size_t i = 0; i < count; i++) {
    if (ranges && subgroup[i].count > TENTER_CHART_SIZE_MAX)
      return tenter_fail(error, TENTER_USAGE,
                         "Subgroup %zu has %zu readings; ranges can be charted up to %d. Use "
                         "standard deviations.",
                         i + 1, subgroup[i].count, TENTER_CHART_SIZE_MAX);
    if (subgroup[i].count > 0 && !isfinite(subgroup[i].mean))
      return tenter_fail(error, TENTER_INPUT, "The mean of subgroup %zu is not a number.", i + 1);
  }
  return TENTER_OK;
}

static tenter_control_limits begin(const tenter_control_options *o) {
  return (tenter_control_limits){.kind = o->kind,
                                 .spread = o->spread,
                                 .state = TENTER_CONTROL_TOO_FEW,
                                 .width = o->width,
                                 .centre = NAN,
                                 .sigma = NAN,
                                 .worth = {NAN, NAN},
                                 .centre_weight = NAN,
                                 .within = NAN,
                                 .within_worth = {NAN, NAN},
                                 .between = NAN};
}

/* A robust estimate that finds no spread (more than half of the values equal, by rounding) is not
 * used: the plain one stays. */
static tenter_status turn_robust(const tenter_subgroup *subgroups, size_t count,
                                 tenter_control_limits *limits, tenter_error *error) {
  tenter_control_limits robust = *limits;
  tenter_status status = parameters(subgroups, count, true, &robust, error);
  if (status == TENTER_OK && robust.state == TENTER_CONTROL_READY)
    *limits = robust;
  return status;
}

tenter_status tenter_control_estimate(const tenter_subgroup *subgroups, size_t count,
                                      const tenter_control_options *options,
                                      tenter_control_limits *limits, tenter_error *error) {
  tenter_status status = check(subgroups, count, options, error);
  if (status != TENTER_OK)
    return status;
  tenter_control_limits l = begin(options);
  for (size_t i = 0; i < count; i++) {
    l.subgroups += subgroups[i].count > 0;
    l.readings += subgroups[i].count;
  }
  l.provisional = l.subgroups < options->provisional_below;
  if (l.subgroups > 0)
    status = parameters(subgroups, count, false, &l, error);
  if (l.subgroups < 2)
    l.state = TENTER_CONTROL_TOO_FEW;
  if (status == TENTER_OK && l.state == TENTER_CONTROL_READY && !isfinite(l.sigma + l.centre))
    status = tenter_fail(error, TENTER_INPUT, "The numbers are too large for control limits.");
  if (status == TENTER_OK && l.state == TENTER_CONTROL_READY)
    status = past_signals(subgroups, count, &l, error);
  bool robust = options->robust == TENTER_ROBUST_ALWAYS ||
                (options->robust == TENTER_ROBUST_IF_SIGNALS && l.past_signals > 0);
  if (status == TENTER_OK && l.state == TENTER_CONTROL_READY && robust)
    status = turn_robust(subgroups, count, &l, error);
  if (status == TENTER_OK)
    *limits = l;
  return status;
}

tenter_control_limits tenter_control_known(const tenter_control_options *options, double centre,
                                           double sigma, double within) {
  tenter_control_limits l = begin(options);
  l.known = true;
  l.centre = centre;
  l.sigma = sigma;
  l.within = within;
  bool ready = isfinite(centre) && isfinite(sigma) && sigma > 0;
  l.state = ready ? TENTER_CONTROL_READY : TENTER_CONTROL_FLAT;
  return l;
}
