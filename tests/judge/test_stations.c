/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stations of known truth: the one that tilts is named with the side in the shop's words, calm ones
 * are not; what can't be told apart is named and not flagged. And slips of the pen. */
#include <gsl/gsl_cdf.h>

#include "make_shop.h"
#include "tenter/stats/trend.h"

enum { SCREENS = 36 };

typedef struct pull {
  double x, corner, weft; /* N/cm per half width; at the corners; taken from the weft */
} pull;

static void stretch(maker *k, int i, const char *station, const char *who, pull p) {
  char name[16];
  snprintf(name, sizeof name, "S-%02d", i);
  maker_screen(k, name, &(screen_made){.mesh = i % 2 ? "120-34" : "77-48", .station = station});
  tenter_event *e = maker_event(k, name, 1 + i, TENTER_EVENT_STRETCHED);
  e->station = maker_name(k, TENTER_NAME_STATION, station);
  e->mesh = maker_name(k, TENTER_NAME_MESH, i % 2 ? "120-34" : "77-48");
  if (who)
    e->operator= maker_name(k, TENTER_NAME_OPERATOR, who);
  for (int d = TENTER_WARP; d <= TENTER_WEFT; d++)
    for (size_t n = 0; n < 9; n++) {
      const tenter_position *at = &k->tables->positions[maker_position(k, maker_nine[n])];
      double t = 25 + p.x * at->x + (at->kind == TENTER_PLACE_CORNER ? p.corner : 0) -
                 (d == TENTER_WEFT ? p.weft : 0) + 0.25 * maker_normal(k);
      maker_reading(k, name, 27 + i, maker_nine[n], (tenter_direction)d, "M1", t);
    }
}

static const tenter_review_station *station(const maker *k, const char *name) {
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_STATION], tenter_text_of(name));
  for (size_t i = 0; i < k->review->station_count; i++)
    if (k->review->stations[i].station == id)
      return &k->review->stations[i];
  fail_msg("no station %s", name);
  return NULL;
}

static maker *three(pull second, const char *whose) {
  static const char *const names[] = {"A", "B", "C"};
  maker *k = maker_new();
  for (int i = 0; i < SCREENS; i++)
    stretch(k, i, names[i % 3], i % 3 == 1 ? whose : NULL, i % 3 == 1 ? second : (pull){0});
  maker_judge(k, 200);
  return k;
}

static void test_calm(void **state) {
  (void)state;
  maker *k = three((pull){0}, NULL);
  assert_int_equal(k->review->station_count, 3);
  for (int i = 0; i < 3; i++) {
    assert_false(k->review->stations[i].flagged);
    assert_null(k->review->stations[i].advice);
    assert_int_equal(k->review->stations[i].mountings, SCREENS / 3);
  }
  maker_free(k);
}

static void test_tilt(void **state) {
  (void)state;
  maker *k = three((pull){.x = -0.5}, NULL);
  const tenter_review_station *b = station(k, "B");
  assert_true(b->flagged && b->uneven[TENTER_STATION_TILT_X]);
  assert_false(b->uneven[TENTER_STATION_TILT_Y] || b->uneven[TENTER_STATION_CORNER]);
  assert_close(b->off[TENTER_STATION_TILT_X], -0.5, 0, 0.12);
  assert_non_null(strstr(b->advice, "The side you call W draws harder"));
  assert_non_null(strstr(b->advice, "Tight corners tear mesh"));
  assert_false(station(k, "A")->flagged || station(k, "C")->flagged);
  for (size_t i = 0; i < b->point_count; i++) /* 12 screens: sd 0.25 / sqrt 12 = 0.07 */
    assert_close(b->points[i].mean, 25 - 0.5 * k->tables->positions[b->points[i].position].x, 0,
                 0.3);
  maker_free(k);
}

