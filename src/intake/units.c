/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A list of spellings. lbf/in: 4.4482216152605 N to the pound-force (its definition: 0.45359237 kg
 * times 9.80665 m/s^2) over 2.54 cm to the inch (exact). */
#include "units.h"

#include <string.h>

#define POUND_FORCE_N 4.4482216152605
#define INCH_CM 2.54

typedef struct unit {
  const char *spelling; /* lower case, without blanks and full stops */
  double multiply, divide;
  bool misnamed;
} unit;

static const unit tension_units[] = {
    {"n/cm", 1, 1, false},
    {"ncm", 1, 1, false},
    {"ncm-1", 1, 1, false},
    {"ncm^-1", 1, 1, false},
    {"newton/cm", 1, 1, false},
    {"newtons/cm", 1, 1, false},
    {"npercm", 1, 1, false},
    {"n/m", 1, 100, false},
    {"newton/m", 1, 100, false},
    {"newtons/m", 1, 100, false},
    {"kn/m", 10, 1, false},
    {"knm", 10, 1, false},
    {"lbf/in", POUND_FORCE_N, INCH_CM, false},
    {"lb/in", POUND_FORCE_N, INCH_CM, false},
    {"lbs/in", POUND_FORCE_N, INCH_CM, false},
    {"lbf/inch", POUND_FORCE_N, INCH_CM, false},
    {"lb/inch", POUND_FORCE_N, INCH_CM, false},
    {"lbs/inch", POUND_FORCE_N, INCH_CM, false},
    {"n", 1, 1, true},
    {"nm", 1, 1, true},
    {"n*m", 1, 1, true},
    {"n\xC2\xB7m", 1, 1, true},
    {"newton", 1, 1, true},
    {"newtons", 1, 1, true},
    {"n/cm2", 1, 1, true},
    {"n/cm^2", 1, 1, true},
    {"n/cm\xC2\xB2", 1, 1, true},
    {"n/in2", 1, 1, true},
    {"n/in^2", 1, 1, true},
    {"n/in\xC2\xB2", 1, 1, true},
};

static const unit length_units[] = {
    {"cm", 1, 1, false},       {"mm", 1, 10, false},        {"m", 100, 1, false},
    {"in", INCH_CM, 1, false}, {"inch", INCH_CM, 1, false}, {"inches", INCH_CM, 1, false},
    {"\"", INCH_CM, 1, false},
};

/* What a plain thread count is per; divide holds the count unit. */
static const unit count_units[] = {
    {"/cm", 1, TENTER_COUNT_CM, false},
    {"cm", 1, TENTER_COUNT_CM, false},
    {"percm", 1, TENTER_COUNT_CM, false},
    {"threads/cm", 1, TENTER_COUNT_CM, false},
    {"/in", 1, TENTER_COUNT_INCH, false},
    {"in", 1, TENTER_COUNT_INCH, false},
    {"/inch", 1, TENTER_COUNT_INCH, false},
    {"inch", 1, TENTER_COUNT_INCH, false},
    {"perinch", 1, TENTER_COUNT_INCH, false},
    {"threads/in", 1, TENTER_COUNT_INCH, false},
    {"threads/inch", 1, TENTER_COUNT_INCH, false},
    {"tpi", 1, TENTER_COUNT_INCH, false},
};

/* '-' stays: it is part of cm-1. */
static bool same_unit(tenter_text text, const char *spelling) {
  for (size_t i = 0; i < text.length; i++) {
    char byte = text.start[i];
    if (byte == ' ' || byte == '.' || byte == '_')
      continue;
    if ((byte >= 'A' && byte <= 'Z' ? byte - 'A' + 'a' : byte) != *spelling)
      return false;
    spelling++;
  }
  return *spelling == '\0';
}

static const unit *find_unit(tenter_text text, const unit *list, size_t count) {
  for (size_t i = 0; i < count; i++)
    if (same_unit(text, list[i].spelling))
      return &list[i];
  return NULL;
}

bool tenter__unit_read(tenter_text text, unit_class kind, column *of) {
  const unit *found = NULL;
  if (kind == UNIT_TENSION)
    found = find_unit(text, tension_units, sizeof tension_units / sizeof *tension_units);
  if (kind == UNIT_LENGTH)
    found = find_unit(text, length_units, sizeof length_units / sizeof *length_units);
  if (kind == UNIT_COUNT) {
    found = find_unit(text, count_units, sizeof count_units / sizeof *count_units);
    of->count_unit = found ? (int)found->divide : of->count_unit;
    return found != NULL;
  }
  if (!found)
    return false;
  of->multiply = found->multiply;
  of->divide = found->divide;
  of->misnamed = found->misnamed;
  return true;
}

void tenter__unit_set(int chosen, column *of) {
  static const char *const names[] = {"n/cm", "n/cm", "n/m", "kn/m", "lbf/in"};
  tenter__unit_read(tenter_text_of(names[chosen]), UNIT_TENSION, of);
}
