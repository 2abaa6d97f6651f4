/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run rules: flags of a constructed sequence (tests/oracle/charts/run_rules_sequence.csv, made from
 * the definitions by another program), a slow twin on random points, and the table itself. */
#include "chart_rows.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "tenter/stats/rules.h"

enum { ROOM = 200 };

/* Flags of the file: Western Electric 1956, Nelson 1984 applied literally. */
static void flags_of_a_constructed_sequence(void **state) {
  (void)state;
  static const tenter_rules column[] = {
      TENTER_RULE_BEYOND,          TENTER_RULE_TWO_OF_THREE,  TENTER_RULE_FOUR_OF_FIVE,
      TENTER_RULE_EIGHT_ONE_SIDE,  TENTER_RULE_NINE_ONE_SIDE, TENTER_RULE_SIX_TREND,
      TENTER_RULE_FOURTEEN_ZIGZAG, TENTER_RULE_FIFTEEN_CALM,  TENTER_RULE_EIGHT_AVOID_CENTRE};
  double z[ROOM];
  tenter_rules met[ROOM], expected[ROOM] = {0}, seen = 0;
  size_t count = 0;
  rows r;
  rows_open(&r, "charts/run_rules_sequence.csv");
  for (; rows_next(&r); count++) {
    z[count] = rows_number(&r, 1);
    for (size_t k = 0; k < TENTER_RULE_COUNT; k++)
      expected[count] |= rows_number(&r, k + 2) > 0 ? column[k] : 0;
    seen |= expected[count];
  }
  assert_int_equal(count, 104);
  assert_int_equal(seen, TENTER_RULES_ALL); /* the file shows every rule at least once */
  tenter_rules_run(TENTER_RULES_ALL, false, z, count, met);
  for (size_t i = 0; i < count; i++)
    assert_int_equal(met[i], expected[i]);
  for (size_t k = 0; k < TENTER_RULE_COUNT; k++) { /* each alone */
    tenter_rules_run(column[k], false, z, count, met);
    for (size_t i = 0; i < count; i++)
      assert_int_equal(met[i], expected[i] & column[k]);
  }
}

/* ---- a slow twin ---- */

/* How many of the last window points up to i lie beyond level on a side (sign), this one among
 * them; 0 when it is not or the window is not full of readings. */
static size_t beyond(const double *z, size_t i, size_t window, double level, double sign) {
  size_t count = 0;
  if (!(sign * z[i] > level))
    return 0;
  for (size_t k = 0; k < window && k <= i && isfinite(z[i - k]); k++)
    count += sign * z[i - k] > level;
  return count;
}

static bool every(const double *z, size_t i, size_t window, bool (*good)(double)) {
  for (size_t k = 0; k < window; k++)
    if (k > i || !isfinite(z[i - k]) || !good(z[i - k]))
      return false;
  return true;
}

static bool is_above(double z) {
  return z > 0;
}
static bool is_below(double z) {
  return z < 0;
}
static bool is_calm(double z) {
  return fabs(z) < 1;
}
static bool is_far(double z) {
  return fabs(z) > 1;
}

/* All window - 1 differences have sign first, times turn from one to the one before. */
static bool differences(const double *z, size_t i, size_t window, double first, double turn) {
  if (i + 1 < window)
    return false;
  for (size_t k = 0; k < window - 1; k++, first *= turn)
    if (!isfinite(z[i - k] - z[i - k - 1]) || !((z[i - k] - z[i - k - 1]) * first > 0))
      return false;
  return true;
}

static tenter_rules twin(const double *z, size_t i) {
  tenter_rules met = 0;
  if (!isfinite(z[i]))
    return 0;
  for (double side = -1; side <= 1; side += 2) {
    met |= side * z[i] > 3 ? TENTER_RULE_BEYOND : 0;
    met |= beyond(z, i, 3, 2, side) >= 2 ? TENTER_RULE_TWO_OF_THREE : 0;
    met |= beyond(z, i, 5, 1, side) >= 4 ? TENTER_RULE_FOUR_OF_FIVE : 0;
    met |= differences(z, i, 6, side, 1) ? TENTER_RULE_SIX_TREND : 0;
    met |= differences(z, i, 14, side, -1) ? TENTER_RULE_FOURTEEN_ZIGZAG : 0;
  }
  met |= every(z, i, 8, is_above) || every(z, i, 8, is_below) ? TENTER_RULE_EIGHT_ONE_SIDE : 0;
  met |= every(z, i, 9, is_above) || every(z, i, 9, is_below) ? TENTER_RULE_NINE_ONE_SIDE : 0;
  met |= every(z, i, 15, is_calm) ? TENTER_RULE_FIFTEEN_CALM : 0;
  met |= every(z, i, 8, is_far) ? TENTER_RULE_EIGHT_AVOID_CENTRE : 0;
  return met;
}

/* Rounded points (ties, points on the lines), gaps, shifts, and stretches that rise, turn or rest,
 * so that every rule is met often. */
