/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What check plates and other meters say of a meter: its errors over the plates' values, how they
 * drift, and how it agrees with another meter on the same screens. */
#include "judge.h"
#include "tenter/base/alloc.h"
#include "tenter/judge/study.h"
#include "tenter/stats/charts.h"

enum { LEAST_DAYS = 4, LEAST_PAIRS = 3, PAIRS_LOOKED_AT = 20000, MOST_METERS = 8 };

static const double chart_width = 3;    /* standard deviations of the average */
static const double near_hours = 24;    /* between two sessions that are compared */
static const double settled_hours = 24; /* and older than this, when little is lost in between */

/* ---- plates --------------------------------------------------------------------------------- */

typedef struct errors { /* of one meter, in order of time */
  double *value, *error, *day_mean;
  tenter_time *at;
  size_t count;
} errors;

static void gather_errors(const judge *j, uint32_t meter, errors *e) {
  e->count = 0;
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    if (check->meter != meter || check->at.at > j->shop->as_of)
      continue;
    e->value[e->count] = check->nominal;
    e->error[e->count] = check->indicated - check->nominal;
    e->at[e->count++] = check->at.at;
  }
}

static void take_values(const errors *e, size_t first, tenter_meter_plates *out) {
  for (size_t i = first; i < e->count; i++) {
    size_t k = 0;
    while (k < out->values && out->value[k] < e->value[i])
      k++;
    if ((k < out->values && out->value[k] == e->value[i]) || out->values == TENTER_PLATE_VALUES)
      continue;
    for (size_t m = out->values++; m > k; m--)
      out->value[m] = out->value[m - 1];
    out->value[k] = e->value[i];
  }
  for (size_t k = 0; k < out->values; k++) {
    double sum = 0, n = 0;
    for (size_t i = first; i < e->count; i++)
      if (e->value[i] == out->value[k]) {
        sum += e->error[i];
        n++;
      }
    out->mean[k] = sum / n;
    tenter_gauge_linearity_at(&out->line, out->value[k], &out->low[k], &out->high[k]);
  }
}

/* Means of the errors of each day, in place of times in `at`; returns how many. */
static size_t by_days(errors *e, double *readings_a_day) {
  size_t days = 0, n = 0;
  for (size_t i = 0; i < e->count; i++) {
    if (days == 0 || tenter_day_start(e->at[i]) != tenter_day_start(e->at[days - 1])) {
      e->at[days] = e->at[i];
      e->day_mean[days++] = 0;
      n = 0;
    }
    e->day_mean[days - 1] += (e->error[i] - e->day_mean[days - 1]) / (double)++n;
  }
  *readings_a_day = days ? (double)e->count / (double)days : NAN;
  return days;
}

/* What differs from plate to plate is no drift. */
static void take_off_plates(errors *e, const tenter_meter_plates *plates) {
  for (size_t i = 0; i < e->count; i++)
    for (size_t k = 0; k < plates->values; k++)
      if (e->value[i] == plates->value[k])
        e->error[i] -= plates->mean[k];
}

/* The weighted average of a day's mean error, from the mean of the first half of the days. */
static void take_drift(const judge *j, errors *e, tenter_meter_plates *out) {
  double sd = judge__check_sd(j, e->error, e->count), readings, centre = 0;
  size_t days = by_days(e, &readings), half = days / 2;
  out->average = out->average_limit = NAN;
  out->drifts_since = TENTER_NO_TIME;
  double weight = j->settings->chart_weight > 0 ? j->settings->chart_weight : 0.2;
  if (days < LEAST_DAYS)
    return;
  for (size_t i = 0; i < half; i++)
    centre += e->day_mean[i] / (double)half;
  double sigma = sd / sqrt(readings);
  tenter_ewma chart;
  tenter_ewma_start(&chart, weight, chart_width);
  for (size_t i = 0; i < days; i++) {
    tenter_ewma_point p = tenter_ewma_step(&chart, (e->day_mean[i] - centre) / sigma);
    /* the centre is estimated, too */
    double limit = hypot(p.limit, chart_width / sqrt((double)half));
    out->average = p.value * sigma;
    out->average_limit = limit * sigma;
    if (fabs(p.value) <= limit)
      out->drifts_since = TENTER_NO_TIME;
    else if (out->drifts_since == TENTER_NO_TIME)
      out->drifts_since = e->at[i];
  }
}

