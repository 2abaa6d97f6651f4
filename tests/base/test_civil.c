/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Civil time. Outside checks: the C library's timegm and strftime (%G, %V) for every day of
 * 1600 .. 2400, and dates whose ISO 8601 weeks are well known (from memory of ISO 8601's definition
 * and of calendars; strftime gives the same). */
#define _DEFAULT_SOURCE /* timegm */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <stdlib.h>
#include <time.h>

#include "tenter/base/civil.h"

static void agrees_with_timegm(void **state) {
  (void)state;
  int64_t days = 0;
  for (int year = 1600; year <= 2400; year++)
    for (int month = 1; month <= 12; month++)
      for (int day = 1; day <= 31; day++) {
        tenter_date date = {year, month, day, day % 24, month * 4, day};
        struct tm broken = {.tm_year = year - 1900,
                            .tm_mon = month - 1,
                            .tm_mday = day,
                            .tm_hour = date.hour,
                            .tm_min = date.minute,
                            .tm_sec = date.second};
        time_t expected = timegm(&broken);
        bool valid = broken.tm_mday == day; /* timegm moves 30 February to March */
        assert_true(tenter_date_valid(&date) == valid);
        if (!valid)
          continue;
        days++;
        tenter_time time = tenter_time_of(&date);
        assert_true(time == (tenter_time)expected);
        tenter_date back = tenter_date_of(time);
        assert_memory_equal(&back, &date, sizeof date);
      }
  assert_int_equal(days, 2 * 146097 + 366); /* two eras of 400 years and the leap year 2400 */
}

static void weeks_agree_with_strftime(void **state) {
  (void)state;
  struct tm first = {.tm_year = -300, .tm_mon = 0, .tm_mday = 1};
  for (time_t at = timegm(&first), day = 0; day < 292560; day++, at += TENTER_DAY) {
    struct tm broken;
    char expected[16], found[48];
    gmtime_r(&at, &broken);
    strftime(expected, sizeof expected, "%G-W%V-%u", &broken);
    int year, week;
    tenter_time time = (tenter_time)at + (day * 7919) % TENTER_DAY;
    tenter_iso_week(time, &year, &week);
    tenter_time monday = tenter_week_start(time);
    int weekday = (int)((tenter_day_start(time) - monday) / TENTER_DAY) + 1;
    snprintf(found, sizeof found, "%d-W%02d-%d", year, week, weekday);
    assert_string_equal(found, expected);
    assert_true(monday % TENTER_DAY == 0 && tenter_day_start(time) == (tenter_time)at);
  }
}

static void assert_week(const char *date, int year_expected, int week_expected) {
  tenter_when when;
  int year, week;
  assert_true(tenter_when_parse_iso(tenter_text_of(date), &when));
  tenter_iso_week(when.at, &year, &week);
  assert_int_equal(year, year_expected);
  assert_int_equal(week, week_expected);
}

static void weeks_that_are_well_known(void **state) {
  (void)state;
  assert_week("2026-11-25", 2026, 48);
  assert_week("2027-01-01", 2026, 53);
  assert_week("2024-12-30", 2025, 1);
  assert_week("2005-01-01", 2004, 53);
  assert_week("2007-12-31", 2008, 1);
  assert_week("1970-01-01", 1970, 1);
}

static void assert_reads(const char *text, const char *expected) {
  tenter_when when = {0, false};
  char found[TENTER_TIME_SIZE];
  if (!tenter_when_parse_iso(tenter_text_of(text), &when))
    fail_msg("'%s' was refused", text);
  assert_string_equal(tenter_when_print(when, found), expected);
}

