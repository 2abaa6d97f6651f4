/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Statistics of lives with the k-th allocation failing: TENTER_FAILED, no leak (watched by ASan),
 * nothing half built. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "doors.h"
#include "tenter/stats/life_fit.h"
#include "tenter/stats/renewal.h"
#include "tenter/stats/turnbull.h"

enum { ROWS = 6 };

static const double lower[ROWS] = {0, 2, 4, 5, 6, 9};
static const double upper[ROWS] = {3, 6, 4, 8, INFINITY, INFINITY};
static const tenter_life mixed = {ROWS, lower, upper, NULL};
static const tenter_life exact = {3, &lower[2], (const double[]){4, 5, INFINITY}, NULL};

static tenter_status use_turnbull(void *context) {
  (void)context;
  const double p = 0.3;
  double se[ROWS], low[ROWS], high[ROWS];
  tenter_interval interval;
  tenter_turnbull t;
  tenter_status status = tenter_turnbull_run(&mixed, &t, NULL);
  if (status != TENTER_OK)
    return status;
  status = tenter_turnbull_band(&t, 0.9, se, low, high, NULL);
  if (status == TENTER_OK)
    status = tenter_turnbull_quantile_intervals(&t, 1, &p, 0.9, 3, 1, NULL, NULL, &interval, NULL);
  tenter_turnbull_release(&t);
  return status;
}

static tenter_status use_fit(void *context) {
  (void)context;
  tenter_life_design constant = {.terms = 1};
  tenter_life_time time;
  tenter_life_fit fit;
  tenter_status status = tenter_life_fit_run(&mixed, &constant, TENTER_LIFE_WEIBULL, &fit, NULL);
  if (status != TENTER_OK)
    return status;
  status = tenter_life_fit_quantile_profile(&mixed, &constant, &fit, NULL, 0.3, 0.9, &time, NULL);
  tenter_life_fit_release(&fit);
  return status;
}

static tenter_status use_kaplan_meier(void *context) {
  (void)context;
  tenter_kaplan_meier km;
  tenter_status status = tenter_kaplan_meier_run(&exact, 0.9, &km, NULL);
  if (status == TENTER_OK)
    tenter_kaplan_meier_release(&km);
  return status;
}

static tenter_status same_curve(void *context, size_t draw, tenter_life_curve *curve,
                                tenter_error *error) {
  (void)draw;
  (void)error;
  *curve = *(const tenter_life_curve *)context;
  return TENTER_OK;
}

static tenter_status use_renewal(void *context) {
  (void)context;
  tenter_life_curve curve = {.law = TENTER_LIFE_WEIBULL, .location = 3, .scale = 0.3};
  tenter_renewal_costs costs = {1, 5};
  tenter_renewal_spread spread;
  return tenter_renewal_spread_of(same_curve, &curve, 3, 0.9, &costs, &spread, NULL);
}

static void lives(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, use_turnbull, NULL) > 50);
  assert_true(fault_sweep(FAULT_MEMORY, false, use_fit, NULL) > 20);
  assert_true(fault_sweep(FAULT_MEMORY, false, use_kaplan_meier, NULL) > 8);
  assert_true(fault_sweep(FAULT_MEMORY, false, use_renewal, NULL) > 0);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(lives)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
