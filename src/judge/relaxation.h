/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_RELAXATION_H
#define TENTER_JUDGE_RELAXATION_H

#include "judge.h"

/* A mounting's own log-law fit. */
typedef struct own_line {
  double at_24h, loss,
      loss_se; /* NaN with too few sessions: loss needs 2 ages, loss_se 3 sessions */
  size_t sessions;
} own_line;

/* Weighted least squares of the fitted sessions of its last level. */
own_line judge__own_line(const judge *j, const tenter_mounting *m);

#endif