static void random_points(gsl_rng *rng, double *z, size_t count) {
  double level = 0, spread = 1, drift = 0;
  unsigned long mood = 0;
  for (size_t i = 0; i < count; i++) {
    if (i % 40 == 0) {
      mood = gsl_rng_uniform_int(rng, 5);
      level = mood == 1 ? gsl_ran_gaussian(rng, 1.2) : 0;
      spread = mood == 2 ? 0.4 : 1;
      drift = 0;
    }
    drift += mood == 3 ? 0.1 : 0;
    z[i] = level + drift + gsl_ran_gaussian(rng, mood == 3 ? 0.05 : spread);
    if (mood == 4)
      z[i] = (i % 2 ? 1.2 : -1.2) + gsl_ran_gaussian(rng, 0.4);
    if (gsl_rng_uniform_int(rng, 3) == 0)
      z[i] = round(2 * z[i]) / 2;
    if (gsl_rng_uniform_int(rng, 60) == 0)
      z[i] = gsl_rng_uniform_int(rng, 2) ? NAN : INFINITY;
  }
}

static void agrees_with_a_slow_twin(void **state) {
  (void)state;
  enum { COUNT = 40000 };
  static double z[COUNT];
  static tenter_rules met[COUNT];
  size_t times[TENTER_RULE_COUNT] = {0};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 20);
  random_points(rng, z, COUNT);
  gsl_rng_free(rng);
  tenter_rules_run(TENTER_RULES_ALL, false, z, COUNT, met);
  for (size_t i = 0; i < COUNT; i++) {
    assert_int_equal(met[i], twin(z, i));
    for (size_t k = 0; k < TENTER_RULE_COUNT; k++)
      times[k] += met[i] >> k & 1;
  }
  for (size_t k = 0; k < TENTER_RULE_COUNT; k++)
    assert_in_range(times[k], 20, COUNT);
}

/* With restart, the flags are those of the stretches between signals, each judged alone. */
static void restart_begins_anew(void **state) {
  (void)state;
  enum { COUNT = 5000 };
  static double z[COUNT];
  static tenter_rules met[COUNT];
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 21);
  random_points(rng, z, COUNT);
  gsl_rng_free(rng);
  tenter_rules_run(TENTER_RULES_ALL, true, z, COUNT, met);
  size_t from = 0, signals = 0;
  for (size_t i = 0; i < COUNT; i++) {
    assert_int_equal(met[i], twin(z + from, i - from));
    if (met[i]) {
      from = i + 1;
      signals++;
    }
  }
  assert_in_range(signals, 50, COUNT);
}

/* A point on a line is not beyond it; a mirrored chart has the same signals. */
static void lines_and_mirrors(void **state) {
  (void)state;
  const double on_lines[] = {3, -3, 2, -2, 2, -1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0};
  enum { COUNT = sizeof on_lines / sizeof *on_lines };
  tenter_rules met[COUNT];
  tenter_rules_run(TENTER_RULES_NELSON & ~(tenter_rules)TENTER_RULE_NINE_ONE_SIDE, false, on_lines,
                   COUNT, met);
  for (size_t i = 0; i < COUNT; i++)
    assert_int_equal(met[i], 0);
  const double ramp[] = {-0.1, 0.3, 0.5, 1.5, 2.5, 2.6, 3.5},
               fall[] = {0.1, -0.3, -0.5, -1.5, -2.5, -2.6, -3.5};
  tenter_rules up[7], down[7];
  tenter_rules_run(TENTER_RULES_ALL, false, ramp, 7, up);
  tenter_rules_run(TENTER_RULES_ALL, false, fall, 7, down);
  assert_memory_equal(up, down, sizeof up);
  assert_int_equal(up[6], TENTER_RULE_BEYOND | TENTER_RULE_TWO_OF_THREE | TENTER_RULE_FOUR_OF_FIVE |
                              TENTER_RULE_SIX_TREND);
}

static void the_table_is_sound(void **state) {
  (void)state;
  tenter_rules all = 0;
  for (size_t i = 0; i < TENTER_RULE_COUNT; i++) {
    const tenter_rule *rule = tenter_rule_at(i);
    assert_int_equal(rule->bit, 1u << i);
    assert_ptr_equal(tenter_rule_find(rule->code, strlen(rule->code)), rule);
    assert_in_range(rule->need, 1, rule->window);
    assert_true(strlen(rule->source) > 10);
    all |= rule->bit;
  }
  assert_int_equal(all, TENTER_RULES_ALL);
  assert_null(tenter_rule_at(TENTER_RULE_COUNT));
  assert_null(tenter_rule_find("beyon", 5));
  assert_null(tenter_rule_find("", 0));
  assert_int_equal(__builtin_popcount(TENTER_RULES_WESTERN_ELECTRIC), 4);
  assert_int_equal(__builtin_popcount(TENTER_RULES_NELSON), 8);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(flags_of_a_constructed_sequence),
      cmocka_unit_test(agrees_with_a_slow_twin),
      cmocka_unit_test(restart_begins_anew),
      cmocka_unit_test(lines_and_mirrors),
      cmocka_unit_test(the_table_is_sound),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
