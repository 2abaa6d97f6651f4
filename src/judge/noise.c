/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noise of readings, mesh by mesh and for the shop.
 *
 * A mesh with few data leans on the shop's others, and all on the settings' repeatability, weighed
 * as a few degrees of freedom. Meter noise may grow with tension (a fixed error of depression is an
 * error of tension that grows with its square), so its growth is estimated over meshes of different
 * levels before anything is pooled. */
#include "noise.h"

static const double prior_df = 4;        /* weight of the settings' repeatability */
static const double pooled_df = 8;       /* weight of the shop for one of its meshes */
static const double least_own_df = 12;   /* for the shop's own patterns */
static const size_t least_mountings = 4; /* to expect a mesh's pattern of another screen */
static const double least_sd = 0.02;     /* N/cm: no meter is better */
static const double most_power = 2.5;    /* the physics say 2 */

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

/* A mesh's own data, the shop's as prior. */
static double reading_sd(const judge *j, const mesh_noise *m) {
  double df = m->reading_df > 0 ? m->reading_df : 0;
  double shop = squared(j->noise.reading * growth(j, m->level, j->noise.level));
  double sum = pooled_df * shop + (df > 0 ? df * m->reading : 0);
  return fmax(sqrt(sum / (pooled_df + df)), least_sd);
}

static void pool_own(judge *j, const mesh_noise *meshes) {
  double df = 0, sum = 0;
  for (size_t i = 0; i < j->mesh_slots; i++)
    if (j->pattern[i] && meshes[i].own_df > 0) {
      sum += meshes[i].own_df * meshes[i].own;
      df += meshes[i].own_df;
    }
  j->noise.screen_point = df >= least_own_df ? sqrt(sum / df) : NAN;
}

void judge__noise(judge *j, const mesh_noise *meshes) {
  j->noise.power = noise_power(j, meshes);
  pool(j, meshes);
  pool_own(j, meshes);
  for (size_t i = 0; i < j->mesh_slots; i++) {
    if (!j->pattern[i])
      continue;
    bool learned = meshes[i].mountings >= least_mountings && meshes[i].own_df > 0;
    j->pattern[i]->sd_reading = reading_sd(j, &meshes[i]);
    j->pattern[i]->sd_screen_point = learned ? sqrt(meshes[i].own) : j->noise.screen_point;
    j->pattern[i]->assumed = j->noise.reading_df < prior_df;
    j->pattern_inner[i] = (pattern_inner){.level = meshes[i].level, .learned = learned};
  }
}

double judge__reading_sd(const judge *j, uint32_t slot, double tension) {
  if (!j->pattern[slot])
    return j->noise.reading;
  return j->pattern[slot]->sd_reading * growth(j, tension, j->pattern_inner[slot].level);
}

bool judge__pattern_learned(const judge *j, uint32_t slot) {
  return j->pattern[slot] && j->pattern_inner[slot].learned;
}

double judge__screen_point_sd(const judge *j, uint32_t slot) {
  return j->pattern[slot] ? j->pattern[slot]->sd_screen_point : j->noise.screen_point;
}
