/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Data nobody likes: each has a defined outcome. */
#include "make_shop.h"

static double usual(double level, double days) {
  return level - 1.2 * log10(days);
}

static screen_made ordinary(void) {
  return (screen_made){.mesh = "120-34",
                       .lot = "L1",
                       .target = 25,
                       .minus = 2,
                       .plus = 2,
                       .floor = 20,
                       .frame = TENTER_FRAME_GLUED,
                       .stretched = 1};
}

/* Six ordinary screens, so that the shop knows its mesh. */
static maker *shop(void) {
  maker *k = maker_new();
  for (int i = 0; i < 6; i++) {
    char name[16];
    screen_made made = ordinary();
    snprintf(name, sizeof name, "S-%d", i + 1);
    maker_screen(k, name, &made);
    for (double days = 1.2; days < 30; days *= 2)
      maker_session(k, name, 1 + 24 * days, "M1", usual(25 + 0.2 * i, days), 0.2);
  }
  return k;
}

static void finite(const tenter_review_screen *s) {
  assert_true(isfinite(s->forecast.now) && s->forecast.now_se > 0);
  assert_true(s->forecast.below_floor_now >= 0 && s->forecast.below_floor_now <= 1);
  assert_true(s->forecast.below_floor_at_horizon >= s->forecast.below_floor_now - 1e-12);
}

/* Unknown stretch time: no age, a forecast all the same, wide ahead, near what was read now. */
static void test_unknown_stretch(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  made.stretched = 0;
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 20, "M1", 23, 0.2);
  maker_session(k, "X", 24 * 27, "M1", 22.9, 0.2);
  maker_judge(k, 24 * 28);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_true(isnan(x->age_hours));
  finite(x);
  assert_close(x->forecast.now, 22.9, 0, 0.3);
  assert_null(x->posterior.nodes);
  assert_int_equal(x->relaxation.alone.sessions, 0);
  assert_int_equal(x->acceptance_session, x->latest.session - 1); /* its first */
  /* it stays out of the population */
  for (size_t i = 0; i < k->review->population_count; i++)
    assert_int_equal(k->review->populations[i].mountings, 6);
  maker_free(k);
}

/* Readings before the stretch belong to a mounting before it; the new one is never read. */
static void test_before_the_stretch(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  made.stretched = 24 * 20;
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 10, "M1", 18, 0.2);
  maker_judge(k, 24 * 22);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_false(x->read);
  assert_non_null(maker_reason(x, TENTER_REASON_NEVER_READ));
  assert_int_equal(x->action, TENTER_ACTION_REREAD);
  finite(x); /* its lot tells something of it */
  maker_free(k);
}

/* A shop of one screen and one session: the prior tells the loss, and says so. */
static void test_single_session(void **state) {
  (void)state;
  maker *k = maker_new();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  maker_session(k, "X", 27, "M1", 25, 0.2);
  maker_judge(k, 30);
  const tenter_review_screen *x = maker_find(k, "X");
  finite(x);
  assert_close(x->forecast.now, 25, 0, 0.3);
  assert_string_equal(k->review->populations[0].structure, "prior loss");
  /* published relaxation of polyester: 3 to 7 % a decade, 5 % of 25 N/cm */
  assert_close(x->relaxation.loss_per_decade, 1.25, 0, 0.1);
  assert_true(isnan(x->relaxation.alone.loss_per_decade));
  assert_true(k->review->patterns[0].assumed);
  maker_free(k);
}

/* A shop that was never read at all. */
static void test_no_readings(void **state) {
  (void)state;
  maker *k = maker_new();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  maker_judge_at(k, 240, true);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_int_equal(x->action, TENTER_ACTION_REREAD);
  assert_true(isnan(x->forecast.now));
  assert_int_equal(x->ageing, TENTER_AGEING_NONE);
  maker_free(k);
}

