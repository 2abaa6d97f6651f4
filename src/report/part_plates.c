/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Of the report on meters: errors on check plates with the line through them, as a table and as
 * pictures, their drift, and meters compared on the same screens. */
#include <math.h>
#include <string.h>

#include "meter_report.h"
#include "tenter/report/charts.h"

enum { LAYERS = 4, MOST_DRAWN = 8, WIDTH = 260, HEIGHT = 180 };

/* ---- plates --------------------------------------------------------------------------------- */

static const char *meter_name(const review_parts *parts, uint32_t meter) {
  return part_name(parts->review, TENTER_NAME_METER, meter);
}

static void plate_rows(review_parts *parts, tenter_block *table, const tenter_meter_plates *p) {
  for (size_t k = 0; k < p->values; k++) {
    tenter_cell *row = tenter_document_row(parts->document, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_text(meter_name(parts, p->meter));
    row[1] = tenter_cell_number(p->value[k], 1);
    row[2] = tenter_cell_number(p->mean[k], 2);
    row[2].sign = true;
    row[3] = tenter_cell_number(p->low[k], 2);
    row[3].sign = true;
    row[4] = tenter_cell_number(p->high[k], 2);
    row[4].sign = true;
  }
}

static const char *plate_story(review_parts *parts, const tenter_meter_plates *p) {
  tenter_document *d = parts->document;
  const char *name = meter_name(parts, p->meter);
  if (isnan(p->line.slope))
    return tenter_say_fill(d->arena, TENTER_SAY_PLATES_ONE, name, part_count(d, p->used),
                           (const char *)NULL);
  double low, high, middle = p->line.value_mean;
  double bias = tenter_gauge_linearity_at(&p->line, middle, &low, &high);
  return tenter_say_fill(d->arena, TENTER_SAY_PLATES_STORY, name, part_count(d, p->used),
                         part_fixed(d, middle, 1), part_fixed(d, bias, 2), part_fixed(d, low, 2),
                         part_fixed(d, high, 2), part_fixed(d, 10 * p->line.slope, 2),
                         part_fixed(d, 10 * p->line.slope_se, 2), part_fixed(d, p->line.slope_p, 3),
                         (const char *)NULL);
}

static const char *drift_story(review_parts *parts, const tenter_meter_plates *p) {
  tenter_document *d = parts->document;
  char when[TENTER_WORDS_SIZE];
  if (isnan(p->average))
    return NULL;
  const char *average = part_fixed(d, p->average, 2), *limit = part_fixed(d, p->average_limit, 2);
  if (p->drifts_since == TENTER_NO_TIME)
    return tenter_say_fill(d->arena, TENTER_SAY_PLATES_STEADY, meter_name(parts, p->meter), average,
                           limit, (const char *)NULL);
  tenter_say_when(d->form, (tenter_when){p->drifts_since, true}, when);
  return tenter_say_fill(d->arena, TENTER_SAY_PLATES_DRIFT, meter_name(parts, p->meter), average,
                         limit, when, (const char *)NULL);
}

/* ---- pictures ------------------------------------------------------------------------------- */

static void widen(double value, double *least, double *most) {
  if (isnan(value))
    return;
  *least = fmin(*least, value);
  *most = fmax(*most, value);
}

/* Mean errors on the plates, the line and its band. Its arrays are borrowed. */
static bool plate_chart(review_parts *parts, const tenter_meter_plates *p, tenter_chart *chart) {
  tenter_document *d = parts->document;
  double *line = tenter_arena_alloc(d->arena, p->values, sizeof *line);
  double *zero = tenter_arena_alloc(d->arena, p->values, sizeof *zero);
  tenter_layer *layers = tenter_arena_alloc(d->arena, LAYERS, sizeof *layers);
  if (line == NULL || zero == NULL || layers == NULL)
    return false;
  double least = 0, most = 0, low, high, edge = 0.05 * (p->value[p->values - 1] - p->value[0]);
  for (size_t k = 0; k < p->values; k++) {
    line[k] = tenter_gauge_linearity_at(&p->line, p->value[k], &low, &high);
    zero[k] = 0;
    widen(p->mean[k], &least, &most);
    widen(p->low[k], &least, &most);
    widen(p->high[k], &least, &most);
  }
  double room = fmax(0.1, 0.1 * (most - least));
  layers[0] = (tenter_layer){.kind = TENTER_LAYER_BAND,
                             .paint = TENTER_PAINT_QUIET,
                             .x = p->value,
                             .low = p->low,
                             .high = p->high,
                             .count = p->values};
  layers[1] = (tenter_layer){.kind = TENTER_LAYER_DASHES,
                             .paint = TENTER_PAINT_TARGET,
                             .x = p->value,
                             .y = zero,
                             .count = p->values};
  layers[2] = (tenter_layer){.kind = TENTER_LAYER_LINE,
                             .paint = TENTER_PAINT_FORECAST,
                             .x = p->value,
                             .y = line,
                             .count = p->values};
  layers[3] = (tenter_layer){.kind = TENTER_LAYER_POINTS,
                             .paint = TENTER_PAINT_FORECAST,
                             .x = p->value,
                             .y = p->mean,
                             .count = p->values};
  *chart = (tenter_chart){.form = d->form,
                          .width = WIDTH,
                          .height = HEIGHT,
                          .x_least = p->value[0] - edge,
                          .x_most = p->value[p->values - 1] + edge,
                          .y_least = least - room,
                          .y_most = most + room,
                          .x_label = tenter_say_text(TENTER_SAY_PLATES_X),
                          .y_label = tenter_say_text(TENTER_SAY_PLATES_Y),
                          .layers = layers,
                          .layer_count = LAYERS};
  return true;
}

static void plate_figures(review_parts *parts, tenter_block *section,
                          const tenter_meter_studies *studies) {
  tenter_document *d = parts->document;
  const tenter_meter_plates *drawn[MOST_DRAWN];
  tenter_chart charts[MOST_DRAWN];
  tenter_text svg[MOST_DRAWN] = {{NULL, 0}};
  tenter_error error = {0};
  size_t count = 0;
  for (size_t i = 0; i < studies->plate_count && count < MOST_DRAWN; i++) {
    const tenter_meter_plates *p = &studies->plates[i];
    if (isnan(p->line.slope))
      continue;
    if (!plate_chart(parts, p, &charts[count])) {
      d->failed = true;
      return;
    }
    drawn[count++] = p;
  }
  if (count == 0)
    return;
  if (tenter_charts_draw(charts, count, d->arena, svg, &error) != TENTER_OK)
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES,
                                              tenter_document_print(d, "%s", error.message),
                                              (const char *)NULL));
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t i = 0; i < count; i++)
    tenter_document_figure(d, figures,
                           (tenter_figure){.title = meter_name(parts, drawn[i]->meter),
                                           .caption = "",
                                           .alternative = plate_story(parts, drawn[i]),
                                           .svg = svg[i],
                                           .width = WIDTH,
                                           .height = HEIGHT});
}

