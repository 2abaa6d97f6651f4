/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables: the header on each page again, rows kept whole where a page holds them, numbers under
 * each other at their decimal mark, verdicts with a shape beside their words and colour. */
#include "table.h"

#include <math.h>

enum {
  HEAD_LINES = 6,
  PAD = 3,
  LOWER = 1 /* caps and figures stand in the middle of their row */,
  BOX_HEIGHT = 22
};

static const press_colour tones[] = {INK, GOOD, WATCH, ACT, STOP};

typedef struct grid {
  press *p;
  const tenter_block *table;
  const table_plan *plan;
  PangoLayout **cells;     /* one a column */
  PangoLayoutIter **lines; /* of the row at hand: the line that comes next; NULL behind the last */
} grid;

static double column_x(const grid *g, size_t column) {
  double x = g->p->left;
  for (size_t i = 0; i < column; i++)
    x += g->plan->width[i] + g->plan->gap;
  return x;
}

static double table_width(const grid *g) {
  size_t last = g->table->column_count - 1;
  return column_x(g, last) + g->plan->width[last] - g->p->left;
}

/* ---- the shape of a verdict ----------------------------------------------------------------- */

/* A tick, a ring, a triangle, a square, drawn: no font need have them. side: of the square. */
static void draw_shape(press *p, tenter_tone tone, double x, double y, double side) {
  cairo_t *cr = p->cr;
  sheet_colour(p, tones[tone]);
  cairo_set_line_width(cr, side * 0.17);
  cairo_new_path(cr);
  switch (tone) {
  case TENTER_TONE_GOOD:
    cairo_move_to(cr, x, y + 0.55 * side);
    cairo_line_to(cr, x + 0.35 * side, y + 0.95 * side);
    cairo_line_to(cr, x + side, y + 0.05 * side);
    cairo_stroke(cr);
    break;
  case TENTER_TONE_WATCH:
    cairo_arc(cr, x + side / 2, y + side / 2, 0.42 * side, 0, 6.2831853);
    cairo_stroke(cr);
    break;
  case TENTER_TONE_ACT:
    cairo_move_to(cr, x, y + side);
    cairo_line_to(cr, x + side, y + side);
    cairo_line_to(cr, x + side / 2, y);
    cairo_fill(cr);
    break;
  case TENTER_TONE_STOP:
    cairo_rectangle(cr, x, y, side, side);
    cairo_fill(cr);
    break;
  case TENTER_TONE_PLAIN:
    break;
  }
}

/* ---- cells ---------------------------------------------------------------------------------- */

static const tenter_cell *cell_at(const grid *g, size_t row, size_t column) {
  return &g->table->cells[row * g->table->column_count + column];
}

static bool shows_mark(const grid *g, size_t column, const tenter_cell *cell) {
  return g->table->columns[column].kind == TENTER_CELLS_VERDICT && cell->tone != TENTER_TONE_PLAIN;
}

static double indent_of(const grid *g, size_t column, const tenter_cell *cell) {
  if (shows_mark(g, column, cell))
    return MARK_ROOM * g->plan->scale;
  if (g->table->columns[column].kind != TENTER_CELLS_NUMBER)
    return 0;
  bool words = cell->text != NULL && cell->text[0] != '\0';
  double own = words ? 0 : table_fraction(g->p, cell->decimals, g->plan->scale);
  double spare = g->plan->width[column] - type_width(g->cells[column]);
  return spare - (g->plan->fraction[column] - own);
}

/* Sets the cells of a row; the height of the highest, with its padding. */
static double set_row(grid *g, size_t row) {
  double highest = 0;
  for (size_t i = 0; i < g->table->column_count; i++) {
    const tenter_cell *cell = cell_at(g, row, i);
    bool number = g->table->columns[i].kind == TENTER_CELLS_NUMBER;
    double width = g->plan->width[i] - (shows_mark(g, i, cell) ? MARK_ROOM * g->plan->scale : 0);
    /* a hair more: the width was measured in the same type, and rounding must not wrap it */
    table_cell_set(g->p, g->cells[i], g->table, i, cell, g->plan->scale, number ? -1 : width + 0.1);
    highest = fmax(highest, type_height(g->cells[i]));
    if (g->table->columns[i].kind == TENTER_CELLS_BLANK)
      highest = fmax(highest, BOX_HEIGHT - 2 * PAD);
  }
  return highest + 2 * PAD;
}

