/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual pattern over points, by a robust additive model.
 *
 * Model. reading = level of its session + effect of its point + pattern of its group at that point
 * + noise; noise ~ N(0, sd_reading^2 / weight), pattern ~ N(0, sd_pattern^2). A point is a place
 * and direction, a group the sessions of one thing read several times (one screen). Effects sum to
 * zero over the points that were read.
 *
 * Estimator. Levels and effects by Huber's M-estimate (k = 1.345, 95 % efficient at the normal)
 * with his "proposal 2" scale, the degrees of freedom of the levels counted (Huber 1981, Robust
 * Statistics, 7.7-7.8; what MASS::rlm gives with scale.est = "proposal 2"). One wrong reading moves
 * nothing by more than a clipped one would. Levels are eliminated; the points x points system that
 * remains is summed once and solved exactly, so incomplete layouts cost nothing in accuracy; each
 * step is one pass over the readings (Huber's modified residuals). Then variances: reading and
 * pattern by Henderson's method 3 (Henderson 1953, Biometrics 9:226; Searle, Casella, McCulloch
 * 1992, Variance Components, 5.5) on the readings within TENTER_ADDITIVE_REACH.
 *
 * An adjusted session mean is the plain mean less tenter_additive_offset of its points: with a
 * complete, equal layout that is the plain mean.
 *
 * Cost: 10 to 20 passes, 0.25 us a reading in all on one thread; memory 8 bytes a session. Fixed
 * blocks, so that results do not depend on the number of threads. */
#ifndef TENTER_STATS_ADDITIVE_H
#define TENTER_STATS_ADDITIVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/pool.h"
#include "tenter/base/status.h"

enum { TENTER_ADDITIVE_POINTS = 1024 }; /* the most points */

/* Readings further than this many sds from the fit are left out of the variances; of a normal
 * sample that is one in 1.7 million. */
#define TENTER_ADDITIVE_REACH 5.0

/* Borrowed for the call. Session s has the readings first[s] .. first[s] + length[s] - 1 of value
 * and point, which may hold other readings too; length may be 0. */
typedef struct tenter_additive_data {
  size_t sessions;
  const uint32_t *first, *length; /* by session */
  const uint32_t *group;          /* by session: sessions of a group follow each other; NULL: each
                                     session is a group of its own */
  size_t points;                  /* point indices are below this */
  const double *value;            /* by reading, finite */
  const uint16_t *point;          /* by reading */
  const double *weight;           /* by reading, above 0; NULL: all 1 */
} tenter_additive_data;

typedef struct tenter_additive_fit {
  size_t points, sessions;
  double *effect;     /* by point; NaN for a point without readings */
  double *effect_se;  /* of the effect as the usual one: noise and the groups' own patterns;
                         NaN where every reading was left out */
  size_t *readings;   /* by point */
  double *level;      /* by session, robust; NaN without readings */
  size_t parts;       /* sets of points no session links: effects sum to zero in each, and compare
                         only within (1 = all linked) */
  double sd_residual; /* Huber's scale: reading and pattern together; NaN with no df */
  double sd_reading, df_reading; /* NaN and 0 where nothing was repeated (no group with two
                                    sessions at a point, no point twice in a session) */
  double sd_pattern, df_pattern; /* 0 where the data show none; NaN and 0 where it can't be told */
  size_t left_out;               /* readings beyond TENTER_ADDITIVE_REACH */
  size_t steps;
  bool converged; /* false: 100 steps did not settle to 1e-8 of the scale */
} tenter_additive_fit;

/* Fits. pool may be NULL. TENTER_USAGE for more points than TENTER_ADDITIVE_POINTS; TENTER_INPUT
 * for a point out of range, a value that is not finite or a weight not above 0 (session and reading
 * are named); TENTER_FAILED without memory. No readings at all is no error: everything is NaN.
 * On success release *fit. */
tenter_status tenter_additive_run(const tenter_additive_data *data, tenter_pool *pool,
                                  tenter_additive_fit *fit, tenter_error *error);
void tenter_additive_fit_release(tenter_additive_fit *fit);

/* Mean of the effects over count points (as a session read them, repeats counted): what to take off
 * the plain mean of a session. Points whose effect is NaN count as 0. 0 for no points. */
double tenter_additive_offset(const tenter_additive_fit *fit, const uint16_t *point, size_t count);

#endif
