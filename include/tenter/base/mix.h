/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mixing bits: for hashes of sets and for seeded random numbers. */
#ifndef TENTER_BASE_MIX_H
#define TENTER_BASE_MIX_H

#include <stdint.h>

#define TENTER_MIX_STEP 0x9e3779b97f4a7c15U /* between the states of a sequence */

/* A number with unlike bits for each x: a step of splitmix64 (Steele, Lea and Flood 2014, OOPSLA).
 */
static inline uint64_t tenter_mix(uint64_t x) {
  x += TENTER_MIX_STEP;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebU;
  return x ^ (x >> 31);
}

/* Uniform in (0, 1). The same state gives the same sequence everywhere; nearby states give unlike
 * ones. GSL's generators take the heap; this is eight bytes, so that each task can have its own. */
static inline double tenter_draw_uniform(uint64_t *state) {
  uint64_t x = tenter_mix(*state);
  *state += TENTER_MIX_STEP;
  return ((double)(x >> 11) + 0.5) * 0x1p-53;
}

#endif
