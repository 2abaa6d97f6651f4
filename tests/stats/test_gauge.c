/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gauge studies against published ones: thermal impedance (Houf and Berman 1988, in Montgomery) and
 * the worked example of the AIAG manual, with values of R aov; agreement and Deming's line by hand.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "../../src/stats/gauge_internal.h"
#include "close.h"

enum { MOST = 100 };

typedef struct data {
  size_t count;
  uint32_t part[MOST], person[MOST];
  double value[MOST];
} data;

static void read_study(const char *name, data *d) {
  char path[512], row[256];
  snprintf(path, sizeof path, TEST_ORACLE "/gauge/%s.csv", name);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  d->count = 0;
  while (fgets(row, sizeof row, file)) {
    char who[8];
    unsigned part, trial;
    double y;
    if (sscanf(row, "%7[^,],%u,%u,%lf", who, &part, &trial, &y) != 4)
      continue;
    d->person[d->count] = (uint32_t)(*who >= 'A' ? *who - 'A' : *who - '1');
    d->part[d->count] = part - 1;
    d->value[d->count++] = y;
  }
  fclose(file);
  assert_int_equal(d->count, 90);
}

static double expected(const char *study, const char *quantity) {
  char row[256], start[128];
  FILE *file = fopen(TEST_ORACLE "/gauge/expected.csv", "r");
  assert_non_null(file);
  int length = snprintf(start, sizeof start, "%s,%s,", study, quantity);
  double value = NAN;
  while (fgets(row, sizeof row, file))
    if (strncmp(row, start, (size_t)length) == 0)
      value = atof(row + length);
  fclose(file);
  assert_true(value == value);
  return value;
}

static void check_table(const char *name, const tenter_gauge_study *s) {
  assert_close(s->part.squares, expected(name, "SS:part"), 1e-8, 0);
  assert_close(s->person.squares, expected(name, "SS:operator"), 1e-8, 0);
  assert_close(s->interaction.squares, expected(name, "SS:part:operator"), 1e-8, 0);
  assert_close(s->repeat.squares, expected(name, "SS:error"), 1e-8, 0);
  assert_close(s->repeat.df, expected(name, "df:error"), 0, 0);
  assert_close(s->interaction_p, expected(name, "p:part:operator"), 1e-8, 0);
}

static void test_thermal_impedance(void **state) {
  (void)state;
  data d;
  tenter_gauge_study s;
  tenter_error error = {0};
  read_study("grr_thermal_impedance", &d);
  assert_int_equal(tenter_gauge_study_run(d.count, d.part, d.person, d.value, 10, 3, &s, &error),
                   0);
  check_table("grr_thermal_impedance", &s);
  assert_false(s.pooled);
  assert_close(s.repeatability.variance,
               expected("grr_thermal_impedance", "var_full:repeatability"), 1e-8, 0);
  assert_close(s.interaction_part.variance,
               expected("grr_thermal_impedance", "var_full:interaction"), 1e-8, 0);
  assert_close(s.between_people.variance, expected("grr_thermal_impedance", "var_full:operator"),
               1e-8, 0);
  assert_close(s.between_parts.variance, expected("grr_thermal_impedance", "var_full:part"), 1e-8,
               0);
  assert_close(s.gauge.variance, expected("grr_thermal_impedance", "var_full:gauge(truncated)"),
               1e-8, 0);
  assert_close(s.total.variance, s.gauge.variance + s.between_parts.variance, 1e-12, 0);
  /* exact: 60 degrees of freedom, chi-square points 40.4817 and 83.2977 (tables) */
  assert_close(s.repeatability.sd_low, sqrt(30.66666667 / 83.2977), 1e-5, 0);
  assert_close(s.repeatability.sd_high, sqrt(30.66666667 / 40.4817), 1e-5, 0);
}

