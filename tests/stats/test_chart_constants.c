/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Chart constants against published tables (ISO 7870-2 / ASTM MNL 7 figures as printed in a
 * textbook appendix and a quality handbook), against values by other software (mpmath, R), and
 * against what can be derived. */
#include "chart_rows.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>

#include "tenter/stats/charts.h"

/* A constant by the name it has in the files; NaN for an unknown one. */
static double named(const tenter_chart_constants *c, const char *name) {
  const struct {
    const char *name;
    double value;
  } all[] = {{"d2", c->d2},         {"d3", c->d3},        {"c4", c->c4}, {"A", c->A},
             {"A2", c->A2},         {"A3", c->A3},        {"B3", c->B3}, {"B4", c->B4},
             {"B5", c->B5},         {"B6", c->B6},        {"D1", c->D1}, {"D2", c->D2},
             {"D3", c->D3},         {"D4", c->D4},        {"E2", c->E2}, {"E3", c->E3},
             {"inv_c4", 1 / c->c4}, {"inv_d2", 1 / c->d2}};
  for (size_t i = 0; i < sizeof all / sizeof *all; i++)
    if (strcmp(all[i].name, name) == 0)
      return all[i].value;
  return NAN;
}

static tenter_chart_constants constants(double n) {
  tenter_chart_constants c;
  assert_int_equal(tenter_chart_constants_of((size_t)n, &c, NULL), TENTER_OK);
  return c;
}

/* mpmath quadrature and 800-point Gauss-Legendre, 9 decimals, n = 2 ... 25. */
static void agrees_with_other_quadratures(void **state) {
  (void)state;
  static const char *const column[] = {"d2", "d3", "c4", "A",  "A2", "A3", "B3", "B4",
                                       "B5", "B6", "D1", "D2", "D3", "D4", "E2", "E3"};
  rows r;
  size_t checked = 0;
  rows_open(&r, "charts/constants.csv");
  while (rows_next(&r)) {
    tenter_chart_constants c = constants(rows_number(&r, 0));
    for (size_t k = 0; k < 16; k++, checked++)
      assert_close(named(&c, column[k]), rows_number(&r, k + 1), 0, 2e-9);
  }
  assert_int_equal(checked, 24 * 16);
}

/* Every printed figure that is the right rounding (rounded_ok = 1; 13 of 306 are not). */
static void agrees_with_printed_tables(void **state) {
  (void)state;
  rows r;
  size_t checked = 0;
  rows_open(&r, "charts/constants_published.csv");
  while (rows_next(&r)) {
    tenter_chart_constants c = constants(rows_number(&r, 0));
    double value = named(&c, r.field[1]), printed = rows_number(&r, 2);
    const char *point = strchr(r.field[2], '.');
    double half = 1e-9; /* a plain 0 is meant exactly */
    if (point)
      half += 0.5 * pow(10, 1 - (double)strlen(point));
    assert_true(isfinite(value));
    bool right = rows_is(&r, 3, "1");
    assert_int_equal(fabs(value - printed) <= half, right); /* the misprints are real, too */
    checked += right;
  }
  assert_int_equal(checked, 293);
}

/* Up to 100 readings, by R with another formula (charts.R). */
static void large_subgroups_agree_with_r(void **state) {
  (void)state;
  rows r;
  size_t checked = 0;
  rows_open(&r, "charts/constants_large.csv");
  while (rows_next(&r)) {
    tenter_chart_constants c = constants(rows_number(&r, 0));
    assert_close(c.d2, rows_number(&r, 1), 0, 2e-10);
    assert_close(c.d3, rows_number(&r, 2), 0, 2e-9);
    assert_close(c.c4, rows_number(&r, 3), 0, 2e-12);
    checked++;
  }
  assert_int_equal(checked, 12);
}

