/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Times and survival by a fitted law, with their intervals. Relies on life_search.c. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#include "chart_numeric.h"
#include "draws.h"
#include "life_fit_internal.h"
#include "life_law.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/normal.h"

static const tenter_life_time unknown = {NAN, NAN, NAN};

/* ---- by the normal law ---------------------------------------------------------------------- */

/* The location at x and log scale: means, variances and covariance. */
typedef struct place {
  double location, scale;
  double var_location, var_log_scale, cov;
} place;

static double column(const double *x, size_t k) {
  return x ? x[k] : k == 0;
}

static place place_of(const tenter_life_fit *fit, const double *x) {
  size_t n = fit->terms + 1, last = fit->terms;
  place p = {.scale = fit->scale, .var_log_scale = fit->covariance[n * n - 1]};
  for (size_t j = 0; j < fit->terms; j++) {
    p.location += column(x, j) * fit->coefficient[j];
    p.cov += column(x, j) * fit->covariance[j * n + last];
    for (size_t k = 0; k < fit->terms; k++)
      p.var_location += column(x, j) * column(x, k) * fit->covariance[j * n + k];
  }
  return p;
}

double tenter_life_fit_se(const tenter_life_fit *fit, size_t k) {
  return k <= fit->terms ? sqrt(fit->covariance[k * (fit->terms + 1) + k]) : NAN;
}

tenter_life_curve tenter_life_fit_curve(const tenter_life_fit *fit, const double *x) {
  place p = place_of(fit, x);
  return (tenter_life_curve){
      .law = fit->law, .location = p.location, .scale = p.scale, .end = INFINITY};
}

/* Var(location + scale w): d scale = scale d log scale. */
tenter_life_time tenter_life_fit_quantile(const tenter_life_fit *fit, const double *x, double p,
                                          double level) {
  if (!(p > 0 && p < 1))
    return unknown;
  place at = place_of(fit, x);
  double w = life_law_quantile(fit->law, p), reach = w * at.scale;
  double log_time = at.location + reach;
  double se = sqrt(at.var_location + 2 * reach * at.cov + reach * reach * at.var_log_scale);
  double half = tenter_normal_quantile((1 + level) / 2) * se;
  return (tenter_life_time){exp(log_time), exp(log_time - half), exp(log_time + half)};
}

tenter_life_time tenter_life_fit_survival(const tenter_life_fit *fit, const double *x, double t,
                                          double level) {
  place at = place_of(fit, x);
  if (!(t > 0) || isnan(at.scale))
    return isnan(t) || isnan(at.scale) ? unknown : (tenter_life_time){1, 1, 1};
  double w = (log(t) - at.location) / at.scale;
  double se = sqrt(at.var_location / (at.scale * at.scale) + 2 * w * at.cov / at.scale +
                   w * w * at.var_log_scale);
  double half = tenter_normal_quantile((1 + level) / 2) * se;
  return (tenter_life_time){life_law_survival(fit->law, w), life_law_survival(fit->law, w + half),
                            life_law_survival(fit->law, w - half)};
}

tenter_life_curve tenter_life_fit_draw(const tenter_life_fit *fit, const double *x, uint64_t seed) {
  place at = place_of(fit, x);
  double first = draw_normal(&seed), second = draw_normal(&seed), sd = sqrt(at.var_location);
  double along = sd > 0 ? at.cov / sd : 0;
  double rest = sqrt(fmax(0, at.var_log_scale - along * along));
  return (tenter_life_curve){.law = fit->law,
                             .location = at.location + sd * first,
                             .scale = at.scale * exp(along * first + rest * second),
                             .end = INFINITY};
}

/* ---- by the profile likelihood -------------------------------------------------------------- */

/* That p has failed at t is one linear equation: theta log t - x'g = w. */
typedef struct profile {
  life_search search;
  const double *best; /* parameters of the fit */
  double *plane;      /* (-x, log t) */
  double w, most, drop;
} profile;

/* How far below the fit the likelihood is with this quantile, less the drop allowed. */
static double depth(double log_time, void *context) {
  profile *p = context;
  life_search *s = &p->search;
  size_t n = s->terms;
  memcpy(s->at, p->best, (n + 1) * sizeof *s->at);
  p->plane[n] = log_time;
  double now = 0, along = 0;
  for (size_t k = 0; k <= n; k++)
    now += p->plane[k] * s->at[k];
  /* onto the plane by the location alone, so that theta stays above 0 */
  for (size_t k = 0; k < n; k++)
    along += p->plane[k] * p->plane[k];
  for (size_t k = 0; k < n; k++)
    s->at[k] += (p->w - now) * p->plane[k] / along;
  return life_search_climb(s, p->plane) ? p->most - s->loglik - p->drop : NAN;
}

/* From the estimate outward in steps that double, then the root. */
static double search_limit(profile *p, double centre, double step) {
  double inner = centre;
  for (int i = 0; i < 12; i++, step *= 2) {
    double outer = centre + step, value = depth(outer, p);
    if (isnan(value))
      break;
    if (value >= 0)
      return chart_root(depth, p, fmin(inner, outer), fmax(inner, outer));
    inner = outer;
  }
  return step > 0 ? INFINITY : -INFINITY;
}

static tenter_status make_profile(const tenter_life *life, const tenter_life_design *design,
                                  const tenter_life_fit *fit, const double *x, double *room,
                                  profile *p, tenter_error *error) {
  size_t n = fit->terms;
  p->plane = room;
  for (size_t k = 0; k < n; k++) {
    p->plane[k] = -column(x, k);
    room[n + 1 + k] = fit->coefficient[k] / fit->scale;
  }
  room[2 * n + 1] = 1 / fit->scale;
  p->best = room + n + 1;
  tenter_status status = life_search_make(life, design, fit->law, &p->search, error);
  if (status == TENTER_OK)
    p->most = life_search_value(&p->search, p->best, false);
  return status;
}

tenter_status tenter_life_fit_quantile_profile(const tenter_life *life,
                                               const tenter_life_design *design,
                                               const tenter_life_fit *fit, const double *x,
                                               double p, double level, tenter_life_time *time,
                                               tenter_error *error) {
  tenter_life_time wald = tenter_life_fit_quantile(fit, x, p, level);
  if (fit->state != TENTER_LIFE_FITTED || !(p > 0 && p < 1) || !(level > 0 && level < 1)) {
    *time = unknown;
    return TENTER_OK;
  }
  double *room = tenter_alloc(2 * (fit->terms + 1), sizeof *room);
  if (!room)
    return tenter_fail_memory(error);
  profile at = {.w = life_law_quantile(fit->law, p), .drop = gsl_cdf_chisq_Pinv(level, 1) / 2};
  tenter_status status = make_profile(life, design, fit, x, room, &at, error);
  if (status == TENTER_OK) {
    double centre = log(wald.value), reach = log(wald.high) - centre;
    *time = (tenter_life_time){wald.value, exp(search_limit(&at, centre, -reach)),
                               exp(search_limit(&at, centre, reach))};
    life_search_release(&at.search);
  }
  tenter_free(room);
  return status;
}