static void test_aiag(void **state) {
  (void)state;
  data d;
  tenter_gauge_study s;
  tenter_error error = {0};
  read_study("grr_aiag", &d);
  assert_int_equal(tenter_gauge_study_run(d.count, d.part, d.person, d.value, 10, 3, &s, &error),
                   0);
  check_table("grr_aiag", &s);
  assert_true(s.pooled);
  assert_close(s.repeatability.sd, expected("grr_aiag", "sd_pooled:repeatability"), 1e-8, 0);
  assert_close(s.reproducibility.sd, expected("grr_aiag", "sd_pooled:operator"), 1e-8, 0);
  assert_close(s.between_parts.sd, expected("grr_aiag", "sd_pooled:part"), 1e-8, 0);
  assert_close(s.gauge.sd, expected("grr_aiag", "sd_pooled:GRR"), 1e-8, 0);
  assert_close(s.total.sd, expected("grr_aiag", "sd_pooled:total"), 1e-8, 0);
  assert_close(100 * s.share_of_study, expected("grr_aiag", "pct_GRR_pooled"), 1e-8, 0);
  assert_close(s.classes, expected("grr_aiag", "ndc_pooled=1.41*PV/GRR"), 1e-8, 0);
}

/* ---- not balanced ---- */

static double recorded(const char *study, const char *quantity) {
  char row[256], start[128];
  FILE *file = fopen(TEST_ORACLE "/gauge/unbalanced.csv", "r");
  assert_non_null(file);
  int length = snprintf(start, sizeof start, "%s,%s,", study, quantity);
  double value = NAN;
  while (fgets(row, sizeof row, file))
    if (strncmp(row, start, (size_t)length) == 0)
      value = atof(row + length);
  fclose(file);
  assert_true(value == value);
  return value;
}

static void leave_out(data *d, bool (*out)(const data *d, size_t i)) {
  data kept = {0};
  for (size_t i = 0; i < d->count; i++)
    if (!out(d, i)) {
      kept.part[kept.count] = d->part[i];
      kept.person[kept.count] = d->person[i];
      kept.value[kept.count++] = d->value[i];
    }
  *d = kept;
}

/* The rows that tests/oracle/gauge/unbalanced.R leaves out. */
static bool out_of_thermal(const data *d, size_t i) {
  return (i + 1) % 7 == 0 || (i + 1) % 11 == 0 || (d->person[i] == 1 && d->part[i] == 2);
}

static bool out_of_aiag(const data *d, size_t i) {
  (void)d;
  return (i + 1) % 5 == 0;
}

/* lme4 1.1-31, REML: tests/oracle/gauge/unbalanced.R. */
static void check_recorded(const char *name, const tenter_gauge_study *s) {
  assert_false(s->balanced);
  assert_int_equal(s->repeats, 0);
  assert_close(s->log_likelihood, recorded(name, "logLik"), 0, 1e-6);
  assert_close(s->mean, recorded(name, "mean"), 1e-6, 0);
  assert_close(s->repeatability.variance, recorded(name, "var:Residual"), 1e-5, 0);
  assert_close(s->between_people.variance, recorded(name, "var:op"), 1e-4, 0);
  assert_close(s->between_parts.variance, recorded(name, "var:part"), 1e-4, 0);
  assert_close(s->gauge.variance + s->between_parts.variance, s->total.variance, 1e-12, 0);
}

static void test_unbalanced(void **state) {
  (void)state;
  data d;
  tenter_gauge_study s;
  tenter_error error = {0};
  read_study("grr_thermal_impedance", &d);
  leave_out(&d, out_of_thermal);
  assert_int_equal(tenter_gauge_study_run(d.count, d.part, d.person, d.value, 10, 3, &s, &error),
                   0);
  assert_false(s.pooled);
  check_recorded("thermal", &s);
  assert_close(s.interaction_part.variance, recorded("thermal", "var:part:op"), 1e-4, 0);
  read_study("grr_aiag", &d);
  leave_out(&d, out_of_aiag);
  assert_int_equal(tenter_gauge_study_run(d.count, d.part, d.person, d.value, 10, 3, &s, &error),
                   0);
  assert_true(s.pooled);
  check_recorded("aiag", &s);
}

