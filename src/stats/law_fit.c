/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fitting a law: check what came, copy it into the workspace, score the law's starts, search from
 * the best of them, reweight where asked to. The result is filled in law_result.c. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "law_internal.h"
#include "tenter/base/alloc.h"

enum { ROBUST_ROUNDS = 100, MOST_SEARCHES = 3 };

tenter_status tenter_law_space_new(size_t count, size_t series, tenter_law_space **space,
                                   tenter_error *error) {
  static const size_t columns[] = {
      1, 1, 1, 1, 1, 1, LAW_LINEAR, LAW_LINEAR, 1, 1, 1, TENTER_LAW_PARAMETERS, 1};
  enum { PARTS = sizeof columns / sizeof columns[0] };
  if (count == 0 || series == 0 || count > SIZE_MAX / 32)
    return tenter_fail(error, TENTER_USAGE, "a law can't be fitted to %zu points in %zu series",
                       count, series);
  tenter_law_space *made = tenter_alloc(1, sizeof *made);
  if (!made)
    return tenter_fail_memory(error);
  size_t total = 0;
  for (size_t k = 0; k < PARTS; k++)
    total += columns[k];
  made->block = tenter_alloc(count * total, sizeof *made->block);
  made->series = tenter_alloc(series, sizeof *made->series);
  if (!made->block || !made->series) {
    tenter_law_space_free(made);
    return tenter_fail_memory(error);
  }
  made->capacity = count;
  made->series_capacity = series;
  double **parts[PARTS] = {&made->t,     &made->log_t,  &made->y,   &made->prior, &made->robust,
                           &made->root,  &made->phi,    &made->q,   &made->work,  &made->r,
                           &made->trial, &made->matrix, &made->last};
  double *at = made->block;
  for (size_t k = 0; k < PARTS; k++) {
    *parts[k] = at;
    at += columns[k] * count;
  }
  *space = made;
  return TENTER_OK;
}

void tenter_law_space_free(tenter_law_space *space) {
  if (!space)
    return;
  tenter_free(space->block);
  tenter_free(space->series);
  tenter_free(space);
}

/* ---- what came ---- */

static tenter_status check_point(const law_row *row, const tenter_law_points *points, size_t i,
                                 tenter_error *error) {
  double age = points->age_hours[i], value = points->value[i];
  double weight = points->weight ? points->weight[i] : 1;
  if (!isfinite(age) || !isfinite(value) || age < 0 || (row->info.needs_age && age <= 0))
    return tenter_fail(error, TENTER_INPUT,
                       "point %zu has age %g h and value %g: the law '%s' needs finite values and "
                       "ages %s 0",
                       i + 1, age, value, row->info.name, row->info.needs_age ? "above" : "from");
  if (!isfinite(weight) || weight < 0)
    return tenter_fail(error, TENTER_INPUT, "point %zu has weight %g: weights must be 0 or more",
                       i + 1, weight);
  return TENTER_OK;
}

/* The series' places; points that determine something: no more of a series than its parameters. */
static tenter_status load_series(tenter_law_space *space, const tenter_law_points *points,
                                 size_t *needed, tenter_error *error) {
  size_t end = 0, linear = space->row->info.linear;
  linear -= space->plateau == TENTER_LAW_PLATEAU_KNOWN;
  space->series_count = points->series ? points->series : 1;
  space->weighty = *needed = 0;
  for (size_t k = 0; k < space->series_count; k++) {
    size_t first = points->series ? points->first[k] : 0;
    size_t next = points->series ? points->first[k + 1] : points->count, weighty = 0;
    if (first != end || next < first || next > points->count)
      return tenter_fail(error, TENTER_USAGE, "series %zu of a fit does not follow on the last", k);
    for (size_t i = first; i < next; i++)
      weighty += !points->weight || points->weight[i] > 0;
    space->series[k] = (law_series){.first = first, .n = next - first};
    space->weighty += weighty;
    *needed += weighty < linear && points->series ? weighty : linear;
    end = next;
  }
  *needed += space->searched;
  if (end != points->count)
    return tenter_fail(error, TENTER_USAGE, "the series of a fit leave points out");
  return TENTER_OK;
}

static tenter_status load(tenter_law_space *space, const tenter_law_points *points,
                          tenter_error *error) {
  size_t needed = 0;
  if (points->count > space->capacity || points->series > space->series_capacity)
    return tenter_fail(error, TENTER_USAGE, "%zu points in %zu series have no room in a fit",
                       points->count, points->series);
  for (size_t i = 0; i < points->count; i++) {
    tenter_status status = check_point(space->row, points, i, error);
    if (status != TENTER_OK)
      return status;
  }
  space->count = points->count;
  space->searched = law_searched(space->row);
  tenter_status status = load_series(space, points, &needed, error);
  if (status != TENTER_OK)
    return status;
  if (space->weighty < needed)
    return tenter_fail(error, TENTER_INPUT,
                       "%zu readings can't determine the %zu parameters of the law '%s'",
                       space->weighty, needed, space->row->info.name);
  for (size_t i = 0; i < points->count; i++) {
    space->t[i] = points->age_hours[i];
    space->log_t[i] = log(points->age_hours[i]);
    space->y[i] = points->value[i];
    space->prior[i] = points->weight ? points->weight[i] : 1;
    space->robust[i] = 1;
  }
  return TENTER_OK;
}

