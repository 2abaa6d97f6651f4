/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the plain and the robust line share. */
#ifndef TENTER_STATS_LINE_INTERNAL_H
#define TENTER_STATS_LINE_INTERNAL_H

#include "tenter/stats/line.h"

typedef struct line_data {
  size_t count;
  const double *u, *y;
  const double *weight, *robust; /* either may be NULL: all 1 */
} line_data;

static inline double line__weight(const line_data *d, size_t i) {
  return (d->weight ? d->weight[i] : 1) * (d->robust ? d->robust[i] : 1);
}

/* Sums about the means, and the line, with the product of both weights. */
tenter_line_sums line__sums(const line_data *d);
bool line__solve(const line_data *d, double sigma, tenter_line_fit *fit);

/* Fills standard errors and covariance for a sd of a point of weight 1. */
void line__errors(const tenter_line_sums *sums, double sigma, tenter_line_fit *fit);

#endif
