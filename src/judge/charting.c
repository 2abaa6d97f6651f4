/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One chart: where its limits come from, and its points judged by them.
 *
 * Limits rest on the points before the week of as_of alone; these are judged by plain limits, the
 * points of the week by limits widened for what so few points let estimate (stats/charts.h). Tilts
 * are judged against what the other stations make: the centre is the middle one of the stations'
 * medians, the spread that within stations; with fewer than three stations nobody can say which is
 * odd, and each has its own past. Kept limits, where there are some, judge everything that was not
 * part of them as points to come. */
#include <stdlib.h>
#include <string.h>

#include "charts.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { LEAST_STATIONS = 3 };

static const double median_worth = M_PI / 2; /* variance of a median, of that of a mean */

/* ---- values --------------------------------------------------------------------------------- */

/* Service: a mean over its sd with so many sessions in it. */
static void fill_values(tenter_review_chart *chart) {
  bool service = !isnan(chart->within);
  for (size_t i = 0; i < chart->point_count; i++) {
    tenter_chart_point *p = &chart->points[i];
    p->value = p->mean;
    if (service)
      p->value /= sqrt(squared(chart->between) + squared(chart->within) / p->count);
  }
}

static tenter_subgroup single(double value) {
  return (tenter_subgroup){.count = 1, .mean = value, .deviation = NAN, .range = NAN};
}

static bool is_past(const tenter_review_chart *chart, size_t i) {
  return !chart->points[i].is_new;
}

/* ---- limits --------------------------------------------------------------------------------- */

static tenter_control_options options_of(const judge *j) {
  tenter_control_options options =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  options.provisional_below = (size_t)j->settings->chart_provisional;
  return options;
}

/* The points before the week; a missing one at the end parts them from those of another chart. */
static size_t gather_past(const tenter_review_chart *chart, tenter_subgroup *into) {
  size_t count = 0;
  for (size_t i = 0; i < chart->point_count; i++)
    if (is_past(chart, i))
      into[count++] = single(chart->points[i].value);
  into[count++] = (tenter_subgroup){.mean = NAN, .deviation = NAN, .range = NAN};
  return count;
}

static void see_range(tenter_review_chart *chart, const tenter_review_chart *of) {
  for (size_t i = 0; i < of->point_count; i++) {
    tenter_time at = of->points[i].at;
    if (!is_past(of, i))
      continue;
    if (chart->from == TENTER_NO_TIME || at < chart->from)
      chart->from = at;
    if (chart->to == TENTER_NO_TIME || at > chart->to)
      chart->to = at;
  }
}

static tenter_status own_limits(judge *j, tenter_review_chart *chart, tenter_error *error) {
  tenter_subgroup *past = tenter_alloc(chart->point_count + 1, sizeof *past);
  if (!past)
    return tenter_fail_memory(error);
  tenter_control_options options = options_of(j);
  size_t count = gather_past(chart, past);
  tenter_status status = tenter_control_estimate(past, count, &options, &chart->limits, error);
  chart->basis = TENTER_BASIS_OWN;
  see_range(chart, chart);
  tenter_free(past);
  return status;
}

static double past_median(const tenter_review_chart *chart, double *room) {
  size_t count = 0;
  for (size_t i = 0; i < chart->point_count; i++)
    if (is_past(chart, i))
      room[count++] = chart->points[i].value;
  return tenter_median_of(room, count);
}

/* One set of limits for charts first .. end - 1: all stations' points, each station apart. */
static tenter_status common_limits(judge *j, size_t first, size_t end, tenter_error *error) {
  tenter_review_chart *charts = j->charting->charts;
  size_t most = 0, count = 0;
  for (size_t c = first; c < end; c++)
    most += charts[c].point_count + 1;
  tenter_subgroup *past = tenter_alloc(most, sizeof *past);
  double *room = tenter_alloc(most, sizeof *room),
         *medians = tenter_alloc(end - first, sizeof *medians);
  bool done = past && room && medians;
  tenter_control_limits limits = {0};
  tenter_control_options options = options_of(j);
  options.robust = TENTER_ROBUST_ALWAYS;
  for (size_t c = first; done && c < end; c++) {
    count += gather_past(&charts[c], &past[count]);
    medians[c - first] = past_median(&charts[c], room);
  }
  tenter_status status = done ? tenter_control_estimate(past, count, &options, &limits, error)
                              : tenter_fail_memory(error);
  if (!status) {
    limits.centre = tenter_median_of(medians, end - first);
    limits.centre_weight = (double)limits.subgroups / squared(median_worth);
    for (size_t c = first; c < end; c++) {
      charts[c].limits = limits;
      charts[c].basis = TENTER_BASIS_OTHERS;
      for (size_t other = first; other < end; other++)
        see_range(&charts[c], &charts[other]);
    }
  }
  tenter_free(past);
  tenter_free(room);
  tenter_free(medians);
  return status;
}

/* ---- kept limits ---------------------------------------------------------------------------- */

static const char *name_of(const judge *j, tenter_name_kind kind, uint32_t id) {
  return id == TENTER_NO_NAME ? "" : tenter_names_get(j->tables->names[kind], id);
}

