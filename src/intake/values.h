/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers and times from the text of a cell (outer blanks off). No locale is asked. */
#ifndef TENTER_INTAKE_VALUES_H
#define TENTER_INTAKE_VALUES_H

#include "tenter/base/civil.h"
#include "tenter/base/text.h"

typedef enum number_form {
  NUMBER_READ,
  NUMBER_NONE,      /* not a number */
  NUMBER_OTHER_MARK /* a number, but with the other decimal mark */
} number_form;

/* Reads all of text as a decimal number: sign, digits with at most one mark ('.' or ','), exponent.
 * *value is the double nearest to it. Thousands marks are refused. *marked tells whether the mark
 * stood in it. */
number_form tenter__number_read(tenter_text text, char mark, double *value, bool *marked);

/* The orders that a date can be in, as a set. */
enum { ORDER_YMD = 1, ORDER_DMY = 2, ORDER_MDY = 4, ORDERS = 8 };

const char *tenter__order_word(unsigned order); /* "ymd", "dmy", "mdy" */

/* Reads all of text as a date, or a date and a time of day:
 *  - ISO 8601 and dates whose year comes first with 4 digits, and dates with an English month name
 *    (3 Nov 2026): *orders is 0, nothing is in doubt;
 *  - three numbers with / . or - between them, the year last or of two digits (00-69 is 20..):
 *    *orders is the set of those that make it a true date; it is read by `assumed` where that is
 *    one of them, else by the first of them.
 * The time of day is H:MM[:SS[.fraction]], with am or pm after it or an offset, which is dropped.
 * A date alone is noon, date_only. False where it is none of these. */
bool tenter__time_read(tenter_text text, unsigned assumed, tenter_when *when, unsigned *orders);

/* Reads all of text as a time of day: seconds from midnight, or -1. */
int tenter__clock_read(tenter_text text);

#endif
