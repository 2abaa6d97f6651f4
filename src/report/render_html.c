/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document as one HTML page. Style and script are house.css and tables.js, built in; the page
 * says by their hashes that nothing else may apply or run, and that nothing may be loaded. All text
 * passes tenter_escape_html; pictures come from tenter_charts_draw and stand as they are. Tables
 * are render_html_table.c. */
#include "render_html.h"

#include <string.h>

#include "tenter/report/assets.h"
#include "tenter/report/escape.h"
#include "tenter/words/words.h"

void html_attribute(tenter_buffer *out, const char *name, const char *text) {
  tenter_buffer_byte(out, ' ');
  tenter_buffer_text(out, name);
  tenter_buffer_text(out, "=\"");
  tenter_escape_html(out, text);
  tenter_buffer_byte(out, '"');
}

void html_element(tenter_buffer *out, const char *tag, const char *text) {
  if (text[0] == '\0')
    return;
  tenter_buffer_print(out, "<%s>", tag);
  tenter_escape_html(out, text);
  tenter_buffer_print(out, "</%s>\n", tag);
}

/* ---- the head ---- */

static int hex_value(char digit) {
  return digit <= '9' ? digit - '0' : digit - 'a' + 10;
}

/* RFC 4648. */
static void add_base64(tenter_buffer *out, const void *bytes, size_t length) {
  static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const unsigned char *at = bytes;
  for (size_t i = 0; i < length; i += 3) {
    size_t left = length - i;
    unsigned group = (unsigned)at[i] << 16 | (left > 1 ? (unsigned)at[i + 1] << 8 : 0) |
                     (left > 2 ? at[i + 2] : 0);
    for (size_t k = 0; k < 4; k++)
      tenter_buffer_byte(out, k <= left ? letters[group >> (18 - 6 * k) & 63] : '=');
  }
}

/* 'sha256-...' of a content security policy: the asset's hash in base64. */
static void add_hash(tenter_buffer *out, const tenter_asset *asset) {
  unsigned char bytes[32];
  for (size_t i = 0; i < 32; i++)
    bytes[i] =
        (unsigned char)(hex_value(asset->sha256[2 * i]) * 16 + hex_value(asset->sha256[2 * i + 1]));
  tenter_buffer_text(out, "'sha256-");
  add_base64(out, bytes, sizeof bytes);
  tenter_buffer_byte(out, '\'');
}

static void add_head(tenter_buffer *out, const tenter_document *document, const tenter_asset *style,
                     const tenter_asset *script) {
  tenter_buffer_text(out, "<!DOCTYPE html>\n<html");
  html_attribute(out, "lang", document->language);
  tenter_buffer_text(out, ">\n<head>\n<meta charset=\"utf-8\">\n"
                          "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src "
                          "'none'; base-uri 'none'; form-action 'none'; style-src ");
  add_hash(out, style);
  tenter_buffer_text(out, "; script-src ");
  add_hash(out, script);
  if (document->house.logo.length > 0)
    tenter_buffer_text(out, "; img-src data:");
  tenter_buffer_text(out, "\">\n<meta name=\"viewport\" content=\"width=device-width, "
                          "initial-scale=1\">\n<meta name=\"color-scheme\" content=\"light "
                          "dark\">\n<meta name=\"referrer\" content=\"no-referrer\">\n"
                          "<meta name=\"generator\"");
  html_attribute(out, "content", document->program);
  tenter_buffer_text(out, ">\n<meta name=\"run\"");
  html_attribute(out, "content", document->run);
  tenter_buffer_text(out, ">\n");
  html_element(out, "title", document->title);
  tenter_buffer_text(out, "<style>");
  tenter_buffer_add(out, style->bytes, style->length);
  tenter_buffer_text(out, "</style>\n</head>\n");
}

/* ---- the blocks ---- */

static void add_list(tenter_buffer *out, const tenter_block *block) {
  tenter_buffer_text(out, "<ul>\n");
  for (size_t i = 0; i < block->item_count; i++)
    html_element(out, "li", block->items[i]);
  tenter_buffer_text(out, "</ul>\n");
}

