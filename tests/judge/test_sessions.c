/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a calculator gives for one session, worked by hand beside each figure. */
#include "make_shop.h"

/* Warp: C 25, NE 26, SE 24, SW 23, NW 27; weft: C 24, NE 24.5, SE 23.5, SW 24, NW 25. */
static const double warp[] = {25, 26, 24, 23, 27}, weft[] = {24, 24.5, 23.5, 24, 25};

static maker *one_session(void) {
  maker *k = maker_new();
  maker_screen(k, "X", &(screen_made){.mesh = "120-34", .stretched = 1});
  for (size_t i = 0; i < 5; i++) {
    maker_reading(k, "X", 27, maker_five[i], TENTER_WARP, "M1", warp[i]);
    maker_reading(k, "X", 27, maker_five[i], TENTER_WEFT, "M1", weft[i]);
  }
  maker_judge(k, 30);
  return k;
}

static void test_summary(void **state) {
  (void)state;
  maker *k = one_session();
  const tenter_latest *l = &maker_find(k, "X")->latest;
  assert_close(l->age_hours, 26, 1e-12, 0);
  assert_close(l->mean, 24.6, 1e-12, 0);         /* 246 / 10 */
  assert_close(l->median, 24.25, 1e-12, 0);      /* between 24 and 24.5 */
  assert_close(l->sd, sqrt(12.9 / 9), 1e-12, 0); /* squares about 24.6 add up to 12.9 */
  assert_close(l->min, 23, 0, 0);
  assert_close(l->max, 27, 0, 0);
  assert_close(l->range, 4, 1e-12, 0);
  assert_string_equal(k->tables->positions[l->weakest_position].label, "SW");
  assert_int_equal(l->weakest_direction, TENTER_WARP);
  assert_string_equal(k->tables->positions[l->tightest_position].label, "NW");
  assert_close(l->warp_mean, 25, 1e-12, 0);
  assert_close(l->weft_mean, 24.2, 1e-12, 0);
  /* corners less centre: warp 25 - 25 = 0, weft 24.25 - 24 = 0.25; their mean */
  assert_close(l->corner_minus_centre, 0.125, 1e-12, 0);
  maker_free(k);
}

/* The plane: with corners at x, y = +-0.8 in both directions, slope x = sum(x t) / sum(x x), the
 * layout being balanced. x: east (NE, SE) less west (SW, NW): warp 26 + 24 - 23 - 27 = 0, weft 24.5
 * + 23.5 - 24 - 25 = -1; 0.8 (-1) / (8 * 0.64) = -0.15625. y: north (NE, NW) less south: warp 26 +
 * 27 - 24 - 23 = 6, weft 24.5 + 25 - 23.5 - 24 = 2; 0.8 * 8 / 5.12 = 1.25. */
static void test_plane(void **state) {
  (void)state;
  maker *k = one_session();
  const tenter_latest *l = &maker_find(k, "X")->latest;
  assert_close(l->tilt_x, -0.15625, 1e-9, 0);
  assert_close(l->tilt_y, 1.25, 1e-9, 0);
  maker_free(k);
}

/* Means keep their digits: NIST StRD NumAcc3, 1000000.2 once, then 1000000.1 and 1000000.3 five
 * hundred times each; certified mean 1000000.2, sd 0.1. */
static void test_numacc3(void **state) {
  (void)state;
  maker *k = maker_new();
  k->config.settings.repeats = TENTER_REPEATS_KEEP;
  for (int i = 0; i < 1001; i++)
    maker_reading(k, "X", 10, "C", TENTER_WARP, "M1",
                  i == 0  ? 1000000.2
                  : i % 2 ? 1000000.1
                          : 1000000.3);
  maker_judge(k, 20);
  const tenter_latest *l = &maker_find(k, "X")->latest;
  assert_close(l->mean, 1000000.2, 1e-15, 0);
  assert_close(l->sd, 0.1, 1e-8, 0);
  maker_free(k);
}

/* The uncertainty of a session's mean, by hand: calibration 0.8 / 2 (config), resolution 0.5 / sqrt
 * 12, ten readings of repeatability 0.3 (prior; the data can't tell), full layout. */
static void test_uncertainty(void **state) {
  (void)state;
  maker *k = maker_new();
  k->meters[0] = (tenter_meter_spec){.name = "M1",
                                     .resolution = 0.5,
                                     .expanded_uncertainty = 0.8,
                                     .coverage_factor = 2,
                                     .checked_every_days = NAN};
  k->config.meter_count = 1;
  for (size_t i = 0; i < 5; i++) {
    maker_reading(k, "X", 27, maker_five[i], TENTER_WARP, "M1", warp[i]);
    maker_reading(k, "X", 27, maker_five[i], TENTER_WEFT, "M1", weft[i]);
  }
  maker_judge(k, 30);
  double u, mean = tenter_review_session_mean(k->review, 0, &u);
  assert_close(mean, 24.6, 1e-12, 0);
  assert_close(u, sqrt(0.4 * 0.4 + 0.25 / 12 + 0.09 / 10), 1e-6, 0);
  assert_false(k->review->uncertainty_assumed);
  maker_free(k);
}

/* Without a config the acceptance takes 1.0 / 2, and says so. */
static void test_assumed_uncertainty(void **state) {
  (void)state;
  maker *k = maker_new();
  maker_screen(
      k, "X",
      &(screen_made){.mesh = "120-34", .target = 25, .minus = 2, .plus = 2, .stretched = 1});
  maker_session(k, "X", 27, "M1", 25, 0);
  maker_judge(k, 30);
  assert_true(k->review->uncertainty_assumed);
  assert_true(maker_find(k, "X")->latest.uncertainty > 0.5);
  assert_int_equal(maker_find(k, "X")->tolerance, TENTER_VERDICT_GOOD);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_summary), cmocka_unit_test(test_plane), cmocka_unit_test(test_numacc3),
      cmocka_unit_test(test_uncertainty), cmocka_unit_test(test_assumed_uncertainty)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
