/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths: what may be asked, limits that were estimated, and designs for a run length. Relies
 * on arl_sums, arl_rules, arl_law and chart_internal. */
#include "tenter/stats/arl.h"

#include <math.h>

#include "arl_internal.h"
#include "chart_internal.h"
#include "chart_numeric.h"
#include "tenter/base/alloc.h"

/* The condition of the equations grows with the run length, so does what is allowed of it. For
 * expected counts, run lengths over millions of points don't matter. */
static const arl_accuracy fine = {1e-9, 1e-14, 1e12}, coarse = {1e-5, 1e-9, 1e8};

/* ---- what may be asked ---- */

static tenter_status refuse(tenter_error *error, const char *why) {
  return tenter_fail(error, TENTER_USAGE, "No run length can be given: %s.", why);
}

static tenter_status check(const tenter_scheme *s, tenter_process p, tenter_error *error) {
  if (!isfinite(p.shift) || !(p.scale > 0) || !isfinite(p.scale))
    return refuse(error, "the shift must be a number and the scale above 0");
  switch (s->kind) {
  case TENTER_SCHEME_RULES:
    return s->rules & TENTER_RULES_ALL ? TENTER_OK : refuse(error, "no run rule is switched on");
  case TENTER_SCHEME_EWMA:
    if (!(s->lambda > 0 && s->lambda <= 1) || !(s->width > 0) || !isfinite(s->width))
      return refuse(error, "an EWMA needs lambda above 0, at most 1, and a width above 0");
    return s->exact && s->one_sided
               ? refuse(error, "a one-sided EWMA is known with steady limits only")
               : TENTER_OK;
  case TENTER_SCHEME_CUSUM:
    if (!(s->reference >= 0) || !(s->decision > 0) || !isfinite(s->reference + s->decision))
      return refuse(error, "a CUSUM needs a reference of at least 0 and a decision above 0");
    return s->head_start >= 0 && s->head_start <= (s->one_sided ? 1 : 0.5) * s->decision
               ? TENTER_OK
               : refuse(error, "the head start of a CUSUM is at least 0 and at most half the "
                               "decision (one-sided: the decision)");
  }
  return refuse(error, "the kind of chart is unknown");
}

static bool directional(const tenter_scheme *s) {
  return s->kind == TENTER_SCHEME_RULES &&
         (s->rules & (TENTER_RULE_SIX_TREND | TENTER_RULE_FOURTEEN_ZIGZAG));
}

/* ---- run lengths ---- */

/* Inside, a run length over 1e12 is infinite; outside, it is a failure. */
static tenter_status finite(tenter_status status, const double *arl, tenter_error *error) {
  if (status == TENTER_OK && !isfinite(*arl))
    return tenter_fail(error, TENTER_FAILED, "The average run length is longer than 1e12 points.");
  return status;
}

static tenter_status rules_length(tenter_rules rules, const arl_law *law, bool steady, double *arl,
                                  tenter_error *error) {
  arl_rules *ready = NULL;
  tenter_status status = arl_rules_new(rules, &ready, error);
  if (status == TENTER_OK)
    status = arl_rules_length(ready, law, steady, fine, arl, error);
  arl_rules_free(ready);
  return status;
}

tenter_status tenter_arl(const tenter_scheme *scheme, tenter_process process, double *arl,
                         tenter_error *error) {
  tenter_status status = check(scheme, process, error);
  if (status != TENTER_OK)
    return status;
  arl_law law = arl_law_of(process);
  status = scheme->kind == TENTER_SCHEME_RULES
               ? rules_length(scheme->rules, &law, false, arl, error)
               : arl_sums(scheme, &law, fine, arl, error);
  return finite(status, arl, error);
}

tenter_status tenter_arl_steady(const tenter_scheme *scheme, tenter_process process, double *arl,
                                tenter_error *error) {
  tenter_status status = check(scheme, process, error);
  if (status != TENTER_OK)
    return status;
  if (directional(scheme) || (scheme->kind == TENTER_SCHEME_EWMA && scheme->exact) ||
      (scheme->kind == TENTER_SCHEME_CUSUM && !scheme->one_sided))
    return refuse(error, "the steady state is known for EWMA with steady limits, one-sided CUSUM, "
                         "and run rules without trend and zigzag");
  arl_law law = arl_law_of(process);
  status = scheme->kind == TENTER_SCHEME_RULES ? rules_length(scheme->rules, &law, true, arl, error)
                                               : arl_sums_steady(scheme, &law, fine, arl, error);
  return finite(status, arl, error);
}

