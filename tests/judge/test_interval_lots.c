/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What past mountings did and what is cheapest, lot by lot: against R on the lot's rows, against a
 * search over ages, and by hand. */
#include "make_shop.h"
#include "tenter/judge/interval.h"

static maker *k;
static tenter_interval_study *study;

static void judge_study(double hours) {
  tenter_error error = {0};
  maker_judge(k, hours);
  if (tenter_interval_study_new(k->review, NULL, &study, &error))
    fail_msg("%s", error.message);
  assert_int_equal(study->count, 1);
}

static void drop(void) {
  tenter_interval_study_free(study);
  study = NULL;
  maker_free(k);
}

static const tenter_interval_group *lot_of(const char *name) {
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_LOT], tenter_text_of(name));
  for (size_t i = 0; i < study->lot_count; i++)
    if (study->lots[i].interval->lot == id)
      return &study->lots[i];
  fail_msg("no lot %s", name);
  return NULL;
}

/* ---- lives ---------------------------------------------------------------------------------- */

/* Mountings of a lot, read at 5, 20, 40 and 80 days up to that on which they are seen below their
 * floor of 20, far below it, or to the last on which they are seen above, far above. */
typedef struct fate {
  const char *lot;
  int count, sessions;
  bool below;
} fate;

static const fate fates[] = {{"A", 1, 2, true},  {"A", 2, 3, true},  {"A", 3, 4, true},
                             {"A", 4, 4, false}, {"B", 1, 1, true},  {"B", 3, 2, true},
                             {"B", 2, 3, true},  {"B", 1, 3, false}, {"B", 1, 4, false},
                             {"C", 1, 3, true},  {"C", 1, 4, true},  {"C", 2, 4, false}};

static void live(int number, const fate *f) {
  static const double ages[] = {5, 20, 40, 80};
  char name[16];
  snprintf(name, sizeof name, "S-%02d", number);
  maker_screen(k, name,
               &(screen_made){.mesh = "120-34", .lot = f->lot, .floor = 20, .stretched = 1});
  for (int s = 0; s < f->sessions; s++) {
    bool last = f->below && s + 1 == f->sessions;
    maker_session(k, name, 1 + 24 * ages[s], "M1", last ? 18.5 : 23 - 0.2 * s, 0);
  }
}

static void three_lots(void) {
  int number = 0;
  k = maker_new();
  k->config.settings.risk = 0.35;
  for (size_t i = 0; i < sizeof fates / sizeof *fates; i++)
    for (int n = 0; n < fates[i].count; n++)
      live(++number, &fates[i]);
  judge_study(24 * 90);
}

/* survfit and survreg of R's survival on the rows of each lot: tests/oracle/life/lots.R. survfit
 * puts 35 % of A at 60 days, the middle of 40 to 80, and of B at 12.5, that of 5 to 20; here the
 * end of the interval is said. */
static void test_lives(void **state) {
  (void)state;
  three_lots();
  const tenter_interval_life *a = &lot_of("A")->life, *b = &lot_of("B")->life;
  const tenter_interval_life *c = &lot_of("C")->life, *all = &study->meshes[0].life;
  assert_int_equal(study->lot_count, 3);
  assert_int_equal(a->mountings, 10);
  assert_int_equal(a->crossed, 6);
  assert_int_equal(a->in_use, 4);
  assert_int_equal(b->mountings, 8);
  assert_int_equal(b->at_first, 1);
  assert_close(a->free.days, 80, 1e-9, 0);
  assert_close(b->free.days, 20, 1e-9, 0);
  assert_close(a->shape, 1.56249055, 1e-5, 0);
  assert_close(a->scale_days, 83.495709, 1e-5, 0);
  assert_close(a->weibull.days, 48.706639, 1e-5, 0);
  assert_close(b->shape, 0.84051046, 1e-5, 0);
  assert_close(b->weibull.days, 13.116973, 1e-5, 0);
  assert_close(all->shape, 1.03860164, 1e-5, 0);
  assert_close(all->weibull.days, 32.490103, 1e-5, 0);
  assert_int_equal(all->mountings, 22);
  assert_int_not_equal(a->verdict, TENTER_INTERVAL_TOO_FEW);
  assert_int_equal(c->crossed, 2); /* fewer than three: nothing is said without the model */
  assert_int_equal(c->verdict, TENTER_INTERVAL_TOO_FEW);
  drop();
}

