/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between shift_sums.c (rows to normal equations) and shift.c (candidates). */
#ifndef TENTER_SRC_STATS_SHIFT_INTERNAL_H
#define TENTER_SRC_STATS_SHIFT_INTERNAL_H

#include "tenter/stats/shift.h"

/* Normal equations in the cells (first kind, second kind: source * bins + bin), then a slope a
 * group, then the hinges of the common curve; lines of units integrated out. */
typedef struct shift_sums {
  size_t dim;
  double *g; /* dim x dim, symmetric */
  double *h;
  double *value;    /* by row: y, but drawn in where it lies far off */
  double *residual; /* by row: of y, in standard deviations */
  double *sizes;    /* room for as many */
  /* room of one unit */
  uint32_t *local, *column; /* by column of the whole: number + 1; by local number: column */
  double (*product)[2];     /* by local number: with the line */
} shift_sums;

bool shift__sums_new(const tenter_shift_data *d, shift_sums *s);
void shift__sums_release(shift_sums *s);

void shift__sums_fill(const tenter_shift_data *d, shift_sums *s);  /* g */
void shift__sums_score(const tenter_shift_data *d, shift_sums *s); /* h, of the values at hand */

/* Draws the values that lie far from fixed (by column) and their unit's own line in to 2.5 standard
 * deviations (Huber 1981, Robust Statistics, section 7.8: modified residuals). Returns sigma. */
double shift__winsorise(const tenter_shift_data *d, const double *fixed, shift_sums *s);

static inline size_t shift__cell(const tenter_shift_data *d, int kind, size_t source, size_t bin) {
  return ((kind ? d->sources[0] : 0) + source) * d->bins + bin;
}

enum { SHIFT_HINGES = 8 }; /* of the curve that all units share */

static inline size_t shift__slope(const tenter_shift_data *d, size_t group) {
  return (d->sources[0] + d->sources[1]) * d->bins + group;
}

#endif