tenter_status tenter_arl_alive(const tenter_scheme *scheme, tenter_process process, size_t count,
                               double *alive, tenter_error *error) {
  tenter_status status = check(scheme, process, error);
  if (status != TENTER_OK)
    return status;
  arl_law law = arl_law_of(process);
  if (scheme->kind == TENTER_SCHEME_CUSUM && !scheme->one_sided)
    return refuse(error, "the distribution is known for one side of a CUSUM only");
  if (scheme->kind != TENTER_SCHEME_RULES)
    return arl_sums_alive(scheme, &law, fine, count, alive, error);
  arl_rules *ready = NULL;
  status = arl_rules_new(scheme->rules, &ready, error);
  if (status == TENTER_OK)
    arl_rules_alive(ready, &law, count, alive);
  arl_rules_free(ready);
  return status;
}

/* ---- limits that were estimated ---- */

tenter_estimated tenter_estimated_of(const tenter_control_limits *limits, size_t n,
                                     tenter_control_when when) {
  return (tenter_estimated){limits->known, chart_centre_variance(limits, n), limits->worth, when};
}

/* What the integration over the estimates needs. */
typedef struct averaging {
  const tenter_scheme *scheme;
  tenter_process process;
  const tenter_estimated *estimated;
  arl_stretch *stretch; /* NULL for plain limits */
  arl_rules *rules;     /* NULL for EWMA and CUSUM */
} averaging;

/* 1 / run length when the centre is off by centre and the estimate of sigma is ratio times right.
 */
static tenter_status rate_given(const averaging *a, double centre, double ratio, double *rate,
                                tenter_error *error) {
  const tenter_estimated *e = a->estimated;
  double unit = a->stretch ? ratio * sqrt(1 + e->centre_variance) : ratio;
  arl_law law = {a->process.shift, a->process.scale, centre, unit, a->stretch};
  double arl = INFINITY;
  tenter_status status = a->rules ? arl_rules_length(a->rules, &law, false, coarse, &arl, error)
                                  : arl_sums(a->scheme, &law, coarse, &arl, error);
  *rate = 1 / arl;
  return status;
}

/* Over the centre: the trapezoidal rule for a normal weight, exact to 1e-4 of what varies with a
 * step of 1.4 standard deviations. While nothing is shifted, both sides are alike. */
static tenter_status rate_over_centre(const averaging *a, double ratio, double *rate,
                                      tenter_error *error) {
  bool alike = a->process.shift == 0 && !a->scheme->one_sided;
  double step = 1.4 * sqrt(a->estimated->centre_variance), sum = 0, weight = 0, one;
  for (int k = alike ? 0 : -4; k <= 4; k++) {
    double w = chart_density(1.4 * k) * (alike && k > 0 ? 2 : 1);
    tenter_status status = rate_given(a, k * step, ratio, &one, error);
    if (status != TENTER_OK)
      return status;
    sum += w * one;
    weight += w;
  }
  *rate = sum / weight;
  return TENTER_OK;
}

static tenter_status rate_over_sigma(const averaging *a, double *rate, tenter_error *error) {
  double ratio[CHART_WORTH_NODES], weight[CHART_WORTH_NODES], sum = 0, one;
  size_t count = chart_worth_nodes(a->estimated->worth, 1.2, 1e-8, ratio, weight);
  for (size_t i = 0; i < count; i++) {
    tenter_status status = rate_over_centre(a, ratio[i], &one, error);
    if (status != TENTER_OK)
      return status;
    sum += weight[i] * one;
  }
  *rate = sum;
  return TENTER_OK;
}

