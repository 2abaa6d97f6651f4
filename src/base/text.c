/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Views of text: comparing, trimming, checking. No locale is asked. */
#include "tenter/base/text.h"

#include <stdint.h>
#include <string.h>

tenter_text tenter_text_of(const char *string) {
  return (tenter_text){string, string == NULL ? 0 : strlen(string)};
}

/* Bytes of the blank at the head of start .. end: 0 where there is none. The no-break space is
 * U+00A0, in UTF-8 C2 A0. */
static size_t blank_at(const char *start, const char *end) {
  if (start == end)
    return 0;
  if (*start == ' ' || *start == '\t' || *start == '\r' || *start == '\n')
    return 1;
  return end - start >= 2 && memcmp(start, "\xC2\xA0", 2) == 0 ? 2 : 0;
}

static size_t blank_before(const char *start, const char *end) {
  if (end - start >= 2 && memcmp(end - 2, "\xC2\xA0", 2) == 0)
    return 2;
  return end > start ? blank_at(end - 1, end) : 0;
}

tenter_text tenter_text_trim(tenter_text text) {
  if (text.length == 0)
    return text;
  const char *start = text.start, *end = text.start + text.length;
  for (size_t width; (width = blank_at(start, end)) > 0;)
    start += width;
  for (size_t width; (width = blank_before(start, end)) > 0;)
    end -= width;
  return (tenter_text){start, (size_t)(end - start)};
}

bool tenter_text_equal(tenter_text a, tenter_text b) {
  return a.length == b.length && (a.length == 0 || memcmp(a.start, b.start, a.length) == 0);
}

int tenter_text_compare(tenter_text a, tenter_text b) {
  size_t shorter = a.length < b.length ? a.length : b.length;
  int order = shorter == 0 ? 0 : memcmp(a.start, b.start, shorter);
  return order != 0 ? order : (a.length > b.length) - (a.length < b.length);
}

static bool is_digit(char byte) {
  return byte >= '0' && byte <= '9';
}

/* The run of digits at *at without its leading zeros; *at moves behind it. */
static tenter_text number_at(tenter_text text, size_t *at) {
  size_t start = *at;
  while (start < text.length && text.start[start] == '0')
    start++;
  size_t end = start;
  while (end < text.length && is_digit(text.start[end]))
    end++;
  *at = end;
  return (tenter_text){text.start + start, end - start};
}

/* A text is a row of tokens (a number, or a byte that is no digit), and rows are ordered as words
 * in a dictionary. Beside a byte a number stands where its first digit would: no byte that is
 * not a digit lies between two digits, so the order is a total one. Leading zeros only break ties.
 */
int tenter_text_natural(tenter_text a, tenter_text b) {
  size_t i = 0, j = 0;
  while (i < a.length && j < b.length) {
    if (is_digit(a.start[i]) && is_digit(b.start[j])) {
      tenter_text m = number_at(a, &i), n = number_at(b, &j);
      if (m.length != n.length)
        return m.length < n.length ? -1 : 1;
      int order = tenter_text_compare(m, n);
      if (order != 0)
        return order;
    } else {
      unsigned char x = (unsigned char)a.start[i++], y = (unsigned char)b.start[j++];
      if (x != y)
        return x < y ? -1 : 1;
    }
  }
  if (i < a.length || j < b.length)
    return i < a.length ? 1 : -1;
  return tenter_text_compare(a, b);
}

enum { LONGEST = 255 }; /* bytes that tenter_text_distance looks at */

static void fold(tenter_text text, char folded[LONGEST + 1]) {
  for (size_t i = 0; i < text.length; i++) {
    char byte = text.start[i];
    folded[i] = byte >= 'A' && byte <= 'Z' ? (char)(byte - 'A' + 'a') : byte;
  }
}

static size_t least(size_t a, size_t b) {
  return a < b ? a : b;
}

