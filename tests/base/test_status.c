/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Messages: status, cutting, and what can't be shown on a terminal. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/base/status.h"
#include "tenter/base/text.h"

static void status_and_message(void **state) {
  (void)state;
  tenter_error error = {TENTER_OK, ""};
  assert_int_equal(tenter_fail(&error, TENTER_INPUT, "%s:%d: odd", "a.csv", 3), TENTER_INPUT);
  assert_int_equal(error.status, TENTER_INPUT);
  assert_string_equal(error.message, "a.csv:3: odd");
  assert_int_equal(tenter_fail(NULL, TENTER_USAGE, "%s", "x"), TENTER_USAGE);
  assert_int_equal(tenter_fail_memory(&error), TENTER_FAILED);
  assert_int_equal(error.status, TENTER_FAILED);
  assert_non_null(strstr(error.message, "memory"));
}

static void assert_shows(const char *argument, const char *expected) {
  tenter_error error;
  tenter_fail(&error, TENTER_FAILED, "%s", argument);
  assert_string_equal(error.message, expected);
}

static void controls_are_not_shown(void **state) {
  (void)state;
  assert_shows("a\x1B[31mb", "a?[31mb");
  assert_shows("a\tb\rc\x7F", "a?b?c?");
  assert_shows("two\nlines", "two\nlines");
  assert_shows("caf\xC3\xA9 \xE2\x82\xAC \xF0\x9F\x99\x82",
               "caf\xC3\xA9 \xE2\x82\xAC \xF0\x9F\x99\x82");
  assert_shows("c1 \xC2\x9B"
               "31m",
               "c1 ?31m"); /* U+009B opens a sequence as ESC [ does */
  assert_shows("latin \xE9\x9B.", "latin ??.");
  assert_shows("\xED\xA0\x80 end", "??? end"); /* a surrogate */
  /* What turns the direction of writing (TR 9) or separates lines goes; its neighbours stay. */
  assert_shows("\u061B\u061C \u200D\u200E\u200F\u2010", "\u061B? \u200D??\u2010");
  assert_shows("\u2027\u2028\u202E\u202F \u2065\u2066\u2069\u206A",
               "\u2027??\u202F \u2065??\u206A");
}

/* A character of each width across the end of the room, at each place. */
static void cut_between_characters(void **state) {
  (void)state;
  const char *const wide[] = {"x", "\xC3\xA9", "\xE2\x82\xAC", "\xF0\x9F\x99\x82"};
  for (size_t w = 0; w < 4; w++)
    for (size_t lead = TENTER_MESSAGE_SIZE - 8; lead < TENTER_MESSAGE_SIZE + 2; lead++) {
      char text[TENTER_MESSAGE_SIZE + 64];
      memset(text, 'a', lead);
      for (size_t i = 0, width = strlen(wide[w]); i < 8; i++)
        memcpy(text + lead + i * width, wide[w], width + 1);
      tenter_error error;
      tenter_fail(&error, TENTER_FAILED, "%s", text);
      size_t length = strlen(error.message);
      assert_true(length >= TENTER_MESSAGE_SIZE - 4 && length < TENTER_MESSAGE_SIZE);
      assert_memory_equal(error.message, text, length);
      assert_true(tenter_text_is_utf8(tenter_text_of(error.message)));
    }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(status_and_message),
      cmocka_unit_test(controls_are_not_shown),
      cmocka_unit_test(cut_between_characters),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
