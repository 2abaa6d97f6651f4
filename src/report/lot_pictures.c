/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lots of each mesh as a picture: pooled loss and plain mean with their intervals, one lot
 * below the other, against the norm of the mesh and the margin. */
#include <math.h>
#include <string.h>

#include "review_parts.h"
#include "tenter/report/charts.h"

enum { LAYERS = 6, ROW_HEIGHT = 22, FRAME_HEIGHT = 46, MOST_NAME = 12 };

static const double wide = 1.645; /* standard errors of a 90 % interval */

typedef struct mesh_lots {
  const tenter_review_lot *lot[MOST_LOTS_DRAWN];
  size_t count;
} mesh_lots;

typedef struct studio {
  review_parts *parts;
  tenter_arena *arena;
  tenter_chart charts[MOST_MESHES];
  bool failed;
} studio;

static void *take(studio *s, size_t count, size_t size) {
  void *room = tenter_arena_alloc(s->arena, count, size);
  s->failed |= room == NULL;
  return room;
}

/* At most MOST_NAME characters, "…" in place of what is left out. */
static const char *short_name(studio *s, const char *name) {
  size_t characters = 0, cut = 0, i = 0;
  for (; name[i] != '\0'; i++) {
    if (((unsigned char)name[i] & 0xC0) == 0x80)
      continue;
    if (++characters == MOST_NAME)
      cut = i;
  }
  if (characters <= MOST_NAME)
    return name;
  return tenter_document_print(s->parts->document, "%.*s…", (int)cut, name);
}

/* Strokes from value - half to value + half at heights y, one after the other. */
static tenter_layer spans(studio *s, tenter_layer_kind kind, tenter_paint paint,
                          const double *value, const double *half, const double *y, size_t count) {
  double *xs = take(s, 3 * count, sizeof *xs), *ys = take(s, 3 * count, sizeof *ys);
  if (s->failed)
    return (tenter_layer){0};
  for (size_t i = 0; i < count; i++) {
    bool known = isfinite(value[i]) && isfinite(half[i]);
    xs[3 * i] = known ? value[i] - half[i] : 0;
    xs[3 * i + 1] = known ? value[i] + half[i] : 0;
    xs[3 * i + 2] = 0;
    ys[3 * i] = ys[3 * i + 1] = known ? y[i] : NAN;
    ys[3 * i + 2] = NAN; /* the line breaks here */
  }
  return (tenter_layer){.kind = kind, .paint = paint, .x = xs, .y = ys, .count = 3 * count};
}

static tenter_layer upright(studio *s, tenter_layer_kind kind, tenter_paint paint, double x,
                            double top) {
  double *xs = take(s, 2, sizeof *xs), *ys = take(s, 2, sizeof *ys);
  if (s->failed)
    return (tenter_layer){0};
  xs[0] = xs[1] = x;
  ys[0] = 0.4;
  ys[1] = top;
  return (tenter_layer){.kind = kind, .paint = paint, .x = xs, .y = ys, .count = 2};
}

static double margin_of(const studio *s, double norm) {
  const tenter_settings *settings = &s->parts->review->shop->config->settings;
  return fmax(settings->margin_share * norm, settings->margin_loss);
}

/* The span of x that shows every pooled interval, the norm and every plain mean. */
static void fit_x(tenter_chart *chart, const mesh_lots *m, double norm, double margin) {
  double least = norm, most = norm + margin;
  for (size_t i = 0; i < m->count; i++) {
    const tenter_review_lot *lot = m->lot[i];
    double half = wide * lot->loss_per_decade_se;
    least =
        fmin(least, fmin(lot->loss_per_decade - half, fmin(INFINITY, lot->raw_loss_per_decade)));
    most = fmax(most, fmax(lot->loss_per_decade + half, lot->raw_loss_per_decade));
  }
  double edge = 0.06 * (most - least);
  chart->x_least = least - edge;
  chart->x_most = most + edge;
}

