/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The doors of tenter/report/escape.h. Long runs of harmless bytes are found first and copied
 * whole: nearly all text is that. */
#include "tenter/report/escape.h"

#include <stdbool.h>
#include <string.h>

enum { REPLACEMENT = 0xFFFD, APOSTROPHE = 0x2019 };

static bool continues(unsigned char byte) {
  return (byte & 0xC0) == 0x80;
}

/* Bytes of the well-formed character at s (RFC 3629), 0 where there is none. */
static int character_length(const unsigned char *s, size_t left) {
  if (s[0] < 0x80)
    return 1;
  if (s[0] >= 0xC2 && s[0] <= 0xDF)
    return left >= 2 && continues(s[1]) ? 2 : 0;
  if (s[0] >= 0xE0 && s[0] <= 0xEF) {
    unsigned char low = s[0] == 0xE0 ? 0xA0 : 0x80, high = s[0] == 0xED ? 0x9F : 0xBF;
    return left >= 3 && s[1] >= low && s[1] <= high && continues(s[2]) ? 3 : 0;
  }
  if (s[0] >= 0xF0 && s[0] <= 0xF4) {
    unsigned char low = s[0] == 0xF0 ? 0x90 : 0x80, high = s[0] == 0xF4 ? 0x8F : 0xBF;
    bool whole = left >= 4 && s[1] >= low && s[1] <= high && continues(s[2]) && continues(s[3]);
    return whole ? 4 : 0;
  }
  return 0;
}

unsigned tenter_escape_next(const char **at, const char *end) {
  const unsigned char *s = (const unsigned char *)*at;
  int length = character_length(s, (size_t)(end - *at));
  *at += length > 0 ? length : 1;
  switch (length) {
  case 1:
    return s[0];
  case 2:
    return (s[0] & 0x1Fu) << 6 | (s[1] & 0x3Fu);
  case 3:
    return (s[0] & 0x0Fu) << 12 | (s[1] & 0x3Fu) << 6 | (s[2] & 0x3Fu);
  case 4:
    return (s[0] & 0x07u) << 18 | (s[1] & 0x3Fu) << 12 | (s[2] & 0x3Fu) << 6 | (s[3] & 0x3Fu);
  default:
    return REPLACEMENT;
  }
}

void tenter_escape_character(tenter_buffer *buffer, unsigned c) {
  char bytes[4];
  size_t length = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
  if (length == 1) {
    bytes[0] = (char)c;
  } else {
    static const unsigned char leads[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = length - 1; i > 0; i--, c >>= 6)
      bytes[i] = (char)(0x80 | (c & 0x3F));
    bytes[0] = (char)(leads[length] | c);
  }
  tenter_buffer_add(buffer, bytes, length);
}

static bool is_control(unsigned c) {
  return c < 0x20 || (c >= 0x7F && c < 0xA0);
}

/* Characters that a reader does not see and that change what he sees: marks, embeddings, overrides
 * and isolates of the direction of writing (Unicode TR 9), line and paragraph separators. */
static bool turns(unsigned c) {
  return c == 0x061C || c == 0x200E || c == 0x200F || (c >= 0x2028 && c <= 0x202E) ||
         (c >= 0x2066 && c <= 0x2069);
}

static unsigned visible(unsigned c) {
  if (c == '\n' || c == '\r' || c == '\t')
    return ' ';
  return is_control(c) || turns(c) ? REPLACEMENT : c;
}

/* Adds the run of printable ASCII bytes at at that does not hold any of special; returns its end.
 */
static const char *add_plain(tenter_buffer *buffer, const char *at, const char *end,
                             const char *special) {
  const char *start = at;
  while (at < end && *at >= 0x20 && *at < 0x7F && strchr(special, *at) == NULL)
    at++;
  tenter_buffer_add(buffer, start, (size_t)(at - start));
  return at;
}

static const char *html_reference(unsigned c) {
  switch (c) {
  case '&':
    return "&amp;";
  case '<':
    return "&lt;";
  case '>':
    return "&gt;";
  case '"':
    return "&quot;";
  case '\'':
    return "&#39;";
  default:
    return NULL;
  }
}

