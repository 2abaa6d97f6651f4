/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gauge studies: parts read by several people several times, and two gauges on the same parts.
 *
 * Study. y = mean + part + person + part x person + repeat, all random and crossed. Where it is
 * balanced (every person reads every part equally often, at least twice), components by the method
 * of moments from the crossed analysis of variance (AIAG, Measurement Systems Analysis, 4th ed.,
 * appendix A; Montgomery, Introduction to Statistical Quality Control, section 8.7); the
 * interaction is pooled with the repeats where its F test has p above 0.25 (the rule of the AIAG
 * manual); a component below zero is zero. Where it is not, by restricted maximum likelihood
 * (Patterson, Thompson 1971, Biometrika 58:545), the interaction left out where its likelihood
 * ratio has p above 0.25 (half a chi-square: zero is an edge; Self, Liang 1987, JASA 82:605).
 * Intervals: of repeatability exact where balanced (chi-square); else by Satterthwaite's degrees of
 * freedom (1946, Biometrics Bull. 2:110), NaN where the component is zero. Checked against the
 * worked examples of both books, R aov and lme4 (tests/oracle/gauge). */
#ifndef TENTER_STATS_GAUGE_H
#define TENTER_STATS_GAUGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "tenter/base/status.h"

#define TENTER_GAUGE_POOL_ABOVE 0.25 /* p of the interaction above which it is pooled */

typedef struct tenter_gauge_part { /* of the variance */
  double variance, sd;
  double sd_low, sd_high; /* 95 % */
  double share;           /* of the total variance */
} tenter_gauge_part;

typedef struct tenter_gauge_line { /* of the analysis of variance */
  double squares, df, mean_square;
} tenter_gauge_line;

typedef struct tenter_gauge_study {
  size_t parts, people, repeats; /* repeats: 0 where not balanced */
  bool balanced;
  tenter_gauge_line part, person, interaction, repeat; /* NaN where not balanced */
  double log_likelihood; /* restricted, where not balanced; else NaN */
  double interaction_p;
  bool pooled; /* the interaction, with the repeats */
  tenter_gauge_part repeatability, interaction_part, between_people, reproducibility, gauge,
      between_parts, total;
  double share_of_study; /* sd of the gauge over the total sd */
  double classes;        /* distinct classes: 1.41 sd of parts / sd of the gauge */
  double mean;
} tenter_gauge_study;

/* part and person: numbers from 0, below parts and people. TENTER_INPUT with a sentence where it
 * tells too little (no two points read by more than one, none read twice) or is not balanced and
 * has more than 200 pairs of a part and a person; TENTER_FAILED without memory. */
tenter_status tenter_gauge_study_run(size_t count, const uint32_t *part, const uint32_t *person,
                                     const double *value, size_t parts, size_t people,
                                     tenter_gauge_study *study, tenter_error *error);

/* Bias and linearity: errors on known values, error = level + slope value, by least squares; the
 * band of the line at a value holds it in 95 of 100 (Draper, Smith 1998, Applied Regression
 * Analysis, section 3.1; AIAG, Measurement Systems Analysis, 4th ed., chapter III, section B). */
typedef struct tenter_gauge_linearity {
  size_t count;
  double level, slope, level_se, slope_se;
  double sd;      /* of one error about the line */
  double slope_p; /* two-sided: that there is none */
  double value_mean, mean_se;
} tenter_gauge_linearity;

/* False, with NaN, below three errors or where all are on one value. */
bool tenter_gauge_linearity_fit(size_t count, const double *value, const double *error,
                                tenter_gauge_linearity *fit);
/* The line at a value, and its band. */
double tenter_gauge_linearity_at(const tenter_gauge_linearity *fit, double value, double *low,
                                 double *high);

/* Two gauges on the same parts (Bland, Altman 1986, Lancet i:307): mean of x - y, its sd, limits of
 * agreement mean +- 1.96 sd, standard error of the mean. NaN below two pairs. */
typedef struct tenter_gauge_agreement {
  size_t count;
  double mean, mean_se, sd, low, high;
} tenter_gauge_agreement;
tenter_gauge_agreement tenter_gauge_agree(size_t count, const double *x, const double *y);

/* y = level + slope x with errors in both, ratio = var of y's error / var of x's error (Deming
 * 1943, Statistical Adjustment of Data; closed form: Fuller 1987, Measurement Error Models,
 * section 1.3); standard errors by leaving out one pair at a time (Linnet 1993, Clin. Chem.
 * 39:424). False, with NaN, below three pairs or where the pairs go together in no way. */
typedef struct tenter_gauge_deming {
  double level, slope, level_se, slope_se;
} tenter_gauge_deming;
bool tenter_gauge_deming_fit(size_t count, const double *x, const double *y, double ratio,
                             tenter_gauge_deming *fit);

#endif
