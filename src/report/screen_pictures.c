/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pictures of a screen's story: readings where they were taken, relaxation over the whole life
 * of the mounting, residuals from its law. */
#include <math.h>
#include <stdio.h>

#include "pictures.h"
#include "screen_report.h"

enum {
  CURVE_POINTS = 80,
  RELAXATION_LAYERS = 9,
  RESIDUAL_LAYERS = 6,
  WIDE = 620,
  TALL = 260,
  LOW = 140,
  DRAWN = 3,      /* pictures a screen */
  MOST_DRAWN = 40 /* screens; a reader of more wants numbers */
};

static const tenter_mounting *mounting_of(const studio *s, const tenter_screen_story *story) {
  return &s->parts->review->shop->mountings[story->mounting];
}

static tenter_layer make_layer(studio *s, tenter_layer_kind kind, tenter_paint paint, size_t count,
                               double **x, double **y, double **low, double **high) {
  *x = studio_numbers(s, count);
  *y = studio_numbers(s, count);
  *low = studio_numbers(s, count);
  *high = studio_numbers(s, count);
  return (tenter_layer){
      .kind = kind, .paint = paint, .x = *x, .y = *y, .low = *low, .high = *high, .count = 0};
}

/* ---- relaxation ----------------------------------------------------------------------------- */

/* Sessions: good ones (misread false) or misread ones; bars of one standard uncertainty. */
static tenter_layer session_layer(studio *s, const tenter_screen_story *story, bool misread,
                                  tenter_layer_kind kind, tenter_paint paint) {
  double *x, *y, *low, *high;
  tenter_layer layer = make_layer(s, kind, paint, story->session_count, &x, &y, &low, &high);
  for (size_t i = 0; i < story->session_count && !s->failed; i++) {
    const tenter_screen_session *session = &story->sessions[i];
    if (session->misread != misread || !isfinite(session->age_hours))
      continue;
    x[layer.count] = session->age_hours / 24;
    y[layer.count] = session->adjusted;
    low[layer.count] = session->adjusted - session->uncertainty;
    high[layer.count++] = session->adjusted + session->uncertainty;
  }
  return layer;
}

typedef void curve_at(const studio *s, const tenter_screen_story *story, double age_hours,
                      double *mean, double *sd);

static void pooled(const studio *s, const tenter_screen_story *story, double age_hours,
                   double *mean, double *sd) {
  *mean = *sd = NAN;
  if (story->judged != NULL)
    tenter_review_tension_at(s->parts->review, story->judged, age_hours, mean, sd);
}

static void by_law(const studio *s, const tenter_screen_story *story, double age_hours,
                   double *mean, double *sd) {
  (void)s;
  tenter_screen_tension_at(story, age_hours, mean, sd);
}

/* A curve, or its band of 90 %, from start to end in days; points are dense where it bends. */
static tenter_layer curve_layer(studio *s, const tenter_screen_story *story, curve_at *at,
                                double start, double end, tenter_layer_kind kind,
                                tenter_paint paint) {
  double *x, *y, *low, *high;
  tenter_layer layer = make_layer(s, kind, paint, CURVE_POINTS, &x, &y, &low, &high);
  for (size_t i = 0; i < CURVE_POINTS && !s->failed; i++) {
    double share = (double)i / (CURVE_POINTS - 1), mean, sd;
    double day = start + (end - start) * share * share;
    at(s, story, 24 * fmax(day, 1.0 / 24), &mean, &sd);
    if (!isfinite(mean))
      continue;
    x[layer.count] = fmax(day, 1.0 / 24);
    y[layer.count] = mean;
    low[layer.count] = mean - 1.645 * sd;
    high[layer.count++] = mean + 1.645 * sd;
  }
  return layer;
}

/* An upright line. */
static tenter_layer upright(studio *s, double x, double low, double high, tenter_paint paint) {
  double *at[4];
  tenter_layer layer = make_layer(s, TENTER_LAYER_BARS, paint, 1, &at[0], &at[1], &at[2], &at[3]);
  if (s->failed || !isfinite(x))
    return layer;
  at[0][0] = x;
  at[2][0] = low;
  at[3][0] = high;
  layer.count = 1;
  return layer;
}

static double days_of(const studio *s, const tenter_screen_story *story, tenter_time time) {
  return tenter_mounting_age_hours(mounting_of(s, story), time) / 24;
}

static double day_left(const studio *s, const tenter_screen_story *story) {
  if (!story->leaving.left)
    return NAN;
  return days_of(s, story, s->parts->review->shop->sessions[story->leaving.session].taken);
}

