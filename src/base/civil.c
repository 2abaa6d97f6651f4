/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dates by arithmetic. Days are counted in years that begin on 1 March, so that the leap day is
 * the last of its year, and in eras of 400 such years (146097 days), which repeat exactly. */
#include "tenter/base/civil.h"

#include <time.h>

enum {
  ERA_DAYS = 146097,      /* 400 years */
  DAYS_TO_EPOCH = 719468, /* 0000-03-01 to 1970-01-01 */
  YEAR_LAST = 9999
};

static int64_t floor_divide(int64_t a, int64_t b) {
  return a / b - (a % b < 0);
}

static bool is_leap(int year) {
  return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int days_in_month(int year, int month) {
  static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return month == 2 && is_leap(year) ? 29 : days[month - 1];
}

bool tenter_date_valid(const tenter_date *date) {
  return date->year >= 1 && date->year <= YEAR_LAST && date->month >= 1 && date->month <= 12 &&
         date->day >= 1 && date->day <= days_in_month(date->year, date->month) && date->hour >= 0 &&
         date->hour <= 23 && date->minute >= 0 && date->minute <= 59 && date->second >= 0 &&
         date->second <= 60;
}

/* Days from 1970-01-01. (153 m + 2) / 5 is the day of the March-based year on which its m-th
 * month begins: five months from March, and from August, have 153 days. */
static int64_t days_of(int64_t year, int month, int day) {
  if (month <= 2)
    year--;
  int64_t era = floor_divide(year, 400);
  int64_t year_of_era = year - era * 400;
  int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
  int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
  return era * ERA_DAYS + day_of_era - DAYS_TO_EPOCH;
}

tenter_time tenter_time_of(const tenter_date *date) {
  int second = date->second > 59 ? 59 : date->second;
  return days_of(date->year, date->month, date->day) * TENTER_DAY +
         (tenter_time)date->hour * TENTER_HOUR + (tenter_time)date->minute * 60 + second;
}

tenter_date tenter_date_of(tenter_time time) {
  int64_t days = floor_divide(time, TENTER_DAY);
  int second_of_day = (int)(time - days * TENTER_DAY);
  days += DAYS_TO_EPOCH;
  int64_t era = floor_divide(days, ERA_DAYS);
  int64_t day_of_era = days - era * ERA_DAYS;
  /* Taking the leap days off (one in 1460, not in 36524, but in 146096) leaves years of 365. */
  int64_t year_of_era =
      (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
  int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
  int month_from_march = (int)((5 * day_of_year + 2) / 153);
  int month = month_from_march < 10 ? month_from_march + 3 : month_from_march - 9;
  return (tenter_date){.year = (int)(year_of_era + era * 400 + (month <= 2)),
                       .month = month,
                       .day = (int)(day_of_year - (153 * month_from_march + 2) / 5) + 1,
                       .hour = second_of_day / TENTER_HOUR,
                       .minute = second_of_day / 60 % 60,
                       .second = second_of_day % 60};
}

tenter_time tenter_day_start(tenter_time time) {
  return floor_divide(time, TENTER_DAY) * TENTER_DAY;
}

/* 1970-01-01 was a Thursday: three days after a Monday. */
tenter_time tenter_week_start(tenter_time time) {
  int64_t days = floor_divide(time, TENTER_DAY);
  return (floor_divide(days + 3, 7) * 7 - 3) * TENTER_DAY;
}

/* A week belongs to the year of its Thursday (ISO 8601: week 1 holds the year's first one). */
void tenter_iso_week(tenter_time time, int *year, int *week) {
  tenter_time thursday = tenter_week_start(time) + 3 * (tenter_time)TENTER_DAY;
  *year = tenter_date_of(thursday).year;
  int64_t day_of_year = thursday / TENTER_DAY - days_of(*year, 1, 1);
  *week = (int)(day_of_year / 7) + 1;
}

/* A cursor over the text of a time stamp. */
typedef struct cursor {
  const char *at, *end;
} cursor;

static bool take(cursor *c, char byte) {
  if (c->at == c->end || *c->at != byte)
    return false;
  c->at++;
  return true;
}

/* Exactly count digits. */
static bool take_digits(cursor *c, int count, int *value) {
  if (c->end - c->at < count)
    return false;
  int sum = 0;
  for (int i = 0; i < count; i++) {
    unsigned digit = (unsigned char)c->at[i] - (unsigned)'0';
    if (digit > 9)
      return false;
    sum = sum * 10 + (int)digit;
  }
  c->at += count;
  *value = sum;
  return true;
}

static bool take_date(cursor *c, tenter_date *date) {
  if (!take_digits(c, 4, &date->year))
    return false;
  bool dashed = take(c, '-');
  return take_digits(c, 2, &date->month) && (!dashed || take(c, '-')) &&
         take_digits(c, 2, &date->day);
}

/* A fraction of a second, read and dropped: a point or a comma and at least one digit. */
static bool take_fraction(cursor *c) {
  int digit;
  if (!take(c, '.') && !take(c, ','))
    return true;
  if (!take_digits(c, 1, &digit))
    return false;
  while (take_digits(c, 1, &digit)) {
  }
  return true;
}

static bool take_clock(cursor *c, tenter_date *date) {
  if (!take_digits(c, 2, &date->hour))
    return false;
  bool colons = take(c, ':');
  if (!take_digits(c, 2, &date->minute))
    return false;
  if (colons ? !take(c, ':') : c->at == c->end || *c->at < '0' || *c->at > '9')
    return true;
  return take_digits(c, 2, &date->second) && take_fraction(c);
}

/* An offset from UTC, read and dropped: Z, or a sign, two digits, and [:]two more or none. */
static bool take_offset(cursor *c) {
  int hours, minutes = 0;
  if (take(c, 'Z') || c->at == c->end)
    return true;
  if (!take(c, '+') && !take(c, '-'))
    return false;
  if (!take_digits(c, 2, &hours))
    return false;
  if ((take(c, ':') || c->at < c->end) && !take_digits(c, 2, &minutes))
    return false;
  return hours <= 23 && minutes <= 59;
}

bool tenter_when_parse_iso(tenter_text text, tenter_when *when) {
  if (text.length == 0)
    return false;
  cursor c = {text.start, text.start + text.length};
  tenter_date date = {0};
  if (!take_date(&c, &date))
    return false;
  bool date_only = c.at == c.end;
  if (date_only)
    date.hour = 12;
  else if (!(take(&c, 'T') || take(&c, ' ')) || !take_clock(&c, &date) || !take_offset(&c))
    return false;
  if (c.at != c.end || !tenter_date_valid(&date))
    return false;
  *when = (tenter_when){tenter_time_of(&date), date_only};
  return true;
}

/* Writes separator (0: none) and value as digits places; returns what follows. */
static char *put(char *to, char separator, int value, int digits) {
  if (separator != 0)
    *to++ = separator;
  for (int i = digits - 1; i >= 0; i--, value /= 10)
    to[i] = (char)('0' + value % 10);
  return to + digits;
}

char *tenter_when_print(tenter_when when, char buffer[TENTER_TIME_SIZE]) {
  buffer[0] = '\0';
  if (when.at == TENTER_NO_TIME)
    return buffer;
  tenter_date date = tenter_date_of(when.at);
  char *to = put(buffer, 0, date.year, 4);
  to = put(to, '-', date.month, 2);
  to = put(to, '-', date.day, 2);
  if (!when.date_only) {
    to = put(to, 'T', date.hour, 2);
    to = put(to, ':', date.minute, 2);
    if (date.second != 0)
      to = put(to, ':', date.second, 2);
  }
  *to = '\0';
  return buffer;
}

char *tenter_time_print(tenter_time time, char buffer[TENTER_TIME_SIZE]) {
  return tenter_when_print((tenter_when){time, false}, buffer);
}

tenter_time tenter_clock_now(void) {
  time_t now = time(NULL);
  struct tm local;
  if (now == (time_t)-1 || localtime_r(&now, &local) == NULL)
    return TENTER_NO_TIME;
  tenter_date date = {local.tm_year + 1900, local.tm_mon + 1, local.tm_mday,
                      local.tm_hour,        local.tm_min,     local.tm_sec};
  return tenter_time_of(&date);
}
