/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Civil time: what the clock on the wall of the shop showed, as seconds since
 * 1970-01-01T00:00:00 of the same clock. There are no zones and no leap seconds;
 * an offset in a time stamp is read and dropped (ages are differences of days). */
#ifndef TENTER_BASE_CIVIL_H
#define TENTER_BASE_CIVIL_H

#include <stdbool.h>
#include <stdint.h>

#include "tenter/base/text.h"

typedef int64_t tenter_time; /* seconds */

#define TENTER_NO_TIME INT64_MIN /* not known */

enum { TENTER_HOUR = 3600, TENTER_DAY = 86400, TENTER_WEEK = 604800 };

typedef struct tenter_date {
  int year, month, day;     /* proleptic Gregorian, years 1 .. 9999; month and day from 1 */
  int hour, minute, second; /* 0 .. 59; second 60 is read as 59 */
} tenter_date;

/* A moment and how sharply it is known: a date alone is noon, half a day either way. */
typedef struct tenter_when {
  tenter_time at; /* TENTER_NO_TIME where not known */
  bool date_only;
} tenter_when;

bool tenter_date_valid(const tenter_date *date);
tenter_time tenter_time_of(const tenter_date *date); /* of a valid date */
tenter_date tenter_date_of(tenter_time time);
tenter_time tenter_day_start(tenter_time time);

/* ISO 8601 week of a time: its week-based year and number, 1 .. 53; weeks start on Monday. */
void tenter_iso_week(tenter_time time, int *year, int *week);
tenter_time tenter_week_start(tenter_time time); /* Monday 00:00 */

/* Reads YYYY-MM-DD, YYYYMMDD, or one of these with T or a blank and HH:MM[:SS[.fraction]],
 * HHMM[SS][.fraction], and then optionally Z or an offset (+HH:MM, -HHMM, +HH); nothing may follow.
 * A fraction is dropped. False when it is not one; *when is untouched then. */
bool tenter_when_parse_iso(tenter_text text, tenter_when *when);

enum { TENTER_TIME_SIZE = 24 };

/* Writes "2026-11-03T14:05" (with ":30" where the seconds are not 0), or "2026-11-03" where
 * date_only; "" for TENTER_NO_TIME. Returns buffer. */
char *tenter_when_print(tenter_when when, char buffer[TENTER_TIME_SIZE]);
char *tenter_time_print(tenter_time time, char buffer[TENTER_TIME_SIZE]); /* never date only */

/* The machine's clock, as civil time. Its only use: nothing may be dated later than a day ahead. */
tenter_time tenter_clock_now(void);

#endif
