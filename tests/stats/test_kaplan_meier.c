/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kaplan and Meier's estimate against survfit of R's survival (tests/oracle/life/expected.csv), and
 * by hand. */
#include "life_rows.h"

/* All that expected.csv has of a model at one time. */
static size_t assert_model(const char *model, const tenter_kaplan_meier *km) {
  rows r;
  size_t seen = 0;
  rows_open(&r, "life/expected.csv");
  while (rows_next(&r)) {
    static const char *const names[] = {"se", "low", "high", "S"};
    const double *columns[] = {km->se, km->low, km->high, km->survival};
    if (!rows_is(&r, 0, model))
      continue;
    for (size_t c = 0; c < 4; c++) {
      size_t length = strlen(names[c]);
      char *end;
      double time = strtod(r.field[1] + length, &end);
      if (strncmp(r.field[1], names[c], length) != 0 || *end || end == r.field[1] + length)
        continue;
      size_t k = 0;
      while (k < km->count && km->time[k] != time)
        k++;
      assert_true(k < km->count);
      assert_close(columns[c][k], rows_number(&r, 2), 1e-9, 0);
      seen++;
    }
  }
  return seen;
}

static void assert_quantiles(const char *model, const tenter_kaplan_meier *km) {
  static const double p[] = {0.1, 0.25, 0.5};
  for (size_t i = 0; i < 3; i++) {
    char name[3][16];
    snprintf(name[0], sizeof name[0], "quantile%d", (int)(100 * p[i]));
    snprintf(name[1], sizeof name[1], "lower%d", (int)(100 * p[i]));
    snprintf(name[2], sizeof name[2], "upper%d", (int)(100 * p[i]));
    tenter_life_time t = tenter_kaplan_meier_quantile(km, p[i]);
    assert_close(t.value, lives_expected(model, name[0]), 0, 0);
    assert_close(t.low, lives_expected(model, name[1]), 0, 0);
    assert_close(t.high, lives_expected(model, name[2]), 0, 0);
  }
}

static void check(const lives *l, const char *model, size_t values) {
  tenter_kaplan_meier km;
  tenter_life life = lives_of(l);
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.95, &km, NULL), TENTER_OK);
  assert_int_equal(assert_model(model, &km), values);
  assert_quantiles(model, &km);
  tenter_kaplan_meier_release(&km);
}

static void test_aml(void **state) {
  (void)state;
  lives all, part;
  lives_load(&all, "aml");
  for (int group = 0; group < 2; group++) {
    part.count = 0;
    for (size_t i = 0; i < all.count; i++)
      if (all.x1[i] == group)
        lives_add(&part, all.lower[i], all.upper[i], 1);
    check(&part, group ? "km aml1" : "km aml0", group ? 32 : 28);
  }
}

static void test_lung(void **state) {
  (void)state;
  lives l;
  lives_load(&l, "lung");
  check(&l, "km lung", 4 * 139);
  for (size_t i = 0; i < l.count; i++)
    l.weight[i] = 1 + (double)(i % 3);
  check(&l, "km lung weighted", 4 * 139);
}

/* 1, 2+, 3, 3, 4+: 4/5, then 1/3 of that; Greenwood 1/(5 4) and + 2/(3 1). The weight of a row is
 * as many rows. */
static void test_by_hand(void **state) {
  (void)state;
  const double lower[] = {3, 1, 4, 2}, upper[] = {3, 1, INFINITY, INFINITY};
  const double weight[] = {2, 1, 1, 1};
  tenter_life life = {4, lower, upper, weight};
  tenter_kaplan_meier km;
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.9, &km, NULL), TENTER_OK);
  assert_int_equal(km.count, 2);
  assert_close(km.survival[0], 0.8, 1e-15, 0);
  assert_close(km.survival[1], 0.8 / 3, 1e-15, 0);
  assert_close(km.at_risk[1], 3, 0, 0);
  assert_close(km.events[1], 2, 0, 0);
  assert_close(km.se[0], 0.8 * sqrt(0.05), 1e-14, 0);
  assert_close(km.se[1], 0.8 / 3 * sqrt(0.05 + 2.0 / 3), 1e-14, 0);
  assert_close(km.last, 4, 0, 0);
  tenter_life_curve curve = tenter_kaplan_meier_curve(&km);
  assert_close(curve.end, 4, 0, 0);
  assert_close(tenter_life_exposure(&curve, 4), 1 + 2 * 0.8 + 0.8 / 3, 1e-14, 0);
  tenter_kaplan_meier_release(&km);
}

/* All have failed: survival is 0 exactly, whatever the weights, and has no error. */
static void test_to_the_end(void **state) {
  (void)state;
  const double time[] = {1, 2, 3}, weight[] = {0.1, 0.7, 0.3};
  tenter_life life = {3, time, time, weight};
  tenter_kaplan_meier km;
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.95, &km, NULL), TENTER_OK);
  assert_int_equal(km.count, 3);
  assert_close(km.survival[2], 0, 0, 0);
  assert_true(isnan(km.se[2]) && isnan(km.low[2]) && isnan(km.high[2]));
  tenter_life_curve curve = tenter_kaplan_meier_curve(&km);
  assert_true(isinf(curve.end));
  assert_close(tenter_life_exposure(&curve, INFINITY), (0.1 + 0.7 * 2 + 0.3 * 3) / 1.1, 1e-14, 0);
  tenter_kaplan_meier_release(&km);
}

static void test_no_failures(void **state) {
  (void)state;
  const double lower[] = {3, 5}, upper[] = {INFINITY, INFINITY};
  tenter_life life = {2, lower, upper, NULL};
  tenter_kaplan_meier km;
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.95, &km, NULL), TENTER_OK);
  assert_int_equal(km.count, 0);
  assert_true(isinf(tenter_kaplan_meier_quantile(&km, 0.5).value));
  tenter_life_curve curve = tenter_kaplan_meier_curve(&km);
  assert_close(tenter_life_survival(&curve, 5), 1, 0, 0);
  assert_true(isnan(tenter_life_survival(&curve, 6)));
  tenter_kaplan_meier_release(&km);
  tenter_kaplan_meier_release(&km);
  tenter_kaplan_meier_release(NULL);
}

static void test_interval_refused(void **state) {
  (void)state;
  const double lower[] = {3, 5}, upper[] = {3, 6};
  tenter_life life = {2, lower, upper, NULL};
  tenter_kaplan_meier km;
  tenter_error error;
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.95, &km, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "Row 2, (5, 6]"));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_aml),         cmocka_unit_test(test_lung),
      cmocka_unit_test(test_by_hand),     cmocka_unit_test(test_to_the_end),
      cmocka_unit_test(test_no_failures), cmocka_unit_test(test_interval_refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
