/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers, times, places and words of any text. Properties: nothing crashes; a number agrees with
 * strtod where strtod takes all of the text; a date is within its range; a time prints and reads
 * back. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../src/intake/places.h"
#include "../../src/intake/values.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

static void check_number(const char *text, size_t length) {
  double value, wanted;
  bool marked;
  char *end;
  number_form form = tenter__number_read((tenter_text){text, length}, '.', &value, &marked);
  if (form == NUMBER_NONE || strlen(text) != length)
    return;
  if (!isfinite(value))
    abort();
  wanted = strtod(text, &end);
  if (form == NUMBER_READ && *end == '\0' && memcmp(&value, &wanted, sizeof value) != 0)
    abort();
}

static void check_time(const char *text, size_t length) {
  tenter_when when, again;
  unsigned orders;
  char printed[TENTER_TIME_SIZE];
  for (unsigned assumed = ORDER_YMD; assumed < ORDERS; assumed *= 2) {
    if (!tenter__time_read((tenter_text){text, length}, assumed, &when, &orders))
      continue;
    tenter_when_print(when, printed);
    if (orders >= ORDERS || !tenter_when_parse_iso(tenter_text_of(printed), &again) ||
        again.at != when.at || again.date_only != when.date_only)
      abort();
  }
  int seconds = tenter__clock_read((tenter_text){text, length});
  if (seconds < -1 || seconds >= TENTER_DAY)
    abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  char *text = malloc(length + 1);
  if (!text)
    return 0;
  memcpy(text, bytes, length);
  text[length] = '\0';
  check_number(text, length);
  check_time(text, length);
  tenter_position place;
  char key[PLACE_KEY_SIZE];
  tenter__place_read((tenter_text){text, length}, NULL, &place);
  tenter__place_key(&place, key);
  tenter__direction_read((tenter_text){text, length});
  tenter__event_read((tenter_text){text, length});
  free(text);
  return 0;
}