static void add_definitions(tenter_buffer *out, const tenter_block *block) {
  tenter_buffer_text(out, "<dl>\n");
  for (size_t i = 0; i + 1 < block->item_count; i += 2) {
    html_element(out, "dt", block->items[i]);
    html_element(out, "dd", block->items[i + 1]);
  }
  tenter_buffer_text(out, "</dl>\n");
}

static void add_figure(tenter_buffer *out, const tenter_figure *figure) {
  tenter_buffer_text(out, "<figure><figcaption>");
  html_element(out, "b", figure->title);
  html_element(out, "span", figure->caption);
  tenter_buffer_text(out, "</figcaption>");
  if (figure->svg.length > 0) {
    tenter_buffer_text(out, "<div role=\"img\"");
    html_attribute(out, "aria-label", figure->alternative);
    tenter_buffer_byte(out, '>');
    tenter_buffer_add(out, figure->svg.start, figure->svg.length);
    tenter_buffer_text(out, "</div>");
  } else {
    html_element(out, "p", figure->alternative);
  }
  tenter_buffer_text(out, "</figure>\n");
}

static void add_figures(tenter_buffer *out, const tenter_block *block) {
  bool wide = block->figure_count > 0 && block->figures[0].width > 400;
  tenter_buffer_text(out, wide ? "<div class=\"figures wide\">\n" : "<div class=\"figures\">\n");
  for (size_t i = 0; i < block->figure_count; i++)
    add_figure(out, &block->figures[i]);
  tenter_buffer_text(out, "</div>\n");
}

static void add_caution(tenter_buffer *out, const tenter_block *block) {
  tenter_buffer_text(out, "<div class=\"caution\" role=\"note\">\n");
  html_element(out, "p", block->text);
  if (block->item_count > 0)
    add_list(out, block);
  tenter_buffer_text(out, "</div>\n");
}

static void add_signature(tenter_buffer *out, const tenter_block *block) {
  html_element(out, "p", block->text);
  tenter_buffer_text(out, "<div class=\"signature\">\n");
  for (size_t i = 0; i < block->item_count; i++)
    html_element(out, "p", block->items[i]);
  tenter_buffer_text(out, "</div>\n");
}

static void add_blocks(tenter_buffer *out, const tenter_block *block, tenter_form form, int level);

static void add_section(tenter_buffer *out, const tenter_block *block, tenter_form form,
                        int level) {
  bool folded = block->style == TENTER_SECTION_FOLDED;
  tenter_buffer_text(out, folded ? "<details" : "<section");
  html_attribute(out, "id", block->id);
  if (block->style == TENTER_SECTION_SHEET)
    html_attribute(out, "class", "sheet");
  tenter_buffer_text(out, ">\n");
  if (folded) {
    html_element(out, "summary", block->text);
  } else {
    const char tag[] = {'h', (char)('0' + (level > 6 ? 6 : level)), '\0'};
    html_element(out, tag, block->text);
  }
  add_blocks(out, block->first, form, level + 1);
  tenter_buffer_text(out, folded ? "</details>\n" : "</section>\n");
}

static void add_block(tenter_buffer *out, const tenter_block *block, tenter_form form, int level) {
  switch (block->kind) {
  case TENTER_BLOCK_SECTION:
    add_section(out, block, form, level);
    break;
  case TENTER_BLOCK_PARAGRAPH:
    html_element(out, "p", block->text);
    break;
  case TENTER_BLOCK_LIST:
    add_list(out, block);
    break;
  case TENTER_BLOCK_TABLE:
    html_table(out, block, form);
    break;
  case TENTER_BLOCK_FIGURES:
    add_figures(out, block);
    break;
  case TENTER_BLOCK_DEFINITIONS:
    add_definitions(out, block);
    break;
  case TENTER_BLOCK_CAUTION:
    add_caution(out, block);
    break;
  case TENTER_BLOCK_SIGNATURE:
    add_signature(out, block);
    break;
  case TENTER_BLOCK_KINDS: /* a count */
    break;
  }
}

