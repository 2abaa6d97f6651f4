/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The normal in one and two variables against R and mvtnorm (tests/oracle/numerics/numerics.R),
 * the law of signs (Sheppard 1899), a naive quadrature by GSL, and identities. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>

#include "numbers.h"
#include "tenter/stats/normal.h"

static void test_quantiles(void **state) {
  (void)state;
  rows r;
  rows_open(&r, "numerics/quantiles.csv");
  while (rows_next(&r)) {
    double p = rows_number(&r, 0), z = rows_number(&r, 1);
    assert_close(tenter_normal_quantile(p), z, 1e-14, 1e-15);
    assert_close(tenter_normal_below(z), p, 1e-12, 0);
    assert_close(tenter_normal_above(-z), p, 1e-12, 0);
  }
  assert_close(tenter_normal_quantile(0), -INFINITY, 0, 0);
  assert_close(tenter_normal_quantile(1), INFINITY, 0, 0);
  assert_true(isnan(tenter_normal_quantile(1.1)) && isnan(tenter_normal_quantile(NAN)));
}

static void test_between(void **state) {
  (void)state;
  assert_close(tenter_normal_between(22, 0.5, 21, 23), 0.954499736103642, 1e-14, 0); /* R pnorm */
  assert_close(tenter_normal_between(0, 1, 9, INFINITY), 1.12858840595384e-19, 1e-13, 0);
  assert_close(tenter_normal_between(0, 1, -INFINITY, -9), 1.12858840595384e-19, 1e-13, 0);
  assert_close(tenter_normal_between(0, 1, 1, 1), 0, 0, 0);
  assert_close(tenter_normal_between(2, 0, 1, 2), 1, 0, 0);
  assert_close(tenter_normal_between(2, 0, 2, 3), 0, 0, 0);
  assert_true(isnan(tenter_normal_between(NAN, 1, 0, 1)));
}

static void test_mvtnorm(void **state) {
  (void)state;
  rows r;
  double worst = 0;
  rows_open(&r, "numerics/bivariate.csv");
  while (rows_next(&r)) {
    double h = rows_number(&r, 0), k = rows_number(&r, 1), rho = rows_number(&r, 2);
    double p = tenter_normal_both_above(h, k, rho);
    worst = fmax(worst, fabs(p - rows_number(&r, 3)));
    assert_close(p, rows_number(&r, 3), 0, 1e-13);
  }
  print_message("two normals: worst error against mvtnorm %.1e\n", worst);
}

/* P(both above 0) = 1/4 + asin(rho) / (2 pi). */
static void test_law_of_signs(void **state) {
  (void)state;
  for (int i = -1000; i <= 1000; i++) {
    double rho = i / 1000.0;
    assert_close(tenter_normal_both_above(0, 0, rho), 0.25 + asin(rho) / (2 * M_PI), 0, 1e-15);
    assert_close(tenter_normal_both_above(1e-9, -1e-9, rho), 0.25 + asin(rho) / (2 * M_PI), 0,
                 1e-9);
  }
}

typedef struct pair {
  double k, rho;
} pair;

/* The density of X at x times P(Y > k given x). */
static double given_x(double x, void *params) {
  const pair *p = params;
  double rest = sqrt((1 - p->rho) * (1 + p->rho));
  return tenter_normal_density(x) * tenter_normal_above((p->k - p->rho * x) / rest);
}

static void test_quadrature(void **state) {
  (void)state;
  gsl_set_error_handler_off();
  gsl_integration_workspace *room = gsl_integration_workspace_alloc(2000);
  uint64_t seed = 4;
  for (int round = 0; round < 400; round++) {
    double h = 4 * number_normal(&seed) / 2, near = number_uniform(&seed), result, error;
    pair p = {number_normal(&seed) * 1.5, 2 * number_uniform(&seed) - 1};
    if (round % 3 == 0)
      p = (pair){h + 0.01 * near, 1 - 1e-4 * near};
    if (round % 10 == 1)
      h = 0;
    gsl_function f = {given_x, &p};
    gsl_integration_qag(&f, h, fmax(h, 0) + 9, 1e-14, 1e-13, 2000, GSL_INTEG_GAUSS61, room, &result,
                        &error);
    assert_close(tenter_normal_both_above(h, p.k, p.rho), result, 0, 2e-13);
  }
  gsl_integration_workspace_free(room);
}

