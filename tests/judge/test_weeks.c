/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Past weeks: what is said of them today is what a review as of their last second says, signals of
 * control charts included. The other review is the check: made by the public functions from the
 * same tables, as of that moment. */
#include "make_calm_shop.h"

enum { HOURS_TO_SUNDAY_MIDNIGHT = 6 * 24 + 16 }; /* from Monday at 8 */

/* A week later than the calm shop's last readings, in which a lot fell. */
static const tenter_review *one_week_later(maker *k) {
  tenter_error error;
  make_calm(k, &(calm_shop){.lot_shift = -1.2});
  tenter_review_free(k->review);
  tenter_shop_free(k->shop);
  k->review = NULL;
  k->shop = NULL;
  tenter_time as_of = maker_time(CALM_LAST_HOURS + 168);
  assert_int_equal(tenter_shop_new(k->tables, &k->config, as_of, NULL, &k->shop, &error),
                   TENTER_OK);
  assert_int_equal(tenter_review_new(k->shop, true, NULL, &k->review, &error), TENTER_OK);
  return k->review;
}

typedef struct then {
  tenter_shop *shop;
  tenter_review *review;
} then;

/* A review as of the end of the week so many before that of one_week_later. */
static then review_then(const maker *k, size_t back) {
  then t = {NULL, NULL};
  tenter_error error;
  double hours = (double)(CALM_WEEKS - back) * 168 + HOURS_TO_SUNDAY_MIDNIGHT;
  tenter_time as_of = maker_time(hours) - 1;
  assert_int_equal(tenter_shop_new(k->tables, &k->config, as_of, NULL, &t.shop, &error), TENTER_OK);
  assert_int_equal(tenter_review_new(t.shop, true, NULL, &t.review, &error), TENTER_OK);
  return t;
}

static void then_free(const then *t) {
  tenter_review_free(t->review);
  tenter_shop_free(t->shop);
}

static tenter_action action_then(const then *t, uint32_t screen) {
  for (size_t i = 0; i < t->review->screen_count; i++)
    if (t->review->screens[i].screen == screen)
      return t->review->screens[i].action;
  return TENTER_ACTION_COUNT;
}

static size_t differing(const tenter_review *now, const then *t) {
  size_t count = 0;
  for (size_t i = 0; i < now->screen_count; i++)
    count += now->screens[i].action_before != action_then(t, now->screens[i].screen);
  return count;
}

/* Screens that nothing but a signal asks to be read again. */
static size_t named_by_signals_alone(const tenter_review *r) {
  size_t count = 0;
  for (size_t i = 0; i < r->screen_count; i++) {
    const tenter_review_screen *s = &r->screens[i];
    bool others = s->reason_count > 1 && s->reasons[1].action >= TENTER_ACTION_REREAD;
    count += s->action == TENTER_ACTION_REREAD &&
             s->reasons[0].code == TENTER_REASON_CHART_SIGNAL && !others;
  }
  return count;
}

static void test_past_weeks_are_what_reviews_said_then(void **state) {
  (void)state;
  static const size_t backs[] = {1, 2, 5};
  maker *k = maker_new();
  const tenter_review *now = one_week_later(k);
  assert_true(now->week_count > 10);
  for (size_t w = 0; w < sizeof backs / sizeof *backs; w++) {
    then t = review_then(k, backs[w]);
    const tenter_review_week *week = &now->weeks[now->week_count - 1 - backs[w]];
    assert_true(week->charted);
    for (size_t a = 0; a < TENTER_ACTION_COUNT; a++)
      assert_int_equal(week->actions[a], t.review->actions[a]);
    if (backs[w] == 1) {
      assert_true(named_by_signals_alone(t.review) > 0);
      assert_int_equal(differing(now, &t), 0);
    }
    then_free(&t);
  }
  maker_free(k);
}

/* Where the sessions are too many for the charts of all weeks, the week before has them still. */
static void test_the_week_before_is_charted_always(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.chart_past_sessions = 1;
  const tenter_review *now = one_week_later(k);
  then t = review_then(k, 1);
  assert_int_equal(differing(now, &t), 0);
  for (size_t w = 0; w < now->week_count; w++)
    assert_int_equal(now->weeks[w].charted, w + 2 >= now->week_count);
  then_free(&t);
  maker_free(k);
}

/* Where the screens are too many to look back three weeks, its charts rest on what it let expect
 * itself: of 48 screens hardly one then differs, of those that signals alone name most are there.
 */
static void test_a_shop_too_large_has_nearly_the_same_week_before(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.week_screens = 2.5 * CALM_SCREENS;
  const tenter_review *now = one_week_later(k);
  assert_int_equal(now->week_count, 2);
  then t = review_then(k, 1);
  size_t named = named_by_signals_alone(t.review);
  print_message("%zu named by signals alone, %zu differ\n", named, differing(now, &t));
  assert_true(named > 0);
  assert_true(differing(now, &t) <= 1);
  then_free(&t);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_past_weeks_are_what_reviews_said_then),
      cmocka_unit_test(test_the_week_before_is_charted_always),
      cmocka_unit_test(test_a_shop_too_large_has_nearly_the_same_week_before),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
