/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The range of a normal sample of size n (sd 1), and the constants of control charts that come
 * from it, from their definitions and not from a table.
 *
 * P(range <= r) = n * integral of phi(x) (Phi(x + r) - Phi(x))^(n-1) dx over x, the smallest value
 * (Tippett 1925, Biometrika 17:364; Hartley 1942, Biometrika 32:309). d2 = E range = integral of
 * 1 - P(range <= r); E range^2 = 2 * integral of r (1 - P); d3 = sd of the range. c4 = E s for
 * sigma = 1 by gamma functions (ISO 7870-2:2013, annex; ASTM E2587).
 * Accuracy 1e-10. NaN for n < 2 (or n > 10000). Cost of d2 and d3: about 0.1 ms; keep them. */
#ifndef TENTER_STATS_RANGE_H
#define TENTER_STATS_RANGE_H

#include <stddef.h>

/* P(range of n standard normals <= r); 0 for r <= 0. */
double tenter_range_below(size_t n, double r);

/* r with P(range <= r) = p; 0 at p = 0, inf at 1, NaN outside. */
double tenter_range_quantile(size_t n, double p);

/* Mean and sd of the range of n standard normals. */
typedef struct tenter_range_constants {
  double d2, d3;
} tenter_range_constants;
tenter_range_constants tenter_range_moments(size_t n);

/* Mean of the sample sd (divisor n - 1) of n standard normals: sqrt(2 / (n - 1)) Gamma(n / 2) /
 * Gamma((n - 1) / 2). */
double tenter_sd_c4(size_t n);

#endif
