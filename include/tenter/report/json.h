/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A streaming JSON writer on a buffer: it keeps the commas and the brackets, and text passes
 * tenter_escape_json. Keys are literals of ours and are written as they stand. Pass NULL as key
 * within an array. */
#ifndef TENTER_REPORT_JSON_H
#define TENTER_REPORT_JSON_H

#include <stdbool.h>
#include <stdint.h>

#include "tenter/base/buffer.h"
#include "tenter/base/civil.h"

typedef struct tenter_json {
  tenter_buffer *out;
  uint32_t filled; /* bit d: the bracket open at depth d holds something already */
  unsigned depth;
} tenter_json;

/* Decimal places: tensions and their like; probabilities; hours and days. */
enum { TENTER_JSON_TENSION = 6, TENTER_JSON_PROBABILITY = 9, TENTER_JSON_DURATION = 4 };

tenter_json tenter_json_start(tenter_buffer *out);

/* A writer that goes on within an array that another one opened at depth; first: nothing stands in
 * that array yet. */
tenter_json tenter_json_resume(tenter_buffer *out, unsigned depth, bool first);

void tenter_json_open(tenter_json *json, const char *key, char bracket); /* '{' or '[' */
void tenter_json_close(tenter_json *json, char bracket);                 /* '}' or ']' */
void tenter_json_line(tenter_json *json); /* the next value starts on a line of its own */
void tenter_json_text(tenter_json *json, const char *key, const char *string); /* NULL: null */
void tenter_json_name(tenter_json *json, const char *key, const char *string); /* "": null */
void tenter_json_number(tenter_json *json, const char *key, double value, int decimals);
void tenter_json_integer(tenter_json *json, const char *key, long long value);
void tenter_json_flag(tenter_json *json, const char *key, bool value);
void tenter_json_null(tenter_json *json, const char *key);
void tenter_json_time(tenter_json *json, const char *key, tenter_time time);
void tenter_json_when(tenter_json *json, const char *key, tenter_when when);

#endif
