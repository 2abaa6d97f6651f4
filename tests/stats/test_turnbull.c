/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Turnbull's estimate: examples with their derivation, the cosmesis data (tests/oracle/life),
 * Kaplan and Meier's as a special case, the conditions of Karush, Kuhn and Tucker worked out anew
 * from the rows, self-consistency steps as a slow twin, and rows meant to hurt. */
#include <gsl/gsl_errno.h>

#include "life_rows.h"
#include "tenter/stats/turnbull.h"

static tenter_turnbull fit(const lives *l) {
  tenter_turnbull t;
  tenter_life life = lives_of(l);
  tenter_error error;
  if (tenter_turnbull_run(&life, &t, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  return t;
}

static void assert_mass(const tenter_turnbull *t, size_t k, double left, double right,
                        double mass) {
  assert_true(k < t->count);
  assert_close(t->left[k], left, 0, 0);
  assert_close(t->right[k], right, 0, 0);
  assert_close(t->mass[k], mass, 0, 1e-8);
}

/* ---- by hand ---- */

/* (0,2] (1,4] (3,6] (5,8] (3,4]. Ends in order: (0 (1 2] (3 4] (5 6] 8], so that the innermost
 * intervals are (1,2] (3,4] (5,6] with masses a, b, a by symmetry, b = 1 - 2a. The rows have
 * chances a, a + b, b + a, a, b, so the likelihood is a^2 (1 - a)^2 (1 - 2a). The derivative of its
 * logarithm, 2/a - 2/(1 - a) - 2/(1 - 2a), is 0 where 5 a^2 - 5 a + 1 = 0: a = (5 - sqrt 5) / 10.
 */
static void test_by_hand(void **state) {
  (void)state;
  lives l = {
      .count = 5, .lower = {0, 1, 3, 5, 3}, .upper = {2, 4, 6, 8, 4}, .weight = {1, 1, 1, 1, 1}};
  tenter_turnbull t = fit(&l);
  double a = (5 - sqrt(5)) / 10;
  assert_int_equal(t.count, 3);
  assert_int_equal(t.intervals, 3);
  assert_mass(&t, 0, 1, 2, a);
  assert_mass(&t, 1, 3, 4, 1 - 2 * a);
  assert_mass(&t, 2, 5, 6, a);
  assert_close(t.loglik, 2 * log(a) + 2 * log(1 - a) + log(1 - 2 * a), 1e-12, 0);
  assert_close(t.weight, 5, 0, 0);
  assert_true(t.converged);
  tenter_turnbull_release(&t);
}

/* Without the last row the likelihood a^2 (1 - a)^2 is greatest at a = 1/2: the middle interval has
 * no mass, though its gradient, 2 / (1 - a) = 4, is the number of rows. */
static void test_nothing_in_the_middle(void **state) {
  (void)state;
  lives l = {.count = 4, .lower = {0, 1, 3, 5}, .upper = {2, 4, 6, 8}, .weight = {1, 1, 1, 1}};
  tenter_turnbull t = fit(&l);
  assert_int_equal(t.intervals, 3);
  assert_close(tenter_turnbull_survival(&t, 2.5).low, 0.5, 0, 1e-4);
  assert_close(tenter_turnbull_survival(&t, 4.5).low, 0.5, 0, 1e-4);
  assert_close(t.loglik, 4 * log(0.5), 0, 1e-8);
  assert_true(t.converged);
  tenter_turnbull_release(&t);
}

/* An interval open at 5 begins after an exact failure at 5, one that closes at 5 ends after it: the
 * first row shares no time with it, the third does. */
static void test_ties(void **state) {
  (void)state;
  lives l = {.count = 3, .lower = {5, 5, 2}, .upper = {8, 5, 5}, .weight = {2, 1, 1}};
  tenter_turnbull t = fit(&l);
  assert_int_equal(t.count, 2);
  assert_mass(&t, 0, 5, 5, 0.5);
  assert_mass(&t, 1, 5, 8, 0.5);
  assert_close(tenter_turnbull_survival(&t, 5).high, 0.5, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 5).low, 0.5, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 6).low, 0, 0, 0);
  assert_close(tenter_turnbull_survival(&t, 6).high, 0.5, 1e-12, 0);
  tenter_turnbull_release(&t);
}

