/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random numbers: the same seed gives the same on every machine with IEEE arithmetic and the
 * same libm. A seed is the state; nearby seeds give unlike sequences. */
#ifndef TENTER_STATS_DRAWS_H
#define TENTER_STATS_DRAWS_H

#include <math.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/mix.h"
#include "tenter/stats/trend.h"

/* Standard normal (Box, Muller 1958). */
static inline double draw_normal(uint64_t *seed) {
  double radius = sqrt(-2 * log(tenter_draw_uniform(seed)));
  return radius * cos(2 * M_PI * tenter_draw_uniform(seed));
}

/* Gamma with mean and variance `shape` > 0: Marsaglia, Tsang 2000, ACM Trans. Math. Softw. 26:363;
 * below 1 by their section 6. */
static inline double draw_gamma(uint64_t *seed, double shape) {
  double raised = shape < 1 ? shape + 1 : shape, d = raised - 1.0 / 3, c = 1 / sqrt(9 * d), v;
  for (;;) {
    double z = draw_normal(seed);
    v = 1 + c * z;
    if (v <= 0)
      continue;
    v = v * v * v;
    if (log(tenter_draw_uniform(seed)) < 0.5 * z * z + d - d * v + d * log(v))
      break;
  }
  return shape < 1 ? d * v * pow(tenter_draw_uniform(seed), 1 / shape) : d * v;
}

/* Both percentiles that leave (1 - level) / 2 outside, each outward to the next draw, since
 * infinity has no neighbours to mix with. Sorts the values, of which there is one at least and none
 * NaN. */
tenter_interval draw_percentiles(double *values, size_t count, double level);

#endif
