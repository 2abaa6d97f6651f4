/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The next weeks' turns in the order in which they are taken: week by week; within a week mesh by
 * mesh, the mesh of the screen most at risk first; within a mesh the most at risk first. */
#ifndef TENTER_SRC_REPORT_WORK_PLAN_H
#define TENTER_SRC_REPORT_WORK_PLAN_H

#include "tenter/judge/review.h"

typedef struct work_turn {
  const tenter_review_screen *screen;
  uint32_t mesh;
  int week;                 /* of the plan, from 0 */
  double first, mesh_first; /* how much at risk; the greatest of its mesh in that week */
} work_turn;

typedef struct work_plan {
  work_turn *turns;
  size_t count;
} work_plan;

/* Re-stretches, or readings, of the first TENTER_PLAN_WEEKS weeks; for readings "at risk" is what
 * one is worth. False when memory runs out. O(screens log screens). */
bool work_plan_new(const tenter_review *review, bool readings, tenter_arena *arena,
                   work_plan *plan);

/* Turn i opens a new mesh of its week. */
bool work_plan_opens(const work_plan *plan, size_t i);

#endif
