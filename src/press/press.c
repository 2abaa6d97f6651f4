/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document as a PDF: a draft that counts the pages, then the pages. */
#include "tenter/press/press.h"

#include <cairo-pdf.h>
#include <string.h>

#include "sheet.h"
#include "tenter/report/escape.h"

/* Points: ISO 216, and 8.5 by 11 inches. */
static const struct size {
  double width, height;
} sizes[TENTER_PAPERS] = {
    [TENTER_PAPER_A4] = {595.276, 841.89}, [TENTER_PAPER_LETTER] = {612, 792}};

static cairo_status_t write_pdf(void *context, const unsigned char *bytes, unsigned length) {
  tenter_buffer *out = context;
  tenter_buffer_add(out, bytes, length);
  return out->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

/* Logo, name and address, and a rule under them. */
static void letterhead(press *p) {
  enum { LOGO_WIDTH = 170, LOGO_HEIGHT = 48 };
  const tenter_house *house = &p->document->house;
  const char *name = house->name != NULL ? house->name : "";
  const char *address = house->address != NULL ? house->address : "";
  if (name[0] == '\0' && address[0] == '\0' && house->logo.length == 0)
    return;
  double taken = logo_draw(p, p->left, p->y, LOGO_WIDTH, LOGO_HEIGHT);
  double x = taken > 0 ? p->left + taken + 20 : p->left, top = p->y;
  double width = p->right - x;
  const char *const lines[] = {name, address};
  static const press_face of[] = {FACE_BODY_BOLD, FACE_NOTE_QUIET};
  for (size_t i = 0; i < 2; i++) {
    type_set(p, p->layout, of[i], lines[i], width);
    pango_layout_set_alignment(p->layout, taken > 0 ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
    type_draw(p, p->layout, x, p->y, type_colour(of[i]));
    pango_layout_set_alignment(p->layout, PANGO_ALIGN_LEFT);
    if (lines[i][0] != '\0')
      p->y += type_height(p->layout) + 1;
  }
  if (taken > 0 && p->y < top + LOGO_HEIGHT)
    p->y = top + LOGO_HEIGHT;
  p->y += 7;
  sheet_rule(p, p->left, p->y, p->right - p->left, 0.8, type_colour(FACE_TITLE));
  p->y += 18;
}

static void set_all(press *p, bool draft) {
  double width;
  p->draft = draft;
  p->page = 0;
  p->outline = CAIRO_PDF_OUTLINE_ROOT;
  p->next_plan = p->plans;
  sheet_open(p, false);
  letterhead(p);
  width = p->right - p->left;
  type_flow(p, FACE_TITLE, p->document->title, p->left, width, NULL, 0);
  if (p->document->subtitle[0] != '\0')
    type_flow(p, FACE_SUBTITLE, p->document->subtitle, p->left, width, NULL, 0);
  sheet_move(p, 10);
  blocks_set(p, p->document->first, 0);
  sheet_close(p);
  if (draft)
    p->pages = p->page;
}

/* A text for the file's own data: behind the same door. */
static void add_metadata(cairo_surface_t *surface, cairo_pdf_metadata_t kind, const char *text) {
  tenter_buffer safe = {0};
  tenter_escape_terminal(&safe, text);
  const char *string = tenter_buffer_string(&safe);
  if (string != NULL && string[0] != '\0')
    cairo_pdf_surface_set_metadata(surface, kind, string);
  tenter_buffer_release(&safe);
}

static void describe(cairo_surface_t *surface, const tenter_document *document) {
  char time[TENTER_TIME_SIZE];
  add_metadata(surface, CAIRO_PDF_METADATA_TITLE, document->title);
  add_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, document->subtitle);
  add_metadata(surface, CAIRO_PDF_METADATA_CREATOR, document->program);
  add_metadata(surface, CAIRO_PDF_METADATA_KEYWORDS, document->run);
  if (document->house.name != NULL)
    add_metadata(surface, CAIRO_PDF_METADATA_AUTHOR, document->house.name);
  tenter_time made = document->made != TENTER_NO_TIME ? document->made : 0;
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE,
                                 tenter_time_print(made, time));
}

/* Pango's words for a language come from its tag; line breaks follow it. */
static bool open_press(press *p, tenter_buffer *out) {
  p->arena = tenter_arena_new();
  p->surface = cairo_pdf_surface_create_for_stream(write_pdf, out, p->paper_width, p->paper_height);
  cairo_pdf_surface_restrict_to_version(p->surface, CAIRO_PDF_VERSION_1_5);
  describe(p->surface, p->document);
  p->cr = cairo_create(p->surface);
  p->context = pango_cairo_create_context(p->cr);
  pango_cairo_context_set_resolution(p->context, 72);
  pango_context_set_language(p->context, pango_language_from_string(p->document->language));
  pango_context_set_base_dir(p->context, PANGO_DIRECTION_LTR);
  pango_context_set_round_glyph_positions(p->context, FALSE);
  cairo_font_options_t *options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(p->context, options);
  cairo_font_options_destroy(options);
  p->layout = pango_layout_new(p->context);
  p->mark = pango_layout_new(p->context);
  return p->arena != NULL;
}

static void close_press(press *p) {
  g_object_unref(p->mark);
  g_object_unref(p->layout);
  g_object_unref(p->context);
  cairo_destroy(p->cr);
  cairo_surface_destroy(p->surface);
  tenter_buffer_release(&p->safe);
  tenter_arena_free(p->arena);
}

tenter_status tenter_press_pdf(const tenter_document *document, tenter_paper paper,
                               tenter_buffer *out, tenter_error *error) {
  press p = {
      .document = document, .paper_width = sizes[paper].width, .paper_height = sizes[paper].height};
  size_t start = out->length;
  tenter_status status = style_load(&p, error);
  if (status != TENTER_OK)
    return status;
  bool ready = open_press(&p, out);
  if (ready) {
    set_all(&p, true);
    set_all(&p, false);
  }
  cairo_surface_finish(p.surface);
  cairo_status_t how = cairo_status(p.cr) != CAIRO_STATUS_SUCCESS ? cairo_status(p.cr)
                                                                  : cairo_surface_status(p.surface);
  bool failed = !ready || out->failed || p.safe.failed || tenter_arena_failed(p.arena);
  close_press(&p);
  if (failed)
    return tenter_fail_memory(error);
  if (how != CAIRO_STATUS_SUCCESS)
    return tenter_fail(error, TENTER_FAILED, "the PDF can't be set: %s",
                       cairo_status_to_string(how));
  pdf_set_language(out, start, document->language);
  return out->failed ? tenter_fail_memory(error) : TENTER_OK;
}
