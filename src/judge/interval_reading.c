/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much longer a screen may go where it is read more often.
 *
 * A screen that is read has a line of its own, the better known the more sessions; it is
 * re-stretched at the session after which its chance to be below the floor by the next is over the
 * risk. For a new mounting of each node, with a true level and loss at the points of a three-point
 * rule either way (Gauss and Hermite: 0 and +- sqrt 3 standard deviations, weights 2/3, 1/6, 1/6),
 * sessions tell its true tension with the error of the shop's sessions, and Bayes' rule is followed
 * to the re-stretch. The geometric mean over points
 * and nodes is the age that is said: that of a typical screen, which few that outlive all others do
 * not move. */
#include <stdlib.h>

#include "interval_study.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"
#include "tenter/stats/nested.h"

static const double most_hours = 24 * 3652.5;

/* ---- what is usual -------------------------------------------------------------------------- */

/* Medians of the days between sessions of a mounting, and of the variance of a session. */
tenter_status judge__usual_reading(const judge *j, uint32_t slot, usual_reading *usual,
                                   tenter_error *error) {
  double *room = tenter_alloc(j->shop->session_count + j->review->screen_count + 1, sizeof *room);
  size_t gaps = 0, known = 0;
  if (!room)
    return tenter_fail_memory(error);
  for (size_t i = 1; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i], *before = s - 1;
    if (s->mounting == before->mounting && mesh_slot(j, mounting_of(j, s)->is.mesh) == slot)
      room[gaps++] = (double)(s->taken - before->taken) / TENTER_DAY;
  }
  usual->spacing = tenter_median_of(room, gaps);
  for (size_t i = 0; i < j->review->screen_count; i++) {
    const tenter_review_screen *screen = &j->review->screens[i];
    const tenter_mounting *m = &j->shop->mountings[screen->mounting];
    if (mesh_slot(j, m->is.mesh) == slot && !isnan(screen->turn.session_variance))
      room[known++] = screen->turn.session_variance;
  }
  usual->variance = tenter_median_of(room, known);
  tenter_free(room);
  return TENTER_OK;
}

/* ---- one screen ----------------------------------------------------------------------------- */

typedef struct reading {
  double limit, z; /* floor; score of the risk */
  double start_hours, every_hours, variance;
  double level, loss; /* the truth */
  tenter_clock clock; /* on which its line is straight */
} reading;

/* The age at which it is re-stretched, hours. */
static double life_of(const reading *r, tenter_nested_line line) {
  double one = 1;
  double age = r->start_hours;
  while (age < most_hours) {
    double u = tenter_clock_u(r->clock, age_u(age)), y = r->level - r->loss * u;
    double next = tenter_clock_u(r->clock, age_u(age + r->every_hours));
    tenter_nested_line_update(&line, r->variance, 1, &u, &y, &one);
    double sd =
        sqrt(fmax(0, line.cov.level + 2 * next * line.cov.cross + next * next * line.cov.slope));
    if (line.level + line.slope * next - r->z * sd < r->limit)
      return age;
    age += r->every_hours;
  }
  return most_hours;
}

/* The mean logarithm over the nine points of one node. */
static double node_life(reading *r, const new_mounting *node) {
  static const double at[] = {0, -1.7320508075688772, 1.7320508075688772};
  static const double weight[] = {2.0 / 3, 1.0 / 6, 1.0 / 6};
  tenter_line all = node->mean;
  all.var_at_24h += node->spread.var_at_24h;
  all.var_loss += node->spread.var_loss;
  all.cov += node->spread.cov;
  tenter_nested_line line = {
      all.at_24h, -all.loss, {.level = all.var_at_24h, .slope = all.var_loss, .cross = -all.cov}};
  double sd = sqrt(all.var_at_24h), with = sd > 0 ? all.cov / sd : 0, sum = 0;
  double own = sqrt(fmax(0, all.var_loss - with * with));
  for (int a = 0; a < 3; a++)
    for (int b = 0; b < 3; b++) {
      r->level = all.at_24h + sd * at[a];
      r->loss = all.loss + with * at[a] + own * at[b];
      sum += weight[a] * weight[b] * log(life_of(r, line));
    }
  return sum;
}

void judge__interval_spacing(const judge *j, const interval_inner *of, const usual_reading *usual,
                             tenter_interval_group *group) {
  static const double share[TENTER_INTERVAL_SPACINGS] = {2, 1, 0.5, 0.25};
  for (int i = 0; i < TENTER_INTERVAL_SPACINGS; i++) {
    group->spacing_days[i] = group->spacing_life[i] = NAN;
    if (!(usual->spacing > 0) || !(usual->variance > 0))
      continue;
    group->spacing_days[i] = fmax(0.25, share[i] * usual->spacing);
    reading r = {.limit = scale_to(j->population, group->interval->floor),
                 .z = -tenter_normal_quantile(group->interval->risk),
                 .start_hours = judge__interval_start(j),
                 .every_hours = 24 * group->spacing_days[i],
                 .variance = usual->variance};
    double sum = 0;
    for (size_t k = 0; k < j->review->node_count; k++) {
      r.clock = j->population->node_clock[k];
      sum += of->weight[k] * node_life(&r, &of->nodes[k]);
    }
    group->spacing_life[i] = exp(sum) / 24;
  }
}
