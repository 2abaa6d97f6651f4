/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measured value against limits, its uncertainty counted.
 *
 * The true value is taken as N(value, u^2) given the measurement (JCGM 106:2012, 7.1 and 7.2: a
 * prior that says little; clause numbers from memory). Limits may be -inf or inf: one-sided or
 * none. u >= 0; u = 0 is a value known exactly. NaN anywhere gives NaN, and UNDECIDED. */
#ifndef TENTER_STATS_CONFORMITY_H
#define TENTER_STATS_CONFORMITY_H

/* P(low <= true value <= high) (JCGM 106:2012, 7.2-7.4). */
double tenter_conformity_probability(double value, double u, double low, double high);

typedef enum tenter_conformity {
  TENTER_CONFORMITY_INSIDE,
  TENTER_CONFORMITY_UNDECIDED,
  TENTER_CONFORMITY_OUTSIDE
} tenter_conformity;

/* Decision with guard bands of U = k u on both sides of each limit: INSIDE when within the limits
 * by at least U, OUTSIDE when beyond one of them by at least U (JCGM 106:2012, 8.3.2 and 8.3.3; ISO
 * 14253-1:2017, 5), UNDECIDED between. k = 1.645 holds the chance to be wrong at one limit to 5 %.
 * k = 0 is simple acceptance (8.2): INSIDE at the limits and within, else OUTSIDE. Where the limits
 * are closer than 2 U nothing is INSIDE. */
tenter_conformity tenter_conformity_decide(double value, double u, double k, double low,
                                           double high);

#endif
