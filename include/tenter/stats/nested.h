/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines nested in units, units nested in groups: a mixed model at the cost of a scan.
 *
 * Model. Observation j of unit i of group g, which belongs to block b(g):
 *
 *   y = (alpha_b + A_g + a_gi) + (beta_b + B_g + b_gi) u + x'gamma + e,   var e = sigma^2 / w
 *
 * (A, B) ~ N(0, G) for groups, (a, b) ~ N(0, H) for units, G and H free 2 x 2 covariances shared by
 * all blocks, all independent. alpha_b, beta_b (two columns a block) and gamma (covariates shared
 * by all blocks) are fixed. With terms = 1 there is no u: levels only. Estimation by restricted
 * maximum likelihood (REML) or maximum likelihood (ML).
 *
 * How. Since z = (1, u) lies in the span of the fixed columns, a unit enters only through its own
 * least-squares line of y and of each covariate, and the 2 x 2 information of that line; what is
 * left within units is one sum over all. A unit is integrated out in closed form, its 2 x 2 result
 * added to its group, the group integrated out likewise, and what remains is a system of two
 * columns a block bordered by the covariates. One evaluation of the likelihood with its gradient
 * and average information costs O(units * (2 + covariates)^2); a unit is kept in
 * 24 + 16 (1 + covariates) bytes and a few more.
 * sigma^2 and the fixed effects are profiled out; the covariances are searched as relative Cholesky
 * factors (Bates, Maechler, Bolker, Walker 2015, J. Stat. Softw. 67(1), sections 2-3) by Newton
 * steps on the average information (Gilmour, Thompson, Cullis 1995, Biometrics 51:1440). A variance
 * of zero or a correlation of +-1 is an ordinary result, and reported.
 *
 * Use: build tenter_nested_products (group by group, unit by unit), fit, and ask the solution for
 * lines. To carry the uncertainty of the variance components too, ask for nodes (nested_nodes.h)
 * and solve at each.
 *
 * Units of measurement are the caller's; sums over threads do not depend on their number. */
#ifndef TENTER_STATS_NESTED_H
#define TENTER_STATS_NESTED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/buffer.h"
#include "tenter/base/pool.h"
#include "tenter/base/status.h"

enum { TENTER_NESTED_COVARIATES = 32 }; /* the most covariates */

/* ---- plain values ---- */

/* A symmetric 2 x 2 matrix for (level, slope): variances and their covariance. */
typedef struct tenter_nested_cov {
  double level, cross, slope;
} tenter_nested_cov;

/* A bivariate normal for a line: its level at u = 0, its slope, their covariance. */
typedef struct tenter_nested_line {
  double level, slope;
  tenter_nested_cov cov;
} tenter_nested_line;

/* The variance components in absolute (not relative) units. */
typedef struct tenter_nested_components {
  double residual;         /* sigma^2, of an observation of weight 1 */
  tenter_nested_cov group; /* G; zeros where the structure has none */
  tenter_nested_cov unit;  /* H */
} tenter_nested_components;

/* ---- the data, summed up ---- */

typedef struct tenter_nested_products tenter_nested_products;

/* An empty set. terms: 2 = level and slope in u, 1 = level only. TENTER_USAGE for other terms or
 * too many covariates; TENTER_FAILED without memory. */
tenter_status tenter_nested_products_new(size_t terms, size_t covariates,
                                         tenter_nested_products **products, tenter_error *error);
void tenter_nested_products_free(tenter_nested_products *products);

/* Opens the next group, in block (0, 1, ...; a group lies in one block; blocks without data are
 * allowed). Its index is the number of groups before. key is the caller's, to match groups when
 * sets are merged; unique within the set (checked only on merging). */
tenter_status tenter_nested_group_add(tenter_nested_products *products, size_t block, uint64_t key,
                                      tenter_error *error);

