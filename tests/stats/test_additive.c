/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The additive model against MASS's rlm and Henderson's method 3 from lm on an unbalanced, partly
 * misread set (tests/oracle/numerics/numerics.R), by identity on complete layouts, and on simulated
 * shops of known truth. */
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/additive.h"

enum { READINGS = 200, SESSIONS = 40, POINTS = 7, COLUMN_VALUE = 3, COLUMN_WRONG = 5 };

/* A small set with room of its own. */
typedef struct set {
  double value[READINGS], weight[READINGS];
  uint16_t point[READINGS];
  uint32_t first[SESSIONS], length[SESSIONS], group[SESSIONS];
  size_t readings;
  tenter_additive_data data;
} set;

static void set_open(set *s) {
  memset(s, 0, sizeof *s);
  s->data = (tenter_additive_data){.first = s->first,
                                   .length = s->length,
                                   .group = s->group,
                                   .points = POINTS,
                                   .value = s->value,
                                   .point = s->point};
}

static void set_session(set *s, uint32_t group) {
  s->first[s->data.sessions] = (uint32_t)s->readings;
  s->group[s->data.sessions++] = group;
}

static void set_reading(set *s, uint16_t point, double value, double weight) {
  s->point[s->readings] = point;
  s->value[s->readings] = value;
  s->weight[s->readings++] = weight;
  s->length[s->data.sessions - 1]++;
}

static void load(set *s, size_t column) {
  rows r;
  double session = 0;
  set_open(s);
  rows_open(&r, "numerics/additive.csv");
  while (rows_next(&r)) {
    if (rows_number(&r, 0) != session)
      set_session(s, (uint32_t)rows_number(&r, 1));
    session = rows_number(&r, 0);
    set_reading(s, (uint16_t)(rows_number(&r, 2) - 1), rows_number(&r, column), rows_number(&r, 4));
  }
}

static double expected(const char *which, const char *quantity, size_t point) {
  char name[32];
  rows r;
  double value = NAN;
  snprintf(name, sizeof name, point ? "%s%zu" : "%s", quantity, point);
  rows_open(&r, "numerics/additive_expected.csv");
  while (rows_next(&r))
    if (rows_is(&r, 0, which) && rows_is(&r, 1, name))
      value = rows_number(&r, 2);
  assert_true(!isnan(value));
  return value;
}

static tenter_additive_fit fit_of(const set *s) {
  tenter_additive_fit fit;
  tenter_error error;
  tenter_status status = tenter_additive_run(&s->data, NULL, &fit, &error);
  if (status)
    print_message("%s\n", error.message);
  assert_int_equal(status, TENTER_OK);
  return fit;
}

static void check(const char *which, const set *s, size_t left_out) {
  tenter_additive_fit fit = fit_of(s);
  assert_true(fit.converged);
  assert_int_equal(fit.parts, 1);
  assert_int_equal(fit.left_out, left_out);
  assert_close(fit.sd_residual, expected(which, "scale", 0), 1e-6, 0);
  for (size_t i = 0; i < POINTS; i++) {
    assert_close(fit.effect[i], expected(which, "effect", i + 1), 0, 2e-7);
    assert_close(fit.effect_se[i], expected(which, "se", i + 1), 1e-9, 0);
  }
  assert_close(fit.sd_reading, expected(which, "sd_reading", 0), 1e-9, 0);
  assert_close(fit.df_reading, expected(which, "df_reading", 0), 0, 0);
  assert_close(fit.sd_pattern, expected(which, "sd_pattern", 0), 1e-9, 0);
  assert_close(fit.df_pattern, expected(which, "df_pattern", 0), 1e-9, 0);
  print_message("%-8s %zu steps\n", which, fit.steps);
  assert_true(fit.steps <= 20);
  tenter_additive_fit_release(&fit);
}

static void test_r(void **state) {
  (void)state;
  set s;
  load(&s, COLUMN_VALUE);
  check("value", &s, 0);
  s.data.weight = s.weight;
  check("weighted", &s, 0);
  load(&s, COLUMN_WRONG);
  check("wrong", &s, 3);
}

