/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks for relaxation curves. One formula holds for all of them; expm1 and log1p keep it exact
 * near its limits. */
#include "tenter/stats/clock.h"

#include <math.h>

/* (exp(growth v) - 1) / growth, and v for growth 0. */
static double stretched(double growth, double v) {
  return growth > 0 ? expm1(growth * v) / growth : v;
}

double tenter_clock_u(tenter_clock clock, double decades) {
  if (tenter_clock_is_log(clock))
    return decades;
  double d = stretched(clock.growth, decades * M_LN10), unit = stretched(clock.growth, M_LN10);
  return clock.ease > 0 ? expm1(-clock.ease * d) / expm1(-clock.ease * unit) : d / unit;
}

double tenter_clock_rate(tenter_clock clock, double decades) {
  if (tenter_clock_is_log(clock))
    return 1;
  double v = decades * M_LN10, d = stretched(clock.growth, v);
  double unit = stretched(clock.growth, M_LN10);
  double whole = clock.ease > 0 ? -expm1(-clock.ease * unit) / clock.ease : unit;
  return exp(clock.growth * v - clock.ease * d) * M_LN10 / whole;
}

double tenter_clock_end(tenter_clock clock) {
  if (!(clock.ease > 0))
    return INFINITY;
  return -1 / expm1(-clock.ease * stretched(clock.growth, M_LN10));
}

double tenter_clock_decades(tenter_clock clock, double u) {
  if (tenter_clock_is_log(clock))
    return u;
  if (u >= tenter_clock_end(clock))
    return INFINITY;
  double unit = stretched(clock.growth, M_LN10), d = u * unit;
  if (clock.ease > 0)
    d = -log1p(u * expm1(-clock.ease * unit)) / clock.ease;
  if (clock.growth > 0)
    d = clock.growth * d > -1 ? log1p(clock.growth * d) / clock.growth : -INFINITY;
  return d / M_LN10;
}

double tenter_clock_tau_hours(tenter_clock clock) {
  return clock.ease > 0 && clock.growth > 0 ? 24 * pow(clock.growth / clock.ease, 1 / clock.growth)
                                            : NAN;
}
