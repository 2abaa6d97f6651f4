/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and times. A decimal of up to 15 digits and a power of ten up to 10^22 are doubles
 * without rounding, so that one division gives the nearest double; all else goes to strtod, without
 * a decimal mark, so that the process's locale has no say. */
#include "values.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_DIGITS = 400 };

typedef struct cursor {
  const char *at, *end;
} cursor;

static bool is_digit(char byte) {
  return byte >= '0' && byte <= '9';
}

static bool take(cursor *c, char byte) {
  if (c->at == c->end || *c->at != byte)
    return false;
  c->at++;
  return true;
}

/* ---- numbers -------------------------------------------------------------------------------- */

typedef struct decimal {
  char digits[MOST_DIGITS + 1]; /* without leading zeros */
  size_t count;
  long exponent; /* of ten, after the digits */
  bool negative, any;
} decimal;

static bool take_digits(cursor *c, decimal *d, bool fraction) {
  for (; c->at < c->end && is_digit(*c->at); c->at++) {
    d->any = true;
    if (fraction)
      d->exponent--;
    if (d->count == 0 && *c->at == '0')
      continue;
    if (d->count == MOST_DIGITS)
      return false;
    d->digits[d->count++] = *c->at;
  }
  return true;
}

static bool take_exponent(cursor *c, decimal *d) {
  if (!take(c, 'e') && !take(c, 'E'))
    return true;
  bool negative = take(c, '-');
  if (!negative)
    take(c, '+');
  long exponent = 0;
  int count = 0;
  for (; c->at < c->end && is_digit(*c->at); c->at++, count++)
    exponent = exponent < 100000 ? exponent * 10 + (*c->at - '0') : exponent;
  d->exponent += negative ? -exponent : exponent;
  return count > 0;
}

static bool take_decimal(cursor *c, decimal *d, char mark, bool *marked) {
  d->negative = take(c, '-');
  if (!d->negative)
    take(c, '+');
  if (!take_digits(c, d, false))
    return false;
  if ((*marked = take(c, mark)) && !take_digits(c, d, true))
    return false;
  return d->any && take_exponent(c, d) && c->at == c->end;
}

static bool decimal_value(decimal *d, double *value) {
  static const double tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  double magnitude = 0;
  if (d->count > 0 && d->count <= 15 && d->exponent <= 0 && d->exponent >= -22) {
    int64_t whole = 0;
    for (size_t i = 0; i < d->count; i++)
      whole = whole * 10 + (d->digits[i] - '0');
    magnitude = (double)whole / tens[-d->exponent];
  } else if (d->count > 0) {
    char text[MOST_DIGITS + 32];
    d->digits[d->count] = '\0';
    snprintf(text, sizeof text, "%se%ld", d->digits, d->exponent);
    errno = 0;
    magnitude = strtod(text, NULL);
  }
  *value = d->negative ? -magnitude : magnitude;
  return isfinite(magnitude);
}

number_form tenter__number_read(tenter_text text, char mark, double *value, bool *marked) {
  for (int other = 0; other <= 1; other++) {
    cursor c = {text.start, text.start + text.length};
    decimal d = {.count = 0};
    char tried = other == 0 ? mark : mark == '.' ? ',' : '.';
    if (take_decimal(&c, &d, tried, marked) && decimal_value(&d, value))
      return other == 0 ? NUMBER_READ : NUMBER_OTHER_MARK;
  }
  return NUMBER_NONE;
}

/* ---- times ---------------------------------------------------------------------------------- */

const char *tenter__order_word(unsigned order) {
  return order == ORDER_YMD ? "ymd" : order == ORDER_DMY ? "dmy" : "mdy";
}

static void skip_blanks(cursor *c) {
  while (c->at < c->end && *c->at == ' ')
    c->at++;
}

/* A number of least to most digits; the count of digits, or 0. */
static int take_number(cursor *c, int least, int most, int *value) {
  int count = 0, sum = 0;
  while (count < most && c->at + count < c->end && is_digit(c->at[count]))
    sum = sum * 10 + (c->at[count++] - '0');
  if (count < least || (c->at + count < c->end && is_digit(c->at[count])))
    return 0;
  c->at += count;
  *value = sum;
  return count;
}

/* am or pm (with full stops or without) turns hour into one of 24. */
static bool take_half(cursor *c, tenter_date *date) {
  skip_blanks(c);
  if (c->at == c->end)
    return true;
  char letter = (char)(*c->at | 0x20);
  if (letter != 'a' && letter != 'p')
    return true;
  c->at++;
  take(c, '.');
  if (!take(c, 'm') && !take(c, 'M'))
    return false;
  take(c, '.');
  if (date->hour < 1 || date->hour > 12)
    return false;
  date->hour = date->hour % 12 + (letter == 'p' ? 12 : 0);
  return true;
}

/* Z, or +HH, +HHMM, +HH:MM; read and dropped. */
static bool take_offset(cursor *c) {
  int hours, minutes = 0;
  skip_blanks(c);
  if (c->at == c->end || take(c, 'Z'))
    return true;
  if (!take(c, '+') && !take(c, '-'))
    return false;
  if (c->end - c->at == 4) { /* HHMM */
    int both;
    return take_number(c, 4, 4, &both) && both / 100 < 24 && both % 100 < 60;
  }
  if (!take_number(c, 2, 2, &hours) || (take(c, ':') && !take_number(c, 2, 2, &minutes)))
    return false;
  return hours < 24 && minutes < 60;
}

