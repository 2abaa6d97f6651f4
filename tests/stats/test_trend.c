/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Trends, shares and many tests against R and SciPy (tests/oracle/numerics), naive twins, and
 * invariance. */
#include "numbers.h"
#include "tenter/stats/trend.h"

enum { ROOM = 200, SLOPES = ROOM * ROOM / 2 };

static size_t load(const char *set, double *y) {
  rows r;
  size_t count = 0;
  rows_open(&r, "numerics/trend.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, set))
      y[count++] = rows_number(&r, 1);
  return count;
}

static double expected(const char *set, const char *quantity) {
  rows r;
  double value = NAN;
  rows_open(&r, "numerics/trend_expected.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, set) && rows_is(&r, 1, quantity))
      value = rows_number(&r, 2);
  assert_true(!isnan(value));
  return value;
}

static void test_published(void **state) {
  (void)state;
  static double y[ROOM], x[ROOM], scratch[SLOPES];
  const char *const sets[] = {"nile", "lakehuron", "airquality_wind", "nist_zarr13"};
  for (size_t i = 0; i < 4; i++) {
    size_t count = load(sets[i], y);
    assert_true(tenter_theil_sen_scratch(count) <= SLOPES);
    for (size_t k = 0; k < count; k++)
      x[k] = (double)k + 1;
    tenter_mann_kendall m = tenter_mann_kendall_of(y, count);
    assert_close(m.s, expected(sets[i], "s"), 0, 0);
    assert_close(m.variance, expected(sets[i], "variance"), 1e-9, 0);
    assert_close(m.z, expected(sets[i], "z"), 1e-9, 0);
    assert_close(m.p, expected(sets[i], "p"), 1e-8, 0);
    tenter_theil_sen t = tenter_theil_sen_of(x, y, count, 0.95, scratch);
    assert_close(t.slope, expected(sets[i], "slope"), 1e-8, 0);
    assert_close(t.low, expected(sets[i], "low"), 1e-8, 0);
    assert_close(t.high, expected(sets[i], "high"), 1e-8, 1e-12);
    assert_close(t.intercept, expected(sets[i], "intercept"), 1e-9, 0);
    tenter_theil_sen plain = tenter_theil_sen_of(NULL, y, count, 0.95, scratch);
    assert_close(plain.slope, t.slope, 1e-12, 0); /* 0, 1, 2 ...: as good */
    assert_close(plain.intercept, t.intercept + t.slope, 1e-12, 0);
  }
}

/* By hand: 3 1 4 1 5 has 10 pairs: 6 rise, 3 fall, 1 tie; S = 3; variance (5*4*15 - 2*1*9)/18. */
static void test_by_hand(void **state) {
  (void)state;
  const double y[] = {3, 1, 4, 1, 5};
  tenter_mann_kendall m = tenter_mann_kendall_of(y, 5);
  assert_close(m.s, 3, 0, 0);
  assert_close(m.variance, (300.0 - 18) / 18, 1e-15, 0);
  assert_close(m.z, 2 / sqrt(282.0 / 18), 1e-15, 0);
  double scratch[10];
  /* slopes: -2 1/2 -2/3 1/2 3 0 4/3 -3 1/2 4; sorted -3 -2 -2/3 0 1/2 1/2 1/2 4/3 3 4 */
  tenter_theil_sen t = tenter_theil_sen_of(NULL, y, 5, 0.95, scratch);
  assert_close(t.slope, 0.5, 1e-15, 0);
  assert_int_equal(t.pairs, 10);
  /* half width 1.96 sqrt(282 / 18) = 7.76: ranks (10 -+ 7.76) / 2 = 1.1 and 8.9, so the first and
   * the ninth and next: -3 and 4 */
  assert_close(t.low, -3, 1e-15, 0);
  assert_close(t.high, 4, 1e-15, 0);
}

static void test_reversed(void **state) {
  (void)state;
  uint64_t seed = 6;
  double y[30], z[30], scratch[435];
  for (size_t i = 0; i < 30; i++)
    y[i] = floor(5 * number_normal(&seed)) + 0.2 * (double)i;
  for (size_t i = 0; i < 30; i++)
    z[i] = y[29 - i];
  tenter_mann_kendall a = tenter_mann_kendall_of(y, 30), b = tenter_mann_kendall_of(z, 30);
  assert_close(a.s, -b.s, 0, 0);
  assert_close(a.p, b.p, 1e-15, 0);
  tenter_theil_sen up = tenter_theil_sen_of(NULL, y, 30, 0.9, scratch);
  tenter_theil_sen down = tenter_theil_sen_of(NULL, z, 30, 0.9, scratch);
  assert_close(up.slope, -down.slope, 1e-12, 0);
}

static void test_few(void **state) {
  (void)state;
  const double y[] = {1, 2, 3, 4}, same[] = {2, 2, 2, 2, 2};
  double scratch[10];
  assert_true(isnan(tenter_mann_kendall_of(y, 0).p) && isnan(tenter_mann_kendall_of(y, 3).p));
  assert_close(tenter_mann_kendall_of(y, 3).s, 3, 0, 0);
  assert_true(!isnan(tenter_mann_kendall_of(y, 4).p));
  assert_true(isnan(tenter_mann_kendall_of(same, 5).p));
  assert_close(tenter_mann_kendall_of(same, 5).z, 0, 0, 0);
  assert_true(isnan(tenter_theil_sen_of(NULL, y, 1, 0.95, scratch).slope));
  assert_true(isnan(tenter_theil_sen_of(same, y, 4, 0.95, scratch).slope)); /* one x */
  tenter_theil_sen t = tenter_theil_sen_of(NULL, y, 2, 0.95, scratch);
  assert_close(t.slope, 1, 1e-15, 0);
  assert_true(isnan(t.low) && isnan(t.high)); /* one pair bounds nothing */
}

/* How often the interval for the slope holds the truth. */
static void test_slope_coverage(void **state) {
  (void)state;
  uint64_t seed = 7;
  double y[14], scratch[91], hits = 0, trials = 4000;
  for (int k = 0; k < (int)trials; k++) {
    for (size_t i = 0; i < 14; i++)
      y[i] = 0.3 * (double)i + number_normal(&seed);
    tenter_theil_sen t = tenter_theil_sen_of(NULL, y, 14, 0.9, scratch);
    hits += t.low <= 0.3 && 0.3 <= t.high;
  }
  print_message("Theil-Sen, 14 values: a 90 %% interval holds the slope in %.1f %%\n",
                100 * hits / trials);
  assert_true(hits / trials > 0.88 && hits / trials < 0.94);
}

static void test_wilson(void **state) {
  (void)state;
  rows r;
  rows_open(&r, "numerics/wilson.csv");
  while (rows_next(&r)) {
    double hits = rows_number(&r, 0), count = rows_number(&r, 1);
    tenter_interval i = tenter_wilson_interval(hits, count, 0.95);
    assert_close(i.low, rows_number(&r, 2), 1e-9, 0);
    assert_close(i.high, rows_number(&r, 3), 1e-9, 0);
    tenter_interval misses = tenter_wilson_interval(count - hits, count, 0.95);
    assert_close(misses.low, 1 - i.high, 0, 1e-14);
  }
  assert_close(tenter_wilson_interval(20, 20, 0.95).high, 1, 0, 0);
  assert_true(isnan(tenter_wilson_interval(0, 0, 0.95).low));
  assert_true(isnan(tenter_wilson_interval(3, 2, 0.95).low));
}

static void test_benjamini_hochberg(void **state) {
  (void)state;
  const char *const sets[] = {"bh1995", "unordered"};
  for (size_t set = 0; set < 2; set++) {
    double p[20], expect[20], adjusted[20];
    size_t order[20], count = 0, rejected = 0;
    rows r;
    rows_open(&r, "numerics/benjamini_hochberg.csv");
    while (rows_next(&r))
      if (rows_is(&r, 0, sets[set])) {
        p[count] = rows_number(&r, 1);
        expect[count++] = rows_number(&r, 2);
      }
    tenter_benjamini_hochberg(p, count, adjusted, order);
    for (size_t i = 0; i < count; i++) {
      assert_close(adjusted[i], expect[i], 1e-9, 0);
      rejected += adjusted[i] <= 0.05;
    }
    if (set == 0)
      assert_int_equal(rejected, 4);
    /* what is no test does not count; in place */
    p[count] = NAN;
    tenter_benjamini_hochberg(p, count + 1, p, order);
    assert_true(isnan(p[count]));
    assert_close(p[0], expect[0], 1e-9, 0);
  }
}

/* The definition: min over j with p_j >= p_i of p_j * tests / rank_j, ranks counting ties. */
static void test_benjamini_hochberg_twin(void **state) {
  (void)state;
  uint64_t seed = 8;
  double p[60], adjusted[60];
  size_t order[60];
  for (int round = 0; round < 40; round++) {
    for (size_t i = 0; i < 60; i++)
      p[i] = floor(40 * pow(number_uniform(&seed), 2)) / 40;
    tenter_benjamini_hochberg(p, 60, adjusted, order);
    for (size_t i = 0; i < 60; i++) {
      double least = 1;
      for (size_t j = 0; j < 60; j++) {
        double rank = 0;
        for (size_t k = 0; k < 60; k++)
          rank += p[k] <= p[j];
        if (p[j] >= p[i])
          least = fmin(least, p[j] * 60 / rank);
      }
      assert_close(adjusted[i], least, 1e-14, 0);
    }
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_published),          cmocka_unit_test(test_by_hand),
      cmocka_unit_test(test_reversed),           cmocka_unit_test(test_few),
      cmocka_unit_test(test_slope_coverage),     cmocka_unit_test(test_wilson),
      cmocka_unit_test(test_benjamini_hochberg), cmocka_unit_test(test_benjamini_hochberg_twin)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
