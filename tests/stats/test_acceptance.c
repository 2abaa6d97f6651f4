/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans against R (tests/oracle/capability/variables_oc.csv, variables_design.csv; the (n, k) pairs
 * of sigma unknown are those of MIL-STD-414 / ANSI Z1.9, normal inspection, AQL 1 %, from memory),
 * and against samples. */
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/acceptance.h"

static void test_operating_characteristic(void **state) {
  (void)state;
  rows r;
  size_t seen = 0;
  rows_open(&r, "capability/variables_oc.csv");
  while (rows_next(&r)) {
    tenter_plan plan = {(size_t)rows_number(&r, 1), rows_number(&r, 2),
                        rows_is(&r, 0, "known") ? 1.0 : NAN};
    double share = rows_number(&r, 3), chance = rows_number(&r, 4);
    assert_close(tenter_plan_accepts(&plan, share), chance, 0, 1e-7);
    if (chance > 0.001 && chance < 0.999)
      assert_close(tenter_plan_quality(&plan, chance), share, 1e-4, 0); /* chance has 8 places */
    seen++;
  }
  assert_int_equal(seen, 99);
}

/* Two-point plans: with the exact n and the largest k the maker's risk is alpha, the buyer's at
 * most beta; one value fewer can't hold both. */
static void test_two_points(void **state) {
  (void)state;
  rows r;
  rows_open(&r, "capability/variables_design.csv");
  while (rows_next(&r)) {
    tenter_plan plan = {(size_t)rows_number(&r, 7), rows_number(&r, 8), NAN};
    assert_close(1 - tenter_plan_accepts(&plan, rows_number(&r, 0)), rows_number(&r, 1), 0, 1e-6);
    assert_true(tenter_plan_accepts(&plan, rows_number(&r, 2)) <= rows_number(&r, 3));
  }
}

/* One sample in a hand: mean 20, sd 0.5, limits 18 and 22 lie 4 sd away. */
static void test_decide(void **state) {
  (void)state;
  tenter_plan plan = {10, 1.72, NAN}, known = {10, 3, 1};
  tenter_plan_result result = tenter_plan_decide(&plan, 20, 0.5, 18, 22);
  assert_close(result.lower_quality, 4, 1e-12, 0);
  assert_true(result.accepted);
  assert_false(tenter_plan_decide(&plan, 21.3, 0.5, 18, 22).accepted);
  assert_true(tenter_plan_decide(&plan, 21.3, 0.5, 18, INFINITY).accepted);
  assert_false(tenter_plan_decide(&known, 20, 0.5, 18, 22).accepted);
  assert_false(tenter_plan_decide(&plan, 20, 0, 18, 22).accepted);
  assert_true(isnan(tenter_plan_decide(&plan, 20, 0, 18, 22).lower_quality));
}

static void test_counted(void **state) {
  (void)state;
  uint64_t seed = 3;
  tenter_plan plan = {6, 1.4, NAN};
  double accepted = 0, trials = 5000, limit = 1.6448536269514722; /* 5 % above */
  for (double i = 0; i < trials; i++) {
    double y[6], sum = 0, squares = 0;
    for (size_t k = 0; k < 6; k++)
      sum += y[k] = number_normal(&seed);
    for (size_t k = 0; k < 6; k++)
      squares += (y[k] - sum / 6) * (y[k] - sum / 6);
    accepted += tenter_plan_decide(&plan, sum / 6, sqrt(squares / 5), -INFINITY, limit).accepted;
  }
  assert_share(accepted, trials, tenter_plan_accepts(&plan, 0.05));
}

static void test_ends(void **state) {
  (void)state;
  tenter_plan plan = {5, 1.5, NAN}, none = {1, 1.5, NAN};
  assert_close(tenter_plan_accepts(&plan, 0), 1, 0, 0);
  assert_close(tenter_plan_accepts(&plan, 1), 0, 0, 0);
  assert_true(isnan(tenter_plan_accepts(&none, 0.1)));
  assert_true(isnan(tenter_plan_quality(&plan, 1)));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_operating_characteristic), cmocka_unit_test(test_two_points),
      cmocka_unit_test(test_decide), cmocka_unit_test(test_counted), cmocka_unit_test(test_ends)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
