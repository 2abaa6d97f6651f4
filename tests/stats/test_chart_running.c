/* SPDX-License-Identifier: GPL-3.0-or-later */
/* EWMA and CUSUM against worked examples: NIST/SEMATECH e-Handbook 6.3.2.4 and 6.3.2.3, Montgomery
 * (Introduction to Statistical Quality Control) table 9.1. */
#include "chart_rows.h"

#include "tenter/stats/charts.h"

/* EWMA 50, s 2.0539, lambda 0.3, 3 sigma: values as printed and in full, exact limits, no signal.
 */
static void ewma_of_the_nist_handbook(void **state) {
  (void)state;
  rows r;
  tenter_ewma chart;
  size_t count = 0;
  double centre = 50, s = 2.0539;
  tenter_ewma_start(&chart, 0.3, 3);
  tenter_ewma_point p = {0};
  for (rows_open(&r, "charts/nist_6324_ewma.csv"); rows_next(&r); count++) {
    p = tenter_ewma_step(&chart, (rows_number(&r, 1) - centre) / s);
    assert_close(centre + s * p.value, rows_number(&r, 2), 0, 0.0051); /* printed: 2 decimals */
    assert_close(centre + s * p.value, rows_number(&r, 3), 0, 1e-9);
    assert_close(centre + s * p.limit, rows_number(&r, 4), 0, 1e-7);
    assert_close(centre - s * p.limit, rows_number(&r, 5), 0, 1e-7);
    assert_int_equal(p.signal, 0);
  }
  assert_int_equal(count, 20);
  assert_close(centre + s * p.limit, 52.5884, 0, 5e-5); /* printed, the steady limits */
}

/* Target 325, sigma 0.635, k 0.3175, h 4.1959, in units of sigma: sums to 5 decimals, signal at 14.
 */
static void cusum_of_the_nist_handbook(void **state) {
  (void)state;
  rows r;
  tenter_cusum chart;
  size_t count = 0, first = 0;
  double sigma = 0.635;
  tenter_cusum_start(&chart, 0.3175 / sigma, 4.1959 / sigma, 0);
  for (rows_open(&r, "charts/nist_6323_cusum.csv"); rows_next(&r); count++) {
    tenter_cusum_point p = tenter_cusum_step(&chart, (rows_number(&r, 1) - 325) / sigma);
    assert_close(sigma * p.up, rows_number(&r, 3), 0, 1e-9);
    assert_close(sigma * p.down, rows_number(&r, 4), 0, 1e-9);
    assert_int_equal(p.signal, (int)rows_number(&r, 6));
    first = p.signal && !first ? count + 1 : first;
  }
  assert_int_equal(count, 20);
  assert_int_equal(first, 14);
}

/* Target 10, sigma 1: CUSUM k 0.5, h 5 with its counters; EWMA 0.1, 2.7. Both signal at 29. */
static void both_of_montgomery(void **state) {
  (void)state;
  rows r;
  tenter_cusum cusum;
  tenter_ewma ewma;
  size_t count = 0;
  tenter_cusum_start(&cusum, 0.5, 5, 0);
  tenter_ewma_start(&ewma, 0.1, 2.7);
  for (rows_open(&r, "charts/montgomery_table91.csv"); rows_next(&r); count++) {
    double z = rows_number(&r, 1) - 10;
    tenter_cusum_point c = tenter_cusum_step(&cusum, z);
    tenter_ewma_point e = tenter_ewma_step(&ewma, z);
    assert_close(c.up, rows_number(&r, 2), 0, 1e-9);
    assert_int_equal(c.up_run, (int)rows_number(&r, 3));
    assert_close(c.down, rows_number(&r, 4), 0, 1e-9);
    assert_int_equal(c.down_run, (int)rows_number(&r, 5));
    assert_close(10 + e.value, rows_number(&r, 6), 0, 1e-8);
    assert_close(10 + e.limit, rows_number(&r, 7), 0, 1e-8);
    assert_close(10 - e.limit, rows_number(&r, 8), 0, 1e-8);
    assert_int_equal(c.signal, (int)rows_number(&r, 9));
    assert_int_equal(e.signal, (int)rows_number(&r, 10));
  }
  assert_int_equal(count, 30);
}

/* A head start of h/2 (Lucas and Crosier 1982): by hand, k 0.5, h 4, points 1.5, 1.5, 1.5. Up goes
 * 2 + 1 = 3, 4, 5; down 2 - 2 = 0. Beyond 4 only at the third. */
static void head_start_by_hand(void **state) {
  (void)state;
  tenter_cusum chart;
  tenter_cusum_start(&chart, 0.5, 4, 2);
  for (int i = 0; i < 3; i++) {
    tenter_cusum_point p = tenter_cusum_step(&chart, 1.5);
    assert_close(p.up, 3 + i, 1e-15, 0);
    assert_close(p.down, 0, 0, 0);
    assert_int_equal(p.up_run, i + 1);
    assert_int_equal(p.signal, i == 2);
  }
  tenter_cusum_start(&chart, 0.5, 4, 2);
  assert_close(tenter_cusum_step(&chart, -1).down, 2.5, 1e-15, 0); /* the other side has one too */
  tenter_cusum_start(&chart, 0.5, 4, 0);
  int signal = 0;
  for (int i = 0; i < 4; i++)
    signal = tenter_cusum_step(&chart, -1.75).signal;
  assert_int_equal(signal, -1);
}

static void missing_points_change_nothing(void **state) {
  (void)state;
  tenter_ewma ewma;
  tenter_cusum cusum;
  tenter_ewma_start(&ewma, 0.2, 3);
  tenter_cusum_start(&cusum, 0.5, 1, 0);
  tenter_ewma_point e = tenter_ewma_step(&ewma, 4);
  tenter_cusum_point c = tenter_cusum_step(&cusum, 4);
  assert_int_equal(e.signal, 1); /* 0.8 beyond 3 * 0.2 */
  assert_int_equal(c.signal, 1);
  static const double missing[] = {NAN, INFINITY, -INFINITY};
  for (int i = 0; i < 3; i++) {
    tenter_ewma_point e2 = tenter_ewma_step(&ewma, missing[i]);
    tenter_cusum_point c2 = tenter_cusum_step(&cusum, missing[i]);
    assert_int_equal(e2.signal, 0);
    assert_int_equal(c2.signal, 0);
    assert_close(e2.value, e.value, 0, 0);
    assert_close(e2.limit, e.limit, 0, 0);
    assert_close(c2.up, c.up, 0, 0);
    assert_int_equal(c2.up_run, c.up_run);
  }
}

/* With lambda 1 an EWMA is the chart of the points themselves. */
static void ewma_of_weight_one_is_the_plain_chart(void **state) {
  (void)state;
  tenter_ewma chart;
  tenter_ewma_start(&chart, 1, 3);
  static const double z[] = {2.9, -3.1, 3.1, 0};
  static const int signal[] = {0, -1, 1, 0};
  for (int i = 0; i < 4; i++) {
    tenter_ewma_point p = tenter_ewma_step(&chart, z[i]);
    assert_close(p.value, z[i], 1e-15, 1e-15);
    assert_close(p.limit, 3, 1e-15, 0);
    assert_int_equal(p.signal, signal[i]);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ewma_of_the_nist_handbook),
      cmocka_unit_test(cusum_of_the_nist_handbook),
      cmocka_unit_test(both_of_montgomery),
      cmocka_unit_test(head_start_by_hand),
      cmocka_unit_test(missing_points_change_nothing),
      cmocka_unit_test(ewma_of_weight_one_is_the_plain_chart),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