/* Adds a unit to the group opened last. Its index is the number of units before. count may be 0 (a
 * unit without observations gets the line of its group). u is NULL with terms = 1; weight NULL is
 * all 1; x holds count rows of covariates columns, NULL without covariates. key as above, unique
 * within the group. All arrays are read only during the call. TENTER_INPUT where no group is open,
 * a number is not finite or a weight is not above 0; the set is then unchanged.
 * u values that agree to 1e-10 of their size count as one. */
tenter_status tenter_nested_unit_add(tenter_nested_products *products, uint64_t key, size_t count,
                                     const double *u, const double *y, const double *weight,
                                     const double *x, tenter_error *error);

/* Appends other's groups and units, so that a set can be built in stretches and strung together:
 * the result is as if all had been added to products in turn, but that sums within units are added
 * stretch by stretch. Where other begins with the group that products ends with, its units go on in
 * it. TENTER_INPUT where terms or covariates differ or that group lies in another block; products
 * is then unchanged. */
tenter_status tenter_nested_products_append(tenter_nested_products *products,
                                            const tenter_nested_products *other,
                                            tenter_error *error);

/* Adds other's observations to products. Groups are matched by key, units by key within their
 * group; what products lacks is appended, groups at the end, units at the end of their group, so
 * that indices of units can change. Sums made in parts give the same set as made at once, to
 * rounding. TENTER_INPUT where terms or covariates differ, a matched group lies in another block or
 * a key repeats; products is then unchanged. */
tenter_status tenter_nested_products_merge(tenter_nested_products *products,
                                           const tenter_nested_products *other,
                                           tenter_error *error);

/* Appends the set to a buffer as bytes that tenter_nested_products_load reads on any machine
 * (little endian, IEEE 754, a checksum at the end). Check buffer->failed. */
void tenter_nested_products_save(const tenter_nested_products *products, tenter_buffer *buffer);

/* A set from bytes that tenter_nested_products_save wrote. TENTER_INPUT where they are not that,
 * cut off, damaged or of another version. */
tenter_status tenter_nested_products_load(const void *bytes, size_t length,
                                          tenter_nested_products **products, tenter_error *error);

size_t tenter_nested_blocks(const tenter_nested_products *products); /* highest block + 1 */
size_t tenter_nested_groups(const tenter_nested_products *products);
size_t tenter_nested_units(const tenter_nested_products *products);
size_t tenter_nested_observations(const tenter_nested_products *products);
size_t tenter_nested_bytes(const tenter_nested_products *products); /* memory held */
size_t tenter_nested_group_block(const tenter_nested_products *products, size_t group);
size_t tenter_nested_unit_group(const tenter_nested_products *products, size_t unit);
size_t tenter_nested_unit_count(const tenter_nested_products *products, size_t unit);
/* Weighted mean of a unit's u; 0 without observations or with terms = 1. */
double tenter_nested_unit_mean_u(const tenter_nested_products *products, size_t unit);

/* ---- a solution: everything at given components ---- */

/* The fixed effects and predictions at fixed variance components. It borrows the products, which
 * must outlive it and not change. Read-only afterwards: threads may share it. */
typedef struct tenter_nested_solution tenter_nested_solution;

/* Solves at the given components. TENTER_USAGE where a covariance is not positive semidefinite or
 * residual is not above 0; TENTER_INPUT without observations. pool may be NULL. */
tenter_status tenter_nested_solve(const tenter_nested_products *products,
                                  const tenter_nested_components *components, tenter_pool *pool,
                                  tenter_nested_solution **solution, tenter_error *error);
void tenter_nested_solution_free(tenter_nested_solution *solution);

/* Log-likelihood at the solution's components with the fixed effects at their best (ml) or
 * integrated out (REML; without the constant log|X'X|, as lme4 reports it). */
double tenter_nested_loglik(const tenter_nested_solution *solution, bool ml);

/* Fixed effects estimated (columns of X that are not aliased). */
size_t tenter_nested_rank(const tenter_nested_solution *solution);

/* A coefficient gamma and its standard error; false, and NaN in both, where the data can't tell it
 * from the blocks or from covariates before it (it is then left out of the model). */
