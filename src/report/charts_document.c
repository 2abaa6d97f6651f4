/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `charts` as a document: what is new, every chart with its limits, what luck alone would give,
 * pictures, and how to read it all. */
#include "charts_document.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "charts_json.h"
#include "review_parts.h"
#include "tenter/report/charts.h"

enum { MOST_DRAWN = 24, MOST_NAMED = 6, WIDTH = 448, HEIGHT = 150, LAYERS = 7 };

size_t chart_new_signals(const tenter_review_chart *chart) {
  size_t count = 0;
  for (size_t i = 0; i < chart->signal_count; i++)
    count += chart->signals[i].is_new;
  return count;
}

/* 0: new signals; 1: older ones; 2: calm. */
static int rank_of(const tenter_review_chart *chart) {
  return chart_new_signals(chart) > 0 ? 0 : chart->signal_count > 0 ? 1 : 2;
}

size_t charts_to_draw(const tenter_review *review, const tenter_review_chart **list, size_t most) {
  size_t count = 0;
  for (int rank = 0; rank < 3; rank++)
    for (size_t i = 0; i < review->charts.count && count < most; i++) {
      const tenter_review_chart *chart = &review->charts.charts[i];
      if (chart->limits.state == TENTER_CONTROL_READY && rank_of(chart) == rank)
        list[count++] = chart;
    }
  return count;
}

/* ---- new signals ---------------------------------------------------------------------------- */

static const char *screens_of(review_parts *parts, const tenter_chart_signal *signal) {
  tenter_document *d = parts->document;
  const char *all = "";
  for (size_t i = 0; i < signal->screen_count && i < MOST_NAMED; i++) {
    const char *one = part_name(parts->review, TENTER_NAME_SCREEN, signal->screens[i]);
    all = i == 0 ? one : tenter_document_print(d, "%s, %s", all, one);
  }
  if (signal->screen_count <= MOST_NAMED)
    return all;
  return tenter_say_fill(d->arena, TENTER_SAY_AND_MORE, all,
                         part_count(d, signal->screen_count - MOST_NAMED), (const char *)NULL);
}

static void signal_row(review_parts *parts, tenter_block *table, const tenter_review_chart *chart,
                       const tenter_chart_signal *signal) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(chart->name);
  row[1] = tenter_cell_time((tenter_when){signal->at, true});
  row[2] = tenter_cell_text(screens_of(parts, signal));
  row[3] = tenter_cell_text(signal->shown);
}

static void signal_table(review_parts *parts, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_CHART), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_WHEN), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_SIGNAL), TENTER_CELLS_TEXT, false}};
  const tenter_review_charts *charts = &parts->review->charts;
  tenter_block *table =
      tenter_document_table(parts->document, section, "signals-table", "", columns, 4);
  for (size_t c = 0; c < charts->count; c++)
    for (size_t i = 0; i < charts->charts[c].signal_count; i++)
      if (charts->charts[c].signals[i].is_new && table != NULL && table->row_count < MOST_ROWS)
        signal_row(parts, table, &charts->charts[c], &charts->charts[c].signals[i]);
  tenter_document_prune(table);
}

static void new_signals(review_parts *parts) {
  if (parts->review->charts.alarms.seen_signals > 0)
    signal_table(parts, tenter_document_section(parts->document, NULL, "signals",
                                                tenter_say_text(TENTER_SAY_NEW_SIGNALS),
                                                TENTER_SECTION_PLAIN));
}

/* ---- all charts ----------------------------------------------------------------------------- */

static const char *note_of(tenter_document *d, const tenter_review_chart *chart) {
  if (chart->limits.state != TENTER_CONTROL_READY)
    return tenter_say_text(TENTER_SAY_CHART_FLAT);
  const char *basis = chart->basis == TENTER_BASIS_KEPT ? tenter_say_text(TENTER_SAY_BASIS_KEPT)
                      : chart->basis == TENTER_BASIS_OTHERS
                          ? tenter_say_text(TENTER_SAY_BASIS_OTHERS)
                          : "";
  const char *provisional =
      chart->limits.provisional ? tenter_say_text(TENTER_SAY_PROVISIONAL) : "";
  return tenter_document_print(d, "%s%s%s", provisional, *provisional && *basis ? ", " : "", basis);
}

