/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The catalogue, and times in words. */
#include "tenter/report/messages.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/buffer.h"

enum { MOST_VALUES = 9 };

#define SAY_TEXT(id, text) text,
static const char *const texts[] = {TENTER_MESSAGES(SAY_TEXT)};

static const char *const days[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                     "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

const char *tenter_say_text(tenter_say id) {
  return (unsigned)id < TENTER_SAY_COUNT ? texts[id] : "";
}

/* The text with its placeholders filled. */
static void fill(tenter_buffer *out, const char *text, const char *const *values, int count) {
  while (*text != '\0') {
    bool digit = text[0] == '{' && text[1] >= '1' && text[1] <= '9' && text[2] == '}';
    if (digit && text[1] - '1' < count) {
      tenter_buffer_text(out, values[text[1] - '1']);
      text += 3;
    } else {
      tenter_buffer_byte(out, *text++);
    }
  }
}

const char *tenter_say_fill(tenter_arena *arena, tenter_say id, ...) {
  const char *values[MOST_VALUES];
  int count = 0;
  va_list arguments;
  va_start(arguments, id);
  for (const char *value; count < MOST_VALUES && (value = va_arg(arguments, const char *)) != NULL;)
    values[count++] = value;
  va_end(arguments);
  tenter_buffer text = {0};
  fill(&text, tenter_say_text(id), values, count);
  const char *copy =
      text.failed ? NULL : tenter_arena_copy(arena, (tenter_text){text.bytes, text.length});
  tenter_buffer_release(&text);
  return copy != NULL ? copy : "";
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
