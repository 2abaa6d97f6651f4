/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between pattern.c (the additive model of a mesh) and noise.c (what it leaves). */
#ifndef TENTER_JUDGE_PATTERN_H
#define TENTER_JUDGE_PATTERN_H

#include "points.h"

/* One point of one session of the sample; repeats averaged. */
typedef struct cell {
  uint32_t session; /* number in the sample */
  uint32_t point;
  double mean, left, weight; /* left: what the model leaves; weight: robust */
} cell;

/* A mounting's sessions in the sample: cells [first, first + count). */
typedef struct sampled {
  size_t first, count, sessions;
  double level;
} sampled;

/* What is worked on for one mesh. */
typedef struct pattern_work {
  const judge *j;
  uint32_t slot;
  point_set points;
  cell *cells;
  sampled *mountings;
  size_t cell_count, cell_room, mounting_count, mounting_room, session_count;
  double *session, *session_weight; /* effects, by number in the sample */
  double *position, *position_weight;
  double direction[TENTER_DIRECTIONS];
  double *numbers, *more;          /* scratch: cell_count each */
  double *point_sum, *point_count; /* scratch by point */
  double squares, repeat_df;       /* of repeats of one point in one session */
  bool failed;
} pattern_work;

/* What the residuals of a mesh tell of its noise. */
typedef struct mesh_noise {
  double reading, reading_df;     /* variance of a repeated reading, degrees of freedom */
  double screen_point, screen_df; /* mean square of the points' own means: own pattern and noise */
  double per_session;             /* mean of 1 / sessions behind such a mean */
  double level;
} mesh_noise;

/* Splits the residuals of the work's cells. */
void judge__split_noise(pattern_work *w, mesh_noise *out);

/* Sd's of every pattern and of the shop from what the meshes tell. */
void judge__noise(judge *j, const mesh_noise *meshes);

#endif
