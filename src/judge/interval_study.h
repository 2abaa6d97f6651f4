/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that make the study of intervals. */
#ifndef TENTER_JUDGE_INTERVAL_STUDY_H
#define TENTER_JUDGE_INTERVAL_STUDY_H

#include "interval.h"
#include "tenter/judge/interval.h"

/* A mounting, and what became of it. */
typedef struct past_life {
  double lower, upper;  /* of the crossing, days of age (stats/life.h) */
  double ended;         /* days, where re-stretched above the floor as far as was seen; NaN */
  double days;          /* of service, up to as_of */
  bool crossed, failed; /* seen below; the same, or re-stretched when last seen not clearly above */
  tenter_mounting_end end;
  uint32_t slot, lot;
} past_life;

/* In order of slots; ordered anew, of slots and in them of lots. */
typedef struct past_lives {
  past_life *lives;
  size_t count;
} past_lives;

/* interval_past.c: every mounting with an age, a floor and a session, in order of slots; owned by
 * the caller. */
tenter_status judge__past_lives(const judge *j, past_lives *past, tenter_error *error);
void judge__past_by_lot(past_lives *past);

/* Those of a mesh, of those that begin at *at, and of a lot where they are ordered so; *at moves
 * behind them. Asked for in the order of the lives. */
past_lives judge__past_of(const past_lives *past, const judge *j,
                          const tenter_review_interval *interval, size_t *at);

/* interval_life.c: of the lives of one mesh or lot. arena NULL: without steps. */
tenter_status judge__interval_life(const tenter_review_interval *interval, const past_lives *of,
                                   tenter_pool *pool, tenter_arena *arena,
                                   tenter_interval_life *out, tenter_error *error);

/* interval_cost.c, for a group whose curve is made: cost (but for what a calendar costs) and
 * curve.cost. */
void judge__interval_cost(const judge *j, const past_lives *of, tenter_interval_group *group);

/* calendar_days, and what it costs and would save each mesh and lot. */
void judge__interval_calendar(tenter_interval_study *study);

/* interval_reading.c: how the screens of a mesh are usually read; NaN where not known. */
typedef struct usual_reading {
  double spacing, variance; /* days between sessions; of a session, on the population's scale */
} usual_reading;
tenter_status judge__usual_reading(const judge *j, uint32_t slot, usual_reading *usual,
                                   tenter_error *error);

/* spacing_days and spacing_life of a mesh or lot. */
void judge__interval_spacing(const judge *j, const interval_inner *of, const usual_reading *usual,
                             tenter_interval_group *group);

/* Age at which a new mounting's chances begin, hours. */
double judge__interval_start(const judge *j);

static inline uint32_t interval_slot(const judge *j, const tenter_review_interval *interval) {
  return mesh_slot(j, interval->mesh);
}

#endif