static void time_stamps_that_are_read(void **state) {
  (void)state;
  assert_reads("2026-11-03", "2026-11-03");
  assert_reads("20261103", "2026-11-03");
  assert_reads("2026-11-03T14:05", "2026-11-03T14:05");
  assert_reads("2026-11-03 14:05", "2026-11-03T14:05");
  assert_reads("2026-11-03T14:05:30", "2026-11-03T14:05:30");
  assert_reads("2026-11-03T14:05:30.999", "2026-11-03T14:05:30");
  assert_reads("2026-11-03T14:05:30,5Z", "2026-11-03T14:05:30");
  assert_reads("2026-11-03T14:05Z", "2026-11-03T14:05");
  assert_reads("2026-11-03T14:05+01:00", "2026-11-03T14:05"); /* the clock on the wall */
  assert_reads("2026-11-03T14:05:00-0330", "2026-11-03T14:05");
  assert_reads("20261103T140530", "2026-11-03T14:05:30");
  assert_reads("20261103T1405+01", "2026-11-03T14:05");
  assert_reads("2026-12-31T23:59:60", "2026-12-31T23:59:59"); /* a leap second */
  assert_reads("2024-02-29", "2024-02-29");
  assert_reads("0001-01-01T00:00", "0001-01-01T00:00");
  assert_reads("9999-12-31T23:59", "9999-12-31T23:59");
}

static void a_date_alone_is_noon(void **state) {
  (void)state;
  tenter_when when;
  assert_true(tenter_when_parse_iso(tenter_text_of("1970-01-02"), &when));
  assert_true(when.date_only && when.at == TENTER_DAY + 12 * TENTER_HOUR);
  assert_true(tenter_when_parse_iso(tenter_text_of("1970-01-02T00:00"), &when));
  assert_true(!when.date_only && when.at == TENTER_DAY);
}

static void texts_that_are_refused(void **state) {
  (void)state;
  const char *const refused[] = {"",
                                 "2026",
                                 "2026-11",
                                 "2026-11-3",
                                 "26-11-03",
                                 "2026-13-01",
                                 "2026-00-01",
                                 "2026-02-29",
                                 "2026-11-31",
                                 "2026-11-00",
                                 "0000-01-01",
                                 "2026-11-03T",
                                 "2026-11-03T14",
                                 "2026-11-03T24:00",
                                 "2026-11-03T14:60",
                                 "2026-11-03T14:05:61",
                                 "2026-11-03T14:05:",
                                 "2026-11-03T14:05:3",
                                 "2026-11-03T14:05:30.",
                                 "2026-11-03T14:05x",
                                 "2026-11-03T14:05Zx",
                                 "2026-11-03T14:05+",
                                 "2026-11-03T14:05+1:00",
                                 "2026-11-03T14:05+24:00",
                                 "2026-11-03T14:05+01:",
                                 " 2026-11-03",
                                 "2026-11-03 ",
                                 "2026/11/03",
                                 "03.11.2026",
                                 "2026-1103",
                                 "202611-03",
                                 "2026-11-03T1405:30",
                                 "2026-11-03T14:0530",
                                 "-2026-11-03",
                                 "2026-11-03t14:05",
                                 "2026-W48-3",
                                 "2026-11-\xEF\xBC\x93"};
  tenter_when when = {7, true};
  for (size_t i = 0; i < sizeof refused / sizeof *refused; i++)
    if (tenter_when_parse_iso(tenter_text_of(refused[i]), &when))
      fail_msg("'%s' was read", refused[i]);
  assert_true(when.at == 7 && when.date_only); /* untouched */
}

static void what_is_not_known_prints_nothing(void **state) {
  (void)state;
  char room[TENTER_TIME_SIZE] = "x";
  assert_string_equal(tenter_time_print(TENTER_NO_TIME, room), "");
  assert_string_equal(tenter_time_print(-1, room), "1969-12-31T23:59:59");
  assert_string_equal(tenter_when_print((tenter_when){-1, true}, room), "1969-12-31");
}

/* The clock on the wall of a place 5:30 h ahead. */
static void the_clock_is_the_local_one(void **state) {
  (void)state;
  setenv("TZ", "XXX-5:30", 1);
  tzset();
  tenter_time local = tenter_clock_now();
  time_t now = time(NULL);
  assert_true(llabs((long long)(local - (tenter_time)now) - (5 * 60 + 30) * 60) <= 2);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(agrees_with_timegm),
      cmocka_unit_test(weeks_agree_with_strftime),
      cmocka_unit_test(weeks_that_are_well_known),
      cmocka_unit_test(time_stamps_that_are_read),
      cmocka_unit_test(a_date_alone_is_noon),
      cmocka_unit_test(texts_that_are_refused),
      cmocka_unit_test(what_is_not_known_prints_nothing),
      cmocka_unit_test(the_clock_is_the_local_one),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
