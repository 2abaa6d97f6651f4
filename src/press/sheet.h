/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files of the press: one sheet of paper after the other, and a pen that moves down.
 *
 * A document is set twice by the same code: first as a draft, which draws nothing and counts the
 * pages, then for good. All lengths are in points (1/72 inch), y grows downwards. */
#ifndef TENTER_SRC_PRESS_SHEET_H
#define TENTER_SRC_PRESS_SHEET_H

#include <cairo.h>
#include <pango/pangocairo.h>

#include "tenter/base/arena.h"
#include "tenter/press/press.h"
#include "tenter/report/style.h"

/* The roles of text; sizes are in reports/house.css, weights in type.c. */
typedef enum press_face {
  FACE_TITLE,
  FACE_SUBTITLE,
  FACE_HEADING,
  FACE_SUBHEADING,
  FACE_LEAD, /* the first paragraph */
  FACE_BODY,
  FACE_BODY_BOLD,
  FACE_CAPTION,
  FACE_CELL,
  FACE_CELL_BOLD,
  FACE_CELL_HEAD,
  FACE_NOTE,
  FACE_NOTE_QUIET,
  FACE_RUNNING,
  FACE_COUNT
} press_face;

/* What is painted with: colours of reports/house.css, and the shop's own. */
typedef enum press_colour { INK, QUIET, RULE, GOOD, WATCH, ACT, STOP, ACCENT, PAINTS } press_colour;

typedef struct table_plan table_plan;

typedef struct press {
  const tenter_document *document;
  cairo_surface_t *surface;
  cairo_t *cr;
  PangoContext *context;
  PangoLayout *layout, *mark; /* of the text at hand, and of what stands before it */
  tenter_arena *arena;
  unsigned paint[PAINTS];  /* 0xrrggbb, and ... */
  double size[FACE_COUNT]; /* ... points: the house style */
  char family[TENTER_STYLE_SIZE];
  tenter_buffer safe;                        /* the text at hand, behind the door */
  double paper_width, paper_height;          /* upright */
  double width, height;                      /* of the page at hand */
  double left, right, bottom;                /* of what may be set on it */
  double top;                                /* where it begins */
  double y;                                  /* of the pen */
  bool wide, draft, barred;                  /* barred: a bar runs along the left edge */
  int page, pages, outline;                  /* page: from 1; outline: of the section at hand */
  table_plan *plans, *last_plan, *next_plan; /* made by the draft, in order */
} press;

/* ---- style.c ---- */
tenter_status style_load(press *p, tenter_error *error);

/* ---- sheet.c: pages ---- */
void sheet_open(press *p, bool wide);     /* a new page, after that which is open */
void sheet_close(press *p);               /* the last one */
void sheet_need(press *p, double height); /* a new page, unless there is room for height */
void sheet_move(press *p, double height); /* the pen, down */
double sheet_room(const press *p);        /* of a whole page */
bool sheet_at_top(const press *p);
void sheet_colour(press *p, press_colour colour);
void sheet_rule(press *p, double x, double y, double width, double thickness, press_colour colour);

/* ---- type.c: text ---- */
/* Puts text (through the door) into layout, in lines of at most width (< 0: one line). */
void type_set(press *p, PangoLayout *layout, press_face face, const char *text, double width);
void type_scale(const press *p, PangoLayout *layout, press_face face,
                double scale);                 /* after type_set */
void type_cut(PangoLayout *layout, int lines); /* after so many lines, with an ellipsis; 0: never */
double type_width(PangoLayout *layout);
double type_height(PangoLayout *layout);
press_colour type_colour(press_face face);
double type_size(const press *p, press_face face);
/* A line's height, its leading included, and where in it the baseline lies. */
typedef struct type_line {
  double height, baseline;
} type_line;
type_line type_line_at(PangoLayoutIter *line, press_face face);
/* Draws layout with its upper left corner at x, y. */
void type_draw(press *p, PangoLayout *layout, double x, double y, press_colour colour);
/* The text line by line from the pen on, over as many pages as it takes; mark (NULL: none) stands
 * before the first line, at mark_x. */
void type_flow(press *p, press_face face, const char *text, double x, double width,
               const char *mark, double mark_x);

/* ---- blocks.c, table.c, table_plan.c, pictures.c ---- */
void blocks_set(press *p, const tenter_block *block, int depth);
void table_set(press *p, const tenter_block *table);
void figures_set(press *p, const tenter_block *block);
double figures_least(press *p, const tenter_block *block); /* height of the first row */
/* The logo at x, y within the box; its width as drawn. */
double logo_draw(press *p, double x, double y, double width, double height);

/* The catalogue of a PDF gets the language and "show the title": appended as an incremental update
 * (ISO 32000-1, 7.5.6), since cairo can't set either. False where the file is of another make than
 * expected; it is left as it is then. */
bool pdf_set_language(tenter_buffer *pdf, size_t start, const char *language);

#endif
