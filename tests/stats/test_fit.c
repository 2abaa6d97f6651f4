/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The general fit beyond NIST: closed forms, bounds, weights, refusals; the runs test against the
 * enumeration of all orders, and its normal branch against its exact one. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/stats/fit.h"

enum { N = 8 };

static const double x[N] = {0, 1, 2, 3, 4, 5, 6, 7};

/* theta0 + theta1 x */
static bool line(void *context, const double *theta, double *out) {
  (void)context;
  for (size_t i = 0; i < N; i++)
    out[i] = theta[0] + theta[1] * x[i];
  return true;
}

static bool line_jacobian(void *context, const double *theta, double *jacobian) {
  (void)context;
  (void)theta;
  for (size_t i = 0; i < N; i++) {
    jacobian[i] = 1;
    jacobian[N + i] = x[i];
  }
  return true;
}

/* sqrt(theta0 - 1) + theta1 x: undefined where theta0 < 1 */
static bool rooted(void *context, const double *theta, double *out) {
  (void)context;
  if (theta[0] < 1)
    return false;
  for (size_t i = 0; i < N; i++)
    out[i] = sqrt(theta[0] - 1) + theta[1] * x[i];
  return true;
}

static bool rooted_jacobian(void *context, const double *theta, double *jacobian) {
  (void)context;
  for (size_t i = 0; i < N; i++) {
    jacobian[i] = 0.5 / sqrt(theta[0] - 1);
    jacobian[N + i] = x[i];
  }
  return theta[0] > 1;
}

static tenter_fit_space *space;

static int make_space(void **state) {
  (void)state;
  return tenter_fit_space_new(N, 4, &space, NULL) == TENTER_OK ? 0 : 1;
}

static int free_space(void **state) {
  (void)state;
  tenter_fit_space_free(space);
  return 0;
}

static tenter_fit_problem line_problem(const double *y) {
  return (tenter_fit_problem){
      .count = N, .parameters = 2, .function = line, .jacobian = line_jacobian, .y = y};
}

/* y = 1 + 2x with residuals +-1 in the pattern + - - + + - - +, which is orthogonal to 1 and x: by
 * hand theta = (1, 2), rss = 8, sigma^2 = 8/6; sum (x - 3.5)^2 = 42, so var theta1 = sigma^2 / 42,
 * var theta0 = sigma^2 (1/8 + 3.5^2/42), covariance = -3.5 sigma^2 / 42. */
static const double straight[N] = {2, 2, 4, 8, 10, 10, 12, 16};

static void closed_form(void **state) {
  (void)state;
  tenter_fit_problem problem = line_problem(straight);
  tenter_fit fit;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){50, -9}, &fit, NULL), TENTER_OK);
  double variance = 8.0 / 6;
  assert_close(fit.parameter[0], 1, 1e-12, 0);
  assert_close(fit.parameter[1], 2, 1e-12, 0);
  assert_close(fit.rss, 8, 1e-12, 0);
  assert_close(fit.sigma, sqrt(variance), 1e-12, 0);
  assert_close(fit.covariance[3], variance / 42, 1e-12, 0);
  assert_close(fit.covariance[0], variance * (0.125 + 3.5 * 3.5 / 42), 1e-12, 0);
  assert_close(fit.covariance[1], -3.5 * variance / 42, 1e-12, 0);
  assert_close(fit.covariance[2], fit.covariance[1], 0, 0);
  /* -n/2 (log(2 pi rss/n) + 1) = -4 (log(2 pi) + 1); AICc with k = 3 */
  assert_close(fit.loglik, -4 * (log(6.283185307179586) + 1), 1e-12, 0);
  assert_close(fit.aicc, -2 * fit.loglik + 6 + 24.0 / 4, 1e-12, 0);
  assert_true(tenter_fit_stop_minimum(fit.stop));
}

/* The slope held at most 1.5: theta0 = mean y - 1.5 * 3.5 = 8 - 5.25; one parameter is left,
 * rss = 8 + 0.25 * 42. Fixed at 1.5 is the same. */
