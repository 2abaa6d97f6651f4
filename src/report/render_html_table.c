/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables as HTML. A cell carries a sort key (data-k) where what is shown does not sort by itself.
 * Numbers get figure spaces for the digits they do not have, so that the points of a column stand
 * under each other. Tables with sentences in them can be stacked on a narrow page: their cells
 * carry the header (data-h). */
#include <math.h>
#include <string.h>

#include "render_html.h"
#include "tenter/report/escape.h"
#include "tenter/words/words.h"

#define POINT_SPACE "\u2008"
#define FIGURE_SPACE "\u2007"
#define MINUS "\u2212"

enum { SHORT_TEXT = 16 }; /* bytes */

typedef struct shape {
  const tenter_block *table;
  bool prose; /* has a column of sentences */
  tenter_form form;
} shape;

static bool has_prose(const tenter_block *table) {
  for (size_t i = 0; i < table->column_count; i++)
    if ((table->columns[i].kind == TENTER_CELLS_TEXT && !table->columns[i].nowrap) ||
        table->columns[i].kind == TENTER_CELLS_RAW)
      return true;
  return false;
}

static int most_decimals(const tenter_block *table, size_t column) {
  int most = 0;
  for (size_t i = 0; i < table->row_count; i++) {
    const tenter_cell *cell = &table->cells[i * table->column_count + column];
    if (isfinite(cell->number) && cell->decimals > most)
      most = cell->decimals;
  }
  return most;
}

static bool shows_words(const tenter_cell *cell) {
  return cell->text != NULL && cell->text[0] != '\0';
}

/* -0.04 with one decimal is shown as 0.0, without a sign. */
static bool shows_negative(const tenter_cell *cell) {
  return cell->number < 0 && fabs(cell->number) >= 0.5 * pow(10, -cell->decimals);
}

static void add_number(tenter_buffer *out, tenter_form form, const tenter_cell *cell, int most) {
  int missing = most - cell->decimals;
  if (shows_words(cell)) {
    tenter_escape_html(out, cell->text);
  } else if (isfinite(cell->number)) {
    if (shows_negative(cell))
      tenter_buffer_text(out, MINUS);
    else if (cell->sign && cell->number > 0)
      tenter_buffer_byte(out, '+');
    tenter_form_fixed(out, form, fabs(cell->number), cell->decimals);
  } else {
    return;
  }
  if (most > 0 && cell->decimals == 0)
    tenter_buffer_text(out, POINT_SPACE);
  for (int i = 0; i < missing; i++)
    tenter_buffer_text(out, FIGURE_SPACE);
}

static void add_key(tenter_buffer *out, double key) {
  tenter_buffer_text(out, " data-k=\"");
  tenter_buffer_number(out, key, 6);
  tenter_buffer_byte(out, '"');
}

/* The sort key, where the words of the cell do not do. */
static void add_keys(tenter_buffer *out, const tenter_cell *cell, tenter_column_kind kind) {
  char time[TENTER_TIME_SIZE];
  if (isfinite(cell->rank))
    add_key(out, cell->rank);
  else if (kind == TENTER_CELLS_NUMBER && isfinite(cell->number))
    add_key(out, cell->number);
  else if (kind == TENTER_CELLS_TIME && cell->when.at != TENTER_NO_TIME)
    html_attribute(out, "data-k", tenter_when_print(cell->when, time));
}

static bool is_short(const char *text) {
  return text != NULL && strlen(text) <= SHORT_TEXT;
}

static const char *class_of(const tenter_table_column *column, const tenter_cell *cell) {
  static const char *const tones[] = {"v", "v v1", "v v2", "v v3", "v v4"};
  switch (column->kind) {
  case TENTER_CELLS_NUMBER:
    return "n";
  case TENTER_CELLS_TIME:
    return "w";
  case TENTER_CELLS_VERDICT:
    return cell != NULL ? tones[cell->tone] : "v";
  case TENTER_CELLS_BLANK:
    return "b";
  default: /* only what is short keeps to one line: a long id has to give way */
    if (cell == NULL)
      return NULL;
    return !column->nowrap ? "p" : is_short(cell->text) ? "w" : NULL;
  }
}

static void add_cell(tenter_buffer *out, const shape *s, size_t column, const tenter_cell *cell,
                     int most) {
  const tenter_table_column *is = &s->table->columns[column];
  const char *class = class_of(is, cell);
  char time[TENTER_WORDS_SIZE];
  tenter_buffer_text(out, column == 0 ? "<th scope=\"row\"" : "<td");
  if (class != NULL)
    html_attribute(out, "class", class);
  add_keys(out, cell, is->kind);
  if (s->prose)
    html_attribute(out, "data-h", is->header);
  tenter_buffer_byte(out, '>');
  if (is->kind == TENTER_CELLS_NUMBER)
    add_number(out, s->form, cell, most);
  else if (shows_words(cell))
    tenter_escape_html(out, cell->text);
  else if (is->kind == TENTER_CELLS_TIME)
    tenter_buffer_text(out, tenter_say_when(s->form, cell->when, time));
  tenter_buffer_text(out, column == 0 ? "</th>" : "</td>");
}

static void add_header(tenter_buffer *out, const tenter_block *table) {
  tenter_buffer_text(out, "<thead><tr>");
  for (size_t i = 0; i < table->column_count; i++) {
    const char *class = class_of(&table->columns[i], NULL);
    tenter_buffer_text(out, "<th scope=\"col\"");
    if (class != NULL)
      html_attribute(out, "class", class);
    tenter_buffer_byte(out, '>');
    tenter_escape_html(out, table->columns[i].header);
    tenter_buffer_text(out, "</th>");
  }
  tenter_buffer_text(out, "</tr></thead>\n<tbody>\n");
}

enum { MOST_COLUMNS = 256 };

void html_table(tenter_buffer *out, const tenter_block *table, tenter_form form) {
  shape s = {table, has_prose(table), form};
  if (table->row_count == 0) {
    html_element(out, "p", table->text);
    return;
  }
  int most[MOST_COLUMNS] = {0};
  for (size_t i = 0; i < table->column_count && i < MOST_COLUMNS; i++)
    most[i] = most_decimals(table, i);
  tenter_buffer_text(out, "<div class=\"table\" tabindex=\"0\"><table");
  html_attribute(out, "id", table->id);
  if (s.prose)
    html_attribute(out, "class", "prose");
  tenter_buffer_text(out, ">\n");
  html_element(out, "caption", table->text);
  add_header(out, table);
  for (size_t row = 0; row < table->row_count; row++) {
    tenter_buffer_text(out, "<tr>");
    for (size_t i = 0; i < table->column_count; i++)
      add_cell(out, &s, i, &table->cells[row * table->column_count + i],
               i < MOST_COLUMNS ? most[i] : 0);
    tenter_buffer_text(out, "</tr>\n");
  }
  tenter_buffer_text(out, "</tbody></table></div>\n");
}
