/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nested model's products and the steps by which it falls back: identities (parts add up,
 * threads don't matter, shifts don't matter), bad input, too little of everything. */
#include <gsl/gsl_errno.h>

#include "nested_data.h"
#include "tenter/base/buffer.h"

static const tenter_nested_options both_lines = {.group_max = TENTER_NESTED_LINE,
                                                 .unit_max = TENTER_NESTED_LINE};

/* groups x units x rows, lines random at both levels, one covariate. */
static void make(nested_data *d, size_t groups, size_t units, size_t rows, uint64_t seed) {
  *d = (nested_data){.terms = 2, .covariates = 1};
  for (size_t g = 0; g < groups; g++) {
    double level = 25 + 0.7 * random_normal(&seed), slope = -1.3 + 0.2 * random_normal(&seed);
    for (size_t k = 0; k < units; k++) {
      double a = 0.4 * random_normal(&seed), b = 0.1 * random_normal(&seed);
      for (size_t j = 0; j < rows; j++) {
        size_t i = d->count++;
        assert_true(i < DATA_ROWS);
        d->block[i] = g % 2;
        d->group[i] = g;
        d->unit[i] = g * units + k;
        d->u[i] = 3 * random_uniform(&seed);
        d->w[i] = 0.5 + random_uniform(&seed);
        d->x[i] = (double)(j % 3) + random_uniform(&seed);
        d->y[i] = level + a + (slope + b) * d->u[i] + 0.3 * d->x[i] + 0.2 * random_normal(&seed);
      }
    }
  }
}

static tenter_nested_fit fit_of(const tenter_nested_products *p, tenter_pool *pool) {
  tenter_nested_fit fit;
  tenter_nested_options options = both_lines;
  options.pool = pool;
  assert_int_equal(tenter_nested_fit_run(p, &options, &fit, NULL), TENTER_OK);
  return fit;
}

static void same_fit(const tenter_nested_fit *a, const tenter_nested_fit *b, double tolerance) {
  const double *x = (const double *)&a->components, *y = (const double *)&b->components;
  assert_close(a->loglik, b->loglik, 1e-10, 0);
  for (size_t k = 0; k < sizeof a->components / sizeof(double); k++)
    assert_close(x[k], y[k], tolerance, tolerance * 0.1);
}

/* ---- parts ---- */

/* Every second row, or the others; rows stay in order. */
static void every_second(const nested_data *d, size_t rest, nested_data *to) {
  *to = (nested_data){.terms = d->terms, .covariates = d->covariates};
  for (size_t i = 0; i < d->count; i++) {
    if (d->unit[i] % 5 == 4 ? rest : i % 2 != rest) /* some units wholly in the first part */
      continue;
    size_t j = to->count++;
    to->block[j] = d->block[i], to->group[j] = d->group[i], to->unit[j] = d->unit[i];
    to->u[j] = d->u[i], to->y[j] = d->y[i], to->w[j] = d->w[i], to->x[j] = d->x[i];
  }
}

