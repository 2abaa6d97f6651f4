/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Moments against the certified values of the NIST Statistical Reference Datasets (univariate),
 * quantiles against a naive twin, identities of shift and scale. */
#include "numbers.h"
#include "tenter/stats/moments.h"

enum { ROOM = 6000 };

static size_t load(const char *set, double *y) {
  rows r;
  size_t count = 0;
  rows_open(&r, "numerics/univariate.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, set))
      y[count++] = rows_number(&r, 1);
  return count;
}

/* Digits asked for of the sd: all 15, less what the sets lose in being written in binary: a value
 * is known to 1e-16 of itself, so the sd to that times mean / sd (a sum of squares would lose twice
 * as many). */
static void test_certified(void **state) {
  (void)state;
  static double y[ROOM];
  rows r;
  size_t sets = 0;
  rows_open(&r, "numerics/univariate_certified.csv");
  while (rows_next(&r)) {
    char set[32];
    snprintf(set, sizeof set, "%s", r.field[0]);
    size_t count = load(set, y);
    tenter_moments m = tenter_moments_of(y, count);
    double lost = log10(fmax(1, fabs(rows_number(&r, 2)) / rows_number(&r, 3)));
    assert_int_equal(count, (size_t)rows_number(&r, 1));
    double mean_digits = test_log_relative_error(m.mean, rows_number(&r, 2));
    double sd_digits = test_log_relative_error(m.sd, rows_number(&r, 3));
    print_message("%-10s mean %4.1f digits, sd %4.1f\n", set, mean_digits, sd_digits);
    assert_true(mean_digits >= 14.9);
    assert_true(sd_digits >= fmin(14.9, 15.8 - lost));
    sets++;
  }
  assert_int_equal(sets, 9);
}

/* 1 + 1e100 + 1 - 1e100 = 2, where plain sums give 0 (Neumaier's own example). */
static void test_sum(void **state) {
  (void)state;
  tenter_sum s = {0};
  const double terms[] = {1, 1e100, 1, -1e100};
  for (size_t i = 0; i < 4; i++)
    tenter_sum_add(&s, terms[i]);
  assert_close(tenter_sum_total(&s), 2, 0, 0);
}

static void test_few(void **state) {
  (void)state;
  double y[2] = {21.5, 22.5};
  tenter_moments none = tenter_moments_of(y, 0), one = tenter_moments_of(y, 1),
                 two = tenter_moments_of(y, 2);
  assert_true(isnan(none.mean) && isnan(none.sd) && isnan(none.min) && isnan(none.range));
  assert_true(isnan(one.sd));
  assert_close(one.mean, 21.5, 0, 0);
  assert_close(one.range, 0, 0, 0);
  assert_close(two.sd, sqrt(0.5), 1e-15, 0);
  assert_true(isnan(tenter_quantile_of(y, 0, 0.5)) && isnan(tenter_median_of(y, 0)));
  const double far[2] = {1e16, 1e16 + 2}; /* whose mean is no double */
  assert_close(tenter_moments_of(far, 2).sd, sqrt(2), 1e-15, 0);
  const double weights[2] = {3, 1}, nil[2] = {0, 0};
  assert_close(tenter_weighted_mean(y, weights, 2), 21.75, 1e-15, 0);
  assert_true(isnan(tenter_weighted_mean(y, nil, 2)));
}

static void insertion_sort(double *y, size_t count) {
  for (size_t i = 1; i < count; i++)
    for (size_t k = i; k > 0 && y[k] < y[k - 1]; k--) {
      double t = y[k];
      y[k] = y[k - 1];
      y[k - 1] = t;
    }
}

/* Type 7 by its definition on sorted values; many equal ones, sorted, reversed, all equal. */
static void test_quantiles(void **state) {
  (void)state;
  uint64_t seed = 1;
  for (int round = 0; round < 3000; round++) {
    double y[60], sorted[60], work[60];
    size_t count = 1 + (size_t)(59 * number_uniform(&seed));
    int kind = round % 5;
    for (size_t i = 0; i < count; i++) {
      double z = number_uniform(&seed);
      y[i] = kind == 0   ? z
             : kind == 1 ? floor(4 * z)
             : kind == 2 ? (double)i
             : kind == 3 ? -(double)i
                         : 7;
      sorted[i] = y[i];
    }
    insertion_sort(sorted, count);
    double p = round % 3 ? number_uniform(&seed) : (round % 2 ? 1 : 0.5);
    double at = (double)(count - 1) * p, low = sorted[(size_t)floor(at)],
           high = sorted[(size_t)ceil(at)];
    memcpy(work, y, sizeof y);
    assert_close(tenter_quantile_of(work, count, p), low + (at - floor(at)) * (high - low), 1e-14,
                 1e-14);
    insertion_sort(work, count); /* the values are still all there */
    assert_memory_equal(work, sorted, count * sizeof *work);
  }
}

/* R 4.2.2: quantile(c(2.1, 3.4, 1.9, 8, 5.5), 0.3) = 2.36; median 3.4; mad(constant = 1) = 1.5. */
static void test_known_quantiles(void **state) {
  (void)state;
  double y[5] = {2.1, 3.4, 1.9, 8, 5.5};
  assert_close(tenter_quantile_of(y, 5, 0.3), 2.36, 1e-14, 0);
  assert_close(tenter_median_of(y, 5), 3.4, 0, 0);
  assert_close(tenter_mad_of(y, 5, 3.4), 1.5, 1e-14, 0);
  assert_close(TENTER_MAD_SD, 1.4826022185056018, 1e-15, 0);
}

static void test_shift_and_scale(void **state) {
  (void)state;
  uint64_t seed = 2;
  double y[40], z[40];
  for (size_t i = 0; i < 40; i++) {
    y[i] = number_normal(&seed);
    z[i] = 1e6 - 4 * y[i];
  }
  tenter_moments a = tenter_moments_of(y, 40), b = tenter_moments_of(z, 40);
  assert_close(b.mean, 1e6 - 4 * a.mean, 1e-15, 0);
  assert_close(b.sd, 4 * a.sd, 1e-9, 0);
  assert_close(b.min, 1e6 - 4 * a.max, 1e-15, 0);
  assert_close(b.range, 4 * a.range, 1e-9, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_certified),
                                     cmocka_unit_test(test_sum),
                                     cmocka_unit_test(test_few),
                                     cmocka_unit_test(test_quantiles),
                                     cmocka_unit_test(test_known_quantiles),
                                     cmocka_unit_test(test_shift_and_scale)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
