/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When a falling line that is known with an error reaches a floor.
 *
 * Model. L(age) = level - loss u, u(age) the line's clock (clock.h), log10(age / 24 h) unless told
 * otherwise; (level, loss) bivariate normal. A forecast is a weighted mixture of such lines, each
 * with its own age now and its own clock, all on one scale with the floor.
 *
 *   P(t) = P(L(now) < floor or L(now + t) < floor)
 *
 * For one line that is 1 - P(X > h, Y > k) of a bivariate normal (normal.h), whose correlation is
 * worked out without cancellation from the determinant of the covariance. A line that passes the
 * floor between now and t is below it at one of the two ends, so this is the chance to have been
 * below by t; it never falls with t, and at t = 0 it is P(L(now) < floor).
 *
 * Ages are above 0; time is in hours from now. Covariances are positive semidefinite; a small
 * negative determinant counts as 0. NaN in a line of weight above 0 gives NaN. Nothing is
 * allocated. Cost: about 0.3 us a line for P; about 4 evaluations for a time. */
#ifndef TENTER_STATS_CROSSING_H
#define TENTER_STATS_CROSSING_H

#include <stddef.h>

#include "tenter/stats/clock.h"

typedef struct tenter_crossing_line {
  double weight;                   /* >= 0; those of a mixture sum to 1 */
  double age_hours;                /* now */
  double level, loss;              /* at 24 h; from there to 240 h */
  double var_level, var_loss, cov; /* cov of level and loss */
  tenter_clock clock;              /* zeros: the log clock */
} tenter_crossing_line;

/* P(t) of the mixture, hours = t >= 0, finite. Absolute error below 1e-13. */
double tenter_crossing_probability(const tenter_crossing_line *lines, size_t count, double floor,
                                   double hours);

/* The least time within which the chance to have been below reaches p (0 < p < 1): 0 where it has
 * done so now, INFINITY where it does not by most_hours (finite), as where all lines level off
 * above the floor. P at the time found is p within 1e-9, or, where P jumps (lines known exactly),
 * the time is that of the jump within 1e-12 of the age. *evaluations (may be NULL) is raised by how
 * often P was worked out for the whole mixture.
 *
 * Start: the lines as one normal (mixture mean and covariance), whose lower quantile line
 * mean - z sd = floor is a quadratic in u (Fieller 1954, J. R. Statist. Soc. B 16:175). Then Newton
 * steps on the normal score of P in log age, held in a shrinking bracket. */
double tenter_crossing_time(const tenter_crossing_line *lines, size_t count, double floor, double p,
                            double most_hours, size_t *evaluations);

#endif
