/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The careful splitter: any row, one byte after the other. rows.c has a fast path for rows without
 * quotation marks and comes here for all others. */
#include "split.h"

static bool is_blank(tenter_text text) {
  return tenter_text_trim(text).length == 0;
}

static void keep(split *s, const char *start, const char *end) {
  tenter_text cell = {start, (size_t)(end - start)};
  if (s->count < s->room)
    s->cells[s->count] = cell;
  else
    s->more = s->more || !is_blank(cell);
  s->count++;
}

/* A cursor over one row. */
typedef struct reader {
  const char *at, *end, *last; /* last: where a row with quotation marks must have ended */
  char *out;                   /* free part of scratch */
} reader;

static const char *plain_end(const split *s, const char *at, const char *end) {
  while (at < end && *at != s->delimiter && *at != s->newline)
    at++;
  return at;
}

/* From behind the opening mark to the closing one; NULL where there is none. */
static const char *closing_mark(split *s, const char *at, const char *end, bool *doubled) {
  for (; at < end; at++) {
    if (*at == s->newline)
      s->lines++;
    if (*at != '"')
      continue;
    if (at + 1 == end || at[1] != '"')
      return at;
    *doubled = true;
    at++;
  }
  return NULL;
}

static void add(reader *r, const char *from, const char *to) {
  memcpy(r->out, from, (size_t)(to - from));
  r->out += to - from;
}

/* Copies a quoted cell without its marks, and what follows it. */
static void keep_copy(split *s, reader *r, const char *open, const char *close, const char *tail) {
  char *start = r->out;
  for (const char *at = open; at < close; at++) {
    *r->out++ = *at;
    at += *at == '"';
  }
  add(r, close + 1, tail);
  keep(s, start, r->out);
}

/* The cell whose opening mark is at r->at. */
static split_end take_quoted(split *s, reader *r, bool whole) {
  bool doubled = false;
  const char *limit = r->last < r->end ? r->last : r->end;
  const char *open = r->at + 1, *close = closing_mark(s, open, limit, &doubled);
  if (!close)
    return limit == r->end && !whole ? SPLIT_UNFINISHED : SPLIT_UNCLOSED;
  if (close + 1 == r->end && !whole)
    return SPLIT_UNFINISHED; /* the mark may be doubled */
  const char *tail = plain_end(s, close + 1, r->end);
  if (tail >= r->last && r->last < r->end)
    return SPLIT_UNCLOSED;
  if (!doubled && is_blank((tenter_text){close + 1, (size_t)(tail - close - 1)}))
    keep(s, open, close);
  else
    keep_copy(s, r, open, close, tail);
  r->at = tail;
  return SPLIT_ROW;
}

/* The next cell; r->at is then at the mark behind it. */
static split_end take_cell(split *s, reader *r, bool whole) {
  const char *start = r->at;
  while (r->at < r->end && *r->at == ' ')
    r->at++;
  if (r->at < r->end && *r->at == '"' && s->delimiter != '"')
    return take_quoted(s, r, whole);
  r->at = plain_end(s, r->at, r->end);
  keep(s, start, r->at);
  return SPLIT_ROW;
}

static split_end first_line_alone(split *s, const char *start, const char *end, bool whole) {
  const char *stop = memchr(start, s->newline, (size_t)(end - start));
  if (!stop && !whole)
    return SPLIT_UNFINISHED;
  s->count = 0;
  s->lines = stop != NULL;
  s->next = stop ? stop + 1 : end;
  return SPLIT_UNCLOSED;
}

split_end tenter__split_row(split *s, const char *at, const char *end, bool whole) {
  reader r = {.at = at, .end = end, .last = end, .out = s->scratch};
  if (end - at > MOST_ROW)
    r.last = at + MOST_ROW;
  s->count = 0;
  s->lines = 0;
  s->more = false;
  for (;;) {
    split_end status = take_cell(s, &r, whole);
    if (status == SPLIT_UNCLOSED)
      return first_line_alone(s, at, end, whole);
    if (status != SPLIT_ROW)
      return status;
    if (r.at == end) {
      s->next = end;
      return whole ? SPLIT_ROW : SPLIT_UNFINISHED;
    }
    if (*r.at++ == s->newline)
      break;
  }
  s->lines++;
  s->next = r.at;
  tenter_text *last = s->count <= s->room ? &s->cells[s->count - 1] : NULL;
  if (last && last->length > 0 && last->start[last->length - 1] == '\r')
    last->length--;
  return SPLIT_ROW;
}
