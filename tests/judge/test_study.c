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
    maker_screen(
        k, name,
        &(screen_made){.mesh = "120-34", .stretched = 1, .target = 22, .minus = 1.5, .plus = 1.5});
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
  double squares = 0.09 + 0.01 / 3 + noise * noise / 10 + squared(fmax(people, session));
  assert_close(b->combined, sqrt(squares), 1e-12, 0);
  assert_close(b->expanded, 2 * sqrt(squares), 1e-12, 0);
  if (study) {
    assert_null(all.studies[0].why);
    assert_int_equal(all.studies[0].readings, PARTS * 2 * TRIALS);
    assert_int_equal(all.studies[0].study.repeats, TRIALS);
    /* target 22, 1.5 either way */
    assert_close(all.studies[0].tolerance, 3, 1e-12, 0);
    assert_close(all.studies[0].share_of_tolerance, 2 * all.studies[0].study.gauge.sd, 1e-12, 0);
    assert_close(k->review->judged->meters[0].reproducibility, people, 1e-12, 0);
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

/* What a study finds people to differ by, beyond what sessions differ by, widens the decision on
 * tolerance: 0.5^2 - 0.3^2 more; people who differ by less than sessions do add nothing. */
static void test_study_widens_decisions(void **state) {
  (void)state;
  maker *k = make(true);
  judge *j = k->review->judged;
  size_t session = k->review->screens[0].acceptance_session;
  j->noise.session = 0.3;
  j->meters[0].reproducibility = 0;
  double plain = judge__session_uncertainty(j, session, true, NULL);
  j->meters[0].reproducibility = 0.5;
  double wide = judge__session_uncertainty(j, session, true, NULL);
  assert_close(wide * wide - plain * plain, 0.25 - 0.09, 1e-9, 0);
  j->meters[0].reproducibility = 0.2;
  assert_close(judge__session_uncertainty(j, session, true, NULL), plain, 1e-12, 0);
  maker_free(k);
}

/* Trials of one point a month apart are no study: mesh relaxes in between. */
static void test_slow_study_is_refused(void **state) {
  (void)state;
  maker *k = maker_new();
  tenter_meter_studies all;
  for (int trial = 0; trial < 4; trial++)
    for (int part = 0; part < 2; part++) {
      maker_reading(k, part ? "S-1" : "S-0", 1000 + 400 * trial, "C", TENTER_WARP, "M1", 20);
      k->tables->readings.trial[k->tables->readings.count - 1] = (uint16_t)(1 + trial);
    }
  maker_judge(k, 3000);
  assert_int_equal(tenter_meter_studies_make(k->review, &all, NULL), TENTER_OK);
  assert_int_equal(all.count, 1);
  assert_non_null(all.studies[0].why);
  assert_non_null(strstr(all.studies[0].why, "days apart"));
  maker_free(k);
}

/* Ten days of checks on 10, 20, 30 with errors 0.3 - 0.02 value, +-0.05 by turns, from the sixth
 * day on 0.4 higher. The first half is the centre; after days of +0.4 the average with weight 0.2
 * is 0.4 (1 - 0.8^n), but for the noise. */
static void test_plates(void **state) {
  (void)state;
  maker *k = maker_new();
  tenter_meter_studies all;
  for (int s = 0; s < 3; s++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", s);
    maker_session(k, name, 20 + s, "M1", 22, 0.2);
  }
  for (int day = 0; day < 10; day++)
    for (int v = 0; v < 3; v++) {
      double value = 10 + 10 * v, noise = (day + v) % 2 ? 0.05 : -0.05;
      maker_check(k, "M1", 24 * day + v, value,
                  value + 0.3 - 0.02 * value + noise + (day > 4 ? 0.4 : 0));
    }
  maker_judge(k, 240);
  assert_int_equal(tenter_meter_studies_make(k->review, &all, NULL), TENTER_OK);
  assert_int_equal(all.plate_count, 1);
  const tenter_meter_plates *p = &all.plates[0];
  assert_int_equal(p->checks, 30);
  assert_int_equal(p->values, 3);
  assert_close(p->value[2], 30, 0, 0);
  assert_close(p->line.slope, -0.02, 0, 0.003);
  for (int v = 0; v < 3; v++)
    assert_true(p->low[v] < p->mean[v] + 0.1 && p->mean[v] - 0.1 < p->high[v]);
  assert_close(p->average, 0.4 * (1 - pow(0.8, 5)), 0, 0.03);
  assert_true(p->average > p->average_limit);
  /* By hand: 29 neighbouring errors differ by 0.1, one of them by the 0.4 more, beside one prior
   * pair of 0.3; three checks a day; the limits of the average (NIST handbook 6.3.2.4, before they
   * are steady) and of a centre that is itself the mean of five days. */
  double sigma = sqrt((0.3 * 0.3 * 2 + 28 * 0.01 + 0.25) / 30 / 2) / sqrt(3);
  assert_close(p->average_limit,
               sigma * hypot(3 * sqrt(0.2 / 1.8 * (1 - pow(0.8, 20))), 3 / sqrt(5)), 1e-6, 0);
  assert_true(p->drifts_since >= maker_time(24 * 5) - 9 * 3600 &&
              p->drifts_since < maker_time(24 * 7));
  maker_free(k);
}

/* Errors of both meters alike: the line is that of orthogonal regression, in its closed form. */
static void test_two_meters_that_scatter(void **state) {
  (void)state;
  static const double off[] = {0.3, -0.3, 0.1, -0.2, 0.2, 0.3, -0.1, -0.3};
  maker *k = maker_new();
  tenter_meter_studies all;
  double sx = 0, sy = 0, sxx = 0, syy = 0, sxy = 0;
  for (int s = 0; s < 8; s++) {
    char name[16];
    double x = 20 + 0.4 * s, y = x + off[s];
    snprintf(name, sizeof name, "S-%d", s);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .stretched = 1});
    maker_session(k, name, 200, "M1", x, 0);
    maker_session(k, name, 203, "M2", y, 0);
    sx += x, sy += y, sxx += x * x, syy += y * y, sxy += x * y;
  }
  sxx -= sx * sx / 8, syy -= sy * sy / 8, sxy -= sx * sy / 8;
  maker_judge(k, 400);
  assert_int_equal(tenter_meter_studies_make(k->review, &all, NULL), TENTER_OK);
  assert_int_equal(all.pairs[0].agreement.count, 8);
  double slope = (syy - sxx + hypot(syy - sxx, 2 * sxy)) / (2 * sxy);
  assert_close(all.pairs[0].line.slope, slope, 1e-6, 0);
  assert_close(all.pairs[0].line.level, (sy - slope * sx) / 8, 1e-5, 0);
  maker_free(k);
}

