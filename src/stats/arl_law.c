/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The law of standardised points, also where centre and sigma were estimated. Relies on
 * chart_internal and chart_numeric. */
#include <math.h>

#include "arl_internal.h"
#include "chart_internal.h"
#include "chart_numeric.h"
#include "tenter/base/alloc.h"

/* Cubic Hermite pieces between knots on [0, 8]; t(-z) = -t(z), t the quotient. Beyond 8, where P <
 * 1e-15, straight on. */
enum { KNOTS_A_UNIT = 32, LAST_KNOT = 8 * KNOTS_A_UNIT };

struct arl_stretch {
  double t[LAST_KNOT + 1], slope[LAST_KNOT + 1];
};

arl_stretch *arl_stretch_new(tenter_control_worth worth) {
  arl_stretch *s = tenter_alloc(1, sizeof *s);
  for (int k = 0; s && k <= LAST_KNOT; k++) {
    double z = (double)k / KNOTS_A_UNIT;
    s->t[k] = k == 0 ? 0 : chart_quotient_quantile(worth, chart_above(z));
    s->slope[k] = chart_density(z) / chart_quotient_density(worth, s->t[k]);
  }
  return s;
}

/* t(|z|) and its slope. */
static double stretched(const arl_stretch *s, double z, double *slope) {
  double at = fabs(z) * KNOTS_A_UNIT;
  if (at >= LAST_KNOT) {
    *slope = s->slope[LAST_KNOT];
    return s->t[LAST_KNOT] + *slope * (at - LAST_KNOT) / KNOTS_A_UNIT;
  }
  size_t k = (size_t)at;
  double u = at - (double)k, step = s->t[k + 1] - s->t[k];
  double a = s->slope[k] / KNOTS_A_UNIT, b = s->slope[k + 1] / KNOTS_A_UNIT;
  double c2 = 3 * step - 2 * a - b, c3 = a + b - 2 * step;
  *slope = (a + u * (2 * c2 + 3 * c3 * u)) * KNOTS_A_UNIT;
  return s->t[k] + u * (a + u * (c2 + c3 * u));
}

arl_law arl_law_of(tenter_process process) {
  return (arl_law){process.shift, process.scale, 0, 1, NULL};
}

/* The standard normal number of x at z, and dx/dz over the scale. */
static double place(const arl_law *law, double z, double *slope) {
  double t = z;
  *slope = 1;
  if (law->stretch)
    t = copysign(stretched(law->stretch, z, slope), z);
  *slope *= law->unit / law->scale;
  return (law->centre + law->unit * t - law->shift) / law->scale;
}

double arl_law_density(const arl_law *law, double z) {
  double slope, x = place(law, z, &slope);
  return chart_density(x) * slope;
}

double arl_law_below(const arl_law *law, double z) {
  double slope;
  return chart_below(place(law, z, &slope));
}

double arl_law_above(const arl_law *law, double z) {
  double slope;
  return chart_above(place(law, z, &slope));
}