/* ---- against others ---- */

static void test_cosmesis(void **state) {
  (void)state;
  for (int treat = 1; treat <= 2; treat++) {
    lives l;
    rows r;
    size_t k = 0;
    lives_load(&l, treat == 1 ? "bcdeter1" : "bcdeter2");
    tenter_turnbull t = fit(&l);
    rows_open(&r, "life/turnbull_bcdeter.csv");
    while (rows_next(&r)) {
      if (rows_number(&r, 0) != treat)
        continue;
      if (rows_is(&r, 1, "loglik")) {
        assert_close(t.loglik, rows_number(&r, 3), 0, 1e-7);
        continue;
      }
      double right = rows_number(&r, 2);
      assert_mass(&t, k, rows_number(&r, 1), right, rows_number(&r, 3));
      assert_close(t.survival[k], rows_number(&r, 4), 0, 2e-8);
      k++;
    }
    assert_int_equal(k, t.count);
    assert_true(t.converged);
    tenter_turnbull_release(&t);
  }
}

/* Exact and right-censored rows: Kaplan and Meier's estimate; the information gives Greenwood's
 * errors, and so the same limits. */
static void assert_kaplan_meier(lives *l) {
  double se[LIFE_ROWS], low[LIFE_ROWS], high[LIFE_ROWS];
  tenter_kaplan_meier km;
  tenter_life life = lives_of(l);
  tenter_turnbull t = fit(l);
  assert_int_equal(tenter_kaplan_meier_run(&life, 0.95, &km, NULL), TENTER_OK);
  assert_int_equal(tenter_turnbull_band(&t, 0.95, se, low, high, NULL), TENTER_OK);
  assert_true(t.count == km.count || t.count == km.count + 1);
  for (size_t k = 0; k < km.count; k++) {
    assert_close(t.right[k], km.time[k], 0, 0);
    assert_close(t.survival[k], km.survival[k], 1e-10, 0);
    if (k + 1 < t.count) {
      assert_close(se[k], km.se[k], 1e-7, 0);
      assert_close(low[k], km.low[k], 1e-7, 0);
      assert_close(high[k], km.high[k], 1e-7, 0);
    }
  }
  assert_true(isnan(se[t.count - 1]));
  tenter_turnbull_release(&t);
  tenter_kaplan_meier_release(&km);
}

static void test_kaplan_meier(void **state) {
  (void)state;
  static const char *const sets[] = {"aml", "lung", "aircondit", "nist"};
  for (size_t s = 0; s < 4; s++) {
    lives l;
    lives_load(&l, sets[s]);
    assert_kaplan_meier(&l);
    for (size_t i = 0; i < l.count; i++)
      l.weight[i] = 0.5 + (double)(i % 4);
    assert_kaplan_meier(&l);
  }
}

/* ---- what makes it the estimate ---- */

static bool holds(const lives *l, size_t i, double left, double right) {
  if (l->lower[i] == l->upper[i]) /* an exact row holds its own point only */
    return left == right && right == l->upper[i];
  return right <= l->upper[i] && (left == right ? left > l->lower[i] : left >= l->lower[i]);
}

/* Sum of weight / P over the rows that hold (left, right]; it must not be above the number of rows
 * anywhere, and be it where there is mass. */
static double pull(const lives *l, const tenter_turnbull *t, double left, double right) {
  double sum = 0;
  for (size_t i = 0; i < l->count; i++) {
    if (!holds(l, i, left, right))
      continue;
    double p = 0;
    for (size_t k = 0; k < t->count; k++)
      p += holds(l, i, t->left[k], t->right[k]) ? t->mass[k] : 0;
    sum += l->weight[i] / p;
  }
  return sum;
}

