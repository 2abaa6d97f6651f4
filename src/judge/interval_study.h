/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that make the study of intervals. */
#ifndef TENTER_JUDGE_INTERVAL_STUDY_H
#define TENTER_JUDGE_INTERVAL_STUDY_H

#include "interval.h"
#include "tenter/judge/interval.h"

/* Mountings of a mesh, by slot, and what became of them. */
typedef struct past_life {
  double lower, upper;  /* of the crossing, days of age (stats/life.h) */
  double ended;         /* days, where re-stretched above the floor as far as was seen; NaN */
  double days;          /* of service, up to as_of */
  bool crossed, failed; /* seen below; the same, or re-stretched when last seen not clearly above */
  tenter_mounting_end end;
  uint32_t slot;
} past_life;

typedef struct past_lives {
  past_life *lives; /* in order of slots */
  size_t count;
} past_lives;

/* interval_past.c: every mounting with an age, a floor and a session; owned by the caller. */
tenter_status judge__past_lives(const judge *j, past_lives *past, tenter_error *error);

/* interval_life.c: of the lives of one mesh. */
tenter_status judge__interval_life(const tenter_review_interval *interval, const past_life *lives,
                                   size_t count, tenter_pool *pool, tenter_arena *arena,
                                   tenter_interval_life *out, tenter_error *error);

/* interval_cost.c: meshes whose curves are made; fills cost, curve.cost and calendar_days. */
void judge__interval_costs(const judge *j, const past_lives *past, tenter_interval_study *study);

/* interval_reading.c: spacing_days and spacing_life. */
tenter_status judge__interval_spacing(const judge *j, const interval_inner *of,
                                      tenter_interval_mesh *mesh, tenter_error *error);

/* Age at which a new mounting's chances begin, hours. */
double judge__interval_start(const judge *j);

static inline uint32_t interval_slot(const judge *j, const tenter_review_interval *interval) {
  return mesh_slot(j, interval->mesh);
}

#endif