static void plates_of(const judge *j, errors *e, tenter_meter_plates *out) {
  const tenter_review_meter *meter = &j->review->meters[out->meter];
  size_t first = 0;
  gather_errors(j, out->meter, e);
  out->checks = e->count;
  out->from = TENTER_NO_TIME;
  while (meter->shifted && first < e->count && e->at[first] < meter->since)
    first++;
  if (e->count - first >= LEAST_PAIRS && first > 0)
    out->from = e->at[first]; /* as it reads now */
  else
    first = 0;
  out->used = e->count - first;
  tenter_gauge_linearity_fit(out->used, &e->value[first], &e->error[first], &out->line);
  take_values(e, first, out);
  take_off_plates(e, out);
  take_drift(j, e, out);
}

static bool take_plates(const judge *j, tenter_meter_studies *out) {
  size_t most = j->tables->check_count + 1, meters = j->review->meter_count;
  errors e = {.value = tenter_alloc(most, sizeof *e.value),
              .error = tenter_alloc(most, sizeof *e.error),
              .day_mean = tenter_alloc(most, sizeof *e.day_mean),
              .at = tenter_alloc(most, sizeof *e.at)};
  out->plates = tenter_arena_alloc(j->arena, meters + 1, sizeof *out->plates);
  bool done = e.value && e.error && e.day_mean && e.at && out->plates;
  for (uint32_t i = 0; done && i < meters; i++)
    if (j->review->meters[i].checks > 0) {
      tenter_meter_plates *plates = &out->plates[out->plate_count++];
      *plates = (tenter_meter_plates){.meter = i};
      plates_of(j, &e, plates);
    }
  tenter_free(e.value);
  tenter_free(e.error);
  tenter_free(e.day_mean);
  tenter_free(e.at);
  return done;
}

/* ---- two meters ----------------------------------------------------------------------------- */

/* Whether session i and the one before are one screen read with these two meters within a day. */
static bool is_pair(const judge *j, size_t i, uint32_t first, uint32_t second) {
  const tenter_session *a = &j->shop->sessions[i - 1], *b = &j->shop->sessions[i];
  bool both =
      (a->meter == first && b->meter == second) || (a->meter == second && b->meter == first);
  if (!both || a->mounting != b->mounting || b->taken - a->taken > near_hours * TENTER_HOUR)
    return false;
  const uint32_t odd = SESSION_MISREAD | SESSION_SHIFTED | SESSION_BREAK;
  double age = tenter_mounting_age_hours(mounting_of(j, a), a->taken);
  return !(age < settled_hours) && !(j->sessions[i - 1].state & odd) &&
         !(j->sessions[i].state & odd);
}

static void compare(const judge *j, uint32_t first, uint32_t second, double *x, double *y,
                    tenter_meter_pair *out) {
  size_t n = 0;
  for (size_t i = 1; i < j->shop->session_count && n < PAIRS_LOOKED_AT; i++) {
    if (!is_pair(j, i, first, second))
      continue;
    size_t a = j->shop->sessions[i].meter == first ? i : i - 1;
    x[n] = j->sessions[a].adjusted;
    y[n++] = j->sessions[a == i ? i - 1 : i].adjusted;
  }
  *out = (tenter_meter_pair){.first = first, .second = second, tenter_gauge_agree(n, y, x)};
  tenter_gauge_deming_fit(n, x, y, 1, &out->line);
}

static bool take_pairs(const judge *j, tenter_meter_studies *out) {
  double *x = tenter_alloc(PAIRS_LOOKED_AT, sizeof *x),
         *y = tenter_alloc(PAIRS_LOOKED_AT, sizeof *y);
  uint32_t meters = (uint32_t)j->review->meter_count;
  if (meters > MOST_METERS)
    meters = MOST_METERS;
  out->pairs = tenter_arena_alloc(j->arena, MOST_METERS * MOST_METERS, sizeof *out->pairs);
  bool done = x && y && out->pairs;
  for (uint32_t a = 0; done && a < meters; a++)
    for (uint32_t b = a + 1; b < meters; b++) {
      tenter_meter_pair *pair = &out->pairs[out->pair_count];
      compare(j, a, b, x, y, pair);
      out->pair_count += pair->agreement.count >= LEAST_PAIRS;
    }
  tenter_free(x);
  tenter_free(y);
  return done;
}

tenter_status judge__meter_checks(const judge *j, tenter_meter_studies *out, tenter_error *error) {
  return take_plates(j, out) && take_pairs(j, out) ? TENTER_OK : tenter_fail_memory(error);
}
