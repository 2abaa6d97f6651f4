/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds the readings of gauge studies and has them analysed; puts the uncertainty budget of a
 * session mean together. */
#include "tenter/judge/study.h"

#include <stdlib.h>

#include "judge.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

static const double most_days = 7; /* between readings of one point of a study; common practice */

/* One reading of a study. */
typedef struct tried {
  uint64_t part; /* screen, position, direction */
  uint32_t person, reading;
  uint16_t meter;
} tried;

static int tried_order(const void *a, const void *b) {
  const tried *x = a, *y = b;
  if (x->meter != y->meter)
    return x->meter < y->meter ? -1 : 1;
  return (x->reading > y->reading) - (x->reading < y->reading);
}

static int key_order(const void *a, const void *b) {
  uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
  return (x > y) - (x < y);
}

static size_t gather(const judge *j, tried *list) {
  const tenter_readings *r = j->readings;
  size_t count = 0;
  for (size_t i = 0; r->trial && i < r->count; i++) {
    if (r->trial[i] == 0 || r->taken[i] > j->shop->as_of)
      continue;
    if (list) {
      uint64_t screen = r->screen ? r->screen[i] : 0, position = r->position ? r->position[i] : 0;
      list[count] =
          (tried){.part = screen << 20 | position << 2 | (r->direction ? r->direction[i] : 0),
                  .person = tenter_reading_operator(r, i),
                  .reading = (uint32_t)i,
                  .meter = r->meter ? r->meter[i] : TENTER_NO_NAME16};
    }
    count++;
  }
  return count;
}

/* Numbers the distinct keys from 0; returns how many. sorted: room for all. */
static size_t number(uint64_t *keys, uint64_t *sorted, uint32_t *numbers, size_t count) {
  size_t distinct = 0;
  for (size_t i = 0; i < count; i++)
    sorted[i] = keys[i];
  qsort(sorted, count, sizeof *sorted, key_order);
  for (size_t i = 0; i < count; i++)
    if (i == 0 || sorted[i] != sorted[i - 1])
      sorted[distinct++] = sorted[i];
  for (size_t i = 0; i < count; i++) {
    const uint64_t *at = bsearch(&keys[i], sorted, distinct, sizeof *sorted, key_order);
    numbers[i] = (uint32_t)(at - sorted);
  }
  return distinct;
}

/* Median width of the tolerances of its screens; NaN without one. width: room. */
static double usual_tolerance(const judge *j, const tried *list, size_t count, double *width) {
  size_t known = 0;
  for (size_t i = 0; i < count; i++) {
    uint32_t mounting = j->shop->screens[list[i].part >> 20].current;
    if (mounting == UINT32_MAX)
      continue;
    const tenter_attributes *is = &j->shop->mountings[mounting].is;
    if (!isnan(is->minus + is->plus))
      width[known++] = is->minus + is->plus;
  }
  return known ? tenter_median_of(width, known) : NAN;
}

/* Whether a point's readings lie so far apart that mesh relaxes in between. */
static bool is_slow(const judge *j, const tried *list, const uint32_t *part, size_t count,
                    uint64_t *first) {
  for (size_t i = count; i-- > 0;)
    first[part[i]] = (uint64_t)j->readings->taken[list[i].reading];
  for (size_t i = 0; i < count; i++) {
    double apart = (double)j->readings->taken[list[i].reading] - (double)first[part[i]];
    if (fabs(apart) > most_days * TENTER_DAY)
      return true;
  }
  return false;
}

static tenter_status analyse(const judge *j, const tried *list, size_t count,
                             tenter_meter_study *out, tenter_error *error) {
  uint64_t *keys = tenter_alloc(count, sizeof *keys), *sorted = tenter_alloc(count, sizeof *sorted);
  uint32_t *part = tenter_alloc(count, sizeof *part), *person = tenter_alloc(count, sizeof *person);
  double *value = tenter_alloc(count, sizeof *value);
  tenter_status status =
      keys && sorted && part && person && value ? TENTER_OK : tenter_fail_memory(error);
  if (!status) {
    for (size_t i = 0; i < count; i++)
      keys[i] = list[i].part;
    size_t parts = number(keys, sorted, part, count);
    for (size_t i = 0; i < count; i++) {
      keys[i] = list[i].person;
      value[i] = j->readings->tension[list[i].reading];
    }
    size_t people = number(keys, sorted, person, count);
    tenter_error why = {0};
    status =
        is_slow(j, list, part, count, sorted)
            ? tenter_fail(&why, TENTER_INPUT,
                          "readings of one point lie more than %g days apart, and mesh relaxes",
                          most_days)
            : tenter_gauge_study_run(count, part, person, value, parts, people, &out->study, &why);
    out->tolerance = usual_tolerance(j, list, count, value);
    out->share_of_tolerance = 6 * out->study.gauge.sd / out->tolerance;
    if (status == TENTER_INPUT) {
      out->why = tenter_arena_print(j->arena, "%s", why.message);
      status = out->why ? TENTER_OK : tenter_fail_memory(error);
    } else if (status) {
      tenter_fail(error, status, "%s", why.message);
    }
  }
  tenter_free(keys);
  tenter_free(sorted);
  tenter_free(part);
  tenter_free(person);
  tenter_free(value);
  return status;
}

