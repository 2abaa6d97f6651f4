/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lots, sets, meters and weeks of shops whose truth is known. */
#include "make_shop.h"
#include "tenter/stats/compare.h"

static double usual(double level, double loss, double days) {
  return level - loss * log10(days);
}

enum { LOTS = 8, SCREENS_A_LOT = 8 };

/* Eight lots of one mesh; lot 0 loses `fast` times the usual 1.25 a decade. Every lot is stretched
 * over three months; confounded: lot 0 is read with a meter of its own. */
static maker *shop(double fast, bool confounded) {
  maker *k = maker_new();
  for (int i = 0; i < LOTS * SCREENS_A_LOT; i++) {
    int l = i % LOTS;
    char name[16], lot[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    snprintf(lot, sizeof lot, "L%d", l);
    double start = 1 + 24 * (i * 1.4), level = 25 + 0.5 * maker_normal(k);
    double loss = 1.25 * (l == 0 ? fast : 1 + 0.03 * (l - 4)) + 0.1 * maker_normal(k);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .lot = lot, .stretched = start});
    for (double days = 1.2; days < 70; days *= 2)
      maker_session(k, name, start + 24 * days,
                    confounded       ? (l == 0 ? "M2" : "M1")
                    : (i / LOTS) % 2 ? "M2"
                                     : "M1",
                    usual(level, loss, days) + 0.1 * maker_normal(k), 0.2);
  }
  maker_judge(k, 24 * 160);
  return k;
}

static const tenter_review_lot *find_lot(const maker *k, const char *lot) {
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_LOT], tenter_text_of(lot));
  for (size_t i = 0; i < k->review->lot_count; i++)
    if (k->review->lots[i].lot == id)
      return &k->review->lots[i];
  fail_msg("no lot %s", lot);
  return NULL;
}

static void test_fast_lot(void **state) {
  (void)state;
  maker *k = shop(1.7, false);
  const tenter_review_lot *fast = find_lot(k, "L0");
  assert_ptr_equal(fast, &k->review->lots[0]); /* fast first */
  assert_true(fast->fast);
  assert_close(fast->loss_per_decade, 1.7 * 1.25, 0, 0.15);
  assert_close(fast->raw_loss_per_decade, 1.7 * 1.25, 0, 0.15);
  assert_true(fast->excess > 0.4);
  assert_int_equal(fast->screens, SCREENS_A_LOT);
  /* Plain slopes scatter by 0.1 and their own error; 0.8 N/cm above the others of eight screens is
   * beyond ten standard errors of any pair. The least of eight p is adjusted by 8 where the next is
   * not small. */
  assert_true(fast->raw_p_value < 1e-8 && fast->raw_pair_p_value < 1e-6);
  assert_close(fast->raw_q_value, LOTS * fast->raw_p_value, 1e-9, 0);
  assert_int_equal(fast->raw_above, LOTS - 1);
  assert_int_equal(fast->raw_compared, LOTS - 1);
  /* The columns are those of the comparison that test_compare holds against R, on the plain slopes
   * of the eight lots. */
  tenter_compared plain[LOTS];
  for (size_t i = 0; i < LOTS; i++)
    plain[i] =
        (tenter_compared){.count = SCREENS_A_LOT,
                          .mean = k->review->lots[i].raw_loss_per_decade,
                          .sd = k->review->lots[i].raw_loss_per_decade_se * sqrt(SCREENS_A_LOT)};
  tenter_compare_groups(plain, LOTS, 0.05);
  for (size_t i = 0; i < LOTS; i++) {
    assert_close(k->review->lots[i].raw_p_value, plain[i].p, 1e-6, 0);
    assert_close(k->review->lots[i].raw_pair_p_value, plain[i].pair, 1e-6, 1e-15);
  }
  for (size_t i = 1; i < k->review->lot_count; i++)
    assert_false(k->review->lots[i].fast);
  for (size_t i = 1; i < k->review->lot_count; i++) /* q never falls down the list */
    assert_true(k->review->lots[i].q_value >= k->review->lots[i - 1].q_value);
  maker_free(k);
}

