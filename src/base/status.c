/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Messages of failures. Whatever stands in them can be shown on a terminal and put into JSON: they
 * are well-formed UTF-8 without control characters but line ends. */
#include "tenter/base/status.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/text.h"

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
  tenter_text_tame(error->message);
  error->status = status;
  return status;
}
