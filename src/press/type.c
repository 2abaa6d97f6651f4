/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text: the faces, and lines flowing down the pages. */
#include "sheet.h"
#include "tenter/report/escape.h"

typedef struct type_look {
  double leading; /* of the height of the font */
  bool bold;
  press_colour colour;
} type_look;

static const type_look faces[FACE_COUNT] = {
    [FACE_TITLE] = {1.05, false, ACCENT},    [FACE_SUBTITLE] = {1.1, false, QUIET},
    [FACE_HEADING] = {1.1, true, INK},       [FACE_SUBHEADING] = {1.1, true, INK},
    [FACE_LEAD] = {1.3, false, INK},         [FACE_BODY] = {1.3, false, INK},
    [FACE_BODY_BOLD] = {1.3, true, INK},     [FACE_CAPTION] = {1.1, true, INK},
    [FACE_CELL] = {1.22, false, INK},        [FACE_CELL_BOLD] = {1.22, true, INK},
    [FACE_CELL_HEAD] = {1.1, false, QUIET},  [FACE_NOTE] = {1.24, false, INK},
    [FACE_NOTE_QUIET] = {1.2, false, QUIET}, [FACE_RUNNING] = {1, false, QUIET},
};

press_colour type_colour(press_face face) {
  return faces[face].colour;
}

double type_size(const press *p, press_face face) {
  return p->size[face];
}

void type_scale(const press *p, PangoLayout *layout, press_face face, double scale) {
  PangoFontDescription *font = pango_font_description_from_string(p->family);
  pango_font_description_set_absolute_size(font, p->size[face] * scale * PANGO_SCALE);
  pango_font_description_set_weight(font,
                                    faces[face].bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout, font);
  pango_font_description_free(font);
}

void type_set(press *p, PangoLayout *layout, press_face face, const char *text, double width) {
  tenter_buffer_clear(&p->safe);
  tenter_escape_terminal(&p->safe, text);
  type_scale(p, layout, face, 1);
  pango_layout_set_line_spacing(layout, (float)faces[face].leading);
  pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
  pango_layout_set_width(layout, width < 0 ? -1 : (int)(width * PANGO_SCALE));
  pango_layout_set_text(layout, p->safe.length > 0 ? p->safe.bytes : "", (int)p->safe.length);
}

void type_cut(PangoLayout *layout, int lines) {
  pango_layout_set_height(layout, lines > 0 ? -lines : -1);
  pango_layout_set_ellipsize(layout, lines > 0 ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_NONE);
}

double type_width(PangoLayout *layout) {
  PangoRectangle box;
  pango_layout_get_extents(layout, NULL, &box);
  return (double)box.width / PANGO_SCALE;
}

double type_height(PangoLayout *layout) {
  PangoRectangle box;
  pango_layout_get_extents(layout, NULL, &box);
  return (double)box.height / PANGO_SCALE;
}

void type_draw(press *p, PangoLayout *layout, double x, double y, press_colour colour) {
  if (p->draft)
    return;
  sheet_colour(p, colour);
  cairo_move_to(p->cr, x, y);
  pango_cairo_show_layout(p->cr, layout);
}

type_line type_line_at(PangoLayoutIter *line, press_face face) {
  PangoRectangle box;
  pango_layout_iter_get_line_extents(line, NULL, &box);
  double natural = (double)box.height / PANGO_SCALE, height = natural * faces[face].leading;
  double above = (double)(pango_layout_iter_get_baseline(line) - box.y) / PANGO_SCALE;
  return (type_line){height, above + (height - natural) / 2};
}

/* No line stands alone at the foot or at the head of a page. */
static double height_kept(PangoLayout *layout, int index, double height) {
  int count = pango_layout_get_line_count(layout);
  bool first = index == 0, last_but_one = index == count - 2;
  return count > 1 && (first || last_but_one) ? (count == 3 ? 3 : 2) * height : height;
}

void type_flow(press *p, press_face face, const char *text, double x, double width,
               const char *mark, double mark_x) {
  type_set(p, p->layout, face, text, width);
  pango_layout_set_line_spacing(p->layout, 0); /* a line's height is its own */
  press_colour colour = type_colour(face);
  PangoLayoutIter *line = pango_layout_get_iter(p->layout);
  int index = 0;
  do {
    type_line box = type_line_at(line, face);
    sheet_need(p, height_kept(p->layout, index, box.height));
    if (index == 0 && mark != NULL) {
      type_set(p, p->mark, face, mark, -1);
      double rise = (double)pango_layout_get_baseline(p->mark) / PANGO_SCALE;
      type_draw(p, p->mark, mark_x, p->y + box.baseline - rise, colour);
    }
    if (!p->draft) {
      sheet_colour(p, colour);
      cairo_move_to(p->cr, x, p->y + box.baseline);
      pango_cairo_show_layout_line(p->cr, pango_layout_iter_get_line_readonly(line));
    }
    sheet_move(p, box.height);
    index++;
  } while (pango_layout_iter_next_line(line));
  pango_layout_iter_free(line);
}
