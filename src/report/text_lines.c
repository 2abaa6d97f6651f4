/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Breaking text into lines. Relies on wcwidth of the C library for how wide a character is. */
#include "text_lines.h"

#include <wchar.h>

#include "tenter/report/escape.h"

text_ruler text_ruler_start(void) {
  text_ruler ruler = {.locale = newlocale(LC_CTYPE_MASK, "C.UTF-8", (locale_t)0)};
  ruler.before = ruler.locale != (locale_t)0 ? uselocale(ruler.locale) : (locale_t)0;
  return ruler;
}

void text_ruler_end(text_ruler *ruler) {
  if (ruler->locale == (locale_t)0)
    return;
  uselocale(ruler->before);
  freelocale(ruler->locale);
  ruler->locale = (locale_t)0;
}

static int character_width(unsigned c) {
  if (c >= 0x20 && c < 0x7F)
    return 1;
  int width = wcwidth((wchar_t)c);
  return width < 0 ? 1 : width;
}

int text_width(tenter_text text) {
  int width = 0;
  for (const char *at = text.start, *end = at + text.length; at < end;)
    width += character_width(tenter_escape_next(&at, end));
  return width;
}

int text_widest_word(tenter_text text) {
  int widest = 0, width = 0;
  for (const char *at = text.start, *end = at + text.length; at < end;) {
    unsigned c = tenter_escape_next(&at, end);
    width = c == ' ' ? 0 : width + character_width(c);
    widest = width > widest ? width : widest;
  }
  return widest;
}

static tenter_text without_blanks_before(tenter_text text) {
  while (text.length > 0 && text.start[0] == ' ') {
    text.start++;
    text.length--;
  }
  return text;
}

static tenter_text span(const char *start, const char *end) {
  while (end > start && end[-1] == ' ')
    end--;
  return (tenter_text){start, (size_t)(end - start)};
}

tenter_text text_next_line(tenter_text *rest, int width) {
  tenter_text text = without_blanks_before(*rest);
  const char *at = text.start, *end = at + text.length;
  const char *cut = NULL; /* the last blank that fits */
  for (int used = 0; at < end;) {
    const char *before = at;
    unsigned c = tenter_escape_next(&at, end);
    used += character_width(c);
    if (c == ' ')
      cut = before;
    if (used > width && c != ' ') {
      const char *stop = cut != NULL ? cut : before > text.start ? before : at;
      *rest = without_blanks_before((tenter_text){stop, (size_t)(end - stop)});
      return span(text.start, stop);
    }
  }
  *rest = (tenter_text){end, 0};
  return span(text.start, end);
}
