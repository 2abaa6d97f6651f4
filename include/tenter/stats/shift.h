/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of several sources of readings moved, and when: a source is a meter, a person, or all.
 *
 * Model. Row i of unit k (a mounting), read at time bin t by sources m (first kind: meters) and o
 * (second kind: operators):
 *
 *   y = a_k + (b_g(k) + d_k) u + c(u) + p_m + q_o + sum_j size_j share_j(t) [row is of j's source]
 *       + e,      d_k ~ N(0, slope_sd^2),   var e = sigma^2 variance_i,   a_k free
 *
 * u is decades of age from 24 h; c is a curve that all units share, straight between eight knots
 * (what a law other than the logarithmic does is nobody's shift).
 *
 * Gauges (check plates): error of a source of the first kind on a known value,
 *   z = r_group + sum_j size_j share_j(t) [source] + f,   var f = variance.
 *
 * A change j is a step (share 1 from its bin on), a ramp (0 at the begin of its bin, 1 at the end
 * of the last), or a spell (1 in its bin alone). Since a_k is free, a change shows only within
 * units, beside what their lines say of age: what fell is told from what was read otherwise.
 *
 * Estimator. A unit's line is integrated out in closed form (2 x 2), which leaves normal equations
 * in the cells source x bin; every candidate is a sum of cells, so that all begins and shapes are
 * scored from one pass over the rows (score test: Rao 1948, Proc. Camb. Phil. Soc. 44:50). Huber's
 * modified residuals (1981, Robust Statistics, section 7.8) keep single misreadings from counting,
 * and a change must be seen on three units at least, or on a gauge. The best candidate is taken
 * into the model while its support (score squared over information) exceeds the limit, and the rest
 * is scored anew; its size is the estimate with it in the model. Support is divided by how much
 * more cells scatter than the rows in them let expect (what is shared by a day and is nobody's
 * shift).
 *
 * The span of a step's begin: likelihood ratios up to 10.59, the 99 % point for a break
 * (Hansen 2000, Econometrica 68:575, table I).
 *
 * What can't be told apart: every other source whose best support comes within
 * TENTER_SHIFT_APART of the best one's is named as `other`.
 *
 * Cost: O(rows * rows of a unit) time, (sources * bins + groups)^2 memory. */
#ifndef TENTER_STATS_SHIFT_H
#define TENTER_STATS_SHIFT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/status.h"

enum { TENTER_SHIFT_SOURCES = 9, TENTER_SHIFTS_MOST = 6, TENTER_SHIFT_OTHERS = 8 };

/* Two sources are told apart where their supports differ by 2 ln 100: a likelihood ratio of 100
 * (Royall 1997, Statistical Evidence, from memory: beyond 32 is strong). */
#define TENTER_SHIFT_APART 9.21

typedef enum tenter_shift_kind {
  TENTER_SHIFT_FIRST,  /* a source of the first kind */
  TENTER_SHIFT_SECOND, /* of the second kind */
  TENTER_SHIFT_ALL     /* all rows */
} tenter_shift_kind;

typedef enum tenter_shift_shape {
  TENTER_SHIFT_STEP,
  TENTER_SHIFT_RAMP,
  TENTER_SHIFT_SPELL
} tenter_shift_shape;

/* All arrays are borrowed. */
typedef struct tenter_shift_data {
  size_t units;
  const uint32_t *first; /* units + 1: rows of a unit */
  const uint16_t *group; /* by unit: whose mean slope it shares */
  size_t groups;
  double slope_sd;                /* of a unit's slope about its group's; above 0 */
  const double *u, *y, *variance; /* by row; u in decades from 24 h */
  const uint8_t *source[2], *bin; /* by row */
  size_t sources[2];              /* of each kind, at most TENTER_SHIFT_SOURCES, at least 1 */
  size_t scanned[2];              /* the first so many are candidates; the rest are not */
  size_t bins;                    /* 2 .. 64 */
  const double *edge;             /* bins + 1 times, rising */
  size_t spells;                  /* the last so many bins may be spells of their own */
  size_t gauges;                  /* checks on known values */
  const uint8_t *gauge_source, *gauge_bin;
  const uint16_t *gauge_group; /* with a constant of its own, numbered from 0 */
  const double *gauge_error, *gauge_variance;
  double limit; /* least support of a change that is taken */
  double least; /* least size of one */
} tenter_shift_data;

typedef struct tenter_shift_source {
  tenter_shift_kind kind;
  size_t source; /* 0 for all */
} tenter_shift_source;

typedef struct tenter_shift {
  tenter_shift_source who;
  size_t bin;      /* it begins with */
  size_t earliest; /* of a step: the first bin it may have begun with (99 %: Hansen 2000); from
                      within the bin before it can't be told */
  double size, se; /* of the full change (a ramp's at the end of the last bin) */
  double support;
  tenter_shift_source other[TENTER_SHIFT_OTHERS];
  size_t others;
  tenter_shift_shape shape;
  bool gauged; /* gauges of its source were read after it began */
} tenter_shift;

typedef struct tenter_shift_fit {
  tenter_shift shift[TENTER_SHIFTS_MOST];
  size_t shifts;
  double scale;      /* sigma */
  double dispersion; /* of cells, at least 1 */
  /* constants of the scanned sources of the first kind, about the mean of those that the data tie
   * together, and standard errors; NaN where it can't be told */
  double level[TENTER_SHIFT_SOURCES], level_se[TENTER_SHIFT_SOURCES];
} tenter_shift_fit;

/* TENTER_USAGE where shapes are out of range; TENTER_FAILED without memory. Too few data: no
 * shifts. */
tenter_status tenter_shift_find(const tenter_shift_data *data, tenter_shift_fit *fit,
                                tenter_error *error);

/* Share of the size of a change that is there at a time (0 before it; of a ramp at most 1). */
double tenter_shift_share(const tenter_shift *shift, const double *edge, size_t bins, double time);

#endif
