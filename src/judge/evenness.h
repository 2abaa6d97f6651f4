/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_EVENNESS_H
#define TENTER_JUDGE_EVENNESS_H

#include "points.h"

/* What is known of one point of one screen. */
typedef struct point_state {
  uint32_t point;
  double sum, count;       /* of readings about their session's mean, the latest session */
  double past, past_count; /* of the sessions before it */
  double n, usual, off;    /* readings used; the pattern's effect; their mean beyond it */
  double mean, variance;   /* posterior of its true deviation from the screen's mean */
} point_state;

/* Room for a task. */
typedef struct evenness_room {
  point_set points;
  uint32_t *place; /* by point: index + 1 of states */
  point_state *states;
  size_t count;
  double *numbers; /* scratch: two a point */
} evenness_room;

bool judge__evenness_new(const judge *j, evenness_room *room); /* false when memory runs out */
void judge__evenness_release(evenness_room *room);

/* The evenness verdict of screen i of the review. */
void judge__evenness(judge *j, size_t i, evenness_room *room);

#endif