static void test_parts_add_up(void **state) {
  static nested_data d, part[2];
  (void)state;
  make(&d, 6, 5, 7, 3);
  every_second(&d, 0, &part[0]);
  every_second(&d, 1, &part[1]);
  tenter_nested_products *whole = data_products(&d, 0, d.count);
  tenter_nested_products *first = data_products(&part[1], 0, part[1].count);
  tenter_nested_products *second = data_products(&part[0], 0, part[0].count);
  assert_int_equal(tenter_nested_products_merge(first, second, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_units(first), tenter_nested_units(whole));
  assert_int_equal(tenter_nested_observations(first), d.count);
  tenter_nested_fit a = fit_of(whole, NULL), b = fit_of(first, NULL);
  same_fit(&a, &b, 1e-7);
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_nested_products_free(whole);
  tenter_nested_products_free(first);
  tenter_nested_products_free(second);
}

/* Groups of one part only are appended. */
static void test_groups_are_appended(void **state) {
  static nested_data d;
  (void)state;
  make(&d, 6, 5, 7, 4);
  size_t half = 3 * 5 * 7;
  tenter_nested_products *whole = data_products(&d, 0, d.count);
  tenter_nested_products *first = data_products(&d, 0, half);
  tenter_nested_products *second = data_products(&d, half, d.count);
  assert_int_equal(tenter_nested_products_merge(first, second, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_groups(first), 6);
  tenter_nested_fit a = fit_of(whole, NULL), b = fit_of(first, NULL);
  same_fit(&a, &b, 1e-9);
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_nested_products_free(whole);
  tenter_nested_products_free(first);
  tenter_nested_products_free(second);
}

/* Stretches strung together, the second cut in the middle of a group, are the set made at once. */
static void test_stretches_are_strung(void **state) {
  static nested_data d;
  (void)state;
  make(&d, 6, 5, 7, 5);
  size_t cuts[] = {0, 3 * 5 * 7, 3 * 5 * 7 + 2 * 7, d.count};
  tenter_nested_products *whole = data_products(&d, 0, d.count), *strung;
  assert_int_equal(tenter_nested_products_new(2, 1, &strung, NULL), TENTER_OK);
  for (size_t i = 0; i < 3; i++) {
    tenter_nested_products *part = data_products(&d, cuts[i], cuts[i + 1]);
    assert_int_equal(tenter_nested_products_append(strung, part, NULL), TENTER_OK);
    tenter_nested_products_free(part);
  }
  assert_int_equal(tenter_nested_groups(strung), 6);
  assert_int_equal(tenter_nested_units(strung), 30);
  assert_int_equal(tenter_nested_blocks(strung), 2);
  for (size_t unit = 0; unit < 30; unit++)
    assert_int_equal(tenter_nested_unit_group(strung, unit), unit / 5);
  tenter_nested_fit a = fit_of(whole, NULL), b = fit_of(strung, NULL);
  same_fit(&a, &b, 1e-9);
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_nested_products_free(whole);
  tenter_nested_products_free(strung);
}

static tenter_nested_products *one_group(size_t terms, size_t block, uint64_t key,
                                         uint64_t unit_key) {
  const double u[3] = {0, 1, 2}, y[3] = {5, 4.2, 3.1};
  tenter_nested_products *p;
  assert_int_equal(tenter_nested_products_new(terms, 0, &p, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, block, key, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, unit_key, 3, u, y, NULL, NULL, NULL), TENTER_OK);
  return p;
}

static void test_merge_refuses(void **state) {
  tenter_nested_products *p = one_group(2, 0, 7, 1), *levels = one_group(1, 0, 7, 1);
  tenter_nested_products *elsewhere = one_group(2, 1, 7, 1), *twice = one_group(2, 0, 7, 1);
  const double u[1] = {0}, y[1] = {5};
  (void)state;
  assert_int_equal(tenter_nested_products_merge(p, levels, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_products_append(p, levels, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_products_append(p, elsewhere, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_products_merge(p, elsewhere, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_unit_add(twice, 1, 1, u, y, NULL, NULL, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_products_merge(twice, p, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_group_add(elsewhere, 1, 7, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_products_merge(p, elsewhere, NULL), TENTER_INPUT);
  assert_int_equal(tenter_nested_units(p), 1);
  assert_int_equal(tenter_nested_observations(p), 3);
  tenter_nested_products_free(p);
  tenter_nested_products_free(levels);
  tenter_nested_products_free(elsewhere);
  tenter_nested_products_free(twice);
}

/* ---- bytes ---- */

static void test_saved_and_loaded(void **state) {
  static nested_data d;
  tenter_buffer bytes = {0}, again = {0};
  tenter_nested_products *loaded, *none;
  (void)state;
  make(&d, 4, 3, 5, 5);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  tenter_nested_products_save(p, &bytes);
  assert_int_equal(tenter_nested_products_load(bytes.bytes, bytes.length, &loaded, NULL),
                   TENTER_OK);
  tenter_nested_products_save(loaded, &again);
  assert_int_equal(again.length, bytes.length);
  assert_memory_equal(again.bytes, bytes.bytes, bytes.length);
  for (size_t length = 0; length < bytes.length; length += 1 + length / 40)
    assert_int_equal(tenter_nested_products_load(bytes.bytes, length, &none, NULL), TENTER_INPUT);
  for (size_t at = 0; at < bytes.length; at += 1 + at / 40) { /* any damage is seen */
    bytes.bytes[at] = (char)(bytes.bytes[at] ^ 0x10);
    assert_int_equal(tenter_nested_products_load(bytes.bytes, bytes.length, &none, NULL),
                     TENTER_INPUT);
    bytes.bytes[at] = (char)(bytes.bytes[at] ^ 0x10);
  }
  tenter_buffer_release(&bytes);
  tenter_buffer_release(&again);
  tenter_nested_products_free(p);
  tenter_nested_products_free(loaded);
}

/* ---- what must not matter ---- */

/* 4000 units in 7 groups: several tasks, groups cut across them. */
static tenter_nested_products *many_units(void) {
  tenter_nested_products *p;
  uint64_t seed = 8;
  assert_int_equal(tenter_nested_products_new(2, 0, &p, NULL), TENTER_OK);
  for (size_t i = 0; i < 4000; i++) {
    double u[4], y[4], level = 20 + 0.5 * random_normal(&seed), slope = 0.2 * random_normal(&seed);
    if (i % 600 == 0)
      assert_int_equal(tenter_nested_group_add(p, i % 1200 / 600, i, NULL), TENTER_OK);
    for (size_t j = 0; j < 4; j++) {
      u[j] = random_uniform(&seed);
      y[j] = level + (double)(i / 600) + slope * u[j] + 0.1 * random_normal(&seed);
    }
    assert_int_equal(tenter_nested_unit_add(p, i, 4, u, y, NULL, NULL, NULL), TENTER_OK);
  }
  return p;
}

static void test_threads_change_nothing(void **state) {
  tenter_nested_products *p = many_units();
  tenter_pool *pool = tenter_pool_new(3);
  tenter_nested_line one, three;
  (void)state;
  tenter_nested_fit a = fit_of(p, NULL), b = fit_of(p, pool);
  assert_memory_equal(&a.components, &b.components, sizeof a.components);
  assert_memory_equal(&a.loglik, &b.loglik, sizeof a.loglik);
  assert_true(a.converged);
  for (size_t unit = 0; unit < 4000; unit += 97) {
    assert_true(tenter_nested_unit_line(a.solution, unit, NULL, &one));
    assert_true(tenter_nested_unit_line(b.solution, unit, NULL, &three));
    assert_memory_equal(&one, &three, sizeof one);
  }
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_pool_free(pool);
  tenter_nested_products_free(p);
}

/* u moved by 1000 and y by 1e6 move lines, and change nothing else. */
static void test_shifts_change_nothing(void **state) {
  static nested_data d;
  tenter_nested_line near, far;
  (void)state;
  make(&d, 6, 5, 7, 6);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  for (size_t i = 0; i < d.count; i++) {
    d.u[i] += 1000;
    d.y[i] += 1e6;
  }
  tenter_nested_products *moved = data_products(&d, 0, d.count);
  tenter_nested_fit a = fit_of(p, NULL), b = fit_of(moved, NULL);
  assert_close(b.loglik, a.loglik, 1e-9, 0);
  assert_close(b.components.residual, a.components.residual, 1e-6, 0);
  assert_close(b.components.group.slope, a.components.group.slope, 1e-5, 0);
  for (size_t unit = 0; unit < 30; unit++) {
    tenter_nested_unit_line(a.solution, unit, NULL, &near);
    tenter_nested_unit_line(b.solution, unit, NULL, &far);
    assert_close(far.slope, near.slope, 1e-6, 0);
    assert_close(far.cov.slope, near.cov.slope, 1e-5, 0);
    assert_close(far.level + 1000 * far.slope - 1e6, near.level, 1e-6, 0);
  }
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_nested_products_free(p);
  tenter_nested_products_free(moved);
}

/* ---- falling back ---- */

typedef struct shape {
  size_t terms, blocks, groups, units, rows; /* groups a block, units a group, rows a unit */
  tenter_nested_structure expected;
} shape;

static tenter_nested_products *shaped(const shape *s) {
  tenter_nested_products *p;
  uint64_t seed = 12;
  assert_int_equal(tenter_nested_products_new(s->terms, 0, &p, NULL), TENTER_OK);
  for (size_t g = 0; g < s->blocks * s->groups; g++) {
    double level = 20 + random_normal(&seed);
    assert_int_equal(tenter_nested_group_add(p, g % s->blocks, g, NULL), TENTER_OK);
    for (size_t k = 0; k < s->units; k++) {
      double u[8], y[8], own = level + random_normal(&seed);
      for (size_t j = 0; j < s->rows; j++) {
        u[j] = (double)j + random_uniform(&seed);
        y[j] = own - u[j] + 0.1 * random_normal(&seed);
      }
      assert_int_equal(tenter_nested_unit_add(p, k, s->rows, u, y, NULL, NULL, NULL), TENTER_OK);
    }
  }
  return p;
}

static void test_structure(void **state) {
  const tenter_nested_terms NONE = TENTER_NESTED_NONE, LEVEL = TENTER_NESTED_LEVEL,
                            LINE = TENTER_NESTED_LINE; /* asked for: lines at both */
  const shape shapes[] = {
      {2, 2, 4, 4, 5, {LINE, LINE, TENTER_NESTED_AS_ASKED, TENTER_NESTED_AS_ASKED}},
      {2, 1, 1, 6, 5, {NONE, LINE, TENTER_NESTED_ONE_GROUP, TENTER_NESTED_AS_ASKED}},
      {2, 4, 1, 6, 5, {NONE, LINE, TENTER_NESTED_ONE_GROUP, TENTER_NESTED_AS_ASKED}},
      {2, 1, 6, 1, 5, {NONE, LINE, TENTER_NESTED_ONE_UNIT_EACH, TENTER_NESTED_AS_ASKED}},
      {2, 1, 2, 4, 5, {LEVEL, LINE, TENTER_NESTED_NO_SLOPES, TENTER_NESTED_AS_ASKED}},
      {2, 1, 4, 4, 1, {LINE, NONE, TENTER_NESTED_AS_ASKED, TENTER_NESTED_ONE_READING_EACH}},
      {1, 1, 4, 4, 3, {LEVEL, LEVEL, TENTER_NESTED_NO_SLOPES, TENTER_NESTED_NO_SLOPES}},
      {2, 1, 1, 1, 5, {NONE, NONE, TENTER_NESTED_ONE_GROUP, TENTER_NESTED_FEW_UNITS}},
      {2, 1, 1, 2, 5, {NONE, LEVEL, TENTER_NESTED_ONE_GROUP, TENTER_NESTED_NO_SLOPES}},
  };
  (void)state;
  for (size_t k = 0; k < sizeof shapes / sizeof shapes[0]; k++) {
    tenter_nested_products *p = shaped(&shapes[k]);
    tenter_nested_structure s;
    tenter_nested_line line;
    assert_int_equal(tenter_nested_structure_find(p, &both_lines, &s, NULL), TENTER_OK);
    assert_int_equal(s.group, shapes[k].expected.group);
    assert_int_equal(s.unit, shapes[k].expected.unit);
    assert_int_equal(s.group_reason, shapes[k].expected.group_reason);
    assert_int_equal(s.unit_reason, shapes[k].expected.unit_reason);
    tenter_nested_fit fit = fit_of(p, NULL);
    assert_true(fit.converged);
    assert_memory_equal(&fit.structure, &s, sizeof s);
    assert_true(tenter_nested_unit_line(fit.solution, 0, NULL, &line));
    assert_true(line.cov.level > 0 && isfinite(line.level));
    tenter_nested_fit_release(&fit);
    tenter_nested_products_free(p);
  }
}

/* ---- too little ---- */

static void test_bad_observations(void **state) {
  const double u[2] = {0, 1}, y[2] = {1, NAN}, good[2] = {1, 2}, w[2] = {1, 0},
               inf[2] = {1, INFINITY};
  tenter_nested_products *p;
  tenter_nested_fit fit;
  tenter_error error;
  (void)state;
  assert_int_equal(tenter_nested_products_new(3, 0, &p, &error), TENTER_USAGE);
  assert_int_equal(tenter_nested_products_new(2, 33, &p, &error), TENTER_USAGE);
  assert_int_equal(tenter_nested_products_new(2, 0, &p, &error), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, u, good, NULL, NULL, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_fit_run(p, &both_lines, &fit, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_group_add(p, 0, 0, &error), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, u, y, NULL, NULL, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, inf, good, NULL, NULL, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, u, good, w, NULL, &error), TENTER_INPUT);
  assert_int_equal(tenter_nested_units(p), 0);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, u, good, NULL, NULL, &error), TENTER_OK);
  assert_int_equal(tenter_nested_fit_run(p, &both_lines, &fit, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "2 observations are too few"));
  tenter_nested_products_free(p);
}

/* Readings exactly on lines: nothing to judge by, and said so. */
static void test_no_residual(void **state) {
  tenter_nested_products *p;
  tenter_nested_fit fit;
  (void)state;
  for (int own = 0; own < 2; own++) { /* on one line, on a line a unit */
    assert_int_equal(tenter_nested_products_new(2, 0, &p, NULL), TENTER_OK);
    assert_int_equal(tenter_nested_group_add(p, 0, 0, NULL), TENTER_OK);
    for (size_t k = 0; k < 6; k++) {
      double u[4] = {0, 1, 2, 3}, y[4];
      for (size_t j = 0; j < 4; j++)
        y[j] = 20 - u[j] + own * (double)(k * k) * (1 + 0.1 * u[j]);
      assert_int_equal(tenter_nested_unit_add(p, k, 4, u, y, NULL, NULL, NULL), TENTER_OK);
    }
    assert_int_equal(tenter_nested_fit_run(p, &both_lines, &fit, NULL), TENTER_INPUT);
    tenter_nested_products_free(p);
  }
}

static void test_bad_components(void **state) {
  tenter_nested_products *p = one_group(2, 0, 7, 1);
  tenter_nested_solution *s;
  const tenter_nested_components bad[4] = {
      {0, {1, 0, 1}, {0, 0, 0}},
      {1, {1, 2, 1}, {0, 0, 0}},
      {1, {0, 0, 0}, {-1, 0, 1}},
      {NAN, {0, 0, 0}, {0, 0, 0}},
  };
  (void)state;
  for (size_t k = 0; k < 4; k++)
    assert_int_equal(tenter_nested_solve(p, &bad[k], NULL, &s, NULL), TENTER_USAGE);
  tenter_nested_products_free(p);
}

/* A correlation of one whose level is nearly nil, as a fit gave it on another origin: cross^2 /
 * level is over the slope by 1e-6 of it, which is rounding of the level. */
static void test_components_to_rounding(void **state) {
  tenter_nested_products *p = one_group(2, 0, 7, 1);
  tenter_nested_solution *s;
  const tenter_nested_components good[2] = {
      {0.889945, {1.14249e-10, 1.18862e-06, 0.0123661}, {0.378439, -0.0301856, 0.0410524}},
      {1, {-1e-18, 0, 0.01}, {1, 0, 0}}};
  (void)state;
  for (size_t k = 0; k < 2; k++) {
    assert_int_equal(tenter_nested_solve(p, &good[k], NULL, &s, NULL), TENTER_OK);
    assert_true(isfinite(tenter_nested_loglik(s, false)));
    tenter_nested_solution_free(s);
  }
  tenter_nested_products_free(p);
}

/* ---- slopes that can't be told, covariates that can't ---- */

/* Block 0 has two readings at u = 2 only; block 1 has lines; block 2 nothing. */
static void test_slope_prior(void **state) {
  const double same[2] = {2, 2}, u[4] = {0, 1, 2, 3}, y[4] = {20, 18.9, 18.2, 16.8};
  const tenter_nested_components c = {0.04, {0, 0, 0}, {0, 0, 0}};
  tenter_nested_products *p;
  tenter_nested_solution *s;
  tenter_nested_line line;
  (void)state;
  assert_int_equal(tenter_nested_products_new(2, 0, &p, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, 0, 0, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, 0, 2, same, y, NULL, NULL, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, 2, 1, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, 1, 2, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_unit_add(p, 0, 4, u, y, NULL, NULL, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_solve(p, &c, NULL, &s, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_rank(s), 3);
  assert_false(tenter_nested_block_line(s, 0, NULL, &line));
  assert_true(isnan(line.level) && isnan(line.cov.slope));
  assert_true(tenter_nested_block_line(s, 1, NULL, &line));
  assert_false(tenter_nested_block_line(s, 2, NULL, &line));
  tenter_nested_slope_prior(s, -1.5, 0.3);
  assert_true(tenter_nested_block_line(s, 0, NULL, &line));
  /* level at u = 2 is 19.45 with variance 0.04 / 2; the prior turns the line about it */
  assert_close(line.slope, -1.5, 1e-12, 0);
  assert_close(line.level, 19.45 + 3, 1e-12, 0);
  assert_close(line.cov.slope, 0.09, 1e-12, 0);
  assert_close(line.cov.cross, -0.18, 1e-12, 0);
  assert_close(line.cov.level, 0.02 + 4 * 0.09, 1e-12, 0);
  assert_false(tenter_nested_block_line(s, 2, NULL, &line));
  tenter_nested_solution_free(s);
  tenter_nested_products_free(p);
}

/* Three readings at one u a unit, whose mean, in floating point, isn't that u (0.1, 0.2, 0.7): no
 * slope of a unit comes of the rounding. */
static void test_one_u_despite_rounding(void **state) {
  tenter_nested_products *p;
  tenter_nested_structure s;
  uint64_t seed = 2;
  (void)state;
  assert_int_equal(tenter_nested_products_new(2, 0, &p, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_group_add(p, 0, 0, NULL), TENTER_OK);
  for (size_t k = 1; k <= 9; k++) {
    double at = (double)k / 10, u[3] = {at, at, at}, y[3];
    for (size_t j = 0; j < 3; j++)
      y[j] = 20 + random_normal(&seed);
    assert_int_equal(tenter_nested_unit_add(p, k, 3, u, y, NULL, NULL, NULL), TENTER_OK);
  }
  assert_int_equal(tenter_nested_structure_find(p, &both_lines, &s, NULL), TENTER_OK);
  assert_int_equal(s.unit, TENTER_NESTED_LEVEL);
  assert_int_equal(s.unit_reason, TENTER_NESTED_NO_SLOPES);
  tenter_nested_products_free(p);
}

/* The second covariate is the first doubled, plus the level: left out, and said so. */
static void test_aliased_covariate(void **state) {
  static nested_data d, twice;
  double value, se, only, only_se;
  (void)state;
  make(&d, 5, 4, 6, 21);
  twice = d;
  twice.covariates = 2;
  for (size_t i = 0; i < d.count; i++) {
    twice.x[2 * i] = d.x[i];
    twice.x[2 * i + 1] = 2 * d.x[i] + 5;
  }
  tenter_nested_products *p = data_products(&d, 0, d.count);
  tenter_nested_products *q = data_products(&twice, 0, d.count);
  tenter_nested_fit a = fit_of(p, NULL), b = fit_of(q, NULL);
  assert_true(tenter_nested_covariate(a.solution, 0, &only, &only_se));
  assert_true(tenter_nested_covariate(b.solution, 0, &value, &se));
  assert_close(value, only, 1e-8, 0);
  assert_close(se, only_se, 1e-8, 0);
  assert_false(tenter_nested_covariate(b.solution, 1, &value, &se));
  assert_true(isnan(value) && isnan(se));
  assert_int_equal(b.rank, 5);
  same_fit(&a, &b, 1e-7);
  tenter_nested_fit_release(&a);
  tenter_nested_fit_release(&b);
  tenter_nested_products_free(p);
  tenter_nested_products_free(q);
}

/* ---- one observation at a time ---- */

/* Against (C^-1 + Z'WZ / s2)^-1 and its mean, written out. */
static void test_line_update(void **state) {
  const double u[3] = {-1, 0.5, 2}, y[3] = {21, 19.5, 18}, w[3] = {1, 2, 0.5}, s2 = 0.09;
  tenter_nested_line line = {20, -1.2, {0.5, -0.1, 0.2}};
  double det = 0.5 * 0.2 - 0.01, a = 0.2 / det, b = 0.1 / det, c = 0.5 / det; /* C^-1 */
  double f = a * 20 + b * -1.2, g = b * 20 + c * -1.2;
  (void)state;
  for (size_t j = 0; j < 3; j++) {
    double i = w[j] / s2;
    a += i, b += i * u[j], c += i * u[j] * u[j];
    f += i * y[j], g += i * u[j] * y[j];
  }
  det = a * c - b * b;
  tenter_nested_line_update(&line, s2, 3, u, y, w);
  assert_close(line.cov.level, c / det, 1e-10, 0);
  assert_close(line.cov.cross, -b / det, 1e-10, 0);
  assert_close(line.cov.slope, a / det, 1e-10, 0);
  assert_close(line.level, (c * f - b * g) / det, 1e-10, 0);
  assert_close(line.slope, (a * g - b * f) / det, 1e-10, 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_parts_add_up),           cmocka_unit_test(test_groups_are_appended),
      cmocka_unit_test(test_stretches_are_strung),   cmocka_unit_test(test_merge_refuses),
      cmocka_unit_test(test_saved_and_loaded),       cmocka_unit_test(test_threads_change_nothing),
      cmocka_unit_test(test_shifts_change_nothing),  cmocka_unit_test(test_structure),
      cmocka_unit_test(test_bad_observations),       cmocka_unit_test(test_no_residual),
      cmocka_unit_test(test_bad_components),         cmocka_unit_test(test_slope_prior),
      cmocka_unit_test(test_aliased_covariate),      cmocka_unit_test(test_line_update),
      cmocka_unit_test(test_one_u_despite_rounding), cmocka_unit_test(test_components_to_rounding),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
