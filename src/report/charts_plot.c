/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A control chart for a terminal: a column a point, the latest 64 of them. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "charts_document.h"

enum { COLUMNS = 64, ROWS = 9, MOST_PLOTS = 6 };

typedef struct plot {
  double low, high;
  char cell[ROWS][COLUMNS + 1];
} plot;

static size_t row_of(const plot *p, double y) {
  double at = (p->high - y) / (p->high - p->low) * (ROWS - 1);
  return at < 0 ? 0 : at > ROWS - 1 ? ROWS - 1 : (size_t)lround(at);
}

static void draw_line(plot *p, double y, char letter) {
  if (isfinite(y))
    memset(p->cell[row_of(p, y)], letter, COLUMNS);
}

/* Points far outside stand at the edge: what is inside must stay readable. */
static void set_span(plot *p, const tenter_review_chart *chart) {
  double centre = chart->limits.centre, half = (chart->upper - chart->lower) / 2;
  p->low = centre - 1.5 * half;
  p->high = centre + 1.5 * half;
}

static void draw_points(plot *p, const tenter_review_chart *chart, size_t first) {
  for (size_t i = first; i < chart->point_count; i++) {
    const tenter_chart_point *point = &chart->points[i];
    bool signals = point->met != 0 || point->drift != 0;
    p->cell[row_of(p, point->value)][i - first] = signals ? '#' : 'o';
  }
}

static void print_row(const plot *p, const tenter_review_chart *chart, size_t row,
                      tenter_buffer *out) {
  double y[] = {chart->upper, chart->limits.centre, chart->lower};
  char label[16] = "";
  for (size_t k = 0; k < 3; k++)
    if (row_of(p, y[k]) == row)
      snprintf(label, sizeof label, "%.2f", y[k]);
  size_t length = strlen(p->cell[row]);
  while (length > 0 && p->cell[row][length - 1] == ' ')
    length--;
  tenter_buffer_print(out, "%9s |%.*s\n", label, (int)length, p->cell[row]);
}

static void print_plot(const tenter_review_chart *chart, tenter_buffer *out) {
  plot p;
  memset(p.cell, ' ', sizeof p.cell);
  for (size_t r = 0; r < ROWS; r++)
    p.cell[r][COLUMNS] = '\0';
  size_t first = chart->point_count > COLUMNS ? chart->point_count - COLUMNS : 0;
  set_span(&p, chart);
  draw_line(&p, chart->upper, '-');
  draw_line(&p, chart->lower, '-');
  draw_line(&p, chart->limits.centre, '.');
  draw_points(&p, chart, first);
  tenter_buffer_print(out, "\n%s (%s)\n", chart->name, tenter_stream_unit(chart->stream));
  for (size_t r = 0; r < ROWS; r++)
    print_row(&p, chart, r, out);
}

void charts_plots(const tenter_review *review, tenter_buffer *out) {
  const tenter_review_chart *list[MOST_PLOTS];
  size_t count = charts_to_draw(review, list, MOST_PLOTS);
  for (size_t i = 0; i < count && chart_new_signals(list[i]) > 0; i++)
    print_plot(list[i], out);
}
