/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Capability against the worked example of the e-Handbook of NIST/SEMATECH 6.1.6, intervals by R
 * (tests/oracle/capability/capability.csv), flow width of Montgomery, and what the intervals
 * promise, counted on samples. */
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/capability.h"
#include "tenter/stats/noncentral.h"

static tenter_capability of(const double *y, size_t count, double lower, double upper) {
  tenter_capability c;
  assert_int_equal(tenter_capability_of(y, count, lower, upper, 0.95, &c, NULL), TENTER_OK);
  return c;
}

/* n values of the mean and sd given: half of them below, half above. */
static void two_levels(double *y, size_t n, double mean, double sd) {
  for (size_t i = 0; i < n; i++)
    y[i] = mean + (i % 2 ? 1 : -1) * sd * sqrt((double)(n - 1) / (double)n);
}

/* e-Handbook 6.1.6: upper 20, lower 8, mean 16, s 2: Cp 1.0, Cpk 0.6667. */
static void test_handbook(void **state) {
  (void)state;
  double y[50];
  two_levels(y, 50, 16, 2);
  tenter_capability c = of(y, 50, 8, 20);
  assert_close(c.pp.value, 1.0, 1e-12, 0);
  assert_close(c.ppk.value, 0.6667, 0, 0.00005);
}

static void test_intervals(void **state) {
  (void)state;
  static double y[200];
  rows r;
  size_t seen = 0;
  rows_open(&r, "capability/capability.csv");
  while (rows_next(&r)) {
    size_t n = (size_t)rows_number(&r, 0);
    double value = rows_number(&r, 1);
    two_levels(y, n, 0, 1);
    tenter_capability c = of(y, n, -3 * value, 3 * value);
    assert_close(c.pp.low, rows_number(&r, 2), 1e-8, 0);
    assert_close(c.pp.high, rows_number(&r, 3), 1e-8, 0);
    assert_close(c.ppk.low, rows_number(&r, 4), 1e-8, 0);
    assert_close(c.ppk.high, rows_number(&r, 5), 1e-8, 0);
    if (r.field[6][0]) { /* a one-sided 95 % bound is the lower end of a 90 % interval */
      tenter_capability one;
      assert_int_equal(tenter_capability_of(y, n, -INFINITY, 3 * value, 0.90, &one, NULL), 0);
      assert_close(one.ppk.low, rows_number(&r, 6), 1e-6, 0);
      assert_true(isnan(one.pp.value));
    }
    seen++;
  }
  assert_int_equal(seen, 18);
}

/* Within: 0.88651 (= 2 / d2(2) / 2.2560) times ... by hand: moving ranges of 1, 2, 4, 3 are 1, 2,
 * 1; their mean 4/3 over d2(2) = 2 / sqrt(pi) is 1.18164. */
static void test_within(void **state) {
  (void)state;
  const double y[] = {1, 2, 4, 3};
  tenter_capability c = of(y, 4, 0, 6);
  assert_close(c.within, 4.0 / 3 / (2 / sqrt(M_PI)), 1e-9, 0);
  assert_close(c.cp.value, 6 / (6 * c.within), 1e-12, 0);
  assert_close(c.cpk.value, 2.5 / (3 * c.within), 1e-12, 0);
}

/* The share outside: Lieberman and Resnikoff's estimate is right on average, and the intervals hold
 * the true share as often as they say (the joint one at least so). */