static void chart_row(review_parts *parts, tenter_block *table, const tenter_review_chart *chart,
                      bool whole) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(chart->name);
  row[1] = tenter_cell_number((double)chart->point_count, 0);
  row[2] = tenter_cell_number(chart->limits.centre, 2);
  row[3] = tenter_cell_number(chart->lower, 2);
  row[4] = tenter_cell_number(chart->upper, 2);
  row[5] = tenter_cell_number((double)chart->signal_count, 0);
  row[6] = tenter_cell_number((double)chart_new_signals(chart), 0);
  if (!whole)
    return;
  row[7] = tenter_cell_text(tenter_stream_unit(chart->stream));
  row[8] = tenter_cell_number((double)chart->limits.subgroups, 0);
  row[9] = tenter_cell_time((tenter_when){chart->from, true});
  row[10] = tenter_cell_time((tenter_when){chart->to, true});
  row[11] = tenter_cell_text(note_of(parts->document, chart));
}

static void all_charts(review_parts *parts, bool whole) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_CHART), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_POINTS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CENTRE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOWER), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UPPER), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SIGNALS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NEW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UNIT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BEHIND), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DATA_FROM), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DATA_TO), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOTE), TENTER_CELLS_TEXT, false}};
  tenter_document *d = parts->document;
  const tenter_review_charts *charts = &parts->review->charts;
  tenter_block *section = tenter_document_section(
      d, NULL, "charts", tenter_say_text(TENTER_SAY_ALL_CHARTS), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_ALL_CHARTS_LEAD);
  tenter_block *table =
      tenter_document_table(d, section, "charts-table", "", columns, whole ? 12 : 7);
  for (size_t c = 0; c < charts->count && c < MOST_ROWS; c++)
    chart_row(parts, table, &charts->charts[c], whole);
  tenter_document_prune(table);
  if (charts->too_few > 0)
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_TOO_FEW_POINTS,
                                              part_count(d, charts->too_few), (const char *)NULL));
}

/* ---- pictures ------------------------------------------------------------------------------- */

typedef struct studio {
  tenter_arena *arena;
  bool failed;
} studio;

static double *take(studio *s, size_t count) {
  double *room = tenter_arena_alloc(s->arena, count, sizeof *room);
  s->failed |= room == NULL;
  return room;
}

static tenter_layer level(studio *s, tenter_layer_kind kind, tenter_paint paint, double y,
                          double last) {
  double *xs = take(s, 2), *ys = take(s, 2);
  if (s->failed)
    return (tenter_layer){0};
  xs[0] = 0.5;
  xs[1] = last;
  ys[0] = ys[1] = y;
  return (tenter_layer){.kind = kind, .paint = paint, .x = xs, .y = ys, .count = 2};
}

/* The line parts the week of as_of from its past. */
static tenter_layer week_line(studio *s, const tenter_review_chart *chart, double low,
                              double high) {
  size_t first = chart->point_count;
  for (size_t i = chart->point_count; i-- > 0 && chart->points[i].is_new;)
    first = i;
  double *xs = take(s, 2), *ys = take(s, 2);
  if (s->failed || first == chart->point_count)
    return (tenter_layer){0};
  xs[0] = xs[1] = (double)first + 0.5;
  ys[0] = low;
  ys[1] = high;
  return (tenter_layer){
      .kind = TENTER_LAYER_DASHES, .paint = TENTER_PAINT_QUIET, .x = xs, .y = ys, .count = 2};
}