/* |x1 - x2| is sqrt 2 |z|: mean 2/sqrt(pi), variance 2 - 4/pi, median sqrt 2 times the upper
 * quartile of z (0.6744897501960817). Three: mean 3/sqrt(pi) (Tippett 1925). */
static void small_subgroups_have_closed_forms(void **state) {
  (void)state;
  tenter_chart_constants two = constants(2), three = constants(3);
  assert_close(two.d2, 2 / sqrt(M_PI), 1e-12, 0);
  assert_close(two.d3, sqrt(2 - 4 / M_PI), 1e-12, 0);
  assert_close(two.median_range, M_SQRT2 * 0.6744897501960817, 1e-12, 0);
  assert_close(two.c4, sqrt(2 / M_PI), 1e-14, 0);
  assert_close(three.d2, 3 / sqrt(M_PI), 1e-12, 0);
  for (double r = 0.1; r < 8; r += 0.3)
    assert_close(tenter_range_cdf(2, r), erf(r / 2), 1e-13, 0);
}

/* c4(n) c4(n + 1) = sqrt((n - 1) / n), from the definition. */
static void c4_obeys_its_recurrence(void **state) {
  (void)state;
  for (double n = 2; n < 1e7; n *= 1.07)
    assert_close(tenter_chart_c4(n) * tenter_chart_c4(n + 1), sqrt((n - 1) / n), 1e-13, 0);
  assert_true(isnan(tenter_chart_c4(1)));
  assert_true(isnan(tenter_chart_c4(NAN)));
}

/* A slow twin: n times the integral of phi (Phi(x + r) - Phi(x))^(n-1) by plain midpoints. */
static void range_distribution_has_a_slow_twin(void **state) {
  (void)state;
  static const size_t sizes[] = {2, 3, 7, 30, 100};
  for (size_t k = 0; k < 5; k++)
    for (double r = 0.5; r < 9; r += 1.7) {
      double sum = 0, h = 1e-3, n = (double)sizes[k];
      for (double x = -20; x < 10; x += h) {
        double m = x + h / 2, inside = 0.5 * (erf((m + r) / M_SQRT2) - erf(m / M_SQRT2));
        sum += h * n * exp(-m * m / 2) / sqrt(2 * M_PI) * pow(inside, n - 1);
      }
      assert_close(tenter_range_cdf(sizes[k], r), sum, 1e-9, 1e-15);
    }
}

static void the_ends_are_settled(void **state) {
  (void)state;
  assert_close(tenter_range_cdf(5, 0), 0, 0, 0);
  assert_close(tenter_range_cdf(5, -1), 0, 0, 0);
  assert_close(tenter_range_cdf(5, 60), 1, 1e-13, 0);
  assert_close(tenter_range_cdf(100, 1e-3), 0, 0, 1e-200);
  assert_true(isnan(tenter_range_cdf(1, 1)));
  assert_true(isnan(tenter_range_cdf(5, NAN)));
  for (double r = 0; r < 12; r += 0.01)
    assert_true(tenter_range_cdf(9, r) <= tenter_range_cdf(9, r + 0.01) + 1e-13);
}

static void other_sizes_are_refused(void **state) {
  (void)state;
  static const size_t sizes[] = {0, 1, 101};
  tenter_chart_constants c;
  for (size_t k = 0; k < 3; k++) {
    tenter_error error = {0};
    assert_int_equal(tenter_chart_constants_of(sizes[k], &c, &error), TENTER_USAGE);
    assert_non_null(strstr(error.message, "2 to 100"));
  }
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(agrees_with_other_quadratures),
      cmocka_unit_test(agrees_with_printed_tables),
      cmocka_unit_test(large_subgroups_agree_with_r),
      cmocka_unit_test(small_subgroups_have_closed_forms),
      cmocka_unit_test(c4_obeys_its_recurrence),
      cmocka_unit_test(range_distribution_has_a_slow_twin),
      cmocka_unit_test(the_ends_are_settled),
      cmocka_unit_test(other_sizes_are_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
