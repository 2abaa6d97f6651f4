/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Density, gradient and mode of the posterior of the variance components. Restricted likelihood;
 * half-t priors on standard deviations, (1 - rho^2)^(eta - 1) on correlations, flat or scaled
 * inverse chi-square for sigma; the change to the coordinates of nested_posterior.h included.
 * Relies on: GSL (eigenvalues by way of nested_axes). */
#include <math.h>
#include <string.h>

#include "nested_posterior.h"

/* ---- coordinates ---- */

nested_posterior nested_posterior_of(tenter_nested_terms group, tenter_nested_terms unit) {
  size_t first = nested_coordinates(group);
  return (nested_posterior){
      .terms = {group, unit}, .first = {0, first}, .n = first + nested_coordinates(unit) + 1};
}

static sym2 cov_at(const nested_posterior *p, size_t level, const double *x) {
  const double *at = x + p->first[level];
  sym2 c = {0, 0, 0};
  if (p->terms[level] >= TENTER_NESTED_LEVEL)
    c.level = exp(2 * at[0]);
  if (p->terms[level] == TENTER_NESTED_LINE) {
    c.slope = exp(2 * at[1]);
    c.cross = tanh(at[2]) * exp(at[0] + at[1]);
  }
  return c;
}

tenter_nested_components nested_components_at(const nested_posterior *p, const double *x) {
  return (tenter_nested_components){exp(2 * x[p->n - 1]), cov_at(p, 0, x), cov_at(p, 1, x)};
}

/* ---- prior ---- */

/* log half-t of exp(x) with its scale, times exp(x) to 1 + power: value, and derivative by x. */
static double log_half_t(double x, double scale, double df, double power, double *slope) {
  double r = exp(2 * (x - log(scale))) / df;
  *slope += 1 + power - (df + 1) * r / (1 + r);
  return (1 + power) * x - (df + 1) / 2 * log1p(r);
}

static double log_prior(const nested_posterior *p, const double *x, double *gradient) {
  if (p->flat)
    return 0;
  const double scale[2][2] = {{p->prior.group_level_scale, p->prior.group_slope_scale},
                              {p->prior.unit_level_scale, p->prior.unit_slope_scale}};
  const double power[2][2] = {{0, 0}, {p->prior.unit_level_power, p->prior.unit_slope_power}};
  double sum = 0, eta = p->prior.correlation_shape, log_sigma = x[p->n - 1];
  for (size_t level = 0; level < 2; level++) {
    size_t first = p->first[level];
    for (size_t k = 0; k < 2 && k < nested_coordinates(p->terms[level]); k++)
      sum += log_half_t(x[first + k], scale[level][k], p->prior.df, power[level][k],
                        &gradient[first + k]);
    if (p->terms[level] == TENTER_NESTED_LINE) { /* (1 - rho^2)^eta, its Jacobian included */
      double z = fabs(x[first + 2]);
      sum -= 2 * eta * (z + log1p(exp(-2 * z)) - log(2));
      gradient[first + 2] -= 2 * eta * tanh(x[first + 2]);
    }
  }
  double drop = p->prior.residual_df * p->prior.residual_variance * exp(-2 * log_sigma);
  gradient[p->n - 1] += drop - p->prior.residual_df;
  return sum - p->prior.residual_df * log_sigma - drop / 2;
}

/* ---- density ---- */

/* Evaluates the likelihood at x; false where it can't be. */
static bool evaluate(nested_posterior *p, const double *x, double *deviance) {
  tenter_nested_components c = nested_components_at(p, x);
  double shift = p->state->plan->shift;
  nested_point at = {{0}};
  if (!(c.residual > 0) || !isfinite(c.residual) ||
      !nested_factor(move2(scale2(c.group, 1 / c.residual), shift), at.factor) ||
      !nested_factor(move2(scale2(c.unit, 1 / c.residual), shift), at.factor + 3))
    return false;
  nested_evaluate(p->state, &at);
  *deviance = nested_deviance(p->state, p->ml, &c.residual);
  return isfinite(*deviance);
}

double nested_log_posterior(nested_posterior *p, const double *x) {
  double deviance, unused[NODES_MOST] = {0};
  return evaluate(p, x, &deviance) ? log_prior(p, x, unused) - deviance / 2 : -INFINITY;
}

/* Adds the derivative of the log-likelihood by one level's coordinates, and by log sigma as far as
 * T (or t) = moved covariance / sigma^2 goes. */
static void add_level(const nested_posterior *p, size_t level, const double *x, double *gradient) {
  const nested_state *s = p->state;
  double residual = exp(2 * x[p->n - 1]), u = s->plan->shift;
  sym2 c = cov_at(p, level, x), T = level ? s->unit : s->group;
  sym2 g = add2(scale2(s->trace[level], -0.5), scale2(s->quad[level], 0.5 / residual));
  double *to = gradient + p->first[level];
  gradient[p->n - 1] -= 2 * trace_product2(g, T);
  g = scale2(g, 1 / residual); /* now by the covariance moved to shift; next, by it at 0 */
  double by_level = g.level, by_cross = 2 * (u * g.level + g.cross);
  double by_slope = u * (u * g.level + 2 * g.cross) + g.slope;
  if (p->terms[level] == TENTER_NESTED_NONE)
    return;
  to[0] += 2 * c.level * by_level + c.cross * by_cross;
  if (p->terms[level] == TENTER_NESTED_LINE) {
    double rho = tanh(x[p->first[level] + 2]);
    to[1] += c.cross * by_cross + 2 * c.slope * by_slope;
    to[2] += (1 - rho * rho) * sqrt(c.level * c.slope) * by_cross;
  }
}