tenter_status tenter_arl_rate(const tenter_scheme *scheme, tenter_process process,
                              const tenter_estimated *estimated, double *rate,
                              tenter_error *error) {
  tenter_status status = check(scheme, process, error);
  if (status != TENTER_OK)
    return status;
  if (estimated->known) {
    status = tenter_arl(scheme, process, rate, error);
    if (status == TENTER_OK)
      *rate = 1 / *rate;
    return status;
  }
  if (!(estimated->worth.freedom > 0) || !(estimated->worth.power > 0) ||
      !(estimated->centre_variance >= 0) ||
      !isfinite(estimated->worth.freedom + estimated->centre_variance))
    return refuse(error, "the limits were estimated from too little");
  averaging a = {scheme, process, estimated, NULL, NULL};
  if (estimated->when == TENTER_CONTROL_NEXT && !(a.stretch = arl_stretch_new(estimated->worth)))
    return tenter_fail_memory(error);
  if (scheme->kind == TENTER_SCHEME_RULES)
    status = arl_rules_new(scheme->rules, &a.rules, error);
  if (status == TENTER_OK)
    status = rate_over_sigma(&a, rate, error);
  arl_rules_free(a.rules);
  tenter_free(a.stretch);
  return status;
}

/* ---- designs ---- */

typedef struct design {
  tenter_scheme scheme;
  const tenter_estimated *estimated;
  double head_share, rate; /* wanted */
  tenter_error *error;
  tenter_status status;
} design;

static void set_size(design *d, double size) {
  if (d->scheme.kind == TENTER_SCHEME_EWMA)
    d->scheme.width = size;
  else
    d->scheme.decision = size;
  d->scheme.head_start = d->head_share * size;
}

/* log of the wanted rate over the rate of this size: rises with it. 0 where it is closer than the
 * sums are known. */
static double rate_lack(double size, void *context) {
  design *d = context;
  tenter_process calm = {0, 1};
  double rate = NAN, arl = INFINITY;
  set_size(d, size);
  if (d->estimated && !d->estimated->known) {
    d->status = tenter_arl_rate(&d->scheme, calm, d->estimated, &rate, d->error);
  } else {
    arl_law law = arl_law_of(calm);
    d->status = arl_sums(&d->scheme, &law, fine, &arl, d->error);
    rate = 1 / arl;
  }
  double lack = log(d->rate / fmax(rate, 1e-12));
  if (d->status != TENTER_OK)
    return NAN;
  return fabs(lack) < 1e-9 ? 0 : lack;
}

/* A size near the wanted one: with exact limits that of steady ones, which cost little. */
static double first_size(const design *of) {
  design d = *of;
  tenter_error ignored = {0};
  d.error = &ignored;
  if (!d.scheme.exact)
    return 1;
  d.scheme.exact = false;
  tenter_status status = tenter_scheme_design(&d.scheme, d.estimated, 1 / d.rate, &ignored);
  return status == TENTER_OK ? d.scheme.width : 1;
}

/* The size that has the wanted rate: from a first one outwards until it lies between, then in. NaN
 * where it can't be found. */
static double find_size(design *d) {
  double low = first_size(d), high = low, lack = rate_lack(low, d);
  double step = low == 1 ? 2 : 1.01;
  bool rising = lack < 0;
  while (!isnan(lack) && rising == (lack < 0) && high < 500 && low > 1e-3) {
    if (rising)
      low = high, high *= step;
    else
      high = low, low /= step;
    lack = rate_lack(rising ? high : low, d);
    step = fmin(step * step, 2);
  }
  return isnan(lack) ? NAN : chart_root(rate_lack, d, low, high);
}

tenter_status tenter_scheme_design(tenter_scheme *scheme, const tenter_estimated *estimated,
                                   double arl, tenter_error *error) {
  if (scheme->kind == TENTER_SCHEME_RULES)
    return refuse(error, "run rules have no width to be set");
  if (!(arl >= 5 && arl <= 1e6))
    return refuse(error, "charts are designed for run lengths of 5 to 1000000");
  bool headed = scheme->kind == TENTER_SCHEME_CUSUM && scheme->decision > 0;
  design d = {*scheme,   estimated, headed ? scheme->head_start / scheme->decision : 0,
              1.0 / arl, error,     TENTER_OK};
  set_size(&d, 1);
  tenter_status status = check(&d.scheme, (tenter_process){0, 1}, error);
  if (status != TENTER_OK)
    return status;
  double size = find_size(&d);
  if (d.status != TENTER_OK)
    return d.status;
  if (!(fabs(rate_lack(size, &d)) < 1e-4))
    return refuse(error, "no size of this chart gives this run length");
  *scheme = d.scheme;
  return TENTER_OK;
}