static void lots_chart(studio *s, const mesh_lots *m, tenter_chart *chart) {
  size_t n = m->count;
  /* NOLINTNEXTLINE(clang-analyzer-core.*): a mesh is listed for its lots */
  double norm = m->lot[0]->mesh_loss_per_decade, margin = margin_of(s, norm);
  double *pooled = take(s, n, sizeof *pooled), *plain = take(s, n, sizeof *plain);
  double *half = take(s, n, sizeof *half), *loose = take(s, n, sizeof *loose);
  double *y = take(s, n, sizeof *y), *below = take(s, n, sizeof *below);
  const char **names = take(s, n, sizeof *names);
  tenter_layer *layers = take(s, LAYERS, sizeof *layers);
  if (s->failed)
    return;
  for (size_t i = 0; i < n; i++) {
    const tenter_review_lot *lot = m->lot[i];
    pooled[i] = lot->loss_per_decade;
    half[i] = wide * lot->loss_per_decade_se;
    plain[i] = lot->raw_loss_per_decade;
    loose[i] = wide * lot->raw_loss_per_decade_se;
    y[i] = (double)(n - i); /* the first on top */
    below[i] = y[i] - 0.28;
    names[n - 1 - i] = short_name(s, part_name(s->parts->review, TENTER_NAME_LOT, lot->lot));
  }
  double top = (double)n + 0.6;
  layers[0] = upright(s, TENTER_LAYER_RULE, TENTER_PAINT_INK, norm, top);
  layers[1] = upright(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, norm + margin, top);
  layers[2] = spans(s, TENTER_LAYER_RULE, TENTER_PAINT_QUIET, plain, loose, below, n);
  layers[3] = (tenter_layer){
      .kind = TENTER_LAYER_POINTS, .paint = TENTER_PAINT_QUIET, .x = plain, .y = below, .count = n};
  layers[4] = spans(s, TENTER_LAYER_LINE, TENTER_PAINT_FORECAST, pooled, half, y, n);
  layers[5] = (tenter_layer){
      .kind = TENTER_LAYER_POINTS, .paint = TENTER_PAINT_INK, .x = pooled, .y = y, .count = n};
  *chart = (tenter_chart){.form = s->parts->document->form,
                          .width = PICTURE_WIDTH,
                          .height = FRAME_HEIGHT + ROW_HEIGHT * (int)n,
                          .y_least = 0.4,
                          .y_most = top,
                          .x_label = "",
                          .y_label = "",
                          .y_names = names,
                          .y_name_count = n,
                          .layers = layers,
                          .layer_count = LAYERS};
  fit_x(chart, m, norm, margin);
}

/* The same in words. */
static const char *in_words(studio *s, const mesh_lots *m) {
  tenter_document *d = s->parts->document;
  const tenter_review *review = s->parts->review;
  /* NOLINTNEXTLINE(clang-analyzer-core.*): a mesh is listed for its lots */
  double norm = m->lot[0]->mesh_loss_per_decade;
  const char *all = "";
  for (size_t i = 0; i < m->count; i++) {
    const tenter_review_lot *lot = m->lot[i];
    const char *one = tenter_say_fill(
        s->arena, TENTER_SAY_ALT_LOT, part_name(review, TENTER_NAME_LOT, lot->lot),
        tenter_document_uncertain(d, lot->loss_per_decade, lot->loss_per_decade_se),
        isnan(lot->raw_loss_per_decade)
            ? "–"
            : tenter_document_uncertain(d, lot->raw_loss_per_decade, lot->raw_loss_per_decade_se),
        (const char *)NULL);
    all = i == 0 ? one : tenter_document_print(d, "%s; %s", all, one);
  }
  return tenter_say_fill(
      s->arena, TENTER_SAY_ALT_LOTS, part_name(review, TENTER_NAME_MESH, m->lot[0]->mesh),
      part_fixed(d, norm, 2), part_fixed(d, norm + margin_of(s, norm), 2), all, (const char *)NULL);
}

/* The lots of a mesh, in the order of the review. */
static void gather(const tenter_review *review, uint32_t mesh, mesh_lots *m) {
  m->count = 0;
  for (size_t i = 0; i < review->lot_count && m->count < MOST_LOTS_DRAWN; i++)
    if (review->lots[i].mesh == mesh && isfinite(review->lots[i].loss_per_decade))
      m->lot[m->count++] = &review->lots[i];
}

static bool drawn_already(const lot_pictures *lots, uint32_t mesh) {
  for (size_t i = 0; i < lots->count; i++)
    if (lots->mesh[i].name == mesh)
      return true;
  return false;
}

void lot_pictures_draw(review_parts *parts) {
  studio s = {.parts = parts, .arena = parts->document->arena};
  lot_pictures *lots = &parts->lots;
  const tenter_review *review = parts->review;
  tenter_text svg[MOST_MESHES] = {{NULL, 0}};
  tenter_error error = {0};
  for (size_t i = 0; i < review->lot_count && lots->count < MOST_MESHES && !s.failed; i++) {
    mesh_lots m;
    if (!isfinite(review->lots[i].loss_per_decade) || drawn_already(lots, review->lots[i].mesh))
      continue;
    gather(review, review->lots[i].mesh, &m);
    tenter_chart *chart = &s.charts[lots->count];
    lots_chart(&s, &m, chart);
    lots->mesh[lots->count++] = (lot_picture){
        .name = review->lots[i].mesh, .height = chart->height, .alternative = in_words(&s, &m)};
  }
  parts->document->failed |= s.failed;
  if (s.failed)
    return;
  if (tenter_charts_draw(s.charts, lots->count, s.arena, svg, &error) != TENTER_OK)
    strcpy(lots->missing, error.message);
  for (size_t i = 0; i < lots->count; i++)
    lots->mesh[i].svg = svg[i];
}
