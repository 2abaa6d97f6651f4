/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One description of the format, walked in both directions: each function below writes what it is
 * given, or reads into it (and while writing leaves it as it is). So the two ends can't come apart.
 */
#include "tenter/report/wire.h"

#include <string.h>

#include "tenter/base/alloc.h"

static const char magic[8] = {'t', 'n', 't', 'r', 'd', 'o', 'c', '1'};
enum { MOST_DECIMALS = 9, MOST_PIXELS = 10000 };
#define NO_TEXT UINT64_MAX /* NULL, which a cell's text may be */

typedef struct wire {
  tenter_buffer *out;      /* where it is written to; NULL while reading */
  const char *at, *end;    /* what is left to read */
  tenter_arena *arena;     /* of what is read */
  bool bad, out_of_memory; /* a failure sticks: later calls do nothing */
  int depth;
} wire;

static bool stopped(const wire *w) {
  return w->bad || w->out_of_memory;
}

static const char *take(wire *w, uint64_t length) {
  if (stopped(w) || length > (uint64_t)(w->end - w->at)) {
    w->bad = true;
    return NULL;
  }
  const char *start = w->at;
  w->at += length;
  return start;
}

/* ---- values --------------------------------------------------------------------------------- */

static void pass_bits(wire *w, uint64_t *value) {
  if (w->out != NULL) {
    for (int i = 0; i < 8; i++)
      tenter_buffer_byte(w->out, (char)(*value >> (8 * i) & 0xFF));
    return;
  }
  const char *bytes = take(w, 8);
  *value = 0;
  for (int i = 7; bytes != NULL && i >= 0; i--)
    *value = *value << 8 | (unsigned char)bytes[i];
}

static void pass_double(wire *w, double *value) {
  uint64_t bits;
  memcpy(&bits, value, sizeof bits);
  pass_bits(w, &bits);
  memcpy(value, &bits, sizeof bits);
}

static void pass_time(wire *w, tenter_time *value) {
  uint64_t bits = (uint64_t)*value;
  pass_bits(w, &bits);
  *value = (tenter_time)bits;
}

/* A whole number below count: a choice, a flag, a size. */
static void pass_below(wire *w, unsigned *value, unsigned count) {
  uint64_t bits = *value;
  pass_bits(w, &bits);
  if (bits >= count)
    w->bad = true;
  if (w->out == NULL)
    *value = w->bad ? 0 : (unsigned)bits;
}

static void pass_flag(wire *w, bool *value) {
  unsigned number = *value;
  pass_below(w, &number, 2);
  *value = number == 1;
}

static void pass_int(wire *w, int *value, unsigned count) {
  unsigned number = (unsigned)*value;
  pass_below(w, &number, count);
  *value = (int)number;
}

/* length bytes and a NUL; a text of ours holds no NUL within. */
static void pass_bytes(wire *w, tenter_text *text) {
  uint64_t length = text->start == NULL ? NO_TEXT : text->length;
  pass_bits(w, &length);
  if (length == NO_TEXT) {
    *text = (tenter_text){NULL, 0};
    return;
  }
  if (w->out != NULL) {
    tenter_buffer_add(w->out, text->start, text->length);
    tenter_buffer_byte(w->out, '\0');
    return;
  }
  const char *start = take(w, length);
  const char *last = take(w, 1);
  if (last == NULL || *last != '\0')
    w->bad = true;
  *text = w->bad ? (tenter_text){NULL, 0} : (tenter_text){start, (size_t)length};
}

static void pass_text(wire *w, const char **string) {
  tenter_text text = *string != NULL ? tenter_text_of(*string) : (tenter_text){NULL, 0};
  pass_bytes(w, &text);
  if (text.start != NULL && w->out == NULL && memchr(text.start, '\0', text.length) != NULL)
    w->bad = true;
  if (w->out == NULL)
    *string = w->bad ? NULL : text.start;
}

/* A text that is never NULL. */
static void pass_string(wire *w, const char **string) {
  pass_text(w, string);
  if (*string != NULL)
    return;
  w->bad = true;
  if (w->out == NULL)
    *string = "";
}

/* The count of an array of elements that take least bytes each; while reading, makes it. */
static void pass_array(wire *w, void *array, size_t *count, size_t size, size_t least) {
  uint64_t bits = *count;
  pass_bits(w, &bits);
  if (w->out != NULL)
    return;
  if (bits > (uint64_t)(w->end - w->at) / least)
    w->bad = true;
  *count = stopped(w) ? 0 : (size_t)bits;
  void *made = *count > 0 ? tenter_arena_alloc(w->arena, *count, size) : NULL;
  if (made == NULL && *count > 0) {
    w->out_of_memory = true;
    *count = 0;
  }
  memcpy(array, &made, sizeof made);
}

/* ---- the tree ------------------------------------------------------------------------------- */

static void pass_when(wire *w, tenter_when *when) {
  pass_time(w, &when->at);
  pass_flag(w, &when->date_only);
}

static void pass_cell(wire *w, tenter_cell *cell) {
  unsigned tone = cell->tone;
  pass_text(w, &cell->text);
  pass_double(w, &cell->number);
  pass_int(w, &cell->decimals, MOST_DECIMALS + 1);
  pass_flag(w, &cell->sign);
  pass_below(w, &tone, TENTER_TONE_STOP + 1);
  pass_when(w, &cell->when);
  pass_double(w, &cell->rank);
  cell->tone = (tenter_tone)tone;
}

