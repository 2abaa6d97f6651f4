/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tests of the nested model share: random numbers with a fixed seed, and small data sets
 * kept observation by observation, so that a naive twin can be put beside the products. */
#ifndef TEST_STATS_NESTED_DATA_H
#define TEST_STATS_NESTED_DATA_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/stats/nested.h"

enum { DATA_ROWS = 4000, DATA_COVARIATES = 3 };

/* Rows in order of group and unit. */
typedef struct nested_data {
  size_t terms, covariates, count, units, groups;
  size_t block[DATA_ROWS], group[DATA_ROWS], unit[DATA_ROWS];
  double u[DATA_ROWS], y[DATA_ROWS], w[DATA_ROWS], x[DATA_ROWS * DATA_COVARIATES];
} nested_data;

/* splitmix64, then the two usual transformations. */
static inline double random_uniform(uint64_t *state) {
  uint64_t z = (*state += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}
static inline double random_normal(uint64_t *state) {
  double r = sqrt(-2 * log(random_uniform(state)));
  return r * cos(6.283185307179586 * random_uniform(state));
}

/* The products of rows first .. end - 1; groups and units get keys by their numbers. */
static inline tenter_nested_products *data_products(const nested_data *d, size_t first,
                                                    size_t end) {
  tenter_nested_products *p;
  tenter_error error;
  assert_int_equal(tenter_nested_products_new(d->terms, d->covariates, &p, &error), TENTER_OK);
  for (size_t i = first, next; i < end; i = next) {
    if (i == first || d->group[i] != d->group[i - 1])
      assert_int_equal(tenter_nested_group_add(p, d->block[i], d->group[i], &error), TENTER_OK);
    for (next = i; next < end && d->unit[next] == d->unit[i] && d->group[next] == d->group[i];)
      next++;
    assert_int_equal(tenter_nested_unit_add(p, d->unit[i], next - i, d->u + i, d->y + i, d->w + i,
                                            d->x + i * d->covariates, &error),
                     TENTER_OK);
  }
  return p;
}

#endif
