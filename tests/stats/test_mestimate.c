/* SPDX-License-Identifier: GPL-3.0-or-later */
/* M-estimation against MASS 7.3-58.2 rlm (tests/oracle/nls/rlm_expected.csv; the Huber coefficients
 * of stackloss are printed in Venables and Ripley 2002), a hand-computed location, and identities.
 */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/stats/mestimate.h"

enum { ROWS = 32, COLUMNS = 4 };

typedef struct table {
  size_t n, p;
  double x[ROWS * COLUMNS], y[ROWS];
} table;

static FILE *open_oracle(const char *name) {
  char path[1024], line[1024];
  snprintf(path, sizeof path, "%s/nls/%s", TEST_ORACLE, name);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  assert_non_null(fgets(line, sizeof line, file));
  assert_non_null(fgets(line, sizeof line, file));
  return file;
}

/* Reads regressors columns and the response; the intercept is put first. */
static table load(const char *name, size_t regressors) {
  table t = {.p = regressors + 1};
  double rows[ROWS][COLUMNS];
  char line[1024];
  FILE *file = open_oracle(name);
  while (fgets(line, sizeof line, file)) {
    double *v = rows[t.n];
    int got = sscanf(line, "%lf,%lf,%lf,%lf", &v[0], &v[1], &v[2], &v[3]);
    assert_int_equal(got, (int)regressors + 1);
    t.n++;
  }
  fclose(file);
  for (size_t i = 0; i < t.n; i++) {
    t.x[i] = 1;
    for (size_t k = 0; k < regressors; k++)
      t.x[(k + 1) * t.n + i] = rows[i][k];
    t.y[i] = rows[i][regressors];
  }
  return t;
}

static double expected(const char *set, const char *analysis, const char *quantity) {
  char line[1024], s[32], a[32], q[64];
  double value, found = NAN;
  FILE *file = open_oracle("rlm_expected.csv");
  while (fgets(line, sizeof line, file))
    if (sscanf(line, "%31[^,],%31[^,],%63[^,],%lf", s, a, q, &value) == 4 && !strcmp(s, set) &&
        !strcmp(a, analysis) && !strcmp(q, quantity))
      found = value;
  fclose(file);
  return found;
}

/* Weights are in the file where they differ from 1 (Huber) or for all points (bisquare). */
static size_t compare_weights(const char *analysis, const double *robust, size_t n) {
  size_t compared = 0;
  for (size_t i = 0; i < n; i++) {
    char quantity[32];
    snprintf(quantity, sizeof quantity, "weight obs %zu", i + 1);
    double value = expected("stackloss", analysis, quantity);
    assert_close(robust[i], isnan(value) ? 1 : value, 1e-6, 0);
    compared += isnan(value) ? 0 : 1;
  }
  return compared;
}

static void stackloss(void **state) {
  (void)state;
  static const struct {
    tenter_psi psi;
    const char *name;
    size_t weights;
  } cases[] = {{TENTER_PSI_HUBER, "huber", 3}, {TENTER_PSI_BISQUARE, "bisquare", 21}};
  static const char *const names[] = {"(Intercept)", "Air.Flow", "Water.Temp", "Acid.Conc."};
  table t = load("stackloss.csv", 3);
  double robust[ROWS];
  assert_int_equal(t.n, 21);
  for (size_t c = 0; c < 2; c++) {
    tenter_mestimate m;
    assert_int_equal(
        tenter_mestimate_fit(cases[c].psi, false, t.n, t.p, t.x, t.y, NULL, robust, &m, NULL),
        TENTER_OK);
    assert_true(m.converged);
    for (size_t k = 0; k < 4; k++) {
      char se[32];
      snprintf(se, sizeof se, "se:%s", names[k]);
      assert_close(m.coefficient[k], expected("stackloss", cases[c].name, names[k]), 1e-8, 0);
      assert_close(m.se[k], expected("stackloss", cases[c].name, se), 1e-8, 0);
    }
    assert_close(m.scale, expected("stackloss", cases[c].name, "scale s (MAD)"), 1e-8, 0);
    assert_int_equal(compare_weights(cases[c].name, robust, t.n), cases[c].weights);
  }
}

/* From least squares the bisquare keeps a bad solution of phones (known of this set); rlm's values.
 */
static void phones(void **state) {
  (void)state;
  table t = load("phones.csv", 1);
  tenter_mestimate m;
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_HUBER, false, t.n, 2, t.x, t.y, NULL, NULL, &m, NULL),
      TENTER_OK);
  assert_close(m.coefficient[0], expected("phones", "huber", "intercept"), 1e-8, 0);
  assert_close(m.coefficient[1], expected("phones", "huber", "slope"), 1e-8, 0);
  assert_close(m.scale, expected("phones", "huber", "scale s"), 1e-8, 0);
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_BISQUARE, false, t.n, 2, t.x, t.y, NULL, NULL, &m, NULL),
      TENTER_OK);
  assert_close(m.coefficient[0], expected("phones", "bisquare", "intercept"), 1e-7, 0);
  assert_close(m.coefficient[1], expected("phones", "bisquare", "slope"), 1e-7, 0);
}

