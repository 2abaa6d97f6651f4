/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The catalogue: every word that people read in a report and that is not data, by id. Another
 * language is another catalogue, and the code that decides stays as it is. The lists stand in the
 * headers beside this one, by who says them; here they become one enum and the ways to fill them.
 *
 * An entry is a whole sentence or a term. Its places {1} .. {9} are figures, names, or other
 * entries, so that a translation may put them in another order. Values are never read for places,
 * so nothing in the data can ask for another value.
 *
 * Not here: errors (sentences of tenter_error, on standard error and never in a report), the help
 * of commands, the settings table (tenter/shop/settings.h, its own list of keys with their
 * sentences), and what is a key for programs as well: names of tables, columns, laws' parameters
 * and charts. */
#ifndef TENTER_WORDS_WORDS_H
#define TENTER_WORDS_WORDS_H

#include <stdarg.h>

#include "tenter/base/arena.h"
#include "tenter/base/civil.h"
#include "tenter/base/form.h"
#include "tenter/words/actions.h"
#include "tenter/words/certificate.h"
#include "tenter/words/charts.h"
#include "tenter/words/dates.h"
#include "tenter/words/intake.h"
#include "tenter/words/judge.h"
#include "tenter/words/laws.h"
#include "tenter/words/reasons.h"
#include "tenter/words/report.h"
#include "tenter/words/shop.h"

/* Y(id, text) for the reasons, X(id, text) for all others. */
#define TENTER_WORDS(X, Y)                                                                         \
  TENTER_WORDS_DATES(X)                                                                            \
  TENTER_WORDS_INTAKE(X)                                                                           \
  TENTER_WORDS_SHOP(X)                                                                             \
  TENTER_WORDS_ACTIONS(X)                                                                          \
  TENTER_WORDS_LAWS(X)                                                                             \
  TENTER_WORDS_JUDGE(X)                                                                            \
  TENTER_WORDS_REASONS(Y)                                                                          \
  TENTER_WORDS_CERTIFICATE(X)                                                                      \
  TENTER_WORDS_CHARTS(X)                                                                           \
  TENTER_WORDS_REPORT(X)

#define TENTER_SAY_CONSTANT(id, text) TENTER_SAY_##id,
#define TENTER_SAY_WHY_CONSTANT(id, text) TENTER_SAY_WHY_##id,
typedef enum tenter_say {
  TENTER_WORDS(TENTER_SAY_CONSTANT, TENTER_SAY_WHY_CONSTANT) TENTER_SAY_COUNT
} tenter_say;

/* The text of an entry; "" for what is none. */
const char *tenter_say_text(tenter_say id);

/* The entry with its places filled by the strings that follow, which end with NULL (a cast one: the
 * list is variadic); a place without a string stays as it is. In the arena; "" when memory runs
 * out, which the arena remembers. */
const char *tenter_say_fill(tenter_arena *arena, tenter_say id, ...) __attribute__((sentinel));

/* The same into a buffer of size bytes (at least 1), cut at a character where it is longer. Returns
 * buffer. */
char *tenter_say_put(char *buffer, size_t size, tenter_say id, ...) __attribute__((sentinel));
char *tenter_say_put_list(char *buffer, size_t size, tenter_say id, va_list values);

/* Figures to fill places with, in the arena; "–" for what is not finite, "" when memory runs out.
 */
const char *tenter_say_count(tenter_arena *arena, unsigned long long count);
const char *tenter_say_fixed(tenter_arena *arena, tenter_form form, double value, int decimals);
/* As printf's %.*g: so many digits, none that are zero at the end. */
const char *tenter_say_digits(tenter_arena *arena, tenter_form form, double value, int digits);

/* A value that looks otherwise in a report than in a file for programs. */
typedef struct tenter_value {
  enum {
    TENTER_VALUE_TEXT,
    TENTER_VALUE_FIXED,
    TENTER_VALUE_SIGNED, /* FIXED with + where it is above 0 */
    TENTER_VALUE_DIGITS,
    TENTER_VALUE_WHEN
  } kind;
  int digits; /* or decimals */
  union {
    const char *text;
    double number;
    tenter_when when;
  } is;
} tenter_value;

static inline tenter_value tenter_value_text(const char *text) {
  return (tenter_value){TENTER_VALUE_TEXT, 0, {.text = text}};
}

static inline tenter_value tenter_value_fixed(double number, int decimals) {
  return (tenter_value){TENTER_VALUE_FIXED, decimals, {.number = number}};
}

static inline tenter_value tenter_value_signed(double number, int decimals) {
  return (tenter_value){TENTER_VALUE_SIGNED, decimals, {.number = number}};
}

static inline tenter_value tenter_value_digits(double number, int digits) {
  return (tenter_value){TENTER_VALUE_DIGITS, digits, {.number = number}};
}

static inline tenter_value tenter_value_when(tenter_when when) {
  return (tenter_value){TENTER_VALUE_WHEN, 0, {.when = when}};
}

/* The entry with its places filled by count values (at most 9), twice: *text as programs have it,
 * *shown in the form of reports (the same string where that makes no difference). "" when memory
 * runs out. */
void tenter_say_both(tenter_arena *arena, tenter_form form, tenter_say id,
                     const tenter_value *values, size_t count, const char **text,
                     const char **shown);

/* Times as people read them, in the form of the report: "3 Nov 2026, 14:05" (or in figures),
 * without the time where it is a date alone; "" where not known. Returns buffer. */
enum { TENTER_WORDS_SIZE = 48 };
char *tenter_say_when(tenter_form form, tenter_when when, char buffer[TENTER_WORDS_SIZE]);

/* "Tue 3 Nov": a day near as_of, where the year goes without saying; in figures with its year. */
char *tenter_say_day(tenter_form form, tenter_time time, char buffer[TENTER_WORDS_SIZE]);

#endif
