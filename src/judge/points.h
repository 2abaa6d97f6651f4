/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The readings of a session gathered by point (position and direction), repeats averaged. */
#ifndef TENTER_JUDGE_POINTS_H
#define TENTER_JUDGE_POINTS_H

#include "judge.h"

typedef struct point_mean {
  uint32_t point;   /* point_of */
  uint32_t count;   /* readings */
  uint32_t reading; /* the first of them */
  double mean;
} point_mean;

/* Room for one session's points; made once a task. */
typedef struct point_set {
  uint32_t *place; /* by point: index + 1 of items, 0 where the session has none */
  point_mean *items;
  size_t count;
} point_set;

bool judge__points_new(const judge *j, point_set *p); /* false when memory runs out */
void judge__points_release(point_set *p);

/* Gathers the points of a session, in order of their first reading. */
void judge__points_gather(const judge *j, size_t session, point_set *p);

/* The same of the readings of one meter (TENTER_NO_NAME16: those without). */
void judge__points_gather_of(const judge *j, size_t session, uint16_t meter, point_set *p);

/* The meter with most of a session's readings, the first of equals. */
uint16_t judge__points_meter(const judge *j, size_t session);

/* The session's mean at a point, or NULL. */
static inline const point_mean *points_find(const point_set *p, uint32_t point) {
  return p->place[point] ? &p->items[p->place[point] - 1] : NULL;
}

#endif