/* rows[k][j] is the distance between the first i - k bytes of a and the first j of b. */
size_t tenter_text_distance(tenter_text a, tenter_text b, size_t limit) {
  size_t gap = a.length > b.length ? a.length - b.length : b.length - a.length;
  if (a.length > LONGEST || b.length > LONGEST || gap > limit)
    return limit + 1;
  char s[LONGEST + 1], t[LONGEST + 1];
  fold(a, s);
  fold(b, t);
  size_t store[3][LONGEST + 1];
  size_t *now = store[0], *before = store[1], *twice = store[2];
  for (size_t j = 0; j <= b.length; j++)
    now[j] = j;
  for (size_t i = 1; i <= a.length; i++) {
    size_t *spare = twice;
    twice = before;
    before = now;
    now = spare;
    size_t best = now[0] = i;
    for (size_t j = 1; j <= b.length; j++) {
      size_t change = before[j - 1] + (s[i - 1] != t[j - 1]);
      now[j] = least(change, least(before[j], now[j - 1]) + 1);
      if (i > 1 && j > 1 && s[i - 1] == t[j - 2] && s[i - 2] == t[j - 1])
        now[j] = least(now[j], twice[j - 2] + 1);
      best = least(best, now[j]);
    }
    /* No later row is below this one: a swap, which skips a row, costs 1 as going through does. */
    if (best > limit)
      return limit + 1;
  }
  return least(now[b.length], limit + 1);
}

/* Bytes of the well-formed character of more than one byte at the head of p .. end; 0 where there
 * is none. The ranges of the second byte are those of RFC 3629, section 4. */
static size_t wide_at(const unsigned char *p, const unsigned char *end) {
  static const struct {
    unsigned char lead_first, lead_last, second_first, second_last, length;
  } forms[] = {
      {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3}, {0xE1, 0xEC, 0x80, 0xBF, 3},
      {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3}, {0xF0, 0xF0, 0x90, 0xBF, 4},
      {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
  };
  for (size_t k = 0; k < sizeof forms / sizeof *forms; k++) {
    if (p[0] < forms[k].lead_first || p[0] > forms[k].lead_last)
      continue;
    if ((size_t)(end - p) < forms[k].length || p[1] < forms[k].second_first ||
        p[1] > forms[k].second_last)
      return 0;
    for (size_t i = 2; i < forms[k].length; i++)
      if ((p[i] & 0xC0) != 0x80)
        return 0;
    return forms[k].length;
  }
  return 0;
}

size_t tenter_text_character(tenter_text text) {
  if (text.length == 0)
    return 0;
  const unsigned char *p = (const unsigned char *)text.start;
  return *p < 0x80 ? 1 : wide_at(p, p + text.length);
}

bool tenter_text_is_utf8(tenter_text text) {
  if (text.length == 0)
    return true;
  const unsigned char *p = (const unsigned char *)text.start, *end = p + text.length;
  while (p < end) {
    uint64_t eight;
    if (end - p >= 8 && (memcpy(&eight, p, 8), (eight & 0x8080808080808080U) == 0)) {
      p += 8;
      continue;
    }
    size_t width = *p < 0x80 ? 1 : wide_at(p, end);
    if (width == 0)
      return false;
    p += width;
  }
  return true;
}

/* The characters that tenter_text_tame replaces: controls, and those that turn the direction of
 * writing or break lines unseen (U+061C, 200E, 200F, 2028 to 202E, 2066 to 2069). */
static bool misleads(const char *at, size_t width) {
  unsigned char first = (unsigned char)at[0], second = width > 1 ? (unsigned char)at[1] : 0;
  unsigned char third = width > 2 ? (unsigned char)at[2] : 0;
  if (width == 1)
    return (first < 0x20 && first != '\n') || first == 0x7F;
  if (width == 2)
    return (first == 0xC2 && second < 0xA0) || (first == 0xD8 && second == 0x9C);
  if (width != 3 || first != 0xE2)
    return false;
  bool marks =
      second == 0x80 && (third == 0x8E || third == 0x8F || (third >= 0xA8 && third <= 0xAE));
  return marks || (second == 0x81 && third >= 0xA6 && third <= 0xA9);
}

void tenter_text_tame(char *string) {
  const char *from = string, *end = string + strlen(string);
  char *to = string;
  while (from < end) {
    size_t width = tenter_text_character((tenter_text){from, (size_t)(end - from)});
    if (width == 0 || misleads(from, width)) {
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