/* Three misread numbers move no effect by more than a clipped residual would. */
static void test_bounded(void **state) {
  (void)state;
  set s;
  load(&s, COLUMN_VALUE);
  tenter_additive_fit clean = fit_of(&s);
  s.value[5] = -1e6;
  tenter_additive_fit wrong = fit_of(&s);
  for (size_t i = 0; i < POINTS; i++)
    assert_close(wrong.effect[i], clean.effect[i], 0, 0.1);
  assert_close(wrong.level[0], clean.level[0], 0, 0.5);
  assert_close(wrong.sd_reading, clean.sd_reading, 0.05, 0);
  assert_int_equal(wrong.left_out, 1);
  tenter_additive_fit_release(&clean);
  tenter_additive_fit_release(&wrong);
}

/* With complete equal layouts the offset of a session is nil, so its adjusted mean is the plain
 * one. */
static void test_complete(void **state) {
  (void)state;
  uint64_t seed = 31;
  set s;
  set_open(&s);
  for (uint32_t session = 0; session < 24; session++) {
    set_session(&s, session / 4);
    for (uint16_t point = 0; point < POINTS; point++)
      set_reading(&s, point, 22 + 0.4 * point + 0.3 * number_normal(&seed), 1);
  }
  s.value[60] = 2.2;
  tenter_additive_fit fit = fit_of(&s);
  double sum = 0;
  for (size_t i = 0; i < POINTS; i++)
    sum += fit.effect[i];
  assert_close(sum, 0, 0, 1e-14);
  for (size_t k = 0; k < 24; k++)
    assert_close(tenter_additive_offset(&fit, &s.point[s.first[k]], POINTS), 0, 0, 1e-14);
  tenter_additive_fit_release(&fit);
}

/* Numbers that fit exactly, but for one: effects come out exactly, and there is no scale. */
static void test_exact(void **state) {
  (void)state;
  set s;
  set_open(&s);
  for (uint32_t session = 0; session < 20; session++) {
    set_session(&s, session / 4);
    for (uint16_t point = 0; point < POINTS; point++)
      if ((session + point) % 3 != 0)
        set_reading(&s, point, 20 + 0.5 * session + (point - 3.0), 1);
  }
  tenter_additive_fit fit = fit_of(&s);
  for (size_t i = 0; i < POINTS; i++)
    assert_close(fit.effect[i], (double)i - 3, 0, 1e-10);
  assert_close(fit.sd_residual, 0, 0, 1e-10);
  assert_close(fit.sd_pattern, 0, 0, 1e-9);
  const uint16_t some[] = {0, 1, 1};
  assert_close(tenter_additive_offset(&fit, some, 3), (-3 - 2 - 2) / 3.0, 0, 1e-10);
  tenter_additive_fit_release(&fit);
}

/* Two layouts that share no point: two parts, each summing to zero; a point never read is NaN. */
static void test_parts(void **state) {
  (void)state;
  uint64_t seed = 32;
  set s;
  set_open(&s);
  for (uint32_t session = 0; session < 30; session++) {
    set_session(&s, session / 3);
    for (uint16_t point = session % 2 ? 0 : 3; point < (session % 2 ? 3 : 6); point++)
      set_reading(&s, point, 22 + point + 0.1 * number_normal(&seed), 1);
  }
  tenter_additive_fit fit = fit_of(&s);
  assert_int_equal(fit.parts, 2);
  assert_int_equal(fit.readings[6], 0);
  assert_true(isnan(fit.effect[6]) && isnan(fit.effect_se[6]));
  assert_close(fit.effect[0] + fit.effect[1] + fit.effect[2], 0, 0, 1e-13);
  assert_close(fit.effect[3] + fit.effect[4] + fit.effect[5], 0, 0, 1e-13);
  assert_close(fit.effect[5], 1, 0, 0.15);
  tenter_additive_fit_release(&fit);
}

