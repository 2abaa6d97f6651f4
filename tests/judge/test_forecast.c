/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The forecast: by hand where that can be done, and against the truth in simulated shops. */
#include "make_shop.h"

static double usual(double level, double loss, double days) {
  return level - loss * log10(days);
}

/* ---- by hand -------------------------------------------------------------------------------- */

/* One screen, one session of ten readings, nothing else. Derivation:
 *
 *   reading sd 0.3 (settings: repeatability; the data can't tell), so the session's mean y = 25 at
 *   u = log10(24 / 24) = 0 has the variance v = 0.09 / 10 = 0.009 times sigma^2, which nothing but
 *   its prior tells: scaled inverse chi-square, 4 degrees of freedom, scale 1, mean 4 / (4 - 2)
 * = 2. So the mean of the variance is 0.018 (nodes stand for that prior: to a few per cent). prior
 * line (prior loss): level N(25, 12.5) or so, far wider than 0.018; loss N(1.25, (0.4 * 1.25)^2 =
 * 0.25). Posterior at u = 0: mean 25, variance 0.018, sd 0.134; the loss stays N(1.25, 0.25),
 *   uncorrelated. At u = 1 (ten days): mean 23.75, variance 0.018 + 0.25 = 0.268, sd 0.5177.
 *
 *   P(horizon) against a floor of 23: as_of is u = 0 and the horizon 9 days, so the line is at u
 * = 1. P(L(0) < 23 or L(1) < 23) = P(L(1) < 23) = Phi((23 - 23.75) / 0.5177) = Phi(-1.4487) =
 * 0.0737; the other event adds nothing. */
static void test_by_hand(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.horizon_days = 9;
  k->config.settings.scale = TENTER_SCALE_TENSION;
  maker_screen(k, "X", &(screen_made){.mesh = "120-34", .floor = 23, .stretched = 1});
  maker_session(k, "X", 25, "M1", 25, 0);
  maker_judge(k, 25);
  const tenter_review_screen *x = maker_find(k, "X");
  double mean, sd;
  assert_close(x->forecast.now, 25, 1e-9, 0);
  assert_close(x->forecast.now_se, 0.134, 0.05, 0);
  tenter_review_tension_at(k->review, x, 240, &mean, &sd);
  assert_close(mean, 23.75, 1e-6, 0);
  assert_close(sd, 0.5177, 0.01, 0);
  /* 2 N/cm below y: beyond 2 / sqrt(0.009) = 21 of Student's t with 4 df, 1.5e-5 */
  assert_close(x->forecast.below_floor_now, 0, 0, 2e-5);
  assert_close(x->forecast.below_floor_at_horizon, 0.0737, 0.01, 0);
  /* median crossing: 25 - 1.25 u = 23 at u = 1.6 */
  assert_close((double)(x->forecast.median - maker_time(1)) / TENTER_HOUR, 24 * pow(10, 1.6), 0.02,
               0);
  assert_true(x->forecast.early < x->forecast.median);
  maker_free(k);
}

/* No crossing where the loss is nil; as_of where it may already have. */
static void test_crossing_ends(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < 10; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    maker_screen(
        k, name,
        &(screen_made){.mesh = "120-34", .lot = "L1", .floor = i == 0 ? 25.5 : 15, .stretched = 1});
    for (double days = 1.5; days < 300; days *= 2)
      maker_session(k, name, 1 + 24 * days, "M1", 25, 0.2);
  }
  maker_judge(k, 24 * 300);
  const tenter_forecast *low = &maker_find(k, "S-1")->forecast,
                        *flat = &maker_find(k, "S-2")->forecast;
  assert_true(low->early == k->shop->as_of);
  assert_true(low->late == k->shop->as_of);
  assert_close(low->below_floor_now, 1, 0, 1e-6);
  assert_true(flat->early == TENTER_NO_TIME && flat->late == TENTER_NO_TIME);
  maker_free(k);
}

/* ---- the same for any number of threads, and for any order of rows --------------------------- */

static void fill(maker *k, int screens, bool backwards) {
  static const char *const lots[] = {"L1", "L2", "L3"};
  for (int n = 0; n < screens; n++) {
    int i = backwards ? screens - 1 - n : n;
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    k->random = 77 + (uint64_t)i;
    maker_screen(k, name,
                 &(screen_made){.mesh = i % 2 ? "120-34" : "77-55",
                                .lot = lots[i % 3],
                                .target = 25,
                                .minus = 2,
                                .plus = 2,
                                .stretched = 1 + i % 50});
    double level = 25 + 0.5 * maker_normal(k), loss = 1.2 + 0.2 * maker_normal(k);
    for (double days = 1.5 + 0.1 * (i % 7); days < 60; days *= 2)
      maker_session(k, name, 1 + 24 * days, i % 5 ? "M1" : "M2", usual(level, loss, days), 0.3);
  }
}

static bool same(double a, double b) {
  return (isnan(a) && isnan(b)) || a == b;
}

