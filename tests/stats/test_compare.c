/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comparisons of means against R: the studentised range by its definition, Tukey's comparison of
 * TukeyHSD and contrasts of lm on two published data sets (tests/oracle/numerics/numerics.R); what
 * can't be compared. */
#include "numbers.h"
#include "tenter/stats/charts.h"
#include "tenter/stats/compare.h"
#include "tenter/stats/contrast.h"

static void test_studentized_range(void **state) {
  (void)state;
  rows r;
  size_t seen = 0;
  rows_open(&r, "numerics/studentized_range.csv");
  for (; rows_next(&r); seen++)
    assert_close(tenter_studentized_range_above((size_t)rows_number(&r, 0), rows_number(&r, 1),
                                                rows_number(&r, 2)),
                 rows_number(&r, 3), 0, 1e-9);
  assert_int_equal(seen, 125);
}

/* Of two groups it is Student's |t| times the root of 2; with all degrees of freedom, the range. */
static void test_limits(void **state) {
  (void)state;
  for (double q = 0.2; q < 12; q *= 1.7) {
    for (double df = 1; df < 400; df *= 3)
      assert_close(tenter_studentized_range_above(2, df, q),
                   tenter_student_two_sided(q / sqrt(2), df), 0, 1e-9);
    assert_close(tenter_studentized_range_above(7, 1e12, q), 1 - tenter_range_cdf(7, q), 0, 1e-9);
  }
  assert_close(tenter_studentized_range_above(5, 10, 0), 1, 0, 0);
  assert_close(tenter_studentized_range_above(5, 10, -1), 1, 0, 0);
  assert_true(isnan(tenter_studentized_range_above(1, 10, 1)));
  assert_true(isnan(tenter_studentized_range_above(3, 0, 1)));
  assert_true(isnan(tenter_studentized_range_above(3, 10, NAN)));
}

typedef struct expected {
  tenter_compared group[16];
  double p[16], pair[16];
  size_t above[16], count;
} expected;

static expected read_set(const char *set) {
  expected e = {.count = 0};
  rows r;
  rows_open(&r, "numerics/compare.csv");
  while (rows_next(&r)) {
    if (strcmp(r.field[0], set) != 0)
      continue;
    e.group[e.count] = (tenter_compared){
        .count = (size_t)rows_number(&r, 1), .mean = rows_number(&r, 2), .sd = rows_number(&r, 3)};
    e.p[e.count] = rows_number(&r, 4);
    e.pair[e.count] = rows_number(&r, 5);
    e.above[e.count++] = (size_t)rows_number(&r, 6);
  }
  return e;
}

static void check_set(const char *set, size_t groups) {
  expected e = read_set(set);
  assert_int_equal(e.count, groups);
  e.group[e.count] = (tenter_compared){.count = 0, .mean = NAN, .sd = NAN}; /* left out */
  tenter_compare_groups(e.group, e.count + 1, 0.05);
  for (size_t i = 0; i < e.count; i++) {
    assert_close(e.group[i].p, e.p[i], 1e-9, 0);
    assert_close(e.group[i].pair, e.pair[i], 0, 1e-7); /* as near as ptukey is */
    assert_int_equal(e.group[i].above, e.above[i]);
    assert_int_equal(e.group[i].others, groups - 1);
  }
  assert_true(isnan(e.group[e.count].p) && isnan(e.group[e.count].pair));
  assert_int_equal(e.group[e.count].others, 0);
}

static void test_published(void **state) {
  (void)state;
  check_set("plants", 3);
  check_set("chicks", 6);
}

/* A group of one has a mean and no spread: two groups of 1 and 3 are Student's t with 2 degrees of
 * freedom: (7 - 4) / sqrt(1 (1 + 1 / 3)) = 2.598. */
static void test_single(void **state) {
  (void)state;
  tenter_compared g[] = {{.count = 1, .mean = 7, .sd = NAN}, {.count = 3, .mean = 4, .sd = 1}};
  tenter_compare_groups(g, 2, 0.05);
  assert_close(g[0].p, tenter_student_two_sided(3 / sqrt(4 / 3.0), 2) / 2, 1e-12, 0);
  assert_close(g[0].pair, 2 * g[0].p, 0, 1e-9);
  assert_close(g[1].p, 1 - g[0].p, 1e-12, 0);
  assert_close(g[1].pair, 1, 0, 0);
}

static void assert_untold(tenter_compared *g, size_t count) {
  tenter_compare_groups(g, count, 0.05);
  for (size_t i = 0; i < count; i++) {
    assert_true(isnan(g[i].p) && isnan(g[i].pair));
    assert_int_equal(g[i].above + g[i].others, 0);
  }
}

static void test_too_few(void **state) {
  (void)state;
  assert_untold((tenter_compared[]){{.count = 5, .mean = 1, .sd = 1}}, 1);
  assert_untold((tenter_compared[]){{.count = 1, .mean = 1}, {.count = 1, .mean = 2}}, 2);
  assert_untold(
      (tenter_compared[]){{.count = 3, .mean = 1, .sd = 0}, {.count = 3, .mean = 2, .sd = 0}}, 2);
  enum { MANY = TENTER_COMPARE_GROUPS + 1 };
  tenter_compared many[MANY];
  for (size_t i = 0; i < MANY; i++)
    many[i] = (tenter_compared){.count = 2, .mean = (double)i, .sd = 1};
  tenter_compare_groups(many, MANY, 0.05);
  assert_true(many[MANY - 1].p < 1e-6 && isnan(many[MANY - 1].pair));
  tenter_compare_groups(many, MANY - 1, 0.05);
  assert_int_equal(many[MANY - 2].others, MANY - 2);
  assert_true(many[MANY - 2].above > MANY / 2);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_studentized_range),
                                     cmocka_unit_test(test_limits),
                                     cmocka_unit_test(test_published),
                                     cmocka_unit_test(test_single), cmocka_unit_test(test_too_few)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
