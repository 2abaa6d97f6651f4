/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The study of a meter and the budget of a session mean. Sources: JCGM 100:2008, 5.1 (contributions
 * of a mean: square roots of sums of squares), 4.3.7 (a step's half width over the root of
 * 3), 4.2.3 (repeatability over the root of the number of readings); the analysis of variance is
 * checked against R in tests/stats/test_gauge.c. */
#include "../../src/judge/judge.h"
#include "make_shop.h"
#include "tenter/judge/study.h"

enum { PARTS = 10, TRIALS = 2 };

static void read_study(maker *k) {
  static const char *const people[] = {"KL", "MN"};
  for (int part = 0; part < PARTS; part++)
    for (int who = 0; who < 2; who++)
      for (int trial = 0; trial < TRIALS; trial++) {
        char name[16];
        snprintf(name, sizeof name, "S-%d", part);
        maker_reading(k, name, 400 + part + 0.2 * who + 0.05 * trial, "C", TENTER_WARP, "M1",
                      20 + 0.4 * part + 0.15 * who + 0.25 * maker_normal(k));
        tenter_readings *r = &k->tables->readings;
        r->trial[r->count - 1] = (uint16_t)(trial + 1);
        r->operator[r->count - 1] =(uint16_t) maker_name(k, TENTER_NAME_OPERATOR, people[who]);
      }
}

static maker *make(bool study) {
  maker *k = maker_new();
  k->meters[0] = (tenter_meter_spec){.name = "M1",
                                     .resolution = 0.2,
                                     .expanded_uncertainty = 0.9,
                                     .coverage_factor = 3,
                                     .checked_every_days = NAN};
  k->config.meter_count = 1;
  for (int part = 0; part < PARTS; part++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", part);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .stretched = 1, .target = 22});
    for (int week = 0; week < 2; week++)
      maker_session(k, name, 30 + 168 * week + part, "M1", 22 - week, 0.25);
  }
  if (study)
    read_study(k);
  maker_judge(k, 500);
  return k;
}

static void check_budget(bool study) {
  maker *k = make(study);
  tenter_meter_studies all;
  assert_int_equal(tenter_meter_studies_make(k->review, &all, NULL), TENTER_OK);
  assert_int_equal(all.count, study);
  const tenter_budget *b = &all.budgets[0];
  double noise = study ? all.studies[0].study.repeatability.sd : k->review->judged->noise.reading;
  double people = study ? all.studies[0].study.reproducibility.sd : 0;
  double session = k->review->judged->noise.session;
  assert_int_equal(b->studied, study);
  assert_false(b->assumed);
  assert_int_equal(b->positions, 10);
  assert_close(b->calibration, 0.9 / 3, 1e-12, 0);
  assert_close(b->resolution, 0.1 / sqrt(3), 1e-12, 0);
  assert_close(b->repeatability, noise / sqrt(10), 1e-12, 0);
  assert_close(b->session, session, 1e-12, 0);
  double squares = 0.09 + 0.01 / 3 + noise * noise / 10 + people * people + session * session;
  assert_close(b->combined, sqrt(squares), 1e-12, 0);
  assert_close(b->expanded, 2 * sqrt(squares), 1e-12, 0);
  if (study) {
    assert_null(all.studies[0].why);
    assert_int_equal(all.studies[0].readings, PARTS * 2 * TRIALS);
    assert_int_equal(all.studies[0].study.repeats, TRIALS);
  } else {
    assert_true(isnan(b->reproducibility));
  }
  maker_free(k);
}

static void test_budget_with_a_study(void **state) {
  (void)state;
  check_budget(true);
}

static void test_budget_without(void **state) {
  (void)state;
  check_budget(false);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_budget_with_a_study),
                                     cmocka_unit_test(test_budget_without)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