static void test_no_fast_lot(void **state) {
  (void)state;
  maker *k = shop(1, false);
  for (size_t i = 0; i < k->review->lot_count; i++)
    assert_false(k->review->lots[i].fast);
  maker_free(k);
}

/* A lot read with a meter of its own: both are named, none is flagged. */
static void test_confounded_lot(void **state) {
  (void)state;
  maker *k = shop(1.7, true);
  const tenter_review_lot *lot = find_lot(k, "L0");
  assert_true(lot->probability_fast > 0.9);
  assert_false(lot->fast);
  assert_int_equal(lot->confounded_count, 1);
  assert_string_equal(lot->confounded_with[0], "meter");
  maker_free(k);
}

/* ---- sets ----------------------------------------------------------------------------------- */

static void add_set(maker *k, const char *set, const double *level, size_t count) {
  for (size_t i = 0; i < count; i++) {
    char name[32];
    snprintf(name, sizeof name, "%s-%zu", set, i + 1);
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34", .lot = "L1", .set = set, .stretched = 1});
    for (double days = 1.2; days < 30; days *= 2)
      maker_session(k, name, 1 + 24 * days, "M1", usual(level[i], 1.2, days), 0.2);
  }
}

static void test_sets(void **state) {
  (void)state;
  maker *k = maker_new();
  add_set(k, "AGREE", (double[]){25, 25.2, 24.8, 25.1}, 4);
  add_set(k, "APART", (double[]){25, 25.2, 21.5, 25.1}, 4);
  add_set(k, "NEAR", (double[]){25, 23.0}, 2);
  add_set(k, "OVER", (double[]){25, 22.8}, 2);
  maker_judge(k, 24 * 30);
  assert_int_equal(k->review->set_count, 4);
  assert_int_equal(k->review->sets[0].agrees, TENTER_VERDICT_GOOD);
  assert_int_equal(k->review->sets[0].odd_one_out, TENTER_NO_NAME);
  assert_int_equal(k->review->sets[1].agrees, TENTER_VERDICT_BAD);
  assert_string_equal(
      tenter_names_get(k->tables->names[TENTER_NAME_SCREEN], k->review->sets[1].odd_one_out),
      "APART-3");
  assert_close(k->review->sets[1].spread, 3.7, 0, 0.3);
  assert_int_equal(k->review->sets[2].agrees, TENTER_VERDICT_UNDECIDED);
  assert_int_equal(k->review->sets[3].agrees, TENTER_VERDICT_BAD);
  maker_free(k);
}

/* ---- meters --------------------------------------------------------------------------------- */

/* Errors on the plate 0.1, -0.1, 0.1, -0.1, then -1 four times. The mean weights are 1, 1/2, 0.4,
 * 0.4 ... (1/(i+1) at least 0.4): 0.1, 0, 0.04, -0.016, then each step leaves 0.6 of what was and
 * adds -0.4: -0.4096, -0.64576, -0.787456, -0.8724736. */
static void test_bias_by_hand(void **state) {
  (void)state;
  maker *k = maker_new();
  const double errors[] = {0.1, -0.1, 0.1, -0.1, -1, -1, -1, -1};
  for (size_t i = 0; i < 8; i++)
    maker_check(k, "M1", 24.0 * 7 * (double)i, 25, 25 + errors[i]);
  maker_check(k, "M2", 24, 25, 25.1);
  for (int i = 0; i < 3; i++) /* has always read low */
    maker_check(k, "M3", 24 + 168 * i, 25, 24);
  maker_reading(k, "X", 30, "C", TENTER_WARP, "M1", 25);
  maker_judge(k, 24 * 60);
  const tenter_review_meter *m = &k->review->meters[0];
  assert_close(m->bias, -0.8724736, 1e-9, 0);
  assert_true(m->shifted);
  assert_int_equal(m->checks, 8);
  assert_int_equal(m->since, maker_time(24 * 7 * 4));
  assert_string_equal(m->bias_against, "plate");
  assert_false(k->review->meters[1].shifted);
  assert_close(k->review->meters[2].bias, -1, 1e-12, 0);
  assert_int_equal(k->review->meters[2].since, maker_time(24));
  maker_free(k);
}

