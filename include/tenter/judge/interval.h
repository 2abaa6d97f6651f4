/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All there is to say on how long a mesh may go, beyond review->intervals: the share below the
 * floor by age, what past mountings did without a model, costs, and what the risk and more readings
 * change. One plain struct for `tenter interval`; doubles are NaN where not known, days are ages.
 */
#ifndef TENTER_JUDGE_INTERVAL_H
#define TENTER_JUDGE_INTERVAL_H

#include "tenter/judge/review.h"

enum {
  TENTER_INTERVAL_POINTS = 121, /* of a curve, even in the logarithm of age */
  TENTER_INTERVAL_RISKS = 5,
  TENTER_INTERVAL_SPACINGS = 4
};

/* New mountings by the model. */
typedef struct tenter_interval_curve {
  double days[TENTER_INTERVAL_POINTS];  /* from the settling time to 10 years */
  double below[TENTER_INTERVAL_POINTS]; /* chance to be below the floor, or to have been */
  double low[TENTER_INTERVAL_POINTS], high[TENTER_INTERVAL_POINTS]; /* 90 % interval of the share;
                                                                       NaN for a lot */
  double cost[TENTER_INTERVAL_POINTS]; /* a year and screen where re-stretched at that age */
} tenter_interval_curve;

/* Whether two estimates of the age at which the risk is reached agree. */
typedef enum tenter_interval_verdict {
  TENTER_INTERVAL_TOO_FEW, /* nothing without a model: too few were seen below their floor */
  TENTER_INTERVAL_AGREE,   /* the intervals overlap */
  TENTER_INTERVAL_LIVES_SHORTER,
  TENTER_INTERVAL_LIVES_LONGER
} tenter_interval_verdict;

typedef struct tenter_interval_estimate {
  double days, early, late; /* 90 % interval; INFINITY where what was seen does not reach so far */
} tenter_interval_estimate;

/* What past mountings did. A mounting is below its floor from the session on at which
 * the chance of it is over a half, by its own sessions alone, smoothed so that tension never rises
 * (isotonic regression); so that its crossing lies between that session and the one before. */
typedef struct tenter_interval_life {
  size_t mountings;       /* with an age, a floor and a session */
  size_t crossed;         /* were seen below it */
  size_t at_first;        /* of these, at their first session already */
  size_t restretched;     /* above it as far as was seen, and re-stretched */
  size_t restretched_low; /* of these, not clearly above it when last read: counted as failures */
  size_t burst, retired, in_use; /* above it as far as was seen */
  /* The age at which the risk is reached: without any law (Turnbull), by a Weibull law, and the
   * latter if all re-stretched mountings had been about to fail, or would have outlived all others.
   */
  tenter_interval_estimate free, weibull;
  double weibull_all_fail, weibull_none_fail;
  double shape, scale_days; /* of the Weibull law */
  const char *weibull_says; /* why there is no fit; NULL with one */
  tenter_interval_verdict verdict;
  const double *step_days,
      *step_below; /* the estimate without a law: share below after each step; none for a lot */
  size_t step_count;
} tenter_interval_life;

/* Costs, where [cost] gives both; in its money, a year. */
typedef struct tenter_interval_cost {
  bool known;
  double best_days;  /* the age of least cost; NaN: none within 10 years, run to failure */
  double best_rate;  /* a screen */
  double habit_rate; /* a screen, as the shop did it: from the mountings' ends */
  size_t habit_planned, habit_failed;
  double habit_screen_years;                  /* that rests on */
  double calendar_rate;                       /* a screen, at calendar_days */
  double saving_on_habit, saving_on_calendar; /* all its screens in use */
} tenter_interval_cost;

/* A mesh, with mountings of whatever lot; or one lot of it. */
typedef struct tenter_interval_group {
  const tenter_review_interval *interval; /* of review->intervals; its lot is TENTER_NO_NAME for a
                                             mesh */
  size_t in_use;                          /* screens */
  tenter_interval_curve curve;
  double risks[TENTER_INTERVAL_RISKS], risk_days[TENTER_INTERVAL_RISKS];
  /* A screen that is read every so many days and re-stretched when the chance to be below its floor
   * by the next session is over the risk: the typical age (geometric mean) at which that is, up
   * to 10 years. NaN where the usual spacing is not known. The second spacing is that of the mesh.
   */
  double spacing_days[TENTER_INTERVAL_SPACINGS], spacing_life[TENTER_INTERVAL_SPACINGS];
  tenter_interval_life life;
  tenter_interval_cost cost;
} tenter_interval_group;

typedef struct tenter_interval_study {
  const tenter_review *review;
  tenter_arena *arena;
  tenter_interval_group *meshes, *lots; /* in the order of review->intervals */
  size_t count, lot_count;
  double calendar_days; /* the best age that is the same for all meshes; NaN without costs, or
                            beyond 10 years */
} tenter_interval_study;

/* Made of a review (of one with texts), which it borrows. TENTER_FAILED when memory runs out.
 * O(sessions log mountings + meshes + lots); some milliseconds a mesh and a lot. */
tenter_status tenter_interval_study_new(const tenter_review *review, tenter_pool *pool,
                                        tenter_interval_study **study, tenter_error *error);
void tenter_interval_study_free(tenter_interval_study *study);

#endif
