/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is wrong with a row, kept with its text. */
#include <stdarg.h>
#include <stdio.h>

#include "rows.h"
#include "tenter/base/alloc.h"

enum { MOST_TEXT = 4096, REASON_SIZE = 400 };

const char *tenter__shown(tenter_text text, char shown[SHOWN_SIZE]) {
  enum { MOST = 60 };
  size_t length = text.length < MOST ? text.length : MOST;
  while (length < text.length && length > 0 && ((unsigned char)text.start[length] & 0xC0) == 0x80)
    length--;
  memcpy(shown, text.start, length);
  memcpy(shown + length, length < text.length ? "..." : "", length < text.length ? 4 : 1);
  for (size_t i = 0; i < length; i++)
    if (shown[i] == '\0' || shown[i] == '\n' || shown[i] == '\r')
      shown[i] = ' ';
  return shown;
}

/* The row as it stood, without its line end, NULs and what is no UTF-8; cut where it is long. */
static const char *row_text(reader *r) {
  tenter_text text = {r->row, (size_t)(r->row_end - r->row)};
  while (text.length > 0 &&
         (text.start[text.length - 1] == '\n' || text.start[text.length - 1] == '\r'))
    text.length--;
  bool cut = text.length > MOST_TEXT;
  if (cut)
    text.length = MOST_TEXT;
  while (cut && text.length > 0 && ((unsigned char)text.start[text.length] & 0xC0) == 0x80)
    text.length--;
  char *copy = tenter_arena_alloc(r->out->arena, text.length + 4, 1);
  if (!copy)
    return NULL;
  size_t length = 0;
  for (size_t i = 0; i < text.length;) {
    size_t width = tenter_text_character((tenter_text){text.start + i, text.length - i});
    bool bad = width == 0 || text.start[i] == '\0';
    if (bad)
      copy[length++] = '?';
    for (size_t k = 0; k < width && !bad; k++)
      copy[length++] = text.start[i + k];
    i += width ? width : 1;
  }
  memcpy(copy + length, cut ? "..." : "", cut ? 4 : 1);
  return copy;
}

static bool make_room(chunk *out) {
  if (!out->arena && !(out->arena = tenter_arena_new()))
    return false;
  if (out->problem_count < out->problem_room)
    return true;
  size_t room = out->problem_room ? out->problem_room * 2 : 16;
  row_problem *problems = tenter_resize(out->problems, room, sizeof *problems);
  if (!problems)
    return false;
  out->problems = problems;
  out->problem_room = room;
  return true;
}

static void add_problem(reader *r, bool rejected, tenter_say kind, const char *reason) {
  if (!make_room(r->out)) {
    r->failed = true;
    return;
  }
  row_problem problem = {.line = r->line, .rejected = rejected, .reason = tenter_say_text(kind)};
  if (!r->lean) {
    problem.reason = tenter_arena_copy(r->out->arena, tenter_text_of(reason));
    problem.text = row_text(r);
    r->failed = r->failed || !problem.reason || !problem.text;
  }
  r->out->problems[r->out->problem_count++] = problem;
}

void tenter__reject(reader *r, tenter_say kind, tenter_say id, ...) {
  char reason[REASON_SIZE];
  va_list values;
  va_start(values, id);
  add_problem(r, true, kind, tenter_say_put_list(reason, sizeof reason, id, values));
  va_end(values);
  r->out->rejected++;
}

void tenter__remark(reader *r, tenter_say kind, tenter_say id, ...) {
  char reason[REASON_SIZE];
  va_list values;
  va_start(values, id);
  add_problem(r, false, kind, tenter_say_put_list(reason, sizeof reason, id, values));
  va_end(values);
}

const char *tenter__figure(double number, char figure[FIGURE_SIZE]) {
  snprintf(figure, FIGURE_SIZE, "%g", number);
  return figure;
}
