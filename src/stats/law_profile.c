/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Profile-likelihood intervals of the parameters (Bates and Watts 1988, section 6.1.2).
 *
 * The signed root of the profile, sqrt((RSS(v) - RSS) / sigma^2), is nearly straight in the
 * parameter (a time: in its logarithm), so each side is bracketed by steps of a standard error and
 * closed by the secant with halving (Illinois). RSS(v) is a search over what is left free: a
 * searched parameter stands at v by its bounds; a linear one is taken out of the projection; a
 * half-life takes the place of the first time, s0 = v - half(s1). */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#include "law_internal.h"

#define CLOSE 1e-12 /* the gain that ends a search on the way */
#define APART 1e-3  /* nearer logarithms of times are one time to the numbers */
#define FARTHEST 10 /* a linear parameter beyond so many times the greatest value is no tension */

enum { PLACES = 12 };

typedef struct profile {
  tenter_law_space *space;
  size_t parameter;
  double best, low, high; /* of what is profiled, on the scale of the search */
  double rss, variance;   /* of the fit */
  double limit;           /* Student's t */
  double at[LAW_SEARCHED];
  bool lower; /* a lower sum of squares was found */
} profile;

/* ---- the least sum of squares at a value ---------------------------------------------------- */

static double rss_of(tenter_law_space *space, const double *s) {
  law_residual(space, s, space->r);
  return fit_dot(space->r, space->r, space->count);
}

/* Two phases, one of them given: the other has more than one valley, and which is the deepest
 * changes on the way. A search from each valley of a grid; rss is what is known already. */
static double rss_elsewhere(profile *p, size_t k, const double *low, const double *high,
                            double rss) {
  tenter_law_space *space = p->space;
  double place[PLACES][LAW_SEARCHED], there[PLACES];
  for (size_t i = 0; i < PLACES; i++) {
    place[i][k] = low[k];
    place[i][1 - k] = low[1 - k] + (high[1 - k] - low[1 - k]) * (double)i / (PLACES - 1);
    there[i] = rss_of(space, place[i]);
  }
  for (size_t i = 0; i < PLACES; i++) {
    bool valley =
        (i == 0 || there[i] <= there[i - 1]) && (i + 1 == PLACES || there[i] <= there[i + 1]);
    fit_outcome outcome;
    if (!valley)
      continue;
    law_search(space, low, high, place[i], &outcome);
    if (!(outcome.rss < rss))
      continue;
    rss = outcome.rss;
    memcpy(p->at, place[i], sizeof p->at);
  }
  return rss;
}

static double rss_at_searched(profile *p, double v) {
  tenter_law_space *space = p->space;
  size_t k = p->parameter - space->row->info.linear;
  double low[LAW_SEARCHED], high[LAW_SEARCHED];
  fit_outcome outcome;
  memcpy(low, space->low, sizeof low);
  memcpy(high, space->high, sizeof high);
  low[k] = high[k] = p->at[k] = v;
  bool phases = space->row->interchangeable;
  if (phases) { /* the quicker phase stays the quicker one */
    low[1] = k == 0 ? fmin(v + APART, high[1]) : low[1];
    high[0] = k == 1 ? fmax(v - APART, low[0]) : high[0];
    p->at[1 - k] = fmin(fmax(p->at[1 - k], low[1 - k]), high[1 - k]);
  }
  law_search(space, low, high, p->at, &outcome);
  return phases ? rss_elsewhere(p, k, low, high, outcome.rss) : outcome.rss;
}

static double rss_at_linear(profile *p, double v) {
  tenter_law_space *space = p->space;
  fit_outcome outcome;
  space->fixed = p->parameter + 1;
  space->fixed_at = v;
  law_search(space, space->low, space->high, p->at, &outcome);
  space->fixed = 0;
  return outcome.rss;
}

/* Residuals with the half-life (its logarithm, z0) in place of the first time. */
static void with_first_time(const tenter_law_space *space, const double *z, double *s,
                            double *slope) {
  s[1] = z[1];
  s[0] = z[0] - space->row->half(s, slope);
}

static bool half_residual(void *context, const double *z, double *r) {
  double s[LAW_SEARCHED], slope;
  with_first_time(context, z, s, &slope);
  return law_residual(context, s, r);
}

