/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Profile-likelihood intervals for the components of a fitted nested model. In the coordinates of
 * nested_posterior.h (without its prior) one is held while the others are at their best; its limits
 * are where twice the log-likelihood has fallen by the chi-square quantile. A standard deviation of
 * zero lies at minus infinity there: exp(-NIL) of its fitted size stands for it.
 * Relies on: GSL (chi-square quantile), base/alloc. */
#include <math.h>
#include <string.h>

#include <gsl/gsl_cdf.h>

#include "nested_posterior.h"

static const double nil = 9;          /* fall in a log standard deviation that counts as zero */
static const double sure = 6;         /* atanh of a correlation that counts as 1 */
static const double precision = 1e-5; /* of a coordinate */

/* One profile: the best log-likelihood, and where the others were at the last point. */
typedef struct profile {
  nested_posterior *p;
  size_t k;    /* coordinate */
  double best; /* log-likelihood of the fit */
  double drop; /* allowed */
  double x[NODES_MOST];
} profile;

/* What is left of the allowed drop at coordinate value `at`; NaN where the search fails. */
static double left_at(profile *f, double at) {
  double curvature[NODES_MOST * NODES_MOST];
  f->x[f->k] = at;
  return f->drop - (f->best - nested_posterior_mode(f->p, 1e-7, f->x, curvature));
}

/* Goes from the fit in steps until the drop is used up, then closes in by bisection with secant
 * steps (Illinois rule). The limit itself where it is reached first. */
static double find_limit(profile *f, double start, double step, double limit) {
  double inside = start, inside_left = f->drop, outside = start, outside_left = f->drop;
  for (;;) {
    outside = inside + step;
    bool last = (outside - limit) * step >= 0;
    outside = last ? limit : outside;
    outside_left = left_at(f, outside);
    if (isnan(outside_left))
      return NAN;
    if (outside_left < 0)
      break;
    if (last)
      return limit;
    inside = outside;
    inside_left = outside_left;
    step *= 1.5;
  }
  for (int side = 0; fabs(outside - inside) > precision;) {
    double at = inside + (outside - inside) * inside_left / (inside_left - outside_left);
    double left = left_at(f, at);
    if (isnan(left))
      return NAN;
    if (fabs(left) < 1e-6)
      return at;
    bool in = left > 0;
    *(in ? &inside : &outside) = at;
    *(in ? &inside_left : &outside_left) = left;
    if (side == (in ? 1 : -1))
      *(in ? &outside_left : &inside_left) /= 2;
    side = in ? 1 : -1;
  }
  return (inside + outside) / 2;
}

/* The coordinate of a parameter, or NODES_MOST where the structure has none. */
static size_t coordinate_of(const nested_posterior *p, tenter_nested_parameter parameter) {
  if (parameter == TENTER_NESTED_RESIDUAL_SD)
    return p->n - 1;
  size_t level = parameter >= TENTER_NESTED_UNIT_LEVEL_SD;
  size_t k = (size_t)parameter -
             (size_t)(level ? TENTER_NESTED_UNIT_LEVEL_SD : TENTER_NESTED_GROUP_LEVEL_SD);
  return k < nested_coordinates(p->terms[level]) ? p->first[level] + k : NODES_MOST;
}

/* Coordinates of the fit; a variance of zero or a correlation of one is moved inside. */
static void start_at(const nested_posterior *p, const tenter_nested_components *c, double *x) {
  const sym2 cov[2] = {c->group, c->unit};
  double typical = sqrt(c->residual / p->state->plan->unit_level);
  double slope = sqrt(c->residual / p->state->plan->unit_slope);
  x[p->n - 1] = log(c->residual) / 2;
  for (size_t level = 0; level < 2; level++) {
    double *to = x + p->first[level], size = sqrt(cov[level].level * cov[level].slope);
    double rho = size > 0 ? cov[level].cross / size : 0;
    size_t count = nested_coordinates(p->terms[level]);
    if (count > 0)
      to[0] = log(fmax(sqrt(cov[level].level), 0.05 * typical));
    if (count > 1) {
      to[1] = log(fmax(sqrt(cov[level].slope), 0.05 * slope));
      to[2] = atanh(fmin(fmax(rho, -0.999), 0.999));
    }
  }
}

static tenter_status search_interval(profile *f, const double *start, bool correlation, double *low,
                                     double *high, tenter_error *error) {
  double at = start[f->k];
  double limit_low = correlation ? -sure : at - nil, limit_high = correlation ? sure : at + 20;
  memcpy(f->x, start, sizeof f->x);
  double from = find_limit(f, at, -0.2, limit_low);
  memcpy(f->x, start, sizeof f->x);
  double to = find_limit(f, at, 0.2, limit_high);
  if (isnan(from) || isnan(to))
    return tenter_fail(error, TENTER_FAILED, "a profile of a nested model's likelihood was lost");
  if (correlation) {
    *low = from <= -sure ? -1 : tanh(from);
    *high = to >= sure ? 1 : tanh(to);
  } else {
    *low = from <= limit_low ? 0 : exp(from);
    *high = to >= limit_high ? INFINITY : exp(to);
  }
  return TENTER_OK;
}

tenter_status tenter_nested_interval(const tenter_nested_products *products,
                                     const tenter_nested_options *options,
                                     const tenter_nested_fit *fit,
                                     tenter_nested_parameter parameter, double confidence,
                                     double *low, double *high, tenter_error *error) {
  nested_posterior p = nested_posterior_of(fit->structure.group, fit->structure.unit);
  profile f = {.p = &p, .k = coordinate_of(&p, parameter), .best = fit->loglik};
  nested_plan *plan = NULL;
  double start[NODES_MOST] = {0};
  if (f.k >= p.n)
    return tenter_fail(error, TENTER_USAGE, "the nested model fitted has no such component");
  if (!(confidence > 0 && confidence < 1))
    return tenter_fail(error, TENTER_USAGE, "a confidence of %g is not between 0 and 1",
                       confidence);
  p.flat = true;
  p.ml = options->ml;
  p.held = 1U << f.k;
  f.drop = gsl_cdf_chisq_Pinv(confidence, 1) / 2;
  bool grouped = fit->structure.group != TENTER_NESTED_NONE;
  tenter_status status = nested_plan_new(products, grouped, &plan, error);
  if (status == TENTER_OK)
    status = nested_state_new(plan, options->pool, &p.state, error);
  if (status == TENTER_OK && !nested_score_room(p.state))
    status = tenter_fail_memory(error);
  if (status == TENTER_OK) {
    bool correlation =
        parameter == TENTER_NESTED_GROUP_CORRELATION || parameter == TENTER_NESTED_UNIT_CORRELATION;
    start_at(&p, &fit->components, start);
    status = search_interval(&f, start, correlation, low, high, error);
  }
  nested_state_free(p.state);
  nested_plan_free(plan);
  return status;
}
