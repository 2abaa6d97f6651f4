/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The catalogue, and times in words. */
#include "tenter/report/messages.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { MOST_VALUES = 9 };

#define SAY_TEXT(id, text) text,
static const char *const texts[] = {TENTER_MESSAGES(SAY_TEXT)};

static const char *const days[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

const char *tenter_say_text(tenter_say id) {
  return (unsigned)id < TENTER_SAY_COUNT ? texts[id] : "";
}

const char *tenter_say_fill(tenter_arena *arena, tenter_say id, ...) {
  const char *values[MOST_VALUES];
  size_t count = 0;
  va_list arguments;
  va_start(arguments, id);
  for (const char *value; count < MOST_VALUES && (value = va_arg(arguments, const char *)) != NULL;)
    values[count++] = value;
  va_end(arguments);
  size_t length = tenter_form_fill(NULL, tenter_say_text(id), values, count);
  char *text = tenter_arena_alloc(arena, length + 1, 1);
  if (text == NULL)
    return "";
  tenter_form_fill(text, tenter_say_text(id), values, count);
  return text;
}

static const char *weekday(tenter_time time) {
  return days[(tenter_day_start(time) - tenter_week_start(time)) / TENTER_DAY];
}

char *tenter_say_when(tenter_form form, tenter_when when, char buffer[TENTER_WORDS_SIZE]) {
  buffer[0] = '\0';
  if (when.at == TENTER_NO_TIME)
    return buffer;
  if (form.dates != TENTER_DATES_WORDS)
    return tenter_form_when(form, when, buffer);
  tenter_date date = tenter_date_of(when.at);
  int length =
      snprintf(buffer, TENTER_WORDS_SIZE, "%d %s %d", date.day, months[date.month - 1], date.year);
  if (!when.date_only)
    snprintf(buffer + length, (size_t)(TENTER_WORDS_SIZE - length), ", %02d:%02d", date.hour,
             date.minute);
  return buffer;
}

char *tenter_when_words(tenter_when when, char buffer[TENTER_WORDS_SIZE]) {
  return tenter_say_when((tenter_form){0}, when, buffer);
}

char *tenter_say_day(tenter_form form, tenter_time time, char buffer[TENTER_WORDS_SIZE]) {
  char figures[TENTER_FORM_SIZE];
  buffer[0] = '\0';
  if (time == TENTER_NO_TIME)
    return buffer;
  tenter_date date = tenter_date_of(time);
  if (form.dates != TENTER_DATES_WORDS)
    snprintf(buffer, TENTER_WORDS_SIZE, "%s %s", weekday(time),
             tenter_form_when(form, (tenter_when){time, true}, figures));
  else
    snprintf(buffer, TENTER_WORDS_SIZE, "%s %d %s", weekday(time), date.day,
             months[date.month - 1]);
  return buffer;
}