/* root from the two kinds of weights, and the size of the data. */
static void set_root(tenter_law_space *space) {
  double square = 0;
  for (size_t i = 0; i < space->count; i++) {
    double weight = space->prior[i] * space->robust[i];
    space->root[i] = weight == 1 ? 1 : sqrt(weight);
    square += weight * space->y[i] * space->y[i];
  }
  space->size = sqrt(square);
}

/* ---- bounds and starts ---- */

/* Least and greatest log age above 0. */
static void log_age_range(const tenter_law_space *space, double *least, double *greatest) {
  *least = INFINITY;
  *greatest = -INFINITY;
  for (size_t i = 0; i < space->count; i++)
    if (space->t[i] > 0) {
      *least = fmin(*least, space->log_t[i]);
      *greatest = fmax(*greatest, space->log_t[i]);
    }
  if (*least > *greatest)
    *least = *greatest = 0;
}

static tenter_status set_bounds(tenter_law_space *space, const tenter_law_options *options,
                                double least, double greatest, tenter_error *error) {
  const tenter_law_info *info = &space->row->info;
  for (size_t k = 0; k < space->searched; k++) {
    size_t parameter = info->linear + k;
    bool time = info->is_time[parameter];
    double low = options->low[parameter], high = options->high[parameter];
    space->low[k] = time ? least + log(space->row->low[k]) : space->row->low[k];
    space->high[k] = time ? greatest + log(space->row->high[k]) : space->row->high[k];
    if (low == 0 && high == 0)
      continue;
    if (!(low <= high) || (time && !(low > 0)) || !isfinite(low) || !isfinite(high))
      return tenter_fail(error, TENTER_USAGE, "%s can't be held between %g and %g",
                         info->parameter[parameter], low, high);
    space->low[k] = time ? log(low) : low;
    space->high[k] = time ? log(high) : high;
  }
  space->plateau_min = options->plateau_min;
  if (!isfinite(options->plateau_min))
    return tenter_fail(error, TENTER_USAGE, "the least plateau of a law is not a number");
  return TENTER_OK;
}

/* The law's starts within the bounds, best first. */
static void score_starts(tenter_law_space *space, double least, double greatest,
                         double start[LAW_STARTS][LAW_SEARCHED], tenter_law_curve *curve) {
  const law_row *row = space->row;
  double rss[LAW_STARTS];
  for (size_t k = 0; k < row->starts; k++) {
    double s[LAW_SEARCHED] = {0}, square = 0;
    for (size_t j = 0; j < space->searched; j++) {
      double place = row->start[k][j];
      if (row->info.is_time[row->info.linear + j])
        place = least + place * (greatest - least);
      s[j] = fmin(fmax(place, space->low[j]), space->high[j]);
    }
    law_residual(space, s, space->r);
    for (size_t i = 0; i < space->count; i++)
      square += space->r[i] * space->r[i];
    size_t at = k;
    for (; at > 0 && rss[at - 1] > square; at--) {
      rss[at] = rss[at - 1];
      memcpy(start[at], start[at - 1], sizeof start[at]);
    }
    rss[at] = square;
    memcpy(start[at], s, sizeof start[at]);
  }
  curve->evaluations += row->starts;
}

static bool at_bound(const tenter_law_space *space, const double *s) {
  for (size_t k = 0; k < space->searched; k++)
    if (s[k] <= space->low[k] || s[k] >= space->high[k])
      return true;
  return false;
}

/* One search from s; kept in the space where it is the first or better. */
static void follow(tenter_law_space *space, const double *from, tenter_law_curve *curve) {
  double s[LAW_SEARCHED];
  fit_outcome outcome;
  memcpy(s, from, sizeof s);
  law_search(space, space->low, space->high, s, &outcome);
  curve->iterations += outcome.iterations;
  curve->evaluations += outcome.evaluations;
  bool good = tenter_fit_stop_minimum(outcome.stop),
       was_good = tenter_fit_stop_minimum(curve->stop);
  if (curve->searches++ == 0 || (good == was_good ? outcome.rss < space->rss : good)) {
    memcpy(space->x, s, sizeof s);
    space->rss = outcome.rss;
    curve->stop = outcome.stop;
  }
}