/* ---- sections ------------------------------------------------------------------------------- */

void meter_part_plates(review_parts *parts, const tenter_meter_studies *studies, bool pictures) {
  tenter_document *d = parts->document;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_METER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PLATE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MEAN_ERROR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LINE_LOW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LINE_HIGH), TENTER_CELLS_NUMBER, true}};
  if (studies->plate_count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "plates", tenter_say_text(TENTER_SAY_PLATES), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_PLATES_LEAD);
  tenter_block *list = tenter_document_list(d, section);
  for (size_t i = 0; i < studies->plate_count && i < MOST_ROWS; i++) {
    tenter_document_item(d, list, plate_story(parts, &studies->plates[i]));
    const char *drift = drift_story(parts, &studies->plates[i]);
    if (drift != NULL)
      tenter_document_item(d, list, drift);
  }
  tenter_block *table = tenter_document_table(d, section, "plates-table", "", columns, 5);
  for (size_t i = 0; i < studies->plate_count && i < MOST_ROWS; i++)
    plate_rows(parts, table, &studies->plates[i]);
  if (pictures)
    plate_figures(parts, section, studies);
}

static void pair_row(review_parts *parts, tenter_block *table, const tenter_meter_pair *pair) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(tenter_document_print(d, "%s − %s", meter_name(parts, pair->second),
                                                  meter_name(parts, pair->first)));
  row[1] = tenter_cell_number((double)pair->agreement.count, 0);
  row[2] = tenter_cell_number(pair->agreement.mean, 2);
  row[2].sign = true;
  row[3] = tenter_cell_number(pair->agreement.mean_se, 2);
  row[4] = tenter_cell_number(pair->agreement.low, 2);
  row[5] = tenter_cell_number(pair->agreement.high, 2);
  row[6] = tenter_cell_number(pair->line.slope, 3);
  row[7] = tenter_cell_number(pair->line.slope_se, 3);
}

