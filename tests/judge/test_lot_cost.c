/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a fast lot costs, and the plain means beside the pooled ones, by hand in a shop without
 * noise. */
#include "make_shop.h"

enum { LOTS = 8, SCREENS_A_LOT = 8, SCREENS = LOTS * SCREENS_A_LOT };

static double margin_share = 0.1, margin_loss = 0.1; /* the defaults */

/* The losses of lot 0 are 2.1 and, in turn, 0.1 more and less; those of the others 1.2 likewise. */
static double loss_of(int screen) {
  return (screen % LOTS == 0 ? 2.1 : 1.2) + (screen / LOTS % 2 ? 0.1 : -0.1);
}

/* Every screen starts at 25 N/cm and is read five times without noise but for 0.02 N/cm. */
static maker *shop(bool log, double floor) {
  maker *k = maker_new();
  k->config.settings.margin_share = margin_share;
  k->config.settings.margin_loss = margin_loss;
  k->config.settings.levelling_decades = 6; /* no other law than the log law: figures by hand */
  k->config.settings.scale = log ? TENTER_SCALE_LOG : TENTER_SCALE_TENSION;
  for (int i = 0; i < SCREENS; i++) {
    char name[16], lot[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    snprintf(lot, sizeof lot, "L%d", i % LOTS);
    double start = 1 + 24 * i;
    maker_screen(k, name,
                 &(screen_made){.mesh = "120-34", .lot = lot, .floor = floor, .stretched = start});
    for (int s = 0; s < 5; s++) {
      double u = 0.2 + 0.4 * s;
      double tension = log ? 25 * exp(-loss_of(i) / 25 * u) : 25 - loss_of(i) * u;
      maker_session(k, name, start + 24 * pow(10, u), "M1", tension + 0.02 * maker_normal(k), 0);
    }
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

/* The mesh's mean loss is (2.1 + 7 * 1.2) / 8 = 1.3125, so the excess of lot 0 is 0.7875 (little is
 * taken off where lots are told so well); log10(30) = 1.47712, extra 1.1632 N/cm. From 25 to 22
 * N/cm at 2.1 a decade: 10^(3 / 2.1) = 26.83 days; at 1.3125: 10^(3 / 1.3125) = 193.07 days. */
static void test_cost_on_tension(void **state) {
  (void)state;
  maker *k = shop(false, 22);
  const tenter_review_lot *lot = find_lot(k, "L0");
  assert_true(lot->fast);
  assert_close(lot->mesh_loss_per_decade, 1.3125, 0.02, 0);
  assert_close(lot->extra_loss_at_30_days, 1.1632, 0.04, 0);
  assert_close(lot->extra_loss_at_30_days, 1.4771212547 * lot->excess, 1e-9, 0);
  assert_close(lot->extra_loss_at_30_days_se, 1.4771212547 * lot->excess_se, 1e-9, 0);
  assert_close(lot->floor, 22, 1e-12, 0);
  assert_close(lot->days_to_floor, 26.83, 0.05, 0);
  assert_close(lot->mesh_days_to_floor, 193.07, 0.08, 0);
  assert_close(lot->days_lost, 166.24, 0.1, 0);
  /* the ends of the 90 % interval of the loss, a normal's 5 % point being 1.645 sd off */
  double wide = 1.645 * lot->loss_per_decade_se;
  assert_close(log10(lot->days_to_floor) / log10(lot->days_to_floor_early),
               (lot->loss_per_decade + wide) / lot->loss_per_decade, 1e-9, 0);
  assert_close(log10(lot->days_to_floor) / log10(lot->days_to_floor_late),
               (lot->loss_per_decade - wide) / lot->loss_per_decade, 1e-9, 0);
  maker_free(k);
}

/* On the logarithm: 25 exp(-2.1 / 25 u) = 22 at u = ln(25 / 22) / 0.084 = 1.52183: 33.25 days; the
 * mesh's rate is 1.3125 / 25 = 0.0525: u = 2.43493, 272.2 days. At 30 days 25 exp(-0.0525
 * * 1.47712)
 * - 25 exp(-0.084 * 1.47712) = 23.1346 - 22.0828 = 1.0518 N/cm. */
static void test_cost_on_logarithm(void **state) {
  (void)state;
  maker *k = shop(true, 22);
  const tenter_review_lot *lot = find_lot(k, "L0");
  assert_close(lot->extra_loss_at_30_days, 1.0518, 0.04, 0);
  assert_close(lot->days_to_floor, 33.25, 0.05, 0);
  assert_close(lot->mesh_days_to_floor, 272.2, 0.08, 0);
  maker_free(k);
}

/* Without a floor there are no days; nor where the norm of the mesh takes more than ten years:
 * 10^((25 - 17) / 1.3125) days. */
static void test_no_days(void **state) {
  (void)state;
  maker *k = shop(false, NAN);
  const tenter_review_lot *lot = find_lot(k, "L0");
  assert_true(isnan(lot->floor) && isnan(lot->days_to_floor) && isnan(lot->days_lost));
  assert_true(isfinite(lot->extra_loss_at_30_days));
  maker_free(k);
  k = shop(false, 20); /* 10^(5 / 1.3125) = 6440 days */
  lot = find_lot(k, "L0");
  assert_close(lot->days_to_floor, pow(10, 5 / 2.1), 0.08, 0);
  assert_true(isnan(lot->mesh_days_to_floor) && isnan(lot->days_lost));
  maker_free(k);
}

/* Eight slopes, four of 2.2 and four of 2.0: mean 2.1, sd 0.1 * sqrt(8 / 7), standard error that
 * divided by sqrt(8): 0.0378. */
static void test_plain_mean(void **state) {
  (void)state;
  maker *k = shop(false, 22);
  const tenter_review_lot *lot = find_lot(k, "L0");
  assert_int_equal(lot->raw_screens, SCREENS_A_LOT);
  assert_close(lot->raw_loss_per_decade, 2.1, 0.02, 0);
  assert_close(lot->raw_loss_per_decade_se, 0.0378, 0.25, 0);
  maker_free(k);
}

/* The excess is 0.79, 60 % of the norm: fast by a margin of less than that and not of more. */
static void test_margins(void **state) {
  (void)state;
  static const double margins[][2] = {{0.1, 0.1}, {0.1, 0.3}, {0.3, 0.1}, {1.2, 0.1}, {0.1, 1.6}};
  for (size_t i = 0; i < 5; i++) {
    margin_share = margins[i][0];
    margin_loss = margins[i][1];
    maker *k = shop(false, 22);
    const tenter_review_lot *lot = find_lot(k, "L0");
    assert_int_equal(lot->fast, i < 3);
    assert_true(i < 3 ? lot->probability_fast > 0.9 : lot->probability_fast < 0.1);
    maker_free(k);
  }
  margin_share = margin_loss = 0.1;
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_cost_on_tension), cmocka_unit_test(test_cost_on_logarithm),
      cmocka_unit_test(test_no_days), cmocka_unit_test(test_plain_mean),
      cmocka_unit_test(test_margins)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
