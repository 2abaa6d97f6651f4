/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Meshes that level off: simulated shops of known truth. The law is found where the data can tell
 * it and stays the log law where they can't or where it is one; forecasts follow the truth. */
#include "make_shop.h"

enum { LOTS = 4, SCREENS = 24 };

typedef double law_of(double days); /* what of a mounting's loss is lost by then; 0 at 1 day */

static double log_law(double days) {
  return log10(days);
}

/* tau = 150 h, 2.2 N/cm from 24 h to the end of a usual mounting */
static double solid_law(double days) {
  return 1.7 * (1 - exp(-24 * (days - 1) / 150));
}

static double stretched_law(double days) {
  return 2 * (exp(-pow(24 / 80.0, 0.6)) - exp(-pow(24 * days / 80, 0.6)));
}

typedef struct known {
  double level, loss, zero; /* N/cm at 24 h; times the law; hours */
} known;

static double truth(const known *t, law_of *law, double days) {
  return t->level - t->loss * law(days);
}

static void name_of(int i, char name[16]) {
  snprintf(name, 16, "S-%02d", i + 1);
}

static double law_doubt = -1; /* the setting; below 0 its default */

/* Screens of four lots, read `sessions` times from day 1.2 to the last day, evenly in log age. */
static maker *shop_for(uint64_t seed, law_of *law, int sessions, double last_day, double horizon,
                       known *screens) {
  maker *k = maker_new();
  k->random = seed;
  k->config.settings.horizon_days = horizon;
  if (law_doubt >= 0)
    k->config.settings.law_doubt = law_doubt;
  for (int i = 0; i < SCREENS; i++) {
    char name[16], lot[16];
    name_of(i, name);
    snprintf(lot, sizeof lot, "L%d", i % LOTS);
    screens[i] =
        (known){25 + 0.8 * maker_normal(k), 1.3 + 0.12 * maker_normal(k), 1 + 24 * (i % 6)};
    const known *t = &screens[i];
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34", .lot = lot, .floor = 22, .stretched = t->zero});
    double first = log10(1.2), span = log10(last_day - 6) - first;
    for (int s = 0; s < sessions; s++) {
      double days = pow(10, first + span * (s + maker_uniform(k)) / sessions);
      maker_session(k, name, t->zero + 24 * days, "M1",
                    truth(t, law, days) + 0.15 * maker_normal(k), 0.3);
    }
  }
  maker_judge(k, 24 * last_day);
  return k;
}

static maker *shop_of(uint64_t seed, law_of *law, int sessions, double last_day, known *screens) {
  return shop_for(seed, law, sessions, last_day, 7, screens);
}

/* A plateau: 25 - 1.3 * 1.7 = 22.8 lies over the floor of 22 for a usual screen, the log law would
 * pass it at day 10^(3 / 1.3) = 203. Loss per decade: 1.7 * 1.3 (1 - e^(-216 / 150)) = 1.686. */
static void test_plateau(void **state) {
  (void)state;
  known screens[SCREENS];
  maker *k = shop_of(11, solid_law, 10, 60, screens);
  const tenter_review_population *mesh = &k->review->populations[0];
  assert_string_equal(mesh->law, maker_find(k, "S-01")->relaxation.law);
  assert_true(strcmp(mesh->law, "solid") == 0 || mesh->law_beta >= 0.7);
  assert_true(mesh->levels_off > 0.999);
  double loss = 0, mean, sd;
  for (int i = 0; i < SCREENS; i++)
    loss += screens[i].loss * solid_law(10) / SCREENS;
  assert_close(mesh->loss_per_decade, loss, 0, 3 * mesh->loss_per_decade_se);
  assert_close(loss, 1.686, 0.1, 0);
  int open = 0;
  for (int i = 0; i < SCREENS; i++) {
    char name[16];
    name_of(i, name);
    const tenter_review_screen *s = maker_find(k, name);
    tenter_review_tension_at(k->review, s, 24 * 365, &mean, &sd);
    assert_close(mean, truth(&screens[i], solid_law, 365), 0, 4 * sd + 0.05);
    double end = truth(&screens[i], solid_law, 1e4);
    if (end > 22.4) { /* beyond doubt */
      assert_true(s->forecast.median == TENTER_NO_TIME);
      open++;
    }
  }
  assert_true(open > 10);
  maker_free(k);
}

/* A screen's u on the solid law of solid_law by hand, at an age and on average over its sessions.
 */
static double solid_u(double days) {
  return solid_law(days) / solid_law(10);
}

static double mean_solid_u(const maker *k, const tenter_review_screen *s) {
  const tenter_mounting *m = &k->shop->mountings[s->mounting];
  double sum = 0;
  for (size_t i = 0; i < m->session_count; i++)
    sum +=
        solid_u((double)(k->shop->sessions[m->first_session + i].taken - m->zero.at) / TENTER_DAY);
  return sum / (double)m->session_count;
}

