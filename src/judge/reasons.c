/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reasons in words for people who know screens: what was found, with its figures, and what to do;
 * and the rows behind it. */
#include <stdio.h>
#include <string.h>

#include "actions.h"
#include "sources.h"
#include "tenter/base/buffer.h"

const char *const tenter_review_caution =
    "Caution: raise tension in steps, never above the mesh maker's maximum (find it first where it "
    "is not given), watch the corners, protect your eyes, and measure again after it has rested.";

#define CODE_CASE(constant, code, words)                                                           \
  case TENTER_ACTION_##constant:                                                                   \
    return code;
#define WORDS_CASE(constant, code, words)                                                          \
  case TENTER_ACTION_##constant:                                                                   \
    return words;
#define REASON_CASE(constant, code, says)                                                          \
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

/* ---- small words ---------------------------------------------------------------------------- */

/* What a sentence is made from. */
typedef struct telling {
  const judge *j;
  const tenter_review_screen *screen;
  const screen_inner *inner;
  const tenter_mounting *m;
  const session_doubt *doubt;
  const cause *cause;
  tenter_buffer *out;
} telling;

/* Round numbers: nobody can use "12 chances in 13". */
static void chance(tenter_buffer *out, double p) {
  if (p < 0.01)
    tenter_buffer_text(out, "less than 1 chance in 100");
  else if (p < 0.15)
    tenter_buffer_print(out, "about 1 chance in %d", p > 0.085 ? 10 : p > 0.035 ? 20 : 50);
  else if (p < 0.4)
    tenter_buffer_print(out, "about 1 chance in %.0f", 1 / p);
  else if (p < 0.925)
    tenter_buffer_print(out, "about %.0f chances in 10", 10 * p);
  else if (p < 0.99)
    tenter_buffer_text(out, p < 0.965 ? "about 19 chances in 20" : "about 49 chances in 50");
  else
    tenter_buffer_text(out, "more than 99 chances in 100");
}

static void day(tenter_buffer *out, tenter_time at) {
  char text[TENTER_TIME_SIZE];
  tenter_buffer_text(out, tenter_when_print((tenter_when){at, true}, text));
}

static void moment(tenter_buffer *out, tenter_time at) {
  char text[TENTER_TIME_SIZE];
  tenter_buffer_text(out, tenter_time_print(at - (at % 60 + 60) % 60, text));
}

/* "NW, warp" */
static void place(const telling *t, uint16_t position, tenter_direction direction) {
  static const char *const words[TENTER_DIRECTIONS] = {"", "warp", "weft"};
  const tenter_position *at = position_of(t->j, position);
  tenter_buffer_text(t->out, at ? at->label : "a point");
  if (direction != TENTER_DIRECTION_NONE)
    tenter_buffer_print(t->out, ", %s", words[direction]);
}

static void reading_place(const telling *t, uint32_t reading) {
  place(t, t->j->readings->position[reading], t->j->readings->direction[reading]);
}

static double tension_of(const telling *t, uint32_t reading) {
  return t->j->readings->tension[reading];
}

/* What is done to a screen that is too low: the words follow the frame. */
static void remedy(const telling *t) {
  static const char *const words[] = {[TENTER_FRAME_UNKNOWN] = "re-stretch it",
                                      [TENTER_FRAME_GLUED] =
                                          "replace the mesh (glued mesh can't be re-tensioned)",
                                      [TENTER_FRAME_RETENSIONABLE] = "re-tension it"};
  tenter_buffer_text(t->out, words[t->m->is.frame]);
}

static void remedy_in_time(const telling *t) {
  if (t->screen->after_this_job || (t->m->stencil && t->cause->action == TENTER_ACTION_RESTRETCH))
    tenter_buffer_text(t->out, "after this job, ");
  remedy(t);
}

/* What follows from a cause of re-stretching: the remedy, or a reading that can be acted on. */
static void remedy_or_read(const telling *t) {
  if (t->cause->action == TENTER_ACTION_RESTRETCH)
    remedy_in_time(t);
  else
    tenter_buffer_text(t->out, "read it again before anything is done");
}

/* "Now about 18.6 N/cm (9 times in 10 between 18.1 and 19.1)" */
static void now_about(const telling *t) {
  const tenter_forecast *f = &t->screen->forecast;
  tenter_buffer_print(t->out, "Now about %.1f N/cm (9 times in 10 between %.1f and %.1f)", f->now,
                      f->now - 1.645 * f->now_se, f->now + 1.645 * f->now_se);
}

/* ---- sentences ------------------------------------------------------------------------------ */

