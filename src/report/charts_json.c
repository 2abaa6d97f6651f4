/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control charts as JSON: what they chart, their limits and what is behind them, every signal. */
#include "charts_json.h"

#include <math.h>

#include "tenter/base/names.h"

static void value(tenter_json *json, const char *key, double number) {
  tenter_json_number(json, key, number, TENTER_JSON_TENSION);
}

/* ---- names ---------------------------------------------------------------------------------- */

static const tenter_name_kind kinds[TENTER_STREAM_COUNT] = {
    [TENTER_STREAM_LEVEL] = TENTER_NAME_STATION,     [TENTER_STREAM_TILT_X] = TENTER_NAME_STATION,
    [TENTER_STREAM_TILT_Y] = TENTER_NAME_STATION,    [TENTER_STREAM_MESH] = TENTER_NAME_MESH,
    [TENTER_STREAM_LOT] = TENTER_NAME_LOT,           [TENTER_STREAM_STATION] = TENTER_NAME_STATION,
    [TENTER_STREAM_OPERATOR] = TENTER_NAME_OPERATOR, [TENTER_STREAM_SHIFT] = TENTER_NAME_METER,
    [TENTER_STREAM_PLATE] = TENTER_NAME_METER};

static const char *name_of(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return id == TENTER_NO_NAME ? "" : tenter_names_get(review->shop->tables->names[kind], id);
}

const char *chart_mesh(const tenter_review *review, const tenter_review_chart *chart) {
  return name_of(review, TENTER_NAME_MESH, chart->mesh);
}

const char *chart_key(const tenter_review *review, const tenter_review_chart *chart) {
  return name_of(review, kinds[chart->stream], chart->key);
}

const char *chart_key_word(tenter_stream stream) {
  switch (kinds[stream]) {
  case TENTER_NAME_MESH:
    return "mesh";
  case TENTER_NAME_LOT:
    return "lot";
  case TENTER_NAME_OPERATOR:
    return "operator";
  case TENTER_NAME_METER:
    return "meter";
  default:
    return "station";
  }
}

tenter_chart_limits chart_limits_of(const tenter_review *review, const tenter_review_chart *chart) {
  return (tenter_chart_limits){.stream = chart->stream,
                               .mesh = chart_mesh(review, chart),
                               .key = chart_key(review, chart),
                               .limits = chart->limits,
                               .within = chart->within,
                               .between = chart->between,
                               .from = chart->from,
                               .to = chart->to};
}

/* ---- signals and points --------------------------------------------------------------------- */

static void write_sources(tenter_json *json, const tenter_review *review,
                          const tenter_chart_signal *signal) {
  tenter_buffer text = {0};
  tenter_json_open(json, "sources", '[');
  for (uint32_t i = 0; i < signal->source_count; i++) {
    tenter_buffer_clear(&text);
    tenter_buffer_print(&text, "%s:%u", review->shop->tables->sources[signal->sources[i].file].file,
                        (unsigned)signal->sources[i].line);
    const char *string = tenter_buffer_string(&text);
    tenter_json_text(json, NULL, string ? string : "");
  }
  tenter_json_close(json, ']');
  tenter_json_integer(json, "more_sources", signal->more_sources);
  tenter_buffer_release(&text);
}

static void write_signal(tenter_json *json, const tenter_review *review,
                         const tenter_chart_signal *signal) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_time(json, "at", signal->at);
  tenter_json_name(json, "screen", name_of(review, TENTER_NAME_SCREEN, signal->screen));
  tenter_json_text(json, "rule", signal->rule);
  tenter_json_text(json, "text", signal->text);
  tenter_json_flag(json, "new", signal->is_new);
  tenter_json_integer(json, "point", (long long)signal->point);
  tenter_json_open(json, "screens", '[');
  for (size_t i = 0; i < signal->screen_count; i++)
    tenter_json_text(json, NULL, name_of(review, TENTER_NAME_SCREEN, signal->screens[i]));
  tenter_json_close(json, ']');
  write_sources(json, review, signal);
  tenter_json_close(json, '}');
}

static void write_point(tenter_json *json, const tenter_chart_point *point) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_time(json, "at", point->at);
  value(json, "value", point->value);
  tenter_json_integer(json, "count", point->count);
  value(json, "shift", point->shift);
  value(json, "standardised", point->z);
  value(json, "average", point->average);
  value(json, "average_limit", point->average_limit);
  tenter_json_flag(json, "signal", point->met != 0 || point->drift != 0);
  tenter_json_flag(json, "new", point->is_new);
  tenter_json_close(json, '}');
}

/* ---- charts --------------------------------------------------------------------------------- */

