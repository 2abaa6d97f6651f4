/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The blocks of a document, one kind after the other. Tables and pictures have files of their own.
 */
#include <cairo-pdf.h>
#include <stdio.h>

#include "sheet.h"
#include "tenter/report/escape.h"

enum { INDENT = 12, BAR_INDENT = 12, TERM_WIDTH = 180, LEAST = 34, LEAST_TABLE = 64 };

static double inner_left(const press *p) {
  return p->barred ? p->left + BAR_INDENT : p->left;
}

static void paragraph(press *p, press_face face, const char *text) {
  double x = inner_left(p);
  if (text[0] != '\0')
    type_flow(p, face, text, x, p->right - x, NULL, 0);
}

static void items(press *p, const tenter_block *block, press_face face) {
  for (size_t i = 0; i < block->item_count; i++) {
    double x = inner_left(p);
    type_flow(p, face, block->items[i], x + INDENT, p->right - x - INDENT, "•", x + 2);
    sheet_move(p, 1.5);
  }
}

/* Terms stand in a column of their own, as wide as the widest of those that fit. */
static double term_width(press *p, const tenter_block *block) {
  double widest = 0;
  for (size_t i = 0; i + 1 < block->item_count; i += 2) {
    type_set(p, p->mark, FACE_NOTE_QUIET, block->items[i], -1);
    double width = type_width(p->mark);
    widest = width > widest && width <= TERM_WIDTH ? width : widest;
  }
  return widest + 12;
}

static void definitions(press *p, const tenter_block *block) {
  double column = term_width(p, block), whole = p->right - p->left;
  for (size_t i = 0; i + 1 < block->item_count; i += 2) {
    type_set(p, p->mark, FACE_NOTE_QUIET, block->items[i], -1);
    bool beside = type_width(p->mark) < column;
    if (!beside)
      type_flow(p, FACE_NOTE_QUIET, block->items[i], p->left, whole, NULL, 0);
    type_flow(p, FACE_NOTE, block->items[i + 1], p->left + column, whole - column,
              beside ? block->items[i] : NULL, p->left);
    sheet_move(p, 1.5);
  }
}

static void caution(press *p, const tenter_block *block) {
  sheet_need(p, 40);
  p->barred = true;
  paragraph(p, block->item_count > 0 ? FACE_BODY_BOLD : FACE_BODY, block->text);
  if (block->item_count > 0)
    sheet_move(p, 2);
  items(p, block, FACE_BODY);
  p->barred = false;
}

static void signature(press *p, const tenter_block *block) {
  enum { ROOM = 46, GAP = 24 };
  size_t count = block->item_count;
  sheet_need(p, ROOM + 30);
  paragraph(p, FACE_BODY, block->text);
  if (count == 0)
    return;
  double width = (p->right - p->left + GAP) / (double)count - GAP;
  sheet_move(p, ROOM);
  double deepest = 0;
  for (size_t i = 0; i < count; i++) {
    double x = p->left + (width + GAP) * (double)i;
    sheet_rule(p, x, p->y, width, 0.6, INK);
    type_set(p, p->layout, FACE_NOTE_QUIET, block->items[i], width);
    type_draw(p, p->layout, x, p->y + 3, QUIET);
    deepest = type_height(p->layout) > deepest ? type_height(p->layout) : deepest;
  }
  sheet_move(p, deepest + 6);
}

/* ---- sections ------------------------------------------------------------------------------- */

/* The room that a heading wants under it, so that it doesn't stand at the foot of a page. */
static double least_of(press *p, const tenter_block *block) {
  if (block == NULL)
    return 0;
  switch (block->kind) {
  case TENTER_BLOCK_FIGURES:
    return figures_least(p, block);
  case TENTER_BLOCK_TABLE:
    return LEAST_TABLE;
  case TENTER_BLOCK_PARAGRAPH: /* often the lead of what follows */
    return LEAST + (block->next != NULL && block->next->kind != TENTER_BLOCK_PARAGRAPH
                        ? least_of(p, block->next)
                        : 0);
  case TENTER_BLOCK_SECTION:
    return LEAST + (block->first != NULL ? LEAST : 0);
  default:
    return LEAST;
  }
}

/* The section's entry in the outline, under that of the section around it; returns its number. */
static int outline_entry(press *p, const tenter_block *block) {
  char place[64];
  if (p->draft || block->text[0] == '\0')
    return p->outline;
  snprintf(place, sizeof place, "page=%d pos=[%d %d]", p->page, (int)p->left, (int)p->y);
  tenter_buffer title = {0};
  tenter_escape_terminal(&title, block->text);
  const char *text = tenter_buffer_string(&title);
  int id = text == NULL ? p->outline
                        : cairo_pdf_surface_add_outline(p->surface, p->outline, text, place, 0);
  tenter_buffer_release(&title);
  return id;
}

static void section(press *p, const tenter_block *block, int depth) {
  int around = p->outline;
  bool sheet = block->style == TENTER_SECTION_SHEET;
  if (sheet)
    sheet_open(p, true);
  press_face face = depth == 0 ? FACE_HEADING : FACE_SUBHEADING;
  double space = sheet_at_top(p) ? 0 : depth == 0 ? 18 : 10;
  sheet_need(p, space + 2 * type_size(p, face) + least_of(p, block->first));
  if (!sheet_at_top(p))
    sheet_move(p, space);
  p->outline = outline_entry(p, block);
  paragraph(p, face, block->text);
  sheet_move(p, depth == 0 ? 5 : 3);
  blocks_set(p, block->first, depth + 1);
  p->outline = around;
  if (sheet && block->next != NULL)
    sheet_open(p, false);
}

/* The space that follows a block of this kind. */
static double space_after(const tenter_block *block) {
  switch (block->kind) {
  case TENTER_BLOCK_SECTION:
    return 0;
  case TENTER_BLOCK_TABLE:
    return 10;
  case TENTER_BLOCK_CAUTION:
    return 9;
  default:
    return 6;
  }
}

static void one_block(press *p, const tenter_block *block, int depth) {
  switch (block->kind) {
  case TENTER_BLOCK_SECTION:
    section(p, block, depth);
    break;
  case TENTER_BLOCK_PARAGRAPH:
    paragraph(p, block == p->document->first ? FACE_LEAD : FACE_BODY, block->text);
    break;
  case TENTER_BLOCK_LIST:
    items(p, block, FACE_BODY);
    break;
  case TENTER_BLOCK_TABLE:
    table_set(p, block);
    break;
  case TENTER_BLOCK_FIGURES:
    figures_set(p, block);
    break;
  case TENTER_BLOCK_DEFINITIONS:
    definitions(p, block);
    break;
  case TENTER_BLOCK_CAUTION:
    caution(p, block);
    break;
  case TENTER_BLOCK_SIGNATURE:
    signature(p, block);
    break;
  case TENTER_BLOCK_KINDS: /* a count */
    break;
  }
}

void blocks_set(press *p, const tenter_block *block, int depth) {
  for (; block != NULL; block = block->next) {
    one_block(p, block, depth);
    if (!sheet_at_top(p))
      sheet_move(p, space_after(block));
  }
}
