/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines against NIST StRD Norris, R's lm and MASS's rlm (tests/oracle/numerics/numerics.R), the
 * general M-estimate, and identities. */
#include "numbers.h"
#include "tenter/stats/line.h"
#include "tenter/stats/mestimate.h"

enum { ROOM = 64, SESSIONS = 9 };

/* The log law of numerics.R: hours, tension, weights. */
static const double hours[SESSIONS] = {1, 4, 24, 70, 170, 350, 700, 1500, 3000};
static const double tension[SESSIONS] = {26.1, 25.2, 24.1, 23.7, 23.1, 22.8, 22.6, 22.1, 21.9};
static const double weights[SESSIONS] = {0.5, 1, 1, 2, 1, 1, 0.7, 1, 3};

static void ages(double *u) {
  for (size_t i = 0; i < SESSIONS; i++)
    u[i] = log10(hours[i] / 24);
}

/* Certified: B0 -0.262323073774029 (0.232818234301152), B1 1.00211681802045
 * (0.000429796848199937), residual sd 0.884796396144373. */
static void test_norris(void **state) {
  (void)state;
  double x[ROOM], y[ROOM];
  size_t count = rows_column("numerics/norris.csv", 0, y, ROOM);
  assert_int_equal(rows_column("numerics/norris.csv", 1, x, ROOM), count);
  assert_int_equal(count, 36);
  tenter_line_fit fit;
  assert_true(tenter_line_least_squares(count, x, y, NULL, NAN, &fit));
  assert_close(fit.level, -0.262323073774029, 1e-12, 0);
  assert_close(fit.slope, 1.00211681802045, 1e-14, 0);
  assert_close(fit.level_se, 0.232818234301152, 1e-12, 0);
  assert_close(fit.slope_se, 0.000429796848199937, 1e-12, 0);
  assert_close(fit.sigma, 0.884796396144373, 1e-12, 0);
  assert_close(fit.rss, 26.6173985294224, 1e-12, 0);
  assert_close(fit.df, 34, 0, 0);
  tenter_line_sums sums = {0};
  for (size_t i = 0; i < count; i++)
    tenter_line_sums_add(&sums, x[i], y[i], 1);
  assert_true(tenter_line_solve(&sums, NAN, &fit));
  assert_close(fit.level, -0.262323073774029, 1e-10, 0);
  assert_close(fit.sigma, 0.884796396144373, 1e-7, 0); /* yy - slope uy cancels */
}

static void check_lm(const rows *r, const tenter_line_fit *fit, double tolerance) {
  double se, at = tenter_line_fit_at(fit, 2.5, &se);
  const double got[] = {
      fit->level, fit->slope, fit->level_se, fit->slope_se, fit->cov, fit->sigma, fit->rss, at, se};
  for (size_t i = 0; i < sizeof got / sizeof *got; i++)
    assert_close(got[i], rows_number(r, i + 1), tolerance, 0);
}

static void test_lm(void **state) {
  (void)state;
  double u[SESSIONS];
  size_t cases = 0;
  rows r;
  ages(u);
  rows_open(&r, "numerics/line_expected.csv");
  while (rows_next(&r)) {
    const double *w = rows_is(&r, 0, "plain") ? NULL : weights;
    double sigma = rows_is(&r, 0, "known") ? 0.4 : NAN;
    tenter_line_fit fit;
    assert_true(tenter_line_least_squares(SESSIONS, u, tension, w, sigma, &fit));
    check_lm(&r, &fit, 1e-11);
    assert_close(fit.df, isnan(sigma) ? 7 : INFINITY, 0, 0);
    tenter_line_sums sums = {0}, first = {0}, none = {0};
    for (size_t i = 0; i < SESSIONS; i++)
      tenter_line_sums_add(i < 4 ? &first : &sums, u[i], tension[i], w ? w[i] : 1);
    tenter_line_sums_merge(&sums, &first);
    tenter_line_sums_merge(&sums, &none);
    tenter_line_sums_merge(&none, &sums); /* into an empty one */
    assert_true(tenter_line_solve(&none, sigma, &fit));
    check_lm(&r, &fit, 1e-9);
    cases++;
  }
  assert_int_equal(cases, 3);
}

/* A point of weight w counts as w points of weight 1, but for the degrees of freedom. */
static void test_weights_are_copies(void **state) {
  (void)state;
  const double u[] = {0, 1, 2, 2, 2}, y[] = {3, 1, 2, 2, 2}, w[] = {1, 1, 3};
  tenter_line_fit a, b;
  assert_true(tenter_line_least_squares(5, u, y, NULL, 1, &a));
  assert_true(tenter_line_least_squares(3, u, y, w, 1, &b));
  assert_close(a.level, b.level, 1e-14, 0);
  assert_close(a.slope_se, b.slope_se, 1e-14, 0);
  assert_close(a.rss, b.rss, 1e-14, 0);
}

