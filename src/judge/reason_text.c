/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reasons in words for people who know screens: what was found, with its figures, and what to do.
 * The words are in tenter/words/reasons.h; here is chosen which of them, and with which figures.
 *
 * Pieces of a sentence live in a room on the stack, and only where a name is longer than that in
 * the arena: a review words a hundred thousand reasons. */
#include "reason_text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { ROOM = 3072, MOST_VALUES = 9, FIGURE = 48 };

/* A sentence on its way. */
typedef struct wording {
  telling t;
  tenter_arena *arena;
  size_t used;
  bool failed;
  bool pointed, dated; /* whether a decimal mark or a date is in it */
  char room[ROOM];
} wording;

static char *take(wording *w, size_t size) {
  if (size <= ROOM - w->used) {
    w->used += size;
    return w->room + w->used - size;
  }
  char *more = tenter_arena_alloc(w->arena, size, 1);
  w->failed |= more == NULL;
  return more;
}

/* The entry with its places filled by the strings that follow, which end with NULL. */
__attribute__((sentinel)) static const char *say(wording *w, tenter_say id, ...) {
  const char *values[MOST_VALUES];
  size_t count = 0;
  va_list arguments;
  va_start(arguments, id);
  for (const char *value; count < MOST_VALUES && (value = va_arg(arguments, const char *)) != NULL;)
    values[count++] = value;
  va_end(arguments);
  size_t length = tenter_form_fill(NULL, 0, tenter_say_text(id), values, count);
  char *text = take(w, length + 1);
  if (text == NULL)
    return "";
  tenter_form_fill(text, length, tenter_say_text(id), values, count);
  text[length] = '\0';
  return text;
}

#define END ((const char *)NULL)

/* ---- figures -------------------------------------------------------------------------------- */

static const char *marked(wording *w, const char *figure) {
  char *text = take(w, strlen(figure) + 1);
  if (text == NULL)
    return "";
  strcpy(text, figure);
  char *point = strchr(text, '.');
  w->pointed |= point != NULL;
  if (point != NULL && w->t.form.mark == TENTER_MARK_COMMA)
    *point = ',';
  return text;
}

static const char *fixed(wording *w, double value, int decimals) {
  char figure[FIGURE * 8]; /* a double can have 309 digits */
  snprintf(figure, sizeof figure, "%.*f", decimals, value);
  return marked(w, figure);
}

static const char *general(wording *w, double value, int digits) {
  char figure[FIGURE];
  snprintf(figure, sizeof figure, "%.*g", digits, value);
  return marked(w, figure);
}

/* N/cm to a decimal. */
static const char *tension(wording *w, double value) {
  return fixed(w, value, 1);
}

static const char *count(wording *w, size_t value) {
  char figure[FIGURE];
  snprintf(figure, sizeof figure, "%zu", value);
  return marked(w, figure);
}

static const char *when_words(wording *w, tenter_when when) {
  char text[TENTER_WORDS_SIZE];
  tenter_say_when(w->t.form, when, text);
  w->dated = true;
  char *copy = take(w, strlen(text) + 1);
  return copy != NULL ? strcpy(copy, text) : "";
}

static const char *day(wording *w, tenter_time at) {
  return when_words(w, (tenter_when){at, true});
}

static const char *moment(wording *w, tenter_time at) {
  return when_words(w, (tenter_when){at - (at % 60 + 60) % 60, false});
}

static const char *chance(wording *w, double p) {
  if (p < 0.01)
    return say(w, TENTER_SAY_WHY_CHANCE_LEAST, END);
  if (p < 0.15)
    return say(w, TENTER_SAY_WHY_CHANCE_ONE_IN,
               count(w, p > 0.085   ? 10
                        : p > 0.035 ? 20
                                    : 50),
               END);
  if (p < 0.4)
    return say(w, TENTER_SAY_WHY_CHANCE_ONE_IN, fixed(w, 1 / p, 0), END);
  if (p < 0.925)
    return say(w, TENTER_SAY_WHY_CHANCE_IN_TEN, fixed(w, 10 * p, 0), END);
  if (p < 0.99)
    return say(w, p < 0.965 ? TENTER_SAY_WHY_CHANCE_IN_20 : TENTER_SAY_WHY_CHANCE_IN_50, END);
  return say(w, TENTER_SAY_WHY_CHANCE_MOST, END);
}

/* ---- small words ---------------------------------------------------------------------------- */