/* No screens. */
static void test_nothing(void **state) {
  (void)state;
  maker *k = maker_new();
  maker_judge_at(k, 240, true);
  assert_int_equal(k->review->screen_count, 0);
  maker_free(k);
}

/* All values equal: no noise to be seen, the settings' stands in. */
static void test_all_equal(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < 4; i++) {
    char name[16];
    screen_made made = ordinary();
    snprintf(name, sizeof name, "S-%d", i + 1);
    maker_screen(k, name, &made);
    for (double days = 1.2; days < 10; days *= 2)
      maker_session(k, name, 1 + 24 * days, "M1", 25, 0);
  }
  maker_judge_at(k, 24 * 10, true);
  for (size_t i = 0; i < 4; i++) {
    finite(&k->review->screens[i]);
    assert_close(k->review->screens[i].forecast.now, 25, 0, 0.2);
    assert_int_equal(k->review->screens[i].action, TENTER_ACTION_USE);
  }
  assert_true(k->review->patterns[0].sd_reading > 0);
  maker_free(k);
}

/* A misread digit (2.25 for 22.5) in the only session of a screen. */
static void test_misread_digit(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  for (size_t i = 0; i < 5; i++)
    maker_reading(k, "X", 30, maker_five[i], TENTER_WARP, "M1", i == 3 ? 2.25 : 22.5);
  maker_judge(k, 24 * 3);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_true(x->doubted);
  assert_int_equal(x->action, TENTER_ACTION_REREAD);
  assert_non_null(strstr(maker_reason(x, TENTER_REASON_DOUBTED_READING)->text, "2.25"));
  assert_close(x->latest.mean, (4 * 22.5 + 2.25) / 5, 1e-12, 0); /* the plain mean stays plain */
  assert_close(x->forecast.now, 22.3, 0, 0.5); /* the forecast does not believe it */
  maker_free(k);
}

/* An old misread session is left out and troubles nobody. */
static void test_old_misread(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 2, "M1", usual(25, 2), 0.2);
  maker_session(k, "X", 24 * 9, "M1", usual(25, 9), 0.2);
  maker_session(k, "X", 24 * 16, "M1", 14.5, 0.2);
  maker_session(k, "X", 24 * 23, "M1", usual(25, 23), 0.2);
  maker_session(k, "X", 24 * 29, "M1", usual(25, 29), 0.2);
  maker_judge(k, 24 * 30);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_int_equal(x->action, TENTER_ACTION_USE);
  assert_int_equal(x->relaxation.alone.sessions, 4);
  assert_close(x->forecast.now, usual(25, 30), 0, 0.25);
  maker_free(k);
}

/* Swapped warp and weft. */
static void test_swapped_directions(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  for (int s = 0; s < 3; s++)
    for (size_t i = 0; i < 5; i++)
      for (int d = TENTER_WARP; d <= TENTER_WEFT; d++) {
        double off = (d == TENTER_WARP) == (s < 2) ? 0.8 : -0.8;
        maker_reading(k, "X", 24 * (2 + 7 * s), maker_five[i], (tenter_direction)d, "M1",
                      round(10 * (usual(25, 2 + 7 * s) + off + 0.2 * maker_normal(k))) / 10);
      }
  maker_judge(k, 24 * 17);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_true(x->doubted);
  assert_non_null(strstr(maker_reason(x, TENTER_REASON_DOUBTED_READING)->text, "Warp and weft"));
  maker_free(k);
}

/* A meter set to lbf/in: 1 N/cm is 0.571 lbf/in (exact: 4.4482216 N, 2.54 cm). */
static void test_another_unit(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 2, "M1", usual(25, 2), 0.2);
  maker_session(k, "X", 24 * 9, "M1", usual(25, 9), 0.2);
  maker_session(k, "X", 24 * 16, "M1", usual(25, 16) * 2.54 / 4.4482216, 0.2);
  maker_judge(k, 24 * 17);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_true(x->doubted);
  assert_int_equal(x->action, TENTER_ACTION_REREAD);
  assert_non_null(strstr(maker_reason(x, TENTER_REASON_DOUBTED_READING)->text, "unit"));
  assert_close(x->forecast.now, usual(25, 17), 0, 0.3);
  maker_free(k);
}

