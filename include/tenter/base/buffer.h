/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A growable run of bytes for writers. A failure sticks: later calls do nothing,
 * so that a writer checks once, at the end. */
#ifndef TENTER_BASE_BUFFER_H
#define TENTER_BASE_BUFFER_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/text.h"

typedef struct tenter_buffer {
  char *bytes; /* not NUL-terminated unless tenter_buffer_string was called */
  size_t length, capacity;
  bool failed;   /* memory ran out */
} tenter_buffer; /* all zero is an empty buffer */

void tenter_buffer_release(tenter_buffer *buffer); /* frees the bytes, leaves it as new */
void tenter_buffer_clear(tenter_buffer *buffer);   /* empties it; keeps the room and a failure */
void tenter_buffer_add(tenter_buffer *buffer, const void *bytes, size_t length);
void tenter_buffer_text(tenter_buffer *buffer, const char *string);
void tenter_buffer_print(tenter_buffer *buffer, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Makes room for length more bytes; false when memory ran out, then or before. */
bool tenter_buffer_grow(tenter_buffer *buffer, size_t length);

/* Room for length more bytes at the end: a pointer to write to (then raise length
 * yourself), or NULL. */
static inline char *tenter_buffer_room(tenter_buffer *buffer, size_t length) {
  bool there = !buffer->failed && buffer->bytes && buffer->capacity - buffer->length >= length;
  return there || tenter_buffer_grow(buffer, length) ? buffer->bytes + buffer->length : NULL;
}

static inline void tenter_buffer_byte(tenter_buffer *buffer, char byte) {
  char *room = tenter_buffer_room(buffer, 1);
  if (room == NULL)
    return;
  *room = byte;
  buffer->length++;
}

/* value rounded to at most decimals (0 .. 9) places, without trailing zeros or a trailing point
 * ("22.5", "-0.03", "18"; never "-0"); "null" for NaN and infinity. What is rounded is the
 * exact value of the double, half away from zero: 0.125 gives "0.13", and 2.675, whose double lies
 * below it, "2.67". No locale is asked. About 30 ns for |value| < 2^52. */
void tenter_buffer_number(tenter_buffer *buffer, double value, int decimals);

/* The same with exactly decimals places and "" for what is not finite. */
void tenter_buffer_fixed(tenter_buffer *buffer, double value, int decimals);

void tenter_buffer_integer(tenter_buffer *buffer, long long value);

/* The bytes as a NUL-terminated string (owned by the buffer), or NULL when failed. */
const char *tenter_buffer_string(tenter_buffer *buffer);

#endif
