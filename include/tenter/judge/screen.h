/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One screen's whole story beside what the review says of it: every session of its mounting, the
 * laws of relaxation compared, the one its lot follows, what it has lost and when it reaches its
 * floor under that law, and whether it has left it. Made for the screens that are asked for; the
 * review does not need it.
 *
 * Doubles are NaN where not known, times TENTER_NO_TIME. Tensions in N/cm. */
#ifndef TENTER_JUDGE_SCREEN_H
#define TENTER_JUDGE_SCREEN_H

#include "tenter/base/pool.h"
#include "tenter/judge/review.h"

enum { TENTER_SCREEN_LAWS = 5, TENTER_SCREEN_PARAMETERS = 6, TENTER_SCREEN_AGES = 4 };

#define TENTER_SCREEN_LEVEL 0.9 /* of the intervals of parameters */

typedef enum tenter_screen_limits {
  TENTER_LIMITS_GIVEN,
  TENTER_LIMITS_EACH_ITS_OWN, /* each mounting has its own: the value is their median */
  TENTER_LIMITS_NONE_LEFT,    /* as many parameters as sessions */
  TENTER_LIMITS_NO_MINIMUM    /* the search found none, or a better fit beyond its bounds */
} tenter_screen_limits;

/* One parameter of a fitted law, with its profile-likelihood interval (stats/laws.h). */
typedef struct tenter_screen_parameter {
  const char *name; /* as in the formula; "half-life" */
  const char *unit; /* "h", "N/cm", "" for a plain number */
  double value, se; /* se NaN where it is not told, sits on a bound, or each has its own */
  tenter_screen_limits limits;
  double low, high;         /* NaN unless given */
  bool low_open, high_open; /* the sessions set no limit there: low or high is the law's bound */
} tenter_screen_parameter;

/* One law fitted by weighted least squares. */
typedef struct tenter_screen_law {
  const char *law, *title, *formula; /* "log"; as a person would say it */
  size_t parameter_count;            /* the half-life, where there is one, is the last */
  tenter_screen_parameter parameter[TENTER_SCREEN_PARAMETERS];
  bool fitted;               /* false: too few sessions for its parameters */
  double aicc, above;        /* above the least AICc of those fitted */
  double explained;          /* share of the squares about a constant */
  double runs_p;             /* residuals in one direction for too long */
  const char *words, *shown; /* what the fit has to say for itself, ""; in the reader's form */
  bool sound;                /* nothing in words forbids to go by it */
  bool chosen;
} tenter_screen_law;

/* All laws on the same sessions. */
typedef struct tenter_screen_laws {
  tenter_screen_law law[TENTER_SCREEN_LAWS];
  size_t mountings, sessions;
  double youngest_hours, oldest_hours;
  size_t chosen; /* index; log unless another one is clearly better over a wide span of ages */
  const char *why, *why_shown; /* a sentence: for programs; in the reader's form */
} tenter_screen_laws;

typedef struct tenter_screen_session {
  size_t session; /* index into shop->sessions */
  double age_hours, mean, adjusted, uncertainty, sd, min, max;
  double expected, residual; /* by the law; residual in units of its sd; NaN where not fitted */
  bool misread;
} tenter_screen_session;

/* At this age, by the forecast of the review; by its own course where it is not in use, or of
 * tensions before it left its law. */
typedef struct tenter_screen_age {
  double days, tension, tension_se;
  double loss, loss_se; /* by relaxation since it was an hour old; a step is not part of it */
} tenter_screen_age;

typedef struct tenter_screen_leaving {
  size_t tested;            /* sessions */
  bool left;                /* its law, with the session `session` */
  size_t session;           /* where a step fits best; SIZE_MAX with fewer than 2 sessions */
  double change, change_se; /* N/cm, from that session on */
  double p;                 /* chance of as clear a step in a calm mounting; where that is above the
                               rate, an upper bound of it */
  double rate;              /* the share of calm mountings that are named: a setting */
  bool newest;              /* it is the newest session: nothing confirms it yet */
  uint16_t place;           /* where it changed most; TENTER_NO_NAME16 */
  double place_change;      /* there */
} tenter_screen_leaving;

/* When the floor is reached: 5, 50 and 95 % points; TENTER_NO_TIME: not within 10 years. */
typedef struct tenter_screen_floor {
  bool known; /* false: no floor, no age, not in use, or no law fitted */
  tenter_time early, median, late;
} tenter_screen_floor;

typedef struct tenter_screen_story {
  uint32_t screen;
  const tenter_review_screen *judged; /* NULL where the screen is not in use */
  size_t mounting;                    /* index into shop->mountings: the current or the last one */
  tenter_screen_session *sessions;
  size_t session_count;
  size_t law;                    /* index: that of the shop, by which forecasts go */
  double levels_off;             /* the chance there of laws that level off; they are averaged in */
  tenter_screen_laws lot;        /* all mountings of its mesh and lot together */
  bool lot_known;                /* false: all mountings of its mesh */
  tenter_screen_laws own;        /* its own sessions since its level last changed */
  tenter_screen_floor lot_floor; /* by its own sessions, if the law chosen for its lot holds */
  double share, share_se;        /* it loses so many times what its lot usually does */
  tenter_screen_age ages[TENTER_SCREEN_AGES]; /* 1, 7, 30, 90 days */
  tenter_screen_leaving leaving;
  tenter_time due; /* when to read it next; TENTER_NO_TIME where it is not in use */
  struct tenter_screen_curve *curve; /* the judge's own */
} tenter_screen_story;

/* The stories of count screens (name ids with at least one mounting each) into stories[], all of it
 * in arena, which they share with nothing else. The laws of a lot are fitted once, lots and screens
 * are shared out to the pool (NULL: none). TENTER_FAILED when memory runs out. */
tenter_status tenter_screen_stories_new(const tenter_review *review, const uint32_t *screens,
                                        size_t count, tenter_pool *pool, tenter_arena *arena,
                                        const tenter_screen_story **stories, tenter_error *error);

/* Its own course: a level and a share of the lot's usual loss on the clock of the shop's law, from
 * its own sessions; before and after it left apart. The tension at an age and its standard error;
 * NaN where nothing was fitted. No forecast: that is the review's. */
void tenter_screen_tension_at(const tenter_screen_story *story, double age_hours, double *mean,
                              double *se);

#endif
