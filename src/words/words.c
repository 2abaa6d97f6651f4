/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The texts of the catalogue, and how their places are filled. */
#include "tenter/words/words.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { MOST_VALUES = 9, FIGURE_SIZE = 384 }; /* a double can have 309 digits */

#define TEXT(id, text) text,
static const char *const texts[] = {TENTER_WORDS(TEXT, TEXT)};

const char *tenter_say_text(tenter_say id) {
  return (unsigned)id < TENTER_SAY_COUNT ? texts[id] : "";
}

/* ---- filling -------------------------------------------------------------------------------- */

static size_t values_of(va_list arguments, const char *values[MOST_VALUES]) {
  size_t count = 0;
  for (const char *value; count < MOST_VALUES && (value = va_arg(arguments, const char *)) != NULL;)
    values[count++] = value;
  return count;
}

static const char *fill(tenter_arena *arena, tenter_say id, const char *const *values,
                        size_t count) {
  size_t length = tenter_form_fill(NULL, 0, tenter_say_text(id), values, count);
  char *text = tenter_arena_alloc(arena, length + 1, 1);
  if (text == NULL)
    return "";
  tenter_form_fill(text, length, tenter_say_text(id), values, count);
  return text;
}

const char *tenter_say_fill(tenter_arena *arena, tenter_say id, ...) {
  const char *values[MOST_VALUES];
  va_list arguments;
  va_start(arguments, id);
  size_t count = values_of(arguments, values);
  va_end(arguments);
  return fill(arena, id, values, count);
}

char *tenter_say_put_list(char *buffer, size_t size, tenter_say id, va_list list) {
  const char *values[MOST_VALUES];
  size_t count = values_of(list, values);
  size_t length = tenter_form_fill(buffer, size, tenter_say_text(id), values, count);
  if (length >= size)
    for (length = size - 1; length > 0 && ((unsigned char)buffer[length] & 0xC0) == 0x80;)
      length--;
  buffer[length] = '\0';
  return buffer;
}

char *tenter_say_put(char *buffer, size_t size, tenter_say id, ...) {
  va_list values;
  va_start(values, id);
  tenter_say_put_list(buffer, size, id, values);
  va_end(values);
  return buffer;
}

/* ---- figures -------------------------------------------------------------------------------- */

static const char *kept(tenter_arena *arena, const char *text) {
  const char *copy = tenter_arena_copy(arena, tenter_text_of(text));
  return copy != NULL ? copy : "";
}

static const char *marked(tenter_arena *arena, tenter_form form, double value,
                          char figure[FIGURE_SIZE]) {
  if (!isfinite(value))
    return "–";
  char *point = form.mark == TENTER_MARK_COMMA ? strchr(figure, '.') : NULL;
  if (point != NULL)
    *point = ',';
  return kept(arena, figure);
}

const char *tenter_say_count(tenter_arena *arena, unsigned long long count) {
  char figure[FIGURE_SIZE];
  snprintf(figure, sizeof figure, "%llu", count);
  return kept(arena, figure);
}

const char *tenter_say_fixed(tenter_arena *arena, tenter_form form, double value, int decimals) {
  char figure[FIGURE_SIZE];
  snprintf(figure, sizeof figure, "%.*f", decimals, value);
  return marked(arena, form, value, figure);
}

static const char *say_signed(tenter_arena *arena, tenter_form form, double value, int decimals) {
  char figure[FIGURE_SIZE];
  snprintf(figure, sizeof figure, "%+.*f", decimals, value);
  return marked(arena, form, value, figure);
}

const char *tenter_say_digits(tenter_arena *arena, tenter_form form, double value, int digits) {
  char figure[FIGURE_SIZE];
  snprintf(figure, sizeof figure, "%.*g", digits, value);
  return marked(arena, form, value, figure);
}

/* ---- dates ---------------------------------------------------------------------------------- */

static const char *weekday(tenter_time time) {
  tenter_time day = (tenter_day_start(time) - tenter_week_start(time)) / TENTER_DAY;
  return tenter_say_text((tenter_say)(TENTER_SAY_MONDAY + day));
}

