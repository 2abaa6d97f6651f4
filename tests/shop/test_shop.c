/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mountings, sessions and what holds for a mounting: small stories with their outcome by the rules
 * of the header. */
#include "tables_fixture.h"

typedef struct story {
  tenter_tables *t;
  tenter_config config;
  tenter_spec specs[2];
  tenter_shop *shop;
} story;

static story *begin(void) {
  story *s = calloc(1, sizeof *s);
  s->t = tables_make(3);
  s->specs[0] = tenter_spec_default();
  s->specs[1] = tenter_spec_default();
  s->config = (tenter_config){
      .file = "", .settings = tenter_settings_default(), .specs = s->specs, .spec_count = 1};
  return s;
}

static void same_shop(const tenter_shop *a, const tenter_shop *b) {
  assert_int_equal(a->mounting_count, b->mounting_count);
  assert_int_equal(a->session_count, b->session_count);
  assert_int_equal(a->reading_count, b->reading_count);
  assert_int_equal(a->finding_count, b->finding_count);
  for (size_t i = 0; i < a->mounting_count; i++) {
    const tenter_mounting *m = &a->mountings[i], *n = &b->mountings[i];
    assert_int_equal(m->zero.at, n->zero.at);
    assert_int_equal(m->ordinal, n->ordinal);
    assert_int_equal(m->first_session, n->first_session);
    assert_int_equal(m->session_count, n->session_count);
  }
  for (size_t i = 0; i < a->session_count; i++) {
    const tenter_session *m = &a->sessions[i], *n = &b->sessions[i];
    assert_int_equal(m->mounting, n->mounting);
    assert_int_equal(m->first, n->first);
    assert_int_equal(m->count, n->count);
    assert_int_equal(m->points, n->points);
    assert_int_equal(m->full, n->full);
    assert_int_equal(m->meter, n->meter);
  }
}

/* Looking back from a later shop shows what looking then shows. */
static void look_back(const story *s, tenter_time as_of) {
  tenter_shop *later, *earlier;
  assert_int_equal(tenter_shop_new(s->t, &s->config, when("2030-01-01").at, NULL, &later, NULL),
                   TENTER_OK);
  assert_int_equal(tenter_shop_earlier(later, as_of, NULL, &earlier, NULL), TENTER_OK);
  same_shop(s->shop, earlier);
  tenter_shop_free(later);
  tenter_shop_free(earlier);
}

static void tell_at(story *s, tenter_time as_of) {
  if (!s->t->settled)
    assert_int_equal(tenter_tables_settle(s->t, &s->config.settings, NULL, NULL), TENTER_OK);
  tenter_shop_free(s->shop);
  s->shop = NULL;
  assert_int_equal(tenter_shop_new(s->t, &s->config, as_of, NULL, &s->shop, NULL), TENTER_OK);
  look_back(s, as_of);
}

static void tell(story *s, const char *as_of) {
  tell_at(s, when(as_of).at);
}

static void end(story *s) {
  tenter_shop_free(s->shop);
  tenter_tables_free(s->t);
  free(s);
}

static void read_on(story *s, const char *screen, const char *taken) {
  add_reading(s->t, screen, taken, position(s->t, "C", 0, 0), TENTER_WARP, 22);
}

static const tenter_mounting *mounting(const story *s, size_t i) {
  assert_true(i < s->shop->mounting_count);
  return &s->shop->mountings[i];
}

/* Two stages within 4 h are one mounting, aged from the glue; a re-tension keeps mesh and lot. */
static void stages_glue_and_retension(void **state) {
  (void)state;
  story *s = begin();
  tenter_event *first = add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  first->lot = name(s->t, TENTER_NAME_LOT, "L1");
  first->mesh = name(s->t, TENTER_NAME_MESH, "120-34");
  add_event(s->t, "A", "2026-03-01T10:30", TENTER_EVENT_RETENSIONED);
  add_event(s->t, "A", "2026-03-01T11:00", TENTER_EVENT_GLUED);
  add_event(s->t, "A", "2026-04-01T09:00", TENTER_EVENT_RETENSIONED);
  read_on(s, "A", "2026-03-02T11:00");
  read_on(s, "A", "2026-04-02T09:00");
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->mounting_count, 2);
  assert_int_equal(mounting(s, 0)->began, TENTER_EVENT_STRETCHED);
  assert_close(tenter_mounting_age_hours(mounting(s, 0), when("2026-03-02T11:00").at), 24, 0, 0);
  assert_int_equal(mounting(s, 0)->end, TENTER_END_RENEWED);
  assert_int_equal(mounting(s, 1)->cycle, 1);
  assert_int_equal(mounting(s, 1)->is.lot, 0);
  assert_true(mounting(s, 1)->is.mesh != TENTER_NO_NAME);
  assert_int_equal(s->shop->screens[0].current, 1);
  end(s);
}