/* A screen in two lots at one rank: its lot is not known, and it is said. */
static void test_two_lots(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  made.lot = "L2";
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 2, "M1", usual(25, 2), 0.2);
  maker_judge(k, 24 * 3);
  const tenter_review_screen *x = maker_find(k, "X");
  const tenter_reason *reason = maker_reason(x, TENTER_REASON_CONTRADICTION);
  assert_non_null(reason);
  assert_int_equal(reason->source_count, 2);
  assert_int_equal(k->shop->mountings[x->mounting].is.lot, TENTER_NO_NAME);
  finite(x);
  maker_free(k);
}

/* A date without a time, read the next day: too vague an age to be fitted, yet the screen's level
 * is known by it. */
static void test_dates_alone(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  made.stretched = 24 * 20;
  made.date_only = true;
  maker_screen(k, "X", &made);
  for (size_t i = 0; i < 5; i++) {
    maker_reading(k, "X", 24 * 21, maker_five[i], TENTER_WARP, "M1", 27);
    maker_date_only(k);
  }
  maker_judge(k, 24 * 22);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_int_equal(x->relaxation.alone.sessions, 0);
  /* between the reading, 27 half a day or more after the stretch, and its lot, 25 to 26 */
  assert_true(x->forecast.now > 26 && x->forecast.now < 26.6);
  maker_free(k);
}

/* A reading a minute after the stretch is kept, not fitted (the slope breaks after about 100 s). */
static void test_too_young(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  made.stretched = 24 * 20;
  maker_screen(k, "X", &made);
  maker_session(k, "X", 24 * 20 + 1.0 / 60, "M1", 31, 0.2);
  maker_session(k, "X", 24 * 21.2, "M1", 25, 0.2);
  maker_judge(k, 24 * 22);
  const tenter_review_screen *x = maker_find(k, "X");
  assert_int_equal(x->relaxation.alone.sessions, 1);
  assert_close(x->forecast.now, 24.9, 0, 0.4);
  maker_free(k);
}

/* Very many rows for one screen: one session of 60,000 readings and 300 of ten. */
static void test_many_rows_of_one_screen(void **state) {
  (void)state;
  maker *k = shop();
  screen_made made = ordinary();
  maker_screen(k, "X", &made);
  for (int i = 0; i < 60000; i++)
    maker_reading(k, "X", 30 + i / 60000.0, maker_five[i % 5], TENTER_WARP, "M1",
                  round(10 * (25 + 0.2 * maker_normal(k))) / 10);
  k->config.settings.repeats = TENTER_REPEATS_KEEP;
  for (int i = 0; i < 300; i++)
    maker_session(k, "X", 40 + 3 * i, "M1", usual(25, (40 + 3 * i) / 24.0), 0.2);
  maker_judge(k, 24 * 40);
  const tenter_review_screen *x = maker_find(k, "X");
  finite(x);
  assert_close(x->forecast.now, usual(25, 40), 0, 0.1);
  assert_int_equal(x->relaxation.alone.sessions, 301);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_unknown_stretch),
                                     cmocka_unit_test(test_before_the_stretch),
                                     cmocka_unit_test(test_single_session),
                                     cmocka_unit_test(test_no_readings),
                                     cmocka_unit_test(test_nothing),
                                     cmocka_unit_test(test_all_equal),
                                     cmocka_unit_test(test_misread_digit),
                                     cmocka_unit_test(test_old_misread),
                                     cmocka_unit_test(test_swapped_directions),
                                     cmocka_unit_test(test_another_unit),
                                     cmocka_unit_test(test_two_lots),
                                     cmocka_unit_test(test_dates_alone),
                                     cmocka_unit_test(test_too_young),
                                     cmocka_unit_test(test_many_rows_of_one_screen)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
