/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in the reader's form: printed with a point, and the point replaced. */
#include "tenter/base/form.h"

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
