/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tolerance factors against R and against a printed table (tests/oracle/capability), the worked
 * example of the e-Handbook of NIST/SEMATECH 7.2.6.3, and Wilks's content by hand. */
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/tolerance.h"

static void test_recorded(void **state) {
  (void)state;
  rows r;
  size_t seen = 0;
  rows_open(&r, "capability/tolerance_factors.csv");
  while (rows_next(&r)) {
    size_t n = (size_t)rows_number(&r, 0);
    double content = rows_number(&r, 1), confidence = rows_number(&r, 2);
    assert_close(tenter_tolerance_one_sided(n, content, confidence), rows_number(&r, 3), 1e-6,
                 1e-6);
    assert_close(tenter_tolerance_two_sided(n, content, confidence), rows_number(&r, 4), 1e-6,
                 1e-6);
    seen++;
  }
  assert_int_equal(seen, 144);
}

/* As printed, to the last printed digit. */
static void test_printed(void **state) {
  (void)state;
  const double contents[] = {0.90, 0.95, 0.99};
  rows r;
  rows_open(&r, "capability/tolerance_published.csv");
  while (rows_next(&r))
    for (size_t i = 0; i < 3; i++)
      assert_close(tenter_tolerance_two_sided((size_t)rows_number(&r, 0), contents[i], 0.95),
                   rows_number(&r, i + 1), 0, 0.00501);
}

/* e-Handbook 7.2.6.3: n = 43, content 0.90, confidence 0.99: k1 = 1.8740 by the noncentral t (from
 * memory), k2 = 2.217 by Howe's approximation, 0.25 % below the exact factor there
 * (tolerance_factors.csv). */
static void test_handbook(void **state) {
  (void)state;
  assert_close(tenter_tolerance_one_sided(43, 0.90, 0.99), 1.8740, 0, 0.00005);
  assert_close(tenter_tolerance_two_sided(43, 0.90, 0.99), 2.217, 3e-3, 0);
}

/* Two values: 1 - 2c + c^2 = confidence, so c = 1 - sqrt(confidence). 93 values hold 95 % with 95 %
 * confidence, 92 do not (Wilks 1941). */
static void test_range(void **state) {
  (void)state;
  assert_close(tenter_tolerance_range_content(2, 0.95), 1 - sqrt(0.95), 1e-10, 0);
  assert_true(tenter_tolerance_range_content(93, 0.95) >= 0.95);
  assert_true(tenter_tolerance_range_content(92, 0.95) < 0.95);
}

/* What it promises, counted: the share of samples whose interval holds the content. */
static void test_coverage(void **state) {
  (void)state;
  uint64_t seed = 7;
  const size_t n = 8, trials = 4000;
  double k1 = tenter_tolerance_one_sided(n, 0.9, 0.9), k2 = tenter_tolerance_two_sided(n, 0.9, 0.9);
  double held1 = 0, held2 = 0;
  for (size_t i = 0; i < trials; i++) {
    double y[8], sum = 0, squares = 0;
    for (size_t j = 0; j < n; j++)
      sum += y[j] = number_normal(&seed);
    for (size_t j = 0; j < n; j++)
      squares += (y[j] - sum / 8) * (y[j] - sum / 8);
    double mean = sum / 8, sd = sqrt(squares / 7);
    held1 += 0.5 * erfc(-(mean + k1 * sd) * M_SQRT1_2) >= 0.9;
    held2 +=
        0.5 * (erfc(-(mean + k2 * sd) * M_SQRT1_2) - erfc(-(mean - k2 * sd) * M_SQRT1_2)) >= 0.9;
  }
  assert_share(held1, (double)trials, 0.9);
  assert_share(held2, (double)trials, 0.9);
}

static void test_ends(void **state) {
  (void)state;
  assert_true(isnan(tenter_tolerance_one_sided(1, 0.9, 0.9)));
  assert_true(isnan(tenter_tolerance_two_sided(5, 1, 0.9)));
  assert_true(isnan(tenter_tolerance_two_sided(5, 0.9, NAN)));
  assert_true(isnan(tenter_tolerance_range_content(1, 0.9)));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_recorded), cmocka_unit_test(test_printed),
      cmocka_unit_test(test_handbook), cmocka_unit_test(test_range),
      cmocka_unit_test(test_coverage), cmocka_unit_test(test_ends)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
