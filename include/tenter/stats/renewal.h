/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Age replacement: replace at age t, or on failure if that is sooner, for ever. The cost a unit of
 * time in the long run is (renewal-reward: Barlow, Proschan 1965, Mathematical Theory of
 * Reliability, 4.2)
 *
 *   C(t) = (planned P(T >= t) + failure P(T < t)) / integral of P(T > u) from 0 to t
 *
 * with `planned` the cost of one in time and `failure` that of one too late. A finite t is best
 * only where the hazard rises steeply enough and failures cost more; else the answer is never. */
#ifndef TENTER_STATS_RENEWAL_H
#define TENTER_STATS_RENEWAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/status.h"
#include "tenter/stats/life.h"

typedef struct tenter_renewal_costs {
  double planned, failure; /* above 0, of any unit */
} tenter_renewal_costs;

/* C(t), t > 0; t = INFINITY: failure / mean life (0 where that is infinite). NaN where the curve
 * isn't known or the costs are not above 0. */
double tenter_renewal_rate(const tenter_life_curve *curve, const tenter_renewal_costs *costs,
                           double t);

typedef enum tenter_renewal_answer {
  TENTER_RENEWAL_AT,      /* at `age` */
  TENTER_RENEWAL_NEVER,   /* run to failure: no age costs less */
  TENTER_RENEWAL_AT_LEAST /* steps end while C still falls: at `age` or later, the data don't say */
} tenter_renewal_answer;

typedef struct tenter_renewal {
  tenter_renewal_answer answer;
  double age;             /* INFINITY for never */
  double rate;            /* C(age) */
  double rate_of_failure; /* C(INFINITY); NaN where steps end before */
} tenter_renewal;

/* The age of least cost; the least such. By a law: the root of dC/dt below the peak of the hazard,
 * to 1e-10 of the age, against C(INFINITY); an age that fewer than 1e-15 would reach is never. By
 * steps: exactly, since C falls between steps, so that the best age is that of a step, just before
 * its failures (Bergman 1977, Scand. J. Statist. 4:171); where survival falls to 0 and failures
 * cost more, the age just before the last step always beats never: a sample can't show a hazard
 * that does not rise at its end. TENTER_USAGE where costs are not above 0 and finite, or the law's
 * parameters not finite. Some 0.2 ms by a law. */
tenter_status tenter_renewal_best(const tenter_life_curve *curve, const tenter_renewal_costs *costs,
                                  tenter_renewal *renewal, tenter_error *error);

/* How sure the age is: the ages of least cost of `draws` curves, at `level`. draw makes curve
 * number i (it stays valid until the next call). low and high are percentiles of the age, INFINITY
 * where never is among them; never: the share of draws that say so. A draw whose steps end counts
 * with the age found. */
typedef tenter_status tenter_renewal_draw(void *context, size_t draw, tenter_life_curve *curve,
                                          tenter_error *error);
typedef struct tenter_renewal_spread {
  double low, high;
  double never;
} tenter_renewal_spread;
tenter_status tenter_renewal_spread_of(tenter_renewal_draw *draw, void *context, size_t draws,
                                       double level, const tenter_renewal_costs *costs,
                                       tenter_renewal_spread *spread, tenter_error *error);

#endif
