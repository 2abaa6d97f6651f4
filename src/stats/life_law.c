/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The standard laws: one row each, and the chance of an interval for any of them. Relies on GSL for
 * the far tail of the normal law. */
#include "life_law.h"

#include <gsl/gsl_sf_erf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

#include "tenter/stats/normal.h"

typedef struct law {
  double (*log_survival)(double w);
  double (*log_below)(double w);
  double (*log_density)(double w);
  double (*score)(double w);        /* derivative of log density */
  double (*score_change)(double w); /* and its derivative */
  double (*quantile)(double p);
  double (*mean)(double scale); /* of e^(scale W) */
} law;

static const double far = 37; /* e^-37 is below rounding */

/* ---- smallest extreme value: exponential, Weibull ---- */

static double extreme_survival(double w) {
  return -exp(w);
}

static double extreme_below(double w) {
  return w < -far ? w : log(-expm1(-exp(w)));
}

static double extreme_density(double w) {
  return w - exp(w);
}

static double extreme_score(double w) {
  return 1 - exp(w);
}

static double extreme_change(double w) {
  return -exp(w);
}

static double extreme_quantile(double p) {
  return log(-log1p(-p));
}

static double extreme_mean(double scale) {
  gsl_sf_result result;
  return gsl_sf_gamma_e(1 + scale, &result) ? INFINITY : result.val;
}

/* ---- normal ---- */

static double normal_survival(double w) {
  gsl_sf_result result;
  return gsl_sf_log_erfc_e(w * M_SQRT1_2, &result) ? -w * w / 2 : result.val - M_LN2;
}

static double normal_below(double w) {
  return normal_survival(-w);
}

static double normal_density(double w) {
  return -w * w / 2 + log(M_2_SQRTPI * M_SQRT1_2 / 2);
}

static double normal_score(double w) {
  return -w;
}

static double normal_change(double w) {
  (void)w;
  return -1;
}

static double normal_mean(double scale) {
  return exp(scale * scale / 2);
}

/* ---- logistic ---- */

static double logistic_survival(double w) {
  return w > far ? -w : -log1p(exp(w));
}

static double logistic_below(double w) {
  return logistic_survival(-w);
}

static double logistic_density(double w) {
  return logistic_survival(w) + logistic_survival(-w);
}

static double logistic_score(double w) {
  return -tanh(w / 2);
}

static double logistic_change(double w) {
  return -2 * exp(logistic_density(w));
}

static double logistic_quantile(double p) {
  return log(p) - log1p(-p);
}

static double logistic_mean(double scale) {
  return scale < 1 ? M_PI * scale / sin(M_PI * scale) : INFINITY;
}

/* ---- the table ---- */

static const law laws[] = {
    [TENTER_LIFE_EXPONENTIAL] = {extreme_survival, extreme_below, extreme_density, extreme_score,
                                 extreme_change, extreme_quantile, extreme_mean},
    [TENTER_LIFE_WEIBULL] = {extreme_survival, extreme_below, extreme_density, extreme_score,
                             extreme_change, extreme_quantile, extreme_mean},
    [TENTER_LIFE_LOGNORMAL] = {normal_survival, normal_below, normal_density, normal_score,
                               normal_change, tenter_normal_quantile, normal_mean},
    [TENTER_LIFE_LOGLOGISTIC] = {logistic_survival, logistic_below, logistic_density,
                                 logistic_score, logistic_change, logistic_quantile,
                                 logistic_mean}};

const char *tenter_life_law_name(tenter_life_law which) {
  static const char *const names[] = {
#define X(constant, name) name,
      TENTER_LIFE_LAWS(X)
#undef X
  };
  return which < TENTER_LIFE_LAW_COUNT ? names[which] : NULL;
}

double life_law_survival(tenter_life_law which, double w) {
  return exp(laws[which].log_survival(w));
}

double life_law_below(tenter_life_law which, double w) {
  return exp(laws[which].log_below(w));
}

double life_law_density(tenter_life_law which, double w) {
  return exp(laws[which].log_density(w));
}

double life_law_score(tenter_life_law which, double w) {
  return laws[which].score(w);
}

double life_law_quantile(tenter_life_law which, double p) {
  return laws[which].quantile(p);
}

double life_law_mean(tenter_life_law which, double scale) {
  return laws[which].mean(scale);
}

/* ---- the chance of an interval ---- */

/* The width, by how fast the density changes. */
static double relative_width(const law *l, double low, double high) {
  return (high - low) * (1 + fabs(l->score(low + (high - low) / 2)));
}

bool life_law_is_narrow(tenter_life_law which, double low, double high) {
  return low > -INFINITY && high < INFINITY && relative_width(&laws[which], low, high) < 1e-4;
}

/* log(e^more - e^less) */
static double log_difference(double more, double less) {
  return more + log(-expm1(less - more));
}

/* By the tail that both ends are in, so that nothing cancels; by the density where they are so
 * close that differences would. */
static double log_between(const law *l, double low, double high) {
  double width = high - low, middle = low + width / 2, score = l->score(middle);
  if (relative_width(l, low, high) < 1e-3)
    return l->log_density(middle) + log(width) +
           log1p((score * score + l->score_change(middle)) * width * width / 24);
  if (low >= 0)
    return log_difference(l->log_survival(low), l->log_survival(high));
  if (high <= 0)
    return log_difference(l->log_below(high), l->log_below(low));
  return log1p(-(exp(l->log_below(low)) + exp(l->log_survival(high))));
}

static life_slope exact_slope(const law *l, double w) {
  return (life_slope){
      .value = l->log_density(w), .by_low = l->score(w), .by_low_low = l->score_change(w)};
}

life_slope life_law_slope(tenter_life_law which, double low, double high) {
  const law *l = &laws[which];
  life_slope s = {0};
  if (low == high)
    return exact_slope(l, low);
  bool from = low > -INFINITY, to = high < INFINITY;
  if (from && to)
    s.value = log_between(l, low, high);
  else if (from)
    s.value = l->log_survival(low);
  else if (to)
    s.value = l->log_below(high);
  if (from) {
    s.by_low = -exp(l->log_density(low) - s.value);
    s.by_low_low = s.by_low * l->score(low) - s.by_low * s.by_low;
  }
  if (to) {
    s.by_high = exp(l->log_density(high) - s.value);
    s.by_high_high = s.by_high * l->score(high) - s.by_high * s.by_high;
  }
  s.by_low_high = -s.by_low * s.by_high;
  return s;
}
