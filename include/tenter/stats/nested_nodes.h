/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nested model with its variance components not known: a few weighted nodes stand for what the
 * data and weak priors leave of them.
 *
 * Plugging in estimated components as if known makes intervals too short where groups are few. Here
 * the restricted likelihood (a flat prior on the fixed effects, integrated out) times a prior is
 * integrated over log sigma, the logarithms of the standard deviations and the inverse hyperbolic
 * tangents of the correlations. Where the fit puts a variance at zero the node set does not.
 *
 * Method: the mode of the posterior by Newton steps; importance samples on a low-discrepancy
 * sequence from independent split t distributions along the principal axes there, and where that is
 * poor along those of the sample so far (up to four rounds of 256, weighted as one mixture); the
 * weighted sample reduced to few nodes of positive weight that keep its first and second moments
 * (Tchakaloff's theorem; elimination as in Caratheodory's proof). Deterministic: the same data give
 * the same nodes.
 *
 * Use:
 *   for each node k: tenter_nested_solve(products, &nodes.node[k].components, pool, &solution,
 * ...), ask for lines; the answer is the mixture of K normals with weights nodes.node[k].weight. */
#ifndef TENTER_STATS_NESTED_NODES_H
#define TENTER_STATS_NESTED_NODES_H

#include "tenter/stats/nested.h"

/* Priors, all independent. A scale of 0 asks for the default: for levels half the standard
 * deviation of single observations about their block's line (ordinary least squares, covariates
 * included), for slopes that divided by the standard deviation of u about its block's mean. Levels
 * are at u = 0, so let u = 0 lie where levels mean something. To see what the prior does to an
 * answer, double and halve the scales (they come back in tenter_nested_nodes.prior). */
typedef struct tenter_nested_prior {
  double group_level_scale, group_slope_scale; /* half-t scales of the standard deviations */
  double unit_level_scale, unit_slope_scale;
  double df;                /* of the half-t; 0 asks for 4 (Gelman 2006, Bayesian Anal. 1:515) */
  double correlation_shape; /* eta of (1 - rho^2)^(eta - 1); 0 asks for 2, 1 is uniform */
  double residual_df;       /* scaled inverse chi-square for sigma^2, 0: flat in log sigma */
  double residual_variance; /* its scale */
  /* The densities of the units' standard deviations are those of the half-t times sd^power. 0 is
   * the half-t itself, with its mode at units that are all alike: where they never are, 1 keeps few
   * units from looking more alike than they are (Chung, Rabe-Hesketh, Dorie, Gelman, Liu 2013,
   * Psychometrika 78:685, from memory). 0 .. less than df. */
  double unit_level_power, unit_slope_power;
} tenter_nested_prior;

typedef struct tenter_nested_node {
  tenter_nested_components components;
  double weight; /* > 0; they add up to 1 */
} tenter_nested_node;

typedef struct tenter_nested_nodes {
  size_t count;
  tenter_nested_node *node;  /* owned; heaviest first */
  size_t sample;             /* size of the importance sample */
  double effective;          /* its effective size; below a tenth of it the nodes are rough */
  tenter_nested_prior prior; /* with the defaults filled in */
} tenter_nested_nodes;

/* Nodes for the structure that options ask for (group_max, unit_max; ml is not used). Levels that
 * the data can't tell, which a fit would drop, keep their prior: with one group the spread of
 * groups is the prior's, and a forecast for a new group says so by its width. prior may be NULL for
 * defaults. Between 1 and 36 nodes come back; their number depends on the structure only.
 * TENTER_INPUT where sigma^2 has neither observations to spare nor a prior, or no mode is found;
 * TENTER_FAILED without memory. On success release *nodes. */
tenter_status tenter_nested_nodes_run(const tenter_nested_products *products,
                                      const tenter_nested_options *options,
                                      const tenter_nested_prior *prior, tenter_nested_nodes *nodes,
                                      tenter_error *error);
void tenter_nested_nodes_release(tenter_nested_nodes *nodes);

/* Quantile p of a mixture of normals (weights that add up to 1, variances >= 0), to 1e-9 of its
 * spread; NaN where a mean is NaN. */
double tenter_nested_mixture_quantile(size_t count, const double *weight, const double *mean,
                                      const double *variance, double p);

#endif
