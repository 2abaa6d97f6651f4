/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dates in words: a part of the catalogue of words.h. Days and months stand in their order. */
#ifndef TENTER_WORDS_DATES_H
#define TENTER_WORDS_DATES_H

// clang-format off
#define TENTER_WORDS_DATES(X) \
  X(MONDAY, "Mon") \
  X(TUESDAY, "Tue") \
  X(WEDNESDAY, "Wed") \
  X(THURSDAY, "Thu") \
  X(FRIDAY, "Fri") \
  X(SATURDAY, "Sat") \
  X(SUNDAY, "Sun") \
  X(JANUARY, "Jan") \
  X(FEBRUARY, "Feb") \
  X(MARCH, "Mar") \
  X(APRIL, "Apr") \
  X(MAY, "May") \
  X(JUNE, "Jun") \
  X(JULY, "Jul") \
  X(AUGUST, "Aug") \
  X(SEPTEMBER, "Sep") \
  X(OCTOBER, "Oct") \
  X(NOVEMBER, "Nov") \
  X(DECEMBER, "Dec") \
  /* day, month, year */ \
  X(DATE, "{1} {2} {3}") \
  /* a date, a time of day */ \
  X(DATE_TIME, "{1}, {2}") \
  /* weekday, day, month: of a day near enough for the year to go without saying */ \
  X(NEAR_DAY, "{1} {2} {3}") \
  /* weekday, a date in figures */ \
  X(NEAR_DAY_FIGURES, "{1} {2}")
// clang-format on

#endif