static void test_promises(void **state) {
  (void)state;
  uint64_t seed = 5;
  const double truth = 0.5 * erfc(1.5 * M_SQRT1_2), both = truth + 0.5 * erfc(1.2 * M_SQRT1_2);
  double mean = 0, held = 0, held_both = 0, held_pp = 0, held_one = 0, held_cp = 0, trials = 1000;
  for (double i = 0; i < trials; i++) {
    double y[10];
    for (size_t k = 0; k < 10; k++)
      y[k] = number_normal(&seed);
    tenter_capability c = of(y, 10, -1.2, 1.5), one = of(y, 10, -INFINITY, 1.5);
    mean += c.above.value / trials;
    held += c.above.low <= truth && truth <= c.above.high;
    held_both += c.outside.low <= both && both <= c.outside.high;
    held_pp += c.pp.low <= 2.7 / 6 && 2.7 / 6 <= c.pp.high;
    held_cp += c.cp.low <= 2.7 / 6 && 2.7 / 6 <= c.cp.high;
    held_one += one.ppk.low <= 0.5 && 0.5 <= one.ppk.high;
  }
  assert_close(mean, truth, 0, 4 * 0.06 / sqrt(trials)); /* its sd is about 0.06 */
  assert_share(held, trials, 0.95);
  assert_share(held_pp, trials, 0.95);
  assert_share(held_one, trials, 0.95);
  assert_true(held_cp / trials > 0.93 && held_cp / trials < 0.97); /* a matched law */
  assert_true(held_both / trials > 0.94);
}

/* Both sides at half the error each: 95 % from two of 97.5 %. */
static void test_joint(void **state) {
  (void)state;
  double y[15];
  two_levels(y, 15, 0.2, 1);
  tenter_capability c = of(y, 15, -2, 1.5), sides;
  assert_int_equal(tenter_capability_of(y, 15, -2, 1.5, 0.975, &sides, NULL), TENTER_OK);
  assert_close(c.outside.high, sides.below.high + sides.above.high, 1e-9, 0);
  assert_close(c.outside.low, sides.below.low + sides.above.low, 1e-9, 0);
  assert_close(c.outside.value, c.below.value + c.above.value, 1e-12, 0);
}

/* The middle: half of all lies beyond a limit at the mean. */
static void test_half(void **state) {
  (void)state;
  double y[20];
  two_levels(y, 20, 5, 1);
  tenter_capability c = of(y, 20, -INFINITY, 5);
  assert_close(c.above.value, 0.5, 1e-12, 0);
  assert_close(c.above.low + c.above.high, 1, 1e-9, 0);
  assert_close(c.outside.high, c.above.high, 0, 0);
}

static void test_few(void **state) {
  (void)state;
  const double y[] = {20, 21}, equal[] = {20, 20, 20, 20}, out[] = {20, 30, 20, 20};
  tenter_capability c = of(y, 2, 18, 22);
  assert_true(isnan(c.pp.value) && isnan(c.outside.value));
  assert_close(c.mean, 20.5, 0, 0);
  c = of(equal, 4, 18, 22);
  assert_true(isnan(c.cpk.value));
  assert_int_equal(c.counted, 0);
  c = of(out, 4, 18, 22);
  assert_int_equal(c.counted, 1);
  c = of(NULL, 0, 18, 22);
  assert_true(isnan(c.mean) && isnan(c.counted_share.low));
}

/* Exact intervals of a share against R (shares.csv). */
static void test_shares(void **state) {
  (void)state;
  rows r;
  rows_open(&r, "capability/shares.csv");
  while (rows_next(&r)) {
    tenter_interval i =
        tenter_exact_interval((size_t)rows_number(&r, 0), (size_t)rows_number(&r, 1), 0.95);
    assert_close(i.low, rows_number(&r, 2), 1e-8, 0);
    assert_close(i.high, rows_number(&r, 3), 1e-8, 0);
  }
  assert_true(isnan(tenter_exact_interval(2, 1, 0.95).low));
  assert_close(tenter_exact_interval(3, 3, 0.95).high, 1, 0, 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_handbook), cmocka_unit_test(test_intervals),
      cmocka_unit_test(test_within),   cmocka_unit_test(test_promises),
      cmocka_unit_test(test_joint),    cmocka_unit_test(test_half),
      cmocka_unit_test(test_few),      cmocka_unit_test(test_shares)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
