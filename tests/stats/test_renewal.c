/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Age replacement against values from R (tests/oracle/life: uniroot and integrate for Weibull
 * lives, optimize and integrate for others), against direct minimisation, and by hand for steps. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_erf.h>
#include <gsl/gsl_sf_gamma.h>

#include "life_rows.h"
#include "tenter/stats/life_fit.h"
#include "tenter/stats/renewal.h"

static tenter_life_curve by_law(tenter_life_law law, double life, double scale) {
  return (tenter_life_curve){.law = law, .location = log(life), .scale = scale, .end = INFINITY};
}

static tenter_renewal best(const tenter_life_curve *curve, double planned, double failure) {
  tenter_renewal_costs costs = {planned, failure};
  tenter_renewal r;
  assert_int_equal(tenter_renewal_best(curve, &costs, &r, NULL), TENTER_OK);
  return r;
}

static void test_weibull(void **state) {
  (void)state;
  rows r;
  size_t seen = 0;
  rows_open(&r, "life/age_replacement.csv");
  while (rows_next(&r)) {
    tenter_life_curve c = by_law(TENTER_LIFE_WEIBULL, rows_number(&r, 1), 1 / rows_number(&r, 0));
    tenter_renewal b = best(&c, rows_number(&r, 2), rows_number(&r, 3));
    assert_int_equal(b.answer, TENTER_RENEWAL_AT);
    assert_close(b.age, rows_number(&r, 4), 1e-8, 0);
    assert_close(b.rate, rows_number(&r, 5), 1e-9, 0);
    assert_close(b.rate_of_failure, rows_number(&r, 6), 1e-9, 0);
    seen++;
  }
  assert_int_equal(seen, 24);
}

/* Weibull lives of shape 2. dC/dt = 0 where h(t) integral of S - (1 - S) = planned / (failure -
 * planned) (Barlow, Proschan 1965, 4.2). With x = t / life, h = 2 x / life and the integral of
 * exp(-x^2) is life sqrt(pi) / 2 erf(x), so that
 *
 *   sqrt(pi) x erf(x) + exp(-x^2) = failure / (failure - planned),
 *
 * and C there is (failure - planned) h. */
static void test_shape_two(void **state) {
  (void)state;
  static const double failures[] = {2, 3, 5, 10, 20, 100};
  for (size_t i = 0; i < 6; i++) {
    tenter_life_curve c = by_law(TENTER_LIFE_WEIBULL, 40, 0.5);
    tenter_renewal b = best(&c, 1, failures[i]);
    double x = b.age / 40;
    assert_close(sqrt(M_PI) * x * gsl_sf_erf(x) + exp(-x * x), failures[i] / (failures[i] - 1),
                 1e-9, 0);
    assert_close(b.rate, (failures[i] - 1) * 2 * x / 40, 1e-9, 0);
  }
}

/* Lives even from 0 to 1: C(t) = planned (1 + r t) / (t - t^2 / 2), r = failure / planned - 1, has
 * dC/dt = 0 where r t^2 / 2 + t - 1 = 0: t = (sqrt(1 + 2 r) - 1) / r, and C = planned r / (1 - t).
 * r = 3/2, 4, 12, 24: t = 2/3, 1/2, 1/3, 1/4. As 4000 steps. */
static void test_even_lives(void **state) {
  (void)state;
  enum { STEPS = 4000 };
  static double times[STEPS], survival[STEPS];
  static const double r[] = {1.5, 4, 12, 24}, age[] = {2.0 / 3, 0.5, 1.0 / 3, 0.25};
  for (int i = 0; i < STEPS; i++) {
    times[i] = (i + 0.5) / STEPS;
    survival[i] = 1 - (i + 1.0) / STEPS;
  }
  tenter_life_curve c = {.steps = times, .survival = survival, .count = STEPS, .end = INFINITY};
  for (size_t i = 0; i < 4; i++) {
    tenter_renewal b = best(&c, 10, 10 * (r[i] + 1));
    assert_int_equal(b.answer, TENTER_RENEWAL_AT);
    assert_close(b.age, age[i], 0, 2.0 / STEPS);
    assert_close(b.rate, 10 * r[i] / (1 - age[i]), 1e-3, 0);
  }
}