static void draw_chart(studio *s, const tenter_review_chart *chart, tenter_chart *out) {
  size_t n = chart->point_count, signals = 0;
  double *x = take(s, n), *y = take(s, n), *sx = take(s, n), *sy = take(s, n);
  tenter_layer *layers = tenter_arena_alloc(s->arena, LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  double low = chart->lower, high = chart->upper, last = (double)n + 0.5;
  for (size_t i = 0; i < n; i++) {
    const tenter_chart_point *p = &chart->points[i];
    x[i] = (double)i + 1;
    y[i] = p->value;
    low = fmin(low, p->value);
    high = fmax(high, p->value);
    if (p->met == 0 && p->drift == 0)
      continue;
    sx[signals] = x[i];
    sy[signals++] = y[i];
  }
  double edge = 0.05 * (high - low);
  *out = (tenter_chart){.width = WIDTH,
                        .height = HEIGHT,
                        .x_least = 0.5,
                        .x_most = last,
                        .y_least = low - edge,
                        .y_most = high + edge,
                        .x_label = "",
                        .y_label = tenter_stream_unit(chart->stream),
                        .layers = layers,
                        .layer_count = LAYERS};
  layers[0] = level(s, TENTER_LAYER_RULE, TENTER_PAINT_TARGET, chart->limits.centre, last);
  layers[1] = level(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, chart->lower, last);
  layers[2] = level(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, chart->upper, last);
  layers[3] = week_line(s, chart, out->y_least, out->y_most);
  layers[4] = (tenter_layer){
      .kind = TENTER_LAYER_RULE, .paint = TENTER_PAINT_QUIET, .x = x, .y = y, .count = n};
  layers[5] = (tenter_layer){
      .kind = TENTER_LAYER_POINTS, .paint = TENTER_PAINT_INK, .x = x, .y = y, .count = n};
  layers[6] = (tenter_layer){
      .kind = TENTER_LAYER_POINTS, .paint = TENTER_PAINT_ACT, .x = sx, .y = sy, .count = signals};
}

static const char *in_words(tenter_document *d, const tenter_review_chart *chart) {
  return tenter_say_fill(d->arena, TENTER_SAY_ALT_CHART, chart->name,
                         part_count(d, chart->point_count), part_fixed(d, chart->limits.centre, 2),
                         part_fixed(d, chart->lower, 2), part_fixed(d, chart->upper, 2),
                         tenter_stream_unit(chart->stream), part_count(d, chart->signal_count),
                         part_count(d, chart_new_signals(chart)), (const char *)NULL);
}

static void pictures(review_parts *parts, char *missing) {
  tenter_document *d = parts->document;
  const tenter_review_chart *list[MOST_DRAWN];
  tenter_chart drawn[MOST_DRAWN];
  tenter_text svg[MOST_DRAWN] = {{NULL, 0}};
  tenter_error error = {0};
  studio s = {.arena = d->arena};
  size_t count = charts_to_draw(parts->review, list, MOST_DRAWN);
  if (count == 0)
    return;
  for (size_t i = 0; i < count && !s.failed; i++) {
    draw_chart(&s, list[i], &drawn[i]);
    drawn[i].form = d->form;
  }
  d->failed |= s.failed;
  if (s.failed)
    return;
  if (tenter_charts_draw(drawn, count, d->arena, svg, &error) != TENTER_OK)
    snprintf(missing, TENTER_MESSAGE_SIZE, "%s", error.message);
  tenter_block *section = tenter_document_section(
      d, NULL, "pictures", tenter_say_text(TENTER_SAY_CHART_PICTURES), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_CHART_PICTURES_LEAD);
  if (*missing)
    tenter_document_paragraph(
        d, section, tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES, missing, (const char *)NULL));
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t i = 0; i < count; i++)
    tenter_document_figure(d, figures,
                           (tenter_figure){.title = list[i]->name,
                                           .caption = tenter_stream_words(list[i]->stream),
                                           .alternative = in_words(d, list[i]),
                                           .svg = svg[i],
                                           .width = WIDTH,
                                           .height = HEIGHT});
}

/* ---- words ---------------------------------------------------------------------------------- */

/* What was seen, and what luck would give. */
static void seen_and_luck(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  const tenter_review_charts *charts = &parts->review->charts;
  const tenter_chart_alarms *a = &charts->alarms;
  tenter_document_paragraph(d, section,
                            tenter_say_fill(d->arena, TENTER_SAY_CHARTS_SEEN,
                                            part_count(d, charts->count),
                                            part_count(d, a->seen_signals),
                                            part_count(d, a->seen_screens), (const char *)NULL));
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_CHARTS_LUCK, part_fixed(d, a->signals, 1),
                      part_fixed(d, a->signals_low, 0), part_fixed(d, a->signals_high, 0),
                      part_fixed(d, a->screens, 1), part_fixed(d, a->screens_low, 0),
                      part_fixed(d, a->screens_high, 0), (const char *)NULL));
}