/* Another risk is the same question asked again, so that the middle one is the interval; who takes
 * more goes longer. Reading more often lets a screen go longer, a lot that loses faster less long;
 * all lots are read as their mesh is. */
static void test_sensitivity(void **state) {
  (void)state;
  three_lots();
  const tenter_interval_group *a = lot_of("A"), *b = lot_of("B"), *mesh = &study->meshes[0];
  for (const tenter_interval_group *lot = study->lots; lot < study->lots + 3; lot++) {
    assert_close(lot->risks[2], 0.35, 1e-12, 0);
    assert_close(lot->risk_days[2], lot->interval->days, 1e-9, 0);
    for (int i = 1; i < TENTER_INTERVAL_RISKS; i++)
      assert_false(lot->risk_days[i] < lot->risk_days[i - 1]); /* NaN: beyond 10 years */
    for (int i = 0; i < TENTER_INTERVAL_SPACINGS; i++)
      assert_close(lot->spacing_days[i], mesh->spacing_days[i], 1e-12, 0);
    assert_true(lot->spacing_life[3] > lot->spacing_life[0]);
  }
  for (int i = 0; i < TENTER_INTERVAL_SPACINGS; i++)
    assert_true(b->spacing_life[i] < a->spacing_life[i]);
  drop();
}

/* Two meshes whose lots have one name: each has its own mountings. */
static void test_one_name_twice(void **state) {
  (void)state;
  three_lots();
  assert_int_equal(study->meshes[0].in_use, 22);
  assert_int_equal(lot_of("A")->in_use, 10);
  assert_int_equal(lot_of("B")->in_use, 8);
  assert_int_equal(lot_of("C")->in_use, 4);
  drop();
  k = maker_new();
  for (int i = 0; i < 12; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%02d", i);
    maker_screen(k, name,
                 &(screen_made){
                     .mesh = i % 3 ? "120-34" : "77-48", .lot = "A", .floor = 20, .stretched = 1});
    for (int s = 0; s < 3; s++)
      maker_session(k, name, 1 + 24 * pow(10, 0.3 + 0.5 * s), "M1",
                    23 - 0.7 * s + 0.1 * maker_normal(k), 0);
  }
  tenter_error error = {0};
  maker_judge(k, 24 * 60);
  assert_int_equal(tenter_interval_study_new(k->review, NULL, &study, &error), TENTER_OK);
  assert_int_equal(study->count, 2);
  assert_int_equal(study->lot_count, 2);
  for (size_t i = 0; i < 2; i++) {
    bool fine = study->lots[i].interval->mesh ==
                tenter_names_find(k->tables->names[TENTER_NAME_MESH], tenter_text_of("120-34"));
    assert_int_equal(study->lots[i].in_use, fine ? 8 : 4);
    assert_int_equal(study->lots[i].life.mountings, fine ? 8 : 4);
  }
  drop();
}

/* ---- costs ---------------------------------------------------------------------------------- */

/* Two lots of one level, of which one loses twice as much: 1 and 2 N/cm per decade. */
static void fast_and_slow(void) {
  k = maker_new();
  k->config.settings.scale = TENTER_SCALE_TENSION;
  k->config.settings.levelling_decades = 6; /* the log law alone */
  k->config.settings.cost_restretch = 30;
  k->config.settings.cost_failure = 600;
  for (int i = 0; i < 48; i++) {
    char name[16], lot[16];
    double own = 25 + 0.1 * maker_normal(k), start = 1 + 6.0 * i, loss = i % 6 ? 1 : 2;
    snprintf(name, sizeof name, "S-%02d", i);
    snprintf(lot, sizeof lot, "L%d", i % 6);
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34", .lot = lot, .floor = 22.8, .stretched = start});
    for (int s = 0; s < 5; s++)
      maker_session(k, name, start + 24 * pow(10, 0.1 + 0.25 * s), "M1",
                    own - loss * (0.1 + 0.25 * s) + 0.05 * maker_normal(k), 0.1);
  }
  judge_study(24 * 40);
}