static void assert_same(const maker *a, const maker *b) {
  assert_int_equal(a->review->screen_count, b->review->screen_count);
  for (size_t i = 0; i < a->review->screen_count; i++) {
    const tenter_review_screen *x = &a->review->screens[i], *y = &b->review->screens[i];
    assert_true(same(x->forecast.now, y->forecast.now));
    assert_true(same(x->forecast.now_se, y->forecast.now_se));
    assert_true(same(x->forecast.below_floor_at_horizon, y->forecast.below_floor_at_horizon));
    assert_true(same(x->evenness_probability, y->evenness_probability));
    assert_true(x->forecast.median == y->forecast.median);
    assert_int_equal(x->action, y->action);
    assert_int_equal(x->action_before, y->action_before);
    assert_int_equal(x->reason_count, y->reason_count);
    for (size_t r = 0; r < x->reason_count; r++)
      assert_string_equal(x->reasons[r].text, y->reasons[r].text);
  }
  for (size_t i = 0; i < a->review->lot_count; i++)
    assert_true(same(a->review->lots[i].excess, b->review->lots[i].excess));
  for (size_t i = 0; i < a->review->week_count; i++)
    assert_true(same(a->review->weeks[i].mean_shift, b->review->weeks[i].mean_shift));
}

static void test_threads_and_order(void **state) {
  (void)state;
  maker *one = maker_new(), *three = maker_new(), *other = maker_new();
  three->pool = tenter_pool_new(3);
  fill(one, 700, false);
  fill(three, 700, false);
  fill(other, 700, true);
  one->config.settings.weeks = three->config.settings.weeks = other->config.settings.weeks = 3;
  maker_judge_at(one, 24 * 50, true);
  maker_judge_at(three, 24 * 50, true);
  maker_judge_at(other, 24 * 50, true);
  assert_same(one, three);
  assert_same(one, other);
  maker_free(one);
  maker_free(three);
  maker_free(other);
}

/* ---- against the truth ---------------------------------------------------------------------- */

/* What became of the forecasts of simulated shops. */
typedef struct tally {
  double forecasts, within, chance, below, brier, chance_variance;
} tally;

/* One shop: lots and screens of known lines, losses in proportion to the level, noise per reading
 * and per session; screens with one to six sessions, some of partial layout. */
static void simulate(uint64_t seed, tally *t) {
  enum { SCREENS = 40, LOTS = 5 };
  maker *k = maker_new();
  double level[SCREENS], loss[SCREENS], lot_level[LOTS], lot_loss[LOTS], judged_days = 40;
  k->random = seed;
  for (int l = 0; l < LOTS; l++) {
    lot_level[l] = 25 + 0.6 * maker_normal(k);
    lot_loss[l] = 0.05 + 0.008 * maker_normal(k);
  }
  for (int i = 0; i < SCREENS; i++) {
    char name[16], lot[16];
    int l = i % LOTS, sessions = 1 + i % 6;
    snprintf(name, sizeof name, "S-%d", i + 1);
    snprintf(lot, sizeof lot, "L%d", l + 1);
    level[i] = lot_level[l] + 0.8 * maker_normal(k);
    loss[i] = level[i] * (lot_loss[l] + 0.006 * maker_normal(k));
    double mid = usual(level[i], loss[i], judged_days + 7);
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34",
                                .lot = lot,
                                .target = 25,
                                .floor = mid + 0.35 * maker_normal(k),
                                .stretched = 1});
    for (int s = 0; s < sessions; s++) {
      double days = 1.3 + (judged_days - 2) * (s + maker_uniform(k)) / sessions;
      double own = usual(level[i], loss[i], days) + 0.15 * maker_normal(k);
      maker_session(k, name, 1 + 24 * days, "M1", own, 0.3);
    }
  }
  maker_judge(k, 1 + 24 * judged_days);
  for (int i = 0; i < SCREENS; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    const tenter_review_screen *s = maker_find(k, name);
    double mean, sd, then = judged_days + 7, truth = usual(level[i], loss[i], then);
    tenter_review_tension_at(k->review, s, 24 * then, &mean, &sd);
    double p = s->forecast.below_floor_at_horizon;
    bool below = truth < k->shop->mountings[s->mounting].is.floor;
    t->forecasts++;
    t->within += fabs(truth - mean) < 1.6449 * sd;
    t->chance += p;
    t->below += below;
    t->chance_variance += p * (1 - p);
    t->brier += (p - below) * (p - below);
  }
  maker_free(k);
}

/* 90 % intervals cover 90 %, and the chances add up to what happens, each within three standard
 * deviations of a binomial count (screens of a lot share its error: variance doubled for that). */
static void test_calibration(void **state) {
  (void)state;
  tally t = {0};
  for (uint64_t shop = 0; shop < 25; shop++)
    simulate(900 + 7919 * shop, &t);
  if (getenv("SHOW"))
    printf("%g forecasts, %.1f %% within 90 %%; chances add up to %.1f, below %g; Brier %.3f of "
           "%.3f\n",
           t.forecasts, 100 * t.within / t.forecasts, t.chance, t.below, t.brier / t.forecasts,
           t.chance_variance / t.forecasts);
  assert_close(t.within / t.forecasts, 0.9, 0, 3 * sqrt(2 * 0.09 / t.forecasts));
  assert_close(t.chance, t.below, 0, 3 * sqrt(2 * t.chance_variance));
  /* a calibrated forecaster's Brier score is the mean of p (1 - p) */
  assert_close(t.brier, t.chance_variance, 0.15, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_by_hand), cmocka_unit_test(test_crossing_ends),
      cmocka_unit_test(test_threads_and_order), cmocka_unit_test(test_calibration)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
