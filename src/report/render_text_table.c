/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables as plain text. Columns get the width they want; where that is more than the page, the
 * widest columns of words give way first and their cells are wrapped; words are broken only where
 * that does not do. A table that can't be had so is written row by row, a line a cell. Every cell
 * passes the door for terminals once, before anything is measured. */
#include <math.h>
#include <string.h>

#include "render_text.h"
#include "tenter/base/alloc.h"
#include "tenter/report/escape.h"
#include "tenter/words/words.h"
#include "text_lines.h"

enum {
  GAP = 2,
  WHOLE_WORD = 32,
  LEAST_WORD = 8,
  LEAST_NAME = 10,
  COMFORT = 36,
  WIDE_HEADER = 12,
  MOST_COLUMNS = 64
};

typedef struct layout {
  const tenter_block *table;
  tenter_form form;
  int width[MOST_COLUMNS], least[MOST_COLUMNS], decimals[MOST_COLUMNS];
  tenter_buffer text; /* all cells, header first, row by row */
  size_t *ends;       /* where each of them ends in text */
} layout;

static tenter_text cell_text(const layout *l, size_t index) {
  size_t start = index == 0 ? 0 : l->ends[index - 1];
  return (tenter_text){l->text.bytes + start, l->ends[index] - start};
}

static bool shows_words(const tenter_cell *cell) {
  return cell->text != NULL && cell->text[0] != '\0';
}

/* The number with blanks after it, so that the points of a column stand under each other. */
static void add_number(tenter_buffer *out, tenter_form form, const tenter_cell *cell,
                       int most_decimals) {
  if (!isfinite(cell->number))
    return;
  if (cell->sign && cell->number > 0)
    tenter_buffer_byte(out, '+');
  tenter_form_fixed(out, form, cell->number, cell->decimals);
  int missing = most_decimals - cell->decimals;
  if (most_decimals > 0 && cell->decimals == 0)
    missing++;
  for (int i = 0; i < missing; i++)
    tenter_buffer_byte(out, ' ');
}

static void add_cell(layout *l, const tenter_cell *cell, size_t column) {
  tenter_column_kind kind = l->table->columns[column].kind;
  char time[TENTER_WORDS_SIZE];
  if (shows_words(cell))
    tenter_escape_terminal(&l->text, cell->text);
  else if (kind == TENTER_CELLS_NUMBER)
    add_number(&l->text, l->form, cell, l->decimals[column]);
  else if (kind == TENTER_CELLS_TIME)
    tenter_buffer_text(&l->text, tenter_say_when(l->form, cell->when, time));
}

static void find_decimals(layout *l) {
  const tenter_block *table = l->table;
  for (size_t i = 0; i < table->row_count * table->column_count; i++) {
    size_t column = i % table->column_count;
    const tenter_cell *cell = &table->cells[i];
    if (isfinite(cell->number) && cell->decimals > l->decimals[column])
      l->decimals[column] = cell->decimals;
  }
}

/* All cells through the door; false when memory ran out. */
static bool write_cells(layout *l) {
  size_t columns = l->table->column_count, count = (l->table->row_count + 1) * columns;
  l->ends = tenter_alloc(count, sizeof *l->ends);
  if (l->ends == NULL)
    return false;
  for (size_t i = 0; i < columns; i++) {
    tenter_escape_terminal(&l->text, l->table->columns[i].header);
    l->ends[i] = l->text.length;
  }
  for (size_t i = columns; i < count; i++) {
    add_cell(l, &l->table->cells[i - columns], i % columns);
    l->ends[i] = l->text.length;
  }
  return !l->text.failed;
}

static int smaller(int a, int b) {
  return a < b ? a : b;
}

static int larger(int a, int b) {
  return a > b ? a : b;
}

static bool is_words(const tenter_table_column *column) {
  return column->kind == TENTER_CELLS_TEXT || column->kind == TENTER_CELLS_RAW;
}

/* What a column wants and the least it can be had with: words of up to longest are kept whole. */
static void measure(layout *l, int longest) {
  size_t columns = l->table->column_count, count = (l->table->row_count + 1) * columns;
  memset(l->width, 0, sizeof l->width);
  memset(l->least, 0, sizeof l->least);
  for (size_t i = 0; i < count; i++) {
    size_t column = i % columns;
    const tenter_table_column *is = &l->table->columns[column];
    tenter_text text = cell_text(l, i);
    int width = text_width(text), word = text_widest_word(text), least = width;
    if (is_words(is)) {
      bool raw = is->kind == TENTER_CELLS_RAW && i >= columns;
      least = smaller(word, raw ? LEAST_WORD : longest);
      if (is->nowrap && i >= columns)
        least = larger(least, smaller(width, LEAST_NAME));
    } else if (i < columns) { /* a header may go over some lines */
      least = word;
      width = larger(least, smaller(width, WIDE_HEADER));
    }
    l->width[column] = larger(l->width[column], width);
    l->least[column] = larger(l->least[column], least);
  }
}

