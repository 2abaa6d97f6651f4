/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How well a process keeps its limits: capability indices with their intervals, and the share of
 * what it makes that lies outside.
 *
 *   Cp  = (upper - lower) / (6 within)     Cpk = least of (upper - mean), (mean - lower) / (3
 * within) Pp  = (upper - lower) / (6 sd)         Ppk = the same with sd       (ISO 22514-2;
 * e-Handbook 6.1.6)
 *
 * within: sigma of neighbours in order of making, from moving ranges (charts.h); sd: of all. A
 * limit of -inf or inf is none: Cp and Pp are NaN with one limit, all are NaN with none. They
 * suppose a normal law: test it (normality.h). */
#ifndef TENTER_STATS_CAPABILITY_H
#define TENTER_STATS_CAPABILITY_H

#include <stddef.h>

#include "tenter/base/status.h"
#include "tenter/stats/trend.h"

/* An index or a share and its interval at the level asked for. */
typedef struct tenter_estimate {
  double value, low, high;
} tenter_estimate;

typedef struct tenter_capability {
  size_t count;
  double mean, sd;                       /* of all; sd NaN below 2 values */
  double within;                         /* NaN where neighbours can't tell */
  double within_freedom;                 /* what within is worth, as degrees of freedom */
  tenter_estimate cp, cpk;               /* by within */
  tenter_estimate pp, ppk;               /* by sd */
  tenter_estimate below, above, outside; /* shares beyond the limits under a normal law */
  size_t counted;                        /* values outside the limits */
  tenter_interval counted_share;         /* exact, whatever the law */
} tenter_capability;

/* Of count values in order of making, at a level (0.95) of the intervals:
 *   cp, pp     chi-square of the estimate of sigma (exact for pp)
 *   cpk, ppk   with two limits Bissell's (1990, Appl. Statist. 39:331): +- z sqrt(1/(9n) +
 *              C^2/(2 freedom)), an approximation that is fair from about 25 values on; with one
 *              limit ppk's is exact (noncentral t)
 *   below, above   value: the least-variance unbiased estimate (Lieberman, Resnikoff 1955, J. Amer.
 *              Statist. Ass. 50:457; the p of ISO 3951), interval exact by the noncentral t
 *   outside    the sum; its interval joins those of both sides at half the error each, so it covers
 *              at least at its level
 * Fewer than 3 values, or equal ones: indices and shares NaN. TENTER_FAILED without memory. A few
 * milliseconds. */
tenter_status tenter_capability_of(const double *values, size_t count, double lower, double upper,
                                   double level, tenter_capability *capability,
                                   tenter_error *error);

#endif
