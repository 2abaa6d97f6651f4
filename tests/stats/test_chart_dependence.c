/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dependence of neighbouring points: R's acf on two data sets (tests/oracle/charts/charts.R), the
 * moments of Moran (1948) and the consequence for limits by simulation. */
#include "chart_rows.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "tenter/stats/charts.h"

enum { ROOM = 4096 };

static void first_autocorrelations_of_r(void **state) {
  (void)state;
  static const char *const file[] = {"charts/lh.csv", "charts/nile.csv"};
  static const size_t column[] = {0, 1};
  double x[ROOM], expected[2];
  assert_int_equal(rows_column("charts/dependence.csv", 1, expected, 2), 2);
  for (int k = 0; k < 2; k++) {
    size_t count = rows_column(file[k], column[k], x, ROOM);
    tenter_control_dependence d = tenter_control_dependence_of(x, count);
    assert_close(d.lag1, expected[k], 1e-10, 0);
    assert_int_equal(d.pairs, count - 1);
    assert_true(d.p_value < 1e-3 && d.widen > 1.3 && d.false_rate > 0.02);
  }
}

static gsl_rng *seeded(unsigned long seed) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, seed);
  return rng;
}

/* x_t = r x_(t-1) + e, of variance 1, from its stationary law. */
static void autoregression(gsl_rng *rng, double r, double *x, size_t count) {
  double last = gsl_ran_gaussian_ziggurat(rng, 1);
  for (size_t i = 0; i < count; i++) {
    x[i] = last;
    last = r * last + gsl_ran_gaussian_ziggurat(rng, sqrt(1 - r * r));
  }
}

/* White noise of 20: the p-value is below 0.05 and 0.2 about so often (a normal law for 20 points).
 */
static void white_noise_keeps_its_level(void **state) {
  (void)state;
  enum { RUNS = 20000, POINTS = 20 };
  gsl_rng *rng = seeded(50);
  double x[POINTS], mean = 0, square = 0, unbiased = 0, below[2] = {0, 0};
  for (int i = 0; i < RUNS; i++) {
    autoregression(rng, 0, x, POINTS);
    tenter_control_dependence d = tenter_control_dependence_of(x, POINTS);
    mean += d.lag1 / RUNS;
    square += d.lag1 * d.lag1 / RUNS;
    unbiased += (1 - 1 / (d.widen * d.widen)) / RUNS;
    below[0] += d.p_value < 0.05 ? 1.0 / RUNS : 0;
    below[1] += d.p_value < 0.2 ? 1.0 / RUNS : 0;
  }
  gsl_rng_free(rng);
  double n = POINTS, variance = (n - 2) * (n - 2) / (n * n * (n - 1));
  assert_close(mean, -1 / n, 0, 0.006);
  assert_close(unbiased, -4 / (n * n), 0, 0.006); /* what -1/n + (1 - 4/n)/n leaves */
  assert_close(square - mean * mean, variance, 0.05, 0);
  assert_close(below[0], 0.05, 0.15, 0);
  assert_close(below[1], 0.2, 0.08, 0);
}

/* r = 0.5, 2000 points: limits of moving ranges are sqrt(1 - r) of what they should be; widen mends
 * that, and false_rate is how often points lie outside as they are. */
static void dependent_points_widen_limits(void **state) {
  (void)state;
  enum { POINTS = 2000, RUNS = 30 };
  gsl_rng *rng = seeded(51);
  double x[POINTS], sigma = 0, mended = 0, rate = 0, outside = 0;
  for (int run = 0; run < RUNS; run++) {
    tenter_subgroup s[POINTS];
    autoregression(rng, 0.5, x, POINTS);
    for (size_t i = 0; i < POINTS; i++)
      s[i] = tenter_subgroup_of(&x[i], 1);
    tenter_control_options o =
        TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
    tenter_control_limits l;
    o.robust = TENTER_ROBUST_NEVER;
    assert_int_equal(tenter_control_estimate(s, POINTS, &o, &l, NULL), TENTER_OK);
    tenter_control_dependence d = tenter_control_dependence_of(x, POINTS);
    sigma += l.sigma / RUNS;
    rate += d.false_rate / RUNS;
    outside += (double)l.past_signals / POINTS / RUNS;
    double freedom = l.worth.freedom, weight = l.centre_weight;
    tenter_control_allow(&l, &d);
    mended += l.sigma / RUNS;
    assert_close(l.worth.freedom, freedom * 0.6, 0.2, 0); /* (1 - r^2)/(1 + r^2) */
    assert_close(l.centre_weight, weight / 3, 0.3, 0);    /* (1 - r)/(1 + r) */
  }
  gsl_rng_free(rng);
  assert_close(sigma, sqrt(0.5), 0.02, 0);
  assert_close(mended, 1, 0.02, 0);
  assert_close(rate, 0.033895, 0.05, 0); /* 2 (1 - Phi(3 sqrt 0.5)) */
  assert_close(outside, rate, 0.1, 0);
}

static void gaps_part_neighbours(void **state) {
  (void)state;
  const double x[] = {1, 2, NAN, 3, 1, 4, NAN, NAN, 2, 5, 3};
  const double d[] = {1 - 2.625, 2 - 2.625, 3 - 2.625, 1 - 2.625,
                      4 - 2.625, 2 - 2.625, 5 - 2.625, 3 - 2.625};
  double square = 0, product = d[0] * d[1] + d[2] * d[3] + d[3] * d[4] + d[5] * d[6] + d[6] * d[7];
  for (int i = 0; i < 8; i++)
    square += d[i] * d[i];
  tenter_control_dependence r = tenter_control_dependence_of(x, 11);
  assert_int_equal(r.pairs, 5);
  assert_close(r.lag1, product / square, 1e-13, 0);
}

static void too_few_or_equal_points_tell_nothing(void **state) {
  (void)state;
  const double few[] = {1, 2, 3, 1, 2, 3, 2}, same[] = {4, 4, 4, 4, 4, 4, 4, 4, 4};
  assert_true(isnan(tenter_control_dependence_of(few, 7).lag1));
  assert_true(isnan(tenter_control_dependence_of(same, 9).widen));
  assert_true(isnan(tenter_control_dependence_of(NULL, 0).p_value));
}

static void other_limits_are_left_alone(void **state) {
  (void)state;
  tenter_control_dependence d = {100, 0.5, 0.001, 1.4, 0.03}, unknown = {0, NAN, NAN, NAN, NAN};
  tenter_control_options o =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  tenter_control_limits known = tenter_control_known(&o, 0, 1, NAN);
  tenter_control_allow(&known, &d);
  assert_close(known.sigma, 1, 0, 0);
  tenter_control_limits l = {.kind = TENTER_CONTROL_AVERAGES, .sigma = 1};
  tenter_control_allow(&l, &d);
  assert_close(l.sigma, 1, 0, 0);
  l.kind = TENTER_CONTROL_THREE_WAY;
  tenter_control_allow(&l, &unknown);
  assert_close(l.sigma, 1, 0, 0);
  tenter_control_allow(&l, &d);
  assert_close(l.sigma, 1.4, 1e-15, 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(first_autocorrelations_of_r),
      cmocka_unit_test(white_noise_keeps_its_level),
      cmocka_unit_test(dependent_points_widen_limits),
      cmocka_unit_test(gaps_part_neighbours),
      cmocka_unit_test(too_few_or_equal_points_tell_nothing),
      cmocka_unit_test(other_limits_are_left_alone),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
