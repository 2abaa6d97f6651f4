/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Buffers and numbers as text. Outside check: the C library prints the double's exact decimal
 * expansion, which is then rounded by hand, digit by digit. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "tenter/base/buffer.h"

static void bytes_and_strings(void **state) {
  (void)state;
  tenter_buffer buffer = {0};
  assert_string_equal(tenter_buffer_string(&buffer), "");
  tenter_buffer_add(&buffer, "ab\0c", 4);
  tenter_buffer_add(&buffer, NULL, 0);
  tenter_buffer_byte(&buffer, '-');
  tenter_buffer_text(&buffer, "text ");
  tenter_buffer_print(&buffer, "%d/%s", 3, "four");
  assert_int_equal(buffer.length, 16);
  assert_memory_equal(tenter_buffer_string(&buffer), "ab\0c-text 3/four", 17);
  assert_int_equal(buffer.length, 16); /* the NUL is not part of it */
  tenter_buffer_clear(&buffer);
  assert_int_equal(buffer.length, 0);
  assert_true(buffer.capacity > 0);
  tenter_buffer_print(&buffer, "%9999d", 1);
  assert_int_equal(strlen(tenter_buffer_string(&buffer)), 9999);
  tenter_buffer_release(&buffer);
  assert_null(buffer.bytes);
  tenter_buffer_release(&buffer);
}

static void room_is_writable(void **state) {
  (void)state;
  tenter_buffer buffer = {0};
  for (size_t length = 1; length < 5000; length = length * 3 / 2 + 1) {
    char *room = tenter_buffer_room(&buffer, length);
    assert_non_null(room);
    memset(room, 'r', length);
    buffer.length += length;
  }
  assert_int_equal(strspn(tenter_buffer_string(&buffer), "r"), buffer.length);
  tenter_buffer_release(&buffer);
}

static void a_failure_sticks(void **state) {
  (void)state;
  tenter_buffer buffer = {0};
  tenter_buffer_text(&buffer, "kept");
  assert_null(tenter_buffer_room(&buffer, SIZE_MAX));
  assert_true(buffer.failed);
  tenter_buffer_text(&buffer, "lost");
  tenter_buffer_number(&buffer, 1, 1);
  assert_int_equal(buffer.length, 4);
  assert_null(tenter_buffer_string(&buffer));
  tenter_buffer_clear(&buffer);
  assert_true(buffer.failed);
  tenter_buffer_release(&buffer);
  tenter_buffer_text(&buffer, "again");
  assert_string_equal(tenter_buffer_string(&buffer), "again");
  tenter_buffer_release(&buffer);
}

static void assert_number(double value, int decimals, const char *number, const char *fixed) {
  tenter_buffer buffer = {0};
  tenter_buffer_number(&buffer, value, decimals);
  assert_string_equal(tenter_buffer_string(&buffer), number);
  tenter_buffer_clear(&buffer);
  tenter_buffer_fixed(&buffer, value, decimals);
  assert_string_equal(tenter_buffer_string(&buffer), fixed);
  tenter_buffer_release(&buffer);
}

static void numbers(void **state) {
  (void)state;
  assert_number(22.5, 2, "22.5", "22.50");
  assert_number(-0.03, 2, "-0.03", "-0.03");
  assert_number(18, 3, "18", "18.000");
  assert_number(0, 2, "0", "0.00");
  assert_number(-0.0, 2, "0", "0.00");
  assert_number(-0.004, 2, "0", "0.00");
  assert_number(100, 0, "100", "100");
  assert_number(1e9, 9, "1000000000", "1000000000.000000000");
  assert_number(999.9996, 3, "1000", "1000.000");
  assert_number(0.1 + 0.2, 9, "0.3", "0.300000000");
  assert_number(NAN, 2, "null", "");
  assert_number(INFINITY, 2, "null", "");
  assert_number(-INFINITY, 2, "null", "");
  assert_number(1.5, -1, "2", "2"); /* decimals out of range are the nearest in range */
  assert_number(0.1234567891, 12, "0.123456789", "0.123456789");
}