static const char *month(tenter_date date) {
  return tenter_say_text((tenter_say)(TENTER_SAY_JANUARY + date.month - 1));
}

char *tenter_say_when(tenter_form form, tenter_when when, char buffer[TENTER_WORDS_SIZE]) {
  buffer[0] = '\0';
  if (when.at == TENTER_NO_TIME)
    return buffer;
  if (form.dates != TENTER_DATES_WORDS)
    return tenter_form_when(form, when, buffer);
  char day[16], year[16], clock[32], words[TENTER_WORDS_SIZE];
  tenter_date date = tenter_date_of(when.at);
  snprintf(day, sizeof day, "%d", date.day);
  snprintf(year, sizeof year, "%d", date.year);
  snprintf(clock, sizeof clock, "%02d:%02d", date.hour, date.minute);
  tenter_say_put(when.date_only ? buffer : words, TENTER_WORDS_SIZE, TENTER_SAY_DATE, day,
                 month(date), year, (const char *)NULL);
  return when.date_only ? buffer
                        : tenter_say_put(buffer, TENTER_WORDS_SIZE, TENTER_SAY_DATE_TIME, words,
                                         clock, (const char *)NULL);
}

char *tenter_say_day(tenter_form form, tenter_time time, char buffer[TENTER_WORDS_SIZE]) {
  buffer[0] = '\0';
  if (time == TENTER_NO_TIME)
    return buffer;
  if (form.dates != TENTER_DATES_WORDS) {
    char figures[TENTER_FORM_SIZE];
    tenter_form_when(form, (tenter_when){time, true}, figures);
    return tenter_say_put(buffer, TENTER_WORDS_SIZE, TENTER_SAY_NEAR_DAY_FIGURES, weekday(time),
                          figures, (const char *)NULL);
  }
  char day[16];
  tenter_date date = tenter_date_of(time);
  snprintf(day, sizeof day, "%d", date.day);
  return tenter_say_put(buffer, TENTER_WORDS_SIZE, TENTER_SAY_NEAR_DAY, weekday(time), day,
                        month(date), (const char *)NULL);
}

/* ---- one sentence in two forms -------------------------------------------------------------- */

static const char *value_words(tenter_arena *arena, tenter_form form, const tenter_value *value) {
  char time[TENTER_WORDS_SIZE];
  switch (value->kind) {
  case TENTER_VALUE_FIXED:
    return tenter_say_fixed(arena, form, value->is.number, value->digits);
  case TENTER_VALUE_SIGNED:
    return say_signed(arena, form, value->is.number, value->digits);
  case TENTER_VALUE_DIGITS:
    return tenter_say_digits(arena, form, value->is.number, value->digits);
  case TENTER_VALUE_WHEN:
    return kept(arena, tenter_say_when(form, value->is.when, time));
  default:
    return value->is.text;
  }
}

static const char *say_in(tenter_arena *arena, tenter_form form, tenter_say id,
                          const tenter_value *values, size_t count) {
  const char *words[MOST_VALUES];
  for (size_t i = 0; i < count && i < MOST_VALUES; i++)
    words[i] = value_words(arena, form, &values[i]);
  return fill(arena, id, words, count < MOST_VALUES ? count : MOST_VALUES);
}

void tenter_say_both(tenter_arena *arena, tenter_form form, tenter_say id,
                     const tenter_value *values, size_t count, const char **text,
                     const char **shown) {
  bool same = true;
  for (size_t i = 0; i < count; i++)
    same &= values[i].kind == TENTER_VALUE_TEXT ||
            (values[i].kind == TENTER_VALUE_WHEN ? form.dates == TENTER_DATES_PLAIN
                                                 : form.mark == TENTER_MARK_POINT);
  *text = say_in(arena, TENTER_FORM_PLAIN, id, values, count);
  *shown = same ? *text : say_in(arena, form, id, values, count);
}
