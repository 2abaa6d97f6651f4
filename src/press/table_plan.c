/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How wide the columns of a table are. Each gets what it wants; where that is more than the page
 * holds, columns of words give way, the widest first; then the type gets smaller; then words are
 * broken anywhere; and what does not fit even so is set as records. */
#include <math.h>
#include <stdio.h>

#include "table.h"
#include "tenter/words/words.h"

#define MINUS "\u2212"

typedef struct measure {
  double want[TENTER_WIRE_MOST_COLUMNS], least[TENTER_WIRE_MOST_COLUMNS];
} measure;

/* Points. A word longer than LONGEST may be broken; BROKEN is the least of a column of words, BOX
 * of a column to be filled in. */
enum { LONGEST = 96, BROKEN = 34, RAW = 44, BOX = 24, NAME = 64 };

static press_face face_of(const tenter_block *table, size_t column, const tenter_cell *cell) {
  bool verdict = table->columns[column].kind == TENTER_CELLS_VERDICT;
  bool bold = verdict ? cell->tone != TENTER_TONE_PLAIN : column == 0;
  return bold ? FACE_CELL_BOLD : FACE_CELL;
}

static void add_number(const press *p, const tenter_cell *cell, tenter_buffer *out) {
  if (!isfinite(cell->number))
    return;
  bool negative = cell->number < 0 && fabs(cell->number) >= 0.5 * pow(10, -cell->decimals);
  if (negative)
    tenter_buffer_text(out, MINUS);
  else if (cell->sign && cell->number > 0)
    tenter_buffer_byte(out, '+');
  tenter_form_fixed(out, p->document->form, fabs(cell->number), cell->decimals);
}

void table_words(const press *p, const tenter_block *table, size_t column, const tenter_cell *cell,
                 tenter_buffer *out) {
  char time[TENTER_WORDS_SIZE];
  if (cell->text != NULL && cell->text[0] != '\0')
    tenter_buffer_text(out, cell->text);
  else if (table->columns[column].kind == TENTER_CELLS_NUMBER)
    add_number(p, cell, out);
  else if (table->columns[column].kind == TENTER_CELLS_TIME)
    tenter_buffer_text(out, tenter_say_when(p->document->form, cell->when, time));
}

void table_cell_set(press *p, PangoLayout *layout, const tenter_block *table, size_t column,
                    const tenter_cell *cell, double scale, double width) {
  tenter_buffer words = {0};
  table_words(p, table, column, cell, &words);
  const char *text = tenter_buffer_string(&words);
  press_face face = face_of(table, column, cell);
  type_set(p, layout, face, text != NULL ? text : "", width);
  if (scale < 1)
    type_scale(p, layout, face, scale);
  tenter_buffer_release(&words);
}

void table_head_set(press *p, PangoLayout *layout, const tenter_block *table, size_t column,
                    double scale, double width) {
  type_set(p, layout, FACE_CELL_HEAD, table->columns[column].header, width);
  if (scale < 1)
    type_scale(p, layout, FACE_CELL_HEAD, scale);
}

double table_fraction(press *p, int decimals, double scale) {
  static const char digits[] = ".000000000";
  if (decimals <= 0)
    return 0;
  char part[sizeof digits];
  snprintf(part, sizeof part, "%.*s", decimals + 1, digits);
  type_set(p, p->layout, FACE_CELL, part, -1);
  type_scale(p, p->layout, FACE_CELL, scale);
  return type_width(p->layout);
}

/* ---- what columns want ---------------------------------------------------------------------- */

static bool is_words(const tenter_table_column *column) {
  return column->kind == TENTER_CELLS_TEXT || column->kind == TENTER_CELLS_RAW;
}

/* Width of the widest word of what layout holds. */
static double widest_word(PangoLayout *layout) {
  pango_layout_set_wrap(layout, PANGO_WRAP_WORD);
  pango_layout_set_width(layout, 0);
  return type_width(layout);
}

static void measure_head(press *p, const tenter_block *table, size_t column, double scale,
                         measure *m) {
  table_head_set(p, p->layout, table, column, scale, -1);
  double whole = type_width(p->layout), word = fmin(widest_word(p->layout), LONGEST);
  bool box = table->columns[column].kind == TENTER_CELLS_BLANK;
  m->least[column] = fmax(fmin(word, box ? BOX + 8 : word), box ? BOX : 0);
  /* a header may go over some lines where its column is narrow */
  m->want[column] = fmax(m->least[column], fmin(whole, NAME));
}