/* "NW, warp" */
static const char *place(wording *w, uint16_t position, tenter_direction direction) {
  const tenter_position *at = position_of(w->t.j, position);
  const char *label = at ? at->label : say(w, TENTER_SAY_WHY_A_POINT, END);
  if (direction == TENTER_DIRECTION_NONE)
    return label;
  return say(w, direction == TENTER_WARP ? TENTER_SAY_WHY_WARP : TENTER_SAY_WHY_WEFT, label, END);
}

static const char *reading_place(wording *w, uint32_t reading) {
  const tenter_readings *readings = w->t.j->readings;
  return place(w, readings->position[reading], readings->direction[reading]);
}

static double tension_of(const wording *w, uint32_t reading) {
  return w->t.j->readings->tension[reading];
}

static const char *remedy(wording *w) {
  static const tenter_say says[] = {[TENTER_FRAME_UNKNOWN] = TENTER_SAY_WHY_REMEDY_UNKNOWN,
                                    [TENTER_FRAME_GLUED] = TENTER_SAY_WHY_REMEDY_GLUED,
                                    [TENTER_FRAME_RETENSIONABLE] =
                                        TENTER_SAY_WHY_REMEDY_RETENSIONABLE};
  return say(w, says[w->t.m->is.frame], END);
}

static const char *remedy_in_time(wording *w) {
  bool restretch = w->t.cause->action == TENTER_ACTION_RESTRETCH;
  if (w->t.screen->after_this_job || (w->t.m->stencil && restretch))
    return say(w, TENTER_SAY_WHY_AFTER_THIS_JOB, remedy(w), END);
  return remedy(w);
}

/* What follows from a cause of re-stretching: the remedy, or a reading that can be acted on. */
static const char *remedy_or_read(wording *w) {
  return w->t.cause->action == TENTER_ACTION_RESTRETCH ? remedy_in_time(w)
                                                       : say(w, TENTER_SAY_WHY_READ_BEFORE, END);
}

static const char *now_about(wording *w) {
  const tenter_forecast *f = &w->t.screen->forecast;
  return say(w, TENTER_SAY_WHY_NOW_ABOUT, tension(w, f->now),
             tension(w, f->now - 1.645 * f->now_se), tension(w, f->now + 1.645 * f->now_se), END);
}

/* ---- sentences ------------------------------------------------------------------------------ */

static const char *tell_below_floor(wording *w) {
  const tenter_forecast *f = &w->t.screen->forecast;
  bool coarse = !isnan(w->t.m->is.coarse_floor);
  return say(w, coarse ? TENTER_SAY_WHY_BELOW_COARSE : TENTER_SAY_WHY_BELOW_FLOOR, now_about(w),
             tension(w, coarse ? w->t.m->is.coarse_floor : w->t.m->is.floor),
             chance(w, coarse ? f->below_coarse_now : f->below_floor_now), remedy(w), END);
}

static const char *tell_point_below(wording *w) {
  uint32_t reading = w->t.inner->low_reading;
  bool coarse = !isnan(w->t.m->is.coarse_floor);
  double guard = w->t.j->settings->coverage_factor *
                 judge__reading_uncertainty(w->t.j, w->t.screen->latest.session, reading);
  const char *what = w->t.cause->action == TENTER_ACTION_WITHDRAW
                         ? say(w, TENTER_SAY_WHY_POINT_TAKE_OUT, remedy(w), END)
                         : say(w, TENTER_SAY_WHY_POINT_IN_DOUBT, END);
  return say(w, coarse ? TENTER_SAY_WHY_POINT_BELOW_COARSE : TENTER_SAY_WHY_POINT_BELOW,
             reading_place(w, reading), tension(w, tension_of(w, reading)),
             tension(w, coarse ? w->t.m->is.coarse_floor : w->t.m->is.floor), tension(w, guard),
             what, END);
}

static const char *over(wording *w, tenter_say id) {
  uint32_t reading = w->t.inner->over_reading;
  return say(w, id, tension(w, w->t.m->is.maximum), tension(w, w->t.screen->latest.mean),
             reading_place(w, reading), tension(w, tension_of(w, reading)), END);
}

static const char *tell_over_maximum(wording *w) {
  bool sure = w->t.cause->action == TENTER_ACTION_WITHDRAW;
  return over(w, sure ? TENTER_SAY_WHY_OVER_MAXIMUM : TENTER_SAY_WHY_OVER_IN_DOUBT);
}

static const char *tell_maximum_undecided(wording *w) {
  return over(w, TENTER_SAY_WHY_MAXIMUM_UNDECIDED);
}