/* That the law may be off by a share d of its loss beyond what was read adds
 * (d loss (u - mean u of the sessions))^2 to the variance; where the law is the log law, nothing.
 */
static void test_law_in_doubt(void **state) {
  (void)state;
  known screens[SCREENS];
  double mean, sd, doubted, days = 365, d = 0.2;
  law_doubt = 0;
  maker *sure = shop_of(11, solid_law, 10, 60, screens);
  law_doubt = d;
  maker *k = shop_of(11, solid_law, 10, 60, screens);
  const tenter_review_screen *s = maker_find(k, "S-01");
  tenter_review_tension_at(k->review, s, 24 * days, &mean, &doubted);
  tenter_review_tension_at(sure->review, maker_find(sure, "S-01"), 24 * days, &mean, &sd);
  double more = d * s->relaxation.loss_per_decade * (solid_u(days) - mean_solid_u(k, s));
  assert_true(more > 0.05);
  assert_close(sqrt(doubted * doubted - sd * sd), more, 0.1, 0);
  maker_free(sure);
  maker_free(k);
  law_doubt = 0;
  sure = shop_of(12, log_law, 10, 16, screens); /* too narrow a span for another law */
  law_doubt = d;
  k = shop_of(12, log_law, 10, 16, screens);
  tenter_review_tension_at(sure->review, maker_find(sure, "S-01"), 24 * days, &mean, &sd);
  tenter_review_tension_at(k->review, maker_find(k, "S-01"), 24 * days, &mean, &doubted);
  assert_close(doubted, sd, 1e-12, 0);
  maker_free(sure);
  maker_free(k);
  law_doubt = -1;
}

/* Under the log law it is the log law, and the chance of another is small. */
static void test_log_law_stands(void **state) {
  (void)state;
  known screens[SCREENS];
  maker *k = shop_of(12, log_law, 10, 60, screens);
  assert_string_equal(k->review->populations[0].law, "log");
  assert_true(isnan(k->review->populations[0].law_beta));
  assert_true(k->review->populations[0].levels_off < 0.5);
  maker_free(k);
}

/* Ages over less than a decade can't tell: no other law is weighed. */
static void test_narrow_span(void **state) {
  (void)state;
  known screens[SCREENS];
  maker *k = shop_of(13, solid_law, 10, 16, screens);
  assert_string_equal(k->review->populations[0].law, "log");
  assert_close(k->review->populations[0].levels_off, 0, 0, 0);
  maker_free(k);
}

/* P(t) never falls with t, for a mixture of laws too. */
static void test_never_falls(void **state) {
  (void)state;
  double before[SCREENS] = {0};
  for (double horizon = 1; horizon < 400; horizon *= 3) {
    known screens[SCREENS];
    maker *k = shop_for(14, stretched_law, 4, 40, horizon, screens);
    assert_true(k->review->populations[0].levels_off > 0.05);
    for (int i = 0; i < SCREENS; i++) {
      char name[16];
      name_of(i, name);
      double p = maker_find(k, name)->forecast.below_floor_at_horizon;
      assert_true(p >= before[i] - 1e-12);
      assert_true(p >= maker_find(k, name)->forecast.below_floor_now);
      before[i] = p;
    }
    maker_free(k);
  }
}

/* 90 % intervals of the tension in a week cover the truth in 90 % of screens, within three standard
 * deviations of a binomial count (doubled in variance: screens of a shop share its errors). */
static void covers(law_of *law, int sessions, uint64_t seed) {
  enum { SHOPS = 12 };
  double n = SHOPS * SCREENS, within = 0;
  for (uint64_t shop = 0; shop < SHOPS; shop++) {
    known screens[SCREENS];
    maker *k = shop_of(seed + 7919 * shop, law, sessions, 50, screens);
    for (int i = 0; i < SCREENS; i++) {
      char name[16];
      name_of(i, name);
      double days = 50 - screens[i].zero / 24 + 7, mean, sd;
      tenter_review_tension_at(k->review, maker_find(k, name), 24 * days, &mean, &sd);
      within += fabs(truth(&screens[i], law, days) - mean) < 1.6449 * sd;
    }
    maker_free(k);
  }
  print_message("%.1f %% of %.0f\n", 100 * within / n, n);
  assert_close(within / n, 0.9, 0, 3 * sqrt(2 * 0.09 / n));
}

static void test_coverage(void **state) {
  (void)state;
  covers(solid_law, 3, 500);
  covers(solid_law, 15, 600);
  covers(stretched_law, 3, 1700);
  covers(stretched_law, 15, 1800);
  covers(log_law, 15, 900);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_plateau),        cmocka_unit_test(test_law_in_doubt),
      cmocka_unit_test(test_log_law_stands), cmocka_unit_test(test_narrow_span),
      cmocka_unit_test(test_never_falls),    cmocka_unit_test(test_coverage),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
