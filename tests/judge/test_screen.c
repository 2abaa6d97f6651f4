/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The story of a screen on shops of known truth: the session where a bond slipped is named, and the
 * place; a calm shop stays calm at about the stated rate; the law of a lot is found where ages are
 * wide apart and stays the log law where they are not; losses follow from the law. */
#include "make_shop.h"
#include "tenter/judge/screen.h"

#ifndef __has_feature /* clang's way to tell; gcc defines the macro below */
#define __has_feature(x) 0
#endif
#if defined __SANITIZE_ADDRESS__ || __has_feature(address_sanitizer)
enum { CALM_SCREENS = 150 };
#else
enum { CALM_SCREENS = 1500 };
#endif

static tenter_screen_story *story_of(const maker *k, tenter_arena *arena, const char *screen) {
  tenter_screen_story *story = NULL;
  tenter_error error = {0};
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_SCREEN], tenter_text_of(screen));
  if (tenter_screen_story_new(k->review, id, arena, &story, &error))
    fail_msg("%s", error.message);
  return story;
}

typedef double law_of(double hours);

static double log_law(double hours) {
  return 22 - 1.4 * log10(hours / 24);
}

static double stretched_law(double hours) { /* levels off at 17 */
  return 17 + 8 * exp(-pow(hours / 60, 0.6));
}

static const double weekly[] = {4, 26, 168, 336, 504, 672, 840, 1008, 1176, 1344};
enum { WEEKLY = sizeof weekly / sizeof *weekly };

/* count screens of one lot, read at hours[sessions], each with a level and a loss of its own and
 * 0.15 N/cm of a session; S-1 falls by step at step_at. */
static maker *lot_of(size_t count, law_of *law, const double *hours, size_t sessions,
                     size_t step_at, double step) {
  maker *k = maker_new();
  for (size_t i = 0; i < count; i++) {
    char id[32];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    screen_made made = {
        .mesh = "120-34", .lot = "L1", .target = 22, .floor = 16, .stretched = 0.001};
    maker_screen(k, id, &made);
    double level = 0.7 * maker_normal(k), share = 1 + 0.1 * maker_normal(k);
    for (size_t s = 0; s < sessions; s++) {
      double fall = law(hours[s]) - law(24);
      double tension = law(24) + level + share * fall + 0.15 * maker_normal(k);
      tension += i == 0 && s >= step_at ? step : 0;
      maker_session(k, id, hours[s], "M1", tension, 0.3);
    }
  }
  maker_judge(k, hours[sessions - 1] + 5);
  return k;
}

static void step_is_named(void **unused) {
  (void)unused;
  maker *k = lot_of(12, log_law, weekly, WEEKLY, 6, -1.5);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *story = story_of(k, arena, "S-1");
  assert_true(story->leaving.left);
  assert_int_equal(story->leaving.session, k->shop->mountings[story->mounting].first_session + 6);
  assert_close(story->leaving.change, -1.5, 0, 3.5 * story->leaving.change_se);
  assert_true(story->leaving.change_se < 0.4 && story->leaving.p < 0.001);
  assert_false(story->leaving.newest);
  assert_int_equal(story->session_count, WEEKLY);
  assert_close(story->sessions[9].expected, story->sessions[9].adjusted, 0, 0.6);
  assert_close(story->sessions[2].expected, story->sessions[2].adjusted, 0, 0.6);
  tenter_arena_free(arena);
  maker_free(k);
}

/* The place whose readings alone fall is the one that is named, and what all places lose meanwhile
 * (on an average 1.9 N/cm between the sessions compared) is no part of its change. */
static void place_is_named(void **unused) {
  (void)unused;
  maker *k = maker_new();
  for (size_t i = 0; i < 8; i++) {
    char id[16];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    screen_made made = {.mesh = "120-34", .lot = "L1", .target = 22, .stretched = 0.001};
    maker_screen(k, id, &made);
    for (size_t s = 0; s < WEEKLY; s++)
      for (size_t p = 0; p < 5; p++) {
        bool slipped = i == 0 && s >= 2 && strcmp(maker_five[p], "SW") == 0;
        maker_reading(k, id, weekly[s], maker_five[p], TENTER_WARP, "M1",
                      round(10 * (log_law(weekly[s]) + 0.2 * maker_normal(k) - 5 * slipped)) / 10);
      }
  }
  maker_judge(k, 1350);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *story = story_of(k, arena, "S-1");
  assert_true(story->leaving.left);
  assert_string_equal(k->tables->positions[story->leaving.place].label, "SW");
  assert_close(story->leaving.place_change, -5, 0, 1);
  tenter_arena_free(arena);
  maker_free(k);
}

/* Of calm screens about the stated share is named; the noise, the loss and its spread are those
 * that the review has estimated. */
