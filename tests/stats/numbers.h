/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random numbers for tests, and the head of their files. */
#ifndef TEST_STATS_NUMBERS_H
#define TEST_STATS_NUMBERS_H

#include "chart_rows.h"

#include <stdint.h>

/* splitmix64 (Steele, Lea, Flood 2014). */
static inline double number_uniform(uint64_t *seed) {
  uint64_t x = *seed += 0x9e3779b97f4a7c15U;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebU;
  return ((double)((x ^ (x >> 31)) >> 11) + 0.5) * 0x1p-53;
}

/* Box and Muller 1958. */
static inline double number_normal(uint64_t *seed) {
  double r = sqrt(-2 * log(number_uniform(seed)));
  return r * cos(2 * M_PI * number_uniform(seed));
}

/* The share of hits in count trials must lie within four standard errors of p. */
static inline void assert_share(double hits, double count, double p) {
  assert_close(hits / count, p, 0, 4 * sqrt(p * (1 - p) / count) + 1e-12);
}

#endif
