/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kept limits of control charts, as a file holds them: plain numbers and names. What they belong
 * to, and whether that is there, is for the caller to find out. */
#ifndef TENTER_INTAKE_LIMITS_H
#define TENTER_INTAKE_LIMITS_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/civil.h"
#include "tenter/base/status.h"

typedef struct tenter_kept_limit {
  const char *stream, *mesh, *key;      /* key: station, lot ...; "" where there is none */
  double centre, sigma;                 /* sigma above 0 */
  double freedom, power, centre_weight; /* what they are worth (stats/charts.h), all above 0 */
  size_t points;                        /* behind them, at least 2 */
  bool robust;
  double within, between; /* NaN where there are none */
  tenter_time from, to;   /* of those points */
} tenter_kept_limit;

/* Reads a file that tenter charts --freeze wrote. Texts and limits are in the arena. TENTER_USAGE,
 * with the file and what is wrong with which entry, for a file that can't be opened, is no JSON,
 * holds no limits, an entry with a missing, unknown or impossible value, or two entries of one
 * chart. */
tenter_status tenter_limits_read(const char *path, tenter_arena *arena, tenter_kept_limit **limits,
                                 size_t *count, tenter_error *error);

#endif