static void test_other_laws(void **state) {
  (void)state;
  static const struct {
    const char *model;
    tenter_life_law law;
    double scale, planned, failure;
  } cases[] = {{"renewal lognormal 0.3", TENTER_LIFE_LOGNORMAL, 0.3, 1, 5},
               {"renewal lognormal 0.6", TENTER_LIFE_LOGNORMAL, 0.6, 1, 8},
               {"renewal loglogistic 0.2", TENTER_LIFE_LOGLOGISTIC, 0.2, 2, 9}};
  for (size_t i = 0; i < 3; i++) {
    tenter_life_curve c = by_law(cases[i].law, 40, cases[i].scale);
    tenter_renewal b = best(&c, cases[i].planned, cases[i].failure);
    assert_int_equal(b.answer, TENTER_RENEWAL_AT);
    /* a minimiser knows its place to the root of its precision */
    assert_close(b.age, lives_expected(cases[i].model, "age"), 1e-6, 0);
    assert_close(b.rate, lives_expected(cases[i].model, "rate"), 1e-10, 0);
    assert_close(tenter_life_exposure(&c, lives_expected(cases[i].model, "age")),
                 lives_expected(cases[i].model, "exposure"), 1e-10, 0);
  }
}

/* No age on a fine grid costs less than the answer, whatever the law and the costs; the answer at a
 * finite age is one of the grid's valley. */
static void test_no_age_is_better(void **state) {
  (void)state;
  static const double scales[] = {0.08, 0.3, 0.7, 0.95, 1, 1.4}, failures[] = {0.5, 1, 1.3, 4, 50};
  for (tenter_life_law law = TENTER_LIFE_WEIBULL; law < TENTER_LIFE_LAW_COUNT; law++)
    for (size_t s = 0; s < 6; s++)
      for (size_t f = 0; f < 5; f++) {
        tenter_renewal_costs costs = {1, failures[f]};
        tenter_life_curve c = by_law(law, 40, scales[s]);
        tenter_renewal b = best(&c, 1, failures[f]);
        for (double t = 0.4; t < 4000; t *= 1.05)
          assert_true(tenter_renewal_rate(&c, &costs, t) >= b.rate * (1 - 1e-12));
        assert_true(b.rate <= b.rate_of_failure);
        assert_true((b.answer == TENTER_RENEWAL_NEVER) == isinf(b.age));
      }
}

/* A hazard that does not rise, or failures that cost no more: never. */
static void test_never(void **state) {
  (void)state;
  tenter_life_curve exponential = by_law(TENTER_LIFE_EXPONENTIAL, 40, 1);
  tenter_life_curve falling = by_law(TENTER_LIFE_WEIBULL, 40, 1.2);
  tenter_life_curve heavy = by_law(TENTER_LIFE_LOGLOGISTIC, 40, 1.5);
  tenter_life_curve rising = by_law(TENTER_LIFE_WEIBULL, 40, 0.3);
  assert_int_equal(best(&exponential, 1, 100).answer, TENTER_RENEWAL_NEVER);
  assert_close(best(&exponential, 1, 100).rate, 2.5, 1e-12, 0);
  assert_int_equal(best(&falling, 1, 100).answer, TENTER_RENEWAL_NEVER);
  assert_close(best(&falling, 1, 100).rate, 2.5 / gsl_sf_gamma(2.2), 1e-12, 0);
  assert_int_equal(best(&heavy, 1, 100).answer, TENTER_RENEWAL_NEVER);
  assert_close(best(&heavy, 1, 100).rate, 0, 0, 0);
  assert_int_equal(best(&rising, 1, 1).answer, TENTER_RENEWAL_NEVER);
  assert_int_equal(best(&rising, 2, 1).answer, TENTER_RENEWAL_NEVER);
}

