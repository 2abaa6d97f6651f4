/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which screens are drawn and what their pictures show: relaxation with forecast, floor and target,
 * on the same span of tension wherever it can be, so that slopes can be compared; readings of a
 * session where they lie on the screen. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "pictures.h"

enum { CURVE_POINTS = 40, RELAXATION_LAYERS = 7, MAP_LAYERS = 4, WINDOW_DAYS = 84 };

double *studio_numbers(studio *s, size_t count) {
  double *array = tenter_arena_alloc(s->arena, count > 0 ? count : 1, sizeof *array);
  s->failed |= array == NULL;
  return array;
}

static const tenter_mounting *mounting_of(const studio *s, const tenter_review_screen *screen) {
  return &s->parts->review->shop->mountings[screen->mounting];
}

/* ---- relaxation ---- */

static double days_at(const tenter_mounting *mounting, tenter_time time) {
  return tenter_mounting_age_hours(mounting, time) / 24;
}

tenter_layer studio_across(studio *s, tenter_layer_kind kind, tenter_paint paint, double left,
                           double right, double y) {
  tenter_layer layer = {.kind = kind, .paint = paint};
  double *x = studio_numbers(s, 2), *level = studio_numbers(s, 2);
  if (x == NULL || level == NULL || !isfinite(y))
    return layer;
  x[0] = left;
  x[1] = right;
  level[0] = level[1] = y;
  layer.x = x;
  layer.y = level;
  layer.count = 2;
  return layer;
}

/* Today, as a quiet upright line. */
static tenter_layer today(studio *s, double x, double low, double high) {
  tenter_layer layer = {.kind = TENTER_LAYER_BARS, .paint = TENTER_PAINT_QUIET};
  double *at = studio_numbers(s, 3);
  if (at == NULL)
    return layer;
  at[0] = x;
  at[1] = low;
  at[2] = high;
  layer.x = &at[0];
  layer.low = &at[1];
  layer.high = &at[2];
  layer.count = 1;
  return layer;
}

/* Adjusted means of the mounting's sessions within the window, with one standard uncertainty each
 * way. */
static void session_layers(studio *s, const tenter_mounting *mounting, double left,
                           tenter_layer *points, tenter_layer *bars) {
  size_t count = mounting->session_count, kept = 0;
  double *x = studio_numbers(s, count), *y = studio_numbers(s, count),
         *low = studio_numbers(s, count), *high = studio_numbers(s, count);
  if (s->failed)
    return;
  for (size_t i = 0; i < count; i++) {
    size_t session = mounting->first_session + i;
    double uncertainty = NAN;
    double mean = tenter_review_session_mean(s->parts->review, session, &uncertainty);
    double day = days_at(mounting, s->parts->review->shop->sessions[session].taken);
    if (!isfinite(mean) || !isfinite(day) || day < left)
      continue;
    x[kept] = day;
    y[kept] = mean;
    low[kept] = isfinite(uncertainty) ? mean - uncertainty : mean;
    high[kept++] = isfinite(uncertainty) ? mean + uncertainty : mean;
  }
  *points = (tenter_layer){.kind = TENTER_LAYER_POINTS, .x = x, .y = y, .count = kept};
  *bars =
      (tenter_layer){.kind = TENTER_LAYER_BARS, .x = x, .low = low, .high = high, .count = kept};
}

/* The curve of the model, and from the latest session on the band that holds it in 9 of 10 cases.
 */
