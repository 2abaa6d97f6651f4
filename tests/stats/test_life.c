/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of lives, what is made of endings, and curves of survival: closed forms of the laws
 * (Johnson, Kotz, Balakrishnan 1994, Continuous Univariate Distributions, 14, 21, 23) and steps by
 * hand. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>

#include "life_rows.h"

static void test_count(void **state) {
  (void)state;
  const double lower[] = {5, 0, 2, 7, 0, 3}, upper[] = {5, 4, 6, INFINITY, INFINITY, 9};
  const double weight[] = {1, 2, 3, 4, 5, 0};
  tenter_life life = {6, lower, upper, weight};
  tenter_life_tally tally;
  assert_int_equal(tenter_life_count(&life, &tally, NULL), TENTER_OK);
  assert_close(tally.exact, 1, 0, 0);
  assert_close(tally.left, 2, 0, 0);
  assert_close(tally.interval, 3, 0, 0);
  assert_close(tally.right, 4, 0, 0);
  assert_close(tally.silent, 5, 0, 0);
}

/* What can't be used is named with its row. */
static void test_faults(void **state) {
  (void)state;
  static const struct {
    double lower, upper, weight;
    const char *says;
  } cases[] = {{NAN, 3, 1, "Row 2, (nan, 3] with weight 1: a time is missing"},
               {1, NAN, 1, "a time is missing"},
               {-1, 3, 1, "the lower time must be finite and not below 0"},
               {INFINITY, INFINITY, 1, "the lower time must be finite"},
               {4, 3, 1, "Row 2, (4, 3] with weight 1: the upper time is below the lower one"},
               {1, 3, -1, "the weight must be finite and not below 0"},
               {1, 3, NAN, "the weight must be finite"},
               {1, 3, INFINITY, "the weight must be finite"}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    double lower[] = {1, cases[i].lower}, upper[] = {2, cases[i].upper};
    double weight[] = {1, cases[i].weight};
    tenter_life life = {2, lower, upper, weight};
    tenter_life_tally tally;
    tenter_error error;
    assert_int_equal(tenter_life_count(&life, &tally, &error), TENTER_INPUT);
    assert_non_null(strstr(error.message, cases[i].says));
  }
}

static void test_nothing_said(void **state) {
  (void)state;
  const double lower[] = {0, 3}, upper[] = {INFINITY, 4}, weight[] = {1, 0};
  tenter_life life = {2, lower, upper, weight};
  tenter_life_tally tally;
  tenter_error error;
  assert_int_equal(tenter_life_count(&life, &tally, &error), TENTER_INPUT);
  assert_string_equal(error.message, "None of the 2 rows says anything about a life.");
  life.count = 0;
  assert_int_equal(tenter_life_count(&life, &tally, &error), TENTER_INPUT);
}

/* Peterson's bounds: at once, or beyond all that was seen. */
static void test_endings(void **state) {
  (void)state;
  const double lower[] = {5, 7, 2, 9}, upper[] = {INFINITY, INFINITY, 11, INFINITY};
  const double ended[] = {6, 7, NAN, NAN};
  tenter_life life = {4, lower, upper, NULL};
  double low[4], high[4];
  assert_int_equal(tenter_life_endings(&life, ended, TENTER_ENDING_FAILED, low, high, NULL),
                   TENTER_OK);
  assert_close(low[0], 5, 0, 0);
  assert_close(high[0], 6, 0, 0);
  assert_close(low[1], 7, 0, 0);
  assert_close(high[1], 7, 0, 0);
  assert_close(high[2], 11, 0, 0);
  assert_true(isinf(high[3]));
  assert_int_equal(tenter_life_endings(&life, ended, TENTER_ENDING_SURVIVED, low, high, NULL),
                   TENTER_OK);
  assert_close(low[0], 11, 0, 0);
  assert_true(isinf(high[0]));
  assert_close(low[1], 11, 0, 0);
  assert_close(low[3], 9, 0, 0);
  assert_int_equal(tenter_life_endings(&life, ended, TENTER_ENDING_CENSORED, low, high, NULL),
                   TENTER_OK);
  assert_close(low[0], 5, 0, 0);
  assert_true(isinf(high[0]));
}

