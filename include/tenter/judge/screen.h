/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One screen's whole story beside what the review says of it: every session of its mounting, the
 * laws of relaxation compared, the one its lot follows, what it has lost and when it reaches its
 * floor under that law, and whether it has left it. Made for the screens that are asked for; the
 * review does not need it.
 *
 * Doubles are NaN where not known, times TENTER_NO_TIME. Tensions in N/cm. */
#ifndef TENTER_JUDGE_SCREEN_H
#define TENTER_JUDGE_SCREEN_H

#include "tenter/judge/review.h"

enum { TENTER_SCREEN_LAWS = 5, TENTER_SCREEN_PARAMETERS = 5, TENTER_SCREEN_AGES = 4 };

/* One law fitted by weighted least squares. */
typedef struct tenter_screen_law {
  const char *law, *title, *formula; /* "log"; as a person would say it */
  size_t parameter_count;
  const char *parameter[TENTER_SCREEN_PARAMETERS];
  double value[TENTER_SCREEN_PARAMETERS]; /* of several mountings: those that each has of its own
                                             as medians, without an se */
  double se[TENTER_SCREEN_PARAMETERS];
  bool fitted;        /* false: too few sessions for its parameters */
  double aicc, above; /* above the least AICc of those fitted */
  double explained;   /* share of the squares about a constant */
  double runs_p;      /* residuals in one direction for too long */
  const char *words;  /* what the fit has to say for itself; "" */
  bool sound;         /* nothing in words forbids to go by it */
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

/* At this age, by the forecast of the review (of a screen not in use: by its own course). */
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

typedef struct tenter_screen_story {
  uint32_t screen;
  const tenter_review_screen *judged; /* NULL where the screen is not in use */
  size_t mounting;                    /* index into shop->mountings: the current or the last one */
  tenter_screen_session *sessions;
  size_t session_count;
  tenter_screen_laws lot; /* all mountings of its mesh and lot together; chosen: the law that
                             forecasts go by, that of the shop */
  bool lot_known;         /* false: all mountings of its mesh */
  tenter_screen_laws own; /* its own sessions since its level last changed */
  double share, share_se; /* it loses so many times what its lot usually does */
  tenter_screen_age ages[TENTER_SCREEN_AGES]; /* 1, 7, 30, 90 days */
  tenter_screen_leaving leaving;
  tenter_time due; /* when to read it next; TENTER_NO_TIME where it is not in use */
  struct tenter_screen_curve *curve; /* the judge's own */
} tenter_screen_story;

/* The story of a screen (a name id with at least one mounting), in arena, which the story shares
 * with nothing. TENTER_FAILED when memory runs out. */
tenter_status tenter_screen_story_new(const tenter_review *review, uint32_t screen,
                                      tenter_arena *arena, tenter_screen_story **story,
                                      tenter_error *error);

/* Its own course: a level and a share of the lot's usual loss on the clock of the shop's law, from
 * its own sessions; before and after it left apart. The tension at an age and its standard error;
 * NaN where nothing was fitted. No forecast: that is the review's. */
void tenter_screen_tension_at(const tenter_screen_story *story, double age_hours, double *mean,
                              double *se);

#endif
