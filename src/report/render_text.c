/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document as plain text: no line is wider than the page, no text of data drives the terminal.
 * Pictures are told in words. Tables are render_text_table.c. */
#include "render_text.h"

#include <string.h>

#include "tenter/report/escape.h"
#include "text_lines.h"

static void blanks(tenter_buffer *out, int count) {
  for (int i = 0; i < count; i++)
    tenter_buffer_byte(out, ' ');
}

static tenter_text made_safe(text_page *page, const char *text) {
  tenter_buffer_clear(&page->safe);
  tenter_escape_terminal(&page->safe, text);
  return (tenter_text){page->safe.bytes, page->safe.length};
}

void text_page_wrap(text_page *page, const char *first, const char *text) {
  int indent = (int)strlen(first);
  tenter_text rest = made_safe(page, text);
  tenter_buffer_text(page->out, first);
  for (int line = 0; line == 0 || rest.length > 0; line++) {
    tenter_text next = text_next_line(&rest, page->columns - indent);
    if (line > 0)
      blanks(page->out, indent);
    tenter_buffer_add(page->out, next.start, next.length);
    tenter_buffer_byte(page->out, '\n');
  }
}

static void heading(text_page *page, const char *text, char under) {
  text_page_wrap(page, "", text);
  int width = text_width(made_safe(page, text));
  for (int i = 0; i < width && i < page->columns; i++)
    tenter_buffer_byte(page->out, under);
  tenter_buffer_byte(page->out, '\n');
}

static void items(text_page *page, const tenter_block *block, const char *mark) {
  for (size_t i = 0; i < block->item_count; i++)
    text_page_wrap(page, mark, block->items[i]);
}

static void definitions(text_page *page, const tenter_block *block) {
  for (size_t i = 0; i + 1 < block->item_count; i += 2) {
    text_page_wrap(page, "", block->items[i]);
    text_page_wrap(page, "    ", block->items[i + 1]);
  }
}

static void figures(text_page *page, const tenter_block *block) {
  for (size_t i = 0; i < block->figure_count; i++) {
    text_page_wrap(page, "", block->figures[i].title);
    text_page_wrap(page, "    ", block->figures[i].alternative);
  }
}

/* A line to write on, and under it what goes there. */
static void signature(text_page *page, const tenter_block *block) {
  if (block->text[0] != '\0')
    text_page_wrap(page, "", block->text);
  for (size_t i = 0; i < block->item_count; i++) {
    tenter_buffer_text(page->out, "\n\n________________________\n");
    text_page_wrap(page, "", block->items[i]);
  }
}

static void blocks(text_page *page, const tenter_block *block, int depth);

static void one_block(text_page *page, const tenter_block *block, int depth) {
  switch (block->kind) {
  case TENTER_BLOCK_SECTION:
    heading(page, block->text, depth == 0 ? '-' : '.');
    blocks(page, block->first, depth + 1);
    break;
  case TENTER_BLOCK_PARAGRAPH:
    text_page_wrap(page, "", block->text);
    break;
  case TENTER_BLOCK_LIST:
    items(page, block, "- ");
    break;
  case TENTER_BLOCK_TABLE:
    text_page_table(page, block);
    break;
  case TENTER_BLOCK_FIGURES:
    figures(page, block);
    break;
  case TENTER_BLOCK_DEFINITIONS:
    definitions(page, block);
    break;
  case TENTER_BLOCK_CAUTION:
    text_page_wrap(page, "! ", block->text);
    items(page, block, "  - ");
    break;
  case TENTER_BLOCK_SIGNATURE:
    signature(page, block);
    break;
  case TENTER_BLOCK_KINDS: /* a count */
    break;
  }
}

static void blocks(text_page *page, const tenter_block *block, int depth) {
  for (bool first = true; block != NULL; block = block->next, first = false) {
    if (!first || depth == 0)
      tenter_buffer_byte(page->out, '\n');
    one_block(page, block, depth);
  }
}

tenter_status tenter_render_text(const tenter_document *document, int columns, tenter_buffer *out,
                                 tenter_error *error) {
  text_page page = {.out = out,
                    .form = document->form,
                    .columns = columns < 40    ? 40
                               : columns > 400 ? 400
                                               : columns};
  text_ruler ruler = text_ruler_start();
  heading(&page, document->title, '=');
  if (document->subtitle[0] != '\0')
    text_page_wrap(&page, "", document->subtitle);
  blocks(&page, document->first, 0);
  text_ruler_end(&ruler);
  bool failed = tenter_document_failed(document) || out->failed || page.safe.failed;
  tenter_buffer_release(&page.safe);
  return failed ? tenter_fail_memory(error) : TENTER_OK;
}