bool tenter_nested_covariate(const tenter_nested_solution *solution, size_t covariate,
                             double *value, double *se);
/* Covariance of two coefficients; NaN where either is aliased. */
double tenter_nested_covariate_cov(const tenter_nested_solution *solution, size_t first,
                                   size_t second);
/* By how much the other covariates raise the variance of a coefficient: 1 where they have nothing
 * in common with it beyond blocks, groups and units; above 10 it is commonly taken as hardly told
 * from them (variance inflation: Marquardt 1970, Technometrics 12:591). NaN where it is aliased. */
double tenter_nested_covariate_inflation(const tenter_nested_solution *solution, size_t covariate);

/* Where a line is to be taken in covariate space: x'gamma = (level + slope u)'gamma, that is
 * level holds the covariates' values at u = 0 and slope their change per u (a product of a
 * covariate with u has its value in slope). NULL (either, or the whole) is zero. */
typedef struct tenter_nested_at {
  const double *level, *slope; /* covariates each */
} tenter_nested_at;

/* The lines below hold E and var of the line given the data and the components, the uncertainty of
 * the fixed effects included (prediction variance of the best linear unbiased predictor; Henderson
 * 1975, Biometrics 31:423). False, with NaN in what is not known, where the block has no data, or
 * none from which its slope could be told: then level and slope are NaN, unless terms = 1, where
 * slope and its variance are 0. A slope that can't be told can be supplied by
 * tenter_nested_slope_prior. */

/* The mean line of a block: (alpha_b, beta_b). */
bool tenter_nested_block_line(const tenter_nested_solution *solution, size_t block,
                              const tenter_nested_at *at, tenter_nested_line *line);
/* The mean line of a group: block + (A, B). */
bool tenter_nested_group_line(const tenter_nested_solution *solution, size_t group,
                              const tenter_nested_at *at, tenter_nested_line *line);
/* A unit's own line: group + (a, b). */
bool tenter_nested_unit_line(const tenter_nested_solution *solution, size_t unit,
                             const tenter_nested_at *at, tenter_nested_line *line);
/* A unit not seen yet, of a known group: the group's line with H added. */
bool tenter_nested_new_unit_line(const tenter_nested_solution *solution, size_t group,
                                 const tenter_nested_at *at, tenter_nested_line *line);
/* A unit not seen yet, of a group not seen yet: the block's line with G and H added. */
bool tenter_nested_new_group_line(const tenter_nested_solution *solution, size_t block,
                                  const tenter_nested_at *at, tenter_nested_line *line);

/* The random effects themselves: line holds the prediction of (A, B) or (a, b) and the variance of
 * its error; given, where not NULL, the variance with the fixed effects taken as known (what lme4
 * calls the conditional variance). A group without data has mean 0 and variance G. */
void tenter_nested_group_effect(const tenter_nested_solution *solution, size_t group,
                                tenter_nested_line *line, tenter_nested_cov *given);
void tenter_nested_unit_effect(const tenter_nested_solution *solution, size_t unit,
                               tenter_nested_line *line, tenter_nested_cov *given);

/* States what is believed of beta_b beforehand, N(mean, sd^2), for those blocks only whose slope
 * the data can't tell; it leaves every other number as it is. Call before asking for lines. */
void tenter_nested_slope_prior(tenter_nested_solution *solution, double mean, double sd);

/* Takes count further observations of a unit into its line (Bayes' rule for the two numbers, the
 * line's covariance being the prior), as if they left groups and fixed effects untouched: for
 * forecasts of each observation from those before it. residual is sigma^2; y has its covariate part
 * taken off already. */
void tenter_nested_line_update(tenter_nested_line *line, double residual, size_t count,
                               const double *u, const double *y, const double *weight);

/* ---- the fit ---- */

/* What is random at a level, most structure last. */
typedef enum tenter_nested_terms {
  TENTER_NESTED_NONE = 0,
  TENTER_NESTED_LEVEL = 1,
  TENTER_NESTED_LINE = 2
} tenter_nested_terms;

