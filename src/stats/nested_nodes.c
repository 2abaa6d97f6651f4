/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes for integrating over the variance components: defaults of the priors, where to start, and
 * quantiles of the mixtures that come of it. Relies on: GSL (normal distribution), base/alloc. */
#include "tenter/stats/nested_nodes.h"

#include <math.h>

#include <gsl/gsl_cdf.h>

#include "nested_posterior.h"
#include "tenter/base/alloc.h"

static double or_default(double given, double otherwise) {
  return given > 0 ? given : otherwise;
}

/* Fills in scales from the fit without random effects; false where that leaves nothing. */
static bool complete_prior(nested_state *state, const tenter_nested_prior *given,
                           tenter_nested_prior *prior) {
  nested_point none = {{0}};
  tenter_nested_prior p = given ? *given : (tenter_nested_prior){0};
  const nested_plan *plan = state->plan;
  double df = (double)plan->products->observations - (double)plan->fixed;
  nested_evaluate(state, &none);
  bool some = df > 0 && state->square > 1e-24 * plan->products->raw[plan->q - 1];
  if (!some && !(p.residual_df > 0 && p.residual_variance > 0))
    return false;
  double level = sqrt(some ? state->square / df : p.residual_variance) / 2;
  double slope = plan->spread_u > 0 ? level / plan->spread_u : level;
  p.group_level_scale = or_default(p.group_level_scale, level);
  p.unit_level_scale = or_default(p.unit_level_scale, level);
  p.group_slope_scale = or_default(p.group_slope_scale, slope);
  p.unit_slope_scale = or_default(p.unit_slope_scale, slope);
  p.df = or_default(p.df, 4);
  p.correlation_shape = or_default(p.correlation_shape, 2);
  *prior = p;
  return true;
}

/* log of a fitted standard deviation, or of a fraction of its prior's scale. */
static double start_sd(double variance, double scale) {
  double sd = variance > 0 ? sqrt(variance) : 0;
  return log(fmax(sd, 0.2 * scale));
}

static void start_level(const nested_posterior *p, size_t level, sym2 c, double level_scale,
                        double slope_scale, double *x) {
  double *to = x + p->first[level];
  if (p->terms[level] >= TENTER_NESTED_LEVEL)
    to[0] = start_sd(c.level, level_scale);
  if (p->terms[level] == TENTER_NESTED_LINE) {
    double size = sqrt(c.level * c.slope), rho = size > 0 ? c.cross / size : 0;
    to[1] = start_sd(c.slope, slope_scale);
    to[2] = atanh(fmin(fmax(rho, -0.8), 0.8));
  }
}

/* From the fit, as far as there is one. */
static tenter_status start(const nested_posterior *p, const tenter_nested_products *products,
                           const tenter_nested_options *options, double *x, tenter_error *error) {
  tenter_nested_options reml = *options;
  tenter_nested_fit fit = {0};
  reml.ml = false;
  tenter_nested_components c = {.residual = p->prior.residual_variance};
  tenter_error reason = {TENTER_OK, ""};
  tenter_status fitted = tenter_nested_fit_run(products, &reml, &fit, &reason);
  if (fitted == TENTER_OK)
    c = fit.components;
  else if (fitted != TENTER_INPUT)
    return tenter_fail(error, fitted, "%s", reason.message);
  tenter_nested_fit_release(&fit);
  start_level(p, 0, c.group, p->prior.group_level_scale, p->prior.group_slope_scale, x);
  start_level(p, 1, c.unit, p->prior.unit_level_scale, p->prior.unit_slope_scale, x);
  x[p->n - 1] = log(c.residual > 0 ? c.residual : pow(p->prior.unit_level_scale, 2)) / 2;
  return TENTER_OK;
}

static tenter_nested_terms capped(tenter_nested_terms asked, size_t terms) {
  return asked == TENTER_NESTED_LINE && terms == 1 ? TENTER_NESTED_LEVEL : asked;
}

static tenter_status find_nodes(nested_posterior *p, const tenter_nested_options *options,
                                tenter_nested_nodes *nodes, tenter_error *error) {
  double x[NODES_MOST], curvature[NODES_MOST * NODES_MOST];
  tenter_status status = start(p, p->state->plan->products, options, x, error);
  if (status != TENTER_OK)
    return status;
  double value = nested_posterior_mode(p, 1e-4, x, curvature); /* the sample corrects the rest */
  if (!isfinite(value))
    return tenter_fail(error, TENTER_INPUT,
                       "the variance components of a nested model have no mode that could be "
                       "found; a prior for them would help");
  return nested_sample_nodes(p, x, value, curvature, nodes, error);
}

tenter_status tenter_nested_nodes_run(const tenter_nested_products *products,
                                      const tenter_nested_options *options,
                                      const tenter_nested_prior *prior, tenter_nested_nodes *nodes,
                                      tenter_error *error) {
  nested_posterior p = nested_posterior_of(capped(options->group_max, products->terms),
                                           capped(options->unit_max, products->terms));
  tenter_nested_nodes result = {0};
  nested_plan *plan = NULL;
  tenter_status status = nested_plan_new(products, p.terms[0] != TENTER_NESTED_NONE, &plan, error);
  if (status == TENTER_OK)
    status = nested_state_new(plan, options->pool, &p.state, error);
  if (status == TENTER_OK && !nested_score_room(p.state))
    status = tenter_fail_memory(error);
  if (status == TENTER_OK && !complete_prior(p.state, prior, &p.prior))
    status = tenter_fail(error, TENTER_INPUT,
                         "the observations leave nothing to estimate the residual variance of a "
                         "nested model from, and no prior is given for it");
  if (status == TENTER_OK)
    status = find_nodes(&p, options, &result, error);
  nested_state_free(p.state);
  nested_plan_free(plan);
  if (status == TENTER_OK) {
    result.prior = p.prior;
    *nodes = result;
  }
  return status;
}

void tenter_nested_nodes_release(tenter_nested_nodes *nodes) {
  tenter_free(nodes->node);
  nodes->node = NULL;
  nodes->count = 0;
}

/* Distribution function of the mixture; a variance of 0 is a step. */
static double mixture(size_t count, const double *weight, const double *mean,
                      const double *variance, double x) {
  double sum = 0;
  for (size_t k = 0; k < count; k++)
    sum += weight[k] * (variance[k] > 0 ? gsl_cdf_ugaussian_P((x - mean[k]) / sqrt(variance[k]))
                                        : (double)(x >= mean[k]));
  return sum;
}

/* Bisection between the outermost quantiles of the parts. */
double tenter_nested_mixture_quantile(size_t count, const double *weight, const double *mean,
                                      const double *variance, double p) {
  double low = INFINITY, high = -INFINITY, z = gsl_cdf_ugaussian_Pinv(p);
  for (size_t k = 0; k < count; k++) {
    double at = mean[k] + z * sqrt(variance[k]);
    if (isnan(at))
      return NAN;
    low = fmin(low, at);
    high = fmax(high, at);
  }
  double width = (high - low) * 1e-10;
  while (high - low > width && (low + high) / 2 > low && (low + high) / 2 < high) {
    double middle = (low + high) / 2;
    if (mixture(count, weight, mean, variance, middle) < p)
      low = middle;
    else
      high = middle;
  }
  return count ? (low + high) / 2 : NAN;
}
