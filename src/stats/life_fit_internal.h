/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search for the greatest likelihood of a law, free or on a plane.
 *
 * Parameters are those in which it is concave: g = b / scale, then theta = 1 / scale, so that
 * w = theta log t - x'g is linear in them. With the exponential law theta stays 1. */
#ifndef TENTER_STATS_LIFE_FIT_INTERNAL_H
#define TENTER_STATS_LIFE_FIT_INTERNAL_H

#include "tenter/stats/life_fit.h"

typedef struct life_search {
  const tenter_life *life;
  const tenter_life_design *design;
  tenter_life_law law;
  size_t terms, free;                      /* free: terms, and one more where theta is free */
  double *log_lower, *log_upper;           /* -INFINITY for 0 */
  double *at;                              /* g and theta, terms + 1 */
  double *gradient, *step, *trial, *along; /* terms + 1 each */
  double *low_row, *high_row;
  double *information; /* minus the Hessian, then its Cholesky factor: free rows and columns */
  double *scale;       /* of rows and columns before the factor was made */
  double loglik;
  double promise; /* of the last step: what it was to gain, twice */
  size_t iterations;
} life_search;

/* Room, and logarithms of the times. life is checked. */
tenter_status life_search_make(const tenter_life *life, const tenter_life_design *design,
                               tenter_life_law law, life_search *search, tenter_error *error);
void life_search_release(life_search *search);

/* Log-likelihood at a point (terms + 1), without the derivative of log t; with derivatives in
 * gradient and information where these are wanted. */
double life_search_value(life_search *search, const double *at, bool derive);

/* The information at `at`, factored. False where it is not positive definite. */
bool life_search_factor(life_search *search);
/* information x = b, by the factor; x may be b. */
void life_search_solve(const life_search *search, const double *b, double *x);

/* Climbs from `at`. plane NULL: freely; else with plane'(parameters) kept as it is at the start. */
bool life_search_climb(life_search *search, const double *plane);

/* Row i of the design into x. */
void life_search_row(const tenter_life_design *design, size_t i, double *x);

#endif