/* Sums over quadrants, exchange, reflection; certainty at the ends. */
static void test_identities(void **state) {
  (void)state;
  uint64_t seed = 5;
  for (int round = 0; round < 20000; round++) {
    double h = 3 * number_normal(&seed), k = round % 4 ? 3 * number_normal(&seed) : h;
    double rho = 2 * number_uniform(&seed) - 1;
    if (round % 5 == 0)
      rho = copysign(1 - pow(10, -9 * number_uniform(&seed)), rho);
    double both = tenter_normal_both_above(h, k, rho);
    assert_close(tenter_normal_both_above(k, h, rho), both, 0, 1e-13);
    assert_close(tenter_normal_both_below(-h, -k, rho), both, 0, 0);
    assert_close(both + tenter_normal_both_above(h, -k, -rho), tenter_normal_above(h), 0, 1e-13);
    assert_close(tenter_normal_both_above(h, -INFINITY, rho), tenter_normal_above(h), 0, 0);
    assert_close(tenter_normal_both_above(h, INFINITY, rho), 0, 0, 0);
    assert_close(tenter_normal_both_above(h, k, 1), tenter_normal_above(fmax(h, k)), 0, 0);
    assert_close(tenter_normal_both_above(h, k, 0), tenter_normal_above(h) * tenter_normal_above(k),
                 0, 1e-13);
  }
  assert_close(tenter_normal_both_above(1, -2, -1), tenter_normal_between(0, 1, 1, 2), 0, 0);
  assert_close(tenter_normal_both_above(2, -1, -1), 0, 0, 0);
  assert_true(isnan(tenter_normal_both_above(0, 0, 1.01)));
  assert_true(isnan(tenter_normal_both_above(NAN, 0, 0)));
}

/* Close to 1, with 1 - rho^2 given apart: at rho = 1 - 1e-20, X - Y has sd sqrt(2 (1 - rho)) =
 * sqrt(2) 1e-10, and P(X > h >= Y) = E max(X - Y, 0) phi(h) = 1e-10 phi(h) / sqrt(pi) to first
 * order. */
static void test_rest(void **state) {
  (void)state;
  double rest = 2e-20;
  double apart = tenter_normal_above(1) - tenter_normal_both_above_rest(1, 1, 1, rest);
  assert_close(apart, 1e-10 * tenter_normal_density(1) / sqrt(M_PI), 1e-4, 0);
}

static void test_greatest(void **state) {
  (void)state;
  rows r;
  rows_open(&r, "numerics/greatest.csv");
  while (rows_next(&r)) {
    double k = rows_number(&r, 0), p = rows_number(&r, 1), z = rows_number(&r, 2);
    assert_close(tenter_normal_greatest_quantile(k, p), z, 1e-11, 0); /* R took 1 - tail */
    assert_close(tenter_normal_greatest_above(k, z), 1 - p, 0, 1e-12);
  }
  /* for large k the chance is k times that of one */
  assert_close(tenter_normal_greatest_above(1000, 8), 2000 * tenter_normal_above(8), 1e-10, 0);
  assert_close(tenter_normal_greatest_above(3, -1), 1, 0, 0);
  assert_close(tenter_normal_greatest_quantile(9, 0), 0, 0, 0);
  assert_close(tenter_normal_greatest_quantile(9, 1), INFINITY, 0, 0);
  assert_true(isnan(tenter_normal_greatest_quantile(0, 0.5)));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_quantiles),  cmocka_unit_test(test_between),
      cmocka_unit_test(test_mvtnorm),    cmocka_unit_test(test_law_of_signs),
      cmocka_unit_test(test_quadrature), cmocka_unit_test(test_identities),
      cmocka_unit_test(test_rest),       cmocka_unit_test(test_greatest)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