static void test_bad_endings(void **state) {
  (void)state;
  const double lower[] = {5, 7}, upper[] = {INFINITY, 8};
  double low[2], high[2];
  tenter_life life = {2, lower, upper, NULL};
  tenter_error error;
  const double closed[] = {NAN, 8}, early[] = {4, NAN}, endless[] = {INFINITY, NAN};
  assert_int_equal(tenter_life_endings(&life, closed, TENTER_ENDING_FAILED, low, high, &error),
                   TENTER_INPUT);
  assert_non_null(strstr(error.message, "Row 2, (7, 8], ended at 8"));
  assert_int_equal(tenter_life_endings(&life, early, TENTER_ENDING_FAILED, low, high, &error),
                   TENTER_INPUT);
  assert_int_equal(tenter_life_endings(&life, endless, TENTER_ENDING_FAILED, low, high, &error),
                   TENTER_INPUT);
}

/* ---- curves ---- */

static tenter_life_curve by_law(tenter_life_law law, double median, double scale) {
  return (tenter_life_curve){.law = law, .location = log(median), .scale = scale};
}

/* e^-x^shape; its integral is life * Gamma(1 + scale) * P(scale, x^shape), the incomplete gamma
 * function; hazard shape x^(shape - 1) / life. */
static void test_weibull(void **state) {
  (void)state;
  static const double scales[] = {0.05, 0.3, 1, 2.5}, times[] = {0.01, 1, 30, 45, 400};
  for (size_t i = 0; i < 4; i++) {
    double s = scales[i], life = 40;
    tenter_life_curve c = by_law(TENTER_LIFE_WEIBULL, life, s);
    for (size_t j = 0; j < 5; j++) {
      double x = pow(times[j] / life, 1 / s);
      assert_close(tenter_life_survival(&c, times[j]), exp(-x), 1e-13, 1e-300);
      assert_close(tenter_life_exposure(&c, times[j]),
                   life * gsl_sf_gamma(1 + s) * gsl_sf_gamma_inc_P(s, x), 1e-12, 0);
      if (x < 700)
        assert_close(tenter_life_hazard(&c, times[j]), x / s / times[j], 1e-12, 0);
    }
    assert_close(tenter_life_exposure(&c, INFINITY), life * gsl_sf_gamma(1 + s), 1e-13, 0);
    assert_close(tenter_life_quantile(&c, 0.2), life * pow(-log(0.8), s), 1e-13, 0);
  }
}

static void test_exponential(void **state) {
  (void)state;
  tenter_life_curve c = by_law(TENTER_LIFE_EXPONENTIAL, 40, 1);
  assert_close(tenter_life_exposure(&c, 25), -40 * expm1(-25.0 / 40), 1e-13, 0);
  assert_close(tenter_life_hazard(&c, 25), 1.0 / 40, 1e-13, 0);
  assert_close(tenter_life_hazard(&c, 2500), 1.0 / 40, 1e-12, 0);
}

/* t P(T > t) + mean * Phi(w - scale): the partial expectation of the lognormal law. */
static void test_lognormal(void **state) {
  (void)state;
  static const double scales[] = {0.05, 0.6, 3}, times[] = {0.5, 30, 500};
  for (size_t i = 0; i < 3; i++)
    for (size_t j = 0; j < 3; j++) {
      double s = scales[i], t = times[j], w = log(t / 40) / s, mean = 40 * exp(s * s / 2);
      tenter_life_curve c = by_law(TENTER_LIFE_LOGNORMAL, 40, s);
      assert_close(tenter_life_survival(&c, t), gsl_cdf_ugaussian_Q(w), 1e-13, 1e-300);
      assert_close(tenter_life_exposure(&c, t),
                   t * gsl_cdf_ugaussian_Q(w) + mean * gsl_cdf_ugaussian_P(w - s), 1e-12, 0);
      assert_close(tenter_life_exposure(&c, INFINITY), mean, 1e-13, 0);
    }
}