static void add_blocks(tenter_buffer *out, const tenter_block *block, tenter_form form, int level) {
  for (; block != NULL; block = block->next)
    add_block(out, block, form, level);
}

/* The sections by name, at the foot of the first screen. */
static void add_contents(tenter_buffer *out, const tenter_document *document) {
  tenter_buffer_text(out, "<nav>");
  for (const tenter_block *block = document->first; block != NULL; block = block->next)
    if (block->kind == TENTER_BLOCK_SECTION) {
      tenter_buffer_text(out, "<a href=\"#");
      tenter_escape_html(out, block->id);
      tenter_buffer_text(out, "\">");
      tenter_escape_html(out, block->text);
      tenter_buffer_text(out, "</a> ");
    }
  tenter_buffer_text(out, "</nav>\n");
}

/* Logo, name and address, and a rule in the house's colour. The logo stands as an image: nothing in
 * it runs or loads. */
static void add_house(tenter_buffer *out, const tenter_house *house) {
  const char *name = house->name != NULL ? house->name : "";
  const char *address = house->address != NULL ? house->address : "";
  if (name[0] == '\0' && address[0] == '\0' && house->logo.length == 0)
    return;
  tenter_buffer_text(out, "<div class=\"house\">\n");
  if (house->logo.length > 0) {
    bool png = house->logo.start[0] == '\x89';
    tenter_buffer_print(out, "<img src=\"data:image/%s;base64,", png ? "png" : "svg+xml");
    add_base64(out, house->logo.start, house->logo.length);
    tenter_buffer_byte(out, '"');
    html_attribute(out, "alt", name);
    tenter_buffer_text(out, ">\n");
  }
  tenter_buffer_text(out, "<div>");
  html_element(out, "b", name);
  html_element(out, "span", address);
  tenter_buffer_text(out, "</div></div>\n<svg class=\"accent\" aria-hidden=\"true\"><rect "
                          "width=\"100%\" height=\"100%\"");
  if (house->accent != 0)
    tenter_buffer_print(out, " fill=\"#%06x\"", house->accent);
  tenter_buffer_text(out, "/></svg>\n");
}

static void add_body(tenter_buffer *out, const tenter_document *document,
                     const tenter_asset *script) {
  tenter_buffer_text(out, "<body");
  html_attribute(out, "data-filter", tenter_say_text(TENTER_SAY_FILTER));
  tenter_buffer_text(out, ">\n<main>\n<header>\n");
  add_house(out, &document->house);
  html_element(out, "h1", document->title);
  html_element(out, "p", document->subtitle);
  tenter_buffer_text(out, "</header>\n");
  add_blocks(out, document->first, document->form, 2);
  add_contents(out, document);
  tenter_buffer_text(out, "</main>\n<footer>");
  html_element(out, "p", document->footer);
  tenter_buffer_text(out, "<p>");
  tenter_escape_html(out, document->program);
  tenter_buffer_text(out, " · ");
  tenter_escape_html(out, document->run);
  tenter_buffer_text(out, "</p></footer>\n<script>");
  tenter_buffer_add(out, script->bytes, script->length);
  tenter_buffer_text(out, "</script>\n</body>\n</html>\n");
}

tenter_status tenter_render_html(const tenter_document *document, tenter_buffer *out,
                                 tenter_error *error) {
  const tenter_asset *style = tenter_asset_find("house.css");
  const tenter_asset *script = tenter_asset_find("tables.js");
  if (style == NULL || script == NULL)
    return tenter_fail(error, TENTER_FAILED,
                       "the program was built without reports/house.css or reports/tables.js");
  add_head(out, document, style, script);
  add_body(out, document, script);
  return tenter_document_failed(document) || out->failed ? tenter_fail_memory(error) : TENTER_OK;
}