/* Seen from an earlier moment the later re-tension is not there. */
static void earlier_as_of(void **state) {
  (void)state;
  story *s = begin();
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "A", "2026-04-01T09:00", TENTER_EVENT_REMESHED);
  add_event(s->t, "B", "2026-04-03T09:00", TENTER_EVENT_STRETCHED);
  read_on(s, "A", "2026-03-02T11:00");
  read_on(s, "A", "2026-04-02T09:00");
  tell(s, "2026-03-31");
  assert_int_equal(s->shop->mounting_count, 1);
  assert_int_equal(s->shop->session_count, 1);
  assert_int_equal(s->shop->reading_count, 1);
  assert_int_equal(s->shop->later[0], 1);
  assert_int_equal(s->shop->later[1], 2);
  assert_int_equal(s->shop->screens[1].mounting_count, 0);
  assert_int_equal(s->shop->screens[1].current, UINT32_MAX);
  end(s);
}

/* Screens read at one, three or a changing number of points, some cut short by the moment, some
 * stretched anew: looked back at from every half day. */
static void looked_back_at(void **state) {
  static const char *const screens[] = {"A", "B", "C", "D", "E", "F"};
  static const char *const points[] = {"C", "N", "S"};
  (void)state;
  story *s = begin();
  add_event(s->t, "B", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "C", "2026-03-04T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "D", "2026-03-06T18:00", TENTER_EVENT_BURST);
  add_event(s->t, "E", "2026-03-03T07:00", TENTER_EVENT_RETENSIONED);
  add_event(s->t, "E", "2026-03-05T07:00", TENTER_EVENT_RETENSIONED);
  for (int day = 1; day <= 9; day++)
    for (int screen = 0; screen < 6; screen++)
      for (int point = 0; point < (screen == 5 ? 1 + day % 3 : screen % 2 ? 3 : 1); point++) {
        char taken[32];
        snprintf(taken, sizeof taken, "2026-03-%02dT11:%02d", day, 50 + 9 * point);
        if (point == 2) /* after noon, which is when some look */
          snprintf(taken, sizeof taken, "2026-03-%02dT12:10", day);
        add_reading(s->t, screens[screen], taken, position(s->t, points[point], point, 0),
                    TENTER_WARP, 22);
      }
  tenter_time from = when("2026-03-01T00:00").at;
  for (int half = 0; half < 22; half++)
    tell_at(s, from + half * TENTER_DAY / 2);
  end(s);
}

/* Without events: the register's stretch starts the mounting; readings before it are of unknown
 * age. */
static void register_starts(void **state) {
  (void)state;
  story *s = begin();
  add_register(s->t, "A")->attributes.stretched = when("2026-03-10");
  read_on(s, "A", "2026-03-01T11:00");
  read_on(s, "A", "2026-03-10T09:00"); /* the day of the stretch belongs to it */
  read_on(s, "A", "2026-03-12");
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->mounting_count, 2);
  assert_true(isnan(tenter_mounting_age_hours(mounting(s, 0), when("2026-03-05").at)));
  assert_int_equal(mounting(s, 0)->session_count, 1);
  assert_int_equal(mounting(s, 1)->session_count, 2);
  assert_close(tenter_mounting_age_doubt_hours(mounting(s, 1), &s->shop->sessions[2]), 24, 0, 0);
  end(s);
}

/* A register that is older than the last stretch event but younger than the one before is out of
 * date: said. */
static void register_out_of_date(void **state) {
  (void)state;
  story *s = begin();
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "A", "2026-04-01T08:00", TENTER_EVENT_STRETCHED);
  add_register(s->t, "A")->attributes.stretched = when("2026-03-15");
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->mounting_count, 2);
  assert_int_equal(s->shop->finding_count, 1);
  assert_non_null(strstr(s->shop->findings[0].text, "2026-03-15"));
  end(s);
}

