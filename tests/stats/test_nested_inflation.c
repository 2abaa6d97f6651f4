/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The variance inflation of a covariate, by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "close.h"
#include "tenter/stats/nested.h"

/* Without random effects the model is ordinary least squares on 1, u and the covariates. Over
 * u = -1, -1, 1, 1 twice: a is orthogonal to 1 and u, a'a = 8; b = a + 2 c with c orthogonal to
 * 1, u and a, c'c = 8: a'b = 8, b'b = 8 + 32 = 40. Squared correlation 64 / (8 * 40) = 0.2, so
 * both variances are 1 / (1 - 0.2) = 1.25 times what they would be alone. d = 3 + 2 u is aliased
 * with the block's line. */
static const double u[8] = {-1, -1, 1, 1, -1, -1, 1, 1}, a[8] = {1, -1, 1, -1, 1, -1, 1, -1},
                    c[8] = {1, 1, 1, 1, -1, -1, -1, -1}, y[8] = {3, 1, 4, 1, 5, 9, 2, 6};

static tenter_nested_solution *solve(tenter_nested_products **products, bool third) {
  gsl_set_error_handler_off();
  size_t q = third ? 3 : 2;
  double x[8 * 3];
  for (size_t i = 0; i < 8; i++) {
    x[i * q] = a[i];
    x[i * q + 1] = a[i] + 2 * c[i];
    if (third)
      x[i * q + 2] = 3 + 2 * u[i];
  }
  tenter_nested_solution *solution = NULL;
  tenter_nested_components components = {.residual = 2};
  assert_int_equal(tenter_nested_products_new(2, q, products, NULL), 0);
  assert_int_equal(tenter_nested_group_add(*products, 0, 1, NULL), 0);
  assert_int_equal(tenter_nested_unit_add(*products, 1, 8, u, y, NULL, x, NULL), 0);
  assert_int_equal(tenter_nested_solve(*products, &components, NULL, &solution, NULL), 0);
  return solution;
}

static void test_by_hand(void **state) {
  (void)state;
  for (int third = 0; third < 2; third++) {
    tenter_nested_products *products = NULL;
    tenter_nested_solution *solution = solve(&products, third);
    double value, se;
    assert_close(tenter_nested_covariate_inflation(solution, 0), 1.25, 1e-12, 0);
    assert_close(tenter_nested_covariate_inflation(solution, 1), 1.25, 1e-12, 0);
    /* the variance itself: sigma^2 / (8 * 0.8) and sigma^2 / (40 * 0.8) */
    assert_true(tenter_nested_covariate(solution, 1, &value, &se));
    assert_close(se * se, 2 / 32.0, 1e-12, 0);
    if (third)
      assert_true(tenter_nested_covariate_inflation(solution, 2) !=
                  tenter_nested_covariate_inflation(solution, 2)); /* NaN */
    tenter_nested_solution_free(solution);
    tenter_nested_products_free(products);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_by_hand)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
