/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths of EWMA and CUSUM: R's spc 0.6.7 (tests/oracle/arl/spc.csv, the call beside each
 * value), tables as printed in Lucas and Crosier (1982), Lucas and Saccucci (1990), NIST 6.3.2.3.1
 * and Montgomery (published.csv; figures from memory, confirmed by spc), closed forms. */
#include "chart_rows.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "tenter/stats/arl.h"

static double arl_of(const tenter_scheme *scheme, double shift, double scale) {
  double arl;
  tenter_error error = {0};
  if (tenter_arl(scheme, (tenter_process){shift, scale}, &arl, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  return arl;
}

/* 110 values of spc, within 1e-6 (it prints 6 decimals). */
static void agrees_with_spc(void **state) {
  (void)state;
  rows r;
  size_t checked = 0;
  for (rows_open(&r, "arl/spc.csv"); rows_next(&r); checked++) {
    bool cusum = rows_is(&r, 1, "cusum");
    double first = rows_number(&r, 3), second = rows_number(&r, 5), arl;
    tenter_scheme s = {.kind = cusum ? TENTER_SCHEME_CUSUM : TENTER_SCHEME_EWMA,
                       .one_sided = strncmp(r.field[8], "one", 3) == 0,
                       .exact = strstr(r.field[9], "varying") != NULL};
    if (cusum) {
      s.reference = first;
      s.decision = second;
      s.head_start = rows_number(&r, 7);
    } else {
      s.lambda = first;
      s.width = second;
    }
    tenter_process process = {rows_number(&r, 6), 1};
    tenter_status status = strstr(r.field[9], "steady") ? tenter_arl_steady(&s, process, &arl, NULL)
                                                        : tenter_arl(&s, process, &arl, NULL);
    assert_int_equal(status, TENTER_OK);
    assert_close(arl, rows_number(&r, 10), 1e-6, 1e-6);
  }
  assert_int_equal(checked, 110);
}

/* Printed figures, to their last digit where spc agrees with it (86 of 90). */
static void agrees_with_printed_tables(void **state) {
  (void)state;
  rows r;
  size_t checked = 0;
  for (rows_open(&r, "arl/published.csv"); rows_next(&r);) {
    tenter_scheme s = {0};
    if (rows_is(&r, 0, "cusum")) {
      s.kind = TENTER_SCHEME_CUSUM;
      assert_int_equal(sscanf(r.field[1], "k=%lf h=%lf", &s.reference, &s.decision), 2);
      if (strstr(r.field[1], "headstart"))
        s.head_start = s.decision / 2;
    } else {
      s.kind = TENTER_SCHEME_EWMA;
      assert_int_equal(sscanf(r.field[1], "lambda=%lf L=%lf", &s.lambda, &s.width), 2);
    }
    const char *point = strchr(r.field[3], '.');
    double half = 0.5 * pow(10, point ? 1 - (double)strlen(point) : 0);
    double arl = arl_of(&s, rows_number(&r, 2), 1);
    assert_close(arl, rows_number(&r, 4), 1e-6, 1e-6);
    if (rows_is(&r, 5, "1")) {
      assert_close(arl, rows_number(&r, 3), 0, 1.01 * half);
      checked++;
    }
  }
  assert_int_equal(checked, 86);
}

/* ARL = 1 / P(|z| > K), closed form; here by EWMA of weight 1 (subgroups of n: shift sqrt n). */
static void plain_chart_in_closed_form(void **state) {
  (void)state;
  rows r;
  for (rows_open(&r, "arl/shewhart.csv"); rows_next(&r);) {
    tenter_scheme s = {.kind = TENTER_SCHEME_EWMA, .lambda = 1, .width = rows_number(&r, 0)};
    double shift = rows_number(&r, 1) * sqrt(rows_number(&r, 2)), arl = rows_number(&r, 3);
    if (rows_is(&r, 0, "2.57583")) /* the quantile of 0.995, rounded in the file */
      s.width = gsl_cdf_ugaussian_Pinv(0.995);
    assert_close(arl_of(&s, shift, 1), arl, 1e-8, 1e-8);
    s.exact = true;
    assert_close(arl_of(&s, shift, 1), arl, 1e-8, 1e-8);
    if (s.width == 3) {
      s = (tenter_scheme){.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_BEYOND};
      assert_close(arl_of(&s, shift, 1), arl, 1e-8, 1e-8);
      double steady;
      assert_int_equal(tenter_arl_steady(&s, (tenter_process){shift, 1}, &steady, NULL), TENTER_OK);
      assert_close(steady, arl, 1e-8, 1e-8); /* it has no memory */
    }
  }
}

/* Points that vary b times as much are seen by a chart of widths 1/b (and k/b, h/b, shift/b). */
static void scale_is_a_change_of_units(void **state) {
  (void)state;
  static const double scale[] = {0.7, 1.3, 2};
  for (int i = 0; i < 3; i++) {
    double b = scale[i];
    tenter_scheme e = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3}, f = e;
    f.width = 3 / b;
    assert_close(arl_of(&e, 0.4, b), arl_of(&f, 0.4 / b, 1), 1e-7, 0);
    tenter_scheme c = {
        .kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 4, .head_start = 2};
    tenter_scheme d = {
        .kind = TENTER_SCHEME_CUSUM, .reference = 0.5 / b, .decision = 4 / b, .head_start = 2 / b};
    assert_close(arl_of(&c, 0.4, b), arl_of(&d, 0.4 / b, 1), 1e-7, 0);
    assert_close(arl_of(&c, 0.4, b), arl_of(&c, -0.4, b), 1e-8, 0); /* a mirrored chart */
  }
}

/* P(alive): the sum over all points is the run length; the first point is plain. */
static void survival_sums_to_the_run_length(void **state) {
  (void)state;
  enum { COUNT = 1500 };
  static double alive[COUNT];
  tenter_scheme schemes[] = {
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .exact = true},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .one_sided = true},
      {.kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 4, .one_sided = true},
      {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_WESTERN_ELECTRIC}};
  tenter_process process = {0.6, 1};
  for (int i = 0; i < 5; i++) {
    double sum = 0;
    assert_int_equal(tenter_arl_alive(&schemes[i], process, COUNT, alive, NULL), TENTER_OK);
    assert_close(alive[0], 1, 0, 0);
    for (int k = 0; k < COUNT; k++) {
      sum += alive[k];
      assert_true(k == 0 || alive[k] <= alive[k - 1] + 1e-12);
    }
    assert_close(sum, arl_of(&schemes[i], 0.6, 1), 1e-6, 0);
  }
  tenter_scheme plain = {.kind = TENTER_SCHEME_EWMA, .lambda = 1, .width = 3};
  assert_int_equal(tenter_arl_alive(&plain, (tenter_process){0, 1}, 100, alive, NULL), TENTER_OK);
  for (int k = 0; k < 100; k++)
    assert_close(alive[k], pow(1 - 0.0026997960632601866, k), 1e-9, 0);
}

