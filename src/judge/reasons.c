/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reasons: their names, and the rows behind each. Their sentences are in reason_text.c. */
#include <string.h>

#include "reason_text.h"
#include "sources.h"

#define CODE_CASE(constant, code)                                                                  \
  case TENTER_ACTION_##constant:                                                                   \
    return code;
#define WORDS_CASE(constant, code)                                                                 \
  case TENTER_ACTION_##constant:                                                                   \
    return tenter_say_text(TENTER_SAY_ACTION_##constant);
#define REASON_CASE(constant, code)                                                                \
  case TENTER_REASON_##constant:                                                                   \
    return code;

const char *tenter_action_code(tenter_action action) {
  switch (action) {
    TENTER_ACTIONS(CODE_CASE)
  default:
    return "";
  }
}

const char *tenter_action_words(tenter_action action) {
  switch (action) {
    TENTER_ACTIONS(WORDS_CASE)
  default:
    return "";
  }
}

const char *tenter_reason_word(tenter_reason_code code) {
  switch (code) {
    TENTER_REASONS(REASON_CASE)
  default:
    return "";
  }
}

/* ---- sources -------------------------------------------------------------------------------- */

/* All that the forecast rests on, the latest session first. */
static void add_forecast(const telling *t, row_list *s) {
  for (size_t i = t->m->first_session + t->m->session_count; i-- > t->m->first_session;)
    if (t->j->sessions[i].state & SESSION_FITTED || t->screen->latest.session == i)
      judge__add_session(t->j, s, i);
}

static void add_checks(const telling *t, row_list *s) {
  uint16_t meter = t->j->shop->sessions[t->screen->latest.session].meter;
  if (meter == TENTER_NO_NAME16)
    return;
  tenter_time since = t->j->review->meters[meter].since;
  for (size_t i = 0; i < t->j->tables->check_count; i++) {
    const tenter_meter_check *check = &t->j->tables->checks[i];
    if (check->meter == meter && check->at.at >= since && check->at.at <= t->j->shop->as_of)
      judge__add_row(s, check->row);
  }
}

static void find_sources(const telling *t, row_list *s) {
  switch (t->cause->code) {
  case TENTER_REASON_BELOW_FLOOR:
  case TENTER_REASON_FALLS_BELOW_FLOOR:
    add_forecast(t, s);
    break;
  case TENTER_REASON_ONE_COLOUR_ONLY:
    if (t->inner->point_between)
      judge__add_reading(t->j, s, t->inner->low_reading);
    add_forecast(t, s);
    break;
  case TENTER_REASON_POINT_BELOW_FLOOR:
    judge__add_reading(t->j, s, t->inner->low_reading);
    break;
  case TENTER_REASON_ACCEPTANCE_LOW:
  case TENTER_REASON_ACCEPTANCE_HIGH:
  case TENTER_REASON_ACCEPTANCE_UNDECIDED:
    judge__add_session(t->j, s, t->screen->acceptance_session);
    break;
  case TENTER_REASON_DOUBTED_READING:
    if (t->doubt->kind == DOUBT_DIGIT || t->doubt->kind == DOUBT_JUMP)
      judge__add_reading(t->j, s, t->doubt->reading);
    else
      judge__add_session(t->j, s, t->screen->latest.session);
    break;
  case TENTER_REASON_METER_SHIFTED:
    add_checks(t, s);
    if (s->count == 0)
      judge__add_session(t->j, s, t->screen->latest.session);
    break;
  case TENTER_REASON_SETTLING:
  case TENTER_REASON_NEVER_READ:
  case TENTER_REASON_NO_FLOOR:
    if (t->m->source.line > 0)
      judge__add_row(s, t->m->source);
    break;
  case TENTER_REASON_CONTRADICTION:
    for (int i = 0; i < 2; i++)
      if (t->cause->finding->rows[i].line > 0)
        judge__add_row(s, t->cause->finding->rows[i]);
    break;
  default:
    if (t->screen->read)
      judge__add_session(t->j, s, t->screen->latest.session);
  }
}

static bool give_sources(const telling *t, tenter_arena *arena, tenter_reason *out) {
  row_list s = {0};
  find_sources(t, &s);
  tenter_row *rows = tenter_arena_alloc(arena, s.count, sizeof *rows);
  if (!rows)
    return false;
  memcpy(rows, s.rows, s.count * sizeof *rows);
  out->sources = rows;
  out->source_count = s.count;
  out->more_sources = s.more;
  return true;
}

/* ---- all of it ------------------------------------------------------------------------------ */

bool judge__raises_tension(const cause *c) {
  switch (c->code) {
  case TENTER_REASON_BELOW_FLOOR:
  case TENTER_REASON_POINT_BELOW_FLOOR:
    return c->action == TENTER_ACTION_WITHDRAW;
  case TENTER_REASON_FALLS_BELOW_FLOOR:
  case TENTER_REASON_ONE_COLOUR_ONLY:
  case TENTER_REASON_UNEVEN:
  case TENTER_REASON_ACCEPTANCE_LOW:
    return c->action == TENTER_ACTION_RESTRETCH;
  default:
    return false;
  }
}

bool judge__reason(const judge *j, size_t screen, const cause *c, bool caution, tenter_arena *arena,
                   tenter_reason *out) {
  const tenter_review_screen *s = &j->review->screens[screen];
  telling t = {.j = j,
               .screen = s,
               .inner = &j->screens[screen],
               .m = &j->shop->mountings[s->mounting],
               .doubt = &j->doubts[s->screen],
               .cause = c,
               .form = TENTER_FORM_PLAIN};
  bool differs, again;
  *out = (tenter_reason){.code = c->code, .action = c->action};
  out->text = out->words = judge__reason_text(&t, caution, arena, &differs);
  t.form = judge__form(j);
  if (differs)
    out->words = judge__reason_text(&t, caution, arena, &again);
  return out->text && out->words && give_sources(&t, arena, out);
}
