/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_PLAN_H
#define TENTER_JUDGE_PLAN_H

#include "population.h"

/* The tension of a screen now and at the horizon, on the scale of the population. */
typedef struct reading_moments {
  double now, then, var_now, var_then, cov;
} reading_moments;

/* screen->turn.value and .session_variance: the chance that a session now, as noisy as the latest
 * one, would change which of "withdraw", "re-stretch" and neither the forecast asks for. Leaves NaN
 * where the screen was never read. */
void judge__reading_value(const judge *j, tenter_review_screen *screen,
                          const reading_moments *moments);

/* Weeks of all screens: the rest of screen->turn, and review->plan_start; after the actions.
 * O(screens log screens). */
tenter_status judge__plan(judge *j, tenter_error *error);

#endif