const char *judge__chart_key(const judge *j, const tenter_review_chart *chart) {
  static const tenter_name_kind kinds[TENTER_STREAM_COUNT] = {
      [TENTER_STREAM_LEVEL] = TENTER_NAME_STATION,
      [TENTER_STREAM_TILT_X] = TENTER_NAME_STATION,
      [TENTER_STREAM_TILT_Y] = TENTER_NAME_STATION,
      [TENTER_STREAM_MESH] = TENTER_NAME_MESH,
      [TENTER_STREAM_LOT] = TENTER_NAME_LOT,
      [TENTER_STREAM_STATION] = TENTER_NAME_STATION,
      [TENTER_STREAM_OPERATOR] = TENTER_NAME_OPERATOR,
      [TENTER_STREAM_SHIFT] = TENTER_NAME_METER,
      [TENTER_STREAM_PLATE] = TENTER_NAME_METER};
  return name_of(j, kinds[chart->stream], chart->key);
}

static bool take_kept(judge *j, tenter_review_chart *chart, const tenter_chart_limits *kept,
                      size_t count) {
  for (size_t i = 0; i < count; i++)
    if (kept[i].stream == chart->stream && strcmp(kept[i].key, judge__chart_key(j, chart)) == 0 &&
        strcmp(kept[i].mesh, name_of(j, TENTER_NAME_MESH, chart->mesh)) == 0) {
      chart->limits = kept[i].limits;
      chart->within = kept[i].within;
      chart->between = kept[i].between;
      chart->from = kept[i].from;
      chart->to = kept[i].to;
      chart->basis = TENTER_BASIS_KEPT;
      return true;
    }
  return false;
}

/* ---- all limits of a run of charts ---------------------------------------------------------- */

static bool finish(const judge *j, tenter_review_chart *chart) {
  tenter_control_bounds bounds = {NAN, NAN, NAN, NAN, NAN};
  tenter_error ignored;
  if (tenter_control_bounds_at(&chart->limits, 1, TENTER_CONTROL_NEXT, &bounds, &ignored))
    bounds.lower = bounds.upper = NAN; /* limits without bounds judge nothing */
  chart->lower = bounds.lower;
  chart->upper = bounds.upper;
  if (!j->texts)
    return true;
  double *past = tenter_alloc(chart->point_count + 1, sizeof *past);
  size_t count = 0;
  for (size_t i = 0; past && i < chart->point_count; i++)
    if (is_past(chart, i))
      past[count++] = chart->points[i].value;
  if (past)
    chart->dependence = tenter_control_dependence_of(past, count);
  tenter_free(past);
  return past;
}

tenter_status judge__chart_limits(judge *j, size_t first, size_t end,
                                  const tenter_chart_limits *kept, size_t kept_count,
                                  tenter_error *error) {
  tenter_review_chart *charts = j->charting->charts;
  bool tilts = first < end && (charts[first].stream == TENTER_STREAM_TILT_X ||
                               charts[first].stream == TENTER_STREAM_TILT_Y);
  bool common = tilts && end - first >= LEAST_STATIONS;
  tenter_status status = TENTER_OK;
  for (size_t c = first; c < end; c++) {
    fill_values(&charts[c]);
    charts[c].from = charts[c].to = TENTER_NO_TIME;
  }
  if (common)
    status = common_limits(j, first, end, error);
  for (size_t c = first; c < end && !status; c++) {
    if (take_kept(j, &charts[c], kept, kept_count))
      fill_values(&charts[c]);
    else if (!common)
      status = own_limits(j, &charts[c], error);
    if (!status && !finish(j, &charts[c]))
      status = tenter_fail_memory(error);
  }
  return status;
}

/* ---- points --------------------------------------------------------------------------------- */

static tenter_control_when when_of(const tenter_review_chart *chart, const tenter_chart_point *p) {
  bool past = chart->basis == TENTER_BASIS_KEPT ? p->at <= chart->to : !p->is_new;
  return past ? TENTER_CONTROL_PAST : TENTER_CONTROL_NEXT;
}

void judge__chart_points(tenter_review_chart *chart, const chart_scheme *scheme) {
  tenter_rules_stream rules;
  tenter_ewma average;
  bool averaged = scheme->weight > 0 && tenter_stream_averaged(chart->stream);
  tenter_rules_start(&rules, scheme->rules, true);
  tenter_ewma_start(&average, scheme->weight, scheme->width);
  for (size_t i = 0; i < chart->point_count; i++) {
    tenter_chart_point *p = &chart->points[i];
    p->z = tenter_control_z(&chart->limits, 1, p->value, when_of(chart, p));
    p->met = tenter_rules_step(&rules, p->z);
    p->average = p->average_limit = NAN;
    p->drift = 0;
    if (averaged) {
      tenter_ewma_point now = tenter_ewma_step(&average, p->z);
      p->average = now.value;
      p->average_limit = now.limit;
      p->drift = (signed char)now.signal;
    }
    if (!judge__signals(p))
      continue;
    tenter_rules_start(&rules, scheme->rules, true); /* one cause is told once */
    tenter_ewma_start(&average, scheme->weight, scheme->width);
  }
}