static void bounds(void **state) {
  (void)state;
  for (int fixed = 0; fixed < 2; fixed++) {
    double low[] = {-100, fixed ? 1.5 : -100}, high[] = {100, 1.5};
    tenter_fit_problem problem = line_problem(straight);
    problem.low = low;
    problem.high = high;
    tenter_fit fit;
    assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, NULL), TENTER_OK);
    assert_close(fit.parameter[1], 1.5, 0, 0);
    assert_close(fit.parameter[0], 2.75, 1e-10, 0);
    assert_close(fit.rss, 8 + 0.25 * 42, 1e-12, 0);
    assert_true(fit.on_bound[1] && !fit.on_bound[0]);
    assert_true(isnan(fit.se[1]));
    assert_close(fit.se[0], sqrt(fit.rss / 7 / 8), 1e-12, 0);
  }
  double low[] = {5, 3}, high[] = {100, 100}; /* both push: the corner */
  tenter_fit_problem problem = line_problem(straight);
  problem.low = low;
  problem.high = high;
  tenter_fit fit;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){20, 20}, &fit, NULL), TENTER_OK);
  assert_int_equal(fit.stop, TENTER_FIT_STOP_BOUNDS);
  assert_close(fit.parameter[0], 5, 0, 0);
  assert_close(fit.parameter[1], 3, 0, 0);
}

/* Weight 0 leaves a point out; doubling all weights changes nothing but rss, sigma, likelihood's
 * scale. */
static void weights(void **state) {
  (void)state;
  double y[N], weight[N];
  memcpy(y, straight, sizeof y);
  for (size_t i = 0; i < N; i++)
    weight[i] = 2;
  tenter_fit_problem problem = line_problem(y);
  tenter_fit plain, doubled;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &plain, NULL), TENTER_OK);
  problem.weight = weight;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &doubled, NULL), TENTER_OK);
  assert_close(doubled.rss, 2 * plain.rss, 1e-12, 0);
  assert_close(doubled.se[1], plain.se[1], 1e-12, 0);
  assert_close(doubled.loglik, plain.loglik, 1e-12, 0); /* +n/2 log 2 and -n/2 log 2 */
  y[7] = 1000;
  weight[7] = 0;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &doubled, NULL), TENTER_OK);
  y[7] = -1000;
  tenter_fit again;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &again, NULL), TENTER_OK);
  assert_close(again.parameter[1], doubled.parameter[1], 1e-12, 0);
  assert_close(again.loglik, doubled.loglik, 1e-12, 0);
}

static void undefined_places(void **state) {
  (void)state;
  tenter_fit_problem problem = line_problem(straight);
  problem.function = rooted;
  problem.jacobian = rooted_jacobian;
  tenter_fit fit;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){400, 7}, &fit, NULL), TENTER_OK);
  assert_close(fit.parameter[0], 2, 1e-8, 0);
  assert_true(tenter_fit_stop_minimum(fit.stop));
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, NULL), TENTER_OK);
  assert_int_equal(fit.stop, TENTER_FIT_STOP_UNDEFINED);
  assert_false(tenter_fit_stop_minimum(fit.stop));
  problem.max_iterations = 1;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){4e6, 0}, &fit, NULL), TENTER_OK);
  assert_int_equal(fit.stop, TENTER_FIT_STOP_ITERATIONS);
}

static void exact_and_dependent(void **state) {
  (void)state;
  double y[N];
  for (size_t i = 0; i < N; i++)
    y[i] = 3 - 0.5 * x[i];
  tenter_fit_problem problem = line_problem(y);
  tenter_fit fit;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, NULL), TENTER_OK);
  assert_int_equal(fit.stop, TENTER_FIT_STOP_EXACT);
  assert_close(fit.parameter[1], -0.5, 1e-13, 0);
  double low[] = {-9, -9};
  problem.low = low;
  problem.weight = (const double[N]){1, 0, 0, 0, 0, 0, 0, 1e-300};
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, NULL), TENTER_OK);
}

static void refusals(void **state) {
  (void)state;
  double y[N], weight[N] = {1, 0, 0, 0, 0, 0, 0, 0}, low[] = {0, 2}, high[] = {1, 1};
  tenter_fit fit;
  tenter_error error;
  memcpy(y, straight, sizeof y);
  tenter_fit_problem problem = line_problem(y);
  problem.weight = weight;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "1 points can't determine 2 parameters"));
  weight[3] = -1;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "point 4"));
  problem.weight = NULL;
  y[1] = INFINITY;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, &error), TENTER_INPUT);
  y[1] = 0;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, NAN}, &fit, &error), TENTER_USAGE);
  problem.low = low;
  problem.high = high;
  assert_int_equal(tenter_fit_run(space, &problem, (double[]){0, 0}, &fit, &error), TENTER_USAGE);
  problem.parameters = 5;
  assert_int_equal(tenter_fit_run(space, &problem, (double[5]){0}, &fit, &error), TENTER_USAGE);
  tenter_fit_space *none = NULL;
  assert_int_equal(tenter_fit_space_new(0, 2, &none, &error), TENTER_USAGE);
  assert_int_equal(tenter_fit_space_new(5, TENTER_FIT_PARAMETERS + 1, &none, &error), TENTER_USAGE);
  assert_int_equal(tenter_fit_space_new(SIZE_MAX / 2, 2, &none, &error), TENTER_USAGE);
  assert_null(none);
  tenter_fit_space_free(NULL);
}