static void tell_below_floor(const telling *t) {
  bool coarse = !isnan(t->m->is.coarse_floor);
  now_about(t);
  tenter_buffer_print(t->out, ", under the %sfloor of %.1f: ", coarse ? "coarse " : "",
                      coarse ? t->m->is.coarse_floor : t->m->is.floor);
  chance(t->out,
         coarse ? t->screen->forecast.below_coarse_now : t->screen->forecast.below_floor_now);
  tenter_buffer_text(t->out, ". Take it out of use and ");
  remedy(t);
  tenter_buffer_text(t->out, ".");
}

static void tell_point_below(const telling *t) {
  uint32_t reading = t->inner->low_reading;
  bool coarse = !isnan(t->m->is.coarse_floor);
  double guard = t->j->settings->coverage_factor *
                 judge__reading_uncertainty(t->j, t->screen->latest.session, reading);
  tenter_buffer_text(t->out, "The point ");
  reading_place(t, reading);
  tenter_buffer_print(t->out,
                      " read %.1f N/cm, under the %sfloor of %.1f by more than its uncertainty "
                      "(%.1f): ",
                      tension_of(t, reading), coarse ? "coarse " : "",
                      coarse ? t->m->is.coarse_floor : t->m->is.floor, guard);
  if (t->cause->action == TENTER_ACTION_WITHDRAW) {
    tenter_buffer_text(t->out,
                       "take the screen out of use, look at bond, strip and bar there, and ");
    remedy(t);
  } else {
    tenter_buffer_text(t->out, "read it again, the meter or the reading is in doubt");
  }
  tenter_buffer_text(t->out, ".");
}

static void tell_over_maximum(const telling *t) {
  uint32_t reading = t->inner->over_reading;
  tenter_buffer_print(t->out, "Over the mesh maker's maximum of %.1f N/cm: the mean is %.1f, ",
                      t->m->is.maximum, t->screen->latest.mean);
  reading_place(t, reading);
  tenter_buffer_print(t->out, " read %.1f. ", tension_of(t, reading));
  if (t->cause->action == TENTER_ACTION_WITHDRAW)
    tenter_buffer_text(t->out, "The mesh can tear: keep clear of it, protect your eyes, and let "
                               "the tension down or take the mesh off.");
  else
    tenter_buffer_text(t->out, "That reading looks misread: read it again with eyes protected.");
}

static void tell_falls_below(const telling *t) {
  const tenter_forecast *f = &t->screen->forecast;
  tenter_time by = t->j->shop->as_of + (tenter_time)(t->j->settings->horizon_days * TENTER_DAY);
  now_about(t);
  tenter_buffer_print(t->out, ", floor %.1f: ", t->m->is.floor);
  chance(t->out, f->below_floor_at_horizon);
  tenter_buffer_text(t->out, " that it is under its floor by ");
  day(t->out, by);
  tenter_buffer_text(t->out, "; ");
  remedy_or_read(t);
  tenter_buffer_text(t->out, ".");
}

static void tell_one_colour(const telling *t) {
  if (t->screen->forecast.below_floor_now >= 1 - t->j->settings->risk) {
    now_about(t);
  } else {
    tenter_buffer_text(t->out, "The point ");
    reading_place(t, t->inner->low_reading);
    tenter_buffer_print(t->out, " read %.1f N/cm,", tension_of(t, t->inner->low_reading));
  }
  tenter_buffer_print(t->out,
                      " under the floor of %.1f but not under the coarse floor of %.1f: usable for "
                      "one colour; ",
                      t->m->is.floor, t->m->is.coarse_floor);
  remedy_or_read(t);
  tenter_buffer_text(t->out, ".");
}

static void tell_unevenness(const telling *t) {
  const screen_inner *inner = t->inner;
  tenter_buffer_text(t->out, "the point ");
  place(t, inner->worst_position, inner->worst_direction);
  tenter_buffer_print(t->out, " stands %.1f N/cm %s the centre (limit %.1f)",
                      fabs(inner->worst_deviation), inner->worst_deviation < 0 ? "below" : "above",
                      t->m->evenness_point);
  tenter_buffer_print(t->out, ", the spread is %.1f (limit %.1f)", inner->spread,
                      t->m->evenness_spread);
  if (!isnan(inner->warp_minus_weft))
    tenter_buffer_print(t->out, ", warp and weft differ by %.1f (limit %.1f)",
                        fabs(inner->warp_minus_weft), t->m->warp_weft);
}

static void tell_uneven(const telling *t) {
  tenter_buffer_text(t->out, "Uneven: ");
  tell_unevenness(t);
  if (t->cause->action == TENTER_ACTION_RESTRETCH) {
    tenter_buffer_text(t->out, ". Look at bond, strip and bar where it is off, and ");
    remedy_in_time(t);
  } else {
    tenter_buffer_text(t->out, ". Read it again before anything is done");
  }
  tenter_buffer_text(t->out, ".");
}