static void burst_and_after(void **state) {
  (void)state;
  story *s = begin();
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "A", "2026-03-20T08:00", TENTER_EVENT_BURST);
  add_event(s->t, "B", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "B", "2026-03-20", TENTER_EVENT_RETIRED);
  read_on(s, "A", "2026-03-02T11:00");
  read_on(s, "A", "2026-04-02T11:00");
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->screens[0].mounting_count, 2);
  assert_int_equal(s->shop->screens[0].current, 1);
  assert_int_equal(mounting(s, 0)->end, TENTER_END_BURST);
  assert_int_equal(mounting(s, 1)->zero.at == TENTER_NO_TIME, 1);
  assert_int_equal(s->shop->finding_count, 1);
  assert_non_null(strstr(s->shop->findings[0].text, "stretch event is missing"));
  assert_int_equal(s->shop->screens[1].current, UINT32_MAX);
  end(s);
}

/* Gaps of at most 2 h hold a session together; dates alone make one a day. */
static void session_gaps(void **state) {
  (void)state;
  story *s = begin();
  static const char *const taken[] = {"2026-03-02T08:00", "2026-03-02T10:00", "2026-03-02T12:00",
                                      "2026-03-02T14:01", "2026-03-04",       "2026-03-05"};
  for (size_t i = 0; i < 6; i++)
    read_on(s, "A", taken[i]);
  add_reading(s->t, "A", "2026-03-05", position(s->t, "NW", -1, 1), TENTER_WARP, 21);
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->session_count, 4);
  assert_int_equal(s->shop->sessions[0].count, 3);
  assert_int_equal(s->shop->sessions[3].count, 2);
  assert_true(s->shop->sessions[3].date_only);
  end(s);
}

/* Full is what covers the most frequent layout; of equally frequent ones the larger. */
static void full_sessions(void **state) {
  (void)state;
  story *s = begin();
  uint16_t centre = position(s->t, "C", 0, 0), corner = position(s->t, "NW", -1, 1);
  static const int points[] = {2, 1, 2, 3};
  char taken[32];
  for (unsigned k = 0; k < 4; k++) {
    snprintf(taken, sizeof taken, "2026-03-%02u", k + 2);
    add_reading(s->t, "A", taken, centre, TENTER_WARP, 22);
    if (points[k] > 1)
      add_reading(s->t, "A", taken, corner, TENTER_WARP, 22);
    if (points[k] > 2)
      add_reading(s->t, "A", taken, corner, TENTER_WEFT, 22);
  }
  tell(s, "2026-05-01");
  assert_true(s->shop->sessions[0].full);
  assert_false(s->shop->sessions[1].full);
  assert_true(s->shop->sessions[3].full);
  tell(s, "2026-03-03"); /* one session each: the larger is usual */
  assert_true(s->shop->sessions[0].full);
  assert_false(s->shop->sessions[1].full);
  end(s);
}

/* Event, then readings, then register, then [mesh], then [spec]; a contradiction is unknown and
 * said. */
static void ranks(void **state) {
  (void)state;
  story *s = begin();
  s->specs[0].target = 20;
  s->specs[0].plus = 2;
  s->specs[1].mesh = "120-34";
  s->specs[1].target = 21;
  s->specs[1].evenness_point = 1;
  s->config.spec_count = 2;
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED)->target = 25;
  add_register(s->t, "A")->attributes.target = 24;
  add_register(s->t, "B")->attributes.mesh = name(s->t, TENTER_NAME_MESH, "120-34");
  tenter_register_row *one = add_register(s->t, "C"), *two = add_register(s->t, "C");
  one->attributes.target = 22;
  two->attributes.target = 23;
  one->attributes.lot = two->attributes.lot = name(s->t, TENTER_NAME_LOT, "L1");
  tell(s, "2026-05-01");
  assert_close(mounting(s, 0)->is.target, 25, 0, 0);
  assert_close(mounting(s, 0)->is.floor, 20, 1e-15, 0); /* 80 % of target */
  assert_true(mounting(s, 0)->floor_from_target);
  assert_close(mounting(s, 1)->is.target, 21, 0, 0);
  assert_close(mounting(s, 1)->is.plus, 2, 0, 0);
  assert_close(mounting(s, 1)->evenness_point, 1, 0, 0);
  assert_true(isnan(mounting(s, 2)->is.target)); /* not 20 of [spec] */
  assert_true(isnan(mounting(s, 2)->is.floor));
  assert_true(mounting(s, 2)->is.lot != TENTER_NO_NAME);
  assert_int_equal(s->shop->finding_count, 1);
  assert_int_equal(s->shop->findings[0].rows[0].line, 4);
  assert_int_equal(s->shop->findings[0].rows[1].line, 5);
  end(s);
}