/* M2 reads 0.4 higher than M1 on the same screens an hour later; and without noise the line is
 * second = 0.4 + 1 first. */
static void test_two_meters(void **state) {
  (void)state;
  maker *k = maker_new();
  tenter_meter_studies all;
  for (int s = 0; s < 8; s++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", s);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .stretched = 1});
    maker_session(k, name, 200, "M1", 20 + s, 0);
    maker_session(k, name, 203, "M2", 20.4 + s, 0);
    maker_session(k, name, 300, "M1", 20 + s, 0); /* four days later: no pair */
  }
  maker_judge(k, 400);
  assert_int_equal(tenter_meter_studies_make(k->review, &all, NULL), TENTER_OK);
  assert_int_equal(all.pair_count, 1);
  assert_int_equal(all.pairs[0].agreement.count, 8);
  assert_close(all.pairs[0].agreement.mean, 0.4, 1e-9, 0);
  assert_close(all.pairs[0].agreement.sd, 0, 0, 1e-9);
  assert_close(all.pairs[0].line.slope, 1, 1e-9, 0);
  assert_close(all.pairs[0].line.level, 0.4, 1e-7, 0);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_budget_with_a_study),
                                     cmocka_unit_test(test_budget_without),
                                     cmocka_unit_test(test_study_widens_decisions),
                                     cmocka_unit_test(test_slow_study_is_refused),
                                     cmocka_unit_test(test_plates),
                                     cmocka_unit_test(test_two_meters),
                                     cmocka_unit_test(test_two_meters_that_scatter)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