static void calm_shop(void **unused) {
  (void)unused;
  maker *k = lot_of(CALM_SCREENS, log_law, weekly, WEEKLY, WEEKLY, 0);
  tenter_arena *arena = tenter_arena_new();
  size_t named = 0;
  for (size_t i = 0; i < CALM_SCREENS; i += 5) {
    char id[16];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    named += story_of(k, arena, id)->leaving.left;
  }
  double of = CALM_SCREENS / 5, rate = k->config.settings.leaving_rate;
  print_message("named %zu of %.0f calm screens, stated %.2f\n", named, of, rate);
  assert_close((double)named / of, rate, 0, 3.3 * sqrt(rate * (1 - rate) / of));
  tenter_arena_free(arena);
  maker_free(k);
}

static void log_law_stands(void **unused) {
  (void)unused;
  maker *k = lot_of(12, log_law, weekly, WEEKLY, WEEKLY, 0);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *story = story_of(k, arena, "S-2");
  assert_string_equal(story->lot.law[story->lot.chosen].law, "log");
  assert_true(story->lot.law[story->lot.chosen].chosen);
  assert_int_equal(story->lot.mountings, 12);
  assert_int_equal(story->lot.sessions, 120);
  /* one forecast: that of the review; and about share * 1.4 for each decade of age */
  double loss = k->review->lots[0].loss_per_decade, mean, sd;
  tenter_review_tension_at(k->review, story->judged, 24 * 90, &mean, &sd);
  assert_close(story->ages[3].tension, mean, 1e-12, 0);
  assert_close(story->ages[3].tension_se, sd, 1e-12, 0);
  assert_close(story->ages[0].loss, story->share * loss * log10(24), 0.1, 0);
  assert_close(story->ages[2].loss, story->share * loss * log10(720), 0.1, 0);
  /* the mean loss is what the mean tensions differ by, whatever the laws */
  double fall = story->ages[0].tension - story->ages[3].tension;
  assert_close(fall, story->ages[3].loss - story->ages[0].loss, 1e-9, 0);
  tenter_arena_free(arena);
  maker_free(k);
}

/* A lot that levels off, seen from 2 h to 3000 h: another law, whose tension at 90 days is near the
 * truth; the log law would go on falling. */
static void levelling_lot(void **unused) {
  (void)unused;
  static const double hours[] = {2, 6, 24, 60, 120, 200, 336, 504, 840, 1344, 2000, 3000};
  maker *k = lot_of(16, stretched_law, hours, 12, 12, 0);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *story = story_of(k, arena, "S-3");
  const tenter_screen_law *law = &story->lot.law[story->lot.chosen];
  print_message("%s\n", story->lot.why);
  assert_string_equal(law->law, "stretched");
  assert_close(law->value[2], 60, 0.25, 0);
  assert_close(law->value[3], 0.6, 0.15, 0);
  assert_close(story->ages[3].tension, story->sessions[11].adjusted, 0, 0.6);
  double now, later;
  tenter_screen_tension_at(story, 3000, &now, NULL);
  tenter_screen_tension_at(story, 30000, &later, NULL);
  assert_close(now, later, 0, 0.1);
  assert_int_equal(story->judged->forecast.median,
                   TENTER_NO_TIME); /* the floor lies 1 N/cm below the plateau */
  tenter_arena_free(arena);
  maker_free(k);
}

static void narrow_span_keeps_the_log_law(void **unused) {
  (void)unused;
  static const double hours[] = {24, 40, 60, 80, 100, 130, 170, 220}; /* less than a decade */
  maker *k = lot_of(16, stretched_law, hours, 8, 8, 0);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *story = story_of(k, arena, "S-3");
  assert_string_equal(story->lot.law[story->lot.chosen].law, "log");
  tenter_arena_free(arena);
  maker_free(k);
}

/* Screens of which little is known have a story, too. */
static void little_is_known(void **unused) {
  (void)unused;
  maker *k = maker_new();
  maker_screen(k, "S-1", &(screen_made){.stretched = 1});
  maker_session(k, "S-2", 30, NULL, 20, 0.3);
  maker_screen(k, "S-3", &(screen_made){.stretched = 1, .target = 20});
  maker_session(k, "S-3", 30, NULL, 20, 0.3);
  maker_judge(k, 100);
  tenter_arena *arena = tenter_arena_new();
  tenter_screen_story *never = story_of(k, arena, "S-1");
  assert_int_equal(never->session_count, 0);
  assert_false(never->leaving.left);
  assert_true(isnan(never->share)); /* what its ages have is from others of its mesh */
  assert_int_equal(never->due, k->shop->as_of);
  tenter_screen_story *ageless = story_of(k, arena, "S-2");
  assert_int_equal(ageless->session_count, 1);
  assert_true(isnan(ageless->sessions[0].expected));
  tenter_screen_story *once = story_of(k, arena, "S-3");
  assert_int_equal(once->leaving.tested, 1);
  assert_close(once->sessions[0].expected, once->sessions[0].adjusted, 1e-9, 0);
  assert_string_equal(once->lot.law[once->lot.chosen].law, "log");
  tenter_arena_free(arena);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(step_is_named),   cmocka_unit_test(place_is_named),
      cmocka_unit_test(calm_shop),       cmocka_unit_test(log_law_stands),
      cmocka_unit_test(levelling_lot),   cmocka_unit_test(narrow_span_keeps_the_log_law),
      cmocka_unit_test(little_is_known),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