void tenter_escape_html(tenter_buffer *buffer, const char *string) {
  const char *at = string, *end = string + strlen(string);
  while ((at = add_plain(buffer, at, end, "&<>\"'")) < end) {
    unsigned c = visible(tenter_escape_next(&at, end));
    const char *reference = html_reference(c);
    if (reference != NULL)
      tenter_buffer_text(buffer, reference);
    else
      tenter_escape_character(buffer, c);
  }
}

void tenter_escape_terminal(tenter_buffer *buffer, const char *string) {
  const char *at = string, *end = string + strlen(string);
  while ((at = add_plain(buffer, at, end, "")) < end)
    tenter_escape_character(buffer, visible(tenter_escape_next(&at, end)));
}

/* What ends a run that may be copied into a JSON string: quote, backslash, control, not ASCII. */
static bool json_special(unsigned char byte) {
  return byte < 0x20 || byte >= 0x7F || byte == '"' || byte == '\\';
}

static void json_character(tenter_buffer *buffer, unsigned c) {
  static const char shorts[] = "\bb\tt\nn\ff\rr\"\"\\\\";
  const char *found = c != 0 && c < 0x80 ? strchr(shorts, (int)c) : NULL;
  if (found != NULL && (c < 0x20 || c == '"' || c == '\\')) {
    tenter_buffer_byte(buffer, '\\');
    tenter_buffer_byte(buffer, found[1]);
  } else if (c < 0x20) {
    tenter_buffer_print(buffer, "\\u%04x", c);
  } else {
    tenter_escape_character(buffer, c);
  }
}

void tenter_escape_json(tenter_buffer *buffer, const char *string) {
  const char *at = string, *end = string + strlen(string);
  tenter_buffer_byte(buffer, '"');
  while (at < end) {
    const char *start = at;
    while (at < end && !json_special((unsigned char)*at))
      at++;
    tenter_buffer_add(buffer, start, (size_t)(at - start));
    if (at < end)
      json_character(buffer, tenter_escape_next(&at, end));
  }
  tenter_buffer_byte(buffer, '"');
}

static bool needs_quotes(const char *string, size_t length) {
  if (length == 0)
    return false;
  return strpbrk(string, ",\"\r\n") != NULL || strchr("=+-@\t ", string[0]) != NULL ||
         strchr(" \t", string[length - 1]) != NULL;
}

void tenter_escape_csv(tenter_buffer *buffer, const char *string) {
  size_t length = strlen(string);
  if (!needs_quotes(string, length)) {
    tenter_buffer_add(buffer, string, length);
    return;
  }
  tenter_buffer_byte(buffer, '"');
  for (const char *quote; (quote = strchr(string, '"')) != NULL; string = quote + 1) {
    tenter_buffer_add(buffer, string, (size_t)(quote + 1 - string));
    tenter_buffer_byte(buffer, '"');
  }
  tenter_buffer_text(buffer, string);
  tenter_buffer_byte(buffer, '"');
}

void tenter_escape_gnuplot(tenter_buffer *buffer, const char *string) {
  const char *at = string, *end = string + strlen(string);
  tenter_buffer_byte(buffer, '\'');
  while (at < end) {
    unsigned c = tenter_escape_next(&at, end);
    if (is_control(c) || turns(c))
      continue;
    tenter_escape_character(buffer, c == '\'' ? APOSTROPHE : c);
  }
  tenter_buffer_byte(buffer, '\'');
}

void tenter_escape_calendar(tenter_buffer *buffer, const char *string) {
  const char *at = string, *end = string + strlen(string);
  while ((at = add_plain(buffer, at, end, "\\;,")) < end) {
    unsigned c = tenter_escape_next(&at, end);
    if (c == '\n')
      tenter_buffer_text(buffer, "\\n");
    else if (c == '\\' || c == ';' || c == ',')
      tenter_buffer_print(buffer, "\\%c", (char)c);
    else
      tenter_escape_character(buffer, visible(c));
  }
}
