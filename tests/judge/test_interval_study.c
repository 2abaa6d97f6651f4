/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What past mountings did, costs, and readings: by hand in small shops. */
#include "make_shop.h"
#include "tenter/judge/interval.h"

static maker *k;
static tenter_interval_study *study;

static const tenter_interval_group *judge_study(double hours) {
  tenter_error error = {0};
  maker_judge(k, hours);
  if (tenter_interval_study_new(k->review, NULL, &study, &error))
    fail_msg("%s", error.message);
  assert_int_equal(study->count, 1);
  return &study->meshes[0];
}

static void drop(void) {
  tenter_interval_study_free(study);
  study = NULL;
  maker_free(k);
}

/* A mounting that begins at a day and is read at ages (days, ended by 0) at tensions. */
static void mounting(const char *name, double day, const double *ages, const double *tensions) {
  for (int i = 0; ages[i] > 0; i++)
    maker_session(k, name, 24 * (day + ages[i]), "M1", tensions[i], 0);
}

/* Nine mountings against a floor of 20, none with noise, so that what became of each is plain:
 *
 *   A  21.0, 20.5, 19.5          below between 20 and 40 days
 *   B  21.0, 20.6, 20.3          above it up to 40 days, in use
 *   C  19.0                      below at its first session
 *   D  21.5 21.3, re-stretched   above it by far more than a session's error, at 50 days
 *   E  20.6, 20.01, re-stretched not clearly above it (a session's error is some 0.1): counted
 *   F  21.5, 21.3, burst         G  the same, retired
 *   H  21.0, 19.97, 20.1, 20.05   one session is below, but the three that follow the first, put in
 *                                falling order, have a mean of (19.97 + 20.1 + 20.05) / 3 = 20.04:
 *                                a noisy reading is no crossing
 *   D2, E2 what D and E were re-stretched to: above, in use */
static void nine(void) {
  const double three[] = {5, 20, 40, 0}, two[] = {5, 20, 0}, one[] = {5, 0};
  const double four[] = {5, 20, 30, 40, 0};
  k = maker_new();
  k->config.settings.repeatability = 0.3;
  k->spec.floor = 20; /* for all mountings, not the current ones alone */
  const char *const all[] = {"A", "B", "C", "D", "E", "F", "G", "H"};
  for (size_t i = 0; i < 8; i++)
    maker_screen(k, all[i], &(screen_made){.mesh = NULL});
  for (size_t i = 0; i < 8; i++)
    maker_event(k, all[i], 1, TENTER_EVENT_STRETCHED);
  const double day = 1.0 / 24;
  mounting("A", day, three, (const double[]){21, 20.5, 19.5});
  mounting("B", day, three, (const double[]){21, 20.6, 20.3});
  mounting("C", day, one, (const double[]){19});
  mounting("D", day, two, (const double[]){21.5, 21.3});
  mounting("E", day, two, (const double[]){20.6, 20.01});
  mounting("F", day, two, (const double[]){21.5, 21.3});
  mounting("G", day, two, (const double[]){21.5, 21.3});
  mounting("H", day, four, (const double[]){21, 19.97, 20.1, 20.05});
  maker_event(k, "D", 24 * (day + 50), TENTER_EVENT_STRETCHED);
  maker_event(k, "E", 24 * (day + 50), TENTER_EVENT_STRETCHED);
  maker_event(k, "F", 24 * (day + 30), TENTER_EVENT_BURST);
  maker_event(k, "G", 24 * (day + 30), TENTER_EVENT_RETIRED);
  mounting("D", day + 50, one, (const double[]){21.5});
  mounting("E", day + 50, one, (const double[]){21.5});
}

static void test_past(void **state) {
  (void)state;
  nine();
  const tenter_interval_life *life = &judge_study(24 * 80)->life;
  assert_int_equal(life->mountings, 10);
  assert_int_equal(life->crossed, 2); /* A, C */
  assert_int_equal(life->at_first, 1);
  assert_int_equal(life->restretched, 2); /* D, E */
  assert_int_equal(life->restretched_low, 1);
  assert_int_equal(life->burst, 1);
  assert_int_equal(life->retired, 1);
  assert_int_equal(life->in_use, 4); /* B, H, and what D and E became */
  /* Turnbull: C lies in (0, 5], A in (20, 40], E in (20, 50]. Of ten one fell by 5 days: 0.1 */
  assert_close(life->step_days[0], 5, 1e-9, 0);
  assert_close(life->step_below[0], 0.1, 1e-6, 0);
  assert_close(life->free.days, 5, 1e-9, 0); /* 5 % is reached there */
  assert_true(life->free.early <= life->free.days && life->free.days <= life->free.late);
  assert_true(life->shape > 0 && life->scale_days > 40);
  assert_true(life->weibull.early < life->weibull.days && life->weibull.days < life->weibull.late);
  assert_true(isfinite(life->weibull_all_fail) && isfinite(life->weibull_none_fail));
  drop();
}

/* Eight lots whose mountings all end at 20: enough is known that curves are smooth. */
static void costly(double restretch, double failure) {
  k = maker_new();
  k->config.settings.scale = TENTER_SCALE_TENSION;
  k->config.settings.levelling_decades = 6; /* the log law alone */
  k->config.settings.cost_restretch = restretch;
  k->config.settings.cost_failure = failure;
  for (int i = 0; i < 48; i++) {
    char name[16], lot[16];
    double own = 25 + 0.15 * maker_normal(k), start = 1 + 6.0 * i;
    snprintf(name, sizeof name, "S-%02d", i);
    snprintf(lot, sizeof lot, "L%d", i % 12);
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34", .lot = lot, .floor = 22.5, .stretched = start});
    for (int s = 0; s < 5; s++)
      maker_session(k, name, start + 24 * pow(10, 0.1 + 0.3 * s), "M1",
                    own - 1.25 * (0.1 + 0.3 * s) + 0.05 * maker_normal(k), 0.1);
  }
}