static double number_of(const tenter_latest *l, int number) {
  const double all[] = {l->tilt_x, l->tilt_y, l->corner_minus_centre, l->warp_mean - l->weft_mean};
  return all[number];
}

/* Two stations, one mesh, a session a screen: means and standard errors as anyone would work them
 * out, the difference by Student's t of two samples with a common variance, and Benjamini and
 * Hochberg over all that was looked at (both stations, of one difference each). */
static void test_two_samples(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < SCREENS; i++)
    stretch(k, 2 * i, i % 3 ? "B" : "A", NULL, (pull){.x = i % 3 ? 0.03 : 0});
  maker_judge(k, 200);
  double p[2 * TENTER_STATION_COUNT], q[2 * TENTER_STATION_COUNT];
  size_t order[2 * TENTER_STATION_COUNT];
  const tenter_review_station *both[] = {station(k, "A"), station(k, "B")};
  for (int number = 0; number < TENTER_STATION_COUNT; number++) {
    double n[2] = {0}, sum[2] = {0}, squares[2] = {0};
    for (int pass = 0; pass < 2; pass++)
      for (size_t i = 0; i < k->review->screen_count; i++) {
        const tenter_review_screen *screen = &k->review->screens[i];
        int of = k->shop->mountings[screen->mounting].is.station == both[1]->station;
        double value = number_of(&screen->latest, number);
        n[of] += pass == 0;
        sum[of] += pass == 0 ? value : 0;
        squares[of] += pass == 1 ? pow(value - sum[of] / n[of], 2) : 0;
      }
    double pooled = (squares[0] + squares[1]) / (n[0] + n[1] - 2);
    double off = sum[1] / n[1] - sum[0] / n[0], se = sqrt(pooled * (1 / n[0] + 1 / n[1]));
    for (int of = 0; of < 2; of++) {
      assert_close(both[of]->mean[number], sum[of] / n[of], 1e-9, 1e-9);
      assert_close(both[of]->mean_se[number], sqrt(squares[of] / (n[of] - 1) / n[of]), 1e-9, 0);
      assert_close(both[of]->off[number], of ? off : -off, 1e-9, 1e-9);
      assert_close(both[of]->off_se[number], se, 1e-9, 0);
      p[2 * number + of] = 2 * gsl_cdf_tdist_Q(fabs(off) / se, n[0] + n[1] - 2);
    }
  }
  tenter_benjamini_hochberg(p, 2 * TENTER_STATION_COUNT, q, order);
  for (int number = 0; number < TENTER_STATION_COUNT; number++)
    for (int of = 0; of < 2; of++)
      assert_close(both[of]->q_value[number], q[2 * number + of], 1e-9, 0);
  maker_free(k);
}

static void test_corners_and_directions(void **state) {
  (void)state;
  maker *k = three((pull){.corner = 0.8, .weft = 0.7}, NULL);
  const tenter_review_station *b = station(k, "B");
  assert_true(b->uneven[TENTER_STATION_CORNER] && b->uneven[TENTER_STATION_WARP_WEFT]);
  assert_non_null(strstr(b->advice, "ease the corners"));
  assert_non_null(strstr(b->advice, "The weft lags behind the warp"));
  maker_free(k);
}

/* One person who stretches there and nowhere else: both are named, and neither is flagged. */
static void test_one_person(void **state) {
  (void)state;
  maker *k = three((pull){.x = 0.6}, "KL");
  const tenter_review_station *b = station(k, "B");
  assert_false(b->flagged);
  assert_int_equal(b->confounded_count, 1);
  assert_non_null(strstr(b->confounded_with[0], "KL"));
  assert_non_null(strstr(b->advice, "KL"));
  maker_free(k);
}

/* Of two stations whose corners differ either may be the one to adjust; tilts have a natural none.
 */