static void assert_optimal(const lives *l, const tenter_turnbull *t) {
  double total = 0, worst = 0;
  for (size_t k = 0; k < t->count; k++) {
    assert_true(t->mass[k] > 0);
    total += t->mass[k];
    if (t->mass[k] > 1e-6)
      assert_close(pull(l, t, t->left[k], t->right[k]), t->weight, 1e-5, 0);
  }
  assert_close(total, 1, 1e-12, 0);
  for (size_t i = 0; i < l->count; i++) /* points just after each lower end, and exact ones */
    for (int exact = 0; exact < 2; exact++) {
      double left = l->lower[i], right = exact ? left : nextafter(left, INFINITY);
      worst = fmax(worst, pull(l, t, left, right) - t->weight);
    }
  assert_true(worst <= 1e-6 * t->weight);
  assert_true(t->converged && t->gap <= 1e-8 + 1e-12 * t->weight);
}

static void test_optimal(void **state) {
  (void)state;
  uint64_t seed = 1;
  for (size_t round = 0; round < 300; round++) {
    lives l;
    lives_invent(&l, 3 + round % 60, round % 3 == 0 ? 7 : 0, &seed);
    for (size_t i = 0; i < l.count; i++)
      l.weight[i] = round % 2 ? 1 : 3 * number_uniform(&seed);
    tenter_life_tally tally;
    tenter_life life = lives_of(&l);
    if (tenter_life_count(&life, &tally, NULL) != TENTER_OK)
      continue;
    for (size_t i = 0; i < l.count; i++) /* silent rows weigh nothing */
      if (l.lower[i] == 0 && isinf(l.upper[i]))
        l.weight[i] = 0;
    tenter_turnbull t = fit(&l);
    assert_optimal(&l, &t);
    tenter_turnbull_release(&t);
  }
}

/* ---- the slow twin ---- */

/* Turnbull's own algorithm: masses at every place where a row closes, p = mean over rows of the
 * share of the row's chance that lies there, until it stands. Each distribution on innermost
 * intervals is one on closing ends. */
