/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Conformity against the worked examples of JCGM 106:2012 (values from memory, and computed again
 * with R 4.2.2), and by identity. */
#include "numbers.h"
#include "tenter/stats/conformity.h"
#include "tenter/stats/normal.h"

/* Probabilities of conformity printed as 0.92 and 0.66; R: pnorm(-5.40, -5.47, 0.05),
 * diff(pnorm(c(12.5, 16.3), 13.6, 1.8)). */
static void test_examples(void **state) {
  (void)state;
  assert_close(tenter_conformity_probability(-5.47, 0.05, -INFINITY, -5.40), 0.9192433408, 1e-9, 0);
  assert_close(tenter_conformity_probability(13.6, 1.8, 12.5, 16.3), 0.6626297865, 1e-9, 0);
}

/* A guard band of w / U for a chance of 0.8, 0.9, 0.95, 0.99 at one limit (JCGM 106:2012, 8.3.2
 * note, U = 2 u): 0.4208106168 0.6407757828 0.8224268135 1.163173937 (R: qnorm(p) / 2). */
static void test_guard_band(void **state) {
  (void)state;
  const double p[] = {0.8, 0.9, 0.95, 0.99};
  const double w[] = {0.4208106168, 0.6407757828, 0.8224268135, 1.163173937};
  for (size_t i = 0; i < 4; i++)
    assert_close(tenter_conformity_probability(20 + 2 * 0.3 * w[i], 0.3, 20, INFINITY), p[i], 1e-9,
                 0);
}

static void decide(double value, double u, double low, double high, tenter_conformity expected) {
  assert_int_equal(tenter_conformity_decide(value, u, 1.645, low, high), expected);
}

static void test_decisions(void **state) {
  (void)state;
  decide(22, 0.5, 20, 24, TENTER_CONFORMITY_INSIDE);
  decide(20.8, 0.5, 20, 24, TENTER_CONFORMITY_UNDECIDED); /* U = 0.8225 */
  decide(20.8225, 0.5, 20, 24, TENTER_CONFORMITY_INSIDE);
  decide(19.2, 0.5, 20, 24, TENTER_CONFORMITY_UNDECIDED);
  decide(19.1775, 0.5, 20, 24, TENTER_CONFORMITY_OUTSIDE);
  decide(24.5, 0.5, 20, 24, TENTER_CONFORMITY_UNDECIDED);
  decide(24.9, 0.5, 20, 24, TENTER_CONFORMITY_OUTSIDE);
  decide(24.9, 0.5, 20, INFINITY, TENTER_CONFORMITY_INSIDE);
  decide(22, 3, 20, 24, TENTER_CONFORMITY_UNDECIDED); /* limits closer than 2 U */
  decide(22, 1, -INFINITY, INFINITY, TENTER_CONFORMITY_INSIDE);
  decide(NAN, 1, 20, 24, TENTER_CONFORMITY_UNDECIDED);
  decide(22, NAN, 20, 24, TENTER_CONFORMITY_UNDECIDED);
  assert_int_equal(tenter_conformity_decide(20, 0.5, 0, 20, 24), TENTER_CONFORMITY_INSIDE);
  assert_int_equal(tenter_conformity_decide(19.9999, 0.5, 0, 20, 24), TENTER_CONFORMITY_OUTSIDE);
}

/* At the guard band the chance to be wrong is that of one tail at k. */
static void test_risk(void **state) {
  (void)state;
  double u = 0.37, k = 1.645;
  assert_close(tenter_conformity_probability(20 + k * u, u, 20, INFINITY), tenter_normal_below(k),
               1e-12, 0);
  assert_close(tenter_conformity_probability(20 - k * u, u, 20, INFINITY),
               1 - tenter_normal_below(k), 1e-12, 0);
  assert_close(tenter_conformity_probability(20, 0, 20, 24), 1, 0, 0);
  assert_close(tenter_conformity_probability(24.1, 0, 20, 24), 0, 0, 0);
  assert_true(isnan(tenter_conformity_probability(NAN, 1, 20, 24)));
  assert_true(isnan(tenter_conformity_probability(20, 1, NAN, 24)));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_examples),
                                     cmocka_unit_test(test_guard_band),
                                     cmocka_unit_test(test_decisions), cmocka_unit_test(test_risk)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
