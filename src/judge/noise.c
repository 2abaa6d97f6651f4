/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise of readings: what an additive model leaves within a mounting is a repeated reading's,
 * what a point keeps from session to session is the screen's own pattern.
 *
 * Misreads are clipped by a robust scale first. A mesh with few data leans on the shop's others,
 * and all on the settings' repeatability, weighed as a few degrees of freedom. Meter noise may grow
 * with tension (a fixed error of depression is an error of tension that grows with its square), so
 * its growth is estimated over mountings of different levels before anything is pooled. */
#include "pattern.h"
#include "tenter/stats/moments.h"

static const double prior_df = 4;     /* weight of the settings' repeatability */
static const double pooled_df = 8;    /* weight of the shop for one of its meshes */
static const double learned_df = 12;  /* own patterns are learned from so many points on */
static const double clip = 4;         /* robust sd's beyond which a residual is a misread */
static const double least_sd = 0.02;  /* N/cm: no meter is better */
static const double most_power = 2.5; /* the physics say 2 */

/* Robust sd of count numbers about 0; they are put in another order. NaN for none. */
static double robust_sd(double *numbers, size_t count) {
  for (size_t i = 0; i < count; i++)
    numbers[i] = fabs(numbers[i]);
  return tenter_median_of(numbers, count) * TENTER_MAD_SD;
}

/* Mean square of count numbers without those beyond the clip of their robust sd. */
static double clipped_square(double *numbers, size_t count) {
  double limit = clip * fmax(robust_sd(numbers, count), least_sd), sum = 0, kept = 0;
  for (size_t i = 0; i < count; i++)
    if (numbers[i] <= limit) {
      sum += numbers[i] * numbers[i];
      kept++;
    }
  return kept > 0 ? sum / kept : 0;
}

/* Residuals of a mesh by kind, each scaled to the variance that it stands for. */
typedef struct kinds {
  double *within, *own; /* w->numbers, w->more */
  size_t within_count, own_count;
  double df, per_session; /* per_session: sum over own of 1 / sessions */
} kinds;

static double sum_points(pattern_work *w, const sampled *s) {
  double points = 0;
  for (size_t i = s->first; i < s->first + s->count; i++)
    w->point_sum[w->cells[i].point] = w->point_count[w->cells[i].point] = 0;
  for (size_t i = s->first; i < s->first + s->count; i++) {
    uint32_t p = w->cells[i].point;
    points += w->point_count[p]++ == 0;
    w->point_sum[p] += w->cells[i].left;
  }
  return points;
}

/* One mounting: residuals within its points, and its points' means. The session's mean has been
 * taken from every residual, so each stands for a little less than its variance. */
static void split_mounting(pattern_work *w, const sampled *s, kinds *k) {
  double points = sum_points(w, s), shared = 1 - 1 / points;
  if (points < 2)
    return;
  for (size_t i = s->first; i < s->first + s->count; i++) {
    uint32_t p = w->cells[i].point;
    double n = w->point_count[p], free = (1 - 1 / n) * shared;
    if (n < 2)
      continue;
    k->within[k->within_count++] = (w->cells[i].left - w->point_sum[p] / n) / sqrt(free);
    k->df += free;
  }
  for (size_t i = s->first; i < s->first + s->count; i++) {
    uint32_t p = w->cells[i].point;
    double n = w->point_count[p];
    if (n == 0)
      continue;
    k->own[k->own_count++] = w->point_sum[p] / n / sqrt(shared);
    k->per_session += 1 / n;
    w->point_count[p] = 0; /* once a point */
  }
}

void judge__split_noise(pattern_work *w, mesh_noise *out) {
  kinds k = {.within = w->numbers, .own = w->more};
  double mountings = (double)w->mounting_count;
  for (size_t i = 0; i < w->mounting_count; i++) {
    split_mounting(w, &w->mountings[i], &k);
    out->level += w->mountings[i].level / mountings;
  }
  double within = clipped_square(k.within, k.within_count);
  out->reading_df = k.df + w->repeat_df;
  out->reading = out->reading_df > 0 ? (within * k.df + w->squares) / out->reading_df : NAN;
  /* the pattern was learned from the same mountings */
  double share = 1 - 1 / mountings;
  out->screen_df = (double)k.own_count * share;
  if (k.own_count > 0)
    out->screen_point = clipped_square(k.own, k.own_count) / fmax(share, 0.5);
  out->per_session = k.own_count > 0 ? k.per_session / (double)k.own_count : NAN;
}

/* ---- growth with tension -------------------------------------------------------------------- */

/* Over meshes: log variance on log level, weighted by degrees of freedom; the power of the sd.
 * Taken only where it is told clearly. */