/* The least of (30 S + 600 (1 - S)) / integral of S over ten thousand ages, S from a lot's own
 * curve by linear interpolation, the integral by the trapezoidal rule. */
static double search(const tenter_interval_curve *c, double *least) {
  double best = NAN, last = c->days[0], above = 1 - c->below[0], exposure = last * above;
  *least = INFINITY;
  for (int i = 0, at = 0; i < 10000; i++) {
    double t = c->days[0] * pow(1000, i / 10000.0);
    while (c->days[at + 1] < t)
      at++;
    double part = (t - c->days[at]) / (c->days[at + 1] - c->days[at]);
    double s = 1 - (c->below[at] + part * (c->below[at + 1] - c->below[at]));
    exposure += (t - last) * (s + above) / 2;
    double cost = (30 * s + 600 * (1 - s)) / exposure * 365.25;
    if (cost < *least) {
      *least = cost;
      best = t;
    }
    last = t;
    above = s;
  }
  return best;
}

/* The fast lot comes to its floor after (25 - 22.8) / 2 = 1.1 decades, 12.6 days, the others after
 * 2.2, 158 days: the age of least cost is below these, and that of the fast lot a tenth. */
static void test_least_cost(void **state) {
  (void)state;
  fast_and_slow();
  for (size_t i = 0; i < study->lot_count; i++) {
    const tenter_interval_cost *cost = &study->lots[i].cost;
    double least, days = search(&study->lots[i].curve, &least);
    assert_close(cost->best_days, days, 0.04, 0);
    assert_close(cost->best_rate, least, 0.01, 0);
    assert_true(cost->calendar_rate >= cost->best_rate * (1 - 1e-3));
    assert_close(cost->saving_on_calendar, 8 * (cost->calendar_rate - cost->best_rate), 1e-9, 1e-9);
  }
  double fast = lot_of("L0")->cost.best_days;
  assert_true(fast > 4 && fast < 12.6);
  for (int i = 1; i < 6; i++) {
    double slow = lot_of((const char *[]){"L1", "L2", "L3", "L4", "L5"}[i - 1])->cost.best_days;
    assert_true(slow > 5 * fast && slow < 158);
  }
  drop();
}

/* Of the lots of test_lives six of A failed, six of B and two of C, none was re-stretched; all 10,
 * 8 and 4 mountings served 90 days less an hour. A lot of which nothing ended has no such cost. */
static void test_habit(void **state) {
  (void)state;
  k = maker_new();
  k->config.settings.cost_restretch = 10;
  k->config.settings.cost_failure = 100;
  for (size_t i = 0; i < sizeof fates / sizeof *fates; i++)
    for (int n = 0; n < fates[i].count; n++)
      live((int)(10 * i) + n, &fates[i]);
  for (int n = 0; n < 3; n++)
    live(200 + n, &(fate){"D", 3, 4, false});
  judge_study(24 * 90);
  const tenter_interval_cost *a = &lot_of("A")->cost, *d = &lot_of("D")->cost;
  assert_int_equal(a->habit_failed, 6);
  assert_int_equal(a->habit_planned, 0);
  assert_close(a->habit_screen_years, 900 / 365.25, 0.001, 0);
  assert_close(a->habit_rate, 600 / (900 / 365.25), 0.001, 0);
  assert_close(lot_of("B")->cost.habit_rate, 600 / (720 / 365.25), 0.001, 0);
  assert_close(lot_of("C")->cost.habit_rate, 200 / (360 / 365.25), 0.001, 0);
  assert_close(a->saving_on_habit, (double)lot_of("A")->in_use * (a->habit_rate - a->best_rate),
               1e-9, 1e-9);
  assert_true(isnan(d->habit_rate) && isnan(d->saving_on_habit));
  assert_true(d->best_rate > 0);
  drop();
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_lives), cmocka_unit_test(test_sensitivity),
      cmocka_unit_test(test_one_name_twice), cmocka_unit_test(test_least_cost),
      cmocka_unit_test(test_habit)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
