/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The reader's form: how reports show numbers and dates. Files for programs (JSON, CSV) never
 * follow it: they have the decimal point and ISO 8601. */
#ifndef TENTER_BASE_FORM_H
#define TENTER_BASE_FORM_H

#include "tenter/base/buffer.h"
#include "tenter/base/civil.h"

typedef enum tenter_mark { TENTER_MARK_POINT, TENTER_MARK_COMMA, TENTER_MARKS } tenter_mark;

typedef enum tenter_dates {
  TENTER_DATES_WORDS, /* 3 Nov 2026 */
  TENTER_DATES_ISO,   /* 2026-11-03 */
  TENTER_DATES_DMY,   /* 03.11.2026 */
  TENTER_DATES_MDY,   /* 11/03/2026 */
  TENTER_DATES_COUNT,
  TENTER_DATES_PLAIN = TENTER_DATES_COUNT /* 2026-11-03T14:05: what programs read; no setting */
} tenter_dates;

typedef struct tenter_form {
  tenter_mark mark;
  tenter_dates dates;
} tenter_form; /* all zero is the default */

/* What JSON and CSV have. */
#define TENTER_FORM_PLAIN ((tenter_form){TENTER_MARK_POINT, TENTER_DATES_PLAIN})

/* As tenter_buffer_fixed and tenter_buffer_number, with the decimal mark of form. */
void tenter_form_fixed(tenter_buffer *buffer, tenter_form form, double value, int decimals);
void tenter_form_number(tenter_buffer *buffer, tenter_form form, double value, int decimals);

/* A time in figures: "2026-11-03, 14:05", "03.11.2026, 14:05" or "11/03/2026, 14:05", the date
 * alone where date_only, "" where it is not known; for TENTER_DATES_PLAIN as tenter_when_print.
 * Words are not known here: TENTER_DATES_WORDS is as ISO. Returns buffer. */
enum { TENTER_FORM_SIZE = 40 };
char *tenter_form_when(tenter_form form, tenter_when when, char buffer[TENTER_FORM_SIZE]);

/* Fills text, with {1} .. {9} replaced by count values, into the first size bytes of `to`; a
 * placeholder without a value stays as it is. Returns the length of the whole, no NUL is written.
 */
size_t tenter_form_fill(char *to, size_t size, const char *text, const char *const *values,
                        size_t count);

#endif
