/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The house style as the press reads it. Values are written out by hand from reports/house.css. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/report/style.h"

static void printed_pages_have_their_own_values(void **state) {
  (void)state;
  char value[TENTER_STYLE_SIZE];
  assert_true(tenter_style_value("--ink", value)); /* #1c1b19 on a screen */
  assert_string_equal(value, "#000000");
  assert_true(tenter_style_value("--act", value));
  assert_string_equal(value, "#7a3c00");
  assert_true(tenter_style_value("--size-head", value));
  assert_string_equal(value, "8.2pt");
  assert_true(tenter_style_value("--family", value)); /* stands once, in general */
  assert_memory_equal(value, "Iowan Old Style, Palatino Linotype, P052,", 41);
  assert_null(strchr(value, '"'));
}

static void what_is_not_there_is_not_found(void **state) {
  (void)state;
  char value[TENTER_STYLE_SIZE] = "x";
  assert_false(tenter_style_value("--no", value)); /* no property, though others begin so */
  assert_string_equal(value, "");
  assert_false(tenter_style_value("ink", value)); /* a part of a name */
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(printed_pages_have_their_own_values),
      cmocka_unit_test(what_is_not_there_is_not_found),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