static void search_from_starts(tenter_law_space *space, const tenter_law_options *options,
                               double least, double greatest, tenter_law_curve *curve) {
  double start[LAW_STARTS][LAW_SEARCHED] = {{0}};
  size_t starts = space->row->starts;
  size_t wanted = options->searches ? options->searches : space->row->searches;
  if (starts > 0)
    score_starts(space, least, greatest, start, curve);
  for (size_t k = 0; k == 0 || k < starts; k++) {
    bool bad = k > 0 && (!tenter_fit_stop_minimum(curve->stop) || at_bound(space, space->x));
    if (k > 0 && k >= wanted && !(bad && k < MOST_SEARCHES))
      break;
    follow(space, start[k], curve);
  }
}

/* ---- robust weights ---- */

/* New weights from the residuals at x; the greatest change. False where the scale is nothing. */
static bool reweight(tenter_law_space *space, tenter_psi psi, double least_scale, double *scale,
                     double *change) {
  law_residual(space, space->x, space->r);
  law_plain_residual(space, space->last);
  size_t weighty = 0;
  for (size_t i = 0; i < space->count; i++) {
    space->last[i] *= sqrt(space->prior[i]);
    if (space->prior[i] > 0)
      space->trial[weighty++] = space->last[i];
  }
  *scale = fmax(tenter_mad_scale(space->trial, weighty, space->r), least_scale);
  *change = 0;
  if (!(*scale > 1e-14 * space->size))
    return false;
  for (size_t i = 0; i < space->count; i++) {
    double weight = tenter_psi_weight(psi, space->last[i] / *scale);
    *change = fmax(*change, fabs(weight - space->robust[i]));
    space->robust[i] = weight;
  }
  return true;
}

/* Reweights and searches in turn; false where the weights did not settle. */
static bool iterate(tenter_law_space *space, tenter_psi psi, double least_scale, double *scale,
                    tenter_law_curve *curve) {
  double change;
  for (size_t round = 0; round < ROBUST_ROUNDS; round++) {
    fit_outcome outcome;
    if (!reweight(space, psi, least_scale, scale, &change))
      return true;
    if (change < 1e-9)
      return true;
    set_root(space);
    law_search(space, space->low, space->high, space->x, &outcome);
    curve->iterations += outcome.iterations;
    curve->evaluations += outcome.evaluations;
    curve->stop = outcome.stop;
    space->rss = outcome.rss;
  }
  return false;
}

static double make_robust(tenter_law_space *space, const tenter_law_options *options,
                          tenter_law_curve *curve) {
  double scale = NAN;
  if (options->psi == TENTER_PSI_NONE)
    return scale;
  bool settled = iterate(space, TENTER_PSI_HUBER, options->least_scale, &scale, curve);
  if (options->psi == TENTER_PSI_BISQUARE)
    settled = iterate(space, TENTER_PSI_BISQUARE, options->least_scale, &scale, curve);
  if (!settled)
    curve->stop = TENTER_FIT_STOP_ITERATIONS;
  return scale;
}

/* ---- all of it ---- */

/* The quicker phase first. */
static void sort_phases(tenter_law_space *space) {
  if (!space->row->interchangeable || space->x[0] <= space->x[1] ||
      space->low[0] != space->low[1] || space->high[0] != space->high[1])
    return;
  double swap = space->x[0];
  space->x[0] = space->x[1];
  space->x[1] = swap;
}

static void give_series(const tenter_law_space *space, double *series_linear) {
  size_t linear = space->row->info.linear;
  for (size_t k = 0; k < space->series_count; k++)
    for (size_t j = 0; j < linear; j++)
      series_linear[k * linear + j] = space->series[k].used[j] || (j == 0 && space->series[k].held)
                                          ? space->series[k].c[j]
                                          : NAN;
}

tenter_status tenter_law_fit(tenter_law_space *space, tenter_law law,
                             const tenter_law_points *points, const tenter_law_options *options,
                             tenter_law_curve *curve, double *residual, double *robust,
                             double *series_linear, tenter_error *error) {
  static const tenter_law_options usual = {0};
  double least, greatest;
  if (!options)
    options = &usual;
  space->row = law_row_of(law);
  space->plateau = space->row->plateau ? options->plateau : TENTER_LAW_PLATEAU_FREE;
  tenter_status status = load(space, points, error);
  if (status != TENTER_OK)
    return status;
  log_age_range(space, &least, &greatest);
  status = set_bounds(space, options, least, greatest, error);
  if (status != TENTER_OK)
    return status;
  memset(curve, 0, sizeof *curve);
  curve->law = law;
  bool is_robust = options->psi != TENTER_PSI_NONE;
  space->tolerance = options->tolerance > 0 ? options->tolerance : is_robust ? 1e-16 : 1e-14;
  set_root(space);
  search_from_starts(space, options, least, greatest, curve);
  double scale = make_robust(space, options, curve);
  sort_phases(space);
  law_residual(space, space->x, space->r);
  law_plain_residual(space, space->last);
  if (residual)
    memcpy(residual, space->last, space->count * sizeof *residual);
  if (robust)
    memcpy(robust, space->robust, space->count * sizeof *robust);
  if (series_linear)
    give_series(space, series_linear);
  law_result(space, options->psi, scale, curve);
  return TENTER_OK;
}