static double slow_loglik(const lives *l, size_t steps, const double *at, size_t places,
                          double *survival) {
  static double p[LIFE_ROWS], next[LIFE_ROWS];
  double weight = 0, loglik = 0;
  for (size_t i = 0; i < l->count; i++)
    weight += l->weight[i];
  for (size_t k = 0; k < places; k++)
    p[k] = 1 / (double)places;
  for (size_t step = 0; step <= steps; step++) {
    loglik = 0;
    memset(next, 0, sizeof next);
    for (size_t i = 0; i < l->count; i++) {
      bool exact = l->lower[i] == l->upper[i];
      double chance = 0;
      for (size_t k = 0; k < places; k++)
        if (at[k] <= l->upper[i] && (exact ? at[k] >= l->lower[i] : at[k] > l->lower[i]))
          chance += p[k];
      for (size_t k = 0; k < places; k++)
        if (at[k] <= l->upper[i] && (exact ? at[k] >= l->lower[i] : at[k] > l->lower[i]))
          next[k] += l->weight[i] / weight * p[k] / chance;
      loglik += l->weight[i] * log(chance);
    }
    memcpy(p, next, sizeof p);
  }
  double beyond = 1;
  for (size_t k = 0; k < places; k++)
    survival[k] = beyond -= p[k];
  return loglik;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static size_t closing_ends(const lives *l, double *at) {
  size_t count = 0;
  memcpy(at, l->upper, l->count * sizeof *at);
  qsort(at, l->count, sizeof *at, by_size);
  for (size_t i = 0; i < l->count; i++)
    if (count == 0 || at[count - 1] != at[i])
      at[count++] = at[i];
  return count;
}

static void test_slow_twin(void **state) {
  (void)state;
  uint64_t seed = 3;
  for (size_t round = 0; round < 25; round++) {
    lives l;
    double at[LIFE_ROWS], survival[LIFE_ROWS];
    do
      lives_invent(&l, 8 + round, round % 2 ? 10 : 0, &seed);
    while (l.lower[0] == 0 && isinf(l.upper[0]));
    for (size_t i = 0; i < l.count; i++)
      if (l.lower[i] == 0 && isinf(l.upper[i]))
        l.lower[i] = 1; /* no silent rows */
    tenter_turnbull t = fit(&l);
    double slow = slow_loglik(&l, 4000, at, closing_ends(&l, at), survival);
    assert_true(t.loglik >= slow - 1e-9);
    assert_close(t.loglik, slow, 0, 0.02);
    for (size_t k = 0; at[k] < l.upper[0] && k < l.count; k++)
      assert_close(tenter_turnbull_survival(&t, at[k]).high, survival[k], 0, 0.02);
    tenter_turnbull_release(&t);
  }
}

/* Seen to fail, by chance, or between looks 2 to 15 days apart, over 50 to 200 days. */
static void invent_seen(double *lower, double *upper, uint64_t *seed) {
  double t = 100 * pow(-log(number_uniform(seed)), 1 / 2.2), end = 50 + 150 * number_uniform(seed);
  double low = 0, high = 7 * number_uniform(seed), step = 4 + 6 * number_uniform(seed);
  while (high < t && high < end) {
    low = high;
    high += step * (0.5 + number_uniform(seed));
  }
  bool failed = t <= high && high <= end, seen = failed && number_uniform(seed) < 0.4;
  *lower = seen ? t : low;
  *upper = seen ? t : failed ? high : INFINITY;
}

/* Thousands of exact rows among intervals, where Newton's steps alone crush masses (187 steps for
 * 100,000 rows): few steps do. */
static void test_many(void **state) {
  (void)state;
  enum { MANY = 30000 };
  static double lower[MANY], upper[MANY];
  uint64_t seed = 2;
  for (size_t i = 0; i < MANY; i++)
    invent_seen(&lower[i], &upper[i], &seed);
  tenter_life life = {MANY, lower, upper, NULL};
  tenter_turnbull t;
  assert_int_equal(tenter_turnbull_run(&life, &t, NULL), TENTER_OK);
  assert_true(t.converged && t.count > 1000);
  assert_in_range(t.steps, 1, 25);
  tenter_turnbull_release(&t);
}

/* ---- what is read from it ---- */

/* Four rows: 1/4 in (1,2], 1/4 at 3, half in (5, inf]. */
static lives simple(void) {
  return (lives){.count = 4,
                 .lower = {1, 3, 5, 5},
                 .upper = {2, 3, INFINITY, INFINITY},
                 .weight = {1, 1, 1, 1}};
}

static void test_reading(void **state) {
  (void)state;
  lives l = simple();
  tenter_turnbull t = fit(&l);
  double times[3], survival[3];
  assert_int_equal(t.count, 3);
  assert_close(tenter_turnbull_survival(&t, 0).low, 1, 0, 0);
  assert_close(tenter_turnbull_survival(&t, 1).low, 1, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 1.5).low, 0.75, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 1.5).high, 1, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 3).low, 0.5, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 5).low, 0.5, 1e-12, 0);
  assert_close(tenter_turnbull_survival(&t, 6).low, 0, 0, 0);
  assert_close(tenter_turnbull_survival(&t, 6).high, 0.5, 1e-12, 0);
  assert_true(isnan(tenter_turnbull_survival(&t, NAN).low));
  assert_close(tenter_turnbull_quantile(&t, 0.25).low, 1, 0, 0);
  assert_close(tenter_turnbull_quantile(&t, 0.25).high, 2, 0, 0);
  assert_close(tenter_turnbull_quantile(&t, 0.3).low, 3, 0, 0);
  assert_close(tenter_turnbull_quantile(&t, 0.9).low, 5, 0, 0);
  assert_true(isinf(tenter_turnbull_quantile(&t, 0.9).high));
  assert_true(isnan(tenter_turnbull_quantile(&t, 0).low));
  tenter_life_curve early = tenter_turnbull_curve(&t, true, times, survival);
  assert_int_equal(early.count, 2);
  assert_close(early.end, 5, 0, 0);
  assert_close(tenter_life_exposure(&early, 5), 1 + 2 * 0.75 + 2 * 0.5, 1e-12, 0);
  tenter_life_curve late = tenter_turnbull_curve(&t, false, times, survival);
  assert_close(tenter_life_exposure(&late, 5), 2 + 0.75 + 2 * 0.5, 1e-12, 0);
  tenter_turnbull_release(&t);
  tenter_turnbull_release(&t);
  tenter_turnbull_release(NULL);
}