/* The designs of Lucas and Saccucci 1990 and of R's spc, the other way round. */
static void designs_find_their_sizes(void **state) {
  (void)state;
  tenter_scheme e = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.1};
  assert_int_equal(tenter_scheme_design(&e, NULL, 499.579550, NULL), TENTER_OK);
  assert_close(e.width, 2.814, 1e-6, 0);
  tenter_scheme c = {.kind = TENTER_SCHEME_CUSUM, .reference = 0.5};
  assert_int_equal(tenter_scheme_design(&c, NULL, 465.443506, NULL), TENTER_OK);
  assert_close(c.decision, 5, 1e-6, 0);
  c = (tenter_scheme){
      .kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 1, .head_start = 0.5};
  assert_int_equal(tenter_scheme_design(&c, NULL, 430.390839, NULL), TENTER_OK);
  assert_close(c.decision, 5, 1e-6, 0);
  assert_close(c.head_start, 2.5, 1e-6, 0);
  tenter_scheme exact = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .exact = true};
  assert_int_equal(tenter_scheme_design(&exact, NULL, 554.487539, NULL), TENTER_OK);
  assert_close(exact.width, 3, 1e-6, 0);
}

static void wrong_use_is_refused(void **state) {
  (void)state;
  const tenter_scheme wrong[] = {
      {.kind = TENTER_SCHEME_RULES},
      {.kind = TENTER_SCHEME_RULES, .rules = 1u << TENTER_RULE_COUNT},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0, .width = 3},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 1.1, .width = 3},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = NAN},
      {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .exact = true, .one_sided = true},
      {.kind = TENTER_SCHEME_CUSUM, .reference = -1, .decision = 4},
      {.kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 0},
      {.kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 4, .head_start = 2.1},
      {.kind = (tenter_scheme_kind)7}};
  double arl, alive[2];
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    tenter_error error = {0};
    assert_int_equal(tenter_arl(&wrong[i], (tenter_process){0, 1}, &arl, &error), TENTER_USAGE);
    assert_true(strlen(error.message) > 30);
  }
  tenter_scheme two = {.kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 4};
  assert_int_equal(tenter_arl(&two, (tenter_process){NAN, 1}, &arl, NULL), TENTER_USAGE);
  assert_int_equal(tenter_arl(&two, (tenter_process){0, 0}, &arl, NULL), TENTER_USAGE);
  assert_int_equal(tenter_arl_alive(&two, (tenter_process){0, 1}, 2, alive, NULL), TENTER_USAGE);
  assert_int_equal(tenter_arl_steady(&two, (tenter_process){0, 1}, &arl, NULL), TENTER_USAGE);
  assert_int_equal(tenter_scheme_design(&two, NULL, 4, NULL), TENTER_USAGE);
  tenter_scheme rules = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_NELSON};
  assert_int_equal(tenter_scheme_design(&rules, NULL, 400, NULL), TENTER_USAGE);
  assert_int_equal(tenter_arl_steady(&rules, (tenter_process){0, 1}, &arl, NULL), TENTER_USAGE);
}

/* Beyond 1e12 points there is no answer, and it is said. */
static void endless_charts_are_said_so(void **state) {
  (void)state;
  const tenter_scheme endless[] = {{.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 12},
                                   {.kind = TENTER_SCHEME_CUSUM, .reference = 2, .decision = 12},
                                   {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_BEYOND}};
  for (int i = 0; i < 3; i++) {
    double arl;
    tenter_error error = {0};
    tenter_process process = {0, i == 2 ? 0.3 : 1};
    assert_int_equal(tenter_arl(&endless[i], process, &arl, &error), TENTER_FAILED);
    assert_true(strlen(error.message) > 30);
  }
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(agrees_with_spc),
      cmocka_unit_test(agrees_with_printed_tables),
      cmocka_unit_test(plain_chart_in_closed_form),
      cmocka_unit_test(scale_is_a_change_of_units),
      cmocka_unit_test(survival_sums_to_the_run_length),
      cmocka_unit_test(designs_find_their_sizes),
      cmocka_unit_test(wrong_use_is_refused),
      cmocka_unit_test(endless_charts_are_said_so),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
