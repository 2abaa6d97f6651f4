/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the nested model share. Symbols, as in nested.h's model, relative to sigma^2:
 *
 *   T = G / sigma^2 (groups), t = H / sigma^2 (units), Cholesky factors (l11, l21, l22);
 *   a unit: D = diag(a, b), the information of its level at its mean u and of its slope;
 *           v = (level there, slope), 2 x q, of each covariate and last of y;  q = covariates + 1;
 *           P = (D^-1 + t)^-1 at its mean u; H = [1 u; 0 1] takes (level at 0, slope) there;
 *   a group: K = sum H'PH, F = sum H'Pv, E = sum v'Pv;  W = (T^-1 + K)^-1;
 *            after the group is integrated out: K - KWK, F - KWF, E - F'WF;
 *   a block: sums of these over its groups; m = 2 + covariates fixed columns touch it.
 *
 * All u are taken from `shift`, all v from their block's least-squares line (`reference`), so that
 * nothing large is subtracted from anything large. */
#ifndef TENTER_STATS_NESTED_INTERNAL_H
#define TENTER_STATS_NESTED_INTERNAL_H

#include "tenter/stats/nested.h"

typedef tenter_nested_cov sym2; /* any symmetric 2 x 2 matrix */

enum {
  NESTED_Q = TENTER_NESTED_COVARIATES + 1, /* most columns beside u: covariates and y */
  NESTED_M = TENTER_NESTED_COVARIATES + 2, /* most fixed columns of a block */
  NESTED_CHUNK = 1024,                     /* units a task */
  NESTED_PARAMETERS = 6                    /* l11 l21 l22 of T, then of t */
};

/* Spread of a unit's u, of its size, below which it is rounding. */
#define NESTED_SAME_U 1e-10

/* A unit's record is its doubles at these places, then levels[q], slopes[q]. */
enum { UNIT_A = 0, UNIT_MEAN_U = 1, UNIT_B = 2, UNIT_LINES = 3 };

typedef struct nested_group {
  uint64_t key;
  size_t block, first; /* first unit; the group ends where the next begins */
} nested_group;

struct tenter_nested_products {
  size_t terms, covariates, blocks;
  size_t group_count, group_room, unit_count, unit_room;
  nested_group *group;
  uint64_t *unit_key;
  uint32_t *unit_observations;
  double *unit; /* records of nested_stride doubles */
  size_t observations;
  double log_weights; /* sum of log w */
  double *within;     /* q x q: products of what is left of [x y] about the units' lines */
  double *raw;        /* q: sum of w x^2, w y^2, to judge what is rounding */
};

/* Doubles in a unit's record. */
static inline size_t nested_stride(size_t q) {
  return UNIT_LINES + 2 * q;
}
static inline const double *nested_unit(const tenter_nested_products *p, size_t unit) {
  return p->unit + unit * nested_stride(p->covariates + 1);
}
static inline size_t nested_group_end(const tenter_nested_products *p, size_t group) {
  return group + 1 < p->group_count ? p->group[group + 1].first : p->unit_count;
}

/* ---- 2 x 2 algebra ---- */

static inline double det2(sym2 s) {
  return s.level * s.slope - s.cross * s.cross;
}
static inline double trace_product2(sym2 a, sym2 b) {
  return a.level * b.level + 2 * a.cross * b.cross + a.slope * b.slope;
}
static inline sym2 add2(sym2 a, sym2 b) {
  return (sym2){a.level + b.level, a.cross + b.cross, a.slope + b.slope};
}
static inline sym2 scale2(sym2 a, double f) {
  return (sym2){a.level * f, a.cross * f, a.slope * f};
}
/* (a^-1 + b^-1)^-1 for positive semidefinite a, b with det(I + a c) = d given, where b = c^-1:
 * (a + det(a) adj(c)) / d; no inverse is formed, so that either may be singular. */
static inline sym2 shrink2(sym2 a, sym2 c, double d) {
  double da = det2(a) > 0 ? det2(a) : 0;
  return (sym2){(a.level + da * c.slope) / d, (a.cross - da * c.cross) / d,
                (a.slope + da * c.level) / d};
}
/* det(I + a b) for positive semidefinite a, b. */
static inline double det_one_plus2(sym2 a, sym2 b) {
  double da = det2(a), db = det2(b);
  return 1 + trace_product2(a, b) + (da > 0 ? da : 0) * (db > 0 ? db : 0);
}
/* H s H' for H = [1 u; 0 1]: the covariance of a line's (level, slope) moved along by u. */
static inline sym2 move2(sym2 s, double u) {
  double cross = s.cross + u * s.slope;
  return (sym2){s.level + u * (s.cross + cross), cross, s.slope};
}

/* ---- the plan: what does not depend on the components ---- */

/* Units in a row of one cluster and one chunk. A cluster is a group; where groups have no effect
 * of their own, a run of groups of one block. */
typedef struct nested_segment {
  size_t first, end; /* units */
  uint32_t block;
  bool opens; /* the first segment of its cluster */
} nested_segment;