static void fit_heights(tenter_chart *chart) {
  chart->y_least = INFINITY;
  chart->y_most = -INFINITY;
  for (size_t i = 0; i < chart->layer_count; i++) {
    const tenter_layer *layer = &chart->layers[i];
    bool flat = layer->kind != TENTER_LAYER_BARS && layer->kind != TENTER_LAYER_BAND;
    studio_stretch(&chart->y_least, &chart->y_most, flat ? layer->y : layer->low, layer->count);
    studio_stretch(&chart->y_least, &chart->y_most, flat ? layer->y : layer->high, layer->count);
  }
  chart->y_least = floor(chart->y_least - 0.2);
  chart->y_most = ceil(chart->y_most + 0.2);
}

static bool has_age(const studio *s, const tenter_screen_story *story) {
  for (size_t i = 0; i < story->session_count; i++)
    if (isfinite(story->sessions[i].age_hours) && story->sessions[i].age_hours > 0)
      return mounting_of(s, story)->zero.at != TENTER_NO_TIME;
  return false;
}

static tenter_chart wide_chart(const studio *s, tenter_layer *layers, size_t count, double right,
                               int height, const char *y_label) {
  return (tenter_chart){.form = s->parts->document->form,
                        .width = WIDE,
                        .height = height,
                        .x_least = 0,
                        .x_most = right,
                        .x_label = tenter_say_text(TENTER_SAY_CHART_DAYS),
                        .y_label = y_label,
                        .layers = layers,
                        .layer_count = count};
}

static double right_edge(const studio *s, const tenter_screen_story *story) {
  const tenter_shop *shop = s->parts->review->shop;
  double latest = story->sessions[story->session_count - 1].age_hours / 24;
  double end = story->judged != NULL
                   ? days_of(s, story, shop->as_of) + 2 * shop->config->settings.horizon_days
                   : latest + 1;
  return fmax(end, latest + 1);
}

