/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What always went together with a lot is named, and the lot is not flagged. */
#include "make_shop.h"

enum { LOTS = 6, SCREENS_A_LOT = 5, SESSIONS = 4, SCREENS = LOTS * SCREENS_A_LOT };

/* How one session was read, and when a screen was stretched (days). */
typedef struct reading_made {
  const char *meter, *operator, * station;
  double day;
} reading_made;

/* Fills in how session s of the n-th screen of a lot was read; all that is common is there. */
typedef void arrange(int lot, int n, int s, reading_made *made);

/* Lot 0 loses 2.5, the others 1.2 a decade. */
static maker *shop(arrange *how) {
  static const char *const names[] = {"L0", "L1", "L2", "L3", "L4", "L5"};
  maker *k = maker_new();
  for (int i = 0; i < SCREENS; i++) {
    int lot = i % LOTS, n = i / LOTS;
    char name[16];
    snprintf(name, sizeof name, "S-%d", i + 1);
    for (int s = 0; s < SESSIONS; s++) {
      reading_made made = {n % 2 ? "M1" : "M2", s % 2 ? "AA" : "BB", n % 2 ? "T1" : "T2", 30.0 * n};
      how(lot, n, s, &made);
      double start = 1 + 24 * made.day, u = 0.2 + 0.5 * s;
      if (s == 0)
        maker_screen(
            k, name,
            &(screen_made){
                .mesh = "120-34", .lot = names[lot], .station = made.station, .stretched = start});
      size_t first = k->tables->readings.count;
      maker_session(k, name, start + 24 * pow(10, u), made.meter,
                    25 - (lot == 0 ? 2.5 : 1.2) * u + 0.1 * maker_normal(k), 0.2);
      uint16_t who = made.operator? (uint16_t)maker_name(k, TENTER_NAME_OPERATOR, made.operator)
                                  : TENTER_NO_NAME16;
      for (size_t r = first; r < k->tables->readings.count; r++)
        k->tables->readings.operator[r] = who;
    }
  }
  maker_judge(k, 24 * 300);
  return k;
}

/* What lot is named with, words put one after the other. */
static const char *named(const maker *k, const char *lot) {
  static char words[128];
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_LOT], tenter_text_of(lot));
  words[0] = '\0';
  for (size_t i = 0; i < k->review->lot_count; i++) {
    const tenter_review_lot *l = &k->review->lots[i];
    for (size_t c = 0; l->lot == id && c < l->confounded_count; c++) {
      strcat(words, c > 0 ? ", " : "");
      strcat(words, l->confounded_with[c]);
    }
  }
  return words;
}

static bool flagged(const maker *k, const char *lot) {
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_LOT], tenter_text_of(lot));
  for (size_t i = 0; i < k->review->lot_count; i++)
    if (k->review->lots[i].lot == id)
      return k->review->lots[i].fast;
  return false;
}

/* expected: of L0 .. L5. */
static void check(arrange *how, bool fast, const char *const expected[LOTS]) {
  maker *k = shop(how);
  for (int i = 0; i < LOTS; i++) {
    const char lot[] = {'L', (char)('0' + i), '\0'};
    assert_string_equal(named(k, lot), expected[i]);
  }
  assert_int_equal(flagged(k, "L0"), fast);
  maker_free(k);
}

static void in_common(int lot, int n, int s, reading_made *made) {
  (void)lot, (void)n, (void)s, (void)made;
}

static void own_meter(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->meter = lot == 0 ? "M2" : "M1";
}

static void own_everything(int lot, int n, int s, reading_made *made) {
  (void)s;
  if (lot > 0)
    return;
  *made = (reading_made){"M9", "ZZ", "T9",
                         45 - 2.25 * n}; /* days 36 to 45; the others: 0, 30, 60 ... */
}

/* Lots 0 and 1 share a meter that no other has: they can be compared with each other alone. */
static void two_apart(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->meter = lot < 2 ? "M2" : "M1";
}

/* Half of the mesh with one meter, half with another: nobody can be compared with half of the
 * others. */
static void halves(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->meter = lot < 3 ? "M2" : "M1";
}

/* Lot 0 is read with M2 alone, but lot 1 with both: a chain links them all. */
static void chain(int lot, int n, int s, reading_made *made) {
  (void)s;
  made->meter = lot == 0 || (lot == 1 && n % 2) ? "M2" : "M1";
}

/* One session in twenty is as little as counts: 5 screens x 4 sessions, one of them with M1. */
static void thin_link(int lot, int n, int s, reading_made *made) {
  made->meter = lot == 0 && (n > 0 || s > 0) ? "M2" : "M1";
}

/* Nobody wrote down the meter of lot 0. */
static void not_known(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->meter = lot == 0 ? NULL : "M1";
}

static void own_station(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->station = lot == 3 ? "T3" : "T1";
}

static void own_operator(int lot, int n, int s, reading_made *made) {
  (void)n, (void)s;
  made->operator= lot == 0 ? "CC" : "AA";
}

/* Everything in one fortnight: nothing to tell apart. */
static void one_fortnight(int lot, int n, int s, reading_made *made) {
  (void)lot, (void)s;
  made->day = n;
}

static void test_meters(void **state) {
  (void)state;
  check(in_common, true, (const char *const[]){"", "", "", "", "", ""});
  check(own_meter, false, (const char *const[]){"meter", "", "", "", "", ""});
  check(two_apart, false, (const char *const[]){"meter", "meter", "", "", "", ""});
  check(halves, false, (const char *const[]){"meter", "meter", "meter", "meter", "meter", "meter"});
  check(chain, true, (const char *const[]){"", "", "", "", "", ""});
  check(thin_link, true, (const char *const[]){"", "", "", "", "", ""});
  check(not_known, true, (const char *const[]){"", "", "", "", "", ""});
}

static void test_stations_and_operators(void **state) {
  (void)state;
  check(own_station, true, (const char *const[]){"", "", "", "station", "", ""});
  check(own_operator, false, (const char *const[]){"operator", "", "", "", "", ""});
}

static void test_all_candidates(void **state) {
  (void)state;
  check(own_everything, false,
        (const char *const[]){"meter, operator, station, fortnight of the stretch", "", "", "", "",
                              ""});
  check(one_fortnight, true, (const char *const[]){"", "", "", "", "", ""});
}

/* The only lot of a mesh can't be told from the mesh; with mountings of unknown lots it can. */
static void test_only_lot(void **state) {
  (void)state;
  for (int unknown = 0; unknown < 2; unknown++) {
    maker *k = maker_new();
    for (int i = 0; i < 12; i++) {
      char name[16];
      snprintf(name, sizeof name, "S-%d", i + 1);
      maker_screen(k, name,
                   &(screen_made){.mesh = "120-34",
                                  .lot = unknown && i % 2 ? NULL : "ONLY",
                                  .stretched = 1 + 24 * i});
      for (int s = 0; s < 4; s++)
        maker_session(k, name, 1 + 24 * i + 24 * pow(10, 0.2 + 0.4 * s), "M1",
                      25 - 1.2 * (0.2 + 0.4 * s) + 0.1 * maker_normal(k), 0.2);
    }
    maker_judge(k, 24 * 200);
    assert_string_equal(named(k, "ONLY"), unknown ? "" : "mesh");
    maker_free(k);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_meters), cmocka_unit_test(test_stations_and_operators),
      cmocka_unit_test(test_all_candidates), cmocka_unit_test(test_only_lot)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