void meter_part_pairs(review_parts *parts, const tenter_meter_studies *studies) {
  tenter_document *d = parts->document;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_METERS), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PAIRS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DIFFERENCE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FROM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TO), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DEMING), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true}};
  if (studies->pair_count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "pairs", tenter_say_text(TENTER_SAY_PAIRS), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_PAIRS_LEAD);
  tenter_block *table = tenter_document_table(d, section, "pairs-table", "", columns, 8);
  for (size_t i = 0; i < studies->pair_count; i++)
    pair_row(parts, table, &studies->pairs[i]);
}

/* ---- JSON ----------------------------------------------------------------------------------- */

static void write_values(tenter_json *json, const tenter_meter_plates *p) {
  tenter_json_open(json, "values", '[');
  for (size_t k = 0; k < p->values; k++) {
    tenter_json_open(json, NULL, '{');
    tenter_json_number(json, "nominal", p->value[k], TENTER_JSON_TENSION);
    tenter_json_number(json, "mean_error", p->mean[k], TENTER_JSON_TENSION);
    tenter_json_number(json, "line_low", p->low[k], TENTER_JSON_TENSION);
    tenter_json_number(json, "line_high", p->high[k], TENTER_JSON_TENSION);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_plates(tenter_json *json, const tenter_review *review,
                         const tenter_meter_plates *p) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "meter", part_name(review, TENTER_NAME_METER, p->meter));
  tenter_json_integer(json, "checks", (long long)p->checks);
  tenter_json_integer(json, "used", (long long)p->used);
  tenter_json_number(json, "level", p->line.level, TENTER_JSON_TENSION);
  tenter_json_number(json, "slope", p->line.slope, TENTER_JSON_TENSION);
  tenter_json_number(json, "slope_se", p->line.slope_se, TENTER_JSON_TENSION);
  tenter_json_number(json, "slope_p", p->line.slope_p, TENTER_JSON_PROBABILITY);
  write_values(json, p);
  tenter_json_number(json, "average", p->average, TENTER_JSON_TENSION);
  tenter_json_number(json, "average_limit", p->average_limit, TENTER_JSON_TENSION);
  tenter_json_when(json, "drifts_since", (tenter_when){p->drifts_since, false});
  tenter_json_close(json, '}');
}

static void write_pair(tenter_json *json, const tenter_review *review,
                       const tenter_meter_pair *pair) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "first", part_name(review, TENTER_NAME_METER, pair->first));
  tenter_json_name(json, "second", part_name(review, TENTER_NAME_METER, pair->second));
  tenter_json_integer(json, "pairs", (long long)pair->agreement.count);
  tenter_json_number(json, "difference", pair->agreement.mean, TENTER_JSON_TENSION);
  tenter_json_number(json, "difference_se", pair->agreement.mean_se, TENTER_JSON_TENSION);
  tenter_json_number(json, "low", pair->agreement.low, TENTER_JSON_TENSION);
  tenter_json_number(json, "high", pair->agreement.high, TENTER_JSON_TENSION);
  tenter_json_number(json, "level", pair->line.level, TENTER_JSON_TENSION);
  tenter_json_number(json, "slope", pair->line.slope, TENTER_JSON_TENSION);
  tenter_json_number(json, "slope_se", pair->line.slope_se, TENTER_JSON_TENSION);
  tenter_json_close(json, '}');
}

void meter_json_plates(tenter_json *json, const tenter_review *review,
                       const tenter_meter_studies *studies) {
  tenter_json_open(json, "plates", '[');
  for (size_t i = 0; i < studies->plate_count; i++)
    write_plates(json, review, &studies->plates[i]);
  tenter_json_close(json, ']');
  tenter_json_open(json, "pairs", '[');
  for (size_t i = 0; i < studies->pair_count; i++)
    write_pair(json, review, &studies->pairs[i]);
  tenter_json_close(json, ']');
}
