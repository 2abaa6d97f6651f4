/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The test whether a mounting left its curve: its false alarms are as many as it says, whatever the
 * number of sessions; a step is found and dated; simple cases agree with closed forms. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "../../src/judge/leaving.h"
#include "close.h"
#include "tenter/stats/normal.h"

#ifndef __has_feature /* clang's way to tell; gcc defines the macro below */
#define __has_feature(x) 0
#endif
#if defined __SANITIZE_ADDRESS__ || __has_feature(address_sanitizer)
enum { CALM = 1500, STEPPED = 400 };
#else
enum { CALM = 10000, STEPPED = 2000 };
#endif

static const double noise = 0.4; /* N/cm */

/* ---- made mountings ------------------------------------------------------------------------- */

enum { MOST = 64 };

typedef struct made {
  double curve[MOST], y[MOST], variance[MOST];
  size_t count;
} made;

static uint64_t state = 20260118;

static double uniform(void) { /* xorshift64*: Vigna 2016 */
  state ^= state >> 12;
  state ^= state << 25;
  state ^= state >> 27;
  return ((double)((state * 0x2545f4914f6cdd1dU) >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void) { /* Box and Muller 1958 */
  return sqrt(-2 * log(uniform())) * cos(2 * M_PI * uniform());
}

/* A first session after some hours, one a day later, then one a week, on the log law with a loss of
 * 1.4 N/cm per decade, of which this mounting has a share of 1 +- 0.2. mixed: every third
 * session has half as many readings. */
static void make(made *m, size_t count, bool mixed, size_t step_at, double step) {
  double level = 20 + 2 * normal(), share = 1 + 0.2 * normal();
  m->count = count;
  for (size_t i = 0; i < count; i++) {
    double hours = i == 0 ? 5 : i == 1 ? 26 : 26 + 168 * (double)(i - 1) + 20 * uniform();
    m->curve[i] = -1.4 * log10(hours / 24);
    m->variance[i] = noise * noise * (mixed && i % 3 == 2 ? 2 : 1);
    m->y[i] = level + share * m->curve[i] + sqrt(m->variance[i]) * normal();
    m->y[i] += i >= step_at ? step : 0;
  }
}

static leaving_result test(const made *m, double rate) {
  leaving_series series = {m->count, m->curve, m->y, m->variance, 1, 0.2};
  leaving_result result;
  assert_true(judge__leaving(&series, rate, &result));
  return result;
}

/* ---- false alarms --------------------------------------------------------------------------- */

/* Binomial: within 3.3 standard deviations but one time in a thousand. */
static void assert_share(size_t named, size_t of, double rate) {
  double sd = sqrt(rate * (1 - rate) / (double)of);
  print_message("named %zu of %zu: %.4f, stated %.4f +- %.4f\n", named, of,
                (double)named / (double)of, rate, sd);
  assert_close((double)named / (double)of, rate, 0, 3.3 * sd);
}

static void calm_mountings_are_named_as_often_as_stated(void **unused) {
  (void)unused;
  static const double rates[] = {0.01, 0.05};
  for (size_t r = 0; r < 2; r++) {
    size_t named = 0;
    for (size_t i = 0; i < CALM; i++) {
      made m;
      make(&m, 3 + i % 22, true, MOST, 0); /* 3 .. 24 sessions */
      named += test(&m, rates[r]).left;
    }
    assert_share(named, CALM, rates[r]);
  }
}

/* The newest session alone is named no more often than any other: its share of the false alarms is
 * at most the rate, and it takes part. */
static void newest_session_takes_part(void **unused) {
  (void)unused;
  size_t named = 0, newest = 0;
  for (size_t i = 0; i < CALM; i++) {
    made m;
    make(&m, 10, true, MOST, 0);
    leaving_result r = test(&m, 0.05);
    named += r.left;
    newest += r.left && r.at == 9;
  }
  assert_share(named, CALM, 0.05);
  print_message("of which the newest session: %zu\n", newest);
  assert_true(newest > 0 && newest < named);
  made m;
  make(&m, 10, true, 9, -3); /* 3 N/cm in noise of 0.4, seen once */
  leaving_result r = test(&m, 0.01);
  assert_true(r.left);
  assert_int_equal(r.at, 9);
}

/* ---- steps ---------------------------------------------------------------------------------- */

static void step_is_dated(void **unused) {
  (void)unused;
  size_t near = 0, exact = 0, named = 0;
  double sum = 0, squares = 0;
  for (size_t i = 0; i < STEPPED; i++) {
    made m;
    size_t at = 5 + i % 11; /* of 20 sessions, 5 .. 15 before it */
    make(&m, 20, false, at, i % 2 ? 1 : -1);
    leaving_result r = test(&m, 0.05); /* the default of leaving_rate */
    double off = (double)r.at - (double)at;
    near += r.left && fabs(off) <= 1;
    named += r.left;
    exact += r.left && off == 0;
    double error = (r.change - (i % 2 ? 1 : -1)) / r.change_se;
    if (r.left && off == 0) {
      sum += error;
      squares += error * error;
    }
  }
  print_message("step of 1 N/cm in noise of 0.4: named %.1f %%, dated "
                "within one session %.1f %%, to the session %.1f %% of all\n",
                100 * (double)named / STEPPED, 100 * (double)near / STEPPED,
                100 * (double)exact / STEPPED);
  assert_true((double)near >= 0.8 * STEPPED);
  assert_true(fabs(sum / (double)exact) < 0.3 && squares / (double)exact < 1.5);
}

/* ---- closed forms --------------------------------------------------------------------------- */

/* Two sessions: one step is possible, and z is the difference of the two from what the curve lets
 * expect; p is that of one normal number. */
static void two_sessions(void **unused) {
  (void)unused;
  made m = {.curve = {0, -2}, .y = {20, 16.8}, .variance = {0.16, 0.25}, .count = 2};
  leaving_result r = test(&m, 0.2);
  double variance = 0.16 + 0.25 + 4 * 0.04;
  assert_close(r.change, -1.2, 1e-12, 0);
  assert_close(r.change_se, sqrt(variance), 1e-12, 0);
  assert_close(r.forecast_error, -1.2 / sqrt(variance), 1e-12, 0);
  assert_close(r.p, 2 * tenter_normal_below(-1.2 / sqrt(variance)), 1e-12, 0);
  assert_int_equal(r.at, 1);
  assert_true(r.left);
  assert_false(test(&m, 0.01).left);
}

/* Three sessions on a flat curve: z of the two steps are differences of means, correlated by 1/2;
 * p = 1 - P(|z1| < c, |z2| < c), from the bivariate normal. */
static void three_sessions(void **unused) {
  (void)unused;
  made m = {.curve = {0, 0, 0}, .y = {20, 20, 18.6}, .variance = {0.16, 0.16, 0.16}, .count = 3};
  leaving_result r = test(&m, 0.2);
  double z = 1.4 / (0.4 * sqrt(1.5));
  double both = tenter_normal_both_above(z, z, 0.5) + tenter_normal_both_above(z, z, -0.5);
  assert_int_equal(r.at, 2);
  assert_close(r.change, -1.4, 1e-12, 0);
  assert_close(r.p, 4 * tenter_normal_above(z) - 2 * both, 0.01, 0); /* by 1024 draws */
}

static void too_few(void **unused) {
  (void)unused;
  made m = {.curve = {0}, .y = {20}, .variance = {0.16}, .count = 1};
  leaving_result r = test(&m, 0.01);
  assert_false(r.left);
  assert_true(isnan(r.change) && isnan(r.forecast_error));
  m.count = 0;
  assert_false(test(&m, 0.01).left);
}

/* Beyond LEAVING_MOST sessions the newest are looked at, and numbered as before. */
static void many_sessions(void **unused) {
  (void)unused;
  static double curve[300], y[300], variance[300];
  for (size_t i = 0; i < 300; i++) {
    curve[i] = -log10(1 + (double)i);
    variance[i] = 0.16;
    y[i] = 20 + curve[i] + 0.4 * normal() - (i >= 280 ? 1 : 0);
  }
  leaving_series series = {300, curve, y, variance, 1, 0.2};
  leaving_result r;
  assert_true(judge__leaving(&series, 0.01, &r));
  assert_true(r.left);
  assert_close((double)r.at, 280, 0, 2);
}

/* A mounting's own level and share: by hand for two sessions at equal variances, where the share is
 * the prior's mean weighted with what the difference says. */
static void own_level_and_share(void **unused) {
  (void)unused;
  double curve[] = {0, -2}, y[] = {20, 17}, variance[] = {0.16, 0.16};
  own_curve own = judge__own_curve(&(leaving_series){2, curve, y, variance, 1, 0.2}, 0);
  /* the difference, -3 = -2 k + e, var e = 0.32: k = (1 / 0.04 + 2 * 3 / 0.32) / (1 / 0.04 + 4 /
   * 0.32) */
  assert_close(own.k, (25 + 18.75) / (25 + 12.5), 1e-12, 0);
  assert_close(own.var_k, 1 / 37.5, 1e-12, 0);
  /* a given k is the mean of y - k c */
  assert_close(own.a, (20 + 17 + 2 * own.k) / 2, 1e-12, 0);
  assert_close(own.var_a, 0.08 + own.var_k, 1e-12, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(calm_mountings_are_named_as_often_as_stated),
      cmocka_unit_test(newest_session_takes_part),
      cmocka_unit_test(step_is_dated),
      cmocka_unit_test(two_sessions),
      cmocka_unit_test(three_sessions),
      cmocka_unit_test(too_few),
      cmocka_unit_test(many_sessions),
      cmocka_unit_test(own_level_and_share),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
