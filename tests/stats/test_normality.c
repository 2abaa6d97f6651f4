/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Anderson-Darling against nortest and the e-Handbook of NIST/SEMATECH (tests/oracle/capability);
 * its p-value under a normal law; the plot's positions against Filliben's definition. */
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/normality.h"

enum { ROOM = 400 };

static int by_size(const void *a, const void *b) {
  const double *x = a, *y = b;
  return (*x > *y) - (*x < *y);
}

/* A set of samples.csv, or the piston rings, in rising order. */
static size_t load(const char *set, double *y) {
  rows r;
  size_t count = 0;
  bool rings = strcmp(set, "piston_rings") == 0;
  rows_open(&r, rings ? "charts/piston_rings.csv" : "capability/samples.csv");
  while (rows_next(&r))
    for (size_t f = 1; f < r.fields; f++)
      if (rings || rows_is(&r, 0, set))
        y[count++] = rows_number(&r, f);
  qsort(y, count, sizeof *y, by_size);
  return count;
}

static void test_recorded(void **state) {
  (void)state;
  static double y[ROOM];
  rows r;
  size_t seen = 0;
  rows_open(&r, "capability/normality.csv");
  while (rows_next(&r)) {
    tenter_normality t = tenter_normality_of(y, load(r.field[0], y));
    double n = rows_number(&r, 1);
    assert_int_equal(t.count, n);
    assert_close(t.mean, rows_number(&r, 2), 1e-9, 0);
    assert_close(t.sd, rows_number(&r, 3), 1e-9, 0);
    assert_close(t.a2, rows_number(&r, 4), 1e-8, 0);
    assert_close(t.p, rows_number(&r, 5), 1e-8, 0);
    if (r.fields > 6 && r.field[6][0]) /* the handbook's factor */
      assert_close(t.a2 * (1 + 4 / n - 25 / (n * n)), rows_number(&r, 6), 0, 0.0005);
    seen++;
  }
  assert_int_equal(seen, 6);
}

/* Of normal samples one in twenty is below 0.05. */
static void test_rate(void **state) {
  (void)state;
  uint64_t seed = 11;
  double named = 0, trials = 4000;
  for (double i = 0; i < trials; i++) {
    double y[12];
    for (size_t k = 0; k < 12; k++)
      y[k] = 20 + 0.5 * number_normal(&seed);
    qsort(y, 12, sizeof *y, by_size);
    named += tenter_normality_of(y, 12).p < 0.05;
  }
  assert_share(named, trials, 0.05);
}

static void test_too_few(void **state) {
  (void)state;
  const double seven[] = {1, 2, 3, 4, 5, 6, 7}, equal[] = {2, 2, 2, 2, 2, 2, 2, 2, 2};
  assert_true(isnan(tenter_normality_of(seven, 7).p));
  assert_true(isnan(tenter_normality_of(equal, 9).a2));
}

/* The median of the greatest of n uniform numbers is 0.5^(1/n): n = 4 gives 0.8409, whose normal
 * quantile is 0.9981489; inside, (2 - 0.3175) / 4.365 = 0.3855 gives -0.2911914 (both by R's
 * qnorm). */
static void test_plot(void **state) {
  (void)state;
  double expected[4];
  tenter_normal_plot(4, expected);
  assert_close(expected[3], 0.9981489, 0, 1e-6);
  assert_close(expected[1], -0.2911914, 0, 1e-6);
  assert_close(expected[0], -expected[3], 1e-12, 0);
  assert_close(expected[2], -expected[1], 1e-12, 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_recorded), cmocka_unit_test(test_rate),
                                     cmocka_unit_test(test_too_few), cmocka_unit_test(test_plot)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