static bool is_prose(const layout *l, size_t column) {
  const tenter_table_column *is = &l->table->columns[column];
  return is_words(is) && !is->nowrap;
}

/* The column that gives way next: the widest that can, but sentences keep COMFORT as long as
 * another column can give; column_count where none can. */
static size_t next_to_shrink(const layout *l) {
  size_t columns = l->table->column_count, next = columns;
  int most = 0;
  for (size_t i = 0; i < columns; i++) {
    int claim = is_prose(l, i) && l->width[i] <= COMFORT ? 1 : l->width[i];
    if (l->width[i] > l->least[i] && claim > most) {
      most = claim;
      next = i;
    }
  }
  return next;
}

/* Takes columns down to what the page holds; false where it can't be done. */
static bool fit(layout *l, int page) {
  size_t columns = l->table->column_count;
  int total = GAP * ((int)columns - 1);
  for (size_t i = 0; i < columns; i++)
    total += l->width[i];
  for (; total > page; total--) {
    size_t column = next_to_shrink(l);
    if (column == columns)
      return false;
    l->width[column]--;
  }
  return true;
}

static void pad(tenter_buffer *out, char with, int count) {
  for (int i = 0; i < count; i++)
    tenter_buffer_byte(out, with);
}

/* One row of cells, as many lines as its highest cell; number columns stand to the right. */
static void write_row(const layout *l, tenter_buffer *out, size_t row) {
  size_t columns = l->table->column_count;
  tenter_text rest[MOST_COLUMNS];
  for (size_t i = 0; i < columns; i++)
    rest[i] = cell_text(l, row * columns + i);
  for (bool more = true; more;) {
    int owed = 0; /* blanks due before the next cell that holds something */
    more = false;
    for (size_t i = 0; i < columns; i++) {
      bool number = l->table->columns[i].kind == TENTER_CELLS_NUMBER;
      tenter_text line = rest[i];
      if (number && text_width(line) <= l->width[i])
        rest[i].length = 0; /* its trailing blanks are part of it */
      else
        line = text_next_line(&rest[i], l->width[i]);
      int spare = l->width[i] - text_width(line);
      if (line.length > 0) {
        pad(out, ' ', owed + (number ? spare : 0));
        tenter_buffer_add(out, line.start, line.length);
        owed = number ? 0 : spare;
      } else {
        owed += l->width[i];
      }
      owed += GAP;
      more |= rest[i].length > 0;
    }
    while (out->length > 0 && out->bytes[out->length - 1] == ' ')
      out->length--;
    tenter_buffer_byte(out, '\n');
  }
}

static void write_rule(const layout *l, tenter_buffer *out) {
  for (size_t i = 0; i < l->table->column_count; i++) {
    pad(out, ' ', i == 0 ? 0 : GAP);
    pad(out, '-', l->width[i]);
  }
  tenter_buffer_byte(out, '\n');
}

/* The fallback: a line a cell. */
static void write_records(const layout *l, text_page *page) {
  const tenter_block *table = l->table;
  tenter_buffer line = {0};
  for (size_t i = 0; i < table->row_count * table->column_count; i++) {
    size_t column = i % table->column_count;
    tenter_text text = tenter_text_trim(cell_text(l, i + table->column_count));
    if (text.length == 0)
      continue;
    tenter_buffer_clear(&line);
    tenter_buffer_text(&line, table->columns[column].header);
    tenter_buffer_text(&line, ": ");
    tenter_buffer_add(&line, text.start, text.length);
    const char *string = tenter_buffer_string(&line);
    text_page_wrap(page, column == 0 ? "" : "    ", string != NULL ? string : "");
  }
  page->out->failed |= line.failed;
  tenter_buffer_release(&line);
}

void text_page_table(text_page *page, const tenter_block *table) {
  layout l = {.table = table, .form = page->form};
  if (table->text[0] != '\0')
    text_page_wrap(page, "", table->text);
  if (table->row_count == 0 || table->column_count > MOST_COLUMNS)
    return;
  find_decimals(&l);
  if (!write_cells(&l)) {
    page->out->failed = true;
  } else {
    bool fits = false;
    for (int longest = WHOLE_WORD; !fits && longest >= LEAST_WORD; longest /= 2) {
      measure(&l, longest);
      fits = fit(&l, page->columns);
    }
    if (fits) {
      write_row(&l, page->out, 0);
      write_rule(&l, page->out);
      for (size_t row = 1; row <= table->row_count; row++)
        write_row(&l, page->out, row);
    } else {
      write_records(&l, page);
    }
  }
  tenter_free(l.ends);
  tenter_buffer_release(&l.text);
}
