/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the two files of tables: how wide the columns are, and setting the rows. */
#ifndef TENTER_SRC_PRESS_TABLE_H
#define TENTER_SRC_PRESS_TABLE_H

#include "sheet.h"
#include "tenter/report/wire.h"

enum { MARK_ROOM = 11 }; /* before the words of a verdict */

/* Column widths: made by the draft, kept for good. */
struct table_plan {
  table_plan *next;
  double scale, gap; /* of the type; between columns */
  double *width;     /* one a column */
  double *fraction;  /* NUMBER: what the widest has from its decimal mark on */
  bool records;      /* does not fit: a line a cell instead */
};

/* The plan of the next table in order; NULL when memory runs out. */
table_plan *table_plan_of(press *p, const tenter_block *table);

/* The words of a cell into out, not through the door yet. */
void table_words(const press *p, const tenter_block *table, size_t column, const tenter_cell *cell,
                 tenter_buffer *out);

/* Puts a cell's words into layout, in lines of at most width. */
void table_cell_set(press *p, PangoLayout *layout, const tenter_block *table, size_t column,
                    const tenter_cell *cell, double scale, double width);
void table_head_set(press *p, PangoLayout *layout, const tenter_block *table, size_t column,
                    double scale, double width);

/* Width from the decimal mark on of a number with so many decimals. */
double table_fraction(press *p, int decimals, double scale);

#endif
