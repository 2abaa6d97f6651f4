/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The chance of an interval by a standard law, in both tails and where it is narrow: closed forms,
 * and derivatives against differences. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_erf.h>

#include "../../src/stats/life_law.h"
#include "numbers.h"

/* exp(-e^low) - exp(-e^high) = exp(-e^low) (1 - exp(e^low - e^high)). */
static double extreme(double low, double high) {
  return -exp(low) + log(-expm1(-exp(low) * expm1(high - low)));
}

/* Logistic: F(high) P(W > low) (1 - e^(low - high)). */
static double logistic(double low, double high) {
  return -log1p(exp(-high)) - log1p(exp(low)) + log(-expm1(low - high));
}

static void test_closed_forms(void **state) {
  (void)state;
  static const double lows[] = {-60, -50, -38, -5, -1, -0.3, 0, 0.4, 2, 4};
  static const double widths[] = {3e-5, 5e-4, 9e-4, 0.01, 0.5, 3, 30};
  for (size_t i = 0; i < 10; i++)
    for (size_t j = 0; j < 7; j++) {
      double low = lows[i], high = low + widths[j];
      double digits = 1e-12 + 1e-15 / (high - low); /* low + width is rounded */
      assert_close(life_law_slope(TENTER_LIFE_WEIBULL, low, high).value, extreme(low, high), 1e-13,
                   20 * digits);
      assert_close(life_law_slope(TENTER_LIFE_LOGLOGISTIC, low, high).value, logistic(low, high),
                   1e-13, 20 * digits);
    }
}

/* log P(W <= w) is w far down, where P itself is nil. */
static void test_far_down(void **state) {
  (void)state;
  assert_close(life_law_slope(TENTER_LIFE_WEIBULL, -INFINITY, -800).value, -800, 1e-15, 0);
  assert_close(life_law_slope(TENTER_LIFE_WEIBULL, -INFINITY, -800).by_high, 1, 1e-12, 0);
  assert_close(life_law_slope(TENTER_LIFE_LOGLOGISTIC, -INFINITY, -800).value, -800, 1e-15, 0);
}

/* Far out the normal tail is that of its nearer end, but for e^-20. */
static void test_normal_tails(void **state) {
  (void)state;
  double tail = gsl_sf_log_erfc(20 * M_SQRT1_2) - M_LN2;
  assert_close(life_law_slope(TENTER_LIFE_LOGNORMAL, 20, 21).value, tail, 1e-10, 0);
  assert_close(life_law_slope(TENTER_LIFE_LOGNORMAL, -21, -20).value, tail, 1e-10, 0);
  assert_close(life_law_slope(TENTER_LIFE_LOGNORMAL, -1, 1).value, log(0.682689492137086), 1e-14,
               0);
  assert_close(life_law_slope(TENTER_LIFE_LOGNORMAL, -INFINITY, INFINITY).value, 0, 0, 0);
}

static void test_derivatives(void **state) {
  (void)state;
  static const double ends[][2] = {
      {-2, -1}, {-0.5, 0.7}, {0.2, 1.5}, {-INFINITY, 0.4}, {-0.8, INFINITY}};
  const double h = 1e-5;
  for (tenter_life_law law = 0; law < TENTER_LIFE_LAW_COUNT; law++)
    for (size_t i = 0; i < 5; i++) {
      double low = ends[i][0], high = ends[i][1];
      life_slope s = life_law_slope(law, low, high);
      life_slope up = life_law_slope(law, low, high + h), down = life_law_slope(law, low, high - h);
      assert_close(s.by_high, (up.value - down.value) / (2 * h), 1e-6, 1e-8);
      assert_close(s.by_high_high, (up.by_high - down.by_high) / (2 * h), 1e-6, 1e-8);
      assert_close(s.by_low_high, (up.by_low - down.by_low) / (2 * h), 1e-6, 1e-8);
      up = life_law_slope(law, low + h, high);
      down = life_law_slope(law, low - h, high);
      assert_close(s.by_low, (up.value - down.value) / (2 * h), 1e-6, 1e-8);
      assert_close(s.by_low_low, (up.by_low - down.by_low) / (2 * h), 1e-6, 1e-8);
    }
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_closed_forms), cmocka_unit_test(test_far_down),
      cmocka_unit_test(test_normal_tails), cmocka_unit_test(test_derivatives)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