/* A balanced study by likelihood: the variances of the method of moments, the same intervals
 * (restricted maximum likelihood solves the same equations where none is below zero; its
 * information is that of the mean squares: Searle, Casella, McCulloch 1992, chapter 4); lme4's
 * log-likelihood. */
static void test_balanced_by_likelihood(void **state) {
  (void)state;
  data d;
  tenter_gauge_study s, r = {.parts = 10, .people = 3};
  tenter_error error = {0};
  double mean[30] = {0};
  size_t count[30];
  read_study("grr_thermal_impedance", &d);
  assert_int_equal(tenter_gauge_study_run(d.count, d.part, d.person, d.value, 10, 3, &s, &error),
                   0);
  assert_true(s.balanced);
  for (size_t i = 0; i < 30; i++)
    count[i] = 3;
  for (size_t i = 0; i < d.count; i++)
    mean[d.part[i] * 3 + d.person[i]] += d.value[i] / 3;
  gauge_data all = {d.count, 10, 3, d.part, d.person, d.value};
  assert_int_equal(gauge__unbalanced(&all, mean, count, &r, &error), 0);
  assert_close(r.log_likelihood, expected("grr_thermal_impedance", "logLik_REML"), 0, 1e-6);
  const tenter_gauge_part *const a[] = {
      &s.repeatability, &s.interaction_part, &s.between_people, &s.reproducibility,
      &s.gauge,         &s.between_parts,    &s.total};
  const tenter_gauge_part *const b[] = {
      &r.repeatability, &r.interaction_part, &r.between_people, &r.reproducibility,
      &r.gauge,         &r.between_parts,    &r.total};
  for (size_t i = 0; i < 7; i++) {
    assert_close(b[i]->variance, a[i]->variance, 1e-4, 0);
    assert_close(b[i]->sd_low, a[i]->sd_low, 1e-3, 0);
    assert_close(b[i]->sd_high, a[i]->sd_high, 2e-3, 0);
  }
}

/* Each person with parts of their own; nothing read twice; one part. */
static void test_tells_too_little(void **state) {
  (void)state;
  const uint32_t own[] = {0, 0, 1, 1, 2, 2, 3, 3}, two[] = {0, 0, 0, 0, 1, 1, 1, 1};
  const uint32_t turn[] = {0, 1, 0, 1, 0, 1, 0, 1}, all[] = {0, 0, 0, 0, 0, 0, 0, 0};
  const double y[] = {1, 2, 4, 3, 6, 5, 8, 9};
  tenter_gauge_study s;
  tenter_error error = {0};
  assert_int_equal(tenter_gauge_study_run(8, own, two, y, 4, 2, &s, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "same points"));
  assert_int_equal(tenter_gauge_study_run(8, own, turn, y, 4, 2, &s, &error), TENTER_INPUT);
  assert_int_equal(tenter_gauge_study_run(8, all, turn, y, 1, 2, &s, &error), TENTER_INPUT);
}