static void test_resolution(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < 20; i++) {
    maker_reading(k, "X", 10 + 3 * i, "C", TENTER_WARP, "dial", 20 + 0.5 * (i % 7));
    maker_reading(k, "Y", 10 + 3 * i, "C", TENTER_WARP, "digital", 20 + 0.1 * (i % 7));
  }
  maker_judge(k, 100);
  assert_close(k->review->meters[0].resolution, 0.5, 1e-12, 0); /* by name: dial, digital */
  assert_close(k->review->meters[1].resolution, 0.1, 1e-12, 0);
  maker_free(k);
}

/* ---- weeks ---------------------------------------------------------------------------------- */

/* Read each week until the third (the first screen on a Friday too), judged at the end of the
 * fifth: stale by then, fine a week earlier. 2026-01-05 is the Monday of ISO week 2. */
static void test_weeks(void **state) {
  (void)state;
  static const double hours[] = {30, 168, 2 * 168}; /* Tuesday, then Mondays at 8 */
  maker *k = maker_new();
  for (int i = 0; i < 6; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    maker_screen(
        k, name,
        &(screen_made){
            .mesh = "120-34", .lot = "L1", .target = 25, .minus = 3, .plus = 3, .stretched = 1});
    for (int w = 0; w < 3; w++)
      maker_session(k, name, hours[w], "M1", usual(25, 2.5, (hours[w] - 1) / 24.0), 0.2);
  }
  maker_session(k, "S-1", 4 * 24 + 2, "M1", usual(25, 2.5, 97 / 24.0), 0.2);
  maker_judge_at(k, 24 * 7 * 5 - 9, true); /* Sunday, 23:00 */
  const tenter_review *r = k->review;
  assert_int_equal(r->week_count, 5);
  assert_int_equal(r->weeks[0].year, 2026);
  assert_int_equal(r->weeks[0].week, 2);
  assert_int_equal(r->weeks[4].week, 6);
  for (size_t w = 0; w < 5; w++) {
    assert_int_equal(r->weeks[w].sessions, w == 0 ? 7 : w < 3 ? 6 : 0);
    assert_int_equal(r->weeks[w].screens, w < 3 ? 6 : 0);
    assert_int_equal(r->weeks[w].in_use, 6);
    assert_int_equal(r->weeks[w].actions[TENTER_ACTION_REREAD], w < 4 ? 0 : 6);
  }
  /* 2.5 a decade, twice what the prior says, has been learned from the mesh by then */
  assert_close(r->weeks[2].mean_shift, 0, 0, 0.12);
  assert_true(isnan(r->weeks[4].mean_shift));
  for (size_t i = 0; i < r->screen_count; i++) {
    assert_int_equal(r->screens[i].action, TENTER_ACTION_REREAD);
    assert_int_equal(r->screens[i].action_before, TENTER_ACTION_USE);
  }
  maker_free(k);
}

/* A screen that was not there at the end of the week before: stretched on the day of the review. */
static void test_new_screen_has_no_before(void **state) {
  (void)state;
  maker *k = maker_new();
  maker_screen(k, "X", &(screen_made){.mesh = "120-34", .stretched = 24 * 20});
  maker_session(k, "X", 24 * 20 + 2, "M1", 25, 0.2);
  maker_judge_at(k, 24 * 20 + 4, true);
  assert_int_equal(maker_find(k, "X")->action_before, TENTER_ACTION_COUNT);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_fast_lot),       cmocka_unit_test(test_no_fast_lot),
      cmocka_unit_test(test_confounded_lot), cmocka_unit_test(test_sets),
      cmocka_unit_test(test_bias_by_hand),   cmocka_unit_test(test_resolution),
      cmocka_unit_test(test_weeks),          cmocka_unit_test(test_new_screen_has_no_before)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
