/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of the comma-separated files of tests/oracle/charts and tests/oracle/arl: a comment, a
 * header, then figures; no quoting. */
#ifndef TEST_STATS_CHART_ROWS_H
#define TEST_STATS_CHART_ROWS_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"

enum { ROW_FIELDS = 24 };

typedef struct rows {
  FILE *file;
  char line[1024];
  char *field[ROW_FIELDS];
  size_t fields;
} rows;

static inline bool rows_line(rows *r) {
  do
    if (!fgets(r->line, sizeof r->line, r->file)) {
      fclose(r->file);
      return false;
    }
  while (r->line[0] == '#');
  r->line[strcspn(r->line, "\r\n")] = 0;
  r->fields = 0;
  for (char *p = r->line; r->fields < ROW_FIELDS; p++) {
    r->field[r->fields++] = p;
    p += strcspn(p, ",");
    if (!*p)
      break;
    *p = 0;
  }
  return true;
}

/* Opens a file below tests/oracle and passes its header over. */
static inline void rows_open(rows *r, const char *name) {
  char path[1024];
  snprintf(path, sizeof path, "%s/%s", TEST_ORACLE, name);
  r->file = fopen(path, "r");
  assert_non_null(r->file);
  assert_true(rows_line(r));
}

/* The next row; the file is closed after the last. */
static inline bool rows_next(rows *r) {
  return rows_line(r);
}

static inline double rows_number(const rows *r, size_t field) {
  assert_true(field < r->fields);
  char *end;
  double value = strtod(r->field[field], &end);
  assert_true(end != r->field[field]);
  return value;
}

static inline bool rows_is(const rows *r, size_t field, const char *text) {
  return field < r->fields && strcmp(r->field[field], text) == 0;
}

/* A column of a file; how many. */
static inline size_t rows_column(const char *name, size_t field, double *values, size_t room) {
  rows r;
  size_t count = 0;
  rows_open(&r, name);
  while (rows_next(&r)) {
    assert_true(count < room);
    values[count++] = rows_number(&r, field);
  }
  return count;
}

#endif