static void write_limits(tenter_json *json, const tenter_review_chart *chart) {
  value(json, "centre", chart->limits.centre);
  value(json, "lower", chart->lower);
  value(json, "upper", chart->upper);
  tenter_json_flag(json, "provisional", chart->limits.provisional);
  value(json, "sigma", chart->limits.sigma);
  tenter_json_text(json, "basis", tenter_chart_basis_word(chart->basis));
  tenter_json_integer(json, "limit_points", (long long)chart->limits.subgroups);
  if (chart->from == TENTER_NO_TIME) {
    tenter_json_null(json, "limits_from");
    tenter_json_null(json, "limits_to");
  } else {
    tenter_json_time(json, "limits_from", chart->from);
    tenter_json_time(json, "limits_to", chart->to);
  }
  tenter_json_flag(json, "robust", chart->limits.robust);
  value(json, "autocorrelation", chart->dependence.lag1);
  tenter_json_number(json, "autocorrelation_p", chart->dependence.p_value, TENTER_JSON_PROBABILITY);
  tenter_json_number(json, "false_rate_by_autocorrelation", chart->dependence.false_rate,
                     TENTER_JSON_PROBABILITY);
}

static void write_chart(tenter_json *json, const tenter_review *review,
                        const tenter_review_chart *chart, bool whole) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "name", chart->name);
  tenter_json_text(json, "stream", tenter_stream_code(chart->stream));
  tenter_json_name(json, "mesh", chart_mesh(review, chart));
  tenter_json_name(json, "of", chart_key(review, chart));
  tenter_json_text(json, "unit", tenter_stream_unit(chart->stream));
  tenter_json_flag(json, "from_target", chart->from_target);
  tenter_json_integer(json, "points", (long long)chart->point_count);
  write_limits(json, chart);
  tenter_json_open(json, "signals", '[');
  for (size_t i = 0; i < chart->signal_count; i++)
    write_signal(json, review, &chart->signals[i]);
  tenter_json_close(json, ']');
  if (whole) {
    tenter_json_open(json, "values", '[');
    for (size_t i = 0; i < chart->point_count; i++)
      write_point(json, &chart->points[i]);
    tenter_json_close(json, ']');
  }
  tenter_json_close(json, '}');
}

static void write_rules(tenter_json *json, const tenter_review_charts *charts) {
  tenter_json_open(json, "rules", '[');
  for (size_t i = 0; i < TENTER_RULE_COUNT; i++)
    if (charts->rules & tenter_rule_at(i)->bit)
      tenter_json_text(json, NULL, tenter_rule_at(i)->code);
  tenter_json_close(json, ']');
  value(json, "rules_run_length", charts->rules_run_length);
  value(json, "average_weight", charts->average_weight);
  value(json, "average_width", charts->average_width);
  value(json, "average_run_length", charts->average_run_length);
}

static void write_alarms(tenter_json *json, const tenter_review *review) {
  const tenter_review_charts *charts = &review->charts;
  const tenter_chart_alarms *a = &charts->alarms;
  bool made = a->draws > 0;
  tenter_json_line(json);
  tenter_json_open(json, "chart_alarms", '{');
  value(json, "expected_signals", made ? a->signals : NAN);
  value(json, "expected_signals_low", made ? a->signals_low : NAN);
  value(json, "expected_signals_high", made ? a->signals_high : NAN);
  value(json, "expected_screens", made ? a->screens : NAN);
  value(json, "expected_screens_low", made ? a->screens_low : NAN);
  value(json, "expected_screens_high", made ? a->screens_high : NAN);
  tenter_json_integer(json, "new_signals", (long long)a->seen_signals);
  tenter_json_integer(json, "new_signal_screens", (long long)a->seen_screens);
  tenter_json_integer(json, "too_few_points", (long long)charts->too_few);
  tenter_json_integer(json, "kept_limits_used", (long long)charts->kept_used);
  write_rules(json, charts);
  tenter_json_close(json, '}');
}

void charts_json(tenter_json *json, const tenter_review *review, bool whole) {
  tenter_json_line(json);
  tenter_json_open(json, "charts", '[');
  for (size_t i = 0; i < review->charts.count; i++)
    write_chart(json, review, &review->charts.charts[i], whole);
  tenter_json_close(json, ']');
  write_alarms(json, review);
}

/* ---- trends --------------------------------------------------------------------------------- */

void trends_json(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "trends", '[');
  for (size_t i = 0; i < review->trend_count; i++) {
    const tenter_review_trend *t = &review->trends[i];
    tenter_name_kind kind = t->of[0] == 'm' ? TENTER_NAME_MESH : TENTER_NAME_STATION;
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "of", t->of);
    tenter_json_name(json, "name", name_of(review, kind, t->name));
    tenter_json_integer(json, "weeks", (long long)t->weeks);
    value(json, "slope", t->slope);
    value(json, "slope_low", t->low);
    value(json, "slope_high", t->high);
    tenter_json_number(json, "p", t->p, TENTER_JSON_PROBABILITY);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}
