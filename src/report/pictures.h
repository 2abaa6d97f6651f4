/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is needed to make the pictures of a document: charts are put together one after the other,
 * then drawn by one process. */
#ifndef TENTER_SRC_REPORT_PICTURES_H
#define TENTER_SRC_REPORT_PICTURES_H

#include "review_parts.h"
#include "tenter/report/charts.h"

typedef struct studio {
  review_parts *parts;
  tenter_arena *arena;
  tenter_chart *charts; /* room enough for all */
  size_t count;
  bool failed; /* memory ran out */
} studio;

/* count numbers, all 0; NULL (and s->failed) when memory runs out. */
double *studio_numbers(studio *s, size_t count);

/* A line across, from left to right, or none where y is not known. */
tenter_layer studio_across(studio *s, tenter_layer_kind kind, tenter_paint paint, double left,
                           double right, double y);

/* Widens least .. most to hold the values; NULL is none. */
void studio_stretch(double *least, double *most, const double *values, size_t count);

/* The relaxation of a screen with its forecast. Charts of several screens get their `today` and one
 * span of tension, as far as it can be, by relaxation_same_span. */
bool relaxation_can_be_drawn(const studio *s, const tenter_review_screen *screen);
void relaxation_chart(studio *s, const tenter_review_screen *screen);
void relaxation_same_span(studio *s, tenter_chart *charts,
                          const tenter_review_screen *const *screens, size_t count);
const char *relaxation_words(studio *s, const tenter_review_screen *screen);

/* The readings of a session where they were taken. */
typedef struct map_point {
  double sum[TENTER_DIRECTIONS];
  size_t count[TENTER_DIRECTIONS];
} map_point;

/* Of each position; NULL (and s->failed) when memory runs out. */
map_point *map_points(studio *s, const tenter_session *session);
double map_mean(const map_point *point, int direction); /* NaN without a reading */

/* Whether it is known where on the screen every point lies. */
bool map_can_be_drawn(const tenter_tables *tables, const map_point *points);
void map_chart(studio *s, const tenter_mounting *mounting, const map_point *points);

/* The weeks: mean shift, and the share below the floor with its interval; none below 2 weeks. */
void week_charts(studio *s);

/* The map in words: "NW warp 22.4, NW weft 21.9, ..." */
const char *map_alternative(studio *s, const char *name, const map_point *points);

#endif