static const char *tell_falls_below(wording *w) {
  const judge *j = w->t.j;
  tenter_time by = j->shop->as_of + (tenter_time)(j->settings->horizon_days * TENTER_DAY);
  return say(w, TENTER_SAY_WHY_FALLS_BELOW, now_about(w), tension(w, w->t.m->is.floor),
             chance(w, w->t.screen->forecast.below_floor_at_horizon), day(w, by), remedy_or_read(w),
             END);
}

static const char *tell_one_colour(wording *w) {
  uint32_t reading = w->t.inner->low_reading;
  bool whole = w->t.screen->forecast.below_floor_now >= 1 - w->t.j->settings->risk;
  const char *what = whole ? now_about(w)
                           : say(w, TENTER_SAY_WHY_POINT_READ, reading_place(w, reading),
                                 tension(w, tension_of(w, reading)), END);
  return say(w, TENTER_SAY_WHY_ONE_COLOUR, what, tension(w, w->t.m->is.floor),
             tension(w, w->t.m->is.coarse_floor), remedy_or_read(w), END);
}

static const char *unevenness(wording *w) {
  const screen_inner *inner = w->t.inner;
  const tenter_mounting *m = w->t.m;
  const char *first =
      say(w, inner->worst_deviation < 0 ? TENTER_SAY_WHY_UNEVEN_BELOW : TENTER_SAY_WHY_UNEVEN_ABOVE,
          place(w, inner->worst_position, inner->worst_direction),
          tension(w, fabs(inner->worst_deviation)), tension(w, m->evenness_point),
          tension(w, inner->spread), tension(w, m->evenness_spread), END);
  if (isnan(inner->warp_minus_weft))
    return first;
  return say(w, TENTER_SAY_WHY_UNEVEN_WARP_WEFT, first, tension(w, fabs(inner->warp_minus_weft)),
             tension(w, m->warp_weft), END);
}

static const char *tell_uneven(wording *w) {
  const char *what = unevenness(w);
  return w->t.cause->action == TENTER_ACTION_RESTRETCH
             ? say(w, TENTER_SAY_WHY_UNEVEN, what, remedy_in_time(w), END)
             : say(w, TENTER_SAY_WHY_UNEVEN_IN_DOUBT, what, END);
}

static const char *tell_evenness_undecided(wording *w) {
  return say(w, TENTER_SAY_WHY_EVENNESS_UNDECIDED, unevenness(w),
             chance(w, w->t.screen->evenness_probability), END);
}

/* When it was read, what it was, what was wanted. */
static const char *acceptance(wording *w) {
  const tenter_attributes *is = &w->t.m->is;
  const judge *j = w->t.j;
  double about = j->settings->coverage_factor * w->t.inner->acceptance_uncertainty;
  const char *text =
      say(w, TENTER_SAY_WHY_ACCEPTANCE,
          day(w, j->shop->sessions[w->t.screen->acceptance_session].taken),
          tension(w, w->t.inner->acceptance_mean), tension(w, about), tension(w, is->target), END);
  if (!isnan(is->minus))
    text = say(w, TENTER_SAY_WHY_ACCEPTANCE_MINUS, text, tension(w, is->target - is->minus), END);
  if (!isnan(is->plus))
    text = say(w, TENTER_SAY_WHY_ACCEPTANCE_PLUS, text, tension(w, is->target + is->plus), END);
  return text;
}

static const char *tell_acceptance_low(wording *w) {
  return say(w, TENTER_SAY_WHY_STRETCHED_LOW, acceptance(w), remedy_or_read(w), END);
}

static const char *tell_acceptance_high(wording *w) {
  bool still = w->t.cause->action == TENTER_ACTION_REREAD;
  return say(w, still ? TENTER_SAY_WHY_STRETCHED_HIGH : TENTER_SAY_WHY_STRETCHED_HIGH_ONCE,
             acceptance(w), END);
}

static const char *tell_acceptance_undecided(wording *w) {
  size_t sessions = w->t.inner->acceptance_sessions;
  if (w->t.cause->action == TENTER_ACTION_REREAD)
    return say(w, TENTER_SAY_WHY_STRETCHED_UNDECIDED, acceptance(w), END);
  return say(w, sessions > 1 ? TENTER_SAY_WHY_STRETCHED_NOTED_MORE : TENTER_SAY_WHY_STRETCHED_NOTED,
             acceptance(w), count(w, sessions), END);
}

