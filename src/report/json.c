/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The streaming JSON writer. */
#include "tenter/report/json.h"

#include <string.h>

#include "tenter/report/escape.h"

tenter_json tenter_json_start(tenter_buffer *out) {
  return (tenter_json){.out = out};
}

tenter_json tenter_json_resume(tenter_buffer *out, unsigned depth, bool first) {
  return (tenter_json){.out = out, .depth = depth, .filled = first ? 0 : 1u << depth};
}

/* The comma before a value where one is due, and its key. */
static void begin(tenter_json *json, const char *key) {
  uint32_t bit = 1u << json->depth;
  if (json->filled & bit)
    tenter_buffer_byte(json->out, ',');
  json->filled |= bit;
  if (key == NULL)
    return;
  size_t length = strlen(key);
  char *room = tenter_buffer_room(json->out, length + 3);
  if (room == NULL)
    return;
  room[0] = '"';
  memcpy(room + 1, key, length);
  room[length + 1] = '"';
  room[length + 2] = ':';
  json->out->length += length + 3;
}

void tenter_json_open(tenter_json *json, const char *key, char bracket) {
  begin(json, key);
  tenter_buffer_byte(json->out, bracket);
  json->depth++;
  json->filled &= ~(1u << json->depth);
}

void tenter_json_close(tenter_json *json, char bracket) {
  tenter_buffer_byte(json->out, bracket);
  json->depth--;
}

void tenter_json_line(tenter_json *json) {
  uint32_t bit = 1u << json->depth;
  if (json->filled & bit)
    tenter_buffer_byte(json->out, ',');
  json->filled &= ~bit;
  tenter_buffer_byte(json->out, '\n');
}

void tenter_json_text(tenter_json *json, const char *key, const char *string) {
  begin(json, key);
  if (string != NULL)
    tenter_escape_json(json->out, string);
  else
    tenter_buffer_add(json->out, "null", 4);
}

void tenter_json_name(tenter_json *json, const char *key, const char *string) {
  tenter_json_text(json, key, string != NULL && string[0] != '\0' ? string : NULL);
}

void tenter_json_number(tenter_json *json, const char *key, double value, int decimals) {
  begin(json, key);
  tenter_buffer_number(json->out, value, decimals);
}

void tenter_json_integer(tenter_json *json, const char *key, long long value) {
  begin(json, key);
  tenter_buffer_integer(json->out, value);
}

void tenter_json_flag(tenter_json *json, const char *key, bool value) {
  begin(json, key);
  tenter_buffer_text(json->out, value ? "true" : "false");
}

void tenter_json_null(tenter_json *json, const char *key) {
  begin(json, key);
  tenter_buffer_add(json->out, "null", 4);
}

void tenter_json_when(tenter_json *json, const char *key, tenter_when when) {
  char text[TENTER_TIME_SIZE];
  tenter_json_name(json, key, tenter_when_print(when, text));
}

void tenter_json_time(tenter_json *json, const char *key, tenter_time time) {
  tenter_json_when(json, key, (tenter_when){.at = time, .date_only = false});
}