/* By hand, from the definitions in the header: u = 2 and u = 3. */
static void weights_by_hand(void **state) {
  (void)state;
  assert_close(tenter_psi_weight(TENTER_PSI_HUBER, 1.345), 1, 0, 0);
  assert_close(tenter_psi_weight(TENTER_PSI_HUBER, -2), 0.6725, 1e-15, 0);
  assert_close(tenter_psi_weight(TENTER_PSI_BISQUARE, 5), 0, 0, 0);
  assert_close(tenter_psi_weight(TENTER_PSI_BISQUARE, 2.3425), 0.5625, 1e-15, 0); /* (3/4)^2 */
  assert_close(tenter_psi_weight(TENTER_PSI_NONE, 9), 1, 0, 0);
  for (int psi = TENTER_PSI_NONE; psi <= TENTER_PSI_BISQUARE; psi++) {
    assert_true(isnan(tenter_psi_weight((tenter_psi)psi, NAN)));
    for (double u = -5.05; u < 5.1; u += 0.1) { /* psi = u w(u); central difference */
      double h = 1e-6, slope = ((u + h) * tenter_psi_weight((tenter_psi)psi, u + h) -
                                (u - h) * tenter_psi_weight((tenter_psi)psi, u - h)) /
                               (2 * h);
      assert_close(tenter_psi_slope((tenter_psi)psi, u), slope, 1e-7, 1e-7);
    }
  }
  double scratch[5];
  assert_close(tenter_mad_scale((const double[]){-1, 2, -3, 4, 100}, 5, scratch), 3 / 0.6745, 1e-15,
               0);
  assert_close(tenter_mad_scale((const double[]){-1, 2, -3, 4}, 4, scratch), 2.5 / 0.6745, 1e-15,
               0);
  assert_true(isnan(tenter_mad_scale(NULL, 0, scratch)));
}

/* A whole weight of k is k equal points: same coefficients under least squares; the scale and the
 * unit of y go through; a wild point does not move the bisquare. */
static void identities(void **state) {
  (void)state;
  double x[24], y[12], x2[26], y2[13], prior[12];
  for (size_t i = 0; i < 12; i++) {
    x[i] = x2[i] = 1;
    x[12 + i] = (double)i;
    y[i] = y2[i] = 20 - 0.3 * (double)i + 0.1 * sin(7.0 * (double)i);
    prior[i] = i == 4 ? 2 : 1;
  }
  x2[12] = 1;
  memcpy(x2 + 13, x + 12, 12 * sizeof *x);
  x2[25] = x[12 + 4];
  y2[12] = y[4];
  tenter_mestimate a, b;
  assert_int_equal(tenter_mestimate_fit(TENTER_PSI_NONE, false, 12, 2, x, y, prior, NULL, &a, NULL),
                   TENTER_OK);
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_NONE, false, 13, 2, x2, y2, NULL, NULL, &b, NULL), TENTER_OK);
  for (size_t k = 0; k < 2; k++)
    assert_close(a.coefficient[k], b.coefficient[k], 1e-12, 0);
  double robust[12];
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_BISQUARE, true, 12, 2, x, y, NULL, NULL, &a, NULL),
      TENTER_OK);
  y[6] = 2.25;
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_BISQUARE, true, 12, 2, x, y, NULL, robust, &b, NULL),
      TENTER_OK);
  assert_close(robust[6], 0, 0, 0);
  assert_close(b.coefficient[0], a.coefficient[0], 0, 0.05);
  for (size_t i = 0; i < 12; i++)
    y[i] *= 1000;
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_BISQUARE, true, 12, 2, x, y, NULL, robust, &a, NULL),
      TENTER_OK);
  assert_close(a.coefficient[1], 1000 * b.coefficient[1], 1e-9, 0);
  assert_close(a.se[1], 1000 * b.se[1], 1e-9, 0);
}

static void refusals(void **state) {
  (void)state;
  double x[8] = {1, 1, 1, 1, 2, 2, 2, 2}, y[4] = {1, 2, 3, 4}, weight[4] = {1, 1, -1, 1};
  tenter_mestimate m;
  tenter_error error = {0};
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_HUBER, false, 4, 2, x, y, NULL, NULL, &m, &error),
      TENTER_INPUT);
  assert_non_null(strstr(error.message, "depend"));
  x[7] = 3;
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_HUBER, false, 4, 2, x, y, weight, NULL, &m, &error),
      TENTER_INPUT);
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_HUBER, false, 2, 2, x, y, NULL, NULL, &m, &error),
      TENTER_INPUT);
  y[0] = NAN;
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_HUBER, false, 4, 2, x, y, NULL, NULL, &m, &error),
      TENTER_INPUT);
  /* More than half met exactly: it stops at the line through them, and says so. */
  double level[5] = {1, 1, 1, 1, 1}, z[5] = {3, 3, 3, 3, 9};
  assert_int_equal(
      tenter_mestimate_fit(TENTER_PSI_BISQUARE, false, 5, 1, level, z, NULL, NULL, &m, NULL),
      TENTER_OK);
  assert_true(isfinite(m.coefficient[0]));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(stackloss), cmocka_unit_test(phones),
                                     cmocka_unit_test(weights_by_hand),
                                     cmocka_unit_test(identities), cmocka_unit_test(refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