static double days_since(const wording *w, tenter_time then) {
  return ((double)w->t.j->shop->as_of - (double)then) / TENTER_DAY;
}

/* One more thing that is wrong with the latest session. */
static const char *add(wording *w, const char *before, const char *more) {
  return before == NULL ? more : say(w, TENTER_SAY_WHY_NOT_FIT_AND, before, more, END);
}

static const char *tell_not_fit(wording *w) {
  const tenter_session *s = &w->t.j->shop->sessions[w->t.screen->latest.session];
  double days = days_since(w, s->taken);
  const char *all = NULL;
  if (!s->full)
    all = add(w, all, say(w, TENTER_SAY_WHY_NOT_FIT_POINTS, count(w, s->points), END));
  if (days > w->t.j->settings->stale_days)
    all = add(w, all, say(w, TENTER_SAY_WHY_NOT_FIT_OLD, fixed(w, days, 0), END));
  if (w->t.screen->doubted)
    all = add(w, all, say(w, TENTER_SAY_WHY_NOT_FIT_MISREAD, END));
  bool corrected = w->t.j->sessions[w->t.screen->latest.session].state & SESSION_CORRECTED;
  if (w->t.inner->shifted && !corrected)
    all = add(w, all, say(w, TENTER_SAY_WHY_NOT_FIT_SHIFTED, END));
  return say(w, TENTER_SAY_WHY_NOT_FIT, all != NULL ? all : "", END);
}

static const char *tell_settling(wording *w) {
  double hours = w->t.j->settings->settling_hours;
  return say(w, TENTER_SAY_WHY_SETTLING,
             moment(w, w->t.m->zero.at + (tenter_time)(hours * TENTER_HOUR)), END);
}

static const char *tell_never_read(wording *w) {
  if (w->t.m->stretched.at == TENTER_NO_TIME)
    return say(w, TENTER_SAY_WHY_NEVER_READ, END);
  return say(w, TENTER_SAY_WHY_NEVER_READ_SINCE, day(w, w->t.m->stretched.at), END);
}

static const char *tell_stale(wording *w) {
  tenter_time taken = w->t.j->shop->sessions[w->t.screen->latest.session].taken;
  return say(w, TENTER_SAY_WHY_STALE, day(w, taken), fixed(w, days_since(w, taken), 0),
             general(w, w->t.j->settings->stale_days, 6), END);
}

static const char *tell_doubted(wording *w) {
  const session_doubt *d = w->t.doubt;
  switch (d->kind) {
  case DOUBT_DIGIT:
  case DOUBT_JUMP:
    return say(w,
               d->kind == DOUBT_DIGIT ? TENTER_SAY_WHY_MISREAD_DIGIT : TENTER_SAY_WHY_MISREAD_JUMP,
               reading_place(w, d->reading), general(w, tension_of(w, d->reading), 6),
               tension(w, d->expected), END);
  case DOUBT_UNIT:
    return say(w, TENTER_SAY_WHY_MISREAD_UNIT, tension(w, w->t.screen->latest.mean),
               general(w, d->factor, 2), tension(w, d->expected), END);
  default:
    return say(w, TENTER_SAY_WHY_MISREAD_EXCHANGED, END);
  }
}

static const char *tell_stepped_down(wording *w) {
  return say(w, TENTER_SAY_WHY_STEPPED_DOWN, tension(w, -w->t.doubt->change),
             day(w, w->t.doubt->change_at), END);
}

static const char *tell_rose(wording *w) {
  const char *seen = day(w, w->t.doubt->change_at);
  return w->t.doubt->rose
             ? say(w, TENTER_SAY_WHY_ROSE_BY, seen, tension(w, w->t.doubt->change), END)
             : say(w, TENTER_SAY_WHY_ROSE, seen, END);
}

/* ", a, b" of what a shift can't be told from, as a sentence; "" for nothing. */
static const char *tell_others(wording *w, const shift_told *told) {
  const char *all = "";
  for (size_t i = 0; i < told->other_count; i++)
    all = i == 0 ? told->others[i] : say(w, TENTER_SAY_WHY_LISTED, all, told->others[i], END);
  return told->other_count > 0 ? say(w, TENTER_SAY_WHY_SHIFT_OTHERS, all, END) : "";
}

