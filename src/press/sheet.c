/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pages: their size, their running heads and feet, and where the pen is. */
#include "sheet.h"

#include <cairo-pdf.h>
#include <string.h>

enum { SIDE = 50, TOP = 50, TOP_AGAIN = 66, BOTTOM = 58, HEAD_AT = 34, FOOT_AT = 38, BAR = 3 };

static double channel(unsigned colour, int shift) {
  return (double)(colour >> shift & 0xFF) / 255;
}

void sheet_colour(press *p, press_colour colour) {
  unsigned rgb = p->paint[colour];
  cairo_set_source_rgb(p->cr, channel(rgb, 16), channel(rgb, 8), channel(rgb, 0));
}

void sheet_rule(press *p, double x, double y, double width, double thickness, press_colour colour) {
  if (p->draft)
    return;
  sheet_colour(p, colour);
  cairo_rectangle(p->cr, x, y, width, thickness);
  cairo_fill(p->cr);
}

/* One line, cut where it is too long; to the right of x where right is set. */
static void running(press *p, const char *text, double x, double width, double y, bool right) {
  type_set(p, p->mark, FACE_RUNNING, text, -1);
  bool fits = type_width(p->mark) <= width;
  if (!fits) {
    type_cut(p->mark, 1);
    pango_layout_set_width(p->mark, (int)(width * PANGO_SCALE));
  }
  double at = right && fits ? x + width - type_width(p->mark) : x;
  type_draw(p, p->mark, at, y, QUIET);
  type_cut(p->mark, 0);
}

static void replace(tenter_buffer *out, const char *text, const char *mark, int number) {
  const char *at = strstr(text, mark);
  if (at == NULL) {
    tenter_buffer_text(out, text);
    return;
  }
  tenter_buffer_add(out, text, (size_t)(at - text));
  tenter_buffer_integer(out, number);
  tenter_buffer_text(out, at + strlen(mark));
}

/* "page 2 of 5" */
static const char *page_words(press *p, tenter_buffer *room) {
  tenter_buffer first = {0};
  replace(&first, p->document->pages, "{1}", p->page);
  const char *half = tenter_buffer_string(&first);
  replace(room, half != NULL ? half : "", "{2}", p->pages);
  tenter_buffer_release(&first);
  const char *words = tenter_buffer_string(room);
  return words != NULL ? words : "";
}

static void head_and_foot(press *p) {
  const tenter_document *d = p->document;
  double width = p->right - p->left, foot = p->height - FOOT_AT;
  bool own = d->header[0] != '\0';
  if (p->page > 1) {
    running(p, own ? d->header : d->title, p->left, width * 0.62, HEAD_AT, false);
    running(p, own ? d->title : d->subtitle, p->left + width * 0.64, width * 0.36, HEAD_AT, true);
    sheet_rule(p, p->left, HEAD_AT + 15, width, 0.4, RULE);
  }
  tenter_buffer words = {0};
  const char *pages = page_words(p, &words);
  type_set(p, p->mark, FACE_RUNNING, pages, -1);
  double taken = type_width(p->mark);
  running(p, pages, p->left, width, foot, true);
  tenter_buffer_release(&words);
  const char *left = d->footer;
  if (left[0] == '\0') {
    tenter_buffer_print(&words, "%s · %s", d->program, d->run);
    left = tenter_buffer_string(&words);
  }
  running(p, left != NULL ? left : "", p->left, width - taken - 20, foot, false);
  tenter_buffer_release(&words);
}

void sheet_open(press *p, bool wide) {
  if (p->page > 0)
    sheet_close(p);
  p->page++;
  p->wide = wide;
  p->width = wide ? p->paper_height : p->paper_width;
  p->height = wide ? p->paper_width : p->paper_height;
  p->left = SIDE;
  p->right = p->width - SIDE;
  p->top = p->page > 1 ? TOP_AGAIN : TOP;
  p->bottom = p->height - BOTTOM;
  p->y = p->top;
  if (!p->draft) {
    cairo_pdf_surface_set_size(p->surface, p->width, p->height);
    head_and_foot(p);
  }
}

void sheet_close(press *p) {
  if (!p->draft)
    cairo_show_page(p->cr);
}

bool sheet_at_top(const press *p) {
  return p->y <= p->top;
}

double sheet_room(const press *p) {
  return p->height - BOTTOM - TOP_AGAIN;
}

void sheet_need(press *p, double height) {
  if (p->y + height > p->bottom && !sheet_at_top(p))
    sheet_open(p, p->wide);
}

void sheet_move(press *p, double height) {
  if (p->barred)
    sheet_rule(p, p->left, p->y, BAR, height, ACT);
  p->y += height;
}