/* The age of least cost against a search over ten thousand ages: the cost at an age is (planned S +
 * failure (1 - S)) / integral of S, S the share above the floor, taken from the study's own curve
 * by linear interpolation and the integral by the trapezoidal rule. */
static void test_least_cost(void **state) {
  (void)state;
  costly(30, 600);
  const tenter_interval_group *mesh = judge_study(24 * 60);
  const tenter_interval_curve *c = &mesh->curve;
  assert_true(mesh->cost.known);
  assert_int_equal(mesh->in_use, 48);
  double least = INFINITY, best = NAN, last = c->days[0], above = 1 - c->below[0];
  double exposure = last * above;
  for (int i = 0, at = 0; i < 10000; i++) {
    double t = c->days[0] * pow(1000, i / 10000.0);
    while (c->days[at + 1] < t)
      at++;
    double part = (t - c->days[at]) / (c->days[at + 1] - c->days[at]);
    double s = 1 - (c->below[at] + part * (c->below[at + 1] - c->below[at]));
    exposure += (t - last) * (s + above) / 2;
    double cost = (30 * s + 600 * (1 - s)) / exposure * 365.25;
    if (cost < least) {
      least = cost;
      best = t;
    }
    last = t;
    above = s;
  }
  assert_true(best > 10 && best < 900);
  assert_close(mesh->cost.best_days, best, 0.04, 0);
  assert_close(mesh->cost.best_rate, least, 0.01, 0);
  assert_true(mesh->cost.calendar_rate >= mesh->cost.best_rate * (1 - 1e-3));
  assert_close(mesh->cost.saving_on_calendar,
               48 * (mesh->cost.calendar_rate - mesh->cost.best_rate), 1e-9, 1e-9);
  drop();
}

/* A failure that costs no more than a re-stretch: it never pays to be early. And without [cost]
 * nothing is said. */
static void test_never(void **state) {
  (void)state;
  costly(30, 30);
  const tenter_interval_group *mesh = judge_study(24 * 60);
  assert_true(mesh->cost.known && isnan(mesh->cost.best_days));
  drop();
  costly(30, 0);
  mesh = judge_study(24 * 60);
  assert_false(mesh->cost.known);
  assert_true(isnan(mesh->cost.best_rate) && isnan(mesh->curve.cost[5]));
  assert_true(isnan(study->calendar_days));
  drop();
}

/* What the shop did: of the shop of nine, A, C and E failed, D was in time. Served: A, B, C, H 80
 * days less an hour, D and E 50 and 30, F and G 30: 4 * 80 + 2 * 80 + 2 * 30 = 540 less 6 hours. */
static void test_habit(void **state) {
  (void)state;
  nine();
  k->config.settings.cost_restretch = 10;
  k->config.settings.cost_failure = 100;
  const tenter_interval_cost *cost = &judge_study(24 * 80)->cost;
  assert_int_equal(cost->habit_failed, 3);
  assert_int_equal(cost->habit_planned, 1);
  assert_close(cost->habit_screen_years, 540 / 365.25, 0.001, 0);
  assert_close(cost->habit_rate, (10 + 3 * 100) / (540 / 365.25), 0.001, 0);
  drop();
}

/* Who takes more risk lets a screen that is read go longer, too: by the second moment of its line
 * alone, since the mean line is the same. */
static void test_reading_at_another_risk(void **state) {
  (void)state;
  double life[2];
  for (int i = 0; i < 2; i++) {
    costly(0, 0);
    k->config.settings.risk = i == 0 ? 0.01 : 0.4;
    life[i] = judge_study(24 * 60)->spacing_life[1];
    drop();
  }
  assert_true(life[1] > 1.02 * life[0]);
}

/* A curve falls, its band holds it; a higher risk gives more days; more readings longer lives, all
 * above the age at which everything would be re-stretched unread. */
static void test_sensitivity(void **state) {
  (void)state;
  costly(0, 0);
  const tenter_interval_group *mesh = judge_study(24 * 60);
  const tenter_interval_curve *c = &mesh->curve;
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++) {
    assert_true(c->low[i] <= c->below[i] + 0.02 && c->below[i] <= c->high[i] + 0.02);
    assert_true(i == 0 || c->below[i] >= c->below[i - 1]);
  }
  for (int i = 1; i < TENTER_INTERVAL_RISKS; i++)
    assert_true(mesh->risk_days[i] > mesh->risk_days[i - 1]);
  assert_close(mesh->risks[2], 0.05, 1e-12, 0);
  assert_close(mesh->risk_days[2], mesh->interval->days, 1e-9, 0);
  for (int i = 0; i < TENTER_INTERVAL_SPACINGS; i++) {
    assert_close(mesh->spacing_days[i], mesh->spacing_days[1] * pow(0.5, i - 1), 1e-9, 0);
    assert_true(i == 0 || mesh->spacing_life[i] >= mesh->spacing_life[i - 1] * 0.98);
  }
  assert_true(mesh->spacing_life[3] > mesh->spacing_life[0]);
  assert_true(mesh->spacing_life[1] > mesh->interval->days);
  /* a typical screen reaches the floor at (25 - 22.5) / 1.25 = 2 decades: 100 days */
  assert_true(mesh->spacing_life[3] < 100 && mesh->spacing_life[3] > 50);
  drop();
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_past),
                                     cmocka_unit_test(test_least_cost),
                                     cmocka_unit_test(test_never),
                                     cmocka_unit_test(test_habit),
                                     cmocka_unit_test(test_reading_at_another_risk),
                                     cmocka_unit_test(test_sensitivity)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