static void measure_cell(press *p, const tenter_block *table, size_t column,
                         const tenter_cell *cell, double scale, measure *m) {
  const tenter_table_column *is = &table->columns[column];
  table_cell_set(p, p->layout, table, column, cell, scale, -1);
  double whole = type_width(p->layout), least = whole;
  if (is->kind == TENTER_CELLS_VERDICT && cell->tone != TENTER_TONE_PLAIN)
    least = whole += MARK_ROOM * scale;
  if (is_words(is) && whole > BROKEN) {
    least = fmin(widest_word(p->layout), is->kind == TENTER_CELLS_RAW ? RAW : LONGEST);
    if (is->nowrap)
      least = fmax(least, fmin(whole, NAME));
  }
  m->want[column] = fmax(m->want[column], whole);
  m->least[column] = fmax(m->least[column], least);
}

/* A number of few decimals has room after its mark for those of its neighbours. */
static void measure_number(press *p, const tenter_block *table, size_t column, double scale,
                           table_plan *plan, measure *m) {
  int most = 0;
  double left = 0;
  for (size_t row = 0; row < table->row_count; row++) {
    const tenter_cell *cell = &table->cells[row * table->column_count + column];
    if (isfinite(cell->number) && cell->decimals > most)
      most = cell->decimals;
  }
  plan->fraction[column] = table_fraction(p, most, scale);
  for (size_t row = 0; row < table->row_count; row++) {
    const tenter_cell *cell = &table->cells[row * table->column_count + column];
    bool words = cell->text != NULL && cell->text[0] != '\0';
    double fraction = words ? 0 : table_fraction(p, cell->decimals, scale);
    table_cell_set(p, p->layout, table, column, cell, scale, -1);
    left = fmax(left, type_width(p->layout) - fraction);
  }
  m->least[column] = fmax(m->least[column], left + plan->fraction[column]);
  m->want[column] = fmax(m->want[column], m->least[column]);
}

static void measure_all(press *p, const tenter_block *table, table_plan *plan, measure *m) {
  for (size_t column = 0; column < table->column_count; column++) {
    measure_head(p, table, column, plan->scale, m);
    if (table->columns[column].kind == TENTER_CELLS_NUMBER) {
      measure_number(p, table, column, plan->scale, plan, m);
      continue;
    }
    for (size_t row = 0; row < table->row_count; row++)
      measure_cell(p, table, column, &table->cells[row * table->column_count + column], plan->scale,
                   m);
  }
}

/* ---- what they get -------------------------------------------------------------------------- */

/* Takes the widest columns of words down until all fit; false where that does not do. */
static bool fit(const tenter_block *table, table_plan *plan, const measure *m, double page) {
  size_t count = table->column_count;
  double total = plan->gap * (double)(count - 1);
  for (size_t i = 0; i < count; i++) {
    plan->width[i] = fmin(m->want[i], fmax(page, m->least[i]));
    total += plan->width[i];
  }
  while (total > page) {
    size_t widest = count;
    for (size_t i = 0; i < count; i++)
      if (plan->width[i] > m->least[i] && (widest == count || plan->width[i] > plan->width[widest]))
        widest = i;
    if (widest == count)
      return false;
    double less = fmin(1, plan->width[widest] - m->least[widest]);
    plan->width[widest] -= less;
    total -= less;
  }
  return true;
}

static void allow_breaks(const tenter_block *table, measure *m) {
  for (size_t i = 0; i < table->column_count; i++)
    if (is_words(&table->columns[i]))
      m->least[i] = fmin(m->least[i], BROKEN);
}

static void choose(press *p, const tenter_block *table, table_plan *plan) {
  static const double scales[] = {1, 0.92, 0.84, 0.76};
  double page = p->right - p->left;
  for (size_t i = 0; i < sizeof scales / sizeof *scales; i++) {
    measure m = {{0}, {0}};
    plan->scale = scales[i];
    plan->gap = 11 * scales[i];
    measure_all(p, table, plan, &m);
    bool last = i + 1 == sizeof scales / sizeof *scales;
    if (fit(table, plan, &m, page))
      return;
    if (last)
      allow_breaks(table, &m);
    if (last && fit(table, plan, &m, page))
      return;
  }
  plan->records = true;
}

table_plan *table_plan_of(press *p, const tenter_block *table) {
  if (!p->draft) {
    table_plan *made = p->next_plan;
    p->next_plan = made != NULL ? made->next : NULL;
    return made;
  }
  table_plan *plan = tenter_arena_alloc(p->arena, 1, sizeof *plan);
  double *widths = tenter_arena_alloc(p->arena, 2 * table->column_count, sizeof *widths);
  if (plan == NULL || widths == NULL)
    return NULL;
  plan->width = widths;
  plan->fraction = widths + table->column_count;
  choose(p, table, plan);
  *(p->last_plan != NULL ? &p->last_plan->next : &p->plans) = plan;
  p->last_plan = plan;
  return plan;
}