static void tell_acceptance(const telling *t) {
  const tenter_attributes *is = &t->m->is;
  day(t->out, t->j->shop->sessions[t->screen->acceptance_session].taken);
  tenter_buffer_print(
      t->out, ": %.1f N/cm, give or take %.1f; wanted %.1f", t->inner->acceptance_mean,
      t->j->settings->coverage_factor * t->inner->acceptance_uncertainty, is->target);
  if (!isnan(is->minus))
    tenter_buffer_print(t->out, ", not under %.1f", is->target - is->minus);
  if (!isnan(is->plus))
    tenter_buffer_print(t->out, ", not over %.1f", is->target + is->plus);
}

static void tell_acceptance_low(const telling *t) {
  tenter_buffer_text(t->out, "Stretched too low, read on ");
  tell_acceptance(t);
  tenter_buffer_text(t->out, "; ");
  remedy_or_read(t);
  tenter_buffer_text(t->out, ".");
}

static void tell_acceptance_high(const telling *t) {
  tenter_buffer_text(t->out, "Stretched above its tolerance, read on ");
  tell_acceptance(t);
  tenter_buffer_text(t->out, t->cause->action == TENTER_ACTION_REREAD
                                 ? ". Read it again; let it down if it stays above."
                                 : ". It has come down since.");
}

static void tell_acceptance_undecided(const telling *t) {
  tenter_buffer_text(t->out,
                     "Too near a limit to say whether it was stretched to tolerance, read on ");
  tell_acceptance(t);
  if (t->cause->action == TENTER_ACTION_REREAD)
    tenter_buffer_text(t->out, ". One more full reading helps.");
  else
    tenter_buffer_print(t->out, " (%zu session%s judged together). A note; nothing to do.",
                        t->inner->acceptance_sessions,
                        t->inner->acceptance_sessions > 1 ? "s" : "");
}

static void tell_not_fit(const telling *t) {
  const tenter_session *s = &t->j->shop->sessions[t->screen->latest.session];
  double days = ((double)t->j->shop->as_of - s->taken) / TENTER_DAY;
  const char *joint = " ";
  tenter_buffer_text(t->out, "The latest reading is not enough to act on:");
  if (!s->full) {
    tenter_buffer_print(t->out, "%sit covers only %u points", joint, s->points);
    joint = ", ";
  }
  if (days > t->j->settings->stale_days) {
    tenter_buffer_print(t->out, "%sit is %.0f days old", joint, days);
    joint = ", ";
  }
  if (t->screen->doubted) {
    tenter_buffer_print(t->out, "%sit looks misread", joint);
    joint = ", ";
  }
  if (t->inner->shift != 0)
    tenter_buffer_print(t->out, "%sits meter has shifted", joint);
  tenter_buffer_text(t->out, ". Read all points of the screen again.");
}

static void tell_settling(const telling *t) {
  tenter_buffer_text(t->out, "Fresh mesh still settles: let it rest, read it after ");
  moment(t->out, t->m->zero.at + (tenter_time)(t->j->settings->settling_hours * TENTER_HOUR));
  tenter_buffer_text(t->out, ".");
}

static void tell_never_read(const telling *t) {
  tenter_buffer_text(t->out, "Never read since it was stretched");
  if (t->m->stretched.at != TENTER_NO_TIME) {
    tenter_buffer_text(t->out, " on ");
    day(t->out, t->m->stretched.at);
  }
  tenter_buffer_text(t->out, ": read all its points.");
}

static void tell_stale(const telling *t) {
  tenter_time taken = t->j->shop->sessions[t->screen->latest.session].taken;
  tenter_buffer_text(t->out, "Last read on ");
  day(t->out, taken);
  tenter_buffer_print(t->out, ", %.0f days ago (at most %g): read it again.",
                      ((double)t->j->shop->as_of - (double)taken) / TENTER_DAY,
                      t->j->settings->stale_days);
}

static void tell_evenness_undecided(const telling *t) {
  tenter_buffer_text(t->out, "Too near a limit to say whether it is even: ");
  tell_unevenness(t);
  tenter_buffer_text(t->out, "; ");
  chance(t->out, t->screen->evenness_probability);
  tenter_buffer_text(t->out, " that it is even. Read all its points again.");
}