/* scale 1 / 2: the integral is 40 atan(t / 40); mean life pi / 2 * 40; scale 1: 40 log(1 + t / 40),
 * no mean. */
static void test_loglogistic(void **state) {
  (void)state;
  tenter_life_curve half = by_law(TENTER_LIFE_LOGLOGISTIC, 40, 0.5);
  tenter_life_curve one = by_law(TENTER_LIFE_LOGLOGISTIC, 40, 1);
  for (double t = 1; t < 5000; t *= 7) {
    assert_close(tenter_life_survival(&half, t), 1 / (1 + t * t / 1600), 1e-13, 0);
    assert_close(tenter_life_exposure(&half, t), 40 * atan(t / 40), 1e-12, 0);
    assert_close(tenter_life_exposure(&one, t), 40 * log1p(t / 40), 1e-12, 0);
    assert_close(tenter_life_hazard(&one, t), 1 / (40 + t), 1e-12, 0);
  }
  assert_close(tenter_life_exposure(&half, INFINITY), 20 * M_PI, 1e-13, 0);
  assert_true(isinf(tenter_life_exposure(&one, INFINITY)));
  assert_close(tenter_life_quantile(&half, 0.5), 40, 1e-13, 0);
}

static void test_steps(void **state) {
  (void)state;
  const double times[] = {10, 20}, survival[] = {0.75, 0.25};
  tenter_life_curve c = {.steps = times, .survival = survival, .count = 2, .end = 30};
  assert_close(tenter_life_survival(&c, 9.9), 1, 0, 0);
  assert_close(tenter_life_survival(&c, 10), 0.75, 0, 0);
  assert_close(tenter_life_survival_before(&c, 10), 1, 0, 0);
  assert_close(tenter_life_survival_before(&c, 20), 0.75, 0, 0);
  assert_close(tenter_life_survival(&c, 30), 0.25, 0, 0);
  assert_true(isnan(tenter_life_survival(&c, 30.1)));
  assert_close(tenter_life_exposure(&c, 5), 5, 0, 0);
  assert_close(tenter_life_exposure(&c, 25), 10 + 7.5 + 1.25, 1e-15, 0);
  assert_true(isnan(tenter_life_exposure(&c, INFINITY)));
  assert_true(isnan(tenter_life_hazard(&c, 10)));
  assert_close(tenter_life_quantile(&c, 0.25), 10, 0, 0);
  assert_close(tenter_life_quantile(&c, 0.3), 20, 0, 0);
  assert_true(isinf(tenter_life_quantile(&c, 0.8)));
  c = (tenter_life_curve){.steps = times, .survival = survival, .count = 0, .end = 30};
  assert_close(tenter_life_exposure(&c, 30), 30, 0, 0);
}

static void test_odd_arguments(void **state) {
  (void)state;
  tenter_life_curve c = by_law(TENTER_LIFE_WEIBULL, 40, 0.3);
  assert_close(tenter_life_survival(&c, -1), 1, 0, 0);
  assert_true(isnan(tenter_life_survival(&c, NAN)));
  assert_true(isnan(tenter_life_exposure(&c, NAN)));
  assert_close(tenter_life_exposure(&c, 0), 0, 0, 0);
  assert_true(isnan(tenter_life_quantile(&c, 1)));
  c.scale = NAN;
  assert_true(isnan(tenter_life_exposure(&c, 5)));
  assert_string_equal(tenter_life_law_name(TENTER_LIFE_LOGNORMAL), "lognormal");
  assert_null(tenter_life_law_name(TENTER_LIFE_LAW_COUNT));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_count),        cmocka_unit_test(test_faults),
      cmocka_unit_test(test_nothing_said), cmocka_unit_test(test_endings),
      cmocka_unit_test(test_bad_endings),  cmocka_unit_test(test_weibull),
      cmocka_unit_test(test_exponential),  cmocka_unit_test(test_lognormal),
      cmocka_unit_test(test_loglogistic),  cmocka_unit_test(test_steps),
      cmocka_unit_test(test_odd_arguments)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