/* The bias and linearity example of the AIAG manual; values of R lm, printed figures agree. */
static void test_linearity(void **state) {
  (void)state;
  char row[256];
  double value[MOST], error[MOST], y, low, high;
  size_t n = 0;
  FILE *file = fopen(TEST_ORACLE "/gauge/linearity_aiag.csv", "r");
  assert_non_null(file);
  while (fgets(row, sizeof row, file))
    if (sscanf(row, "%lf,%lf", &value[n], &y) == 2) {
      error[n] = y - value[n];
      n++;
    }
  fclose(file);
  assert_int_equal(n, 60);
  tenter_gauge_linearity f;
  assert_true(tenter_gauge_linearity_fit(n, value, error, &f));
  static const char study[] = "linearity_aiag";
  assert_close(f.level, expected(study, "intercept"), 1e-8, 0);
  assert_close(f.slope, expected(study, "slope"), 1e-8, 0);
  assert_close(f.level_se, expected(study, "se_intercept"), 1e-8, 0);
  assert_close(f.slope_se, expected(study, "se_slope"), 1e-8, 0);
  assert_close(f.sd, expected(study, "s"), 1e-8, 0);
  assert_true(f.slope_p < 1e-15);
  for (int at = 2; at <= 10; at += 2) {
    char quantity[32];
    tenter_gauge_linearity_at(&f, at, &low, &high);
    snprintf(quantity, sizeof quantity, "ci95 lower at %d", at);
    assert_close(low, expected(study, quantity), 1e-7, 0);
    snprintf(quantity, sizeof quantity, "ci95 upper at %d", at);
    assert_close(high, expected(study, quantity), 1e-7, 0);
  }
  assert_false(tenter_gauge_linearity_fit(2, value, error, &f));
  assert_false(tenter_gauge_linearity_fit(5, value, error, &f)); /* all on 2 */
  assert_true(isnan(f.slope) && isnan(f.sd));
}

/* Differences 1, 2, 3: mean 2, sd 1. */
static void test_agreement(void **state) {
  (void)state;
  const double x[] = {11, 22, 33}, y[] = {10, 20, 30};
  tenter_gauge_agreement a = tenter_gauge_agree(3, x, y);
  assert_close(a.mean, 2, 1e-12, 0);
  assert_close(a.sd, 1, 1e-12, 0);
  assert_close(a.low, 0.04, 1e-12, 0);
  assert_close(a.mean_se, 1 / sqrt(3), 1e-12, 0);
}

/* Exact line 1 + 2 x. Then x = 0, 1, 2, y = 0, 2, 1: xx = 2, yy = 2, xy = 1, ratio 1: slope
 * (0 + sqrt(0 + 4)) / 2 = 1, level 0: the axis of the two, as xx = yy. And exchanged gauges give
 * the same line the other way round. */
static void test_deming(void **state) {
  (void)state;
  const double x[] = {0, 1, 2, 5}, y[] = {1, 3, 5, 11}, u[] = {0, 1, 2}, v[] = {0, 2, 1};
  const double p[] = {1, 2.1, 2.9, 4.2, 5}, q[] = {1.2, 1.9, 3.3, 4.1, 5.4};
  tenter_gauge_deming f, g;
  assert_true(tenter_gauge_deming_fit(4, x, y, 1, &f));
  assert_close(f.slope, 2, 1e-12, 0);
  assert_close(f.level, 1, 1e-12, 0);
  assert_close(f.slope_se, 0, 0, 1e-12);
  assert_true(tenter_gauge_deming_fit(3, u, v, 1, &f));
  assert_close(f.slope, 1, 1e-12, 0);
  assert_close(f.level, 0, 0, 1e-12);
  /* Without one of them the line goes through the other two: slopes -1, 1/2, 2 and levels 3, 0, 0;
   * the jackknife's (n - 1) / n times the sum of squares about their mean is 3, and 4. */
  assert_close(f.slope_se, sqrt(3), 1e-12, 0);
  assert_close(f.level_se, 2, 1e-12, 0);
  tenter_gauge_deming_fit(5, p, q, 2, &f);
  tenter_gauge_deming_fit(5, q, p, 0.5, &g);
  assert_close(f.slope * g.slope, 1, 1e-12, 0);
  assert_false(tenter_gauge_deming_fit(2, x, y, 1, &f));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_thermal_impedance), cmocka_unit_test(test_aiag),
      cmocka_unit_test(test_unbalanced),        cmocka_unit_test(test_balanced_by_likelihood),
      cmocka_unit_test(test_tells_too_little),  cmocka_unit_test(test_linearity),
      cmocka_unit_test(test_agreement),         cmocka_unit_test(test_deming)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
