/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The catalogue: every entry is whole, its places are filled in any order, and nothing that is put
 * in is read for places. Dates are written out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/words/words.h"

#define END ((const char *)NULL)

/* Nothing stands in braces but a place (a singular may leave out its count), and no text is a
 * format of printf, which would mean that a figure is put in by another way. */
static void every_entry_is_whole(void **state) {
  (void)state;
  for (int id = 0; id < TENTER_SAY_COUNT; id++) {
    const char *text = tenter_say_text((tenter_say)id);
    assert_true(text[0] != '\0');
    for (const char *at = strpbrk(text, "{}"); at != NULL; at = strpbrk(at + 3, "{}"))
      assert_true(at[0] == '{' && at[1] >= '1' && at[1] <= '9' && at[2] == '}');
    for (const char *at = strchr(text, '%'); at != NULL; at = strchr(at + 1, '%'))
      assert_true(at[1] == '\0' || strchr(" ,.;:)", at[1]) != NULL);
  }
  assert_string_equal(tenter_say_text(TENTER_SAY_COUNT), "");
}

static void places_are_filled(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  assert_string_equal(tenter_say_fill(arena, TENTER_SAY_AS_OF, "{2} now", END), "As of {2} now");
  assert_string_equal(tenter_say_fill(arena, TENTER_SAY_AS_OF, END), "As of {1}");
  tenter_arena_free(arena);
}

/* "–" has three bytes: none of them may stand alone. */
static void a_buffer_is_cut_at_a_character(void **state) {
  (void)state;
  char text[16];
  assert_string_equal(tenter_say_put(text, 16, TENTER_SAY_AS_OF, "a–b", END), "As of a–b");
  assert_string_equal(tenter_say_put(text, 12, TENTER_SAY_AS_OF, "a–b", END), "As of a–b");
  assert_string_equal(tenter_say_put(text, 11, TENTER_SAY_AS_OF, "a–b", END), "As of a–");
  assert_string_equal(tenter_say_put(text, 10, TENTER_SAY_AS_OF, "a–b", END), "As of a");
  assert_string_equal(tenter_say_put(text, 9, TENTER_SAY_AS_OF, "a–b", END), "As of a");
  assert_string_equal(tenter_say_put(text, 8, TENTER_SAY_AS_OF, "a–b", END), "As of a");
  assert_string_equal(tenter_say_put(text, 7, TENTER_SAY_AS_OF, "a–b", END), "As of ");
  assert_string_equal(tenter_say_put(text, 1, TENTER_SAY_AS_OF, "a–b", END), "");
}

static void figures_have_the_mark(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_form comma = {TENTER_MARK_COMMA, TENTER_DATES_DMY};
  assert_string_equal(tenter_say_count(arena, 18446744073709551615ull), "18446744073709551615");
  assert_string_equal(tenter_say_fixed(arena, TENTER_FORM_PLAIN, -12.25, 1), "-12.2");
  assert_string_equal(tenter_say_fixed(arena, comma, 12.5, 1), "12,5");
  assert_string_equal(tenter_say_digits(arena, comma, 12.5, 6), "12,5");
  assert_string_equal(tenter_say_digits(arena, comma, 12, 6), "12");
  tenter_arena_free(arena);
}

static void times_in_words(void **state) {
  (void)state;
  char words[TENTER_WORDS_SIZE];
  tenter_form plain = TENTER_FORM_PLAIN, mdy = {.dates = TENTER_DATES_MDY}, said = {0};
  tenter_date date = {2026, 11, 3, 14, 5, 0}; /* a Tuesday */
  tenter_when when = {tenter_time_of(&date), false};
  assert_string_equal(tenter_say_when(said, when, words), "3 Nov 2026, 14:05");
  assert_string_equal(tenter_say_when(plain, when, words), "2026-11-03T14:05");
  assert_string_equal(tenter_say_when(mdy, when, words), "11/03/2026, 14:05");
  assert_string_equal(tenter_say_day(said, when.at, words), "Tue 3 Nov");
  assert_string_equal(tenter_say_day(mdy, when.at, words), "Tue 11/03/2026");
  when.date_only = true;
  assert_string_equal(tenter_say_when(said, when, words), "3 Nov 2026");
  assert_string_equal(tenter_say_when(plain, when, words), "2026-11-03");
  when.at = TENTER_NO_TIME;
  assert_string_equal(tenter_say_when(said, when, words), "");
  assert_string_equal(tenter_say_day(said, TENTER_NO_TIME, words), "");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_entry_is_whole),
      cmocka_unit_test(places_are_filled),
      cmocka_unit_test(a_buffer_is_cut_at_a_character),
      cmocka_unit_test(figures_have_the_mark),
      cmocka_unit_test(times_in_words),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
