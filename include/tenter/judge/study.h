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
  tenter_gauge_study study; /* where `why` is NULL */
  const char *why;          /* why there is none: a sentence */
  tenter_row first;         /* its first row */
} tenter_meter_study;

/* The contributions to the standard uncertainty of a session mean of a usual full session (JCGM
 * 100:2008, section 5.1; N/cm). NaN where nothing is known of one. */
typedef struct tenter_budget {
  uint32_t meter;
  double calibration, resolution, repeatability, reproducibility, session;
  size_t positions; /* readings of a usual full session */
  double combined;  /* root of the sum of squares of what is known */
  double expanded;  /* with coverage factor 2 */
  bool assumed;     /* calibration: the default, for none is given */
  bool studied;     /* repeatability and reproducibility: from a study */
} tenter_budget;

typedef struct tenter_meter_studies {
  tenter_meter_study *studies;
  size_t count;
  tenter_budget *budgets; /* a meter of review->meters each */
} tenter_meter_studies;

/* All in the review's arena. TENTER_FAILED without memory. */
tenter_status tenter_meter_studies_make(const tenter_review *review, tenter_meter_studies *out,
                                        tenter_error *error);

#endif