/* ---- steps ---- */

/* Lives of 2, 6 and 8, a third each; planned 1, failure 4. Just before 2: 1 / 2. Before 6: (2/3 +
 * 4/3) / (2 + 4 2/3) = 2 / (14/3) = 3/7. Before 8: (1/3 + 8/3) / (14/3 + 2/3) = 3 / (16/3) = 9/16.
 * Never: 4 / (16/3) = 3/4. */
static void test_steps_by_hand(void **state) {
  (void)state;
  const double times[] = {2, 6, 8}, survival[] = {2.0 / 3, 1.0 / 3, 0};
  tenter_life_curve c = {.steps = times, .survival = survival, .count = 3, .end = INFINITY};
  tenter_renewal b = best(&c, 1, 4);
  assert_int_equal(b.answer, TENTER_RENEWAL_AT);
  assert_close(b.age, 6, 0, 0);
  assert_close(b.rate, 3.0 / 7, 1e-14, 0);
  assert_close(b.rate_of_failure, 0.75, 1e-14, 0);
  tenter_renewal_costs costs = {1, 4};
  assert_close(tenter_renewal_rate(&c, &costs, 2), 0.5, 1e-14, 0);
  assert_close(tenter_renewal_rate(&c, &costs, 8), 9.0 / 16, 1e-14, 0);
  assert_int_equal(best(&c, 4, 1).answer, TENTER_RENEWAL_NEVER);
}

/* The same, seen up to 7 only, and up to 7 without a failure. At 7 the cost is (1/3 + 8/3) / 5 =
 * 3/5, above 3/7; with planned 3: 1.5, 30/7 / ... = (2 + 4/3) / (14/3) = 5/7, (1 + 8/3) / 5 = 11/15
 * at 7, so 6; with planned 3.9: 1.95, (2.6 + 4/3) / (14/3) = 0.843, (1.3 + 8/3) / 5 = 0.793 at 7.
 */
static void test_steps_that_end(void **state) {
  (void)state;
  const double times[] = {2, 6}, survival[] = {2.0 / 3, 1.0 / 3};
  tenter_life_curve c = {.steps = times, .survival = survival, .count = 2, .end = 7};
  assert_close(best(&c, 1, 4).age, 6, 0, 0);
  assert_close(best(&c, 3, 4).age, 6, 0, 0);
  assert_true(isnan(best(&c, 3, 4).rate_of_failure));
  tenter_renewal b = best(&c, 3.9, 4);
  assert_int_equal(b.answer, TENTER_RENEWAL_AT_LEAST);
  assert_close(b.age, 7, 0, 0);
  assert_close(b.rate, (1.3 + 8.0 / 3) / 5, 1e-14, 0);
  c.count = 0;
  b = best(&c, 1, 4);
  assert_int_equal(b.answer, TENTER_RENEWAL_AT_LEAST);
  assert_close(b.rate, 1.0 / 7, 1e-14, 0);
}

/* Steps of many lives come to the law they are from. */
static void test_steps_of_many(void **state) {
  (void)state;
  enum { MANY = 20000 };
  static double times[MANY], survival[MANY];
  for (size_t i = 0; i < MANY; i++) {
    double p = ((double)i + 0.5) / MANY;
    times[i] = 40 * pow(-log1p(-p), 0.4);
    survival[i] = 1 - ((double)i + 1) / MANY;
  }
  survival[MANY - 1] = 0;
  tenter_life_curve c = {.steps = times, .survival = survival, .count = MANY, .end = INFINITY};
  tenter_life_curve law = by_law(TENTER_LIFE_WEIBULL, 40, 0.4);
  assert_close(best(&c, 1, 5).age, best(&law, 1, 5).age, 0.01, 0);
  assert_close(best(&c, 1, 5).rate, best(&law, 1, 5).rate, 1e-3, 0);
}