static void tell_maximum_undecided(const telling *t) {
  tenter_buffer_print(t->out, "Too near the mesh maker's maximum of %.1f N/cm: the mean is %.1f, ",
                      t->m->is.maximum, t->screen->latest.mean);
  reading_place(t, t->inner->over_reading);
  tenter_buffer_print(t->out, " read %.1f. Read it again, with eyes protected.",
                      tension_of(t, t->inner->over_reading));
}

static void tell_doubted(const telling *t) {
  const session_doubt *d = t->doubt;
  switch (d->kind) {
  case DOUBT_DIGIT:
  case DOUBT_JUMP:
    tenter_buffer_text(t->out, "Looks misread: ");
    reading_place(t, d->reading);
    tenter_buffer_print(t->out, " says %g N/cm where about %.1f was expected",
                        tension_of(t, d->reading), d->expected);
    tenter_buffer_text(
        t->out, d->kind == DOUBT_DIGIT ? " (a misplaced point or two digits exchanged?)" : "");
    break;
  case DOUBT_UNIT:
    tenter_buffer_print(t->out,
                        "The whole reading of %.1f N/cm is about %.2g times the %.1f expected: is "
                        "the meter set to another unit?",
                        t->screen->latest.mean, d->factor, d->expected);
    break;
  default:
    tenter_buffer_text(t->out, "Warp and weft look exchanged against the reading before");
  }
  tenter_buffer_text(t->out, d->kind == DOUBT_UNIT ? " Read it again." : ". Read it again.");
}

static void tell_stepped_down(const telling *t) {
  tenter_buffer_print(
      t->out,
      "Fell by %.1f N/cm more than relaxation explains, in most points, between the reading of ",
      -t->doubt->change);
  day(t->out, t->doubt->change_at);
  tenter_buffer_text(t->out,
                     " and the one before: a first run on press, a slip, or the meter. Read "
                     "it again.");
}

static void tell_rose(const telling *t) {
  tenter_buffer_text(t->out, "Tension rose without a stretch on record");
  if (t->doubt->rose)
    tenter_buffer_print(t->out, " (by %.1f N/cm)", t->doubt->change);
  tenter_buffer_text(t->out, ", seen on ");
  day(t->out, t->doubt->change_at);
  tenter_buffer_text(t->out,
                     ": is a re-stretch missing in the events, was it another screen, or the "
                     "meter?");
}

static void tell_meter_shifted(const telling *t) {
  const tenter_session *s = &t->j->shop->sessions[t->screen->latest.session];
  const tenter_review_meter *meter = &t->j->review->meters[s->meter];
  tenter_buffer_print(t->out, "Last read with meter %s, which reads %.1f N/cm too %s since ",
                      tenter_names_get(t->j->tables->names[TENTER_NAME_METER], s->meter),
                      fabs(meter->bias), meter->bias < 0 ? "low" : "high");
  day(t->out, meter->since);
  tenter_buffer_text(t->out, ".");
}

static void tell_no_floor(const telling *t) {
  tenter_buffer_text(t->out, "No target and no floor is given: its ageing can't be judged.");
}

static void tell_contradiction(const telling *t) {
  tenter_buffer_text(t->out, t->cause->finding->text);
  tenter_buffer_text(t->out, ".");
}

static void tell_nothing(const telling *t) {
  (void)t;
}

typedef void tell(const telling *t);
static void tell_chart_signal(const telling *t) {
  tenter_buffer_print(t->out, "The control chart \"%s\" signals: %s Read it again.",
                      t->cause->chart->name, t->cause->signal->text);
}

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

/* ---- sources -------------------------------------------------------------------------------- */

/* All that the forecast rests on, the latest session first. */
static void add_forecast(const telling *t, row_list *s) {
  for (size_t i = t->m->first_session + t->m->session_count; i-- > t->m->first_session;)
    if (t->j->sessions[i].state & SESSION_FITTED || t->screen->latest.session == i)
      judge__add_session(t->j, s, i);
}

static void add_checks(const telling *t, row_list *s) {
  uint16_t meter = t->j->shop->sessions[t->screen->latest.session].meter;
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
  tenter_buffer text = {0};
  telling t = {.j = j,
               .screen = s,
               .inner = &j->screens[screen],
               .m = &j->shop->mountings[s->mounting],
               .doubt = &j->doubts[s->screen],
               .cause = c,
               .out = &text};
  tells[c->code](&t);
  if (caution) {
    tenter_buffer_text(&text, " ");
    tenter_buffer_text(&text, tenter_review_caution);
  }
  *out = (tenter_reason){.code = c->code, .action = c->action};
  out->text = text.failed ? NULL : tenter_arena_copy(arena, (tenter_text){text.bytes, text.length});
  tenter_buffer_release(&text);
  return out->text && give_sources(&t, arena, out);
}
