/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks: time axes on which a relaxation curve is a straight line.
 *
 *   T(t) = level - loss u(t),   u(24 h) = 0,   u(240 h) = 1
 *
 * so that loss is what is lost from 24 h to 240 h whatever the law: a level and a loss per decade
 * mean the same on every clock, and all that is done with lines in log10(age / 24 h) can be done
 * with lines on any clock. With v = ln(t / 24 h),
 *
 *   d(v) = ease (exp(growth v) - 1) / growth,   u = (1 - exp(-d(v))) / (1 - exp(-d(ln 10)))
 *
 * which is the stretched exponential exp(-(t / tau)^beta) with beta = growth and
 * tau = 24 h (growth / ease)^(1 / growth), written so that its limits belong to it:
 *
 *   ease = 0, growth = 0   the log law, u = log10(t / 24 h): the zero clock
 *   growth = 0             a power law that falls to a level, t^-ease
 *   growth = 1             the standard linear solid, exp(-t / tau)
 *
 * ease is how much the loss per unit of v falls with v at 24 h, as a rate; at v it is
 * ease exp(growth v) - growth. The law levels off where ease > 0: u stays below tenter_clock_end.
 *
 * Which clock? tenter_clocks_find weighs them by the likelihood of the data on each. */
#ifndef TENTER_STATS_CLOCK_H
#define TENTER_STATS_CLOCK_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"

typedef struct tenter_clock {
  double growth, ease; /* 0 .. 1; >= 0 */
} tenter_clock;

static inline bool tenter_clock_is_log(tenter_clock clock) {
  return clock.growth == 0 && clock.ease == 0;
}

/* u at an age given as decades = log10(age / 24 h); rises with it. NaN for NaN. */
double tenter_clock_u(tenter_clock clock, double decades);

/* du / d decades there; 1 on the log clock. */
double tenter_clock_rate(tenter_clock clock, double decades);

/* The age at which u is reached, as decades; infinite where it never is. */
double tenter_clock_decades(tenter_clock clock, double u);

/* What u tends to; infinite on the log clock. */
double tenter_clock_end(tenter_clock clock);

/* tau of the stretched exponential in hours; NaN where growth or ease is 0. */
double tenter_clock_tau_hours(tenter_clock clock);

/* ---- which clock ---------------------------------------------------------------------------- */

enum { TENTER_CLOCKS = 7 }; /* the most that stand for all plausible ones */

/* Where the data lie: their mean age and the oldest, as decades. */
typedef struct tenter_clock_span {
  double centre, oldest;
} tenter_clock_span;

/* Fills loglik[i], the maximised log-likelihood of the same data on clock[i]; NaN or -infinity
 * where nothing can be fitted. */
typedef void tenter_clock_loglik(void *context, size_t count, const tenter_clock *clock,
                                 double *loglik);

typedef struct tenter_clocks {
  size_t count;
  tenter_clock clock[TENTER_CLOCKS]; /* the log clock first, then the others by falling weight */
  double weight[TENTER_CLOCKS];      /* > 0; they add up to 1 */
  tenter_clock best;                 /* the likeliest that was looked at */
  double gain;                       /* its log-likelihood above that of the log clock; >= 0 */
} tenter_clocks;

/* Weighs the clocks. All others together against the log clock by weights of Akaike's kind:
 * exp(gain
 * - 1) to 1. A clock has two parameters, but the log clock lies at the edge of both (neither can be
 * negative), where they gain half as much by chance as free ones (Kuiper, Hoijtink, Silvapulle
 * 2011, Biometrika 98:495, from memory); data that can't tell leave 73 % with the log clock.
 * Among the others by likelihood, spread beforehand evenly over growth in [0, 1] (six of them) and
 * the root of ease at the centre in [0, 2]. Clocks on which the loss per decade would still grow
 * at the oldest age are left out: they have not levelled off yet, and a loss that grows with age is
 * more often wear than relaxation. Each growth's points lie the closer the likelier they are, and
 * stand for the lengths between them; the lot is thinned to few that keep the weights' total,
 * means, squares and product (Tchakaloff's theorem). Some 50 to 100 likelihoods, in a few calls.
 * Deterministic. Where the log clock itself can't be fitted it is the only one. */
void tenter_clocks_find(tenter_clock_span span, tenter_clock_loglik *loglik, void *context,
                        tenter_clocks *clocks);

#endif
