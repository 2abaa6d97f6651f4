/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pictures of `tenter interval`: for each mesh the share of new mountings above the floor by
 * age, by the model and by what past mountings did, and the cost by the age of re-stretch. */
#include <math.h>
#include <string.h>

#include "interval_report.h"
#include "tenter/report/charts.h"

enum { LAYERS = 5, POINTS = TENTER_INTERVAL_POINTS };

static const double most_u = 3, most_cost_u = 3.5; /* decades of days that are shown */

typedef struct desk {
  interval_parts *parts;
  tenter_arena *arena;
  tenter_chart charts[2 * MOST_INTERVAL_MESHES];
  size_t count;
  bool failed;
} desk;

static double *numbers(desk *s, size_t count) {
  double *room = tenter_arena_alloc(s->arena, count, sizeof *room);
  s->failed |= room == NULL;
  return room;
}

static tenter_layer between(desk *s, tenter_layer_kind kind, tenter_paint paint, double x0,
                            double y0, double x1, double y1) {
  double *x = numbers(s, 2), *y = numbers(s, 2);
  if (s->failed)
    return (tenter_layer){0};
  x[0] = x0;
  x[1] = x1;
  y[0] = y0;
  y[1] = y1;
  return (tenter_layer){.kind = kind, .paint = paint, .x = x, .y = y, .count = 2};
}

/* Steps of the estimate without a law; an empty layer without one. */
static tenter_layer steps(desk *s, const tenter_interval_life *life) {
  size_t n = life->step_count, at = 0;
  double *x = numbers(s, 2 * n + 2), *y = numbers(s, 2 * n + 2), above = 1;
  if (s->failed)
    return (tenter_layer){0};
  x[at] = 0;
  y[at++] = above;
  for (size_t i = 0; i < n; i++) {
    double u = fmin(most_u, fmax(0, log10(life->step_days[i])));
    x[at] = u;
    y[at++] = above;
    above = 1 - life->step_below[i];
    x[at] = u;
    y[at++] = above;
  }
  return (tenter_layer){.kind = TENTER_LAYER_RULE,
                        .paint = TENTER_PAINT_QUIET,
                        .x = x,
                        .y = y,
                        .count = n > 0 ? at : 1};
}

static bool new_chart(desk *s, tenter_layer **layers, tenter_chart **chart) {
  *layers = tenter_arena_alloc(s->arena, LAYERS, sizeof **layers);
  *chart = &s->charts[s->count];
  s->failed |= *layers == NULL;
  if (s->failed)
    return false;
  s->count++;
  **chart = (tenter_chart){.form = s->parts->common.document->form,
                           .width = PICTURE_WIDTH,
                           .height = INTERVAL_PICTURE_HEIGHT,
                           .x_most = most_u,
                           .x_label = tenter_say_text(TENTER_SAY_INTERVAL_CHART_AGE),
                           .y_label = "",
                           .layers = *layers,
                           .layer_count = LAYERS};
  return true;
}

static void survival_chart(desk *s, const tenter_interval_group *mesh) {
  tenter_layer *layers;
  tenter_chart *chart;
  double *x = numbers(s, POINTS), *y = numbers(s, POINTS), *low = numbers(s, POINTS),
         *high = numbers(s, POINTS);
  if (s->failed || !new_chart(s, &layers, &chart))
    return;
  size_t n = 0;
  for (; n < POINTS && log10(mesh->curve.days[n]) <= most_u; n++) {
    x[n] = fmax(0, log10(mesh->curve.days[n]));
    y[n] = 1 - mesh->curve.below[n];
    low[n] = 1 - mesh->curve.high[n];
    high[n] = 1 - mesh->curve.low[n];
  }
  double days = mesh->interval->days, asked = 1 - mesh->interval->risk;
  double at = days > 1 ? fmin(most_u, log10(days)) : 0;
  layers[0] = (tenter_layer){.kind = TENTER_LAYER_BAND,
                             .paint = TENTER_PAINT_FORECAST,
                             .x = x,
                             .low = low,
                             .high = high,
                             .count = n};
  layers[1] = steps(s, &mesh->life);
  layers[2] = (tenter_layer){
      .kind = TENTER_LAYER_LINE, .paint = TENTER_PAINT_FORECAST, .x = x, .y = y, .count = n};
  layers[3] = between(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, 0, asked, most_u, asked);
  layers[4] = between(s, TENTER_LAYER_RULE, TENTER_PAINT_INK, at, 0, at, isnan(days) ? 0 : 1);
  chart->y_most = 1.02;
}