typedef struct nested_plan {
  const tenter_nested_products *products;
  size_t q, m, blocks;
  double shift;
  double *reference;   /* blocks x 2 x q: the level at shift, then the slope, of each column */
  double *center;      /* blocks: mean u */
  uint8_t *rank;       /* blocks: columns of (1, u) that the data tell: 0, 1, 2 */
  bool kept[NESTED_Q]; /* covariates not aliased */
  size_t fixed;        /* columns kept in all */
  double spread_u;     /* standard deviation of u about its block's mean */
  double unit_level, unit_slope; /* mean information a, b of the units that have any */
  bool grouped;
  size_t segment_count, chunk_count;
  nested_segment *segment;
  size_t *chunk; /* first segment of each; chunk_count + 1 */
} nested_plan;

tenter_status nested_plan_new(const tenter_nested_products *products, bool grouped,
                              nested_plan **plan, tenter_error *error);
void nested_plan_free(nested_plan *plan);

/* Factors to begin a search at, from moments; residual is a first sigma^2. */
void nested_start(const nested_plan *plan, double residual, double start[NESTED_PARAMETERS]);

/* ---- evaluation at a point ---- */

/* l11, l21, l22 of T, then of t, about shift. */
typedef struct nested_point {
  double factor[NESTED_PARAMETERS];
} nested_point;

static inline sym2 nested_product(const double l[3]) {
  return (sym2){l[0] * l[0], l[0] * l[1], l[1] * l[1] + l[2] * l[2]};
}

/* What an evaluation leaves behind; arrays are reused by the next one. All about shift and
 * reference. */
typedef struct nested_state {
  nested_plan *plan; /* borrowed */
  tenter_pool *pool; /* borrowed */
  nested_point at;
  sym2 group, unit; /* T, t at it */

  double *sums;          /* segments x (3 + 2q): K, F; a cluster's are in its first segment */
  double *partial;       /* chunks x NESTED_PARTIAL(q): what a task adds up over blocks */
  double *local;         /* blocks x (3 + 2q): K, F of the block, groups integrated out */
  double *solved;        /* blocks x 2q: local K^-1 F */
  double *local_inverse; /* blocks x 3: of local K alone */
  double *inverse;       /* blocks x m x m: of X'V^-1X, the rows and columns that touch the block */
  double *line;          /* blocks x 2: the fixed line */
  double energy[NESTED_Q * NESTED_Q];    /* E over all, within included; lower triangle */
  double gamma[NESTED_Q];                /* zero where aliased */
  double gamma_cov[NESTED_Q * NESTED_Q]; /* relative; zero where aliased */
  double log_v, log_x;                   /* log|V| but for the weights; log|X'V^-1X| */
  double square;                         /* r^2 = y'Py */

  /* of nested_differentiate */
  double *score; /* segments x 3m: for the three directions of t, Z'V0^-1f and C'V0^-1f */
  double *cross; /* blocks x 12: X'V^-1f of the six directions, local part */
  sym2 trace[2]; /* derivative by T, t of log|V| (REML: + log|X'V^-1X|), as a matrix */
  sym2 quad[2];  /* of -r^2 */
  double information[NESTED_PARAMETERS * NESTED_PARAMETERS]; /* f_j'Pf_k by elements of T, t */
} nested_state;

/* Doubles a task keeps for the sum over all: log|.|, E; or two matrices and 6 products of scores.
 */
static inline size_t nested_partial(size_t q) {
  return 12 + q * q;
}
static inline size_t nested_sums(size_t q) {
  return 3 + 2 * q;
}

tenter_status nested_state_new(nested_plan *plan, tenter_pool *pool, nested_state **state,
                               tenter_error *error);
void nested_state_free(nested_state *state);

/* Everything but the derivatives. */
void nested_evaluate(nested_state *state, const nested_point *at);
/* Room for the derivatives, once before the first; false without memory. */
bool nested_score_room(nested_state *state);
/* The derivatives at the point of the last nested_evaluate: trace, quad, information; for REML or
 * ML. */
void nested_differentiate(nested_state *state, bool reml);

/* Eliminates the blocks, then solves for the covariates; from local and energy. */
void nested_fixed_solve(nested_state *state);
/* information -= (X'V^-1f)' (X'V^-1X)^-1 (X'V^-1f) for the six directions f: cross holds the local
 * part, shared (covariates x 6) the rest. */
void nested_fixed_project(nested_state *state, const double *shared);

/* The segment in which the cluster of a segment opens. */
static inline size_t nested_opening(const nested_plan *plan, size_t segment) {
  while (!plan->segment[segment].opens)
    segment--;
  return segment;
}

/* -2 log L, with sigma^2 given or (residual NULL) at its best. */
double nested_deviance(const nested_state *state, bool ml, const double *residual);

struct tenter_nested_solution {
  nested_plan *plan;   /* owned */
  nested_state *state; /* owned */
  uint32_t *opening;   /* each group's first segment, where grouped; owned */
  double residual;
  bool slope_prior;
  double prior_mean, prior_variance;
};

/* Eigenvalues and eigenvectors (columns of vectors) of a symmetric n x n matrix, n small; false
 * where GSL did not converge. */
bool nested_axes(size_t n, const double *matrix, double *values, double *vectors);

/* The factor (l11, l21, l22) of a positive semidefinite matrix, what is nil but for rounding made
 * so; false where it is not one. */
bool nested_factor(sym2 s, double l[3]);

/* Makes a solution of a plan (taken, also on failure) at relative factors about shift. */
tenter_status nested_solution_new(nested_plan *plan, const nested_point *at, double residual,
                                  tenter_pool *pool, tenter_nested_solution **solution,
                                  tenter_error *error);

#endif
