/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures as vectors: SVG by librsvg, which loads nothing from outside here (no base address is
 * given). It knows no variables of a style sheet, so their names are replaced first. */
#include <librsvg/rsvg.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "sheet.h"

enum { GAP = 14, SMALL = 400, MOST_COLUMNS = 3 };

/* Copies what stands at `at`: a name that tenter_charts_draw paints with, var(--ink), as its value
 * in the house style, the face of the page by its name, all else as it is. Returns its length. */
static size_t replace_at(const press *p, tenter_buffer *out, const char *at, size_t left) {
  static const char inherit[] = "\"inherit\"", variable[] = "var(";
  char name[TENTER_STYLE_SIZE], value[TENTER_STYLE_SIZE];
  if (left >= sizeof inherit && memcmp(at, inherit, sizeof inherit - 1) == 0) {
    tenter_buffer_print(out, "\"%s\"", p->family);
    return sizeof inherit - 1;
  }
  const char *close = left >= sizeof variable && memcmp(at, variable, sizeof variable - 1) == 0
                          ? memchr(at, ')', left)
                          : NULL;
  size_t length = close != NULL ? (size_t)(close - at) - (sizeof variable - 1) : 0;
  if (length > 0 && length < sizeof name) {
    memcpy(name, at + sizeof variable - 1, length);
    name[length] = '\0';
    if (tenter_style_value(name, value)) {
      tenter_buffer_text(out, value);
      return length + sizeof variable;
    }
  }
  tenter_buffer_byte(out, *at);
  return 1;
}

static RsvgHandle *open_svg(const press *p, tenter_text svg) {
  tenter_buffer bytes = {0};
  for (size_t at = 0; at < svg.length;)
    at += replace_at(p, &bytes, svg.start + at, svg.length - at);
  RsvgHandle *handle =
      bytes.failed ? NULL
                   : rsvg_handle_new_from_data((const guint8 *)bytes.bytes, bytes.length, NULL);
  char style[64];
  snprintf(style, sizeof style, "svg { color: #%06x }", p->paint[QUIET]);
  if (handle != NULL)
    rsvg_handle_set_stylesheet(handle, (const guint8 *)style, strlen(style), NULL);
  tenter_buffer_release(&bytes);
  return handle;
}

/* True where it could be drawn. */
static bool draw_svg(press *p, tenter_text svg, double x, double y, double width, double height) {
  RsvgHandle *handle = open_svg(p, svg);
  if (handle == NULL)
    return false;
  RsvgRectangle box = {x, y, width, height};
  cairo_save(p->cr);
  bool drawn = rsvg_handle_render_document(handle, p->cr, &box, NULL);
  cairo_restore(p->cr);
  g_object_unref(handle);
  return drawn;
}

/* ---- figures: small multiples --------------------------------------------------------------- */

static size_t columns_of(const press *p, const tenter_block *block) {
  if (block->figure_count > 0 && block->figures[0].width > SMALL)
    return 1;
  return p->wide ? MOST_COLUMNS + 1 : MOST_COLUMNS;
}

static double width_of(const press *p, const tenter_block *block) {
  double columns = (double)columns_of(p, block);
  return (p->right - p->left + GAP) / columns - GAP;
}

/* Points a pixel: 72 to 96, less where the room is less. */
static double scale_of(const press *p, const tenter_figure *figure, double room) {
  if (figure->svg.length == 0 || figure->width <= 0 || figure->height <= 0)
    return 0;
  return fmin(0.75, fmin(room / figure->width, 0.6 * sheet_room(p) / figure->height));
}

