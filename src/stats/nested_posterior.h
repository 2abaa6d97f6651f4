/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The posterior of the nested model's variance components, shared by the nodes' mode search and
 * sampling. Its coordinates, in this order, for each level that has them:
 *   log sd of levels, log sd of slopes, atanh of their correlation (group, then unit); log sigma.
 */
#ifndef TENTER_STATS_NESTED_POSTERIOR_H
#define TENTER_STATS_NESTED_POSTERIOR_H

#include "tenter/stats/nested_nodes.h"

#include "nested_internal.h"

enum { NODES_MOST = 7 };

typedef struct nested_posterior {
  nested_state *state; /* borrowed */
  tenter_nested_prior prior;
  tenter_nested_terms terms[2]; /* group, unit */
  size_t first[2];              /* their first coordinates */
  size_t n;                     /* coordinates; log sigma is the last */
  bool flat, ml;                /* the likelihood alone, REML or ML, for profiles */
  unsigned held;                /* bit k: coordinate k stays where it is */
} nested_posterior;

/* Sets up the coordinates for a structure; the rest is zero. */
nested_posterior nested_posterior_of(tenter_nested_terms group, tenter_nested_terms unit);

static inline size_t nested_coordinates(tenter_nested_terms terms) {
  return terms == TENTER_NESTED_LINE ? 3 : terms == TENTER_NESTED_LEVEL ? 1 : 0;
}

tenter_nested_components nested_components_at(const nested_posterior *p, const double *x);

/* Log density at x but for a constant; -infinity where it can't be evaluated. */
double nested_log_posterior(nested_posterior *p, const double *x);

/* The same with its gradient. */
double nested_log_posterior_gradient(nested_posterior *p, const double *x, double *gradient);

/* Moves x uphill to the mode, until a step promises less than `enough` of log density, and fills
 * the negative Hessian there (n x n), from differences of gradients; returns the log density, or
 * NaN where no mode was found. */
double nested_posterior_mode(nested_posterior *p, double enough, double *x, double *curvature);

/* The weighted sample, reduced: nodes->node, count, sample, effective. */
tenter_status nested_sample_nodes(nested_posterior *p, const double *mode, double at_mode,
                                  const double *curvature, tenter_nested_nodes *nodes,
                                  tenter_error *error);

/* Reduces `count` weighted points with `m` functions each (row-major, the first of them 1) to at
 * most m of them, weights positive, sums of weight * function kept; weights that go become 0. A
 * point more than a basis holds is a combination of it: moving weight along that combination until
 * one point has none left changes no sum (Caratheodory's proof, done as the simplex method
 * exchanges columns). work has room for m (m + 1) doubles, index for m. */
void nested_reduce(size_t count, size_t m, const double *functions, double *weight, double *work,
                   size_t *index);

#endif
