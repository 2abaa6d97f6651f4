/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of Turnbull's estimate share: rows as spans of masses, and the search.
 *
 * Masses 0 .. n - 1 lie between boundaries 0 .. n; a row that covers masses lo .. hi - 1 is an edge
 * between boundaries lo and hi, and its probability is the difference of the cumulated masses
 * there. Restricted to some of the masses, edges fall together: the problem becomes small. */
#ifndef TENTER_STATS_TURNBULL_INTERNAL_H
#define TENTER_STATS_TURNBULL_INTERNAL_H

#include <stdint.h>

#include "tenter/stats/turnbull.h"

typedef struct turnbull_edge {
  uint32_t lo, hi;
  double weight;
} turnbull_edge;

struct tenter_turnbull_rows {
  size_t intervals; /* innermost */
  double *left, *right;
  size_t count;
  turnbull_edge *edge; /* in order of lo, then hi; all different */
  double weight;       /* their sum */
};

/* The innermost intervals of checked rows, and the rows by them. */
tenter_status turnbull_rows_make(const tenter_life *life, tenter_turnbull_rows **rows,
                                 tenter_error *error);
void turnbull_rows_free(tenter_turnbull_rows *rows);

/* Sorts edges between boundaries 0 .. boundaries - 1 by lo, then hi, and adds up those that are the
 * same; returns how many are left. spare holds count edges, first boundaries + 1 numbers. */
size_t turnbull_edges_merge(turnbull_edge *edge, size_t count, size_t boundaries,
                            turnbull_edge *spare, uint32_t *first);

/* ---- the search ---- */

/* Masses above 0 (or about to be) and the edges between them. All arrays have room for every
 * innermost interval. */
typedef struct turnbull_search {
  const tenter_turnbull_rows *rows;
  size_t count;      /* of masses in the support */
  uint32_t *support; /* which innermost intervals, rising */
  uint32_t *rank;    /* of each boundary of the innermost intervals: support masses before it */
  double *mass;      /* of the support */
  double *sum;       /* cumulated, count + 1 */
  turnbull_edge *edge;
  size_t edges;
  double *curvature; /* of each edge: weight / P^2 */
  double *gradient; /* of the log-likelihood by innermost interval, or by boundary of the support */
  double *direction, *target;
  double *residual, *precond, *search, *image; /* of conjugate gradients */
  double *diagonal, *beside, *pivot;           /* of the Hessian, and factors of its middle band */
  turnbull_edge *spare;
  uint32_t *first;
  size_t steps;
  double gap;
} turnbull_search;

tenter_status turnbull_search_make(const tenter_turnbull_rows *rows, turnbull_search *search,
                                   tenter_error *error);
void turnbull_search_release(turnbull_search *search);

/* Begins from masses on a support; support NULL: the fewest that give every row one. */
void turnbull_search_begin(turnbull_search *search, const uint32_t *support, const double *mass,
                           size_t count);

/* Climbs to the top; search->gap says how near it came. */
void turnbull_search_climb(turnbull_search *search);

/* Is the gap small enough to stop? */
bool turnbull_search_is_near(const turnbull_search *search);

/* The log-likelihood at the masses. */
double turnbull_search_loglik(const turnbull_search *search);

/* What was found, as a fit without its rows. */
tenter_status turnbull_take(const turnbull_search *search, tenter_turnbull *turnbull,
                            tenter_error *error);

/* Curvatures at the masses, then x with (Hessian) x = b between the inner boundaries; b and x hold
 * count + 1, their ends are taken as 0. Good to `tolerance` of b; false where it is not. */
void turnbull_search_curve(turnbull_search *search);
bool turnbull_search_solve(turnbull_search *search, const double *b, double *x, double tolerance);

#endif