double nested_log_posterior_gradient(nested_posterior *p, const double *x, double *gradient) {
  double deviance;
  memset(gradient, 0, p->n * sizeof *gradient);
  if (!evaluate(p, x, &deviance))
    return -INFINITY;
  const nested_state *s = p->state;
  double df = (double)s->plan->products->observations - (p->ml ? 0 : (double)s->plan->fixed);
  nested_differentiate(p->state, !p->ml);
  gradient[p->n - 1] = s->square / exp(2 * x[p->n - 1]) - df;
  add_level(p, 0, x, gradient);
  add_level(p, 1, x, gradient);
  double value = log_prior(p, x, gradient) - deviance / 2;
  for (size_t k = 0; k < p->n; k++)
    if (p->held >> k & 1)
      gradient[k] = 0;
  return value;
}

/* ---- mode ---- */

/* Negative Hessian by central differences of the gradient, made symmetric; 1 on the diagonal for
 * coordinates held. */
static bool fill_curvature(nested_posterior *p, const double *x, double *curvature) {
  const double h = 1e-3;
  size_t n = p->n;
  for (size_t k = 0; k < n; k++) {
    double at[NODES_MOST], up[NODES_MOST], down[NODES_MOST];
    memcpy(at, x, n * sizeof *at);
    at[k] = x[k] + h;
    double a = nested_log_posterior_gradient(p, at, up);
    at[k] = x[k] - h;
    double b = nested_log_posterior_gradient(p, at, down);
    if (!isfinite(a) || !isfinite(b))
      return false;
    for (size_t j = 0; j < n; j++)
      curvature[k * n + j] = (down[j] - up[j]) / (2 * h);
  }
  for (size_t k = 0; k < n; k++)
    for (size_t j = 0; j < n; j++)
      if ((p->held >> k | p->held >> j) & 1)
        curvature[k * n + j] = k == j;
  for (size_t k = 0; k < n; k++)
    for (size_t j = 0; j < k; j++)
      curvature[k * n + j] = curvature[j * n + k] =
          (curvature[k * n + j] + curvature[j * n + k]) / 2;
  return true;
}

/* step = curvature^-1 gradient with the eigenvalues made positive; returns gradient'step, or -1. */
static double uphill(size_t n, const double *curvature, const double *gradient, double *step) {
  double values[NODES_MOST] = {0}, vectors[NODES_MOST * NODES_MOST] = {0}, most = 0, gain = 0;
  if (!nested_axes(n, curvature, values, vectors))
    return -1;
  for (size_t k = 0; k < n; k++)
    most = fmax(most, fabs(values[k]));
  memset(step, 0, n * sizeof *step);
  for (size_t k = 0; k < n; k++) {
    double along = 0;
    for (size_t j = 0; j < n; j++)
      along += vectors[j * n + k] * gradient[j];
    double move = along / fmax(fabs(values[k]), 1e-9 * most);
    gain += along * move;
    for (size_t j = 0; j < n; j++)
      step[j] += vectors[j * n + k] * move;
  }
  return gain;
}

/* Goes along the step, shortened to 1.5 a coordinate and halved until the density rises. */
static bool climb(nested_posterior *p, double *x, double *value, const double *step) {
  double longest = 1.5, to[NODES_MOST] = {0};
  for (size_t k = 0; k < p->n; k++)
    longest = fmax(longest, fabs(step[k]));
  double fraction = 1.5 / longest;
  for (size_t tries = 0; tries < 25; tries++) {
    for (size_t k = 0; k < p->n; k++)
      to[k] = x[k] + fraction * step[k];
    double there = nested_log_posterior(p, to);
    if (there > *value) {
      *value = there;
      memcpy(x, to, p->n * sizeof *x);
      return true;
    }
    fraction /= 2;
  }
  return false;
}

double nested_posterior_mode(nested_posterior *p, double enough, double *x, double *curvature) {
  double gradient[NODES_MOST] = {0}, step[NODES_MOST] = {0};
  double value = nested_log_posterior(p, x);
  for (size_t steps = 0; steps < 60 && isfinite(value); steps++) {
    if (!fill_curvature(p, x, curvature))
      return NAN;
    nested_log_posterior_gradient(p, x, gradient);
    double gain = uphill(p->n, curvature, gradient, step);
    if (gain < 0)
      return NAN;
    if (gain < enough || !climb(p, x, &value, step))
      return gain < 100 * enough ? value : NAN;
  }
  return NAN;
}
