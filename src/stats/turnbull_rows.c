/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Innermost intervals, and rows as spans of them. Relies on the heap. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "turnbull_internal.h"

/* Ends of rows in order of time. At one time: an exact failure begins, then spans that reach it
 * close, then those begin that start after it. */
enum { BEGINS_AT, CLOSES, BEGINS_AFTER };

typedef struct end {
  double time;
  uint32_t row;
  uint32_t kind;
} end;

static int by_time(const void *a, const void *b) {
  const end *x = a, *y = b;
  if (x->time != y->time)
    return x->time < y->time ? -1 : 1;
  return (x->kind > y->kind) - (x->kind < y->kind);
}

static bool is_silent(const tenter_life *life, size_t i) {
  return (life->weight && life->weight[i] == 0) || (life->lower[i] <= 0 && isinf(life->upper[i]));
}

static size_t gather_ends(const tenter_life *life, end *ends) {
  size_t count = 0;
  for (size_t i = 0; i < life->count; i++) {
    if (is_silent(life, i))
      continue;
    bool exact = life->lower[i] == life->upper[i];
    ends[count++] = (end){life->lower[i], (uint32_t)i, exact ? BEGINS_AT : BEGINS_AFTER};
    ends[count++] = (end){life->upper[i], (uint32_t)i, CLOSES};
  }
  qsort(ends, count, sizeof *ends, by_time);
  return count;
}

/* An interval is complete where a span closes and the end before it was a beginning. lo_of[row]:
 * intervals complete when the row began. */
static void scan_ends(const tenter_life *life, const end *ends, size_t count, uint32_t *lo_of,
                      tenter_turnbull_rows *rows) {
  bool open = false;
  double left = 0;
  for (size_t i = 0; i < count; i++) {
    const end *e = &ends[i];
    if (e->kind != CLOSES) {
      lo_of[e->row] = (uint32_t)rows->intervals;
      left = e->time;
      open = true;
      continue;
    }
    if (open) {
      rows->left[rows->intervals] = left;
      rows->right[rows->intervals++] = e->time;
      open = false;
    }
    double weight = life->weight ? life->weight[e->row] : 1;
    rows->edge[rows->count++] = (turnbull_edge){lo_of[e->row], (uint32_t)rows->intervals, weight};
  }
}

static void sort_by(const turnbull_edge *from, turnbull_edge *to, size_t count, size_t boundaries,
                    bool by_hi, uint32_t *first) {
  memset(first, 0, (boundaries + 1) * sizeof *first);
  for (size_t i = 0; i < count; i++)
    first[(by_hi ? from[i].hi : from[i].lo) + 1]++;
  for (size_t k = 0; k < boundaries; k++)
    first[k + 1] += first[k];
  for (size_t i = 0; i < count; i++)
    to[first[by_hi ? from[i].hi : from[i].lo]++] = from[i];
}

size_t turnbull_edges_merge(turnbull_edge *edge, size_t count, size_t boundaries,
                            turnbull_edge *spare, uint32_t *first) {
  sort_by(edge, spare, count, boundaries, true, first);
  sort_by(spare, edge, count, boundaries, false, first);
  size_t kept = 0;
  for (size_t i = 0; i < count; i++) {
    if (kept > 0 && edge[kept - 1].lo == edge[i].lo && edge[kept - 1].hi == edge[i].hi)
      edge[kept - 1].weight += edge[i].weight;
    else
      edge[kept++] = edge[i];
  }
  return kept;
}

void turnbull_rows_free(tenter_turnbull_rows *rows) {
  if (!rows)
    return;
  tenter_free(rows->left);
  tenter_free(rows->right);
  tenter_free(rows->edge);
  tenter_free(rows);
}

static bool fill(const tenter_life *life, end *ends, uint32_t *lo_of, tenter_turnbull_rows *rows) {
  size_t count = gather_ends(life, ends);
  rows->left = tenter_alloc(count / 2, sizeof *rows->left);
  rows->right = tenter_alloc(count / 2, sizeof *rows->right);
  rows->edge = tenter_alloc(count / 2, sizeof *rows->edge);
  if (!rows->left || !rows->right || !rows->edge)
    return false;
  scan_ends(life, ends, count, lo_of, rows);
  turnbull_edge *spare = tenter_alloc(rows->count, sizeof *spare);
  uint32_t *first = tenter_alloc(rows->intervals + 2, sizeof *first);
  bool done = spare && first;
  if (done)
    rows->count = turnbull_edges_merge(rows->edge, rows->count, rows->intervals + 1, spare, first);
  tenter_free(spare);
  tenter_free(first);
  for (size_t i = 0; i < rows->count; i++)
    rows->weight += rows->edge[i].weight;
  return done;
}

tenter_status turnbull_rows_make(const tenter_life *life, tenter_turnbull_rows **rows,
                                 tenter_error *error) {
  tenter_turnbull_rows *made = tenter_alloc(1, sizeof *made);
  end *ends = tenter_alloc(life->count, 2 * sizeof *ends);
  uint32_t *lo_of = tenter_alloc(life->count, sizeof *lo_of);
  bool done = made && ends && lo_of && fill(life, ends, lo_of, made);
  tenter_free(ends);
  tenter_free(lo_of);
  if (!done) {
    turnbull_rows_free(made);
    return tenter_fail_memory(error);
  }
  *rows = made;
  return TENTER_OK;
}
