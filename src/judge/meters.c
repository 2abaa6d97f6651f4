/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Meters: the least step of their readings, and their bias against a check plate.
 *
 * The bias is an exponentially weighted mean of the errors on the plate, so that a shift shows
 * within two or three checks and a single slip does not count for ever (Roberts 1959,
 * Technometrics 1:239). What moved, and since when, shift.c finds from readings and checks
 * together. */
#include <stdlib.h>
#include <string.h>

#include "judge.h"
#include "tenter/base/alloc.h"

enum { READINGS_LOOKED_AT = 5000, LEAST_READINGS = 10 };

static const double ewma_weight = 0.4;
static const double usual_resolution = 0.1; /* of a digital meter, where readings are too few */
static const double least_shift = 0.5; /* N/cm, without an expanded uncertainty; common practice */
static const double sure = 3;          /* standard errors: there are many weeks and meters */

/* ---- resolution ----------------------------------------------------------------------------- */

static const double steps[] = {1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01};
enum { STEPS = sizeof steps / sizeof *steps };

typedef struct least_step {
  size_t seen;
  int step; /* the coarsest that fits so far; STEPS: none */
} least_step;

static void see(least_step *l, double tension) {
  l->seen++;
  while (l->step < STEPS && fabs(tension / steps[l->step] - rint(tension / steps[l->step])) > 1e-6)
    l->step++;
}

static double resolution_of(const least_step *l) {
  double step = l->step < STEPS ? steps[l->step] : 0;
  return l->seen < LEAST_READINGS ? fmin(step, usual_resolution) : step;
}

static bool find_steps(judge *j, size_t count) {
  least_step *least = tenter_alloc(count, sizeof *least);
  if (!least)
    return false;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (s->meter == TENTER_NO_NAME16)
      continue;
    least_step *l = &least[s->meter];
    for (uint32_t k = s->first; k < s->first + s->count && l->seen < READINGS_LOOKED_AT; k++)
      see(l, j->readings->tension[k]);
  }
  for (size_t i = 0; i < count; i++)
    j->meters[i].resolution = resolution_of(&least[i]);
  tenter_free(least);
  return true;
}

static const tenter_meter_spec *spec_of(const judge *j, uint32_t meter) {
  const char *name = tenter_names_get(j->tables->names[TENTER_NAME_METER], meter);
  for (size_t i = 0; i < j->shop->config->meter_count; i++)
    if (strcmp(j->shop->config->meters[i].name, name) == 0)
      return &j->shop->config->meters[i];
  return NULL;
}

static void take_spec(meter_inner *meter, const tenter_meter_spec *spec) {
  meter->calibration = NAN;
  if (!spec)
    return;
  if (!isnan(spec->resolution))
    meter->resolution = spec->resolution;
  double coverage = spec->coverage_factor > 0 ? spec->coverage_factor : TENTER_ASSUMED_COVERAGE;
  meter->expanded = spec->expanded_uncertainty;
  meter->calibration = spec->expanded_uncertainty / coverage; /* NaN stays NaN */
}

/* ---- bias ----------------------------------------------------------------------------------- */

typedef struct checks {
  const tenter_meter_check **items;
  double *errors;
  size_t count;
} checks;

static double error_of(const tenter_meter_check *check) {
  return check->indicated - check->nominal;
}

/* From neighbouring ones (a drift is slow beside the noise); the shop's repeatability where there
 * are too few. */
double judge__check_sd(const judge *j, const double *errors, size_t count) {
  double squares = squared(j->settings->repeatability) * 2, pairs = 1;
  for (size_t i = 1; i < count; i++) {
    double off = errors[i] - errors[i - 1];
    if (fabs(off) > 4 * sqrt(squares / pairs))
      continue; /* the shift itself */
    squares += off * off;
    pairs++;
  }
  return sqrt(squares / pairs / 2);
}

/* When the run of checks that deviate as the bias does began. */
static tenter_time deviates_since(const checks *c, double bias) {
  size_t first = c->count - 1;
  while (first > 0 && error_of(c->items[first - 1]) * bias > 0 &&
         fabs(error_of(c->items[first - 1])) > fabs(bias) / 2)
    first--;
  return c->items[first]->at.at;
}

static void judge_bias(const judge *j, const checks *c, tenter_review_meter *meter) {
  double bias = error_of(c->items[0]),
         share = 1; /* share: variance of the mean, in check variances */
  for (size_t i = 1; i < c->count; i++) {
    double weight = fmax(ewma_weight, 1.0 / (double)(i + 1)); /* a plain mean to begin with */
    bias += weight * (error_of(c->items[i]) - bias);
    share = squared(1 - weight) * share + squared(weight);
  }
  double limit = j->meters[meter->meter].expanded;
  meter->checks = c->count;
  meter->bias = bias;
  meter->bias_se = judge__check_sd(j, c->errors, c->count) * sqrt(share);
  meter->bias_against = TENTER_AGAINST_PLATE;
  meter->shifted =
      fabs(bias) > sure * meter->bias_se && fabs(bias) > (isnan(limit) ? least_shift : limit);
  if (meter->shifted)
    meter->since = deviates_since(c, bias);
}

/* The checks of one meter up to as_of, in order of time (the table's order). */
static void gather_checks(const judge *j, uint32_t meter, checks *c) {
  c->count = 0;
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    if (check->meter != meter || check->at.at > j->shop->as_of)
      continue;
    c->errors[c->count] = error_of(check);
    c->items[c->count++] = check;
  }
}

/* ---- all of them ---------------------------------------------------------------------------- */

tenter_status judge__meters(judge *j, tenter_error *error) {
  size_t count = tenter_names_count(j->tables->names[TENTER_NAME_METER]);
  tenter_review *review = j->review;
  review->meters = tenter_arena_alloc(j->arena, count, sizeof *review->meters);
  j->meters = tenter_arena_alloc(j->arena, count, sizeof *j->meters);
  checks c = {.items = tenter_alloc(j->tables->check_count + 1, sizeof *c.items),
              .errors = tenter_alloc(j->tables->check_count + 1, sizeof *c.errors)};
  bool done =
      review->meters && j->meters && c.items && c.errors && (count == 0 || find_steps(j, count));
  for (uint32_t i = 0; done && i < count; i++) {
    review->meters[i] =
        (tenter_review_meter){.meter = i, .bias = NAN, .bias_se = NAN, .since = TENTER_NO_TIME};
    j->meters[i].expanded = NAN;
    take_spec(&j->meters[i], spec_of(j, i));
    review->meters[i].resolution = j->meters[i].resolution;
    gather_checks(j, i, &c);
    if (c.count > 0)
      judge_bias(j, &c, &review->meters[i]);
  }
  review->meter_count = count;
  for (size_t i = 0; done && i < j->shop->session_count; i++)
    if (j->shop->sessions[i].meter != TENTER_NO_NAME16)
      review->meters[j->shop->sessions[i].meter].sessions++;
  tenter_free(c.items);
  tenter_free(c.errors);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