static void draw_relaxation(studio *s, const tenter_screen_story *story) {
  const tenter_mounting *mounting = mounting_of(s, story);
  double right = right_edge(s, story);
  double latest = story->sessions[story->session_count - 1].age_hours / 24;
  tenter_layer *layers = tenter_arena_alloc(s->arena, RELAXATION_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  layers[0] =
      curve_layer(s, story, pooled, latest, right, TENTER_LAYER_BAND, TENTER_PAINT_FORECAST);
  layers[1] = curve_layer(s, story, pooled, fmax(0, day_left(s, story)), right, TENTER_LAYER_LINE,
                          TENTER_PAINT_FORECAST); /* the level before the step is another one */
  layers[2] = curve_layer(s, story, by_law, 0, right, TENTER_LAYER_RULE, TENTER_PAINT_INK);
  layers[3] =
      studio_across(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, 0, right, mounting->is.floor);
  layers[4] =
      studio_across(s, TENTER_LAYER_RULE, TENTER_PAINT_TARGET, 0, right, mounting->is.target);
  layers[5] = session_layer(s, story, false, TENTER_LAYER_BARS, TENTER_PAINT_INK);
  layers[6] = session_layer(s, story, false, TENTER_LAYER_POINTS, TENTER_PAINT_INK);
  layers[7] = session_layer(s, story, true, TENTER_LAYER_POINTS, TENTER_PAINT_ACT);
  layers[8] = upright(s, NAN, 0, 0, TENTER_PAINT_ACT);
  tenter_chart *chart = &s->charts[s->count++];
  *chart = wide_chart(s, layers, RELAXATION_LAYERS, right, TALL, "N/cm");
  fit_heights(chart);
  layers[8] = upright(s, day_left(s, story), chart->y_least, chart->y_most, TENTER_PAINT_ACT);
}

/* ---- residuals ------------------------------------------------------------------------------ */

static void draw_residuals(studio *s, const tenter_screen_story *story) {
  double right = right_edge(s, story), *x, *y, *low, *high;
  tenter_layer *layers = tenter_arena_alloc(s->arena, RESIDUAL_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  layers[0] = studio_across(s, TENTER_LAYER_RULE, TENTER_PAINT_INK, 0, right, 0);
  layers[1] = studio_across(s, TENTER_LAYER_DASHES, TENTER_PAINT_QUIET, 0, right, 2);
  layers[2] = studio_across(s, TENTER_LAYER_DASHES, TENTER_PAINT_QUIET, 0, right, -2);
  layers[3] = make_layer(s, TENTER_LAYER_POINTS, TENTER_PAINT_INK, story->session_count, &x, &y,
                         &low, &high);
  for (size_t i = 0; i < story->session_count && !s->failed; i++)
    if (isfinite(story->sessions[i].residual)) {
      x[layers[3].count] = story->sessions[i].age_hours / 24;
      y[layers[3].count] = low[layers[3].count] = high[layers[3].count] =
          story->sessions[i].residual;
      layers[3].count++;
    }
  layers[4] = layers[3]; /* a stroke from nought to each */
  layers[4].kind = TENTER_LAYER_BARS;
  layers[4].low = studio_numbers(s, story->session_count);
  layers[5] = upright(s, NAN, 0, 0, TENTER_PAINT_ACT);
  tenter_chart *chart = &s->charts[s->count++];
  *chart = wide_chart(s, layers, RESIDUAL_LAYERS, right, LOW, "");
  fit_heights(chart);
  layers[5] = upright(s, day_left(s, story), chart->y_least, chart->y_most, TENTER_PAINT_ACT);
}

/* ---- all of them ---------------------------------------------------------------------------- */

/* The screens' charts, each with the picture it is for. */
typedef struct drawn {
  screen_picture *of[DRAWN * MOST_DRAWN];
} drawn;

static void note(studio *s, drawn *list, screen_picture *picture, const char *alternative,
                 size_t before) {
  if (s->count == before)
    return;
  picture->alternative = alternative;
  picture->width = s->charts[before].width;
  picture->height = s->charts[before].height;
  list->of[before] = picture;
}

static const char *alternative_of(studio *s, const tenter_screen_story *story, tenter_say say) {
  tenter_document *d = s->parts->document;
  const tenter_screen_session *last = &story->sessions[story->session_count - 1];
  return tenter_say_fill(s->arena, say,
                         part_name(s->parts->review, TENTER_NAME_SCREEN, story->screen),
                         part_count(d, story->session_count), part_fixed(d, last->adjusted, 1),
                         part_fixed(d, last->expected, 1), (const char *)NULL);
}

static void draw_story(studio *s, const tenter_screen_story *story, screen_pictures *pictures,
                       drawn *list) {
  if (story->session_count == 0)
    return;
  const tenter_shop *shop = s->parts->review->shop;
  size_t before = s->count;
  const map_point *points =
      map_points(s, &shop->sessions[story->sessions[story->session_count - 1].session]);
  if (points != NULL && map_can_be_drawn(shop->tables, points)) {
    map_chart(s, mounting_of(s, story), points);
    note(s, list, &pictures->map,
         map_alternative(s, part_name(s->parts->review, TENTER_NAME_SCREEN, story->screen), points),
         before);
  }
  if (s->failed || !has_age(s, story))
    return;
  before = s->count;
  draw_relaxation(s, story);
  note(s, list, &pictures->relaxation, alternative_of(s, story, TENTER_SAY_ALT_SCREEN_RELAXATION),
       before);
  if (story->leaving.tested < 3 || s->failed)
    return;
  before = s->count;
  draw_residuals(s, story);
  note(s, list, &pictures->residuals, alternative_of(s, story, TENTER_SAY_ALT_SCREEN_RESIDUALS),
       before);
}

void screen_pictures_draw(screen_parts *parts) {
  tenter_arena *arena = parts->parts.document->arena;
  size_t most = parts->count < MOST_DRAWN ? parts->count : MOST_DRAWN;
  studio s = {.parts = &parts->parts,
              .arena = arena,
              .charts = tenter_arena_alloc(arena, DRAWN * most, sizeof *s.charts)};
  tenter_text *svg = tenter_arena_alloc(arena, DRAWN * most, sizeof *svg);
  drawn *list = tenter_arena_alloc(arena, 1, sizeof *list);
  s.failed = s.charts == NULL || svg == NULL || list == NULL;
  for (size_t i = 0; i < most && !s.failed; i++)
    draw_story(&s, parts->stories[i], &parts->pictures[i], list);
  tenter_error error = {0};
  if (s.failed)
    parts->parts.document->failed = true;
  else if (s.count > 0 && tenter_charts_draw(s.charts, s.count, arena, svg, &error) != TENTER_OK)
    snprintf(parts->missing, sizeof parts->missing, "%s", error.message);
  for (size_t i = 0; i < s.count && !s.failed; i++)
    list->of[i]->svg = svg[i];
}
