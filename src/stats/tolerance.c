/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tolerance factors. Relies on the noncentral t and GSL's chi-square. */
#include "tenter/stats/tolerance.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdbool.h>

#include "chart_numeric.h"
#include "tenter/stats/noncentral.h"
#include "tenter/stats/normal.h"

enum { NODES = 81 };

static const double step = 0.125; /* of z, from 0 to 10: trapezoid of an even, analytic function */

static bool is_share(double p) {
  return p > 0 && p < 1;
}

double tenter_tolerance_one_sided(size_t count, double content, double confidence) {
  if (count < 2 || !is_share(content) || !is_share(confidence))
    return NAN;
  double root = sqrt((double)count), delta = tenter_normal_quantile(content) * root;
  return tenter_noncentral_t_quantile(confidence, (double)count - 1, delta) / root;
}

/* ---- two-sided ---- */

typedef struct half_width {
  double centre, content;
} half_width;

static double content_off(double r, void *context) {
  const half_width *h = context;
  return tenter_normal_between(h->centre, 1, -r, r) - h->content;
}

typedef struct factor {
  double radius[NODES], freedom, confidence;
} factor;

/* The confidence that a factor gives, less the one wanted; rises with k. */
static double confidence_off(double k, void *context) {
  const factor *f = context;
  double sum = 0;
  for (size_t i = 0; i < NODES; i++) {
    double z = (double)i * step, ratio = f->radius[i] / k;
    double p = gsl_cdf_chisq_Q(f->freedom * ratio * ratio, f->freedom);
    sum += (i == 0 ? 1 : 2) * step * tenter_normal_density(z) * p;
  }
  return sum - f->confidence;
}

double tenter_tolerance_two_sided(size_t count, double content, double confidence) {
  if (count < 2 || !is_share(content) || !is_share(confidence))
    return NAN;
  factor f = {.freedom = (double)count - 1, .confidence = confidence};
  double z = tenter_normal_quantile((1 + content) / 2);
  for (size_t i = 0; i < NODES; i++) {
    half_width h = {(double)i * step / sqrt((double)count), content};
    f.radius[i] = chart_root(content_off, &h, z / 2, h.centre + z + 1);
  }
  double low = z / 2, high = 2 * z;
  while (confidence_off(low, &f) > 0)
    low /= 2;
  while (confidence_off(high, &f) < 0 && high < 1e9)
    high *= 2;
  return chart_root(confidence_off, &f, low, high);
}

/* ---- whatever the law ---- */

typedef struct range_of {
  double n, confidence;
} range_of;

static double range_off(double content, void *context) {
  const range_of *r = context;
  double power = pow(content, r->n - 1);
  return 1 - r->n * power + (r->n - 1) * power * content - r->confidence;
}

double tenter_tolerance_range_content(size_t count, double confidence) {
  if (count < 2 || !is_share(confidence))
    return NAN;
  range_of r = {(double)count, confidence};
  return chart_root(range_off, &r, 0, 1);
}