static void curve_layers(studio *s, const tenter_review_screen *screen, double left, double right,
                         tenter_layer *line, tenter_layer *band) {
  double *x = studio_numbers(s, CURVE_POINTS), *y = studio_numbers(s, CURVE_POINTS),
         *low = studio_numbers(s, CURVE_POINTS), *high = studio_numbers(s, CURVE_POINTS);
  if (s->failed)
    return;
  double latest = screen->latest.age_hours / 24;
  size_t known = 0; /* curve points up to the latest session; the rest is forecast */
  for (size_t i = 0; i < CURVE_POINTS; i++) {
    double share = (double)i / (CURVE_POINTS - 1), sd = NAN;
    x[i] = left + (right - left) * share * share; /* dense where the curve bends */
    if (left > 0)
      x[i] = left + (right - left) * share;
    if (x[i] < 1.0 / 24)
      x[i] = 1.0 / 24;
    tenter_review_tension_at(s->parts->review, screen, x[i] * 24, &y[i], &sd);
    low[i] = y[i] - 1.645 * sd;
    high[i] = y[i] + 1.645 * sd;
    known += x[i] < latest;
  }
  *line = (tenter_layer){.kind = TENTER_LAYER_LINE,
                         .paint = TENTER_PAINT_FORECAST,
                         .x = x,
                         .y = y,
                         .count = CURVE_POINTS};
  size_t start = known > 0 ? known - 1 : 0;
  *band = (tenter_layer){.kind = TENTER_LAYER_BAND,
                         .paint = TENTER_PAINT_FORECAST,
                         .x = x + start,
                         .low = low + start,
                         .high = high + start,
                         .count = CURVE_POINTS - start};
}

void studio_stretch(double *least, double *most, const double *values, size_t count) {
  for (size_t i = 0; values != NULL && i < count; i++) {
    *least = fmin(*least, values[i]);
    *most = fmax(*most, values[i]);
  }
}

