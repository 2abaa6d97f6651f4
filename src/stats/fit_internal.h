/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the fits share inside stats: the pivoted QR, the trust-region search on residuals, the
 * covariance from a Jacobian. Matrices are column by column unless said otherwise. */
#ifndef TENTER_STATS_FIT_INTERNAL_H
#define TENTER_STATS_FIT_INTERNAL_H

#include "tenter/stats/fit.h"

enum { FIT_P = TENTER_FIT_PARAMETERS };

/* a'b in four partial sums: the same order always, and no sum waits for the one before it. */
static inline double fit_dot(const double *a, const double *b, size_t n) {
  double sum[4] = {0};
  size_t i = 0;
  for (; i + 4 <= n; i += 4)
    for (size_t k = 0; k < 4; k++)
      sum[k] += a[i + k] * b[i + k];
  for (; i < n; i++)
    sum[0] += a[i] * b[i];
  return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

/* ---- fit_qr.c ---- */

/* Householder QR with column pivoting of a (n x p, n >= p; destroyed), b (n, may be NULL) replaced
 * by Q'b. order[k] is the column at position k; r the upper triangle, row by row (p x p). Returns
 * the rank: a column is let go when what is left of it is below 1e-14 of the largest; scale the
 * columns first. */
size_t fit_qr(double *a, size_t n, size_t p, double *b, size_t *order, double *r);

/* z with R z = -q in the first rank positions, 0 in the rest. */
void fit_back_solve(const double *r, size_t p, size_t rank, const double *q, double *z);

/* z that minimises |q + R z|^2 + lambda |z|^2; s receives the triangle of the damped system. */
void fit_damped_solve(const double *r, size_t p, const double *q, double lambda, double *s,
                      double *z);

/* w with S'w = z, for the first rank positions. */
void fit_forward_solve(const double *s, size_t p, size_t rank, const double *z, double *w);

/* (J'J)^-1 of the columns of J (n x p; destroyed) that fixed leaves free, NaN in the rows and
 * columns of the others; NaN throughout where the free ones are not told apart. Row by row with the
 * given stride. Returns the rank. */
size_t fit_inverse(double *jacobian, size_t n, size_t p, const bool *fixed, double *inverse,
                   size_t stride);

/* ---- fit_search.c ---- */

/* Residuals r(x) whose sum of squares is to be least. */
typedef struct fit_task {
  size_t n, p;
  bool (*residual)(void *context, const double *x, double *r); /* false where undefined */
  /* dr/dx at the point of the last call of residual; destroyed by the caller. False: undefined */
  bool (*jacobian)(void *context, const double *x, double *jacobian);
  void *context;
  const double *low, *high; /* NULL: none */
  double unit;              /* > 0: a usual step in every x; 0: x itself gives the size */
  double factor;            /* radius of the first step, in those sizes */
  double size;              /* norm of the data: differences of its last digits are nothing */
  double tolerance;
  size_t max_iterations;
  double *r, *trial, *matrix; /* n, n, n p: scratch */
} fit_task;

typedef struct fit_outcome {
  tenter_fit_stop stop;
  size_t iterations, evaluations, rank;
  double rss;
} fit_outcome;

/* Moves x to a minimum. The residuals in the scratch are not those of x afterwards. */
void fit_search(const fit_task *task, double *x, fit_outcome *outcome);

/* Profiled Gaussian log-likelihood of n points of weight, sigma^2 = rss / n. */
double fit_loglik(double rss, size_t n, double log_weight_sum);

#endif
