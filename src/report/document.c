/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Building the tree of a report. Arrays grow by doubling within the arena; what they leave behind
 * is freed with it. */
#include "tenter/report/document.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "tenter/base/alloc.h"

tenter_document *tenter_document_new(const char *title, const char *language) {
  tenter_document *document = tenter_alloc(1, sizeof *document);
  if (document == NULL)
    return NULL;
  document->arena = tenter_arena_new();
  document->title = title;
  document->language = language;
  document->subtitle = document->run = document->program = "";
  document->header = document->footer = "";
  document->pages = "{1} / {2}";
  document->made = TENTER_NO_TIME;
  if (document->arena == NULL) {
    tenter_free(document);
    return NULL;
  }
  return document;
}

void tenter_document_free(tenter_document *document) {
  if (document == NULL)
    return;
  tenter_arena_free(document->arena);
  tenter_free(document);
}

bool tenter_document_failed(const tenter_document *document) {
  return document->failed || tenter_arena_failed(document->arena);
}

static void *take(tenter_document *document, size_t count, size_t size) {
  void *room = document->failed ? NULL : tenter_arena_alloc(document->arena, count, size);
  if (room == NULL)
    document->failed = true;
  return room;
}

/* Makes room for needed elements in an array of count; false when memory ran out. */
static bool grow(tenter_document *document, void *array, size_t count, size_t *room, size_t needed,
                 size_t size) {
  void **elements = array;
  if (needed <= *room)
    return true;
  size_t wanted = *room < 8 ? 8 : *room * 2;
  while (wanted < needed)
    wanted *= 2;
  void *larger = take(document, wanted, size);
  if (larger == NULL)
    return false;
  if (count > 0)
    memcpy(larger, *elements, count * size);
  *elements = larger;
  *room = wanted;
  return true;
}

static tenter_block *add(tenter_document *document, tenter_block *parent, tenter_block_kind kind,
                         const char *text) {
  tenter_block *block = take(document, 1, sizeof *block);
  if (block == NULL)
    return NULL;
  block->kind = kind;
  block->id = "";
  block->text = text;
  tenter_block **first = parent != NULL ? &parent->first : &document->first;
  tenter_block **last = parent != NULL ? &parent->last : &document->last;
  if (*last != NULL)
    (*last)->next = block;
  else
    *first = block;
  *last = block;
  return block;
}

tenter_block *tenter_document_section(tenter_document *document, tenter_block *parent,
                                      const char *id, const char *heading,
                                      tenter_section_style style) {
  tenter_block *block = add(document, parent, TENTER_BLOCK_SECTION, heading);
  if (block == NULL)
    return NULL;
  block->id = id;
  block->style = style;
  return block;
}

tenter_block *tenter_document_paragraph(tenter_document *document, tenter_block *parent,
                                        const char *text) {
  return add(document, parent, TENTER_BLOCK_PARAGRAPH, text);
}

tenter_block *tenter_document_list(tenter_document *document, tenter_block *parent) {
  return add(document, parent, TENTER_BLOCK_LIST, "");
}

tenter_block *tenter_document_caution(tenter_document *document, tenter_block *parent,
                                      const char *heading) {
  return add(document, parent, TENTER_BLOCK_CAUTION, heading);
}

tenter_block *tenter_document_definitions(tenter_document *document, tenter_block *parent) {
  return add(document, parent, TENTER_BLOCK_DEFINITIONS, "");
}

tenter_block *tenter_document_figures(tenter_document *document, tenter_block *parent) {
  return add(document, parent, TENTER_BLOCK_FIGURES, "");
}

tenter_block *tenter_document_signature(tenter_document *document, tenter_block *parent,
                                        const char *sentence) {
  return add(document, parent, TENTER_BLOCK_SIGNATURE, sentence);
}

tenter_block *tenter_document_table(tenter_document *document, tenter_block *parent, const char *id,
                                    const char *caption, const tenter_table_column *columns,
                                    size_t column_count) {
  tenter_table_column *copy = take(document, column_count, sizeof *copy);
  tenter_block *block = copy == NULL ? NULL : add(document, parent, TENTER_BLOCK_TABLE, caption);
  if (block == NULL)
    return NULL;
  memcpy(copy, columns, column_count * sizeof *copy);
  block->id = id;
  block->columns = copy;
  block->column_count = column_count;
  return block;
}

void tenter_document_item(tenter_document *document, tenter_block *block, const char *text) {
  if (block == NULL || !grow(document, &block->items, block->item_count, &block->item_room,
                             block->item_count + 1, sizeof *block->items))
    return;
  block->items[block->item_count++] = text;
}