/* Up to where costs are three times the least, so that the valley can be seen. */
static void cost_chart(desk *s, const tenter_interval_group *mesh) {
  tenter_layer *layers;
  tenter_chart *chart;
  double *x = numbers(s, POINTS), *y = numbers(s, POINTS);
  if (s->failed || !new_chart(s, &layers, &chart))
    return;
  const tenter_interval_cost *c = &mesh->cost;
  double top = 3 * c->best_rate;
  size_t n = 0;
  for (; n < POINTS && log10(mesh->curve.days[n]) <= most_cost_u; n++) {
    x[n] = fmax(0, log10(mesh->curve.days[n]));
    y[n] = mesh->curve.cost[n] <= top ? mesh->curve.cost[n] : NAN;
  }
  bool seen = c->best_days >= 1 && log10(c->best_days) <= most_cost_u;
  double at = seen ? log10(c->best_days) : 0;
  layers[0] = (tenter_layer){
      .kind = TENTER_LAYER_LINE, .paint = TENTER_PAINT_INK, .x = x, .y = y, .count = n};
  layers[1] = between(s, TENTER_LAYER_RULE, TENTER_PAINT_GOOD, at, 0, at, seen ? top : 0);
  chart->x_most = most_cost_u;
  chart->layer_count = 2;
  chart->y_most = top;
}

static const char *survival_words(interval_parts *parts, const tenter_interval_group *mesh) {
  tenter_document *d = parts->common.document;
  double days = mesh->interval->days, far = NAN;
  for (int i = 0; i < POINTS && mesh->curve.days[i] <= 100; i++)
    far = 1 - mesh->curve.below[i];
  return tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_ALT,
                         part_name(parts->common.review, TENTER_NAME_MESH, mesh->interval->mesh),
                         part_fixed(d, 100 * (1 - mesh->interval->risk), 0),
                         isnan(days) ? tenter_say_text(TENTER_SAY_INTERVAL_LONG)
                                     : part_fixed(d, days, 0),
                         part_fixed(d, 100 * far, 0), (const char *)NULL);
}

static const char *cost_words(interval_parts *parts, const tenter_interval_group *mesh) {
  tenter_document *d = parts->common.document;
  double days = mesh->cost.best_days;
  return tenter_say_fill(d->arena, TENTER_SAY_INTERVAL_ALT_COST,
                         part_name(parts->common.review, TENTER_NAME_MESH, mesh->interval->mesh),
                         part_fixed(d, mesh->cost.best_rate, 2),
                         isnan(days) ? tenter_say_text(TENTER_SAY_INTERVAL_NEVER)
                                     : part_fixed(d, days, 0),
                         (const char *)NULL);
}

void interval_pictures_draw(interval_parts *parts) {
  desk s = {.parts = parts, .arena = parts->common.document->arena};
  tenter_text svg[2 * MOST_INTERVAL_MESHES] = {{NULL, 0}};
  tenter_error error = {0};
  for (size_t m = 0; m < parts->study->count && m < MOST_INTERVAL_MESHES; m++) {
    const tenter_interval_group *mesh = &parts->study->meshes[m];
    interval_picture *p = &parts->pictures[parts->picture_count++];
    survival_chart(&s, mesh);
    p->survival_words = survival_words(parts, mesh);
    if (mesh->cost.known && mesh->cost.best_rate > 0) {
      cost_chart(&s, mesh);
      p->cost_words = cost_words(parts, mesh);
    }
  }
  parts->common.document->failed |= s.failed;
  if (s.failed || s.count == 0)
    return;
  if (tenter_charts_draw(s.charts, s.count, s.arena, svg, &error) != TENTER_OK)
    strcpy(parts->missing, error.message);
  for (size_t m = 0, at = 0; m < parts->picture_count; m++) {
    parts->pictures[m].survival = svg[at++];
    if (parts->pictures[m].cost_words != NULL)
      parts->pictures[m].cost = svg[at++];
  }
}

static void add_figure(interval_parts *parts, tenter_block *figures, size_t mesh, tenter_text svg,
                       const char *words) {
  tenter_document_figure(
      parts->common.document, figures,
      (tenter_figure){.title = part_name(parts->common.review, TENTER_NAME_MESH,
                                         parts->study->meshes[mesh].interval->mesh),
                      .caption = "",
                      .alternative = words,
                      .svg = svg,
                      .width = PICTURE_WIDTH,
                      .height = INTERVAL_PICTURE_HEIGHT});
}

void interval_part_pictures(interval_parts *parts) {
  tenter_document *d = parts->common.document;
  if (parts->picture_count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "pictures", tenter_say_text(TENTER_SAY_INTERVAL_PICTURES), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_INTERVAL_PICTURES_LEAD);
  if (parts->missing[0] != '\0')
    tenter_document_paragraph(
        d, section,
        tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES, parts->missing, (const char *)NULL));
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t m = 0; m < parts->picture_count; m++)
    add_figure(parts, figures, m, parts->pictures[m].survival, parts->pictures[m].survival_words);
  for (size_t m = 0; m < parts->picture_count; m++)
    if (parts->pictures[m].cost_words != NULL)
      add_figure(parts, figures, m, parts->pictures[m].cost, parts->pictures[m].cost_words);
}
