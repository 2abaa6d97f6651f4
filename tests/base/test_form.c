/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers, dates and filled words in the reader's form. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/base/form.h"

static const tenter_form comma = {.mark = TENTER_MARK_COMMA};

static void numbers_have_the_mark(void **state) {
  (void)state;
  tenter_buffer b = {0};
  tenter_buffer_text(&b, "1.5 ");
  tenter_form_fixed(&b, comma, -0.125, 2);
  tenter_buffer_byte(&b, ' ');
  tenter_form_number(&b, comma, 22.5, 3);
  tenter_buffer_byte(&b, ' ');
  tenter_form_fixed(&b, comma, NAN, 2);
  tenter_form_fixed(&b, comma, 7, 0);
  tenter_form_fixed(&b, (tenter_form){0}, 0.5, 1);
  assert_string_equal(tenter_buffer_string(&b), "1.5 -0,13 22,5 70.5"); /* only what is added */
  tenter_buffer_release(&b);
}

static void dates_in_figures(void **state) {
  (void)state;
  static const char *const expected[TENTER_DATES_COUNT][2] = {
      [TENTER_DATES_WORDS] = {"2026-11-03, 09:05", "2026-11-03"},
      [TENTER_DATES_ISO] = {"2026-11-03, 09:05", "2026-11-03"},
      [TENTER_DATES_DMY] = {"03.11.2026, 09:05", "03.11.2026"},
      [TENTER_DATES_MDY] = {"11/03/2026, 09:05", "11/03/2026"}};
  tenter_when when;
  char text[TENTER_FORM_SIZE];
  assert_true(tenter_when_parse_iso(tenter_text_of("2026-11-03T09:05"), &when));
  for (int i = 0; i < TENTER_DATES_COUNT; i++)
    for (int day = 0; day < 2; day++) {
      when.date_only = day == 1;
      assert_string_equal(tenter_form_when((tenter_form){.dates = (tenter_dates)i}, when, text),
                          expected[i][day]);
    }
  when.at = TENTER_NO_TIME;
  assert_string_equal(tenter_form_when(comma, when, text), "");
}

/* What is put in is not looked through again. */
static void words_are_filled(void **state) {
  (void)state;
  static const char *const values[] = {"{2}", "b"};
  char text[32] = {0};
  size_t length = tenter_form_fill(NULL, 0, "{2}, {1} {3} {0} {x", values, 2);
  assert_int_equal(length, strlen("b, {2} {3} {0} {x"));
  assert_int_equal(tenter_form_fill(text, sizeof text, "{2}, {1} {3} {0} {x", values, 2), length);
  assert_string_equal(text, "b, {2} {3} {0} {x");
  memset(text, '.', sizeof text);
  assert_int_equal(tenter_form_fill(text, 5, "{2}, {1} {3} {0} {x", values, 2), length);
  assert_memory_equal(text, "b, {2.", 6);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(numbers_have_the_mark),
      cmocka_unit_test(dates_in_figures),
      cmocka_unit_test(words_are_filled),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