void relaxation_chart(studio *s, const tenter_review_screen *screen) {
  const tenter_review *review = s->parts->review;
  const tenter_mounting *mounting = mounting_of(s, screen);
  double now = screen->age_hours / 24, horizon = review->shop->config->settings.horizon_days;
  double left = fmax(0, now - WINDOW_DAYS), right = now + 2 * horizon;
  tenter_layer *layers = tenter_arena_alloc(s->arena, RELAXATION_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  curve_layers(s, screen, left, right, &layers[2], &layers[0]);
  layers[3] =
      studio_across(s, TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, left, right, mounting->is.floor);
  layers[4] =
      studio_across(s, TENTER_LAYER_RULE, TENTER_PAINT_TARGET, left, right, mounting->is.target);
  session_layers(s, mounting, left, &layers[6], &layers[5]);
  if (s->failed)
    return;
  tenter_chart *chart = &s->charts[s->count++];
  *chart = (tenter_chart){.form = s->parts->document->form,
                          .width = PICTURE_WIDTH,
                          .height = PICTURE_HEIGHT,
                          .x_least = left,
                          .x_most = right,
                          .y_least = INFINITY,
                          .y_most = -INFINITY,
                          .x_label = tenter_say_text(TENTER_SAY_CHART_DAYS),
                          .y_label = "",
                          .layers = layers,
                          .layer_count = RELAXATION_LAYERS};
  for (size_t i = 0; i < RELAXATION_LAYERS; i++) {
    studio_stretch(&chart->y_least, &chart->y_most, layers[i].y, layers[i].count);
    studio_stretch(&chart->y_least, &chart->y_most, layers[i].low, layers[i].count);
    studio_stretch(&chart->y_least, &chart->y_most, layers[i].high, layers[i].count);
  }
}

static int compare_numbers(const void *a, const void *b) {
  const double *x = a, *y = b;
  return (*x > *y) - (*x < *y);
}

/* The widest span of tension among the pictures, but for those that are far wider than most: one
 * screen that was pulled too high must not flatten all others. */
static double common_span(studio *s, const tenter_chart *charts, size_t count) {
  double *spans = studio_numbers(s, count), common = 4; /* N/cm */
  for (size_t i = 0; i < count && !s->failed; i++)
    spans[i] = charts[i].y_most - charts[i].y_least;
  if (s->failed)
    return common;
  qsort(spans, count, sizeof *spans, compare_numbers);
  for (size_t i = 0; i < count; i++)
    if (spans[i] <= 1.4 * spans[count / 2])
      common = fmax(common, spans[i]);
  return common;
}

void relaxation_same_span(studio *s, tenter_chart *charts,
                          const tenter_review_screen *const *screens, size_t count) {
  double common = common_span(s, charts, count);
  for (size_t i = 0; i < count; i++) {
    tenter_chart *chart = &charts[i];
    double middle = (chart->y_most + chart->y_least) / 2;
    double span = fmax(common, chart->y_most - chart->y_least) + 1;
    chart->y_least = floor(middle - span / 2);
    chart->y_most = ceil(middle + span / 2);
    /* NOLINTNEXTLINE(clang-analyzer-core.*): relaxation_chart gave it its layers */
    chart->layers[1] = today(s, screens[i]->age_hours / 24, chart->y_least, chart->y_most);
  }
}

const char *relaxation_words(studio *s, const tenter_review_screen *screen) {
  tenter_document *d = s->parts->document;
  const tenter_mounting *mounting = mounting_of(s, screen);
  double later = NAN, sd = NAN, horizon = s->parts->review->shop->config->settings.horizon_days;
  tenter_review_tension_at(s->parts->review, screen, screen->age_hours + 24 * horizon, &later, &sd);
  return tenter_say_fill(
      s->arena, TENTER_SAY_ALT_RELAXATION,
      part_name(s->parts->review, TENTER_NAME_SCREEN, screen->screen),
      part_count(d, mounting->session_count),
      part_fixed(s->parts->document, screen->latest.adjusted_mean, 1),
      tenter_document_uncertain(d, screen->forecast.now, screen->forecast.now_se),
      tenter_document_uncertain(d, later, sd), part_fixed(s->parts->document, horizon, 0),
      part_fixed(s->parts->document, mounting->is.floor, 1),
      part_fixed(s->parts->document, mounting->is.target, 1), (const char *)NULL);
}

bool relaxation_can_be_drawn(const studio *s, const tenter_review_screen *screen) {
  return screen->read && screen->posterior.nodes != NULL && isfinite(screen->forecast.now) &&
         isfinite(screen->age_hours) && isfinite(mounting_of(s, screen)->is.floor);
}

static void draw_relaxations(studio *s) {
  const tenter_review_screen *screens[MOST_PICTURES];
  review_pictures *pictures = &s->parts->pictures;
  for (size_t i = 0; i < s->parts->work.count; i++) {
    const tenter_review_screen *screen = s->parts->work.items[i].screen;
    if (pictures->relaxation_count == MOST_PICTURES || s->failed)
      break;
    if (!relaxation_can_be_drawn(s, screen))
      continue;
    screens[pictures->relaxation_count] = screen;
    pictures->relaxation[pictures->relaxation_count++] =
        (review_picture){.screen = screen, .alternative = relaxation_words(s, screen)};
    relaxation_chart(s, screen);
  }
  if (!s->failed)
    relaxation_same_span(s, s->charts, screens, s->count); /* so far */
}

/* ---- evenness ---- */

double map_mean(const map_point *point, int direction) {
  return point->count[direction] > 0 ? point->sum[direction] / (double)point->count[direction]
                                     : NAN;
}

map_point *map_points(studio *s, const tenter_session *session) {
  const tenter_tables *tables = s->parts->review->shop->tables;
  map_point *points = tenter_arena_alloc(s->arena, tables->position_count + 1, sizeof *points);
  s->failed |= points == NULL;
  for (uint32_t i = 0; points != NULL && i < session->count; i++) {
    uint32_t row = session->first + i;
    uint16_t position = tables->readings.position[row];
    if (position >= tables->position_count)
      continue;
    uint8_t direction = tables->readings.direction[row];
    points[position].sum[direction] += tables->readings.tension[row];
    points[position].count[direction]++;
  }
  return points;
}

/* The centre's reading of a direction, NaN without one. */
static double map_centre(const tenter_tables *tables, const map_point *points, int direction) {
  for (size_t i = 0; i < tables->position_count; i++)
    if (tables->positions[i].kind == TENTER_PLACE_CENTRE && points[i].count[direction] > 0)
      return map_mean(&points[i], direction);
  return NAN;
}

typedef struct map_words {
  const char **words;
  double *x, *y;
  size_t count;
} map_words;

static map_words map_words_new(studio *s, size_t most) {
  map_words list = {.x = studio_numbers(s, most), .y = studio_numbers(s, most)};
  list.words = tenter_arena_alloc(s->arena, most > 0 ? most : 1, sizeof *list.words);
  s->failed |= list.words == NULL;
  return list;
}

static void map_words_add(map_words *list, double x, double y, const char *words) {
  list->x[list->count] = x;
  list->y[list->count] = y;
  list->words[list->count++] = words;
}

static tenter_layer map_layer(const map_words *list, tenter_paint paint) {
  return (tenter_layer){.kind = TENTER_LAYER_WORDS,
                        .paint = paint,
                        .x = list->x,
                        .y = list->y,
                        .words = list->words,
                        .count = list->count};
}

typedef struct map_lists {
  map_words quiet, plain, marked;
} map_lists;

/* The readings at one position, one line a direction; what lies off the centre by more than the
 * limit is marked by an arrow, too. */
static void map_position(studio *s, map_lists *lists, size_t index, const map_point *points,
                         double limit) {
  const tenter_tables *tables = s->parts->review->shop->tables;
  const tenter_position *position = &tables->positions[index];
  double y = position->y * 0.64 - 0.02;
  map_words_add(&lists->quiet, position->x * 0.72, y + 0.23, position->label);
  for (int direction = 0, line = 0; direction < TENTER_DIRECTIONS; direction++) {
    double mean = map_mean(&points[index], direction);
    double off = mean - map_centre(tables, points, direction);
    if (!isfinite(mean))
      continue;
    bool marked = isfinite(off) && fabs(off) > limit;
    const char *words =
        tenter_document_print(s->parts->document, "%s%s", part_fixed(s->parts->document, mean, 1),
                              !marked   ? ""
                              : off < 0 ? " ▼"
                                        : " ▲");
    map_words_add(marked ? &lists->marked : &lists->plain, position->x * 0.72, y - 0.23 * line++,
                  words);
  }
}

static tenter_layer map_edge(void) {
  static const double x[] = {-0.99, 0.99, 0.99, -0.99, -0.99},
                      y[] = {-0.99, -0.99, 0.99, 0.99, -0.99};
  return (tenter_layer){
      .kind = TENTER_LAYER_RULE, .paint = TENTER_PAINT_QUIET, .x = x, .y = y, .count = 5};
}

static bool lies_somewhere(const tenter_position *position) {
  return isfinite(position->x) && isfinite(position->y);
}

void map_chart(studio *s, const tenter_mounting *mounting, const map_point *points) {
  const tenter_tables *tables = s->parts->review->shop->tables;
  size_t most = tables->position_count * TENTER_DIRECTIONS;
  map_lists lists = {map_words_new(s, most), map_words_new(s, most), map_words_new(s, most)};
  tenter_layer *layers = tenter_arena_alloc(s->arena, MAP_LAYERS, sizeof *layers);
  s->failed |= layers == NULL;
  if (s->failed)
    return;
  for (size_t i = 0; i < tables->position_count; i++)
    if (lies_somewhere(&tables->positions[i]) &&
        points[i].count[0] + points[i].count[1] + points[i].count[2] > 0)
      map_position(s, &lists, i, points, mounting->evenness_point);
  layers[0] = map_edge();
  layers[1] = map_layer(&lists.quiet, TENTER_PAINT_QUIET);
  layers[2] = map_layer(&lists.plain, TENTER_PAINT_INK);
  layers[3] = map_layer(&lists.marked, TENTER_PAINT_ACT);
  s->charts[s->count++] = (tenter_chart){.form = s->parts->document->form,
                                         .width = MAP_WIDTH,
                                         .height = MAP_HEIGHT,
                                         .x_least = -1,
                                         .x_most = 1,
                                         .y_least = -1,
                                         .y_most = 1,
                                         .x_label = "",
                                         .y_label = "",
                                         .bare = true,
                                         .layers = layers,
                                         .layer_count = MAP_LAYERS};
}

const char *map_alternative(studio *s, const char *name, const map_point *points) {
  const tenter_tables *tables = s->parts->review->shop->tables;
  const char *all = "";
  for (size_t i = 0; i < tables->position_count; i++)
    for (int direction = 0; direction < TENTER_DIRECTIONS; direction++) {
      double mean = map_mean(&points[i], direction);
      work_point point = {(uint16_t)i, (tenter_direction)direction};
      if (isfinite(mean))
        all = tenter_document_print(
            s->parts->document, "%s%s%s %s", all, all[0] != '\0' ? ", " : "",
            work_point_words(tables, point, s->arena), part_fixed(s->parts->document, mean, 1));
    }
  return tenter_say_fill(s->arena, TENTER_SAY_ALT_MAP, name, all, (const char *)NULL);
}

bool map_can_be_drawn(const tenter_tables *tables, const map_point *points) {
  size_t seen = 0;
  for (size_t i = 0; i < tables->position_count; i++) {
    if (points[i].count[0] + points[i].count[1] + points[i].count[2] == 0)
      continue;
    if (!lies_somewhere(&tables->positions[i]))
      return false;
    seen++;
  }
  return seen > 1;
}

static void draw_maps(studio *s) {
  review_pictures *pictures = &s->parts->pictures;
  const tenter_shop *shop = s->parts->review->shop;
  for (size_t i = 0; i < s->parts->work.count && !s->failed; i++) {
    const tenter_review_screen *screen = s->parts->work.items[i].screen;
    bool doubtful =
        screen->evenness == TENTER_VERDICT_BAD || screen->evenness == TENTER_VERDICT_UNDECIDED;
    if (pictures->map_count == MOST_MAPS)
      break;
    if (!screen->read || !doubtful)
      continue;
    const map_point *points = map_points(s, &shop->sessions[screen->latest.session]);
    if (s->failed || !map_can_be_drawn(shop->tables, points))
      continue;
    pictures->maps[pictures->map_count++] = (review_picture){
        .screen = screen,
        .alternative = map_alternative(
            s, part_name(s->parts->review, TENTER_NAME_SCREEN, screen->screen), points)};
    map_chart(s, mounting_of(s, screen), points);
  }
}

/* The average map of a station as points of a map. */
static const map_point *station_points(studio *s, const tenter_review_station *station) {
  const tenter_tables *tables = s->parts->review->shop->tables;
  map_point *points = tenter_arena_alloc(s->arena, tables->position_count + 1, sizeof *points);
  s->failed |= points == NULL;
  for (size_t i = 0; points != NULL && i < station->point_count; i++) {
    map_point *point = &points[station->points[i].position];
    point->sum[station->points[i].direction] = station->points[i].mean;
    point->count[station->points[i].direction] = 1;
  }
  return points;
}

static void draw_stations(studio *s) {
  review_pictures *pictures = &s->parts->pictures;
  const tenter_review *review = s->parts->review;
  const tenter_mounting limits = {.evenness_point =
                                      review->shop->config->settings.least_unevenness};
  for (size_t i = 0; i < review->station_count && !s->failed; i++) {
    const tenter_review_station *station = &review->stations[i];
    if (pictures->station_count == MOST_STATION_MAPS)
      break;
    const map_point *points = station_points(s, station);
    if (s->failed || !map_can_be_drawn(review->shop->tables, points))
      continue;
    pictures->stations[pictures->station_count++] =
        (station_picture){.station = station,
                          .alternative = map_alternative(
                              s, part_name(review, TENTER_NAME_STATION, station->station), points)};
    map_chart(s, &limits, points);
  }
}

void pictures_draw(review_parts *parts) {
  enum { MOST = MOST_PICTURES + MOST_MAPS + MOST_STATION_MAPS + WEEK_PICTURES };
  tenter_text svg[MOST] = {{NULL, 0}};
  tenter_error error = {0};
  tenter_chart charts[MOST];
  studio s = {.parts = parts, .arena = parts->document->arena, .charts = charts};
  draw_relaxations(&s);
  draw_maps(&s);
  draw_stations(&s);
  size_t weeks = s.count;
  week_charts(&s);
  if (s.failed) {
    parts->document->failed = true;
    return;
  }
  if (tenter_charts_draw(s.charts, s.count, s.arena, svg, &error) != TENTER_OK)
    strcpy(parts->pictures.missing, error.message);
  for (size_t i = 0; i < parts->pictures.relaxation_count; i++)
    parts->pictures.relaxation[i].svg = svg[i];
  for (size_t i = 0; i < parts->pictures.map_count; i++)
    parts->pictures.maps[i].svg = svg[parts->pictures.relaxation_count + i];
  for (size_t i = 0; i < parts->pictures.station_count; i++)
    parts->pictures.stations[i].svg =
        svg[parts->pictures.relaxation_count + parts->pictures.map_count + i];
  for (size_t i = 0; weeks + i < s.count; i++)
    parts->pictures.weeks[i] = svg[weeks + i];
}
