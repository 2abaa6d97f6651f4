/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Limits: worked examples of the NIST/SEMATECH e-Handbook (6.3.2.2) and of Montgomery, Introduction
 * to Statistical Quality Control (piston rings; flow width, example 6.1), with figures as printed
 * and in full (tests/oracle/charts/expected.csv); formulas for unequal subgroups; the promise of
 * the widened limits, by simulated pasts whose chance of a false alarm is known in closed form. */
#include "chart_rows.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "tenter/stats/charts.h"

enum { ROOM = 256 };

static double expected(const char *set, const char *chart, const char *quantity) {
  rows r;
  double value = NAN;
  rows_open(&r, "charts/expected.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, set) && rows_is(&r, 1, chart) && rows_is(&r, 2, quantity))
      value = rows_number(&r, 3);
  if (isnan(value))
    fail_msg("no %s %s %s", set, chart, quantity);
  return value;
}

/* Rows of a file as subgroups; the first column is their number. */
static size_t subgroups_of(const char *name, size_t columns, tenter_subgroup *subgroup) {
  rows r;
  size_t count = 0;
  rows_open(&r, name);
  while (rows_next(&r)) {
    double x[ROW_FIELDS];
    for (size_t k = 0; k < columns; k++)
      x[k] = rows_number(&r, k + 1);
    subgroup[count++] = tenter_subgroup_of(x, columns);
  }
  return count;
}

static tenter_control_limits estimate(const tenter_subgroup *subgroup, size_t count,
                                      tenter_control_kind kind, tenter_control_spread spread,
                                      tenter_control_robust robust) {
  tenter_control_options options = TENTER_CONTROL_DEFAULTS(kind, spread);
  tenter_control_limits limits;
  options.robust = robust;
  assert_int_equal(tenter_control_estimate(subgroup, count, &options, &limits, NULL), TENTER_OK);
  return limits;
}

static tenter_control_bounds bounds(const tenter_control_limits *limits, size_t n,
                                    tenter_control_when when) {
  tenter_control_bounds b;
  assert_int_equal(tenter_control_bounds_at(limits, n, when, &b, NULL), TENTER_OK);
  return b;
}

/* ---- worked examples ---- */

static void averages_and_ranges_of_piston_rings(void **state) {
  (void)state;
  tenter_subgroup s[ROOM];
  size_t count = subgroups_of("charts/piston_rings.csv", 5, s);
  tenter_control_limits l =
      estimate(s, count, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  tenter_control_bounds b = bounds(&l, 5, TENTER_CONTROL_PAST);
  const char *set = "piston_rings", *chart = "xbar_R";
  assert_close(l.centre, expected(set, chart, "grand_mean"), 0, 1e-9);
  assert_close(b.upper, expected(set, chart, "UCL_xbar"), 0, 1e-7);
  assert_close(b.lower, expected(set, chart, "LCL_xbar"), 0, 1e-7);
  assert_close(b.spread_centre, expected(set, chart, "Rbar"), 0, 1e-9);
  assert_close(b.spread_upper, expected(set, chart, "UCL_R"), 0, 1e-7);
  assert_close(b.spread_lower, 0, 0, 0);
  assert_close(l.sigma, expected(set, chart, "sigma_R=Rbar/d2"), 0, 1e-8);
  assert_close(b.upper, 74.014, 0, 1e-3); /* as printed, with rounded constants */
  assert_int_equal(l.past_signals, 0);
  assert_false(l.provisional);
}

static void averages_and_deviations_of_piston_rings(void **state) {
  (void)state;
  tenter_subgroup s[ROOM];
  size_t count = subgroups_of("charts/piston_rings.csv", 5, s);
  tenter_control_limits l =
      estimate(s, count, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_DEVIATION, TENTER_ROBUST_NEVER);
  tenter_control_bounds b = bounds(&l, 5, TENTER_CONTROL_PAST);
  const char *set = "piston_rings", *chart = "xbar_S";
  assert_close(b.upper, expected(set, chart, "UCL_xbar"), 0, 1e-7);
  assert_close(b.lower, expected(set, chart, "LCL_xbar"), 0, 1e-7);
  assert_close(b.spread_centre, expected(set, chart, "sbar"), 0, 1e-7);
  assert_close(b.spread_upper, expected(set, chart, "UCL_S"), 0, 1e-7);
  assert_close(l.sigma, expected(set, chart, "sigma_S=sbar/c4"), 0, 1e-8);
  l = estimate(s, count, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  double pooled = expected(set, "pooled", "sigma_pooled=sqrt(mean s^2)");
  assert_close(l.sigma * tenter_chart_c4(101), pooled, 0, 1e-8);
  assert_close(l.worth.freedom, 100, 0, 0);
  assert_close(l.worth.power, 1, 0, 0);
}

static void averages_of_flow_width(void **state) {
  (void)state;
  tenter_subgroup s[ROOM];
  size_t count = subgroups_of("charts/flow_width.csv", 5, s);
  tenter_control_limits l =
      estimate(s, count, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  tenter_control_bounds b = bounds(&l, 5, TENTER_CONTROL_PAST);
  const char *set = "flow_width";
  assert_close(l.centre, expected(set, "xbar_R", "grand_mean"), 0, 1e-8);
  assert_close(b.upper, expected(set, "xbar_R", "UCL_xbar exact A2"), 0, 1e-7);
  assert_close(b.lower, expected(set, "xbar_R", "LCL_xbar exact A2"), 0, 1e-7);
  assert_close(b.spread_upper, expected(set, "xbar_R", "UCL_R exact D4"), 0, 1e-7);
  l = estimate(s, count, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_DEVIATION, TENTER_ROBUST_NEVER);
  b = bounds(&l, 5, TENTER_CONTROL_PAST);
  assert_close(b.upper, expected(set, "xbar_S", "UCL_xbar"), 0, 1e-7);
  assert_close(b.lower, expected(set, "xbar_S", "LCL_xbar"), 0, 1e-7);
  assert_close(b.spread_upper, expected(set, "xbar_S", "UCL_S"), 0, 1e-7);
  assert_close(l.sigma, expected(set, "xbar_S", "sigma=sbar/c4"), 0, 1e-7);
}

static void individuals_of_the_nist_handbook(void **state) {
  (void)state;
  tenter_subgroup s[ROOM];
  size_t count = subgroups_of("charts/nist_6322_flowrate.csv", 1, s);
  tenter_control_limits l =
      estimate(s, count, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  tenter_control_bounds b = bounds(&l, 1, TENTER_CONTROL_PAST);
  const char *set = "nist_6322_flowrate", *chart = "imr";
  assert_close(l.centre, expected(set, chart, "mean"), 0, 1e-9);
  assert_close(l.sigma, expected(set, chart, "sigma=MRbar/d2"), 0, 1e-8);
  assert_close(b.upper, expected(set, chart, "UCL (exact d2)"), 0, 1e-7);
  assert_close(b.lower, expected(set, chart, "LCL (exact d2)"), 0, 1e-7);
  assert_close(b.upper, 55.8041, 0, 2e-3); /* printed, with d2 = 1.128 */
  assert_true(isnan(b.spread_upper));
  assert_true(l.provisional); /* 10 batches */
  l = estimate(s, count, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE, TENTER_ROBUST_ALWAYS);
  const char *median = "median MR sigma = median(MR)/0.953873 (exact d4 constant)";
  assert_close(l.sigma, expected(set, chart, median), 0, 1e-8);
  assert_true(l.robust);
  assert_close(l.centre, 51.25, 1e-12, 0); /* median of the ten: between 51.2 and 51.3 */
}

/* ---- formulas ---- */

/* The squared coefficient of variation of X^(q/2), X chi-square: E X^r = 2^r G(v/2 + r) / G(v/2).
 */
static double variation(tenter_control_worth w) {
  double half = 0.5 * w.freedom, q = w.power;
  return expm1(lgamma(half + q) + lgamma(half) - 2 * lgamma(half + 0.5 * q));
}

/* Least variance (Burr 1969): weights d2/d3^2, written out for sizes 2, 3, 5 with constants of the
 * printed tables' exact values; centre weighted by readings; bounds by each size. */
static void unequal_subgroups_are_weighted(void **state) {
  (void)state;
  const double a[] = {10, 12}, b[] = {9, 10, 14}, c[] = {8, 9, 10, 12, 13};
  tenter_subgroup s[] = {tenter_subgroup_of(a, 2), tenter_subgroup_of(b, 3),
                         tenter_subgroup_of(c, 5)};
  tenter_control_limits l =
      estimate(s, 3, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  const double d2[] = {1.128379167, 1.692568751, 2.325928947},
               d3[] = {0.852502466, 0.888368004, 0.864081941}, r[] = {2, 5, 5};
  double above = 0, below = 0;
  for (int i = 0; i < 3; i++) {
    above += d2[i] / (d3[i] * d3[i]) * r[i];
    below += d2[i] * d2[i] / (d3[i] * d3[i]);
  }
  assert_close(l.sigma, above / below, 1e-8, 0);
  assert_close(l.centre, (22 + 33 + 52) / 10.0, 1e-14, 0);
  assert_close(l.centre_weight, 10, 0, 0);
  assert_close(variation(l.worth), 1 / below, 1e-8, 0);       /* worth what its own variance says */
  assert_close(l.worth.freedom / l.worth.power, 7, 1e-12, 0); /* and of 1 + 2 + 4 contrasts */
  tenter_control_bounds at = bounds(&l, 4, TENTER_CONTROL_PAST);
  assert_close(at.upper - l.centre, 1.5 * l.sigma, 1e-13, 0);
  assert_close(at.spread_upper, 4.698175354 * l.sigma, 1e-8, 0); /* D2 of 4 */
  l = estimate(s, 3, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  double sum = 2 + 14 + 17.2; /* squares about the means 11, 11, 10.4 */
  assert_close(l.sigma, sqrt(sum / 7) / tenter_chart_c4(8), 1e-13, 0);
  at = bounds(&l, 3, TENTER_CONTROL_PAST);
  assert_close(at.spread_upper, 2.275981051 * l.sigma, 1e-8, 0); /* B6 of 3 */
}

/* Averages that vary more than their readings: the three-way chart takes the moving range. */
static void three_way_limits_come_from_between(void **state) {
  (void)state;
  tenter_subgroup s[] = {{4, 10, 1, 2}, {4, 13, 1, 2}, {4, 9, 1, 2}, {4, 12, 1, 2}};
  tenter_control_limits l =
      estimate(s, 4, TENTER_CONTROL_THREE_WAY, TENTER_SPREAD_DEVIATION, TENTER_ROBUST_NEVER);
  double sigma = (3 + 4 + 3) / 3.0 / 1.128379167, within = 1 / 0.921317731924;
  assert_close(l.sigma, sigma, 1e-9, 0);
  assert_close(l.within, within, 1e-9, 0);
  assert_close(l.between, sqrt(sigma * sigma - within * within / 4), 1e-9, 0);
  tenter_control_bounds b = bounds(&l, 4, TENTER_CONTROL_PAST);
  assert_close(b.upper, 11 + 3 * sigma, 1e-9, 0);
  assert_close(b.spread_upper, 2.087749355 * within, 1e-8, 0); /* B6 of 4 */
  for (int i = 0; i < 4; i++)
    s[i].mean = 10 + 0.001 * i;
  l = estimate(s, 4, TENTER_CONTROL_THREE_WAY, TENTER_SPREAD_DEVIATION, TENTER_ROBUST_NEVER);
  assert_close(l.between, 0, 0, 0);
}

static void no_moving_range_across_a_gap(void **state) {
  (void)state;
  tenter_subgroup s[] = {{1, 10, NAN, NAN},
                         {1, 12, NAN, NAN},
                         {0, NAN, NAN, NAN},
                         {1, 20, NAN, NAN},
                         {1, 21, NAN, NAN}};
  tenter_control_limits l =
      estimate(s, 5, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  assert_close(l.sigma, 1.5 / 1.128379167, 1e-9, 0);
  assert_close(l.centre, 63 / 4.0, 1e-14, 0);
  assert_int_equal(l.subgroups, 4);
  assert_int_equal(l.readings, 4);
}

static void subgroups_leave_out_what_is_missing(void **state) {
  (void)state;
  const double x[] = {1e9 + 4, NAN, 1e9 + 7, INFINITY, 1e9 + 13, 1e9 + 16};
  tenter_subgroup s = tenter_subgroup_of(x, 6);
  assert_int_equal(s.count, 4);
  assert_close(s.mean, 1e9 + 10, 0, 0);
  assert_close(s.deviation, sqrt(30), 1e-12, 0); /* (36 + 9 + 9 + 36) / 3 */
  assert_close(s.range, 12, 0, 0);
  double tenths[1000];
  for (int i = 0; i < 1000; i++)
    tenths[i] = 0.1;
  s = tenter_subgroup_of(tenths, 1000); /* a plain sum is 1e-15 off */
  assert_close(s.mean, 0.1, 1.5e-16, 0);
  assert_close(s.deviation, 0, 0, 1e-16);
  s = tenter_subgroup_of(x, 2);
  assert_int_equal(s.count, 1);
  assert_true(isnan(s.deviation) && isnan(s.range));
  s = tenter_subgroup_of(x + 1, 1);
  assert_int_equal(s.count, 0);
  assert_true(isnan(s.mean));
}

/* ---- simulated pasts ---- */

static gsl_rng *seeded(unsigned long seed) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, seed);
  return rng;
}

static void draw(gsl_rng *rng, tenter_subgroup *s, size_t count, size_t n) {
  for (size_t i = 0; i < count; i++) {
    double x[ROOM];
    for (size_t k = 0; k < n; k++)
      x[k] = gsl_ran_gaussian_ziggurat(rng, 1);
    s[i] = tenter_subgroup_of(x, n);
  }
}

/* P(the average of n standard normal readings outside) for given bounds. */
static double outside(const tenter_control_bounds *b, double n) {
  return gsl_cdf_ugaussian_P(b->lower * sqrt(n)) + gsl_cdf_ugaussian_Q(b->upper * sqrt(n));
}

typedef struct simulated {
  double plain, wide, plain_says; /* mean chances; what tenter_control_false_alarms says */
  double sigma, variation;        /* mean of sigma, squared coefficient of variation */
  double centre_variance;
  tenter_control_worth worth;
  double centre_weight;
} simulated;

static simulated simulate(unsigned long seed, size_t pasts, size_t count, size_t n,
                          tenter_control_kind kind, tenter_control_spread spread,
                          tenter_control_robust robust) {
  gsl_rng *rng = seeded(seed);
  simulated mean = {0};
  double square = 0;
  for (size_t i = 0; i < pasts; i++) {
    tenter_subgroup s[ROOM];
    draw(rng, s, count, n);
    tenter_control_limits l = estimate(s, count, kind, spread, robust);
    l.within = NAN; /* the spread chart has a test of its own */
    tenter_control_bounds plain = bounds(&l, n, TENTER_CONTROL_PAST),
                          wide = bounds(&l, n, TENTER_CONTROL_NEXT);
    mean.plain += outside(&plain, (double)n) / (double)pasts;
    mean.wide += outside(&wide, (double)n) / (double)pasts;
    mean.sigma += l.sigma / (double)pasts;
    square += l.sigma * l.sigma / (double)pasts;
    mean.centre_variance += l.centre * l.centre / (double)pasts;
    mean.plain_says = tenter_control_false_alarms(&l, n).plain;
    mean.worth = l.worth;
    mean.centre_weight = l.centre_weight;
  }
  mean.variation = square / (mean.sigma * mean.sigma) - 1;
  gsl_rng_free(rng);
  return mean;
}

static const double nominal = 0.0026997960632601866; /* 2 (1 - Phi(3)) */

/* Exact for pooled standard deviations: 5 subgroups of 3, standard error of the mean chance 1 %. */
static void widened_limits_keep_the_rate_exactly(void **state) {
  (void)state;
  simulated m =
      simulate(31, 40000, 5, 3, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  assert_close(m.wide, nominal, 0.04, 0);
  assert_close(m.plain, m.plain_says, 0.04, 0);
  assert_true(m.plain > 3 * nominal); /* what plain limits would do */
}

/* 20 individuals: four times the nominal rate by plain limits (methods of individuals charts; the
 * factor is also that of the simulation), the nominal one by widened limits. */
static void twenty_individuals(void **state) {
  (void)state;
  simulated m = simulate(32, 40000, 20, 1, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE,
                         TENTER_ROBUST_NEVER);
  assert_close(m.plain / nominal, 4.2, 0.06, 0);
  assert_close(m.plain, m.plain_says, 0.05, 0);
  assert_close(m.wide, nominal, 0.05, 0);
  assert_close(m.sigma, 1, 0.004, 0);
  assert_close(m.variation, variation(m.worth), 0.03, 0);
}

/* Ranges and averaged deviations: few and unequal in worth. */
static void ranges_and_deviations(void **state) {
  (void)state;
  for (int spread = TENTER_SPREAD_RANGE; spread <= TENTER_SPREAD_DEVIATION; spread++) {
    simulated m =
        simulate(33, spread == TENTER_SPREAD_RANGE ? 2000 : 20000, 6, 4, TENTER_CONTROL_AVERAGES,
                 (tenter_control_spread)spread, TENTER_ROBUST_NEVER);
    assert_close(m.wide, nominal, 0.12, 0);
    assert_close(m.sigma, 1, 0.012, 0);
  }
}

/* Medians: unbiased to a few per cent, their variances by the theory of the sample median. */
static void robust_estimates_are_worth_what_they_say(void **state) {
  (void)state;
  simulated m = simulate(34, 8000, 60, 1, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE,
                         TENTER_ROBUST_ALWAYS);
  assert_close(m.sigma, 1, 0.03, 0);
  assert_close(m.variation, variation(m.worth), 0.1, 0);
  assert_close(m.centre_variance, 1 / m.centre_weight, 0.06, 0);
  assert_close(m.wide, nominal, 0.1, 0);
  simulated few = simulate(35, 20000, 12, 1, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE,
                           TENTER_ROBUST_ALWAYS);
  assert_close(few.wide, nominal, 0.12, 0);
  few = simulate(35, 10000, 10, 2, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_DEVIATION,
                 TENTER_ROBUST_ALWAYS);
  assert_close(few.wide, 0.93 * nominal, 0.14, 0); /* the header: 0.8 to 1.05 of nominal */
  m = simulate(35, 4000, 60, 5, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_DEVIATION,
               TENTER_ROBUST_ALWAYS);
  assert_close(m.sigma, 1, 0.02, 0);
  assert_close(m.variation, variation(m.worth), 0.1, 0);
  assert_close(m.centre_variance, 1 / m.centre_weight, 0.08, 0);
}

/* The spread chart of 8 subgroups of 4: the widened upper bound keeps the rate of the plain one
 * with known sigma; sigma is drawn as pooled deviations are, s = sqrt(chi-square / 24). */
static void widened_spread_limits_keep_their_rate(void **state) {
  (void)state;
  for (int spread = TENTER_SPREAD_RANGE; spread <= TENTER_SPREAD_POOLED; spread += 2) {
    tenter_control_limits l = {.kind = TENTER_CONTROL_AVERAGES,
                               .spread = (tenter_control_spread)spread,
                               .state = TENTER_CONTROL_READY,
                               .width = 3,
                               .sigma = 1,
                               .worth = {24, 1},
                               .within = 1,
                               .within_worth = {24, 1},
                               .centre_weight = 32};
    double upper = bounds(&l, 4, TENTER_CONTROL_NEXT).spread_upper;
    double known = bounds(&l, 4, TENTER_CONTROL_PAST).spread_upper, mean = 0;
    gsl_rng *rng = seeded(36);
    enum { DRAWS = 20000 };
    for (int i = 0; i < DRAWS; i++) {
      double at = upper * sqrt(gsl_ran_chisq(rng, 24) / 24) / tenter_chart_c4(25);
      mean += (spread == TENTER_SPREAD_RANGE ? 1 - tenter_range_cdf(4, at)
                                             : gsl_cdf_chisq_Q(3 * at * at, 3)) /
              DRAWS;
    }
    gsl_rng_free(rng);
    double rate = spread == TENTER_SPREAD_RANGE ? 1 - tenter_range_cdf(4, known)
                                                : gsl_cdf_chisq_Q(3 * known * known, 3);
    assert_true(upper > known);
    assert_close(mean, rate, 0.05, 0);
  }
}

/* The standardised point of a widened chart: +-3 on the bounds, t behind it, monotone, odd. */
static void standardised_points(void **state) {
  (void)state;
  tenter_subgroup s[ROOM];
  gsl_rng *rng = seeded(37);
  draw(rng, s, 10, 4);
  gsl_rng_free(rng);
  tenter_control_limits l =
      estimate(s, 10, TENTER_CONTROL_AVERAGES, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  tenter_control_bounds plain = bounds(&l, 4, TENTER_CONTROL_PAST),
                        wide = bounds(&l, 4, TENTER_CONTROL_NEXT);
  assert_close(tenter_control_z(&l, 4, plain.upper, TENTER_CONTROL_PAST), 3, 1e-12, 0);
  assert_close(tenter_control_z(&l, 4, wide.upper, TENTER_CONTROL_NEXT), 3, 1e-9, 0);
  assert_close(tenter_control_z(&l, 4, wide.lower, TENTER_CONTROL_NEXT), -3, 1e-9, 0);
  double s_pooled = l.sigma * tenter_chart_c4(31), unit = s_pooled * sqrt(0.25 + 1 / 40.0);
  double z = tenter_control_z(&l, 4, l.centre + 1.7 * unit, TENTER_CONTROL_NEXT);
  assert_close(gsl_cdf_ugaussian_Q(z), gsl_cdf_tdist_Q(1.7, 30), 1e-10, 0);
  assert_true(isnan(tenter_control_z(&l, 4, NAN, TENTER_CONTROL_NEXT)));
  double far = tenter_control_z(&l, 4, 1e12, TENTER_CONTROL_NEXT);
  assert_true(isfinite(far) && far > 20);
}

/* ---- the past holds signals ---- */

static void signals_of_the_past_call_for_medians(void **state) {
  (void)state;
  enum { COUNT = 40 };
  tenter_subgroup s[COUNT], wild[COUNT];
  gsl_rng *rng = seeded(42);
  draw(rng, s, COUNT, 4);
  gsl_rng_free(rng);
  memcpy(wild, s, sizeof s);
  for (size_t i = 0; i < 8; i++) { /* a fifth of them */
    wild[5 * i].mean += 6;
    wild[5 * i].deviation *= 5;
  }
  tenter_control_kind kind = TENTER_CONTROL_AVERAGES;
  tenter_control_spread spread = TENTER_SPREAD_DEVIATION;
  tenter_control_limits clean = estimate(s, COUNT, kind, spread, TENTER_ROBUST_IF_SIGNALS);
  assert_false(clean.robust);
  assert_int_equal(clean.past_signals, 0);
  tenter_control_limits plain = estimate(wild, COUNT, kind, spread, TENTER_ROBUST_NEVER),
                        robust = estimate(wild, COUNT, kind, spread, TENTER_ROBUST_IF_SIGNALS);
  assert_true(robust.robust && robust.past_signals >= 8 && plain.past_signals >= 8);
  assert_true(plain.centre > 1 && plain.sigma > 1.5);
  assert_close(robust.centre, 0, 0, 0.4);
  assert_close(robust.sigma, clean.sigma, 0.25, 0);
}

/* Rounded so coarsely that most moving ranges are 0: the median tells nothing, the mean stays. */
static void medians_of_zero_are_not_used(void **state) {
  (void)state;
  tenter_subgroup s[20];
  for (size_t i = 0; i < 20; i++)
    s[i] = (tenter_subgroup){1, i == 10 ? 8 : i % 7 == 0 ? 1 : 0, NAN, NAN};
  tenter_control_limits l =
      estimate(s, 20, TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE, TENTER_ROBUST_IF_SIGNALS);
  assert_int_equal(l.state, TENTER_CONTROL_READY);
  assert_true(l.past_signals > 0 && !l.robust && l.sigma > 0);
}

/* ---- invariances ---- */

static void shift_and_scale(void **state) {
  (void)state;
  tenter_subgroup s[30], t[30];
  gsl_rng *rng = seeded(39);
  draw(rng, s, 30, 5);
  gsl_rng_free(rng);
  for (size_t i = 0; i < 30; i++)
    t[i] = (tenter_subgroup){5, 100 + 4 * s[i].mean, 4 * s[i].deviation, 4 * s[i].range};
  for (int kind = TENTER_CONTROL_AVERAGES; kind <= TENTER_CONTROL_THREE_WAY; kind++)
    for (int robust = 0; robust <= TENTER_ROBUST_ALWAYS; robust += 2) {
      tenter_control_limits a = estimate(s, 30, (tenter_control_kind)kind, TENTER_SPREAD_RANGE,
                                         (tenter_control_robust)robust),
                            b = estimate(t, 30, (tenter_control_kind)kind, TENTER_SPREAD_RANGE,
                                         (tenter_control_robust)robust);
      assert_close(b.centre, 100 + 4 * a.centre, 1e-12, 0);
      assert_close(b.sigma, 4 * a.sigma, 1e-12, 0);
      assert_close(b.worth.freedom, a.worth.freedom, 1e-12, 0);
    }
}

/* ---- states and refusals ---- */

static void too_few_and_flat_are_states(void **state) {
  (void)state;
  tenter_subgroup one = {3, 10, 1, 2}, singles[] = {{1, 10, NAN, NAN}, {1, 11, NAN, NAN}},
                  same[] = {{3, 0.1 + 0.2, 0, 0}, {3, 0.3, 0, 0}, {3, 0.3, 0, 0}};
  tenter_control_kind averages = TENTER_CONTROL_AVERAGES, individuals = TENTER_CONTROL_INDIVIDUALS;
  assert_int_equal(estimate(NULL, 0, averages, TENTER_SPREAD_RANGE, TENTER_ROBUST_ALWAYS).state,
                   TENTER_CONTROL_TOO_FEW);
  tenter_control_limits l = estimate(&one, 1, averages, TENTER_SPREAD_RANGE, TENTER_ROBUST_ALWAYS);
  assert_int_equal(l.state, TENTER_CONTROL_TOO_FEW);
  assert_true(isnan(bounds(&l, 3, TENTER_CONTROL_NEXT).upper));
  assert_true(isnan(tenter_control_z(&l, 3, 10, TENTER_CONTROL_NEXT)));
  assert_true(isnan(tenter_control_false_alarms(&l, 3).plain));
  l = estimate(singles, 2, averages, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  assert_int_equal(l.state, TENTER_CONTROL_TOO_FEW);
  l = estimate(singles, 2, individuals, TENTER_SPREAD_POOLED, TENTER_ROBUST_NEVER);
  assert_int_equal(l.state, TENTER_CONTROL_READY);
  assert_close(l.worth.freedom, 1, 1e-9, 0); /* |x1 - x2| is one chi */
  l = estimate(same, 3, averages, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  assert_int_equal(l.state, TENTER_CONTROL_FLAT);
  l = estimate(same, 3, individuals, TENTER_SPREAD_RANGE, TENTER_ROBUST_NEVER);
  assert_int_equal(l.state, TENTER_CONTROL_FLAT); /* 0.1 + 0.2 is not 0.3, but no spread either */
}

static void known_limits_are_not_widened(void **state) {
  (void)state;
  tenter_control_options o =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_AVERAGES, TENTER_SPREAD_DEVIATION);
  tenter_control_limits l = tenter_control_known(&o, 5, 2, 2);
  assert_true(l.known && !l.provisional && l.state == TENTER_CONTROL_READY);
  tenter_control_bounds b = bounds(&l, 4, TENTER_CONTROL_NEXT);
  assert_close(b.upper, 8, 1e-14, 0);
  assert_close(b.spread_upper, 2 * 2.087749355, 1e-8, 0); /* B6 of 4 */
  assert_close(tenter_control_z(&l, 4, 7, TENTER_CONTROL_NEXT), 2, 1e-14, 0);
  assert_close(tenter_control_false_alarms(&l, 4).plain, nominal, 1e-12, 0);
  assert_int_equal(tenter_control_known(&o, 5, 0, 2).state, TENTER_CONTROL_FLAT);
  assert_int_equal(tenter_control_known(&o, NAN, 1, 2).state, TENTER_CONTROL_FLAT);
}

static void wrong_use_is_refused(void **state) {
  (void)state;
  tenter_subgroup large[] = {{101, 10, 1, 5}, {101, 11, 1, 5}},
                  huge[] = {{1, 1e308, NAN, NAN}, {1, -1e308, NAN, NAN}, {1, 1e308, NAN, NAN}},
                  broken[] = {{2, INFINITY, 1, 1}, {2, 1, 1, 1}};
  tenter_control_options o = TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_AVERAGES, TENTER_SPREAD_RANGE);
  tenter_control_limits l;
  tenter_error error = {0};
  assert_int_equal(tenter_control_estimate(large, 2, &o, &l, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "101"));
  assert_int_equal(tenter_control_estimate(broken, 2, &o, &l, &error), TENTER_INPUT);
  o.spread = TENTER_SPREAD_POOLED;
  assert_int_equal(tenter_control_estimate(large, 2, &o, &l, &error), TENTER_OK);
  tenter_control_bounds b;
  assert_int_equal(tenter_control_bounds_at(&l, 0, TENTER_CONTROL_PAST, &b, &error), TENTER_USAGE);
  o.kind = TENTER_CONTROL_INDIVIDUALS;
  assert_int_equal(tenter_control_estimate(huge, 3, &o, &l, &error), TENTER_INPUT);
  o.width = 0;
  assert_int_equal(tenter_control_estimate(large, 2, &o, &l, &error), TENTER_USAGE);
  o.width = NAN;
  assert_int_equal(tenter_control_estimate(large, 2, &o, &l, &error), TENTER_USAGE);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(averages_and_ranges_of_piston_rings),
      cmocka_unit_test(averages_and_deviations_of_piston_rings),
      cmocka_unit_test(averages_of_flow_width),
      cmocka_unit_test(individuals_of_the_nist_handbook),
      cmocka_unit_test(unequal_subgroups_are_weighted),
      cmocka_unit_test(three_way_limits_come_from_between),
      cmocka_unit_test(no_moving_range_across_a_gap),
      cmocka_unit_test(subgroups_leave_out_what_is_missing),
      cmocka_unit_test(widened_limits_keep_the_rate_exactly),
      cmocka_unit_test(twenty_individuals),
      cmocka_unit_test(ranges_and_deviations),
      cmocka_unit_test(robust_estimates_are_worth_what_they_say),
      cmocka_unit_test(widened_spread_limits_keep_their_rate),
      cmocka_unit_test(standardised_points),
      cmocka_unit_test(signals_of_the_past_call_for_medians),
      cmocka_unit_test(medians_of_zero_are_not_used),
      cmocka_unit_test(shift_and_scale),
      cmocka_unit_test(too_few_and_flat_are_states),
      cmocka_unit_test(known_limits_are_not_widened),
      cmocka_unit_test(wrong_use_is_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
