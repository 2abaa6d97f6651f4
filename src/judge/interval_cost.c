/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What re-stretching at an age costs (age replacement: stats/renewal.h), by the model's chances;
 * and what that saves against what the shop did, and against one age for all meshes.
 *
 * A screen that comes below its floor in use is a failure: it costs [cost] failure and is stretched
 * anew; one that is stretched before costs [cost] restretch. What the shop did is counted:
 * mountings that were seen below their floor (or were re-stretched when not clearly above it)
 * against those re-stretched above it, over all the time they served. */
#include "interval_study.h"
#include "tenter/stats/renewal.h"

enum { POINTS = 1600 };

static const double year_days = 365.25, most_days = 3652.5;
static const double within_range =
    0.98; /* an age of least cost beyond it is the end of the range */

/* P(above the floor) at ages even in their logarithm, as a curve of steps: each fall in the middle
 * between two ages. */
typedef struct survival {
  double days[POINTS], above[POINTS];
} survival;

static void make_survival(const judge *j, const interval_inner *of, double floor, survival *s) {
  double first = judge__interval_start(j) / 24, step = log(most_days / first) / (POINTS - 1);
  for (int i = 0; i < POINTS; i++) {
    double days = first * exp(step * i);
    s->days[i] = days * exp(-step / 2);
    s->above[i] = 1 - judge__interval_below(j, of, floor, 24 * days);
  }
}

static tenter_life_curve curve_of(const survival *s) {
  return (tenter_life_curve){
      .steps = s->days, .survival = s->above, .count = POINTS, .end = 1.01 * most_days};
}

static tenter_renewal_costs costs_of(const judge *j) {
  return (tenter_renewal_costs){j->settings->cost_restretch, j->settings->cost_failure};
}

/* As the shop did it. */
static void habit(const judge *j, const past_lives *of, tenter_interval_cost *cost) {
  for (size_t i = 0; i < of->count; i++) {
    const past_life *life = &of->lives[i];
    cost->habit_failed += life->failed;
    cost->habit_planned += !life->failed && life->end == TENTER_END_RENEWED;
    cost->habit_screen_years += life->days / year_days;
  }
  if (cost->habit_planned + cost->habit_failed > 0 && cost->habit_screen_years > 0)
    cost->habit_rate = (j->settings->cost_restretch * (double)cost->habit_planned +
                        j->settings->cost_failure * (double)cost->habit_failed) /
                       cost->habit_screen_years;
}

static void best(const judge *j, const survival *s, tenter_interval_group *group) {
  tenter_interval_cost *cost = &group->cost;
  tenter_life_curve curve = curve_of(s);
  tenter_renewal_costs costs = costs_of(j);
  tenter_renewal found;
  tenter_error ignored;
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++)
    group->curve.cost[i] = year_days * tenter_renewal_rate(&curve, &costs, group->curve.days[i]);
  if (tenter_renewal_best(&curve, &costs, &found, &ignored))
    return;
  bool within = found.answer == TENTER_RENEWAL_AT && found.age < within_range * most_days;
  cost->best_days = within ? found.age : NAN;
  cost->best_rate = year_days * found.rate;
}

void judge__interval_cost(const judge *j, const past_lives *of, tenter_interval_group *group) {
  const tenter_settings *settings = j->settings;
  bool known = settings->cost_restretch > 0 && settings->cost_failure > 0;
  group->cost = (tenter_interval_cost){known, NAN, NAN, NAN, 0, 0, 0, NAN, NAN, NAN};
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++)
    group->curve.cost[i] = NAN;
  if (!known)
    return;
  survival s;
  const interval_inner *inner = &j->intervals[group->interval - j->review->intervals];
  make_survival(j, inner, group->interval->floor, &s);
  best(j, &s, group);
  habit(j, of, &group->cost);
}

/* ---- one age for all ------------------------------------------------------------------------ */

/* The point of the curves at which all screens together cost least. */
static int least_for_all(const tenter_interval_study *study) {
  double least = INFINITY;
  int at = 0;
  for (int i = 0; i < TENTER_INTERVAL_POINTS; i++) {
    double sum = 0;
    for (size_t m = 0; m < study->count; m++)
      if (study->meshes[m].in_use > 0)
        sum += (double)study->meshes[m].in_use * study->meshes[m].curve.cost[i];
    if (sum < least) {
      least = sum;
      at = i;
    }
  }
  return at;
}

static void save(tenter_interval_group *group, int at) {
  tenter_interval_cost *cost = &group->cost;
  cost->calendar_rate = group->curve.cost[at];
  cost->saving_on_habit = (double)group->in_use * (cost->habit_rate - cost->best_rate);
  cost->saving_on_calendar = (double)group->in_use * (cost->calendar_rate - cost->best_rate);
}

void judge__interval_calendar(tenter_interval_study *study) {
  study->calendar_days = NAN;
  if (study->count == 0 || !study->meshes[0].cost.known)
    return;
  int at = least_for_all(study);
  if (at + 1 < TENTER_INTERVAL_POINTS)
    study->calendar_days = study->meshes[0].curve.days[at];
  for (size_t m = 0; m < study->count; m++)
    save(&study->meshes[m], at);
  for (size_t i = 0; i < study->lot_count; i++)
    save(&study->lots[i], at);
}
