/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The story of a screen on shops of known truth: the session where a bond slipped is named, and the
 * place; a calm shop stays calm at about the stated rate; the law of a lot is found where ages are
 * wide apart and stays the log law where they are not; losses follow from the law. */
#include "make_shop.h"
#include "tenter/judge/screen.h"
#include "tenter/stats/laws.h"

#ifndef __has_feature /* clang's way to tell; gcc defines the macro below */
#define __has_feature(x) 0
#endif
#if defined __SANITIZE_ADDRESS__ || __has_feature(address_sanitizer)
enum { CALM_SCREENS = 150, STEP_SCREENS = 300 };
#else
enum { CALM_SCREENS = 1000, STEP_SCREENS = 2000 };
#endif

static const tenter_screen_story *story_of(const maker *k, tenter_arena *arena,
                                           const char *screen) {
  const tenter_screen_story *story = NULL;
  tenter_error error = {0};
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_SCREEN], tenter_text_of(screen));
  if (tenter_screen_stories_new(k->review, &id, 1, NULL, arena, &story, &error))
    fail_msg("%s", error.message);
  return story;
}

/* Of S-1 to S-count, at once. */
static const tenter_screen_story **stories_of(const maker *k, tenter_arena *arena, size_t count) {
  const tenter_screen_story **stories = tenter_arena_alloc(arena, count, sizeof *stories);
  uint32_t *ids = tenter_arena_alloc(arena, count, sizeof *ids);
  tenter_error error = {0};
  for (size_t i = 0; i < count; i++) {
    char id[32];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    ids[i] = tenter_names_find(k->tables->names[TENTER_NAME_SCREEN], tenter_text_of(id));
  }
  if (tenter_screen_stories_new(k->review, ids, count, k->pool, arena, stories, &error))
    fail_msg("%s", error.message);
  return stories;
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
                     size_t step_at, double step, double floor) {
  maker *k = maker_new();
  for (size_t i = 0; i < count; i++) {
    char id[32];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    screen_made made = {
        .mesh = "120-34", .lot = "L1", .target = 22, .floor = floor, .stretched = 0.001};
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
  maker *k = lot_of(12, log_law, weekly, WEEKLY, 6, -1.5, 16);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story *story = story_of(k, arena, "S-1");
  assert_true(story->leaving.left);
  assert_int_equal(story->leaving.session, k->shop->mountings[story->mounting].first_session + 6);
  assert_close(story->leaving.change, -1.5, 0, 3.5 * story->leaving.change_se);
  assert_true(story->leaving.change_se < 0.4 && story->leaving.p < 0.001);
  assert_false(story->leaving.newest);
  assert_int_equal(story->session_count, WEEKLY);
  assert_close(story->ages[0].tension, story->sessions[1].adjusted, 0, 0.6); /* before it */
  double then, sd;
  tenter_review_tension_at(k->review, story->judged, 24 * 90, &then, &sd);
  assert_close(story->ages[3].tension, then, 1e-12, 0); /* and the forecast after it */
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
  const tenter_screen_story *story = story_of(k, arena, "S-1");
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
  maker *k = lot_of(CALM_SCREENS, log_law, weekly, WEEKLY, WEEKLY, 0, 16);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story **stories = stories_of(k, arena, CALM_SCREENS);
  size_t named = 0, newest = 0;
  for (size_t i = 0; i < CALM_SCREENS; i++) {
    named += stories[i]->leaving.left;
    newest += stories[i]->leaving.left && stories[i]->leaving.newest;
  }
  double of = CALM_SCREENS, rate = k->config.settings.leaving_rate;
  print_message("named %zu of %.0f calm screens, stated %.2f; by the newest session %zu\n", named,
                of, rate, newest);
  assert_close((double)named / of, rate, 0, 3.3 * sqrt(rate * (1 - rate) / of));
  /* The newest session names about one in ten of them: of few there may be none. */
  assert_true(newest < named && (newest > 0 || CALM_SCREENS < 1000));
  tenter_arena_free(arena);
  maker_free(k);
}

/* A whole shop: of 2000 screens read 20 times with noise of 0.4 N/cm, every tenth takes a step of 1
 * N/cm at its session 5 .. 15; noise and losses are what the review has estimated. Within one
 * session in at least 80 of 100, and of the others no more than the rate says (binomial, 3.3 sd).
 */
static void steps_in_a_shop(void **unused) {
  (void)unused;
  enum { SESSIONS = 20, EVERY = 10, STEPPED = STEP_SCREENS / EVERY };
  maker *k = maker_new();
  for (size_t i = 0; i < STEP_SCREENS; i++) {
    char id[32];
    snprintf(id, sizeof id, "S-%zu", i + 1);
    maker_screen(k, id,
                 &(screen_made){.mesh = "120-34", .lot = "L1", .target = 22, .stretched = 0.001});
    double level = 0.7 * maker_normal(k), share = 1 + 0.1 * maker_normal(k);
    for (size_t s = 0; s < SESSIONS; s++) {
      double hours = s == 0 ? 4 : 26 + 168 * (double)(s - 1), step = i / EVERY % 2 ? 1 : -1;
      bool stepped = i % EVERY == 0 && s >= 5 + i / EVERY % 11;
      double tension = 22 + level + share * (log_law(hours) - 22) + 0.4 * maker_normal(k);
      maker_session(k, id, hours, "M1", tension + (stepped ? step : 0), 0.3);
    }
  }
  maker_judge(k, 26 + 168 * 19);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story **stories = stories_of(k, arena, STEP_SCREENS);
  size_t near = 0, calm_named = 0;
  for (size_t i = 0; i < STEP_SCREENS; i++) {
    const tenter_screen_leaving *leaving = &stories[i]->leaving;
    size_t first = k->shop->mountings[stories[i]->mounting].first_session;
    double off = (double)(leaving->session - first) - (double)(5 + i / EVERY % 11);
    near += i % EVERY == 0 && leaving->left && fabs(off) <= 1;
    calm_named += i % EVERY != 0 && leaving->left;
  }
  double calm = STEP_SCREENS - STEPPED, rate = k->config.settings.leaving_rate;
  print_message("dated within one session: %zu of %d; calm ones named: %zu of %.0f\n", near,
                STEPPED, calm_named, calm);
  assert_true((double)near >= 0.8 * STEPPED);
  assert_true((double)calm_named / calm < rate + 3.3 * sqrt(rate * (1 - rate) / calm));
  tenter_arena_free(arena);
  maker_free(k);
}

static void log_law_stands(void **unused) {
  (void)unused;
  maker *k = lot_of(12, log_law, weekly, WEEKLY, WEEKLY, 0, 18.5);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story *story = story_of(k, arena, "S-2");
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
  /* the floor by its own course if the law of its lot holds: here that of the shop, too, so that
   * the day is the one at which its own course comes to the floor */
  const tenter_screen_floor *reached = &story->lot_floor;
  const tenter_mounting *m = &k->shop->mountings[story->mounting];
  assert_true(reached->known && reached->early < reached->median);
  tenter_screen_tension_at(story, tenter_mounting_age_hours(m, reached->median), &mean, NULL);
  assert_close(mean, 18.5, 0, 1e-3);
  tenter_screen_tension_at(story, tenter_mounting_age_hours(m, reached->early), &mean, &sd);
  assert_close(mean - 1.6449 * sd, 18.5, 0, 1e-3);
  assert_int_equal(story->law, TENTER_LAW_LOG);
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
  maker *k = lot_of(16, stretched_law, hours, 12, 12, 0, 16);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story *story = story_of(k, arena, "S-3");
  const tenter_screen_law *law = &story->lot.law[story->lot.chosen];
  print_message("%s\n", story->lot.why);
  assert_string_equal(law->law, "stretched");
  assert_close(law->parameter[2].value, 60, 0.25, 0);
  assert_close(law->parameter[3].value, 0.6, 0.15, 0);
  for (size_t p = 2; p < law->parameter_count; p++) {     /* the truth is within the limits */
    static const double truth[] = {0, 0, 60, 0.6, 32.57}; /* half-life: 60 (ln 2)^(1 / 0.6) */
    const tenter_screen_parameter *is = &law->parameter[p];
    print_message("%s %g: %g to %g\n", is->name, is->value, is->low, is->high);
    assert_int_equal(is->limits, TENTER_LIMITS_GIVEN);
    assert_true(is->low < truth[p] && truth[p] < is->high && !is->low_open && !is->high_open);
    assert_true(is->high < 2 * is->low);
  }
  assert_int_equal(law->parameter_count, 5);
  assert_int_equal(law->parameter[0].limits, TENTER_LIMITS_EACH_ITS_OWN);
  assert_int_equal(story->own.law[TENTER_LAW_SOLID].parameter[0].limits, TENTER_LIMITS_GIVEN);
  assert_string_equal(story->own.law[story->own.chosen].law, "stretched");
  assert_string_equal(story->lot.law[story->law].law, "stretched");
  assert_true(story->lot_floor.known && story->lot_floor.median == TENTER_NO_TIME);
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
  maker *k = lot_of(16, stretched_law, hours, 8, 8, 0, 16);
  tenter_arena *arena = tenter_arena_new();
  const tenter_screen_story *story = story_of(k, arena, "S-3");
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
  const tenter_screen_story *never = story_of(k, arena, "S-1");
  assert_int_equal(never->session_count, 0);
  assert_false(never->leaving.left);
  assert_true(isnan(never->share)); /* what its ages have is from others of its mesh */
  assert_int_equal(never->due, k->shop->as_of);
  const tenter_screen_story *ageless = story_of(k, arena, "S-2");
  assert_int_equal(ageless->session_count, 1);
  assert_true(isnan(ageless->sessions[0].expected));
  const tenter_screen_story *once = story_of(k, arena, "S-3");
  assert_int_equal(once->leaving.tested, 1);
  assert_close(once->sessions[0].expected, once->sessions[0].adjusted, 1e-9, 0);
  assert_string_equal(once->lot.law[once->lot.chosen].law, "log");
  tenter_arena_free(arena);
  maker_free(k);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(step_is_named),
      cmocka_unit_test(place_is_named),
      cmocka_unit_test(steps_in_a_shop),
      cmocka_unit_test(calm_shop),
      cmocka_unit_test(log_law_stands),
      cmocka_unit_test(levelling_lot),
      cmocka_unit_test(narrow_span_keeps_the_log_law),
      cmocka_unit_test(little_is_known),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