/* ---- runs ---- */

static size_t runs_of(unsigned signs, size_t n) {
  size_t runs = 1;
  for (size_t i = 1; i < n; i++)
    runs += ((signs >> i) ^ (signs >> (i - 1))) & 1;
  return runs;
}

/* Among all orders of the same signs: the share with as few runs, the share with as many. */
static double enumerated_p(unsigned signs, size_t n) {
  size_t runs = runs_of(signs, n), all = 0, low = 0, high = 0;
  for (unsigned order = 0; order < 1u << n; order++) {
    if (__builtin_popcount(order) != __builtin_popcount(signs))
      continue;
    all++;
    low += runs_of(order, n) <= runs;
    high += runs_of(order, n) >= runs;
  }
  return fmin(1, 2 * fmin((double)low, (double)high) / (double)all);
}

static void runs_enumerated(void **state) {
  (void)state;
  for (size_t n = 2; n <= 9; n++)
    for (unsigned signs = 1; signs + 1 < 1u << n; signs++) {
      double r[9];
      for (size_t i = 0; i < n; i++)
        r[i] = (signs >> i) & 1 ? 0.5 : -2;
      tenter_fit_runs runs = tenter_fit_runs_test(r, n);
      assert_int_equal(runs.runs, runs_of(signs, n));
      assert_close(runs.p, enumerated_p(signs, n), 1e-12, 0);
    }
}

/* Alternating pairs of 200 and 202: expected runs (by the formula) 101 and 102, 100 and 101 found.
 */
static void runs_and_lag(void **state) {
  (void)state;
  double r[202];
  for (size_t i = 0; i < 202; i++)
    r[i] = i % 4 < 2 ? 1 : -1;
  tenter_fit_runs exact = tenter_fit_runs_test(r, 200), normal = tenter_fit_runs_test(r, 202);
  assert_close(exact.expected, 101, 1e-15, 0);
  assert_int_equal(exact.runs, 100);
  assert_true(exact.p > 0.85 && normal.p > 0.85);
  for (size_t i = 0; i < 202; i++)
    r[i] = i % 6 < 3 ? 1 : -1;
  exact = tenter_fit_runs_test(r, 200);
  normal = tenter_fit_runs_test(r, 202);
  assert_close(log(exact.p), log(normal.p), 0.1, 0);
  /* 102 above, 100 below, 68 runs: mean 20400/202 + 1, variance 20400 * 20198 / (202^2 201) =
   * 50.23885572, z = -4.795485257; R 4.2.2: 2 * pnorm(z) */
  assert_int_equal(normal.runs, 68);
  assert_close(normal.expected, 101.9900990, 1e-9, 0);
  assert_close(normal.p, 1.622815055e-6, 1e-8, 0);
  /* by hand: 1 2 4 -> mean 7/3, deviations -4/3 -1/3 5/3; (4 - 5) / (16 + 1 + 25) */
  assert_close(tenter_fit_runs_test((const double[]){1, 2, 4}, 3).lag1, -1.0 / 42, 1e-14, 0);
  tenter_fit_runs one_sign = tenter_fit_runs_test((const double[]){1, 2, 0, 4}, 4);
  assert_int_equal(one_sign.count, 3);
  assert_int_equal(one_sign.runs, 1);
  assert_true(isnan(one_sign.p) && isnan(one_sign.expected));
  assert_true(isnan(tenter_fit_runs_test(NULL, 0).lag1));
  assert_true(isnan(tenter_fit_runs_test((const double[]){3, 3, 3}, 3).lag1));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(closed_form),
                                     cmocka_unit_test(bounds),
                                     cmocka_unit_test(weights),
                                     cmocka_unit_test(undefined_places),
                                     cmocka_unit_test(exact_and_dependent),
                                     cmocka_unit_test(refusals),
                                     cmocka_unit_test(runs_enumerated),
                                     cmocka_unit_test(runs_and_lag)};
  return cmocka_run_group_tests(tests, make_space, free_space);
}
