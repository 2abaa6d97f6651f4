/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between actions.c (which reasons apply, and what they ask for) and reasons.c (how people read
 * them). */
#ifndef TENTER_JUDGE_ACTIONS_H
#define TENTER_JUDGE_ACTIONS_H

#include "judge.h"

/* A reason that applies, before it is put into words. */
typedef struct cause {
  tenter_reason_code code;
  tenter_action action;
  const tenter_finding *finding;    /* of CONTRADICTION */
  const tenter_review_chart *chart; /* of CHART_SIGNAL, with the signal */
  const tenter_chart_signal *signal;
} cause;

/* Writes the reason with its sentence and its rows into the arena; caution: it is the first of its
 * screen that advises to raise tension. False when memory runs out. */
bool judge__reason(const judge *j, size_t screen, const cause *c, bool caution, tenter_arena *arena,
                   tenter_reason *out);

/* Whether the sentence of this reason advises to raise tension. */
bool judge__raises_tension(const cause *c);

/* The rows behind a signal: of sessions; of the checks of one meter on the day of check first.
 * False when memory runs out. */
bool judge__session_sources(judge *j, const size_t *sessions, size_t count,
                            tenter_chart_signal *signal);
bool judge__check_sources(judge *j, size_t first, size_t count, tenter_chart_signal *signal);

/* Adds to a screen that is judged already that a chart signals. False without memory. */
bool judge__chart_reason(judge *j, size_t screen, const tenter_review_chart *chart,
                         const tenter_chart_signal *signal);

/* Decides fit_to_act, action, after_this_job and the reasons of screen i. False without memory. */
bool judge__action(judge *j, size_t i, tenter_arena *arena);

#endif
