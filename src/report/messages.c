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

/* The text with its placeholders filled, to `to` unless that is NULL; returns its length. */
static size_t fill(char *to, const char *text, const char *const *values, int count) {
  size_t length = 0;
  while (*text != '\0') {
    bool digit = text[0] == '{' && text[1] >= '1' && text[1] <= '9' && text[2] == '}';
    bool value = digit && text[1] - '1' < count;
    const char *piece = value ? values[text[1] - '1'] : text;
    size_t bytes = value ? strlen(piece) : 1;
    if (to != NULL)
      memcpy(to + length, piece, bytes);
    length += bytes;
    text += value ? 3 : 1;
  }
  return length;
}

const char *tenter_say_fill(tenter_arena *arena, tenter_say id, ...) {
  const char *values[MOST_VALUES];
  int count = 0;
  va_list arguments;
  va_start(arguments, id);
  for (const char *value; count < MOST_VALUES && (value = va_arg(arguments, const char *)) != NULL;)
    values[count++] = value;
  va_end(arguments);
  size_t length = fill(NULL, tenter_say_text(id), values, count);
  char *text = tenter_arena_alloc(arena, length + 1, 1);
  if (text == NULL)
    return "";
  fill(text, tenter_say_text(id), values, count);
  return text;
}

static const char *weekday(tenter_time time) {
  return days[(tenter_day_start(time) - tenter_week_start(time)) / TENTER_DAY];
}

char *tenter_when_words(tenter_when when, char buffer[TENTER_WORDS_SIZE]) {
  buffer[0] = '\0';
  if (when.at == TENTER_NO_TIME)
    return buffer;
  tenter_date date = tenter_date_of(when.at);
  int length =
      snprintf(buffer, TENTER_WORDS_SIZE, "%d %s %d", date.day, months[date.month - 1], date.year);
  if (!when.date_only)
    snprintf(buffer + length, (size_t)(TENTER_WORDS_SIZE - length), ", %02d:%02d", date.hour,
             date.minute);
  return buffer;
}

char *tenter_day_words(tenter_time time, char buffer[TENTER_WORDS_SIZE]) {
  buffer[0] = '\0';
  if (time == TENTER_NO_TIME)
    return buffer;
  tenter_date date = tenter_date_of(time);
  snprintf(buffer, TENTER_WORDS_SIZE, "%s %d %s", weekday(time), date.day, months[date.month - 1]);
  return buffer;
}
