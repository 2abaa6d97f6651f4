/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Messages of failures. Whatever stands in them can be shown on a terminal and put into JSON: they
 * are well-formed UTF-8 without control characters but line ends. */
#include "tenter/base/status.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/text.h"

/* C0 controls but the line end, DEL, and the C1 controls (U+0080 .. U+009F: C2 80 .. C2 9F). */
static bool is_control(const char *at, size_t width) {
  unsigned char first = (unsigned char)at[0];
  if (width == 1)
    return (first < 0x20 && first != '\n') || first == 0x7F;
  return width == 2 && first == 0xC2 && (unsigned char)at[1] < 0xA0;
}

/* Puts '?' for each control character and each byte that belongs to no character. */
static void clean(char *message) {
  const char *from = message, *end = message + strlen(message);
  char *to = message;
  while (from < end) {
    size_t width = tenter_text_character((tenter_text){from, (size_t)(end - from)});
    if (width == 0 || is_control(from, width)) {
      *to++ = '?';
      from += width == 0 ? 1 : width;
      continue;
    }
    memmove(to, from, width);
    to += width;
    from += width;
  }
  *to = '\0';
}

/* Takes off a character of which the cut at the end of the message left only the head. */
static void mend_cut(char *message) {
  size_t end = strlen(message), lead = end;
  while (lead > 0 && end - lead < 3 && ((unsigned char)message[lead - 1] & 0xC0) == 0x80)
    lead--;
  if (lead == 0 || (unsigned char)message[lead - 1] < 0xC0)
    return;
  lead--;
  if (tenter_text_character((tenter_text){message + lead, end - lead}) == 0)
    message[lead] = '\0';
}

tenter_status tenter_fail(tenter_error *error, tenter_status status, const char *format, ...) {
  if (error == NULL)
    return status;
  va_list arguments;
  va_start(arguments, format);
  int length = vsnprintf(error->message, sizeof error->message, format, arguments);
  va_end(arguments);
  if (length < 0)
    error->message[0] = '\0';
  if (length >= TENTER_MESSAGE_SIZE)
    mend_cut(error->message);
  clean(error->message);
  error->status = status;
  return status;
}

tenter_status tenter_fail_memory(tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED, "out of memory");
}
