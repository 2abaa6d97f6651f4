/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Age replacement: the rate of cost and its least. Relies on life_curve.c.
 *
 * The sign of dC/dt is that of g(t) = h(t) I(t) - F(t) - planned / (failure - planned), h the
 * hazard and I the exposure, and g rises and falls as h does. The hazards of these laws only fall,
 * only rise, or rise and then fall, so that the first root of g up to the hazard's peak is the only
 * finite age that can be best. */
#include "tenter/stats/renewal.h"

#include <math.h>

#include "chart_numeric.h"
#include "draws.h"
#include "life_law.h"
#include "tenter/base/alloc.h"

static const double all_gone = 1e-15; /* an age that fewer reach is no age */

double tenter_renewal_rate(const tenter_life_curve *curve, const tenter_renewal_costs *costs,
                           double t) {
  if (!(costs->planned > 0) || !(costs->failure > 0))
    return NAN;
  double alive = isinf(t) ? 0 : tenter_life_survival_before(curve, t);
  return (costs->planned * alive + costs->failure * (1 - alive)) / tenter_life_exposure(curve, t);
}

static tenter_renewal run_to_failure(const tenter_life_curve *curve,
                                     const tenter_renewal_costs *costs) {
  double rate = tenter_renewal_rate(curve, costs, INFINITY);
  return (tenter_renewal){TENTER_RENEWAL_NEVER, INFINITY, rate, rate};
}

/* ---- by a law ------------------------------------------------------------------------------- */

/* d log hazard / d log t, times the scale, plus it: the derivative of log(density / survival) of W.
 * The hazard rises where it is above the scale. */
static double hazard_rise(double w, void *context) {
  const tenter_life_curve *curve = context;
  return life_law_score(curve->law, w) +
         life_law_density(curve->law, w) / life_law_survival(curve->law, w) - curve->scale;
}

typedef struct question {
  tenter_life_curve curve;
  double worth; /* planned / (failure - planned) */
} question;

static double cost_slope(double w, void *context) {
  const question *q = context;
  double t = exp(q->curve.location + q->curve.scale * w);
  return tenter_life_hazard(&q->curve, t) * tenter_life_exposure(&q->curve, t) -
         life_law_below(q->curve.law, w) - q->worth;
}

static tenter_renewal best_by_law(const tenter_life_curve *curve,
                                  const tenter_renewal_costs *costs) {
  tenter_renewal best = run_to_failure(curve, costs);
  question q = {*curve, costs->planned / (costs->failure - costs->planned)};
  double low = life_law_quantile(curve->law, all_gone);
  double high = life_law_quantile(curve->law, 1 - all_gone);
  if (costs->failure <= costs->planned || !(hazard_rise(low, &q.curve) > 0))
    return best;
  if (hazard_rise(high, &q.curve) < 0)
    high = chart_root(hazard_rise, &q.curve, low, high);
  if (!(cost_slope(high, &q) > 0))
    return best;
  double w = cost_slope(low, &q) < 0 ? chart_root(cost_slope, &q, low, high) : low;
  double age = exp(curve->location + curve->scale * w);
  double rate = tenter_renewal_rate(curve, costs, age);
  if (rate < best.rate_of_failure) {
    best.answer = TENTER_RENEWAL_AT;
    best.age = age;
    best.rate = rate;
  }
  return best;
}

/* ---- by steps ------------------------------------------------------------------------------- */

static void consider(tenter_renewal *best, tenter_renewal_answer answer, double age, double rate) {
  if (rate < best->rate) {
    best->answer = answer;
    best->age = age;
    best->rate = rate;
  }
}

static tenter_renewal best_by_steps(const tenter_life_curve *curve,
                                    const tenter_renewal_costs *costs) {
  tenter_renewal best = {TENTER_RENEWAL_NEVER, INFINITY, INFINITY, NAN};
  double exposure = 0, before = 0, alive = 1;
  for (size_t k = 0; k < curve->count; k++) {
    exposure += alive * (curve->steps[k] - before);
    before = curve->steps[k];
    double cost = costs->planned * alive + costs->failure * (1 - alive);
    consider(&best, TENTER_RENEWAL_AT, before, cost / exposure);
    alive = curve->survival[k];
  }
  double cost = costs->planned * alive + costs->failure * (1 - alive);
  if (!isinf(curve->end)) {
    consider(&best, TENTER_RENEWAL_AT_LEAST, curve->end,
             cost / (exposure + alive * (curve->end - before)));
    return best;
  }
  best.rate_of_failure = costs->failure / exposure;
  consider(&best, TENTER_RENEWAL_NEVER, INFINITY, best.rate_of_failure);
  return best;
}

tenter_status tenter_renewal_best(const tenter_life_curve *curve, const tenter_renewal_costs *costs,
                                  tenter_renewal *renewal, tenter_error *error) {
  bool priced = costs->planned > 0 && costs->failure > 0 && isfinite(costs->planned) &&
                isfinite(costs->failure);
  if (!priced)
    return tenter_fail(error, TENTER_USAGE,
                       "The costs of a planned replacement (%g) and of a failure (%g) must be "
                       "finite and above 0.",
                       costs->planned, costs->failure);
  if (!curve->steps &&
      (!isfinite(curve->location) || !isfinite(curve->scale) || !(curve->scale > 0)))
    return tenter_fail(error, TENTER_USAGE,
                       "The law of lives has no finite parameters: location "
                       "%g, scale %g.",
                       curve->location, curve->scale);
  *renewal = curve->steps ? best_by_steps(curve, costs) : best_by_law(curve, costs);
  return TENTER_OK;
}

/* ---- how sure it is ------------------------------------------------------------------------- */

tenter_status tenter_renewal_spread_of(tenter_renewal_draw *draw, void *context, size_t draws,
                                       double level, const tenter_renewal_costs *costs,
                                       tenter_renewal_spread *spread, tenter_error *error) {
  if (draws == 0 || !(level > 0 && level < 1))
    return tenter_fail(error, TENTER_USAGE, "A spread needs a draw and a level between 0 and 1.");
  double *age = tenter_alloc(draws, sizeof *age), never = 0;
  if (!age)
    return tenter_fail_memory(error);
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < draws && status == TENTER_OK; i++) {
    tenter_life_curve curve;
    tenter_renewal best = {0};
    status = draw(context, i, &curve, error);
    if (status == TENTER_OK)
      status = tenter_renewal_best(&curve, costs, &best, error);
    age[i] = best.age;
    never += best.answer == TENTER_RENEWAL_NEVER;
  }
  if (status == TENTER_OK) {
    tenter_interval range = draw_percentiles(age, draws, level);
    *spread = (tenter_renewal_spread){range.low, range.high, never / (double)draws};
  }
  tenter_free(age);
  return status;
}