/* Title, caption, and the picture or what it shows in words; the height taken. */
static double set_figure(press *p, const tenter_figure *figure, double x, double width, bool draw) {
  const char *const texts[] = {figure->title, figure->caption,
                               figure->svg.length > 0 ? "" : figure->alternative};
  static const press_face of[] = {FACE_CAPTION, FACE_NOTE_QUIET, FACE_NOTE};
  static const int most_lines[] = {4, 4, 12}; /* a picture's row stays on its page */
  double height = 0, scale = scale_of(p, figure, width);
  for (size_t i = 0; i < 3; i++) {
    if (texts[i][0] == '\0')
      continue;
    type_set(p, p->layout, of[i], texts[i], width);
    type_cut(p->layout, most_lines[i]);
    if (draw)
      type_draw(p, p->layout, x, p->y + height, type_colour(of[i]));
    height += type_height(p->layout) + 1;
    type_cut(p->layout, 0);
  }
  if (scale > 0 && draw && !p->draft)
    draw_svg(p, figure->svg, x, p->y + height + 2, figure->width * scale, figure->height * scale);
  return height + figure->height * scale + 6;
}

static double row_height(press *p, const tenter_block *block, size_t first) {
  size_t columns = columns_of(p, block);
  double highest = 0;
  for (size_t i = first; i < block->figure_count && i < first + columns; i++)
    highest = fmax(highest, set_figure(p, &block->figures[i], 0, width_of(p, block), false));
  return highest;
}

double figures_least(press *p, const tenter_block *block) {
  return row_height(p, block, 0);
}

void figures_set(press *p, const tenter_block *block) {
  size_t columns = columns_of(p, block);
  double width = width_of(p, block);
  for (size_t first = 0; first < block->figure_count; first += columns) {
    double height = row_height(p, block, first);
    sheet_need(p, height);
    for (size_t i = first; i < block->figure_count && i < first + columns; i++)
      set_figure(p, &block->figures[i], p->left + (width + GAP) * (double)(i - first), width, true);
    sheet_move(p, height + 4);
  }
}

/* ---- the logo ------------------------------------------------------------------------------- */

static cairo_status_t read_png(void *context, unsigned char *to, unsigned length) {
  tenter_text *left = context;
  if (length > left->length)
    return CAIRO_STATUS_READ_ERROR;
  memcpy(to, left->start, length);
  left->start += length;
  left->length -= length;
  return CAIRO_STATUS_SUCCESS;
}

static double draw_png(press *p, tenter_text png, double x, double y, double width, double height) {
  cairo_surface_t *image = cairo_image_surface_create_from_png_stream(read_png, &png);
  double w = cairo_image_surface_get_width(image), h = cairo_image_surface_get_height(image);
  double scale = w > 0 && h > 0 ? fmin(width / w, height / h) : 0;
  if (cairo_surface_status(image) == CAIRO_STATUS_SUCCESS && scale > 0 && !p->draft) {
    cairo_save(p->cr);
    cairo_translate(p->cr, x, y);
    cairo_scale(p->cr, scale, scale);
    cairo_set_source_surface(p->cr, image, 0, 0);
    cairo_paint(p->cr);
    cairo_restore(p->cr);
  }
  cairo_surface_destroy(image);
  return w * scale;
}

static double draw_logo_svg(press *p, tenter_text svg, double x, double y, double width,
                            double height) {
  RsvgHandle *handle = open_svg(p, svg);
  double w = 0, h = 0;
  if (handle != NULL && !rsvg_handle_get_intrinsic_size_in_pixels(handle, &w, &h)) {
    RsvgRectangle box;
    gboolean has_width, has_height, has_box;
    RsvgLength length;
    rsvg_handle_get_intrinsic_dimensions(handle, &has_width, &length, &has_height, &length,
                                         &has_box, &box);
    w = has_box ? box.width : width;
    h = has_box ? box.height : height;
  }
  if (handle != NULL)
    g_object_unref(handle);
  double scale = w > 0 && h > 0 ? fmin(width / w, height / h) : 0;
  if (scale > 0 && !p->draft)
    draw_svg(p, svg, x, y, w * scale, h * scale);
  return w * scale;
}

double logo_draw(press *p, double x, double y, double width, double height) {
  tenter_text logo = p->document->house.logo;
  if (logo.length == 0)
    return 0;
  return logo.start[0] == '\x89' ? draw_png(p, logo, x, y, width, height)
                                 : draw_logo_svg(p, logo, x, y, width, height);
}