/* H:MM[:SS[.fraction]] [am|pm] [offset], to the end. */
static bool take_clock(cursor *c, tenter_date *date) {
  if (!take_number(c, 1, 2, &date->hour) || !take(c, ':') || !take_number(c, 2, 2, &date->minute))
    return false;
  if (take(c, ':')) {
    if (!take_number(c, 2, 2, &date->second))
      return false;
    if (take(c, '.') || take(c, ',')) {
      if (c->at == c->end || !is_digit(*c->at))
        return false;
      while (c->at < c->end && is_digit(*c->at))
        c->at++;
    }
  }
  return take_half(c, date) && take_offset(c) && c->at == c->end && date->hour < 24 &&
         date->minute < 60 && date->second <= 60;
}

int tenter__clock_read(tenter_text text) {
  cursor c = {text.start, text.start + text.length};
  tenter_date date = {0};
  if (text.length == 0 || !take_clock(&c, &date))
    return -1;
  return date.hour * TENTER_HOUR + date.minute * 60 + (date.second > 59 ? 59 : date.second);
}

static int month_of(tenter_text word) {
  static const char *const names[] = {"january",   "february", "march",    "april",
                                      "may",       "june",     "july",     "august",
                                      "september", "october",  "november", "december"};
  if (word.length < 3)
    return 0;
  for (int month = 0; month < 12; month++)
    if (word.length <= strlen(names[month]) &&
        tenter_text_distance(word, (tenter_text){names[month], word.length}, 0) == 0)
      return month + 1;
  return 0;
}

static bool take_month(cursor *c, int *month) {
  const char *start = c->at;
  while (c->at < c->end && ((*c->at | 0x20) >= 'a' && (*c->at | 0x20) <= 'z'))
    c->at++;
  *month = month_of((tenter_text){start, (size_t)(c->at - start)});
  take(c, '.');
  return *month > 0;
}

static void skip_marks(cursor *c) {
  while (c->at < c->end && (*c->at == ' ' || *c->at == '-' || *c->at == ',' || *c->at == '/'))
    c->at++;
}

static int full_year(int year, int digits) {
  return digits > 2 ? year : year + (year < 70 ? 2000 : 1900);
}

/* 3 Nov 2026, 3-Nov-26, Nov 3, 2026. */
static bool take_named(cursor *c, tenter_date *date) {
  if (c->at < c->end && is_digit(*c->at)) {
    if (!take_number(c, 1, 2, &date->day))
      return false;
    skip_marks(c);
    if (!take_month(c, &date->month))
      return false;
  } else {
    if (!take_month(c, &date->month))
      return false;
    skip_marks(c);
    if (!take_number(c, 1, 2, &date->day))
      return false;
  }
  skip_marks(c);
  int digits = take_number(c, 2, 4, &date->year);
  date->year = full_year(date->year, digits);
  return digits == 2 || digits == 4;
}

/* Three numbers with the same mark between. */
typedef struct triple {
  int number[3], digits[3];
} triple;

static bool take_triple(cursor *c, triple *t) {
  char mark = 0;
  for (int i = 0; i < 3; i++) {
    if (i > 0 && !take(c, mark))
      return false;
    t->digits[i] = take_number(c, 1, 4, &t->number[i]);
    if (t->digits[i] == 0)
      return false;
    if (i == 0) {
      if (c->at == c->end || !strchr("/.-", *c->at))
        return false;
      mark = *c->at;
    }
  }
  return true;
}

static bool same_day(const tenter_date *a, const tenter_date *b) {
  return a->year == b->year && a->month == b->month && a->day == b->day;
}

static bool triple_date(const triple *t, unsigned order, tenter_date *date) {
  int year = order == ORDER_YMD ? 0 : 2, month = order == ORDER_MDY ? 0 : 1;
  int day = 3 - year - month;
  if (t->digits[month] > 2 || t->digits[day] > 2 || t->digits[year] == 1 || t->digits[year] == 3)
    return false;
  *date = (tenter_date){.year = full_year(t->number[year], t->digits[year]),
                        .month = t->number[month],
                        .day = t->number[day]};
  return tenter_date_valid(date);
}

/* The date of a triple by assumed where it fits; the orders in doubt. */
static bool triple_resolve(const triple *t, unsigned assumed, tenter_date *date, unsigned *orders) {
  tenter_date read = {0};
  bool differ = false;
  *orders = 0;
  for (unsigned order = ORDER_YMD; order < ORDERS; order *= 2)
    if (triple_date(t, order, &read)) {
      differ = differ || (*orders && !same_day(date, &read));
      if (*orders == 0 || order == assumed)
        *date = read;
      *orders |= order;
    }
  bool any = *orders != 0;
  unsigned two = ORDER_DMY | ORDER_MDY;
  /* Nobody writes year, day, month; and 05/05/2026 is one day either way. */
  if (t->digits[0] == 4 || (*orders == two && !differ))
    *orders = 0;
  return any;
}

static bool read_other(tenter_text text, unsigned assumed, tenter_when *when, unsigned *orders) {
  cursor c = {text.start, text.start + text.length};
  tenter_date date = {0};
  triple t;
  *orders = 0;
  if (take_triple(&c, &t)) {
    if (!triple_resolve(&t, assumed, &date, orders))
      return false;
  } else {
    c.at = text.start;
    if (!take_named(&c, &date))
      return false;
  }
  bool date_only = c.at == c.end;
  if (date_only) {
    date.hour = 12;
  } else {
    take(&c, ',');
    if (!take(&c, 'T') && (c.at == c.end || *c.at != ' '))
      return false;
    skip_blanks(&c);
    if (!take_clock(&c, &date))
      return false;
  }
  if (!tenter_date_valid(&date))
    return false;
  *when = (tenter_when){tenter_time_of(&date), date_only};
  return true;
}

bool tenter__time_read(tenter_text text, unsigned assumed, tenter_when *when, unsigned *orders) {
  *orders = 0;
  return text.length > 0 &&
         (tenter_when_parse_iso(text, when) || read_other(text, assumed, when, orders));
}
