/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A meter that is dropped in the middle of a day: what was read before is let alone, what was read
 * after is read again and condemns nothing; and, where the settings ask, is corrected: with the
 * uncertainty of that, and said. The shop's truth is written here; noise is drawn. */
#include "../../src/judge/judge.h"
#include "make_shop.h"

enum { SCREENS = 40, DAYS = 42 };

static const double dropped = 24 * 35 + 6; /* at 14:00 */
static const double by = -0.6, sd = 0.15, floor_at = 22.6;

static double truth(double hours) {
  return 25 - 1.2 * log10((hours + 30) / 24);
}

/* Screens stretched 30 h before the start, read every third day, two or three hours apart, with M1
 * and M2 by turns. */
static maker *make(tenter_shop **shop, int shifted_readings) {
  maker *k = maker_new();
  k->config.settings.shifted_readings = shifted_readings;
  for (int s = 0; s < SCREENS; s++) {
    char name[16];
    snprintf(name, sizeof name, "S-%02d", s);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .target = 25, .floor = floor_at});
    maker_event(k, name, -30, TENTER_EVENT_STRETCHED);
    int turn = s;
    for (double hours = 24 * (s % 3) + 0.25 * s; hours < 24 * DAYS; hours += 72, turn++) {
      const char *meter = turn % 2 ? "M2" : "M1";
      double off = turn % 2 && hours >= dropped ? by : 0;
      maker_session(k, name, hours, meter, truth(hours) + off, sd);
    }
  }
  maker_judge(k, 24 * DAYS);
  *shop = k->shop;
  return k;
}

static bool is_off(const maker *k, const tenter_session *s) {
  return strcmp(tenter_names_get(k->tables->names[TENTER_NAME_METER], s->meter), "M2") == 0 &&
         s->taken >= maker_time(dropped);
}

static void test_begins_between_readings(void **state) {
  tenter_shop *shop;
  maker *k = make(&shop, TENTER_SHIFTED_LEFT_OUT);
  const tenter_review *r = k->review;
  size_t same_day = 0, doubtful = 0;
  (void)state;
  assert_int_equal(r->shift_count, 1);
  assert_string_equal(r->shifts[0].cause, "meter");
  assert_close(r->shifts[0].size, by, 0, 0.1);
  tenter_time first = INT64_MAX;
  for (size_t i = 0; i < shop->session_count; i++) {
    const tenter_session *s = &shop->sessions[i];
    bool told = r->judged->sessions[i].state & SESSION_SHIFTED;
    if (is_off(k, s)) {
      assert_true(told);
      first = s->taken < first ? s->taken : first;
    } else {
      same_day += s->taken >= maker_time(dropped - 14) && s->taken < maker_time(dropped);
      doubtful += told;
    }
  }
  assert_int_equal(r->shifts[0].since, first);
  assert_true(same_day >= 2); /* the day has something to tell apart */
  assert_true(doubtful <= 2); /* the last bin before the begin may lie on either side */
  maker_free(k);
}

/* 22.6 is 0.3 to 0.4 under the truth of the last days: read 0.6 too low, all M2's screens seem to
 * be below. */
static void test_condemns_nothing(void **state) {
  tenter_shop *shop;
  maker *k = make(&shop, TENTER_SHIFTED_LEFT_OUT);
  size_t off = 0;
  (void)state;
  for (size_t i = 0; i < k->review->screen_count; i++) {
    const tenter_review_screen *s = &k->review->screens[i];
    assert_true(s->action <= TENTER_ACTION_REREAD);
    if (!is_off(k, &shop->sessions[s->latest.session]))
      continue;
    off++;
    assert_true(s->latest.mean < floor_at);
    assert_int_equal(s->action, TENTER_ACTION_REREAD);
    assert_non_null(maker_reason(s, TENTER_REASON_METER_SHIFTED));
  }
  assert_true(off > 10);
  maker_free(k);
}

/* The same shop both ways: a session corrected is nearer to the truth by 0.6, its variance more by
 * the square of the shift's standard error, and so is that of each of its readings; the screen
 * need not be read again, and says why its reading was not taken as it stands. */
static void test_corrected(void **state) {
  tenter_shop *shop, *other;
  maker *left = make(&other, TENTER_SHIFTED_LEFT_OUT), *k = make(&shop, TENTER_SHIFTED_CORRECTED);
  const tenter_review_shift *shift = &k->review->shifts[0];
  const judge *a = left->review->judged, *b = k->review->judged;
  size_t corrected = 0;
  (void)state;
  assert_true(shift->corrected && !left->review->shifts[0].corrected);
  for (size_t i = 0; i < k->review->screen_count; i++) {
    const tenter_review_screen *s = &k->review->screens[i];
    size_t session = s->latest.session;
    if (!is_off(k, &shop->sessions[session]))
      continue;
    const session_value *raw = &a->sessions[session], *value = &b->sessions[session];
    double hours = (double)(shop->sessions[session].taken - MAKER_START) / 3600;
    assert_close(value->adjusted, raw->adjusted - shift->size, 0, 1e-6);
    assert_close(value->adjusted, truth(hours), 0, 0.25);
    assert_close(value->variance, (double)raw->variance + squared(shift->size_se), 1e-6, 0);
    assert_close(squared(judge__reading_uncertainty(b, session, shop->sessions[session].first)),
                 squared(judge__reading_uncertainty(a, session, shop->sessions[session].first)) +
                     squared(shift->size_se),
                 1e-6, 0);
    const tenter_reason *said = maker_reason(s, TENTER_REASON_METER_SHIFTED);
    assert_non_null(said);
    assert_int_equal(said->action, TENTER_ACTION_USE);
    assert_non_null(strstr(said->text, "corrects for it"));
    assert_null(maker_reason(s, TENTER_REASON_POINT_BELOW_FLOOR));
    assert_int_equal(s->action, TENTER_ACTION_USE);
    assert_close(s->latest.mean, raw->mean, 0, 0); /* what a calculator gives stays */
    corrected++;
  }
  assert_true(corrected > 10);
  maker_free(left);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_begins_between_readings),
      cmocka_unit_test(test_condemns_nothing),
      cmocka_unit_test(test_corrected),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
