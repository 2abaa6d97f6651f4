/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files of the run lengths. */
#ifndef TENTER_STATS_ARL_INTERNAL_H
#define TENTER_STATS_ARL_INTERNAL_H

#include <stdint.h>

#include "tenter/stats/arl.h"

/* ---- the law of the standardised points ---- */

/* The quotient z' sigma / estimate as a function of z at equal probability, on a grid: arl_law.c.
 */
typedef struct arl_stretch arl_stretch;

/* x ~ N(shift, scale^2) in units of the true sigma from the true centre; the chart sees
 *   z = (x - centre) / unit                  (stretch NULL), or
 *   x - centre = unit * quotient(z)          with the stretch, which is linear beyond its grid. */
typedef struct arl_law {
  double shift, scale, centre, unit;
  const arl_stretch *stretch;
} arl_law;

arl_law arl_law_of(tenter_process process);

double arl_law_density(const arl_law *law, double z);
double arl_law_below(const arl_law *law, double z);
double arl_law_above(const arl_law *law, double z);

/* For an estimate of this worth; NULL without memory. Release with tenter_free. */
arl_stretch *arl_stretch_new(tenter_control_worth worth);

/* ---- EWMA and CUSUM (arl_sums.c) ---- */

/* How far two answers may differ: a share of the run length, an amount of its reciprocal; run
 * lengths over longest come back as infinity. */
typedef struct arl_accuracy {
  double relative, rate, longest;
} arl_accuracy;

tenter_status arl_sums(const tenter_scheme *scheme, const arl_law *law, arl_accuracy accuracy,
                       double *arl, tenter_error *error);
tenter_status arl_sums_steady(const tenter_scheme *scheme, const arl_law *law,
                              arl_accuracy accuracy, double *arl, tenter_error *error);
tenter_status arl_sums_alive(const tenter_scheme *scheme, const arl_law *law, arl_accuracy accuracy,
                             size_t count, double *alive, tenter_error *error);

/* ---- run rules (arl_chain.c, arl_rules.c) ---- */

enum { ARL_ZONES = 8 }; /* cut at -3 ... 3 */

/* The chain of a set of rules without trend and zigzag, reduced to the fewest states. State 0 is
 * the start. */
typedef struct arl_chain {
  size_t count;
  int32_t *next; /* [state][zone]; -1 = a rule is met */
} arl_chain;

/* keep_zone: states also tell the zone of the last point. */
tenter_status arl_chain_new(tenter_rules rules, bool keep_zone, arl_chain *chain,
                            tenter_error *error);
void arl_chain_free(arl_chain *chain);

/* A set of rules made ready for any number of laws. */
typedef struct arl_rules arl_rules;
tenter_status arl_rules_new(tenter_rules rules, arl_rules **ready, tenter_error *error);
void arl_rules_free(arl_rules *ready);

/* steady: N(0, 1) without a signal until all has settled, then the law. */
tenter_status arl_rules_length(arl_rules *ready, const arl_law *law, bool steady,
                               arl_accuracy accuracy, double *arl, tenter_error *error);
void arl_rules_alive(arl_rules *ready, const arl_law *law, size_t count, double *alive);

#endif