/* Limits in the wrong order are kept and said; the rows are named, one row once. */
static void limits_in_the_wrong_order(void **state) {
  (void)state;
  story *s = begin();
  s->specs[0].maximum = 30;
  s->config.spec_count = 1;
  tenter_attributes *a = &add_register(s->t, "A")->attributes;
  a->target = 20;
  a->floor = 21;
  a->coarse_floor = 21;
  add_register(s->t, "B")->attributes.target = 31;
  tenter_attributes *c = &add_register(s->t, "C")->attributes;
  c->floor = 30;
  c->coarse_floor = 30.5;
  tenter_attributes *d = &add_register(s->t, "D")->attributes;
  d->target = 30;
  d->floor = 30;
  d->coarse_floor = 30;
  add_register(s->t, "E")->attributes.floor = 31;
  tell(s, "2026-05-01");
  static const char *const words[] = {"the floor (21 N/cm) is over the target (20 N/cm)",
                                      "the target (31 N/cm) is over the maximum (30 N/cm)",
                                      "the coarse floor (30.5 N/cm) is over the floor (30 N/cm)",
                                      "the floor (31 N/cm) is over the maximum (30 N/cm)"};
  assert_int_equal(s->shop->finding_count, 4);
  for (size_t i = 0; i < 4; i++) {
    assert_non_null(strstr(s->shop->findings[i].text, words[i]));
    assert_true(s->shop->findings[i].rows[0].line > 0);
    assert_int_equal(s->shop->findings[i].rows[1].line, 0);
  }
  assert_close(mounting(s, 0)->is.floor, 21, 0, 0);
  end(s);
}

/* The register holds for the current mounting only. */
static void older_mounting_does_not_ask_the_register(void **state) {
  (void)state;
  story *s = begin();
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "A", "2026-04-01T08:00", TENTER_EVENT_REMESHED);
  add_register(s->t, "A")->attributes.lot = name(s->t, TENTER_NAME_LOT, "L2");
  read_on(s, "A", "2026-03-02");
  tell(s, "2026-05-01");
  assert_int_equal(mounting(s, 0)->is.lot, TENTER_NO_NAME);
  assert_int_equal(mounting(s, 1)->is.lot, 0);
  end(s);
}

static void stencil_and_counts(void **state) {
  (void)state;
  story *s = begin();
  add_event(s->t, "A", "2026-03-01T08:00", TENTER_EVENT_STRETCHED);
  add_event(s->t, "A", "2026-03-02T08:00", TENTER_EVENT_COATED);
  add_event(s->t, "A", "2026-03-03T08:00", TENTER_EVENT_PRINTED)->count = 500;
  add_event(s->t, "A", "2026-03-04T08:00", TENTER_EVENT_RECLAIMED);
  add_event(s->t, "A", "2026-03-05T08:00", TENTER_EVENT_COATED);
  tell(s, "2026-03-03");
  assert_true(mounting(s, 0)->stencil);
  tell(s, "2026-03-04T12:00");
  assert_false(mounting(s, 0)->stencil);
  tell(s, "2026-03-06");
  assert_true(mounting(s, 0)->stencil);
  assert_close(mounting(s, 0)->impressions, 500, 0, 0);
  assert_int_equal(mounting(s, 0)->reclaims, 1);
  end(s);
}

/* A screen of the register that nobody ever read or stretched is there, with an unknown age. */
static void only_in_the_register(void **state) {
  (void)state;
  story *s = begin();
  add_register(s->t, "A");
  tell(s, "2026-05-01");
  assert_int_equal(s->shop->mounting_count, 1);
  assert_int_equal(s->shop->screens[0].current, 0);
  assert_int_equal(mounting(s, 0)->session_count, 0);
  end(s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(stages_glue_and_retension),
                                     cmocka_unit_test(earlier_as_of),
                                     cmocka_unit_test(looked_back_at),
                                     cmocka_unit_test(register_starts),
                                     cmocka_unit_test(register_out_of_date),
                                     cmocka_unit_test(burst_and_after),
                                     cmocka_unit_test(session_gaps),
                                     cmocka_unit_test(full_sessions),
                                     cmocka_unit_test(ranks),
                                     cmocka_unit_test(limits_in_the_wrong_order),
                                     cmocka_unit_test(older_mounting_does_not_ask_the_register),
                                     cmocka_unit_test(stencil_and_counts),
                                     cmocka_unit_test(only_in_the_register)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
