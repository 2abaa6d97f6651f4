/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The review end to end on small shops in memory. */
#include "make_shop.h"

/* A screen of 25 that loses 1.2 a decade, read at 1, 2, 7, 14, 21 days. */
static void add_plain(maker *k, const char *screen, double level, double loss) {
  static const double days[] = {1.1, 2, 7, 14, 21};
  maker_screen(k, screen,
               &(screen_made){.mesh = "120-34",
                              .lot = "L1",
                              .target = 25,
                              .minus = 2,
                              .plus = 2,
                              .floor = 20,
                              .frame = TENTER_FRAME_GLUED,
                              .stretched = 1});
  for (size_t i = 0; i < 5; i++)
    maker_session(k, screen, 1 + 24 * days[i], "M1", level - loss * log10(days[i]), 0.2);
}

static void test_plain(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < 8; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    add_plain(k, name, 25 + 0.4 * maker_normal(k), 1.2);
  }
  maker_judge_at(k, 24 * 22, true);
  const tenter_review_screen *s = maker_find(k, "S-1");
  assert_int_equal(s->action, TENTER_ACTION_USE);
  assert_close(s->relaxation.loss_per_decade, 1.2, 0, 0.3);
  assert_close(s->forecast.now, 23.4, 0, 1);
  assert_string_equal(k->review->populations[0].scale, "tension");
  assert_int_equal(k->review->populations[0].mountings, 8);
  assert_int_equal(k->review->populations[0].sessions, 40);
  assert_int_equal(k->review->actions[TENTER_ACTION_USE], 8);
  assert_int_equal(k->review->week_count, 4);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_plain)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