static void test_few(void **state) {
  (void)state;
  const double u[] = {0, 0, 1}, y[] = {2, 4, 5};
  double robust[3], scratch[3];
  tenter_line_fit fit;
  assert_false(tenter_line_least_squares(0, u, y, NULL, NAN, &fit));
  assert_true(isnan(fit.level) && isnan(fit.slope));
  assert_false(tenter_line_least_squares(2, u, y, NULL, NAN, &fit)); /* one u, and that is 0 */
  assert_close(fit.level, 3, 1e-15, 0);
  assert_true(isnan(fit.slope) && isnan(fit.level_se));
  assert_true(tenter_line_least_squares(2, u + 1, y + 1, NULL, NAN, &fit));
  assert_close(fit.slope, 1, 1e-15, 0);
  assert_true(isnan(fit.slope_se) && isnan(fit.sigma)); /* nothing left to tell the noise from */
  assert_true(tenter_line_least_squares(2, u + 1, y + 1, NULL, 0.5, &fit));
  assert_close(fit.slope_se, 0.5 * sqrt(2), 1e-15, 0);
  assert_false(tenter_line_robust(2, u + 1, y + 1, NULL, robust, scratch, NULL, &fit));
  assert_close(robust[1], 1, 0, 0);
  assert_close(fit.slope, 1, 1e-15, 0);
}

/* ---- robust ---- */

static void with_misread(double *u, double *y) {
  ages(u);
  memcpy(y, tension, sizeof tension);
  y[6] = 21.2;
}

static void test_rlm(void **state) {
  (void)state;
  double u[SESSIONS], y[SESSIONS], robust[SESSIONS], scratch[SESSIONS], expected[5 + SESSIONS];
  tenter_line_fit fit;
  bool converged;
  with_misread(u, y);
  assert_int_equal(rows_column("numerics/line_robust.csv", 1, expected, 14), 14);
  assert_true(tenter_line_robust(SESSIONS, u, y, weights, robust, scratch, &converged, &fit));
  assert_true(converged);
  const double got[] = {fit.level, fit.slope, fit.level_se, fit.slope_se, fit.sigma};
  for (size_t i = 0; i < 5; i++)
    assert_close(got[i], expected[i], 1e-7, 0);
  for (size_t i = 0; i < SESSIONS; i++)
    assert_close(robust[i], expected[5 + i], 0, 1e-6);
  assert_close(robust[6], 0, 0, 0);
  assert_int_equal(fit.count, SESSIONS);
}

/* The general M-estimate of any columns settles at the same place. */
static void test_same_as_columns(void **state) {
  (void)state;
  double u[SESSIONS], y[SESSIONS], x[2 * SESSIONS], robust[SESSIONS], scratch[SESSIONS];
  tenter_line_fit fit;
  tenter_mestimate general;
  with_misread(u, y);
  for (size_t i = 0; i < SESSIONS; i++) {
    x[i] = 1;
    x[SESSIONS + i] = u[i];
  }
  assert_true(tenter_line_robust(SESSIONS, u, y, NULL, robust, scratch, NULL, &fit));
  assert_int_equal(tenter_mestimate_fit(TENTER_PSI_BISQUARE, true, SESSIONS, 2, x, y, NULL, NULL,
                                        &general, NULL),
                   TENTER_OK);
  assert_close(fit.level, general.coefficient[0], 1e-8, 0);
  assert_close(fit.slope, general.coefficient[1], 1e-8, 0);
  assert_close(fit.slope_se, general.se[1], 1e-7, 0);
}

/* Points on a line keep 1, the others 0, wherever those are: at the ends too. */
static void test_exact_line(void **state) {
  (void)state;
  double u[11], y[11], robust[11], scratch[11];
  for (size_t wrong = 0; wrong < 11; wrong++) {
    for (size_t i = 0; i < 11; i++) {
      u[i] = (double)i - 3;
      y[i] = 23 - 1.25 * u[i];
    }
    y[wrong] = 2.3;
    y[(wrong + 5) % 11] = 50;
    tenter_line_fit fit;
    bool converged;
    assert_true(tenter_line_robust(11, u, y, NULL, robust, scratch, &converged, &fit));
    assert_true(converged);
    assert_close(fit.level, 23, 1e-12, 0);
    assert_close(fit.slope, -1.25, 1e-12, 0);
    for (size_t i = 0; i < 11; i++)
      assert_close(robust[i], i != wrong && i != (wrong + 5) % 11, 0, 0);
  }
}

/* Many points, a third of them wrong in the same way at the far end: the line is not carried away.
 */
static void test_third_wrong(void **state) {
  (void)state;
  enum { MANY = 3000 };
  static double u[MANY], y[MANY], robust[MANY], scratch[MANY];
  uint64_t seed = 3;
  for (size_t i = 0; i < MANY; i++) {
    u[i] = 3 * (double)i / MANY;
    y[i] = (i % 3 ? 24 - u[i] : 12) + 0.2 * number_normal(&seed);
  }
  tenter_line_fit fit;
  assert_true(tenter_line_robust(MANY, u, y, NULL, robust, scratch, NULL, &fit));
  assert_close(fit.level, 24, 0, 0.05);
  assert_close(fit.slope, -1, 0, 0.03);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_norris),
                                     cmocka_unit_test(test_lm),
                                     cmocka_unit_test(test_weights_are_copies),
                                     cmocka_unit_test(test_few),
                                     cmocka_unit_test(test_rlm),
                                     cmocka_unit_test(test_same_as_columns),
                                     cmocka_unit_test(test_exact_line),
                                     cmocka_unit_test(test_third_wrong)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