/* What can't be told is NaN. */
static void test_few(void **state) {
  (void)state;
  set s;
  set_open(&s);
  tenter_additive_fit fit = fit_of(&s);
  assert_true(isnan(fit.effect[0]) && isnan(fit.sd_residual));
  tenter_additive_fit_release(&fit);
  set_session(&s, 0); /* without readings */
  set_session(&s, 1); /* with one */
  set_reading(&s, 2, 21.5, 1);
  fit = fit_of(&s);
  assert_true(isnan(fit.level[0]) && isnan(fit.sd_residual) && isnan(fit.sd_reading) &&
              isnan(fit.sd_pattern));
  assert_close(fit.level[1], 21.5, 1e-15, 0);
  assert_close(fit.effect[2], 0, 0, 0);
  tenter_additive_fit_release(&fit);
  for (uint32_t session = 2; session < 6; session++) { /* nothing repeated: no sd of either */
    set_session(&s, session);
    for (uint16_t point = 0; point < 3; point++)
      set_reading(&s, point, 20 + point + 0.1 * (session * point % 3), 1);
  }
  fit = fit_of(&s);
  assert_true(fit.sd_residual > 0);
  assert_true(isnan(fit.sd_reading) && isnan(fit.sd_pattern));
  assert_true(fit.effect_se[0] > 0);
  tenter_additive_fit_release(&fit);
}

/* Sessions without readings, more than there are blocks, change nothing wherever they stand. */
static void test_empty_sessions(void **state) {
  (void)state;
  enum { EMPTY = 300, READ = 3 };
  static const double value[] = {20, 21, 22, 24, 18, 19.5};
  static const uint16_t point[] = {0, 1, 0, 1, 0, 1};
  uint32_t first[EMPTY + READ] = {0}, length[EMPTY + READ] = {0};
  tenter_additive_data data = {
      .first = first, .length = length, .points = 2, .value = value, .point = point};
  double effect = NAN;
  for (size_t before = 0; before <= EMPTY; before += EMPTY / 3) {
    memset(length, 0, sizeof length);
    for (uint32_t s = 0; s < READ; s++) {
      first[before + s] = 2 * s;
      length[before + s] = 2;
    }
    data.sessions = before == 0 ? READ : EMPTY + READ;
    for (int again = 0; again < 2; again++, data.sessions = EMPTY + READ) {
      tenter_additive_fit fit;
      assert_int_equal(tenter_additive_run(&data, NULL, &fit, NULL), TENTER_OK);
      effect = isnan(effect) ? fit.effect[0] : effect;
      assert_close(fit.effect[0], effect, 1e-12, 0);
      tenter_additive_fit_release(&fit);
    }
  }
}

static void test_refused(void **state) {
  (void)state;
  tenter_additive_fit fit;
  tenter_error error;
  set s;
  load(&s, COLUMN_VALUE);
  s.value[12] = INFINITY;
  assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "session 2, reading 0 "));
  s.value[12] = 20;
  s.point[12] = POINTS;
  assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, &error), TENTER_INPUT);
  s.point[12] = 0;
  s.data.weight = s.weight;
  s.weight[0] = 0;
  assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, &error), TENTER_INPUT);
  s.data.points = TENTER_ADDITIVE_POINTS + 1;
  assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, &error), TENTER_USAGE);
  tenter_additive_fit_release(NULL);
}

/* ---- shops of known truth ---- */

enum { SHOP_SESSIONS = 4000, SHOP_POINTS = 18, SHOP_READINGS = SHOP_SESSIONS * SHOP_POINTS };

typedef struct shop {
  double value[SHOP_READINGS], own[SHOP_SESSIONS][SHOP_POINTS];
  uint16_t point[SHOP_READINGS];
  uint32_t first[SHOP_SESSIONS], length[SHOP_SESSIONS], group[SHOP_SESSIONS];
  tenter_additive_data data;
} shop;

static double effect_of(size_t point) {
  return ((double)point - 8.5) / 8;
}

