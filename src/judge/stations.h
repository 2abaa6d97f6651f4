/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between stations.c (how each station pulls) and station_words.c (what to do about it). */
#ifndef TENTER_JUDGE_STATIONS_H
#define TENTER_JUDGE_STATIONS_H

#include "judge.h"

/* review->stations, from the first full session of each mounting. */
tenter_status judge__stations(judge *j, tenter_error *error);

/* The difference from side to side, corner to centre or warp to weft that a number stands for: a
 * tilt is half of it. */
static inline double judge__station_size(tenter_station_number number, double value) {
  return number == TENTER_STATION_TILT_X || number == TENTER_STATION_TILT_Y ? 2 * value : value;
}

/* Advice for a station of which something is uneven; false when memory runs out. */
bool judge__station_advice(const judge *j, tenter_review_station *station);

#endif