/* ---- uncertainty ---- */

/* Looks on a grid: the errors by the information are those of refits with random weights. */
static void test_band_against_resampling(void **state) {
  (void)state;
  enum { DRAWS = 600 };
  uint64_t seed = 8;
  lives l;
  lives_invent(&l, LIFE_ROWS, 40, &seed);
  tenter_turnbull t = fit(&l);
  double se[LIFE_ROWS], low[LIFE_ROWS], high[LIFE_ROWS], sum[LIFE_ROWS] = {0},
                                                         square[LIFE_ROWS] = {0};
  assert_int_equal(tenter_turnbull_band(&t, 0.9, se, low, high, NULL), TENTER_OK);
  for (size_t d = 0; d < DRAWS; d++) {
    tenter_turnbull again;
    assert_int_equal(tenter_turnbull_resample(&t, d, &again, NULL), TENTER_OK);
    assert_true(again.converged);
    for (size_t k = 0; k < t.count; k++) {
      double s = tenter_turnbull_survival(&again, t.right[k]).low;
      sum[k] += s;
      square[k] += s * s;
    }
    tenter_turnbull_release(&again);
  }
  size_t compared = 0;
  for (size_t k = 0; k < t.count; k++) {
    double mean = sum[k] / DRAWS, sd = sqrt(square[k] / DRAWS - mean * mean);
    if (t.survival[k] < 0.05 || t.survival[k] > 0.95)
      continue;
    assert_close(mean, t.survival[k], 0, 0.3 * se[k]);
    assert_close(sd, se[k], 0.15, 0); /* 4 / sqrt(2 * 600) = 0.12, and the curvature */
    assert_true(low[k] < t.survival[k] && t.survival[k] < high[k]);
    compared++;
  }
  assert_true(compared >= 3);
  tenter_turnbull_release(&t);
}

static void test_quantile_intervals(void **state) {
  (void)state;
  const double p[] = {0.1, 0.5, 0.95};
  uint64_t seed = 21;
  lives l;
  lives_invent(&l, 60, 0, &seed);
  tenter_turnbull t = fit(&l);
  tenter_interval value[3], one[3], four[3];
  tenter_pool *pool = tenter_pool_new(4);
  assert_int_equal(tenter_turnbull_quantile_intervals(&t, 3, p, 0.9, 99, 5, NULL, value, one, NULL),
                   TENTER_OK);
  assert_int_equal(tenter_turnbull_quantile_intervals(&t, 3, p, 0.9, 99, 5, pool, NULL, four, NULL),
                   TENTER_OK);
  assert_memory_equal(one, four, sizeof one);
  for (size_t q = 0; q < 3; q++)
    assert_true(one[q].low <= value[q].low && value[q].high <= one[q].high);
  assert_true(one[1].low < one[1].high && one[0].high < one[1].high);
  assert_int_equal(tenter_turnbull_quantile_intervals(&t, 3, p, 1, 99, 5, NULL, NULL, one, NULL),
                   TENTER_USAGE);
  tenter_pool_free(pool);
  tenter_turnbull_release(&t);
}

