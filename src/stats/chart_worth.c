/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What an estimate of sigma is worth, and the law of a standard normal number over such an
 * estimate.
 *
 * Model      estimate / sigma = C (X / v)^(q/2), X chi-square with v degrees of freedom, C making
 *            the mean 1. For a standard deviation q = 1, and the quotient is c4 t.
 * Matching   v and q from two facts that are known exactly for ranges, averaged deviations and
 *            moving ranges: the squared coefficient of variation, and that the density near 0 goes
 *            like ratio^(e-1) with e the number of independent contrasts; so v = q e.
 * Algorithm  means over log(X/v)/2 by the trapezoidal rule: the density exp(v l - v exp(2 l)/2)
 *            is analytic and dies out on both sides.
 * Relies on chart_numeric, lgamma and GSL's t. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

#include "chart_internal.h"
#include "chart_numeric.h"

enum { NODES = CHART_WORTH_NODES };
static const double fine_step = 0.5, fine_weight = 1e-13;

/* ---- matching ---- */

typedef struct match {
  double variation, contrasts;
} match;

/* E r^2 / (E r)^2 of r = X^(q/2) against 1 + variation, in logarithms. */
static double variation_excess(double log_power, void *context) {
  const match *m = context;
  double q = exp(log_power), half = 0.5 * q * m->contrasts;
  return lgamma(half + q) + lgamma(half) - 2 * lgamma(half + 0.5 * q) - log1p(m->variation);
}

tenter_control_worth chart_worth_of(double variation, double contrasts) {
  if (!(variation > 0) || !(contrasts > 0))
    return (tenter_control_worth){NAN, NAN};
  match m = {variation, contrasts};
  double q = 2 * contrasts * variation; /* the limit for many; lgamma then loses the digits */
  if (contrasts < 3000)
    q = exp(chart_root(variation_excess, &m, log(0.05), log(50)));
  return (tenter_control_worth){q * contrasts, q};
}

/* ---- means over the estimate ---- */

size_t chart_worth_nodes(tenter_control_worth worth, double step, double least, double *ratio,
                         double *weight) {
  double v = worth.freedom, q = worth.power, h = step / sqrt(2 * v), sum = 0, mean = 0;
  size_t count = 0;
  for (int side = -1; side <= 1; side += 2)
    for (int k = side > 0 ? 0 : 1; count < NODES; k++) {
      double l = side * k * h, w = exp(v * l - 0.5 * v * expm1(2 * l));
      if (w < least)
        break;
      ratio[count] = exp(q * l);
      weight[count] = w;
      mean += w * ratio[count];
      sum += w;
      count++;
    }
  for (size_t i = 0; i < count; i++) {
    ratio[i] *= sum / mean;
    weight[i] /= sum;
  }
  return count;
}

typedef struct quotient {
  tenter_control_worth worth;
  size_t count;
  double ratio[NODES], weight[NODES];
  double log_wanted;
} quotient;

static void prepare(quotient *q, tenter_control_worth worth) {
  q->worth = worth;
  q->count =
      worth.power == 1 ? 0 : chart_worth_nodes(worth, fine_step, fine_weight, q->ratio, q->weight);
}

static double tail(const quotient *q, double x) {
  if (q->worth.power == 1)
    return gsl_cdf_tdist_Q(x / tenter_chart_c4(q->worth.freedom + 1), q->worth.freedom);
  double sum = 0;
  for (size_t i = 0; i < q->count; i++)
    sum += q->weight[i] * chart_above(x * q->ratio[i]);
  return sum;
}

double chart_quotient_above(tenter_control_worth worth, double x) {
  quotient q;
  prepare(&q, worth);
  return tail(&q, x);
}

double chart_quotient_density(tenter_control_worth worth, double x) {
  double c4 = tenter_chart_c4(worth.freedom + 1), sum = 0;
  if (worth.power == 1)
    return gsl_ran_tdist_pdf(x / c4, worth.freedom) / c4;
  quotient q;
  prepare(&q, worth);
  for (size_t i = 0; i < q.count; i++)
    sum += q.weight[i] * q.ratio[i] * chart_density(x * q.ratio[i]);
  return sum;
}

static double tail_excess(double log_x, void *context) {
  const quotient *q = context;
  return q->log_wanted - log(tail(q, exp(log_x)));
}

double chart_quotient_quantile(tenter_control_worth worth, double above) {
  if (!(above > 0) || above >= 0.5)
    return above >= 0.5 ? 0 : INFINITY;
  if (worth.power == 1)
    return tenter_chart_c4(worth.freedom + 1) * gsl_cdf_tdist_Qinv(above, worth.freedom);
  quotient q;
  prepare(&q, worth);
  q.log_wanted = log(above);
  double high = 1;
  while (tail(&q, exp(high)) > above && high < 200)
    high += 1;
  return exp(chart_root(tail_excess, &q, -40, high));
}
