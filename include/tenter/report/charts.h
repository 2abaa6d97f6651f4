/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures, by gnuplot: all pictures of a report are drawn by one process. A picture is a list of
 * layers over two axes; numbers go as data blocks, text through tenter_escape_gnuplot. What comes
 * back is one SVG element a picture, of fixed size, whose ids carry the picture's number and whose
 * colours are names of the style sheet (--ink, --good ...), so that it can stand in a page, light
 * or dark. */
#ifndef TENTER_REPORT_CHARTS_H
#define TENTER_REPORT_CHARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/form.h"
#include "tenter/base/status.h"
#include "tenter/base/text.h"

typedef enum tenter_paint { /* what a layer means; the style sheet gives the colour */
                            TENTER_PAINT_INK,
                            TENTER_PAINT_QUIET,
                            TENTER_PAINT_FORECAST,
                            TENTER_PAINT_FLOOR,
                            TENTER_PAINT_TARGET,
                            TENTER_PAINT_GOOD,
                            TENTER_PAINT_ACT
} tenter_paint;

typedef enum tenter_layer_kind {
  TENTER_LAYER_BAND,   /* between low and high */
  TENTER_LAYER_LINE,   /* through y; breaks where y is NaN */
  TENTER_LAYER_RULE,   /* the same, thin */
  TENTER_LAYER_DASHES, /* the same, dashed */
  TENTER_LAYER_POINTS, /* dots at y */
  TENTER_LAYER_BARS,   /* upright strokes from low to high */
  TENTER_LAYER_WORDS   /* words at x, y */
} tenter_layer_kind;

typedef struct tenter_layer {
  tenter_layer_kind kind;
  tenter_paint paint;
  const double *x, *y, *low, *high; /* count each; those the kind needs */
  const char *const *words;
  size_t count;
} tenter_layer;

typedef struct tenter_chart {
  tenter_form form;  /* of the numbers along the axes */
  int width, height; /* px */
  double x_least, x_most, y_least, y_most;
  const char *x_label, *y_label; /* "" for none */
  bool bare;                     /* no axes: a map */
  const char *const *y_names;    /* y_name_count names at 1, 2, ... in place of numbers along y */
  size_t y_name_count;
  tenter_layer *layers;
  size_t layer_count;
} tenter_chart;

/* Draws count charts; svg[i] is the i-th in arena. TENTER_FAILED with a sentence when gnuplot is
 * missing, fails, or gives back something else than count pictures; then no svg is set. */
tenter_status tenter_charts_draw(const tenter_chart *charts, size_t count, tenter_arena *arena,
                                 tenter_text *svg, tenter_error *error);

#endif