static void draw_cell(const grid *g, size_t column, const tenter_cell *cell, double height) {
  press *p = g->p;
  double x = column_x(g, column), y = p->y + PAD + LOWER;
  press_colour colour =
      g->table->columns[column].kind == TENTER_CELLS_VERDICT ? tones[cell->tone] : INK;
  if (g->table->columns[column].kind == TENTER_CELLS_BLANK && !p->draft) {
    sheet_colour(p, QUIET);
    cairo_set_line_width(p->cr, 0.5);
    cairo_rectangle(p->cr, x, p->y + 1.5, g->plan->width[column] + g->plan->gap - 2, height - 3);
    cairo_stroke(p->cr);
  }
  if (shows_mark(g, column, cell) && !p->draft) {
    double side = 5.6 * g->plan->scale;
    double baseline = (double)pango_layout_get_baseline(g->cells[column]) / PANGO_SCALE;
    draw_shape(p, cell->tone, x + 0.5, y + baseline - side, side);
  }
  type_draw(p, g->cells[column], x + indent_of(g, column, cell), y, colour);
}

/* ---- rows ----------------------------------------------------------------------------------- */

static double set_head(grid *g) {
  double highest = 0;
  for (size_t i = 0; i < g->table->column_count; i++) {
    table_head_set(g->p, g->cells[i], g->table, i, g->plan->scale, g->plan->width[i] + 0.1);
    type_cut(g->cells[i], HEAD_LINES);
    bool number = g->table->columns[i].kind == TENTER_CELLS_NUMBER;
    pango_layout_set_alignment(g->cells[i], number ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
    highest = fmax(highest, type_height(g->cells[i]));
  }
  return highest;
}

static void draw_head(grid *g) {
  double height = set_head(g);
  for (size_t i = 0; i < g->table->column_count; i++) {
    double own = type_height(g->cells[i]);
    type_draw(g->p, g->cells[i], column_x(g, i), g->p->y + height - own, QUIET);
    type_cut(g->cells[i], 0);
    pango_layout_set_alignment(g->cells[i], PANGO_ALIGN_LEFT);
  }
  sheet_move(g->p, height + 2);
  sheet_rule(g->p, g->p->left, g->p->y, table_width(g), 0.6, INK);
  sheet_move(g->p, 0.6);
}

static void end_row(const grid *g, double height) {
  sheet_move(g->p, height);
  sheet_rule(g->p, g->p->left, g->p->y, table_width(g), 0.35, RULE);
  sheet_move(g->p, 0.35);
}

/* The lines of one cell that fit into room; the height they take. */
static double draw_lines(const grid *g, size_t column, double room) {
  press *p = g->p;
  double taken = 0, x = column_x(g, column);
  while (g->lines[column] != NULL) {
    type_line line = type_line_at(g->lines[column], FACE_CELL);
    if (taken + line.height > room)
      return taken;
    if (!p->draft) {
      sheet_colour(p, INK);
      cairo_move_to(p->cr, x, p->y + PAD + LOWER + taken + line.baseline);
      pango_cairo_show_layout_line(p->cr, pango_layout_iter_get_line_readonly(g->lines[column]));
    }
    taken += line.height;
    if (!pango_layout_iter_next_line(g->lines[column])) {
      pango_layout_iter_free(g->lines[column]);
      g->lines[column] = NULL;
    }
  }
  return taken;
}

/* A row that no page holds: line by line, as far as each page goes. */
static void draw_long_row(grid *g) {
  press *p = g->p;
  for (size_t i = 0; i < g->table->column_count; i++) {
    pango_layout_set_line_spacing(g->cells[i], 0);
    g->lines[i] = pango_layout_get_iter(g->cells[i]);
  }
  for (bool more = true; more;) {
    double taken = 0;
    more = false;
    for (size_t i = 0; i < g->table->column_count; i++) {
      taken = fmax(taken, draw_lines(g, i, p->bottom - p->y - 2 * PAD));
      more |= g->lines[i] != NULL;
    }
    end_row(g, taken + 2 * PAD);
    if (!more)
      return;
    sheet_open(p, p->wide);
    PangoLayout **kept = g->cells; /* the header must not overwrite the cells at hand */
    g->cells = kept + g->table->column_count;
    draw_head(g);
    g->cells = kept;
  }
}

static void draw_row(grid *g, size_t row) {
  press *p = g->p;
  double height = set_row(g, row);
  if (p->y + height > p->bottom && !sheet_at_top(p)) {
    sheet_open(p, p->wide);
    draw_head(g);
    set_row(g, row);
  }
  if (p->y + height > p->bottom) {
    draw_long_row(g);
    return;
  }
  for (size_t i = 0; i < g->table->column_count; i++)
    draw_cell(g, i, cell_at(g, row, i), height);
  end_row(g, height);
}

/* ---- records -------------------------------------------------------------------------------- */

/* What does not fit as a table: a line a cell, after the name of its column. */
static void set_records(press *p, const tenter_block *table) {
  tenter_buffer line = {0};
  for (size_t i = 0; i < table->row_count * table->column_count; i++) {
    size_t column = i % table->column_count;
    tenter_buffer_clear(&line);
    tenter_buffer_text(&line, table->columns[column].header);
    tenter_buffer_text(&line, ": ");
    size_t named = line.length;
    table_words(p, table, column, &table->cells[i], &line);
    if (line.length == named && table->columns[column].kind != TENTER_CELLS_BLANK)
      continue;
    const char *text = tenter_buffer_string(&line);
    double indent = column == 0 ? 0 : 14;
    type_flow(p, column == 0 ? FACE_CELL_BOLD : FACE_CELL, text != NULL ? text : "",
              p->left + indent, p->right - p->left - indent, NULL, 0);
  }
  tenter_buffer_release(&line);
}

/* ---- all of it ------------------------------------------------------------------------------ */

static void set_grid(grid *g) {
  press *p = g->p;
  const tenter_block *table = g->table;
  double head = set_head(g);
  sheet_need(p, (table->text[0] != '\0' ? 24 : 0) + head + set_row(g, 0) + 8);
  if (table->text[0] != '\0') {
    type_flow(p, FACE_CAPTION, table->text, p->left, p->right - p->left, NULL, 0);
    sheet_move(p, 3);
  }
  draw_head(g);
  for (size_t row = 0; row < table->row_count; row++)
    draw_row(g, row);
}

void table_set(press *p, const tenter_block *table) {
  if (table->row_count == 0 || table->column_count == 0) {
    if (table->text[0] != '\0')
      type_flow(p, FACE_BODY, table->text, p->left, p->right - p->left, NULL, 0);
    return;
  }
  size_t count = table->column_count;
  const table_plan *plan = table_plan_of(p, table);
  grid g = {.p = p,
            .table = table,
            .plan = plan,
            .cells = tenter_arena_alloc(p->arena, 2 * count, sizeof *g.cells),
            .lines = tenter_arena_alloc(p->arena, count, sizeof *g.lines)};
  if (plan == NULL || g.cells == NULL || g.lines == NULL)
    return; /* the arena says so */
  if (plan->records) {
    set_records(p, table);
    return;
  }
  for (size_t i = 0; i < 2 * count; i++)
    g.cells[i] = pango_layout_new(p->context);
  set_grid(&g);
  for (size_t i = 0; i < 2 * count; i++)
    g_object_unref(g.cells[i]);
}
