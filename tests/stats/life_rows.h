/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of tests/oracle/life, and seeded lives for tests. */
#ifndef TEST_STATS_LIFE_ROWS_H
#define TEST_STATS_LIFE_ROWS_H

#include "numbers.h"
#include "tenter/stats/life.h"

enum { LIFE_ROWS = 400 };

typedef struct lives {
  size_t count;
  double lower[LIFE_ROWS], upper[LIFE_ROWS], weight[LIFE_ROWS];
  double x1[LIFE_ROWS], x2[LIFE_ROWS]; /* NaN where the set has none */
} lives;

static inline tenter_life lives_of(const lives *l) {
  return (tenter_life){l->count, l->lower, l->upper, l->weight};
}

static inline double lives_column(const rows *r, size_t field) {
  return field < r->fields && r->field[field][0] ? rows_number(r, field) : NAN;
}

static inline void lives_add(lives *l, double lower, double upper, double weight) {
  assert_true(l->count < LIFE_ROWS);
  l->lower[l->count] = lower;
  l->upper[l->count] = upper;
  l->weight[l->count++] = weight;
}

/* A set of data.csv. */
static inline void lives_load(lives *l, const char *set) {
  rows r;
  l->count = 0;
  rows_open(&r, "life/data.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, set)) {
      l->x1[l->count] = lives_column(&r, 4);
      l->x2[l->count] = lives_column(&r, 5);
      lives_add(l, rows_number(&r, 1), rows_number(&r, 2), rows_number(&r, 3));
    }
  assert_true(l->count > 0);
}

/* A value of expected.csv. */
static inline double lives_expected(const char *model, const char *quantity) {
  rows r;
  double value = NAN;
  rows_open(&r, "life/expected.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, model) && rows_is(&r, 1, quantity))
      value = rows_number(&r, 2);
  if (isnan(value))
    fail_msg("expected.csv has no %s of %s", quantity, model);
  return value;
}

/* Weibull lives with looks: exact, right-censored, left-censored and between two looks, by chance;
 * grid: looks fall on multiples of it (0: anywhere). */
static inline void lives_invent(lives *l, size_t count, double grid, uint64_t *seed) {
  l->count = 0;
  while (l->count < count) {
    double t = 100 * pow(-log(number_uniform(seed)), 1 / 2.0), end = 250 * number_uniform(seed);
    double low = 0, high = 20 + 40 * number_uniform(seed);
    while (high < t && high < end) {
      low = high;
      high += 10 + 40 * number_uniform(seed);
    }
    if (grid > 0) {
      low = grid * floor(low / grid);
      high = grid * ceil(high / grid);
      t = grid * ceil(t / grid);
    }
    if (number_uniform(seed) < 0.3)
      lives_add(l, t, t, 1);
    else
      lives_add(l, low, high >= t && high <= end ? high : INFINITY, 1);
  }
}

#endif