/* sd_reading 0.3, sd_pattern own; some sessions partial; one in 300 readings misread. */
static void make_shop(shop *s, uint64_t *seed, size_t sessions, double own) {
  size_t k = 0;
  s->data = (tenter_additive_data){sessions,    s->first, s->length, s->group,
                                   SHOP_POINTS, s->value, s->point,  NULL};
  for (size_t g = 0; g < sessions; g++)
    for (size_t i = 0; i < SHOP_POINTS; i++)
      s->own[g][i] = own * number_normal(seed);
  for (size_t i = 0; i < sessions; i++) {
    double level = 22 + number_normal(seed);
    size_t group = i / 5, count = number_uniform(seed) < 0.3 ? 9 : 18;
    s->first[i] = (uint32_t)k;
    s->length[i] = (uint32_t)count;
    s->group[i] = (uint32_t)group;
    for (size_t at = 0; at < count; at++, k++) {
      s->point[k] = (uint16_t)at;
      s->value[k] = level + effect_of(at) + s->own[group][at] + 0.3 * number_normal(seed) +
                    (number_uniform(seed) < 1 / 300.0 ? -19 : 0);
    }
  }
}

static void test_truth(void **state) {
  (void)state;
  static shop s;
  uint64_t seed = 33;
  make_shop(&s, &seed, SHOP_SESSIONS, 0.5);
  tenter_additive_fit fit, pooled;
  tenter_pool *pool = tenter_pool_new(3);
  assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, NULL), TENTER_OK);
  assert_int_equal(tenter_additive_run(&s.data, pool, &pooled, NULL), TENTER_OK);
  assert_close(fit.sd_reading, 0.3, 0.02, 0);
  assert_close(fit.sd_pattern, 0.5, 0.02, 0);
  assert_true(fit.left_out > 100 && fit.left_out < 400);
  /* bit for bit the same with three threads */
  assert_memory_equal(fit.effect, pooled.effect, SHOP_POINTS * sizeof *fit.effect);
  assert_memory_equal(fit.level, pooled.level, SHOP_SESSIONS * sizeof *fit.level);
  assert_memory_equal(&fit.sd_pattern, &pooled.sd_pattern, sizeof fit.sd_pattern);
  tenter_additive_fit_release(&fit);
  tenter_additive_fit_release(&pooled);
  tenter_pool_free(pool);
}

/* Effects lie within two standard errors as often as they should; sds are not biased. */
static void test_coverage(void **state) {
  (void)state;
  static shop s;
  uint64_t seed = 34;
  double hits = 0, trials = 0, reading = 0, pattern = 0;
  enum { SHOPS = 150 };
  for (int k = 0; k < SHOPS; k++) {
    make_shop(&s, &seed, 60, 0.5);
    tenter_additive_fit fit;
    assert_int_equal(tenter_additive_run(&s.data, NULL, &fit, NULL), TENTER_OK);
    for (size_t i = 0; i < SHOP_POINTS; i++) {
      hits += fabs(fit.effect[i] - effect_of(i)) <= 1.96 * fit.effect_se[i];
      trials++;
    }
    reading += fit.sd_reading * fit.sd_reading / SHOPS;
    pattern += fit.sd_pattern * fit.sd_pattern / SHOPS;
    tenter_additive_fit_release(&fit);
  }
  print_message("effects: 95 %% intervals hold the truth in %.1f %%; sd %.4f (0.3), %.4f (0.5)\n",
                100 * hits / trials, sqrt(reading), sqrt(pattern));
  assert_true(hits / trials > 0.925 && hits / trials < 0.975);
  assert_close(reading, 0.09, 0.01, 0);
  assert_close(pattern, 0.25, 0.03, 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_r),
                                     cmocka_unit_test(test_bounded),
                                     cmocka_unit_test(test_complete),
                                     cmocka_unit_test(test_exact),
                                     cmocka_unit_test(test_parts),
                                     cmocka_unit_test(test_few),
                                     cmocka_unit_test(test_empty_sessions),
                                     cmocka_unit_test(test_refused),
                                     cmocka_unit_test(test_truth),
                                     cmocka_unit_test(test_coverage)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
