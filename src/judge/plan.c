/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whose turn comes when: re-stretches and readings by week, levelled to what the shop can do; and
 * what a reading would be worth.
 *
 * Levelling. Every screen has a week by which its turn is due. A plan that can't do better is one
 * with the least sum of squares of weeks late and, among those, of weeks early (life given away).
 * As both grow faster and faster with the distance, two screens are never better off the other way
 * round than in order of their due weeks; so screens are put in that order, the most at risk first
 * where the week is the same. In this order the i-th can't come before the week in which the shop
 * has done i; all of them at that week or their own, whichever is later, are as little late as can
 * be, all at once; and going backward from the last, each at the latest free place up to there, all
 * are as little early as can be. */
#include "plan.h"

#include <limits.h>
#include <stdlib.h>

#include "tenter/base/alloc.h"

/* ---- what a reading is worth ---------------------------------------------------------------- */

/* As of the latest one. */
static double session_variance(const judge *j, const tenter_review_screen *screen) {
  const session_value *value = &j->sessions[screen->latest.session];
  double residual = 0, scale = j->population->log ? squared(value->adjusted) : 1;
  for (size_t k = 0; k < j->review->node_count; k++)
    residual += j->review->node_weight[k] * j->population->residual[k];
  double variance = value->variance + squared(j->noise.session);
  return residual * (value->weight > 0 ? 1 / value->weight : variance) / scale;
}

/* The standard score of the session below which a chance to be under the floor reaches p: the mean
 * moves by gain per unit of the score, what is left is known to sd. */
static double turning_score(double floor, double mean, double gain, double sd, double p) {
  double off = floor - tenter_normal_quantile(p) * sd - mean;
  return gain != 0 ? off / gain : off > 0 ? INFINITY : -INFINITY;
}

void judge__reading_value(const judge *j, tenter_review_screen *screen, const reading_moments *m) {
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  if (!screen->read || isnan(is->floor))
    return;
  double noise = session_variance(j, screen), sd = sqrt(m->var_now + noise);
  double gain_now = m->var_now / sd, gain_then = m->cov / sd, risk = j->settings->risk;
  double left_now = sqrt(fmax(0, m->var_now - gain_now * gain_now));
  double left_then = sqrt(fmax(0, m->var_then - gain_then * gain_then));
  double floor = scale_to(j->population, is->floor), chance_now = screen->forecast.below_floor_now;
  double least = floor;
  if (!isnan(is->coarse_floor)) {
    least = scale_to(j->population, is->coarse_floor);
    chance_now = screen->forecast.below_coarse_now;
  }
  double out = turning_score(least, m->now, gain_now, left_now, 1 - risk);
  double act = fmax(out, turning_score(floor, m->then, gain_then, left_then, risk));
  double withdrawn = tenter_normal_below(out), stretched = tenter_normal_below(act) - withdrawn;
  double stays = chance_now >= 1 - risk                           ? withdrawn
                 : screen->forecast.below_floor_at_horizon > risk ? stretched
                                                                  : 1 - withdrawn - stretched;
  screen->turn.value = fmin(1, fmax(0, 1 - stays));
  screen->turn.session_variance = noise;
}

/* ---- levelling ------------------------------------------------------------------------------ */

typedef struct item {
  int due, week;
  double first; /* those with more come first in the same due week */
  uint32_t index;
} item;

static int item_order(const void *a, const void *b) {
  const item *x = a, *y = b;
  if (x->due != y->due)
    return x->due < y->due ? -1 : 1;
  if (x->first != y->first)
    return x->first > y->first ? -1 : 1;
  return (x->index > y->index) - (x->index < y->index);
}

/* How many can be done by the end of a week. */
static double done_by(double a_week, int week) {
  return floor(a_week * (week + 1) + 1e-9);
}

/* The first week by whose end count can be done. */
static int week_of(double a_week, size_t count) {
  double week = ceil((double)count / a_week - 1e-9) - 1;
  return week < INT_MAX / 2 ? (int)fmax(week, 0) : INT_MAX / 2;
}

/* Sets week of every item; a_week 0: no limit. */
static void level(item *items, size_t count, double a_week) {
  qsort(items, count, sizeof *items, item_order);
  int at = INT_MAX / 2;
  double used = 0;
  for (size_t i = count; i-- > 0;) {
    if (!(a_week > 0)) {
      items[i].week = items[i].due;
      continue;
    }
    int latest = week_of(a_week, i + 1);
    latest = items[i].due > latest ? items[i].due : latest;
    if (latest < at) {
      at = latest;
      used = 0;
    }
    while (at > 0 && used >= done_by(a_week, at) - done_by(a_week, at - 1)) {
      at--;
      used = 0;
    }
    used++;
    items[i].week = at;
  }
}

