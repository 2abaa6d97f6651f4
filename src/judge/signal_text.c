/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Signals of control charts in words: which entry of tenter/words/charts.h, and with which figures.
 */
#include "charts.h"
#include "tenter/words/words.h"

#define END ((const char *)NULL)

/* A sentence on its way. */
typedef struct wording {
  const judge *j;
  const tenter_review_chart *chart;
  const tenter_chart_point *point;
  tenter_form form;
} wording;

static const char *fixed(const wording *w, double value, int decimals) {
  return tenter_say_fixed(w->j->arena, w->form, value, decimals);
}

static const char *screen_name(const wording *w) {
  uint32_t screen = w->j->shop->sessions[w->point->item].screen;
  return tenter_names_get(w->j->tables->names[TENTER_NAME_SCREEN], screen);
}

/* Towards (x, y) of the screen's middle: the shop's word for that side, or ours. */
static const char *side_towards(const judge *j, double x, double y, tenter_say otherwise) {
  const char *label = tenter_say_text(otherwise);
  double most = 0.5;
  for (size_t i = 0; i < j->tables->position_count; i++) {
    const tenter_position *p = &j->tables->positions[i];
    double along = p->x * x + p->y * y, across = p->x * y - p->y * x;
    if (p->kind == TENTER_PLACE_SIDE && along - fabs(across) > most) {
      most = along - fabs(across);
      label = p->label;
    }
  }
  return label;
}

/* ---- what a point is ------------------------------------------------------------------------ */

static const char *level(const wording *w) {
  double off = w->point->value - w->chart->limits.centre;
  return tenter_say_fill(w->j->arena,
                         off < 0 ? TENTER_SAY_SIGNAL_LEVEL_BELOW : TENTER_SAY_SIGNAL_LEVEL_ABOVE,
                         screen_name(w), fixed(w, fabs(off), 2), END);
}

static const char *tilt(const wording *w) {
  double side = w->point->value < 0 ? -1 : 1, usual = side * w->chart->limits.centre;
  const char *towards =
      w->chart->stream == TENTER_STREAM_TILT_X
          ? side_towards(w->j, side, 0, side < 0 ? TENTER_SAY_SIDE_LEFT : TENTER_SAY_SIDE_RIGHT)
          : side_towards(w->j, 0, side, side < 0 ? TENTER_SAY_SIDE_NEAR : TENTER_SAY_SIDE_FAR);
  return tenter_say_fill(w->j->arena, TENTER_SAY_SIGNAL_TILT, screen_name(w),
                         fixed(w, fabs(w->point->value), 2), towards,
                         fixed(w, fabs(usual) < 0.005 ? 0 : usual, 2), END);
}

/* of: below and above, of one and of more. */
static const char *mean(const wording *w, double off, const tenter_say of[4]) {
  tenter_say id = of[(w->point->count > 1) * 2 + (off >= 0)];
  return tenter_say_fill(w->j->arena, id, tenter_say_count(w->j->arena, w->point->count),
                         fixed(w, fabs(off), 2), END);
}

static const char *what(const wording *w) {
  static const tenter_say checks[] = {TENTER_SAY_SIGNAL_CHECK_BELOW, TENTER_SAY_SIGNAL_CHECK_ABOVE,
                                      TENTER_SAY_SIGNAL_CHECKS_BELOW,
                                      TENTER_SAY_SIGNAL_CHECKS_ABOVE};
  static const tenter_say sessions[] = {
      TENTER_SAY_SIGNAL_SESSION_BELOW, TENTER_SAY_SIGNAL_SESSION_ABOVE,
      TENTER_SAY_SIGNAL_SESSIONS_BELOW, TENTER_SAY_SIGNAL_SESSIONS_ABOVE};
  switch (w->chart->stream) {
  case TENTER_STREAM_LEVEL:
    return level(w);
  case TENTER_STREAM_TILT_X:
  case TENTER_STREAM_TILT_Y:
    return tilt(w);
  case TENTER_STREAM_PLATE:
    return mean(w, w->point->mean, checks);
  default:
    return mean(w, w->point->shift, sessions);
  }
}

/* ---- all of it ------------------------------------------------------------------------------ */

#define RULE_SAYS(constant, ...) TENTER_SAY_RULE_##constant,
static const tenter_say rules[] = {TENTER_RULE_LIST(RULE_SAYS)};

const char *tenter_chart_rule_words(size_t rule) {
  return tenter_say_text(rule < TENTER_RULE_COUNT ? rules[rule] : TENTER_SAY_RULE_AVERAGE);
}

size_t judge__rule_met(const tenter_chart_point *p) {
  size_t rule = 0;
  while (rule < TENTER_RULE_COUNT && !(p->met & tenter_rule_at(rule)->bit))
    rule++;
  return rule;
}

const char *judge__signal_text(const judge *j, const tenter_review_chart *chart,
                               const tenter_chart_point *point, tenter_form form) {
  wording w = {j, chart, point, form};
  return tenter_say_fill(j->arena, TENTER_SAY_SIGNAL, what(&w), fixed(&w, fabs(point->z), 1),
                         tenter_chart_rule_words(judge__rule_met(point)), END);
}
