/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How often intervals of Turnbull's estimate hold the truth, on lives like those of mountings: a
 * Weibull law of median 90 days, looks every week or two, some still at work at the end. Counted
 * here, since no theorem covers them (turnbull.h). */
#include <gsl/gsl_errno.h>

#include "life_rows.h"
#include "tenter/stats/turnbull.h"

enum { SHOPS = 120, DRAWS = 39 };

static const double scale = 0.35, median = 90;

static double quantile(double p) {
  return median * pow(log1p(-p) / -M_LN2, scale);
}

static void invent_mountings(lives *l, size_t count, double grid, uint64_t *seed) {
  l->count = 0;
  while (l->count < count) {
    double t = quantile(number_uniform(seed)), end = 60 + 120 * number_uniform(seed);
    double low = 0, high = grid > 0 ? grid : 14 * number_uniform(seed);
    while (high < t && high < end) {
      low = high;
      high += grid > 0 ? grid : 7 + 7 * number_uniform(seed);
    }
    lives_add(l, low, high <= end && high >= t ? high : INFINITY, 1);
  }
}

typedef struct tally {
  double resampled, banded, trials;
} tally;

/* Does the interval of the quantile hold the true one, and does the band hold the true survival
 * where the mass after it ends? */
static void count_shop(size_t mountings, double grid, double p, double level, uint64_t *seed,
                       tally *sum) {
  double se[LIFE_ROWS], low[LIFE_ROWS], high[LIFE_ROWS];
  lives l;
  tenter_turnbull t;
  tenter_interval interval;
  invent_mountings(&l, mountings, grid, seed);
  tenter_life life = lives_of(&l);
  assert_int_equal(tenter_turnbull_run(&life, &t, NULL), TENTER_OK);
  assert_int_equal(tenter_turnbull_quantile_intervals(&t, 1, &p, level, DRAWS, *seed, NULL, NULL,
                                                      &interval, NULL),
                   TENTER_OK);
  sum->resampled += interval.low <= quantile(p) && quantile(p) <= interval.high;
  assert_int_equal(tenter_turnbull_band(&t, level, se, low, high, NULL), TENTER_OK);
  size_t k = 0;
  while (k + 1 < t.count && t.right[k] < quantile(p))
    k++;
  double truth = exp(-M_LN2 * pow(t.right[k] / median, 1 / scale));
  sum->banded += low[k] <= truth && truth <= high[k];
  sum->trials++;
  tenter_turnbull_release(&t);
}

static tally count_shops(size_t mountings, double grid, double p) {
  uint64_t seed = 1000 + mountings;
  tally sum = {0};
  for (size_t i = 0; i < SHOPS; i++)
    count_shop(mountings, grid, p, 0.9, &seed, &sum);
  return sum;
}

/* Looks at ages of their own: a little short by resampling (0.85 to 0.90 in 300 shops), about right
 * by the band (0.83 to 0.93). The margins are about four standard errors of a share of SHOPS. */
static void test_any_age(void **state) {
  (void)state;
  for (size_t mountings = 20; mountings <= 80; mountings *= 4)
    for (int half = 0; half < 2; half++) {
      tally t = count_shops(mountings, 0, half ? 0.5 : 0.1);
      assert_close(t.resampled / t.trials, 0.87, 0, 0.11);
      assert_close(t.banded / t.trials, 0.89, 0, 0.10);
    }
}

/* Looks every 14 days: resampling answers with whole intervals between looks, and holds the truth
 * more often than it says. */
static void test_grid(void **state) {
  (void)state;
  for (size_t mountings = 20; mountings <= 80; mountings *= 4)
    for (int half = 0; half < 2; half++) {
      tally t = count_shops(mountings, 14, half ? 0.5 : 0.1);
      assert_true(t.resampled / t.trials >= 0.88);
      assert_close(t.banded / t.trials, 0.90, 0, 0.10);
    }
}

/* One mounting in twenty, of twenty: no data reach that far down, and no law helps. */
static void test_too_few(void **state) {
  (void)state;
  tally t = count_shops(20, 0, 0.05);
  assert_close(t.resampled / t.trials, 0.63, 0, 0.15);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_any_age), cmocka_unit_test(test_grid),
                                     cmocka_unit_test(test_too_few)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
