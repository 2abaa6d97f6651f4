/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Profile-likelihood intervals of the searched parameters (Bates and Watts 1988, section 6.1.2).
 *
 * The signed root of the profile, sqrt((RSS(s) - RSS) / sigma^2), is nearly straight in s, so each
 * side is bracketed by steps of a standard error and closed by the secant with halving (Illinois).
 */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

#include "law_internal.h"

typedef struct profile {
  tenter_law_space *space;
  size_t k;             /* the parameter, among the searched */
  double rss, variance; /* of the fit */
  double limit;         /* Student's t */
  double at[LAW_SEARCHED];
  bool lower; /* a lower sum of squares was found */
} profile;

/* The root of the profile at s, less the limit; the others follow from where they were. */
static double excess(profile *p, double s) {
  tenter_law_space *space = p->space;
  double low[LAW_SEARCHED], high[LAW_SEARCHED];
  fit_outcome outcome;
  memcpy(low, space->low, sizeof low);
  memcpy(high, space->high, sizeof high);
  low[p->k] = high[p->k] = p->at[p->k] = s;
  law_search(space, low, high, p->at, &outcome);
  p->lower |= outcome.rss < p->rss * (1 - 1e-7);
  return sqrt(fmax(outcome.rss - p->rss, 0) / p->variance) - p->limit;
}

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
  double best = p->space->x[p->k];
  double bound = direction < 0 ? p->space->low[p->k] : p->space->high[p->k];
  double inside = best, f_inside = -p->limit, step = first_step;
  memcpy(p->at, p->space->x, sizeof p->at);
  *open = false;
  while (inside != bound) {
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
  return bound;
}

static tenter_status check(const tenter_law_space *space, const tenter_law_curve *curve,
                           size_t parameter, double level, tenter_error *error) {
  if (!space->row || space->row != law_row_of(curve->law) || space->rss != curve->rss)
    return tenter_fail(error, TENTER_USAGE, "a profile is asked of a fit that is not the last one");
  const tenter_law_info *info = &space->row->info;
  if (parameter < info->linear || parameter >= info->parameters || !(level > 0 && level < 1))
    return tenter_fail(error, TENTER_USAGE,
                       "no profile of parameter %zu of the law '%s' at level %g", parameter,
                       info->name, level);
  if (!tenter_fit_stop_minimum(curve->stop) || curve->count <= curve->free || !(curve->sigma > 0))
    return tenter_fail(error, TENTER_FAILED,
                       "%s has no interval: the fit did not converge or no reading is left over",
                       info->parameter[parameter]);
  return TENTER_OK;
}

tenter_status tenter_law_profile(tenter_law_space *space, const tenter_law_curve *curve,
                                 size_t parameter, double level, tenter_law_interval *interval,
                                 tenter_error *error) {
  tenter_status status = check(space, curve, parameter, level, error);
  if (status != TENTER_OK)
    return status;
  const tenter_law_info *info = &space->row->info;
  profile p = {.space = space,
               .k = parameter - info->linear,
               .rss = curve->rss,
               .variance = curve->sigma * curve->sigma,
               .limit = gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)(curve->count - curve->free))};
  bool time = info->is_time[parameter];
  double step = curve->se[parameter] / (time ? curve->parameter[parameter] : 1) * p.limit;
  double width = space->high[p.k] - space->low[p.k];
  if (!(step > 0))
    step = 0.1;
  step = fmin(step, 0.1 * width);
  tenter_law_interval made = {0};
  made.low = end(&p, -1, step, &made.low_open);
  made.high = end(&p, 1, step, &made.high_open);
  if (time) {
    made.low = exp(made.low);
    made.high = exp(made.high);
  }
  if (p.lower)
    return tenter_fail(error, TENTER_FAILED,
                       "the profile of %s found a better fit than the one it was asked of",
                       info->parameter[parameter]);
  *interval = made;
  return TENTER_OK;
}
