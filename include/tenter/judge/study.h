/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gauge studies in the data: readings with `trial`, one study a meter. A part is a screen at a
 * position and a direction; people are operators. See stats/gauge.h for the analysis. */
#ifndef TENTER_JUDGE_STUDY_H
#define TENTER_JUDGE_STUDY_H

#include "tenter/judge/review.h"
#include "tenter/stats/gauge.h"

typedef struct tenter_meter_study {
  uint32_t meter; /* TENTER_NO_NAME16 where none is given */
  size_t readings;
  tenter_gauge_study study;  /* where `why` is NULL */
  const char *why;           /* why there is none: a sentence */
  double tolerance;          /* width of the usual tolerance of its screens, N/cm; NaN without */
  double share_of_tolerance; /* 6 sd of the gauge over it; NaN */
  tenter_row first;          /* its first row */
  tenter_time last;          /* its latest reading */
} tenter_meter_study;

/* The contributions to the standard uncertainty of a session mean of a usual full session (JCGM
 * 100:2008, section 5.1; N/cm). NaN where nothing is known of one. */
typedef struct tenter_budget {
  uint32_t meter;
  /* what differs from session to session holds what differs between people: the larger counts */
  double calibration, resolution, repeatability, reproducibility, session;
  size_t positions; /* readings of a usual full session */
  double combined;  /* root of the sum of squares of what is known */
  double expanded;  /* with coverage factor 2 */
  bool assumed;     /* calibration: the default, for none is given */
  bool studied;     /* repeatability and reproducibility: from a study */
} tenter_budget;

enum { TENTER_PLATE_VALUES = 8 };

/* Errors of a meter on check plates. */
typedef struct tenter_meter_plates {
  uint32_t meter;
  size_t checks, used;         /* all; those behind the line */
  tenter_time from;            /* of a meter that shifted: since then; else TENTER_NO_TIME: all */
  tenter_gauge_linearity line; /* NaN with plates of one value */
  size_t values;               /* of plates, rising, at most TENTER_PLATE_VALUES */
  double value[TENTER_PLATE_VALUES], mean[TENTER_PLATE_VALUES]; /* mean error on it */
  double low[TENTER_PLATE_VALUES], high[TENTER_PLATE_VALUES];   /* band of the line there, 95 % */
  /* Exponentially weighted average of the days' mean errors (Roberts 1959) from the mean of the
   * first half of them, and its limit (3 sd, the centre's own included), N/cm; NaN below 4 days. */
  double average, average_limit;
  tenter_time drifts_since; /* beyond the limit ever since; TENTER_NO_TIME: not now */
} tenter_meter_plates;

/* Two meters on the same screens, within a day of each other: second minus first, and the line
 * second = level + slope first, errors of both alike. */
typedef struct tenter_meter_pair {
  uint32_t first, second;
  tenter_gauge_agreement agreement;
  tenter_gauge_deming line;
} tenter_meter_pair;

typedef struct tenter_meter_studies {
  tenter_meter_study *studies;
  size_t count;
  tenter_meter_plates *plates; /* of meters that were checked */
  size_t plate_count;
  tenter_meter_pair *pairs; /* with three pairs of sessions at least; of the first 8 meters */
  size_t pair_count;
  tenter_budget *budgets; /* a meter of review->meters each */
} tenter_meter_studies;

/* All in the review's arena. TENTER_FAILED without memory. */
tenter_status tenter_meter_studies_make(const tenter_review *review, tenter_meter_studies *out,
                                        tenter_error *error);

#endif
