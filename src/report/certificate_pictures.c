/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pictures of a certificate: where each screen was read, its relaxation, probability plots;
 * all drawn by one process. */
#include <math.h>
#include <stdio.h>

#include "certificate_parts.h"
#include "pictures.h"

enum { PLOT_LAYERS = 2 };

/* Charts, each with the picture it is for. */
typedef struct easel {
  studio s;
  cert_picture **of;
} easel;

/* Whether drawing gave a chart: then it is the picture's. */
static void keep(easel *e, size_t before, cert_picture *picture, const char *alternative) {
  if (e->s.failed || e->s.count == before)
    return;
  picture->alternative = alternative;
  picture->width = e->s.charts[before].width;
  picture->height = e->s.charts[before].height;
  e->of[before] = picture;
}

static void draw_map(easel *e, const cert_parts *p, const tenter_certificate_screen *screen,
                     cert_picture *picture) {
  const tenter_shop *shop = p->c->review->shop;
  size_t before = e->s.count;
  const map_point *points = map_points(&e->s, &shop->sessions[screen->judged->latest.session]);
  if (e->s.failed || !map_can_be_drawn(shop->tables, points))
    return;
  map_chart(&e->s, &shop->mountings[screen->mounting], points);
  keep(e, before, picture,
       map_alternative(&e->s, part_name(e->s.parts->review, TENTER_NAME_SCREEN, screen->screen),
                       points));
}

static void draw_curves(easel *e, cert_parts *p) {
  const tenter_review_screen **drawn =
      tenter_arena_alloc(e->s.arena, p->c->screen_count, sizeof *drawn);
  e->s.failed |= drawn == NULL;
  size_t first = e->s.count, count = 0;
  for (size_t i = 0, n = 0; i < p->c->screen_count && n < p->drawn && !e->s.failed; i++) {
    const tenter_certificate_screen *screen = &p->c->screens[i];
    n += screen->certified;
    if (!screen->certified || !relaxation_can_be_drawn(&e->s, screen->judged))
      continue;
    size_t before = e->s.count;
    relaxation_chart(&e->s, screen->judged);
    drawn[count++] = screen->judged;
    keep(e, before, &p->curves[i], relaxation_words(&e->s, screen->judged));
  }
  if (!e->s.failed)
    relaxation_same_span(&e->s, e->s.charts + first, drawn, count);
}

/* ---- probability plots ---------------------------------------------------------------------- */

static void draw_plot(easel *e, const cert_parts *p, const tenter_certificate_group *g,
                      cert_picture *picture) {
  studio *s = &e->s;
  double *x = studio_numbers(s, 2), *y = studio_numbers(s, 2);
  tenter_layer *layers = tenter_arena_alloc(s->arena, PLOT_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  double edge = -g->expected[0] * 1.15;
  x[0] = -edge;
  x[1] = edge;
  for (size_t i = 0; i < 2; i++)
    y[i] = g->capability.mean + g->capability.sd * x[i];
  layers[0] = (tenter_layer){
      .kind = TENTER_LAYER_RULE, .paint = TENTER_PAINT_FORECAST, .x = x, .y = y, .count = 2};
  layers[1] = (tenter_layer){.kind = TENTER_LAYER_POINTS,
                             .paint = TENTER_PAINT_INK,
                             .x = g->expected,
                             .y = g->sorted,
                             .count = g->count};
  double least = fmin(y[0], g->sorted[0]), most = fmax(y[1], g->sorted[g->count - 1]);
  size_t before = s->count;
  s->charts[s->count++] = (tenter_chart){.form = s->parts->document->form,
                                         .width = PICTURE_WIDTH,
                                         .height = PICTURE_HEIGHT,
                                         .x_least = -edge,
                                         .x_most = edge,
                                         .y_least = least - 0.05 * (most - least),
                                         .y_most = most + 0.05 * (most - least),
                                         .x_label = tenter_say_text(TENTER_SAY_CERT_PLOT_X),
                                         .y_label = "",
                                         .layers = layers,
                                         .layer_count = PLOT_LAYERS};
  tenter_document *d = p->parts.document;
  keep(e, before, picture,
       tenter_say_fill(s->arena, TENTER_SAY_CERT_ALT_PLOT, part_count(d, g->count),
                       part_fixed(d, g->sorted[0], 1), part_fixed(d, g->sorted[g->count - 1], 1),
                       (const char *)NULL));
}

static bool can_plot(const tenter_certificate_group *g) {
  return g->count >= 3 && g->capability.sd > 0;
}

/* ---- all of them ---------------------------------------------------------------------------- */

static void draw_all(easel *e, cert_parts *p) {
  for (size_t i = 0, n = 0; i < p->c->screen_count && n < p->drawn && !e->s.failed; i++)
    if (p->c->screens[i].certified) {
      draw_map(e, p, &p->c->screens[i], &p->maps[i]);
      n++;
    }
  if (!e->s.failed)
    draw_curves(e, p);
  for (size_t i = 0; i < p->c->group_count && !e->s.failed; i++)
    if (can_plot(&p->c->groups[i]))
      draw_plot(e, p, &p->c->groups[i], &p->plots[i]);
}

void cert_pictures_draw(cert_parts *p) {
  tenter_document *d = p->parts.document;
  const tenter_certificate *c = p->c;
  p->drawn = c->certified < MOST_CERTIFIED_DRAWN ? c->certified : MOST_CERTIFIED_DRAWN;
  size_t most = 2 * p->drawn + c->group_count;
  p->maps = tenter_arena_alloc(d->arena, c->screen_count, sizeof *p->maps);
  p->curves = tenter_arena_alloc(d->arena, c->screen_count, sizeof *p->curves);
  p->plots = tenter_arena_alloc(d->arena, c->group_count, sizeof *p->plots);
  tenter_text *svg = tenter_arena_alloc(d->arena, most, sizeof *svg);
  easel e = {.s = {.parts = &p->parts,
                   .arena = d->arena,
                   .charts = tenter_arena_alloc(d->arena, most, sizeof *e.s.charts)},
             .of = tenter_arena_alloc(d->arena, most, sizeof *e.of)};
  e.s.failed = !p->maps || !p->curves || !p->plots || !svg || !e.s.charts || !e.of;
  if (!e.s.failed)
    draw_all(&e, p);
  d->failed |= e.s.failed;
  tenter_error error = {0};
  if (d->failed || e.s.count == 0)
    return;
  if (tenter_charts_draw(e.s.charts, e.s.count, d->arena, svg, &error) != TENTER_OK)
    snprintf(p->missing, sizeof p->missing, "%s", error.message);
  for (size_t i = 0; i < e.s.count; i++)
    e.of[i]->svg = svg[i];
}
