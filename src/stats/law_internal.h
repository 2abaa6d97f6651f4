/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a law is to the code that fits it, and the workspace that the parts of a fit share. */
#ifndef TENTER_STATS_LAW_INTERNAL_H
#define TENTER_STATS_LAW_INTERNAL_H

#include "fit_internal.h"
#include "tenter/stats/laws.h"

enum { LAW_LINEAR = 3, LAW_SEARCHED = 2, LAW_STARTS = 12 };

/* Some ages of one series. log_t is the natural logarithm, -inf at 0. */
typedef struct law_ages {
  size_t n;
  const double *t, *log_t;
} law_ages;

/* One law. Searched parameters s come as they are searched: times by their natural logarithm.
 * Matrices are column by column, columns `stride` apart; work keeps n numbers from basis to slope.
 */
typedef struct law_row {
  tenter_law_info info;
  bool plateau;         /* the first linear parameter is the level at the end */
  bool interchangeable; /* two times, the last two linear parameters theirs: sorted afterwards */
  /* Bounds of the searched ones; of a time, as factors of the least and the greatest age. */
  double low[LAW_SEARCHED], high[LAW_SEARCHED];
  /* Where to begin; a time as its place between least (0) and greatest (1) log age. */
  size_t starts, searches;
  double start[LAW_STARTS][LAW_SEARCHED];
  /* What the linear parameters multiply. */
  void (*basis)(law_ages ages, const double *s, double *phi, size_t stride, double *work);
  /* d value / d s for linear parameters c, after basis at the same s. */
  void (*slope)(law_ages ages, const double *s, const double *c, const double *phi, double *slope,
                size_t stride, const double *work);
  /* Of a law that comes to an end: the logarithm of its half-life in units of its first time, and
   * the derivative by s[1]. NULL: no half-life, or none that s alone tells. */
  double (*half)(const double *s, double *slope);
} law_row;

const law_row *law_row_of(tenter_law law);

static inline size_t law_searched(const law_row *row) {
  return row->info.parameters - row->info.linear;
}

/* Of one series at the point evaluated last. */
typedef struct law_series {
  size_t first, n, rank; /* rank: linear parameters determined */
  double c[LAW_LINEAR];
  bool held;             /* the plateau rests on its least value */
  bool used[LAW_LINEAR]; /* columns that are orthonormal in q */
} law_series;

struct tenter_law_space {
  size_t capacity, series_capacity;
  const law_row *row;
  size_t count, series_count, weighty, searched; /* of the fit at hand */
  tenter_law_plateau plateau;
  double plateau_min;
  size_t fixed; /* 1 + a linear parameter that stands at fixed_at; 0: none */
  double fixed_at;
  double low[LAW_SEARCHED], high[LAW_SEARCHED], x[LAW_SEARCHED]; /* as searched */
  double rss, size, tolerance;
  double *t, *log_t, *y, *prior, *robust, *root; /* n each; root = sqrt(prior * robust) */
  double *phi, *q, *work;                        /* 3 n, 3 n, n */
  double *r, *trial, *matrix, *last;             /* n, n, 5 n, n: scratch */
  double *block;
  law_series *series;
};

/* ---- law_project.c ---- */

/* Evaluates at s: the linear parameters of each series, weighted residuals into r. A fit_task's
 * residual and jacobian (Kaufman's), with the space as context. */
bool law_residual(void *space, const double *s, double *r);
bool law_jacobian(void *space, const double *s, double *jacobian);

/* The orthonormal columns again, after root has changed; linear parameters stay. */
void law_factor(tenter_law_space *space);

/* root times the derivatives by all parameters (searched ones as searched) at the point of the last
 * law_residual, for a fit of one series: n x (linear + searched). */
void law_full_jacobian(tenter_law_space *space, const double *s, double *jacobian);

/* y less the curve at the point of the last law_residual. */
void law_plain_residual(const tenter_law_space *space, double *out);

/* law_residual, law_jacobian, or the like of other coordinates. */
typedef bool law_residuals(void *space, const double *s, double *out);

/* A search on the space from s, within low and high; s is moved. The space is left at another
 * point. The second by residuals in other coordinates s, as many as there are. */
void law_search(tenter_law_space *space, const double *low, const double *high, double *s,
                fit_outcome *outcome);
void law_search_by(tenter_law_space *space, law_residuals *residual, law_residuals *jacobian,
                   const double *low, const double *high, double *s, fit_outcome *outcome);

/* ---- law_result.c ---- */

/* Parameters, errors, likelihood, diagnostics and notes of the fit at space->x. scale: NaN unless
 * robust. */
void law_result(tenter_law_space *space, tenter_psi psi, double scale, tenter_law_curve *curve);

#endif