static void pass_column(wire *w, tenter_table_column *column) {
  unsigned kind = column->kind;
  pass_string(w, &column->header);
  pass_below(w, &kind, TENTER_CELLS_BLANK + 1);
  pass_flag(w, &column->nowrap);
  column->kind = (tenter_column_kind)kind;
}

static void pass_figure(wire *w, tenter_figure *figure) {
  pass_string(w, &figure->title);
  pass_string(w, &figure->caption);
  pass_string(w, &figure->alternative);
  pass_bytes(w, &figure->svg);
  pass_int(w, &figure->width, MOST_PIXELS + 1);
  pass_int(w, &figure->height, MOST_PIXELS + 1);
}

static void pass_cells(wire *w, tenter_block *block) {
  size_t count = block->row_count * block->column_count;
  pass_array(w, &block->cells, &count, sizeof *block->cells, 8 * 8);
  for (size_t i = 0; i < count && !stopped(w); i++)
    pass_cell(w, &block->cells[i]);
  if (w->out != NULL)
    return;
  if (block->column_count == 0 ? count > 0 : count % block->column_count != 0)
    w->bad = true;
  block->row_count = w->bad || block->column_count == 0 ? 0 : count / block->column_count;
}

static void pass_blocks(wire *w, tenter_block **first);

static void pass_block(wire *w, tenter_block *block) {
  unsigned kind = block->kind, style = block->style;
  pass_below(w, &kind, TENTER_BLOCK_KINDS);
  pass_below(w, &style, TENTER_SECTION_SHEET + 1);
  block->kind = (tenter_block_kind)kind;
  block->style = (tenter_section_style)style;
  pass_string(w, &block->id);
  pass_string(w, &block->text);
  pass_array(w, &block->items, &block->item_count, sizeof *block->items, 9);
  for (size_t i = 0; i < block->item_count && !stopped(w); i++)
    pass_string(w, &block->items[i]);
  pass_array(w, &block->columns, &block->column_count, sizeof *block->columns, 3 * 8);
  if (block->column_count > TENTER_WIRE_MOST_COLUMNS)
    w->bad = true;
  for (size_t i = 0; i < block->column_count && !stopped(w); i++)
    pass_column(w, &block->columns[i]);
  pass_cells(w, block);
  pass_array(w, &block->figures, &block->figure_count, sizeof *block->figures, 6 * 8);
  for (size_t i = 0; i < block->figure_count && !stopped(w); i++)
    pass_figure(w, &block->figures[i]);
  pass_blocks(w, &block->first);
}

/* A flag before each block says that there is one more. */
static void pass_blocks(wire *w, tenter_block **first) {
  if (++w->depth > TENTER_WIRE_MOST_DEPTH)
    w->bad = true;
  for (tenter_block **next = first; !stopped(w); next = &(*next)->next) {
    bool more = *next != NULL;
    pass_flag(w, &more);
    if (!more || stopped(w))
      break;
    if (w->out == NULL)
      *next = tenter_arena_alloc(w->arena, 1, sizeof **next);
    if (*next == NULL) {
      w->out_of_memory = true;
      break;
    }
    pass_block(w, *next);
  }
  w->depth--;
}

static void pass_document(wire *w, tenter_document *document) {
  unsigned mark = document->form.mark, dates = document->form.dates;
  const char **const texts[] = {&document->title,  &document->subtitle, &document->language,
                                &document->run,    &document->program,  &document->header,
                                &document->footer, &document->pages};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
    pass_string(w, texts[i]);
  pass_time(w, &document->made);
  pass_text(w, &document->house.name);
  pass_text(w, &document->house.address);
  pass_bytes(w, &document->house.logo);
  pass_below(w, &document->house.accent, 1u << 24);
  pass_below(w, &mark, TENTER_MARKS);
  pass_below(w, &dates, TENTER_DATES_COUNT);
  document->form = (tenter_form){(tenter_mark)mark, (tenter_dates)dates};
  pass_blocks(w, &document->first);
}

/* ---- the two ends --------------------------------------------------------------------------- */

tenter_status tenter_wire_write(const tenter_document *document, tenter_buffer *out,
                                tenter_error *error) {
  wire w = {.out = out};
  tenter_document copy = *document; /* what is passed is written back to it, unchanged */
  tenter_buffer_add(out, magic, sizeof magic);
  pass_document(&w, &copy);
  if (w.bad)
    return tenter_fail(error, TENTER_FAILED,
                       "the report has a table of more than %d columns, or sections nested deeper "
                       "than %d",
                       TENTER_WIRE_MOST_COLUMNS, TENTER_WIRE_MOST_DEPTH);
  return tenter_document_failed(document) || out->failed ? tenter_fail_memory(error) : TENTER_OK;
}

tenter_status tenter_wire_read(tenter_text bytes, tenter_document **document, tenter_error *error) {
  tenter_document *made = tenter_document_new("", "");
  if (made == NULL)
    return tenter_fail_memory(error);
  wire w = {.at = bytes.start, .end = bytes.start + bytes.length, .arena = made->arena};
  const char *head = take(&w, sizeof magic);
  w.bad = w.bad || memcmp(head, magic, sizeof magic) != 0;
  if (!w.bad)
    pass_document(&w, made);
  if (!stopped(&w) && w.at != w.end)
    w.bad = true;
  if (!stopped(&w)) {
    *document = made;
    return TENTER_OK;
  }
  tenter_document_free(made);
  return w.out_of_memory ? tenter_fail_memory(error)
                         : tenter_fail(error, TENTER_INPUT, "this is no document of this build");
}