static void headline(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review_charts *charts = &parts->review->charts;
  if (charts->count == 0) {
    part_say(d, NULL, TENTER_SAY_NO_CHARTS);
    return;
  }
  seen_and_luck(parts, NULL);
  if (charts->kept_used > 0)
    tenter_document_paragraph(d, NULL,
                              tenter_say_fill(d->arena, TENTER_SAY_CHARTS_KEPT,
                                              part_count(d, charts->kept_used),
                                              part_count(d, charts->count), (const char *)NULL));
}

void part_charts(review_parts *parts, bool brief) {
  const tenter_review_charts *charts = &parts->review->charts;
  if (charts->count == 0)
    return;
  tenter_block *section =
      tenter_document_section(parts->document, NULL, "signals",
                              tenter_say_text(TENTER_SAY_TITLE_CHARTS), TENTER_SECTION_PLAIN);
  seen_and_luck(parts, section);
  if (!brief && charts->alarms.seen_signals > 0)
    signal_table(parts, section);
}

/* Neighbouring points that are alike, and what that does to limits. */
static void say_dependence(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  for (size_t c = 0, said = 0; c < parts->review->charts.count && said < MOST_NAMED; c++) {
    const tenter_review_chart *chart = &parts->review->charts.charts[c];
    if (!(chart->dependence.p_value < 0.01 && chart->dependence.lag1 > 0))
      continue;
    said++;
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_DEPENDENCE, chart->name,
                                              part_fixed(d, chart->dependence.lag1, 2),
                                              part_fixed(d, 1 / chart->dependence.false_rate, 0),
                                              part_fixed(d, chart->dependence.widen, 2),
                                              (const char *)NULL));
  }
}

static void terms(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review_charts *charts = &parts->review->charts;
  tenter_block *section = tenter_document_section(
      d, NULL, "reading", tenter_say_text(TENTER_SAY_CHART_TERMS), TENTER_SECTION_PLAIN);
  for (size_t i = 0; i < TENTER_RULE_COUNT; i++) {
    const tenter_rule *rule = tenter_rule_at(i);
    if (charts->rules & rule->bit)
      tenter_document_paragraph(d, section,
                                tenter_say_fill(d->arena, TENTER_SAY_RULE, rule->code,
                                                tenter_chart_rule_words(i), rule->source,
                                                (const char *)NULL));
  }
  if (isfinite(charts->rules_run_length))
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_RULES_RUN_LENGTH,
                                              part_fixed(d, charts->rules_run_length, 1),
                                              (const char *)NULL));
  if (isfinite(charts->average_width))
    tenter_document_paragraph(
        d, section,
        tenter_say_fill(d->arena, TENTER_SAY_AVERAGE, part_fixed(d, charts->average_weight, 2),
                        part_fixed(d, charts->average_width, 3),
                        part_fixed(d, charts->average_run_length, 0), (const char *)NULL));
  part_say(d, section, TENTER_SAY_CHART_LIMITS);
  part_say(d, section, TENTER_SAY_CHART_CAUSES);
  say_dependence(parts, section);
}

tenter_document *charts_document(const tenter_review *review, const tenter_report_options *options,
                                 bool whole, char note[TENTER_MESSAGE_SIZE]) {
  char missing[TENTER_MESSAGE_SIZE] = "";
  review_parts parts = {.review = review,
                        .document =
                            document_of(review->shop, TENTER_SAY_TITLE_CHARTS, options->version)};
  if (parts.document == NULL)
    return NULL;
  headline(&parts);
  new_signals(&parts);
  if (whole)
    pictures(&parts, missing);
  if (review->charts.count > 0) {
    all_charts(&parts, whole);
    terms(&parts);
  }
  part_missing(&parts);
  if (whole)
    part_provenance(parts.document, review->shop, options->version);
  if (note != NULL)
    snprintf(note, TENTER_MESSAGE_SIZE, "%s", missing);
  return parts.document;
}