/* ---- due weeks ------------------------------------------------------------------------------ */

/* The last week that ends before a time; 0 where none does. */
static int week_before(const judge *j, tenter_time time) {
  tenter_time weeks = (time - j->review->plan_start) / TENTER_WEEK - 1;
  return weeks > 0 ? (int)weeks : 0;
}

static void restretch_due(const judge *j, tenter_review_screen *screen) {
  tenter_turn *turn = &screen->turn;
  if (screen->action >= TENTER_ACTION_RESTRETCH)
    turn->due = j->shop->as_of;
  if (turn->due != TENTER_NO_TIME)
    turn->restretch_due = week_before(j, turn->due);
}

/* Mesh that is settling is read in the week in which it has settled. */
static int reread_due(const judge *j, const tenter_review_screen *screen) {
  double rest = j->settings->settling_hours - screen->age_hours;
  if (!(rest > 0))
    return 0;
  tenter_time settled = j->shop->as_of + (tenter_time)(rest * TENTER_HOUR);
  return settled > j->review->plan_start ? (int)((settled - j->review->plan_start) / TENTER_WEEK)
                                         : 0;
}

/* A screen that is re-stretched before it must be read again needs no reading. */
static void read_due(const judge *j, tenter_review_screen *screen) {
  tenter_turn *turn = &screen->turn;
  if (screen->action >= TENTER_ACTION_RESTRETCH)
    return;
  if (screen->action == TENTER_ACTION_REREAD || !screen->read) {
    turn->read_due = reread_due(j, screen);
    return;
  }
  tenter_time taken = (tenter_time)j->shop->sessions[screen->latest.session].taken;
  turn->read_due = week_before(j, taken + (tenter_time)(j->settings->stale_days * TENTER_DAY));
  if (turn->value > j->settings->risk)
    turn->read_due = 0;
  else if (turn->restretch_week >= 0 && turn->restretch_week <= turn->read_due)
    turn->read_due = -1;
}

/* ---- the plan ------------------------------------------------------------------------------- */

static double known(double value, double otherwise) {
  return isnan(value) ? otherwise : value;
}

/* What is to be done now comes first, the worst first; then by chance to fall below the floor. */
static double at_risk(const tenter_review_screen *screen) {
  double now = screen->action >= TENTER_ACTION_RESTRETCH ? (double)screen->action : 0;
  return now + 0.99 * known(screen->forecast.below_floor_at_horizon, 0);
}

static void level_restretches(judge *j, item *items) {
  size_t count = 0;
  for (uint32_t i = 0; i < j->review->screen_count; i++) {
    tenter_review_screen *screen = &j->review->screens[i];
    restretch_due(j, screen);
    if (screen->turn.restretch_due >= 0)
      items[count++] = (item){screen->turn.restretch_due, 0, at_risk(screen), i};
  }
  level(items, count, j->settings->stretches_per_week);
  for (size_t i = 0; i < count; i++)
    j->review->screens[items[i].index].turn.restretch_week = items[i].week;
}

/* What must be read is read; of what is due in the same week that of most value first. */
static void level_readings(judge *j, item *items) {
  size_t count = 0;
  for (uint32_t i = 0; i < j->review->screen_count; i++) {
    tenter_review_screen *screen = &j->review->screens[i];
    read_due(j, screen);
    if (screen->turn.read_due >= 0)
      items[count++] = (item){screen->turn.read_due, 0, known(screen->turn.value, 1), i};
  }
  level(items, count, j->settings->sessions_per_week);
  for (size_t i = 0; i < count; i++)
    j->review->screens[items[i].index].turn.read_week = items[i].week;
}

tenter_status judge__plan(judge *j, tenter_error *error) {
  item *items = tenter_alloc(j->review->screen_count + 1, sizeof *items);
  if (!items)
    return tenter_fail_memory(error);
  j->review->plan_start = tenter_week_start(tenter_day_start(j->shop->as_of) + TENTER_DAY);
  level_restretches(j, items);
  level_readings(j, items);
  tenter_free(items);
  return TENTER_OK;
}
