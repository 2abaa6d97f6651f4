/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers against strtod (the C library's, correctly rounded: IEEE 754 by glibc's manual); dates
 * against what their text says. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../src/intake/values.h"
#include "close.h"

static void test_numbers(void **state) {
  (void)state;
  static const struct {
    const char *text;
    char mark;
    number_form form;
    double value;
  } cases[] = {
      {"21.5", '.', NUMBER_READ, 21.5},
      {"21,5", ',', NUMBER_READ, 21.5},
      {"21,5", '.', NUMBER_OTHER_MARK, 21.5},
      {"21.5", ',', NUMBER_OTHER_MARK, 21.5},
      {"+7", '.', NUMBER_READ, 7},
      {"-7.25", '.', NUMBER_READ, -7.25},
      {".5", '.', NUMBER_READ, .5},
      {"5.", '.', NUMBER_READ, 5},
      {"2.45E+01", '.', NUMBER_READ, 24.5},
      {"007", '.', NUMBER_READ, 7},
      {"1,234.5", '.', NUMBER_NONE, 0},
      {"1.234,5", ',', NUMBER_NONE, 0},
      {"1 234", '.', NUMBER_NONE, 0},
      {"21.6.2", '.', NUMBER_NONE, 0},
      {"", '.', NUMBER_NONE, 0},
      {".", '.', NUMBER_NONE, 0},
      {"-", '.', NUMBER_NONE, 0},
      {"e5", '.', NUMBER_NONE, 0},
      {"1e", '.', NUMBER_NONE, 0},
      {"nan", '.', NUMBER_NONE, 0},
      {"inf", '.', NUMBER_NONE, 0},
      {"0x10", '.', NUMBER_NONE, 0},
      {"1e999", '.', NUMBER_NONE, 0},
      {"24.5 N/cm", '.', NUMBER_NONE, 0},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    double value = 0;
    bool marked;
    assert_int_equal(
        tenter__number_read(tenter_text_of(cases[i].text), cases[i].mark, &value, &marked),
        cases[i].form);
    if (cases[i].form != NUMBER_NONE)
      assert_close(value, cases[i].value, 0, 0);
  }
}

static uint64_t seed = 1;

static uint64_t any(void) { /* xorshift64* (Vigna 2016) */
  seed ^= seed >> 12;
  seed ^= seed << 25;
  seed ^= seed >> 27;
  return seed * 2685821657736338717U;
}

/* Up to 25 digits with a point anywhere and an exponent sometimes: bit for bit as strtod. */
static void test_numbers_like_strtod(void **state) {
  (void)state;
  for (int round = 0; round < 20000; round++) {
    char text[64];
    size_t length = 0, digits = 1 + any() % 25, point = any() % (digits + 1);
    for (size_t i = 0; i < digits; i++) {
      if (i == point)
        text[length++] = '.';
      text[length++] = (char)('0' + any() % 10);
    }
    text[length] = '\0';
    if (any() % 4 == 0)
      snprintf(text + length, sizeof text - length, "e%d", (int)(any() % 60) - 30);
    double value, wanted = strtod(text, NULL);
    bool marked;
    assert_int_equal(tenter__number_read(tenter_text_of(text), '.', &value, &marked), NUMBER_READ);
    if (memcmp(&value, &wanted, sizeof value) != 0)
      fail_msg("%s: %.17g, not %.17g", text, value, wanted);
  }
}

static const char *read_time(const char *text, unsigned assumed, unsigned *orders,
                             char buffer[TENTER_TIME_SIZE]) {
  tenter_when when;
  if (!tenter__time_read(tenter_text_of(text), assumed, &when, orders))
    return "no";
  return tenter_when_print(when, buffer);
}

static void test_times(void **state) {
  (void)state;
  enum { Y = ORDER_YMD, D = ORDER_DMY, M = ORDER_MDY };
  static const struct {
    const char *text;
    unsigned assumed;
    const char *reads;
    unsigned orders;
  } cases[] = {
      {"2026-11-03", D, "2026-11-03", 0},
      {"2026-11-03T14:05", D, "2026-11-03T14:05", 0},
      {"2026-11-03 14:05:30", D, "2026-11-03T14:05:30", 0},
      {"20261103T1405", D, "2026-11-03T14:05", 0},
      {"2026-11-03T14:05:00.5Z", D, "2026-11-03T14:05", 0},
      {"2026/11/03 9:05", D, "2026-11-03T09:05", 0},
      {"2026-11-3", D, "2026-11-03", 0},
      {"03/11/2026 14:05", D, "2026-11-03T14:05", D | M},
      {"03/11/2026 14:05", M, "2026-03-11T14:05", D | M},
      {"03.11.2026", D, "2026-11-03", D | M},
      {"25/03/2026", M, "2026-03-25", D},
      {"03/25/2026", D, "2026-03-25", M},
      {"05/05/2026", D, "2026-05-05", 0}, /* the same either way */
      {"31/06/2026", D, "no", 0},
      {"29/02/2025", D, "no", 0},
      {"29/02/2024", D, "2024-02-29", D},
      {"03/11/26", D, "2026-11-03", D | M | Y},
      {"15.03.99", D, "1999-03-15", D}, /* there is no 99th day, no 15th month */
      {"3 Nov 2026", D, "2026-11-03", 0},
      {"03-nov-26 2:05 pm", D, "2026-11-03T14:05", 0},
      {"November 3, 2026", D, "2026-11-03", 0},
      {"3/11/2026 12:05 AM", D, "2026-11-03T00:05", D | M},
      {"3/11/2026 12:05 p.m.", D, "2026-11-03T12:05", D | M},
      {"3/11/2026 13:05 pm", D, "no", 0},
      {"03/11-2026", D, "no", 0},
      {"monday", D, "no", 0},
      {"2026-02-30 07:00", D, "no", 0},
      {"2026-08-03 25:61", D, "no", 0},
      {"", D, "no", 0},
      {"14:05", D, "no", 0},
      {"3 Nowember 2026", D, "no", 0},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char buffer[TENTER_TIME_SIZE];
    unsigned orders = 99;
    const char *reads = read_time(cases[i].text, cases[i].assumed, &orders, buffer);
    if (strcmp(reads, cases[i].reads) != 0)
      fail_msg("'%s' reads as %s, not %s", cases[i].text, reads, cases[i].reads);
    if (strcmp(reads, "no") != 0)
      assert_int_equal(orders, cases[i].orders);
  }
}

static void test_clocks(void **state) {
  (void)state;
  static const struct {
    const char *text;
    int seconds;
  } cases[] = {{"06:00", 21600},   {"6:00", 21600},       {"23:59:59", 86399},
               {"2:05 PM", 50700}, {"06:00:30.5", 21630}, {"24:00", -1},
               {"6", -1},          {"6:5", -1},           {"", -1},
               {"6:00x", -1}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    assert_int_equal(tenter__clock_read(tenter_text_of(cases[i].text)), cases[i].seconds);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_numbers),
                                     cmocka_unit_test(test_numbers_like_strtod),
                                     cmocka_unit_test(test_times), cmocka_unit_test(test_clocks)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