void tenter_document_define(tenter_document *document, tenter_block *block, const char *term,
                            const char *text) {
  tenter_document_item(document, block, term);
  tenter_document_item(document, block, text);
}

tenter_cell *tenter_document_row(tenter_document *document, tenter_block *table) {
  if (table == NULL)
    return NULL;
  size_t width = table->column_count, count = table->row_count * width;
  if (!grow(document, &table->cells, count, &table->row_room, count + width, sizeof *table->cells))
    return NULL;
  tenter_cell *row = table->cells + count;
  for (size_t i = 0; i < width; i++)
    row[i] = tenter_cell_text(NULL);
  table->row_count++;
  return row;
}

static bool is_empty(const tenter_cell *cell) {
  return (cell->text == NULL || cell->text[0] == '\0') && !isfinite(cell->number) &&
         cell->when.at == TENTER_NO_TIME;
}

static bool column_is_empty(const tenter_block *table, size_t column) {
  bool empty = table->columns[column].kind != TENTER_CELLS_BLANK;
  for (size_t row = 0; empty && row < table->row_count; row++)
    empty = is_empty(&table->cells[row * table->column_count + column]);
  return empty;
}

static void drop_column(tenter_block *table, size_t column) {
  size_t count = table->row_count * table->column_count, kept = 0;
  for (size_t i = 0; i < count; i++)
    if (i % table->column_count != column)
      table->cells[kept++] = table->cells[i];
  for (size_t i = column + 1; i < table->column_count; i++)
    table->columns[i - 1] = table->columns[i];
  table->column_count--;
}

void tenter_document_prune(tenter_block *table) {
  if (table == NULL || table->row_count == 0)
    return;
  for (size_t i = table->column_count; i-- > 1;) /* the first names the row */
    if (column_is_empty(table, i))
      drop_column(table, i);
}

void tenter_document_figure(tenter_document *document, tenter_block *figures,
                            tenter_figure figure) {
  if (figures == NULL ||
      !grow(document, &figures->figures, figures->figure_count, &figures->figure_room,
            figures->figure_count + 1, sizeof *figures->figures))
    return;
  figures->figures[figures->figure_count++] = figure;
}

const char *tenter_document_print(tenter_document *document, const char *format, ...) {
  va_list arguments, again;
  va_start(arguments, format);
  va_copy(again, arguments);
  int length = vsnprintf(NULL, 0, format, arguments);
  va_end(arguments);
  char *text = length < 0 ? NULL : take(document, (size_t)length + 1, 1);
  if (text != NULL)
    vsnprintf(text, (size_t)length + 1, format, again);
  va_end(again);
  return text != NULL ? text : "";
}

tenter_cell tenter_cell_text(const char *text) {
  return (tenter_cell){.text = text, .number = NAN, .when = {.at = TENTER_NO_TIME}, .rank = NAN};
}

tenter_cell tenter_cell_number(double number, int decimals) {
  tenter_cell cell = tenter_cell_text(NULL);
  cell.number = number;
  cell.decimals = decimals;
  return cell;
}

tenter_cell tenter_cell_time(tenter_when when) {
  tenter_cell cell = tenter_cell_text(NULL);
  cell.when = when;
  return cell;
}

tenter_cell tenter_cell_verdict(const char *words, tenter_tone tone, double rank) {
  tenter_cell cell = tenter_cell_text(words);
  cell.tone = tone;
  cell.rank = rank;
  return cell;
}

int tenter_decimals_of(double uncertainty) {
  if (!(uncertainty > 0) || !isfinite(uncertainty))
    return 1;
  int decimals = 0;
  /* 0.95 and over would print as 1 with no decimal, and so on down. */
  for (double first = 0.95; decimals < 3 && uncertainty < first; first /= 10)
    decimals++;
  return decimals;
}

const char *tenter_document_uncertain(tenter_document *document, double value, double uncertainty) {
  if (!isfinite(value))
    return "";
  int decimals = tenter_decimals_of(uncertainty);
  tenter_buffer text = {0};
  tenter_form_fixed(&text, document->form, value, decimals);
  if (isfinite(uncertainty)) {
    tenter_buffer_text(&text, " ± ");
    tenter_form_fixed(&text, document->form, uncertainty, decimals);
  }
  const char *string = tenter_buffer_string(&text);
  const char *copy = string == NULL ? "" : tenter_document_print(document, "%s", string);
  document->failed |= string == NULL;
  tenter_buffer_release(&text);
  return copy;
}
