/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The settings table expanded, and setting one of its rows from text. */
#include "tenter/shop/settings.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define ROW(type, field, section, key, initial, least, most, unit, sentence, source)               \
  {TENTER_SETTING_##type,                                                                          \
   offsetof(tenter_settings, field),                                                               \
   section,                                                                                        \
   key,                                                                                            \
   initial,                                                                                        \
   least,                                                                                          \
   most,                                                                                           \
   unit,                                                                                           \
   sentence,                                                                                       \
   source},

const tenter_setting tenter_setting_table[] = {TENTER_SETTINGS(ROW)};
const size_t tenter_setting_count = sizeof tenter_setting_table / sizeof *tenter_setting_table;

#define INITIAL_NUMBER(initial) initial
#define INITIAL_WHOLE(initial) initial
#define INITIAL_FLAG(initial) (initial) != 0
#define INITIAL_CHOICE(initial) initial
#define INITIAL_WORDS(initial) ""
#define INITIAL(type, field, section, key, initial, ...) .field = INITIAL_##type(initial),

tenter_settings tenter_settings_default(void) {
  tenter_settings settings = {TENTER_SETTINGS(INITIAL)};
  return settings;
}

static void *field_of(tenter_settings *settings, const tenter_setting *setting) {
  return (char *)settings + setting->offset;
}

/* A whole string as a finite number with a decimal point, whatever the locale of the process. */
static bool read_number(const char *text, double *value) {
  if (!*text || strspn(text, "+-.0123456789eE") != strlen(text))
    return false;
  char *end;
  errno = 0;
  *value = strtod(text, &end);
  return *end == '\0' && end != text && errno == 0 && isfinite(*value);
}

static tenter_status set_number(tenter_settings *settings, const tenter_setting *setting,
                                const char *text, tenter_error *error) {
  bool whole = setting->type == TENTER_SETTING_WHOLE;
  double value;
  if (!read_number(text, &value) || value < setting->least || value > setting->most ||
      (whole && value != floor(value)))
    return tenter_fail(error, TENTER_USAGE, "%s = %s: expected a %snumber from %g to %g%s%s (%s)",
                       setting->key, text, whole ? "whole " : "", setting->least, setting->most,
                       *setting->unit ? " " : "", setting->unit, setting->sentence);
  if (whole)
    *(int *)field_of(settings, setting) = (int)value;
  else
    *(double *)field_of(settings, setting) = value;
  return TENTER_OK;
}

/* The index of text among words separated by '|', or -1. */
static int choice_index(const char *words, const char *text) {
  size_t length = strlen(text);
  for (int index = 0;; index++) {
    size_t word = strcspn(words, "|");
    if (word == length && strncasecmp(words, text, length) == 0)
      return index;
    if (!words[word])
      return -1;
    words += word + 1;
  }
}

static tenter_status set_choice(tenter_settings *settings, const tenter_setting *setting,
                                const char *text, tenter_error *error) {
  bool flag = setting->type == TENTER_SETTING_FLAG;
  const char *words = flag ? "no|yes" : setting->unit;
  int index = choice_index(words, text);
  if (index < 0)
    return tenter_fail(error, TENTER_USAGE, "%s = %s: expected one of %s (%s)", setting->key, text,
                       words, setting->sentence);
  if (flag)
    *(bool *)field_of(settings, setting) = index == 1;
  else
    *(int *)field_of(settings, setting) = index;
  return TENTER_OK;
}

tenter_status tenter_setting_set(tenter_settings *settings, const tenter_setting *setting,
                                 const char *text, tenter_arena *arena, tenter_error *error) {
  switch (setting->type) {
  case TENTER_SETTING_NUMBER:
  case TENTER_SETTING_WHOLE:
    return set_number(settings, setting, text, error);
  case TENTER_SETTING_FLAG:
  case TENTER_SETTING_CHOICE:
    return set_choice(settings, setting, text, error);
  case TENTER_SETTING_WORDS:
    break;
  }
  char *copy = tenter_arena_copy(arena, tenter_text_of(text));
  if (!copy)
    return tenter_fail_memory(error);
  *(const char **)field_of(settings, setting) = copy;
  return TENTER_OK;
}

static char *print_choice(const char *words, int index, tenter_arena *arena) {
  while (index-- > 0)
    words += strcspn(words, "|") + 1;
  return tenter_arena_copy(arena, (tenter_text){words, strcspn(words, "|")});
}

char *tenter_setting_print(const tenter_settings *settings, const tenter_setting *setting,
                           tenter_arena *arena) {
  const void *field = (const char *)settings + setting->offset;
  switch (setting->type) {
  case TENTER_SETTING_NUMBER:
    return tenter_arena_print(arena, "%.10g", *(const double *)field);
  case TENTER_SETTING_WHOLE:
    return tenter_arena_print(arena, "%d", *(const int *)field);
  case TENTER_SETTING_FLAG:
    return print_choice("no|yes", *(const bool *)field, arena);
  case TENTER_SETTING_CHOICE:
    return print_choice(setting->unit, *(const int *)field, arena);
  case TENTER_SETTING_WORDS:
    break;
  }
  return tenter_arena_copy(arena, tenter_text_of(*(const char *const *)field));
}