static void test_two_stations(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < SCREENS; i++)
    stretch(k, i, i / 2 % 2 ? "B" : "A", NULL, (pull){.corner = i / 2 % 2 ? 0.8 : 0});
  maker_judge(k, 200);
  assert_false(station(k, "A")->flagged || station(k, "B")->flagged);
  assert_int_equal(station(k, "B")->confounded_count, 1);
  assert_string_equal(station(k, "B")->confounded_with[0], "station A");
  maker_free(k);
  k = maker_new();
  for (int i = 0; i < SCREENS; i++)
    stretch(k, i, i / 2 % 2 ? "B" : "A", NULL, (pull){.x = i / 2 % 2 ? 0.6 : 0});
  maker_judge(k, 200);
  assert_true(station(k, "B")->flagged);
  assert_false(station(k, "A")->flagged);
  maker_free(k);
}

/* A station that alone stretches a mesh can't be compared. */
static void test_own_mesh(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < SCREENS; i++)
    stretch(k, i, i % 2 ? "B" : "A", NULL, (pull){.corner = i % 2 ? 0.8 : 0});
  maker_judge(k, 200);
  assert_true(isnan(station(k, "B")->off[TENTER_STATION_CORNER]));
  assert_false(station(k, "A")->flagged || station(k, "B")->flagged);
  maker_free(k);
}

/* ---- slips ---------------------------------------------------------------------------------- */

static size_t slips_with(const maker *k, const char *words) {
  size_t count = 0;
  for (size_t i = 0; i < k->review->slip_count; i++)
    count += strstr(k->review->slips[i].text, words) != NULL;
  return count;
}

/* 2.35 for 23.5 in an older session, 52.4 for 25.4 in another, a session in lbf/in, one with warp
 * and weft exchanged: each is told with its row, and the screens' tensions are not moved by them.
 */
static void test_slips(void **state) {
  (void)state;
  maker *k = maker_new();
  for (int i = 0; i < 12; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%02d", i);
    maker_screen(k, name, &(screen_made){.mesh = "120-34", .stretched = 1});
    for (int s = 0; s < 6; s++)
      for (int d = TENTER_WARP; d <= TENTER_WEFT; d++)
        for (size_t n = 0; n < 5; n++) {
          double t = 25.4 - log10(1.0 + 7 * s) - (d == TENTER_WEFT ? 1.6 : 0);
          if (i == 3 && s == 4) /* exchanged */
            t = 25.4 - log10(1.0 + 7 * s) - (d == TENTER_WARP ? 1.6 : 0);
          if (i == 5 && s == 3)
            t *= 0.571015; /* lbf/in: 2.54 / 4.4482216 */
          t += 0.2 * maker_normal(k);
          if (i == 1 && s == 2 && d == TENTER_WARP && n == 2)
            t /= 10;
          if (i == 2 && s == 0 && d == TENTER_WARP && n == 0)
            t = 52.4;
          maker_reading(k, name, 25 + 168 * s, maker_five[n], (tenter_direction)d, "M1", t);
        }
  }
  maker_judge(k, 168 * 5 + 30);
  assert_int_equal(slips_with(k, "misplaced point"), 2);
  assert_int_equal(slips_with(k, "another unit"), 1);
  assert_int_equal(slips_with(k, "directions exchanged"), 1);
  assert_int_equal(k->review->slip_count, 4);
  for (int i = 0; i < 12; i++) {
    char name[16];
    snprintf(name, sizeof name, "S-%02d", i);
    assert_close(maker_find(k, name)->forecast.now, 25.4 - log10(36) - 0.8, 0, 0.25);
  }
  for (size_t i = 0; i < k->review->slip_count; i++)
    assert_true(k->review->slips[i].rows[0].line > 0);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_calm),       cmocka_unit_test(test_two_samples),
      cmocka_unit_test(test_tilt),       cmocka_unit_test(test_corners_and_directions),
      cmocka_unit_test(test_one_person), cmocka_unit_test(test_two_stations),
      cmocka_unit_test(test_own_mesh),   cmocka_unit_test(test_slips)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