static bool half_jacobian(void *context, const double *z, double *jacobian) {
  const tenter_law_space *space = context;
  double s[LAW_SEARCHED], slope;
  with_first_time(space, z, s, &slope);
  bool made = law_jacobian(context, s, jacobian);
  for (size_t i = 0; i < space->count && space->searched > 1; i++)
    jacobian[space->count + i] -= slope * jacobian[i];
  return made;
}

static double rss_at_half_life(profile *p, double v) {
  tenter_law_space *space = p->space;
  double low[LAW_SEARCHED] = {v, space->low[1]}, high[LAW_SEARCHED] = {v, space->high[1]};
  fit_outcome outcome;
  p->at[0] = v;
  law_search_by(space, half_residual, half_jacobian, low, high, p->at, &outcome);
  return outcome.rss;
}

/* The root of the profile at v, less the limit; the others follow from where they were. */
static double excess(profile *p, double v) {
  double rss;
  if (p->parameter == TENTER_LAW_HALF_LIFE)
    rss = rss_at_half_life(p, v);
  else if (p->parameter < p->space->row->info.linear)
    rss = rss_at_linear(p, v);
  else
    rss = rss_at_searched(p, v);
  p->lower |= rss < p->rss * (1 - 1e-7);
  return sqrt(fmax(rss - p->rss, 0) / p->variance) - p->limit;
}

/* ---- where it is too great ------------------------------------------------------------------ */

/* The crossing between inside (excess below 0) and outside (above). */
static double close_in(profile *p, double inside, double f_inside, double outside,
                       double f_outside) {
  int side = 0;
  for (size_t round = 0; round < 60; round++) {
    double s = inside + (outside - inside) * f_inside / (f_inside - f_outside);
    double f = excess(p, s);
    if (fabs(f) < 1e-8 || fabs(outside - inside) < 1e-12 * (1 + fabs(s)))
      return s;
    if (f < 0) {
      inside = s;
      f_inside = f;
      f_outside *= side == -1 ? 0.5 : 1;
      side = -1;
    } else {
      outside = s;
      f_outside = f;
      f_inside *= side == 1 ? 0.5 : 1;
      side = 1;
    }
  }
  return 0.5 * (inside + outside);
}

/* The end on one side (direction -1 or 1). */
static double end(profile *p, double direction, double first_step, bool *open) {
  double bound = direction < 0 ? p->low : p->high;
  double inside = p->best, f_inside = -p->limit, step = first_step;
  memcpy(p->at, p->space->x, sizeof p->at);
  *open = false;
  while (direction * (bound - inside) > 0) {
    double s = inside + direction * step;
    s = direction < 0 ? fmax(s, bound) : fmin(s, bound);
    double f = excess(p, s);
    if (f > 0)
      return close_in(p, inside, f_inside, s, f);
    inside = s;
    f_inside = f;
    step *= 1.5;
  }
  *open = true;
  return inside;
}

/* ---- what is asked -------------------------------------------------------------------------- */

static const char *name_of(const tenter_law_info *info, size_t parameter) {
  return parameter == TENTER_LAW_HALF_LIFE ? "half-life" : info->parameter[parameter];
}

static bool has_profile(const tenter_law_space *space, size_t parameter) {
  const tenter_law_info *info = &space->row->info;
  if (parameter == TENTER_LAW_HALF_LIFE)
    return space->row->half != NULL;
  if (parameter >= info->linear)
    return parameter < info->parameters;
  bool known = space->plateau == TENTER_LAW_PLATEAU_KNOWN && parameter == 0;
  return space->series_count == 1 && !known;
}

static tenter_status check(const tenter_law_space *space, const tenter_law_curve *curve,
                           size_t parameter, double level, tenter_error *error) {
  if (!space->row || space->row != law_row_of(curve->law) || space->rss != curve->rss)
    return tenter_fail(error, TENTER_USAGE, "a profile is asked of a fit that is not the last one");
  const tenter_law_info *info = &space->row->info;
  if (!has_profile(space, parameter) || !(level > 0 && level < 1))
    return tenter_fail(error, TENTER_USAGE,
                       "no profile of parameter %zu of the law '%s' at level %g", parameter,
                       info->name, level);
  if (!tenter_fit_stop_minimum(curve->stop) || curve->count <= curve->free || !(curve->sigma > 0))
    return tenter_fail(error, TENTER_FAILED,
                       "%s has no interval: the fit did not converge or no reading is left over",
                       name_of(info, parameter));
  return TENTER_OK;
}