static void halves_go_away_from_zero(void **state) {
  (void)state;
  assert_number(0.5, 0, "1", "1");
  assert_number(-0.5, 0, "-1", "-1");
  assert_number(1.5, 0, "2", "2");
  assert_number(2.5, 0, "3", "3");
  assert_number(0.125, 2, "0.13", "0.13");
  assert_number(-0.375, 2, "-0.38", "-0.38");
  assert_number(4503599627370495.5, 0, "4503599627370496", "4503599627370496");
  assert_number(2.675, 2, "2.67", "2.67"); /* the double is 2.67499999999999982236431605997495... */
  assert_number(1.005, 2, "1", "1.00");    /* 1.00499999999999989341858963598497... */
  assert_number(0.145, 2, "0.14", "0.14"); /* 0.14499999999999999000799277837359... */
  assert_number(0.285, 2, "0.28", "0.28"); /* 0.28499999999999998001598555674718... */
  assert_number(8.345, 2, "8.35", "8.35"); /* 8.3450000000000006394884621840901... */
}

static void large_and_small(void **state) {
  (void)state;
  assert_number(4503599627370496, 2, "4503599627370496", "4503599627370496.00"); /* 2^52 */
  assert_number(9007199254740991, 2, "9007199254740991", "9007199254740991.00"); /* 2^53 - 1 */
  assert_number(9007199254740992, 2, "9007199254740992", "9007199254740992.00");
  assert_number(-1e22, 1, "-10000000000000000000000", "-10000000000000000000000.0");
  assert_number(5e-324, 9, "0", "0.000000000");
  assert_number(-1e-300, 9, "0", "0.000000000");
  assert_number(5e-10, 9, "0.000000001", "0.000000001"); /* just over the half */
  assert_number(4.9e-10, 9, "0", "0.000000000");
}

/* The exact expansion, cut after decimals places, and one added to the last place where the next
 * digit is 5 or more. */
static void slow_fixed(double value, int decimals, char *text) {
  char digits[1500];
  int length = snprintf(digits, sizeof digits, "%.1100f", fabs(value));
  char *point = strchr(digits, '.');
  assert_true(length > 1100);
  if (point == NULL)
    return;
  bool up = point[decimals + 1] >= '5';
  point[decimals == 0 ? 0 : decimals + 1] = '\0';
  size_t at = strlen(digits);
  while (up && at > 0) {
    at--;
    if (digits[at] == '.')
      continue;
    up = digits[at] == '9';
    digits[at] = up ? '0' : (char)(digits[at] + 1);
  }
  bool zero = strspn(digits, "0.") == strlen(digits) && !up;
  strcpy(text, value < 0 && !zero ? "-" : "");
  strcat(text, up ? "1" : "");
  strcat(text, digits);
}

static void agrees_with_the_exact_expansion(void **state) {
  (void)state;
  tenter_buffer buffer = {0};
  char expected[1500];
  srand(4);
  for (int round = 0; round < 60000; round++) {
    int decimals = rand() % 10;
    double value = (double)(rand() % 2000001 - 1000000) + (double)rand() / RAND_MAX;
    if (round % 3 == 0) /* few bits behind the point: many exact halves */
      value = (double)(rand() % 200001 - 100000) / (double)(1 << rand() % 8);
    if (round % 5 == 0)
      value = ldexp(value, rand() % 120 - 80);
    if (round % 7 == 0) /* the decimals that people write */
      value = (double)(rand() % 2000001 - 1000000) / 1000.0;
    slow_fixed(value, decimals, expected);
    tenter_buffer_clear(&buffer);
    tenter_buffer_fixed(&buffer, value, decimals);
    assert_string_equal(tenter_buffer_string(&buffer), expected);
  }
  tenter_buffer_release(&buffer);
}

static void integers(void **state) {
  (void)state;
  tenter_buffer buffer = {0};
  const long long values[] = {0, 7, -7, 10, 1234567890123456789, INT64_MAX, INT64_MIN};
  for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
    char expected[32];
    snprintf(expected, sizeof expected, "%lld", values[i]);
    tenter_buffer_clear(&buffer);
    tenter_buffer_integer(&buffer, values[i]);
    assert_string_equal(tenter_buffer_string(&buffer), expected);
  }
  tenter_buffer_release(&buffer);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(bytes_and_strings),
      cmocka_unit_test(room_is_writable),
      cmocka_unit_test(a_failure_sticks),
      cmocka_unit_test(numbers),
      cmocka_unit_test(halves_go_away_from_zero),
      cmocka_unit_test(large_and_small),
      cmocka_unit_test(agrees_with_the_exact_expansion),
      cmocka_unit_test(integers),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