/* ---- rows meant to hurt ---- */

static double hostile(uint64_t *seed) {
  static const double values[] = {0,   0,  1,     1,        2,      2,    3,         5,
                                  NAN, -1, 1e308, INFINITY, 5e-324, 1e-9, -INFINITY, 4};
  return values[(size_t)(16 * number_uniform(seed))];
}

static void test_hostile(void **state) {
  (void)state;
  static const double weights[] = {1, 1, 1, 0, 1e-4, 1e5, NAN, -1, INFINITY, 0.5};
  uint64_t seed = 99;
  size_t used = 0;
  for (size_t round = 0; round < 30000; round++) {
    lives l = {0};
    size_t count = 1 + (size_t)(6 * number_uniform(&seed));
    for (size_t i = 0; i < count; i++) {
      double a = hostile(&seed), b = hostile(&seed);
      double weight =
          number_uniform(&seed) < 0.8 ? 1 : weights[(size_t)(10 * number_uniform(&seed))];
      bool swap = a > b && number_uniform(&seed) < 0.9;
      lives_add(&l, swap ? b : a, swap ? a : b, weight);
    }
    tenter_life life = lives_of(&l);
    tenter_turnbull t;
    tenter_status status = tenter_turnbull_run(&life, &t, NULL);
    if (status != TENTER_OK) {
      assert_int_equal(status, TENTER_INPUT);
      continue;
    }
    double total = 0;
    for (size_t k = 0; k < t.count; k++)
      total += t.mass[k];
    assert_close(total, 1, 1e-9, 0);
    assert_true(isfinite(t.loglik));
    assert_true(t.converged);
    tenter_turnbull_release(&t);
    used++;
  }
  assert_true(used > 3000);
}

static void test_single_rows(void **state) {
  (void)state;
  static const double ends[][2] = {{0, 0}, {3, 3}, {0, 4}, {2, INFINITY}, {2, 5}};
  for (size_t i = 0; i < 5; i++) {
    double se, low, high;
    lives l = {.count = 1, .lower = {ends[i][0]}, .upper = {ends[i][1]}, .weight = {1}};
    tenter_turnbull t = fit(&l);
    assert_int_equal(t.count, 1);
    assert_mass(&t, 0, ends[i][0], ends[i][1], 1);
    assert_close(t.loglik, 0, 0, 0);
    assert_int_equal(tenter_turnbull_band(&t, 0.9, &se, &low, &high, NULL), TENTER_OK);
    assert_true(isnan(se) && isnan(low) && isnan(high));
    tenter_turnbull_release(&t);
  }
}

static void test_refused(void **state) {
  (void)state;
  lives l = {.count = 2, .lower = {1, 4}, .upper = {2, 3}, .weight = {1, 1}};
  tenter_life life = lives_of(&l);
  tenter_turnbull t;
  tenter_error error;
  assert_int_equal(tenter_turnbull_run(&life, &t, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "Row 2, (4, 3]"));
  l = (lives){.count = 2, .lower = {1, 4}, .upper = {2, 5}, .weight = {1e-5, 1.1e4}};
  assert_int_equal(tenter_turnbull_run(&life, &t, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "Weights from 1e-05 to 11000"));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_by_hand),
                                     cmocka_unit_test(test_nothing_in_the_middle),
                                     cmocka_unit_test(test_ties),
                                     cmocka_unit_test(test_cosmesis),
                                     cmocka_unit_test(test_kaplan_meier),
                                     cmocka_unit_test(test_optimal),
                                     cmocka_unit_test(test_slow_twin),
                                     cmocka_unit_test(test_many),
                                     cmocka_unit_test(test_reading),
                                     cmocka_unit_test(test_band_against_resampling),
                                     cmocka_unit_test(test_quantile_intervals),
                                     cmocka_unit_test(test_hostile),
                                     cmocka_unit_test(test_single_rows),
                                     cmocka_unit_test(test_refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