static void place_linear(profile *p, const tenter_law_curve *curve) {
  const tenter_law_space *space = p->space;
  double most = 0;
  for (size_t i = 0; i < space->count; i++)
    most = fmax(most, fabs(space->y[i]));
  bool bounded = p->parameter == 0 && space->plateau == TENTER_LAW_PLATEAU_BOUNDED;
  p->best = curve->parameter[p->parameter];
  p->low = bounded ? space->plateau_min : -FARTHEST * most;
  p->high = FARTHEST * most;
}

static void place(profile *p, const tenter_law_curve *curve) {
  const tenter_law_space *space = p->space;
  size_t linear = space->row->info.linear;
  double slope;
  if (p->parameter < linear) {
    place_linear(p, curve);
  } else if (p->parameter == TENTER_LAW_HALF_LIFE) {
    p->best = space->x[0] + space->row->half(space->x, &slope);
    p->low = space->low[0] + space->row->half(space->low, &slope);
    p->high = space->high[0] + space->row->half(space->high, &slope);
  } else {
    p->best = space->x[p->parameter - linear];
    p->low = space->low[p->parameter - linear];
    p->high = space->high[p->parameter - linear];
  }
}

double tenter_law_half_life(const tenter_law_curve *curve, double *se) {
  enum { P = TENTER_LAW_PARAMETERS };
  const law_row *row = law_row_of(curve->law);
  size_t first = row->info.linear;
  double slope;
  if (se)
    *se = NAN;
  if (!row->half)
    return NAN;
  double tau = curve->parameter[first], s[LAW_SEARCHED] = {log(tau)};
  if (row->info.parameters > first + 1)
    s[1] = curve->parameter[first + 1];
  double half = tau * exp(row->half(s, &slope));
  double by[LAW_SEARCHED] = {1 / tau, slope}, variance = 0;
  for (size_t j = first; j < row->info.parameters; j++)
    for (size_t k = first; k < row->info.parameters; k++)
      if (!curve->on_bound[j] && !curve->on_bound[k])
        variance += by[j - first] * by[k - first] * curve->covariance[j * P + k];
  if (se)
    *se = half * sqrt(variance);
  return half;
}

tenter_status tenter_law_profile(tenter_law_space *space, const tenter_law_curve *curve,
                                 size_t parameter, double level, tenter_law_interval *interval,
                                 tenter_error *error) {
  tenter_status status = check(space, curve, parameter, level, error);
  if (status != TENTER_OK)
    return status;
  const tenter_law_info *info = &space->row->info;
  profile p = {.space = space,
               .parameter = parameter,
               .rss = curve->rss,
               .variance = curve->sigma * curve->sigma,
               .limit = gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)(curve->count - curve->free))};
  place(&p, curve);
  bool time = parameter == TENTER_LAW_HALF_LIFE || info->is_time[parameter];
  double se = curve->se[info->linear] / curve->parameter[info->linear];
  if (parameter != TENTER_LAW_HALF_LIFE)
    se = curve->se[parameter] / (time ? curve->parameter[parameter] : 1);
  double width = p.high - p.low, step = se * p.limit, tolerance = space->tolerance;
  if (!(step > 0))
    step = fmin(0.1, 0.01 * width);
  step = fmin(step, 0.1 * width);
  tenter_law_interval made = {0};
  space->tolerance = fmax(tolerance, CLOSE);
  made.low = end(&p, -1, step, &made.low_open);
  made.high = end(&p, 1, step, &made.high_open);
  space->tolerance = tolerance;
  if (time) {
    made.low = exp(made.low);
    made.high = exp(made.high);
  }
  if (p.lower)
    return tenter_fail(error, TENTER_FAILED,
                       "the profile of %s found a better fit than the one it was asked of",
                       name_of(info, parameter));
  *interval = made;
  return TENTER_OK;
}
