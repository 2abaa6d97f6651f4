/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long a new mounting may go: by hand where that can be done, and against the truth in
 * simulated shops. */
#include "make_shop.h"
#include "tenter/stats/normal.h"

enum { A_LOT = 6 };

static const double level = 25, loss = 1.25;

typedef struct made_shop {
  int lots;
  double floor, sd_lot, sd_mounting, loss; /* sds of the level at 24 h; N/cm per decade */
  double fast;                             /* lot 0 loses so many times as much */
  uint64_t seed;
} made_shop;

/* Every screen is read five times; levels differ between lots and mountings, losses do not. */
static maker *shop(const made_shop *is) {
  maker *k = maker_new();
  k->random = is->seed;
  k->config.settings.scale = TENTER_SCALE_TENSION;
  double lot_level[40];
  for (int l = 0; l < is->lots; l++)
    lot_level[l] = level + is->sd_lot * maker_normal(k);
  for (int i = 0; i < is->lots * A_LOT; i++) {
    char name[16], lot[16];
    snprintf(name, sizeof name, "S-%03d", i + 1);
    snprintf(lot, sizeof lot, "L%02d", i % is->lots);
    double own = lot_level[i % is->lots] + is->sd_mounting * maker_normal(k);
    double own_loss = is->loss * (i % is->lots == 0 && is->fast > 0 ? is->fast : 1);
    double start = 1 + 12 * i;
    maker_screen(
        k, name,
        &(screen_made){.mesh = "120-34", .lot = lot, .floor = is->floor, .stretched = start});
    for (int s = 0; s < 5; s++) {
      double u = 0.1 + 0.4 * s, y = own - own_loss * u + 0.1 * maker_normal(k);
      for (size_t p = 0; p < 5; p++)
        maker_reading(k, name, start + 24 * pow(10, u), maker_five[p], TENTER_WARP, "M1",
                      y + 0.1 * maker_normal(k));
    }
  }
  maker_judge(k, 1 + 12 * 40 * A_LOT + 24 * 60);
  return k;
}

static const tenter_review_interval *find(const maker *k, const char *lot) {
  uint32_t id = lot ? tenter_names_find(k->tables->names[TENTER_NAME_LOT], tenter_text_of(lot))
                    : TENTER_NO_NAME;
  for (size_t i = 0; i < k->review->interval_count; i++)
    if (k->review->intervals[i].lot == id)
      return &k->review->intervals[i];
  fail_msg("no interval");
  return NULL;
}

/* With 40 lots little is unknown but what the next mounting will be. Of levels alone that scatter
 * by s = sqrt(0.5^2 + 0.5^2) = 0.7071, 5 % lie below 25 - 1.6449 s = 23.837; that line is at 21.5
 * N/cm after (23.837 - 21.5) / 1.25 = 1.8695 decades: 74.0 days. Of a lot s = 0.5 and its own mean:
 * 25 - 0.8224 = 24.178 for a lot at 25, 2.142 decades: 139 days. The mean of 40 lots is known to
 * 0.7071 / sqrt(240) and less well by lots, 0.5 / sqrt(40) = 0.08 N/cm, or 0.064 decades: 15 % of
 * days. */
static void test_by_hand(void **state) {
  (void)state;
  maker *k = shop(&(made_shop){40, 21.5, 0.5, 0.5, loss, 0, 7});
  const tenter_review_interval *any = find(k, NULL);
  assert_int_equal(any, &k->review->intervals[0]);
  assert_int_equal(k->review->interval_count, 41);
  assert_close(any->floor, 21.5, 1e-12, 0);
  assert_close(any->risk, 0.05, 1e-12, 0);
  assert_close(log10(any->days), 1.8695, 0, 2 * 0.08);
  assert_true(any->days_early < any->days && any->days < any->days_late);
  assert_close(log10(any->days_late / any->days_early), 2 * 1.645 * 0.064 * 1.3, 0.4, 0);
  double sum = 0;
  for (size_t i = 1; i < k->review->interval_count; i++) {
    assert_int_equal(k->review->intervals[i].mesh, any->mesh);
    sum += log10(k->review->intervals[i].days) / 40;
  }
  assert_close(sum, 2.142, 0, 2 * 0.08);
  maker_free(k);
}

/* The lot that loses twice as much: (25 - 0.82 - 21.5) / 2.5 = 1.07 decades, its level apart. */
static void test_fast_lot(void **state) {
  (void)state;
  maker *k = shop(&(made_shop){12, 21.5, 0.2, 0.5, loss, 2, 8});
  double fast = find(k, "L00")->days;
  for (size_t i = 1; i < k->review->interval_count; i++)
    if (&k->review->intervals[i] != find(k, "L00"))
      assert_true(k->review->intervals[i].days > 2 * fast);
  assert_close(log10(fast), 1.07, 0, 0.3);
  maker_free(k);
}

/* Nothing to fear within ten years; below the floor from the start; no floor, no interval. */
static void test_ends(void **state) {
  (void)state;
  maker *k = shop(&(made_shop){12, 15, 0.2, 0.2, 0.05, 0, 9});
  assert_true(isnan(find(k, "L03")->days));
  assert_true(isnan(find(k, "L03")->days_late));
  maker_free(k);
  k = shop(&(made_shop){12, 25, 0.2, 0.5, loss, 0, 9});
  assert_close(find(k, NULL)->days, 0, 0, 0);
  assert_close(find(k, NULL)->days_early, 0, 0, 0);
  assert_close(find(k, NULL)->below_at_start, 0.5, 0, 0.2);
  maker_free(k);
  k = shop(&(made_shop){3, 0, 0.2, 0.5, loss, 0, 9});
  assert_int_equal(k->review->interval_count, 0);
  maker_free(k);
}

/* The more is known the narrower; the smaller the risk the sooner. */
static void test_knowledge(void **state) {
  (void)state;
  maker *few = shop(&(made_shop){5, 21.5, 0.5, 0.5, loss, 0, 11});
  maker *many = shop(&(made_shop){40, 21.5, 0.5, 0.5, loss, 0, 11});
  const tenter_review_interval *f = find(few, NULL), *m = find(many, NULL);
  assert_true(f->days_late / fmax(1, f->days_early) > 2 * m->days_late / m->days_early);
  maker_free(few);
  maker_free(many);
}

/* Of 60 shops of 8 lots each, the share of the next lot's mountings that is below the floor at the
 * named age: 5 % in the mean. It is a normal's: 25 - 1.25 u, sd sqrt(0.5^2 + 0.5^2). Single shops
 * scatter by about 5 %, their mean by 0.6 %; the band is three times that. */
static void test_comes_true(void **state) {
  (void)state;
  enum { SHOPS = 60 };
  double mesh = 0, lots = 0;
  for (int n = 0; n < SHOPS; n++) {
    maker *k = shop(&(made_shop){8, 21.5, 0.5, 0.5, loss, 0, 1000 + 77 * (uint64_t)n});
    double at = level - loss * log10(fmax(1, find(k, NULL)->days));
    mesh += tenter_normal_below((21.5 - at) / sqrt(0.5)) / SHOPS;
    lots += find(k, "L01")->days > find(k, NULL)->days;
    maker_free(k);
  }
  assert_close(mesh, 0.05, 0, 0.018);
  assert_true(lots > SHOPS / 2);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_by_hand), cmocka_unit_test(test_fast_lot), cmocka_unit_test(test_ends),
      cmocka_unit_test(test_knowledge), cmocka_unit_test(test_comes_true)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
