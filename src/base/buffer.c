/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Growing bytes, and numbers as text. Numbers are rounded exactly, in integers: a double is m /
 * 2^s, so its fraction times 10^d fits in 128 bits and the rounding bit is there to see. */
#include "tenter/base/buffer.h"

#include <float.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/alloc.h"

enum { SMALLEST = 256, MOST_DECIMALS = 9 };

__extension__ typedef unsigned __int128 wide;

void tenter_buffer_release(tenter_buffer *buffer) {
  tenter_free(buffer->bytes);
  *buffer = (tenter_buffer){0};
}

void tenter_buffer_clear(tenter_buffer *buffer) {
  buffer->length = 0;
}

bool tenter_buffer_grow(tenter_buffer *buffer, size_t length) {
  buffer->failed = buffer->failed || length > SIZE_MAX / 4 || buffer->length > SIZE_MAX / 4;
  if (buffer->failed)
    return false;
  size_t capacity = buffer->capacity < SMALLEST ? SMALLEST : buffer->capacity;
  while (capacity - buffer->length < length)
    capacity *= 2;
  char *bytes = tenter_resize(buffer->bytes, capacity, 1);
  if (bytes == NULL) {
    buffer->failed = true;
    return false;
  }
  buffer->bytes = bytes;
  buffer->capacity = capacity;
  return true;
}

void tenter_buffer_add(tenter_buffer *buffer, const void *bytes, size_t length) {
  char *room = length == 0 ? NULL : tenter_buffer_room(buffer, length);
  if (room == NULL)
    return;
  memcpy(room, bytes, length);
  buffer->length += length;
}

void tenter_buffer_text(tenter_buffer *buffer, const char *string) {
  tenter_buffer_add(buffer, string, strlen(string));
}

void tenter_buffer_print(tenter_buffer *buffer, const char *format, ...) {
  va_list arguments, again;
  va_start(arguments, format);
  va_copy(again, arguments);
  int length = vsnprintf(NULL, 0, format, arguments);
  va_end(arguments);
  char *room = length < 0 ? NULL : tenter_buffer_room(buffer, (size_t)length + 1);
  if (room != NULL) {
    vsnprintf(room, (size_t)length + 1, format, again);
    buffer->length += (size_t)length;
  }
  va_end(again);
  if (length < 0)
    buffer->failed = true;
}

/* The digits of value, written so that they end before end; returns their start. */
static char *digits_before(char *end, uint64_t value) {
  do {
    *--end = (char)('0' + value % 10);
    value /= 10;
  } while (value > 0);
  return end;
}

static void add_digits(tenter_buffer *buffer, bool negative, uint64_t value) {
  char digits[24], *end = digits + sizeof digits;
  char *start = digits_before(end, value);
  if (negative)
    *--start = '-';
  tenter_buffer_add(buffer, start, (size_t)(end - start));
}

void tenter_buffer_integer(tenter_buffer *buffer, long long value) {
  uint64_t size = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
  add_digits(buffer, value < 0, size);
}

/* |value| as whole + part / 10^decimals, half rounded up; |value| < 2^52. */
static void split(double value, int decimals, uint64_t *whole, uint64_t *part) {
  static const uint64_t powers[MOST_DECIMALS + 1] = {
      1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000, 1000000000};
  int exponent;
  uint64_t m = (uint64_t)ldexp(frexp(fabs(value), &exponent), DBL_MANT_DIG);
  int shift = DBL_MANT_DIG - exponent; /* |value| is m / 2^shift, and shift >= 1 ... */
  *whole = shift < 64 ? m >> shift : 0;
  uint64_t fraction = shift < 64 ? m - (*whole << shift) : m;
  wide scaled = (wide)fraction * powers[decimals]; /* ... below 2^83 */
  *part = shift > 100 ? 0 : (uint64_t)(((scaled >> (shift - 1)) + 1) >> 1);
  if (*part == powers[decimals]) {
    *part = 0;
    ++*whole;
  }
}

/* 2^52 and over: whole numbers, up to 309 digits. */
static void add_huge(tenter_buffer *buffer, double value, int zeros) {
  tenter_buffer_print(buffer, "%.0f", value);
  if (zeros > 0)
    tenter_buffer_byte(buffer, '.');
  for (int i = 0; i < zeros; i++)
    tenter_buffer_byte(buffer, '0');
}

static void add_number(tenter_buffer *buffer, double value, int decimals, bool keep_zeros) {
  if (decimals < 0)
    decimals = 0;
  if (decimals > MOST_DECIMALS)
    decimals = MOST_DECIMALS;
  if (fabs(value) >= 0x1p52) {
    add_huge(buffer, value, keep_zeros ? decimals : 0);
    return;
  }
  uint64_t whole, part;
  split(value, decimals, &whole, &part);
  bool negative = value < 0 && (whole | part) != 0;
  while (!keep_zeros && decimals > 0 && part % 10 == 0) {
    part /= 10;
    decimals--;
  }
  char text[32], *end = text + sizeof text, *start = end; /* sign, 16 digits, point, 9 digits */
  if (decimals > 0) {
    for (int i = 0; i < decimals; i++, part /= 10)
      *--start = (char)('0' + part % 10);
    *--start = '.';
  }
  start = digits_before(start, whole);
  if (negative)
    *--start = '-';
  tenter_buffer_add(buffer, start, (size_t)(end - start));
}

void tenter_buffer_number(tenter_buffer *buffer, double value, int decimals) {
  if (isfinite(value))
    add_number(buffer, value, decimals, false);
  else
    tenter_buffer_add(buffer, "null", 4);
}

void tenter_buffer_fixed(tenter_buffer *buffer, double value, int decimals) {
  if (isfinite(value))
    add_number(buffer, value, decimals, true);
}

const char *tenter_buffer_string(tenter_buffer *buffer) {
  char *room = tenter_buffer_room(buffer, 1);
  if (room == NULL)
    return NULL;
  *room = '\0';
  return buffer->bytes;
}