static const char *tell_meter_shifted(wording *w) {
  shift_told told = judge__shift_told(w->t.j, w->t.screen->latest.session);
  const char *what;
  if (told.meter)
    what = say(w, told.off < 0 ? TENTER_SAY_WHY_METER_LOW : TENTER_SAY_WHY_METER_HIGH, told.meter,
               tension(w, fabs(told.off)), day(w, told.since), END);
  else if (told.cause)
    what = say(w, told.off < 0 ? TENTER_SAY_WHY_SHIFT_LOW : TENTER_SAY_WHY_SHIFT_HIGH, told.cause,
               tension(w, fabs(told.off)), day(w, told.since), END);
  else
    what = say(w, TENTER_SAY_WHY_SHIFT_BEGAN, END);
  const char *others = tell_others(w, &told);
  return say(w, told.corrected ? TENTER_SAY_WHY_SHIFT_CORRECTED : TENTER_SAY_WHY_SHIFT_READ_AGAIN,
             what, others, END);
}

static const char *tell_no_floor(wording *w) {
  return say(w, TENTER_SAY_WHY_NO_FLOOR, END);
}

static const char *tell_contradiction(wording *w) {
  const tenter_finding *finding = w->t.cause->finding;
  w->dated |= finding->text != finding->shown;
  return say(w, TENTER_SAY_WHY_CONTRADICTION,
             w->t.form.dates == TENTER_DATES_PLAIN ? finding->text : finding->shown, END);
}

static const char *tell_chart_signal(wording *w) {
  const tenter_chart_signal *signal = w->t.cause->signal;
  const char *text = w->t.form.mark == TENTER_MARK_POINT ? signal->text : signal->shown;
  w->pointed |= signal->text != signal->shown;
  return say(w, TENTER_SAY_WHY_CHART_SIGNAL, w->t.cause->chart->name, text, END);
}

static const char *tell_nothing(wording *w) {
  (void)w;
  return "";
}

typedef const char *tell(wording *w);
static tell *const tells[TENTER_REASON_COUNT] = {
    [TENTER_REASON_BELOW_FLOOR] = tell_below_floor,
    [TENTER_REASON_POINT_BELOW_FLOOR] = tell_point_below,
    [TENTER_REASON_OVER_MAXIMUM] = tell_over_maximum,
    [TENTER_REASON_FALLS_BELOW_FLOOR] = tell_falls_below,
    [TENTER_REASON_ONE_COLOUR_ONLY] = tell_one_colour,
    [TENTER_REASON_UNEVEN] = tell_uneven,
    [TENTER_REASON_ACCEPTANCE_LOW] = tell_acceptance_low,
    [TENTER_REASON_NOT_FIT_TO_ACT] = tell_not_fit,
    [TENTER_REASON_SETTLING] = tell_settling,
    [TENTER_REASON_NEVER_READ] = tell_never_read,
    [TENTER_REASON_STALE] = tell_stale,
    [TENTER_REASON_EVENNESS_UNDECIDED] = tell_evenness_undecided,
    [TENTER_REASON_ACCEPTANCE_UNDECIDED] = tell_acceptance_undecided,
    [TENTER_REASON_ACCEPTANCE_HIGH] = tell_acceptance_high,
    [TENTER_REASON_MAXIMUM_UNDECIDED] = tell_maximum_undecided,
    [TENTER_REASON_CHART_SIGNAL] = tell_chart_signal,
    [TENTER_REASON_DOUBTED_READING] = tell_doubted,
    [TENTER_REASON_STEPPED_DOWN] = tell_stepped_down,
    [TENTER_REASON_METER_SHIFTED] = tell_meter_shifted,
    [TENTER_REASON_NO_FLOOR] = tell_no_floor,
    [TENTER_REASON_TENSION_ROSE] = tell_rose,
    [TENTER_REASON_CONTRADICTION] = tell_contradiction,
    [TENTER_REASON_NOTE] = tell_nothing,
};

const char *judge__reason_text(const telling *t, bool caution, tenter_arena *arena, bool *differs) {
  wording w;
  w.t = *t;
  w.arena = arena;
  w.used = 0;
  w.failed = w.pointed = w.dated = false;
  const char *text = tells[t->cause->code](&w);
  if (caution)
    text = say(&w, TENTER_SAY_WHY_WITH_CAUTION, text, tenter_say_text(TENTER_SAY_WHY_CAUTION), END);
  tenter_form form = judge__form(t->j);
  *differs = (w.pointed && form.mark != TENTER_MARK_POINT) ||
             (w.dated && form.dates != TENTER_DATES_PLAIN);
  return w.failed ? NULL : tenter_arena_copy(arena, tenter_text_of(text));
}