/* Why a level has less than was asked for. */
typedef enum tenter_nested_reason {
  TENTER_NESTED_AS_ASKED = 0,
  TENTER_NESTED_NO_SLOPES,     /* terms = 1, or fewer than two slopes to spare */
  TENTER_NESTED_ONE_GROUP,     /* no block has two groups with data */
  TENTER_NESTED_ONE_UNIT_EACH, /* no group has two units with data: groups and units are the same */
  TENTER_NESTED_ONE_READING_EACH, /* nothing left within units to tell them from the residual */
  TENTER_NESTED_FEW_UNITS         /* no units to spare beside the fixed effects */
} tenter_nested_reason;

typedef struct tenter_nested_structure {
  tenter_nested_terms group, unit;
  tenter_nested_reason group_reason, unit_reason;
} tenter_nested_structure;

typedef struct tenter_nested_options {
  bool ml;                                 /* ML instead of REML */
  tenter_nested_terms group_max, unit_max; /* the most structure wanted */
  tenter_pool *pool;                       /* may be NULL */
} tenter_nested_options;

typedef struct tenter_nested_fit {
  tenter_nested_structure structure;
  tenter_nested_components components;
  double loglik;                      /* REML or ML, at the optimum */
  size_t observations, rank;          /* n and the number of fixed effects estimated */
  size_t evaluations;                 /* of the likelihood with its derivatives */
  bool converged;                     /* false: best point found, gradient not yet nil */
  bool group_boundary, unit_boundary; /* a variance of zero or a correlation of +-1 */
  tenter_nested_solution *solution;   /* at the optimum; owned by the fit */
} tenter_nested_fit;

/* What structure the data carry, at most what options ask for:
 *   unit   none where no observation is left over once each unit has its own line (or level), or
 *          fewer than one unit (two for lines) is left over once each group (block) has its own;
 *   group  none where no block has two groups with data, or no group two units with data; a line
 *          needs two groups to spare beside one a block.
 * A level that falls away leaves the other its variance. */
tenter_status tenter_nested_structure_find(const tenter_nested_products *products,
                                           const tenter_nested_options *options,
                                           tenter_nested_structure *structure, tenter_error *error);

/* Fits the model with the structure the data carry. TENTER_INPUT with fewer observations than fixed
 * effects + 1, or where they leave no residual at all. On success release *fit. */
tenter_status tenter_nested_fit_run(const tenter_nested_products *products,
                                    const tenter_nested_options *options, tenter_nested_fit *fit,
                                    tenter_error *error);
void tenter_nested_fit_release(tenter_nested_fit *fit);

/* ---- intervals for the components ---- */

/* Levels are at u = 0. */
typedef enum tenter_nested_parameter {
  TENTER_NESTED_RESIDUAL_SD,
  TENTER_NESTED_GROUP_LEVEL_SD,
  TENTER_NESTED_GROUP_SLOPE_SD,
  TENTER_NESTED_GROUP_CORRELATION,
  TENTER_NESTED_UNIT_LEVEL_SD,
  TENTER_NESTED_UNIT_SLOPE_SD,
  TENTER_NESTED_UNIT_CORRELATION
} tenter_nested_parameter;

/* Profile-likelihood interval of one parameter of a fit, made with the same options: the values at
 * which 2 log of the likelihood (REML or ML, as fitted), all else at its best, lies within the
 * chi-square quantile of the maximum; to about 1e-5 of themselves. A standard deviation's lower
 * limit may be 0, a correlation's limits -1 and 1. confidence lies in (0, 1). TENTER_USAGE where
 * the fit has no such parameter or confidence is out of range; TENTER_FAILED where the search
 * fails. Some hundred evaluations. Source: Bates et al. 2015, J. Stat. Softw. 67(1), section 5.1.
 */
tenter_status tenter_nested_interval(const tenter_nested_products *products,
                                     const tenter_nested_options *options,
                                     const tenter_nested_fit *fit,
                                     tenter_nested_parameter parameter, double confidence,
                                     double *low, double *high, tenter_error *error);

#endif
