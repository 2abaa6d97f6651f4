/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noncentral t against R (tests/oracle/capability/noncentral_t.csv), against the central law
 * and Owen's identity at freedom 1, and its own inverses. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>

#include "numbers.h"
#include "tenter/stats/noncentral.h"
#include "tenter/stats/normal.h"

static void test_recorded(void **state) {
  (void)state;
  rows r;
  size_t seen = 0;
  rows_open(&r, "capability/noncentral_t.csv");
  while (rows_next(&r)) {
    double freedom = rows_number(&r, 1), delta = rows_number(&r, 2), x = rows_number(&r, 3),
           value = rows_number(&r, 4);
    if (rows_is(&r, 0, "below")) {
      /* R loses the lower tail: its own manual says so; below 1e-4 it is no oracle */
      double loose = value < 1e-4 ? 1e-12 : 0;
      assert_close(tenter_noncentral_t_below(x, freedom, delta), value, 2e-9, loose);
      assert_close(tenter_noncentral_t_above(x, freedom, delta), 1 - value, 2e-9, 1e-12);
    } else {
      assert_close(tenter_noncentral_t_quantile(x, freedom, delta), value, 2e-8, 0);
    }
    seen++;
  }
  assert_int_equal(seen, 146);
}

/* delta 0 is Student's t. GSL's is right to 1e-12 in both tails, but for 30 and more degrees of
 * freedom far out, where it is good to 2e-10 (R's pt(-30, 400) agrees with ours to 1e-14). */
static void test_central(void **state) {
  (void)state;
  const double freedoms[] = {1, 2.5, 7, 30, 400, 1e5}, ts[] = {-30, -4, -1, 0, 0.3, 2, 12};
  for (size_t i = 0; i < 6; i++)
    for (size_t k = 0; k < 7; k++) {
      assert_close(tenter_noncentral_t_below(ts[k], freedoms[i], 0),
                   gsl_cdf_tdist_P(ts[k], freedoms[i]), 5e-10, 0);
      assert_close(tenter_noncentral_t_above(ts[k], freedoms[i], 0),
                   gsl_cdf_tdist_Q(ts[k], freedoms[i]), 5e-10, 0);
    }
}

/* P(T <= 0) = P(Z <= -delta), whatever the freedom: deep into the tail that sums lose. */
static void test_at_nought(void **state) {
  (void)state;
  const double deltas[] = {-30, -8, -1, 0.5, 6, 25};
  for (size_t i = 0; i < 6; i++)
    for (double freedom = 1; freedom < 1e4; freedom *= 7)
      assert_close(tenter_noncentral_t_below(0, freedom, deltas[i]),
                   tenter_normal_below(-deltas[i]), 1e-11, 0);
}

/* Small tails: the integral in 40 digits (mpmath 1.3.0, quad over the density of the chi law). */
static void test_forty_digits(void **state) {
  (void)state;
  static const struct {
    double t, freedom, delta, below;
  } known[] = {{2, 2, 8, 1.903180138771104e-5},
               {-1, 4, 2.5, 0.0005241828898506106},
               {1, 9, 6, 5.147127288611158e-7},
               {3, 19, 9, 3.825135365725565e-8},
               {10, 49, 20, 4.323219124854553e-12},
               {0.5, 1, 5, 7.667230852273184e-6},
               {20, 100, 30, 9.347925582076113e-9},
               {-30, 400, 0, 1.00532857178896e-104} /* these two: R's pt */,
               {-30, 1e5, 0, 3.68926843611091e-197}};
  for (size_t i = 0; i < sizeof known / sizeof *known; i++)
    assert_close(tenter_noncentral_t_below(known[i].t, known[i].freedom, known[i].delta),
                 known[i].below, 1e-11, 0);
}

/* Both tails are one; T with -delta at -t is its mirror. */
static void test_identities(void **state) {
  (void)state;
  uint64_t seed = 20261125;
  for (int i = 0; i < 200; i++) {
    double freedom = 1 + 60 * number_uniform(&seed), delta = 12 * number_uniform(&seed) - 6,
           t = delta + 6 * number_uniform(&seed) - 3;
    double below = tenter_noncentral_t_below(t, freedom, delta);
    assert_close(below + tenter_noncentral_t_above(t, freedom, delta), 1, 1e-12, 0);
    assert_close(tenter_noncentral_t_above(-t, freedom, -delta), below, 1e-12, 0);
  }
}

static void test_inverses(void **state) {
  (void)state;
  const double ps[] = {1e-8, 0.01, 0.3, 0.5, 0.9, 0.99999};
  for (size_t i = 0; i < 6; i++)
    for (double freedom = 1; freedom < 2000; freedom *= 6)
      for (double delta = -40; delta <= 90; delta += 26) {
        double t = tenter_noncentral_t_quantile(ps[i], freedom, delta);
        double back = ps[i] < 0.5 ? tenter_noncentral_t_below(t, freedom, delta)
                                  : 1 - tenter_noncentral_t_above(t, freedom, delta);
        assert_close(back, ps[i], 1e-9, 0);
        assert_close(tenter_noncentral_t_delta(t, freedom, ps[i]), delta, 1e-8, 1e-7);
      }
}

static void test_ends(void **state) {
  (void)state;
  assert_true(isnan(tenter_noncentral_t_below(NAN, 3, 1)));
  assert_true(isnan(tenter_noncentral_t_below(1, 0, 1)));
  assert_true(isnan(tenter_noncentral_t_quantile(0.5, 3, INFINITY)));
  assert_true(isnan(tenter_noncentral_t_quantile(1.5, 3, 1)));
  assert_true(isnan(tenter_noncentral_t_delta(1, 3, 0)));
  assert_close(tenter_noncentral_t_below(INFINITY, 3, 1), 1, 0, 0);
  assert_close(tenter_noncentral_t_above(INFINITY, 3, 1), 0, 0, 0);
  assert_true(isinf(tenter_noncentral_t_quantile(1, 3, 1)));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_recorded),   cmocka_unit_test(test_central),
      cmocka_unit_test(test_at_nought),  cmocka_unit_test(test_forty_digits),
      cmocka_unit_test(test_identities), cmocka_unit_test(test_inverses),
      cmocka_unit_test(test_ends)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