/* ---- how sure ---- */

typedef struct drawn {
  tenter_life_fit fit;
} drawn;

static tenter_status draw(void *context, size_t i, tenter_life_curve *curve, tenter_error *error) {
  (void)error;
  const drawn *d = context;
  *curve = tenter_life_fit_draw(&d->fit, NULL, i);
  return TENTER_OK;
}

/* Against the delta method: with beta = 1 / scale, the best age is life * a(beta), so that its
 * logarithm has the variance of location + log a, by derivatives taken numerically. */
static void test_spread(void **state) {
  (void)state;
  tenter_life_design constant = {.terms = 1};
  uint64_t seed = 4;
  drawn d;
  lives l = {0};
  for (size_t i = 0; i < LIFE_ROWS; i++) {
    double t = 40 * pow(-log(number_uniform(&seed)), 0.4);
    lives_add(&l, t, t, 1);
  }
  tenter_life life = lives_of(&l);
  assert_int_equal(tenter_life_fit_run(&life, &constant, TENTER_LIFE_WEIBULL, &d.fit, NULL),
                   TENTER_OK);
  tenter_renewal_costs costs = {1, 5};
  tenter_renewal_spread spread;
  assert_int_equal(tenter_renewal_spread_of(draw, &d, 1000, 0.9, &costs, &spread, NULL), TENTER_OK);
  tenter_life_curve at = tenter_life_fit_curve(&d.fit, NULL), more = at, less = at;
  more.scale = at.scale * exp(0.01);
  less.scale = at.scale * exp(-0.01);
  double slope = log(best(&more, 1, 5).age / best(&less, 1, 5).age) / 0.02;
  double se = sqrt(d.fit.covariance[0] + 2 * slope * d.fit.covariance[1] +
                   slope * slope * d.fit.covariance[3]);
  double centre = log(best(&at, 1, 5).age);
  assert_close(log(spread.low), centre - 1.645 * se, 0, 0.25 * se);
  assert_close(log(spread.high), centre + 1.645 * se, 0, 0.25 * se);
  assert_close(spread.never, 0, 0, 0);
  assert_int_equal(tenter_renewal_spread_of(draw, &d, 0, 0.9, &costs, &spread, NULL), TENTER_USAGE);
  tenter_life_fit_release(&d.fit);
}

static void test_refused(void **state) {
  (void)state;
  static const tenter_renewal_costs bad[] = {{0, 1}, {1, 0}, {NAN, 1}, {1, INFINITY}};
  tenter_life_curve c = by_law(TENTER_LIFE_WEIBULL, 40, 0.3);
  tenter_renewal_costs costs = {1, 5};
  tenter_renewal r;
  for (size_t i = 0; i < 4; i++)
    assert_int_equal(tenter_renewal_best(&c, &bad[i], &r, NULL), TENTER_USAGE);
  assert_true(isnan(tenter_renewal_rate(&c, &bad[0], 5)));
  c.scale = NAN;
  assert_int_equal(tenter_renewal_best(&c, &costs, &r, NULL), TENTER_USAGE);
  c = by_law(TENTER_LIFE_WEIBULL, INFINITY, 0.3);
  assert_int_equal(tenter_renewal_best(&c, &costs, &r, NULL), TENTER_USAGE);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_weibull),          cmocka_unit_test(test_shape_two),
      cmocka_unit_test(test_even_lives),       cmocka_unit_test(test_other_laws),
      cmocka_unit_test(test_no_age_is_better), cmocka_unit_test(test_never),
      cmocka_unit_test(test_steps_by_hand),    cmocka_unit_test(test_steps_that_end),
      cmocka_unit_test(test_steps_of_many),    cmocka_unit_test(test_spread),
      cmocka_unit_test(test_refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
