/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in the reader's form are printed with a point, and the point is replaced. */
#include "tenter/base/form.h"

#include <stdio.h>
#include <string.h>

static void mark(tenter_buffer *buffer, tenter_form form, size_t from) {
  if (form.mark != TENTER_MARK_COMMA || buffer->failed || buffer->length == from)
    return;
  char *point = memchr(buffer->bytes + from, '.', buffer->length - from);
  if (point != NULL)
    *point = ',';
}

void tenter_form_fixed(tenter_buffer *buffer, tenter_form form, double value, int decimals) {
  size_t from = buffer->length;
  tenter_buffer_fixed(buffer, value, decimals);
  mark(buffer, form, from);
}

void tenter_form_number(tenter_buffer *buffer, tenter_form form, double value, int decimals) {
  size_t from = buffer->length;
  tenter_buffer_number(buffer, value, decimals);
  mark(buffer, form, from);
}

char *tenter_form_when(tenter_form form, tenter_when when, char buffer[TENTER_FORM_SIZE]) {
  buffer[0] = '\0';
  if (when.at == TENTER_NO_TIME)
    return buffer;
  if (form.dates == TENTER_DATES_PLAIN)
    return tenter_when_print(when, buffer);
  tenter_date d = tenter_date_of(when.at);
  int length = form.dates == TENTER_DATES_DMY
                   ? snprintf(buffer, TENTER_FORM_SIZE, "%02d.%02d.%04d", d.day, d.month, d.year)
               : form.dates == TENTER_DATES_MDY
                   ? snprintf(buffer, TENTER_FORM_SIZE, "%02d/%02d/%04d", d.month, d.day, d.year)
                   : snprintf(buffer, TENTER_FORM_SIZE, "%04d-%02d-%02d", d.year, d.month, d.day);
  if (!when.date_only)
    snprintf(buffer + length, (size_t)(TENTER_FORM_SIZE - length), ", %02d:%02d", d.hour, d.minute);
  return buffer;
}

size_t tenter_form_fill(char *to, size_t size, const char *text, const char *const *values,
                        size_t count) {
  size_t length = 0;
  while (*text != '\0') {
    bool digit = text[0] == '{' && text[1] >= '1' && text[1] <= '9' && text[2] == '}';
    bool value = digit && (size_t)(text[1] - '1') < count;
    const char *piece = value ? values[text[1] - '1'] : text;
    size_t bytes = value ? strlen(piece) : 1;
    if (length < size)
      memcpy(to + length, piece, bytes < size - length ? bytes : size - length);
    length += bytes;
    text += value ? 3 : 1;
  }
  return length;
}
