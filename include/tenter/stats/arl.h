/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths: how many points a chart takes to signal, with nothing wrong (false alarms) and after
 * a shift (how soon it is seen). Computed, not simulated:
 *
 *   EWMA, CUSUM  the integral equation of the run length (Page 1954; Crowder 1987, Technometrics
 *                29:401) by Gauss-Legendre quadrature (Nystroem), with an atom at a reflecting
 *                barrier, nodes doubled until two answers agree. Exact EWMA limits: the density of
 *                the average carried forward until the limits stand still.
 *   run rules    the absorbing Markov chain of Champ and Woodall (1987, Technometrics 29:393): the
 *                stream of rules.h itself is walked over zones and reduced to the fewest states.
 *                Trends and zigzags depend on the value of the last point too: its density is kept
 * a polynomial a zone in the probability scale, where a step is an integration. */
#ifndef TENTER_STATS_ARL_H
#define TENTER_STATS_ARL_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"
#include "tenter/stats/charts.h"
#include "tenter/stats/rules.h"

typedef enum tenter_scheme_kind {
  TENTER_SCHEME_RULES,
  TENTER_SCHEME_EWMA,
  TENTER_SCHEME_CUSUM
} tenter_scheme_kind;

/* A chart of standardised points. Set the fields of its kind; the others 0. */
typedef struct tenter_scheme {
  tenter_scheme_kind kind;
  bool one_sided;                         /* EWMA, CUSUM: upwards only, with a barrier at 0 */
  tenter_rules rules;                     /* rules: at least one */
  double lambda, width;                   /* EWMA: in (0, 1], > 0 */
  bool exact;                             /* EWMA: limits exact from the first point, else steady */
  double reference, decision, head_start; /* CUSUM: >= 0, > 0, 0 ... decision / 2 (one-sided: up to
                                             decision) */
} tenter_scheme;

/* What the points are: independent normal with this mean and standard deviation (0 and 1 while
 * nothing is wrong and the limits are right). */
typedef struct tenter_process {
  double shift, scale;
} tenter_process;

/* Average run length from the start of the chart. Relative accuracy about 1e-8. TENTER_USAGE for
 * parameters outside their ranges; TENTER_FAILED without memory, or where no answer is found (run
 * lengths over 1e12). */
tenter_status tenter_arl(const tenter_scheme *scheme, tenter_process process, double *arl,
                         tenter_error *error);

/* Average number of points from a change to the signal, when the chart ran long before without one
 * (points N(0, 1) until then). EWMA with steady limits, one-sided CUSUM, rules without trend and
 * zigzag; TENTER_USAGE for others. */
tenter_status tenter_arl_steady(const tenter_scheme *scheme, tenter_process process, double *arl,
                                tenter_error *error);

/* alive[i] = P(no signal among the first i points), i = 0 ... count - 1. Not for two-sided CUSUM
 * (TENTER_USAGE). */
tenter_status tenter_arl_alive(const tenter_scheme *scheme, tenter_process process, size_t count,
                               double *alive, tenter_error *error);

/* How the limits were come by, seen from a point: the variance of the centre in units of the
 * point's own, how sigma varies. when: how points are standardised (tenter_control_z). */
typedef struct tenter_estimated {
  bool known; /* then the others have no meaning */
  double centre_variance;
  tenter_control_worth worth;
  tenter_control_when when;
} tenter_estimated;

/* That of limits for points that are averages of n. */
tenter_estimated tenter_estimated_of(const tenter_control_limits *limits, size_t n,
                                     tenter_control_when when);

/* Signals to expect a point, in the long run, from a chart that begins anew after each, with limits
 * estimated so: the mean of 1 / run length over what the estimates could be. process is relative to
 * the true centre and sigma. Known limits: 1 / tenter_arl. Within 1 part in 1000; costs some forty
 * run lengths (milliseconds; seconds with trend and zigzag together with the other rules, so ask
 * once for charts that were estimated alike).
 *
 * Widened limits keep the rate of single points. What adds points up (EWMA, CUSUM, long runs) adds
 * the error of the centre up too and alarms more often than for known limits all the same: this is
 * the number to announce, tenter_scheme_design the way to mend it. */
tenter_status tenter_arl_rate(const tenter_scheme *scheme, tenter_process process,
                              const tenter_estimated *estimated, double *rate, tenter_error *error);

/* Sets the width (EWMA) or decision (CUSUM; head_start keeps its share of it) so that false signals
 * come once in arl points: the in-control run length for known limits (estimated NULL), the
 * reciprocal of tenter_arl_rate for estimated ones. Within 1e-4. TENTER_USAGE for rules, for arl
 * outside 5 ... 1e6, or when no size below 500 will do. */
tenter_status tenter_scheme_design(tenter_scheme *scheme, const tenter_estimated *estimated,
                                   double arl, tenter_error *error);

#endif