static double noise_power(const judge *j, const mesh_noise *meshes) {
  double w = 0, x = 0, y = 0, xx = 0, xy = 0;
  for (size_t i = 0; i < j->mesh_slots; i++) {
    if (!j->pattern[i] || !(meshes[i].reading_df > 20) || !(meshes[i].reading > 0))
      continue;
    w += meshes[i].reading_df;
    x += meshes[i].reading_df * log(meshes[i].level);
    y += meshes[i].reading_df * log(meshes[i].reading);
  }
  for (size_t i = 0; i < j->mesh_slots; i++) {
    if (!j->pattern[i] || !(meshes[i].reading_df > 20) || !(meshes[i].reading > 0))
      continue;
    double dx = log(meshes[i].level) - x / w;
    xx += meshes[i].reading_df * dx * dx;
    xy += meshes[i].reading_df * dx * (log(meshes[i].reading) - y / w);
  }
  /* var log s^2 = 2 / df, so the slope's variance is 2 / xx */
  double slope = xx > 0 ? xy / xx : 0;
  bool told = xx > 0 && sqrt(2 / xx) < 0.6 && slope > 2 * sqrt(2 / xx);
  return told ? fmin(slope / 2, most_power) : 0;
}

/* ---- sd's ----------------------------------------------------------------------------------- */

static double growth(const judge *j, double tension, double level) {
  return j->noise.power == 0 || !(tension > 0) ? 1 : pow(tension / level, j->noise.power);
}

/* The shop's variance at the level of its meshes, the settings' as prior. */
static void pool(judge *j, const mesh_noise *meshes) {
  double df = prior_df, sum = prior_df * squared(j->settings->repeatability), level = 0, levels = 0;
  for (size_t i = 0; i < j->mesh_slots; i++)
    if (j->pattern[i]) {
      level += meshes[i].level;
      levels++;
    }
  j->noise.level = levels > 0 ? level / levels : 1;
  for (size_t i = 0; i < j->mesh_slots; i++) {
    if (!j->pattern[i] || !(meshes[i].reading_df > 0))
      continue;
    sum += meshes[i].reading_df * meshes[i].reading /
           squared(growth(j, meshes[i].level, j->noise.level));
    df += meshes[i].reading_df;
  }
  j->noise.reading = sqrt(sum / df);
  j->noise.reading_df = df - prior_df;
}

static void pool_own(judge *j, const mesh_noise *meshes) {
  double df = 0, sum = 0;
  for (size_t i = 0; i < j->mesh_slots; i++) {
    if (!j->pattern[i] || !(meshes[i].screen_df > 0))
      continue;
    double noise = squared(judge__reading_sd(j, (uint32_t)i, meshes[i].level));
    sum += meshes[i].screen_df * fmax(0, meshes[i].screen_point - noise * meshes[i].per_session);
    df += meshes[i].screen_df;
  }
  j->noise.screen_point = df >= learned_df ? sqrt(sum / df) : NAN;
}

void judge__noise(judge *j, const mesh_noise *meshes) {
  j->noise.power = noise_power(j, meshes);
  pool(j, meshes);
  for (size_t i = 0; i < j->mesh_slots; i++) {
    tenter_pattern *pattern = j->pattern[i];
    if (!pattern)
      continue;
    const mesh_noise *m = &meshes[i];
    pattern_inner *inner = &j->pattern_inner[i];
    double df = m->reading_df > 0 ? m->reading_df : 0;
    double shop = squared(j->noise.reading * growth(j, m->level, j->noise.level));
    double sum = pooled_df * shop + (df > 0 ? df * m->reading : 0);
    pattern->sd_reading = fmax(sqrt(sum / (pooled_df + df)), least_sd);
    pattern->assumed = j->noise.reading_df < prior_df;
    inner->level = m->level;
    inner->reading_df = df;
    inner->screen_df = m->screen_df;
  }
  pool_own(j, meshes);
  for (size_t i = 0; i < j->mesh_slots; i++) {
    tenter_pattern *pattern = j->pattern[i];
    if (!pattern)
      continue;
    double noise = squared(pattern->sd_reading) * meshes[i].per_session;
    bool learned = meshes[i].screen_df >= learned_df;
    pattern->sd_screen_point =
        learned ? sqrt(fmax(0, meshes[i].screen_point - noise)) : j->noise.screen_point;
    for (size_t k = 0; k < pattern->point_count; k++)
      pattern->points[k].effect_se *=
          hypot(pattern->sd_reading, learned ? pattern->sd_screen_point : 0);
  }
}

double judge__reading_sd(const judge *j, uint32_t slot, double tension) {
  if (!j->pattern[slot])
    return j->noise.reading;
  return j->pattern[slot]->sd_reading * growth(j, tension, j->pattern_inner[slot].level);
}

bool judge__pattern_learned(const judge *j, uint32_t slot) {
  return j->pattern[slot] && j->pattern_inner[slot].screen_df >= learned_df;
}

double judge__screen_point_sd(const judge *j, uint32_t slot) {
  return j->pattern[slot] ? j->pattern[slot]->sd_screen_point : j->noise.screen_point;
}