/* ---- the budget ----------------------------------------------------------------------------- */

static const tenter_meter_study *study_of(const tenter_meter_studies *all, uint32_t meter) {
  for (size_t i = 0; i < all->count; i++)
    if (all->studies[i].meter == meter && !all->studies[i].why)
      return &all->studies[i];
  return NULL;
}

/* Readings of the most frequent layout that is full. */
static size_t usual_positions(const judge *j, uint32_t meter) {
  enum { MOST = 64 };
  size_t seen[MOST] = {0}, best = 0;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (s->full && s->meter == meter && s->count < MOST)
      seen[s->count]++;
  }
  for (size_t n = 1; n < MOST; n++)
    if (seen[n] > seen[best])
      best = n;
  return best > 0 ? best : 1;
}

static tenter_budget budget_of(const judge *j, const tenter_meter_studies *all, uint32_t meter) {
  const tenter_meter_study *study = study_of(all, meter);
  tenter_budget b = {.meter = meter, .positions = usual_positions(j, meter), .studied = study};
  b.calibration = judge__calibration(j, (uint16_t)meter, true, &b.assumed);
  b.resolution = j->meters[meter].resolution / sqrt(12);
  double one = study ? study->study.repeatability.sd : j->noise.reading;
  b.repeatability = one / sqrt((double)b.positions);
  b.reproducibility = study ? study->study.reproducibility.sd : NAN;
  b.session = j->noise.session;
  double apart = study ? fmax(b.session, b.reproducibility) : b.session;
  double squares =
      squared(b.calibration) + squared(b.resolution) + squared(b.repeatability) + squared(apart);
  b.combined = sqrt(squares);
  b.expanded = 2 * b.combined;
  return b;
}

/* ---- all of it ------------------------------------------------------------------------------ */

static tenter_status take_studies(const judge *j, const tried *list, size_t count,
                                  tenter_meter_studies *out, tenter_error *error) {
  tenter_status status = TENTER_OK;
  for (size_t i = 0, end = 0; i < count && !status && out->studies; i = end) {
    while (end < count && list[end].meter == list[i].meter)
      end++;
    tenter_meter_study *study = &out->studies[out->count++];
    uint32_t reading = list[i].reading;
    study->meter = list[i].meter;
    for (size_t k = i; k < end; k++)
      if (j->readings->taken[list[k].reading] > study->last)
        study->last = j->readings->taken[list[k].reading];
    study->readings = end - i;
    study->first = tenter_reading_row(j->readings, reading);
    status = analyse(j, &list[i], end - i, study, error);
  }
  return status;
}

static void note_reproducibility(judge *j, const tenter_meter_studies *all) {
  for (size_t i = 0; i < all->count; i++) {
    const tenter_meter_study *study = &all->studies[i];
    bool used = !study->why && study->meter < j->review->meter_count;
    if (used && study->last <= j->shop->as_of)
      j->meters[study->meter].reproducibility = study->study.reproducibility.sd;
  }
}

tenter_status judge__studies(judge *j, tenter_error *error) {
  if (j->newer) { /* a past week knows the studies that were complete by then */
    j->studies = j->newer->studies;
    note_reproducibility(j, j->studies);
    return TENTER_OK;
  }
  size_t count = gather(j, NULL);
  tried *list = tenter_alloc(count + 1, sizeof *list);
  j->studies = tenter_arena_alloc(j->arena, 1, sizeof *j->studies);
  bool room = list && j->studies;
  if (room) {
    *j->studies = (tenter_meter_studies){0};
    j->studies->studies =
        tenter_arena_alloc(j->arena, j->review->meter_count + 1, sizeof *j->studies->studies);
  }
  tenter_status status = room && j->studies->studies ? TENTER_OK : tenter_fail_memory(error);
  if (!status) {
    gather(j, list);
    qsort(list, count, sizeof *list, tried_order);
    status = take_studies(j, list, count, j->studies, error);
  }
  if (!status)
    note_reproducibility(j, j->studies);
  tenter_free(list);
  return status;
}

tenter_status tenter_meter_studies_make(const tenter_review *review, tenter_meter_studies *out,
                                        tenter_error *error) {
  const judge *j = review->judged;
  *out = *j->studies;
  out->budgets = tenter_arena_alloc(j->arena, review->meter_count + 1, sizeof *out->budgets);
  if (!out->budgets)
    return tenter_fail_memory(error);
  for (uint32_t i = 0; i < review->meter_count; i++)
    out->budgets[i] = budget_of(j, out, i);
  return judge__meter_checks(j, out, error);
}
