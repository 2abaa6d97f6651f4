/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control charts: constants from their definitions, limits estimated from the past, what they allow
 * of a point to come, and the running charts (EWMA, CUSUM).
 *
 * The way data takes: tenter_subgroup_of for each subgroup -> tenter_control_estimate (or
 * tenter_control_known) -> tenter_control_bounds_at to draw, tenter_control_z for the standardised
 * point that run rules (rules.h), EWMA and CUSUM take. The limits are plain numbers: they can be
 * kept in a file and used again.
 *
 * Limits estimated from few subgroups are themselves uncertain: with 20 individuals, plain limits
 * of three sigma give four times the nominal false alarms. So a point to come is judged by wider
 * limits (TENTER_CONTROL_NEXT) that keep the nominal rate, averaged over all pasts that could have
 * been seen. For pooled standard deviations these follow exactly from Student's t. For other
 * estimates of sigma they follow from a power of chi-square with their variance and their number of
 * independent contrasts (chart_worth.c; after Patnaik 1950, Biometrika 37:78-87, who matched a
 * chi): with moving ranges the rate is then within 5 % of nominal from 5 points on, 0.8 of it at 3
 * (with a matched chi it would be 0.7 at 9 points and 0.3 at 3); with medians it is 0.8 to 1.05 of
 * nominal from 6 points on. The points of the past itself are judged by plain limits
 * (TENTER_CONTROL_PAST). */
#ifndef TENTER_STATS_CHARTS_H
#define TENTER_STATS_CHARTS_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"

/* ---- constants ---- */

enum { TENTER_CHART_SIZE_MAX = 100 }; /* the most readings of a subgroup judged by its range */

/* The constants of ISO 7870-2 / ASTM MNL 7 for subgroups of n readings, by definition from
 *   c4 = sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2),   d2 = E R,   d3 = sd R
 * with R the range of n standard normal readings; lower factors below 0 are 0. Letters as in the
 * standards. median_range is the median of R (0.9539 for n = 2). */
typedef struct tenter_chart_constants {
  double c4, d2, d3, median_range;
  double A, A2, A3;      /* limits of averages from sigma, mean range, mean standard deviation */
  double B3, B4, B5, B6; /* of standard deviations: B3, B4 from their mean; B5, B6 from sigma */
  double D1, D2, D3, D4; /* of ranges: D1, D2 from sigma; D3, D4 from their mean */
  double E2, E3;         /* of individuals: from mean range, mean standard deviation */
} tenter_chart_constants;

/* Constants for n = 2 ... TENTER_CHART_SIZE_MAX, to 1e-10; TENTER_USAGE outside. A fraction of a
 * millisecond: ask once a size. */
tenter_status tenter_chart_constants_of(size_t n, tenter_chart_constants *constants,
                                        tenter_error *error);

/* c4 for any n >= 2 (c4 of freedom + 1, which may be broken, is E s / sigma); NaN below. */
double tenter_chart_c4(double n);

/* P(R <= range) for n standard normal readings; 0 for range <= 0; NaN for n < 2. */
double tenter_range_cdf(size_t n, double range);

/* ---- limits ---- */

typedef struct tenter_subgroup {
  size_t count;     /* readings; 0 = missing */
  double mean;      /* NaN without readings */
  double deviation; /* standard deviation, divisor count - 1; NaN below 2 readings */
  double range;     /* NaN below 2 readings */
} tenter_subgroup;

/* Of count values; those that are NaN or infinite are left out. Two passes. */
tenter_subgroup tenter_subgroup_of(const double *values, size_t count);

typedef enum tenter_control_kind {
  TENTER_CONTROL_AVERAGES,    /* averages judged by the spread within subgroups; a spread chart */
  TENTER_CONTROL_INDIVIDUALS, /* means judged by their own moving range; no spread chart */
  TENTER_CONTROL_THREE_WAY /* averages judged by their own moving range, and a spread chart: where
                              readings of a subgroup are no replicates (Wheeler 1995) */
} tenter_control_kind;

typedef enum tenter_control_spread { /* how sigma is found within subgroups, what the spread chart
                                        shows (ranges, or standard deviations for the others) */
                                     TENTER_SPREAD_RANGE,
                                     TENTER_SPREAD_DEVIATION,
                                     TENTER_SPREAD_POOLED
} tenter_control_spread;

typedef enum tenter_control_robust {
  TENTER_ROBUST_NEVER,
  TENTER_ROBUST_IF_SIGNALS, /* when a point of the past lies outside plain limits */
  TENTER_ROBUST_ALWAYS
} tenter_control_robust;

typedef struct tenter_control_options {
  tenter_control_kind kind;
  tenter_control_spread spread;
  tenter_control_robust robust;
  double width;             /* of the limits in sigma, > 0 */
  size_t provisional_below; /* fewer subgroups than this make provisional limits */
} tenter_control_options;

/* Three sigma (Shewhart 1931), provisional below 20 subgroups (common practice, no source),
 * robust when needed. */
#define TENTER_CONTROL_DEFAULTS(chart_kind, chart_spread)                                          \
  ((tenter_control_options){(chart_kind), (chart_spread), TENTER_ROBUST_IF_SIGNALS, 3.0, 20})

typedef enum tenter_control_state {
  TENTER_CONTROL_READY,
  TENTER_CONTROL_TOO_FEW, /* fewer than 2 subgroups, or nothing that shows a spread */
  TENTER_CONTROL_FLAT     /* the readings do not differ: no limits can be set */
} tenter_control_state;

/* How an estimate of sigma varies: as (chi-square of freedom)^(power / 2), scaled to be right on
 * average. power 1: the law of a standard deviation with so many degrees of freedom. */
typedef struct tenter_control_worth {
  double freedom, power;
} tenter_control_worth;

/* Limits. While state is not READY, sigma and centre are what could be found (else NaN) and bounds
 * are NaN. */
typedef struct tenter_control_limits {
  tenter_control_kind kind;
  tenter_control_spread spread;
  tenter_control_state state;
  bool known;       /* parameters given, not estimated: worth and centre_weight have no meaning */
  bool robust;      /* medians were used */
  bool provisional; /* too few subgroups; said so wherever the chart is shown */
  double width;     /* nominal, in sigma */
  double centre;
  double sigma;               /* of one reading (averages), of one point (individuals, three-way) */
  tenter_control_worth worth; /* of sigma */
  double centre_weight;       /* variance of centre = sigma^2 / centre_weight */
  double within;              /* sigma of a reading within its subgroup; NaN for individuals */
  tenter_control_worth within_worth;
  double between;   /* three-way: sd between subgroups beyond what the spread within explains,
                       0 where it explains all; NaN else */
  size_t subgroups; /* with readings */
  size_t readings;
  size_t past_signals; /* subgroups outside the plain limits (average or spread) before any robust
                          estimation */
} tenter_control_limits;

/* Limits from count subgroups in order of time. Missing ones (count 0) are passed over; no moving
 * range is taken across a gap. Plain estimates:
 *   centre         averages: mean of all readings; others: mean of the points
 *   range          sum (d2/d3^2) R / sum (d2/d3)^2: the mean range / d2 when all n are equal;
 *                  least-variance unbiased for unequal n (Burr 1969, J. Quality Technology 1:163)
 *   deviation      likewise with c4 and sqrt(1 - c4^2)
 *   pooled         sqrt(sum (n-1) s^2 / sum (n-1)) / c4(sum (n-1) + 1)
 *   moving range   mean / d2(2); its worth allows for the overlap of neighbours
 * Robust estimates: median of the points; median of R / median_range(n), of s / (median of s), of
 * moving ranges / median_range(2) (the rule when the past holds signals: no subgroup is thrown out,
 * a fifth of them may lie anywhere without carrying the limits away). Subgroups of one reading tell
 * about the centre only. TENTER_USAGE for ranges of more than TENTER_CHART_SIZE_MAX readings or a
 * width not above 0; TENTER_FAILED without memory; too few or equal data are states, not errors. */
tenter_status tenter_control_estimate(const tenter_subgroup *subgroups, size_t count,
                                      const tenter_control_options *options,
                                      tenter_control_limits *limits, tenter_error *error);

/* Limits with given parameters (sigma > 0, else state FLAT; within may be NaN). */
tenter_control_limits tenter_control_known(const tenter_control_options *options, double centre,
                                           double sigma, double within);

typedef enum tenter_control_when { TENTER_CONTROL_PAST, TENTER_CONTROL_NEXT } tenter_control_when;

/* What is allowed to a subgroup; NaN where there is no such chart. */
typedef struct tenter_control_bounds {
  double lower, upper;                              /* for its average */
  double spread_lower, spread_centre, spread_upper; /* for its range or standard deviation */
} tenter_control_bounds;

/* Bounds for a subgroup of n >= 1 readings. PAST: centre +- width sigma / sqrt(n), and the
 * constants D or B of the standards. NEXT: the widened bounds, with the rates that the plain ones
 * would have if centre and sigma were known. A fraction of a millisecond where ranges are charted,
 * and some milliseconds for NEXT: ask once a size. TENTER_USAGE for n = 0 or too many for ranges.
 */
tenter_status tenter_control_bounds_at(const tenter_control_limits *limits, size_t n,
                                       tenter_control_when when, tenter_control_bounds *bounds,
                                       tenter_error *error);

/* The average of n readings, standardised: PAST (mean - centre) / its sigma; NEXT the standard
 * normal number of the same probability, so that +-1, +-2 and +-3 keep their rates too.
 * NaN without limits. */
double tenter_control_z(const tenter_control_limits *limits, size_t n, double mean,
                        tenter_control_when when);

/* P(an average in control falls outside): nominal (known limits), and by these limits used plain,
 * averaged over what could have been estimated. NaN while not READY. */
typedef struct tenter_control_rates {
  double nominal, plain;
} tenter_control_rates;
tenter_control_rates tenter_control_false_alarms(const tenter_control_limits *limits, size_t n);

/* ---- dependence ---- */

/* Neighbouring points that are alike make moving-range limits too narrow: their sigma estimates
 * sigma sqrt(1 - r) for a first-order autoregression with coefficient r (Maragah and Woodall 1992,
 * J. Statist. Comput. Simul. 40:29-42). */
typedef struct tenter_control_dependence {
  size_t pairs;      /* of neighbours; needs at least 8 points, else the numbers are NaN */
  double lag1;       /* first autocorrelation, divisor count */
  double p_value;    /* two-sided, normal, mean -1/n and variance of Moran (1948) for white noise */
  double widen;      /* factor for moving-range limits, 1 / sqrt(1 - r), r = lag1 + (1 + 4 lag1)/n
                        (its bias removed, kept within +-0.95) */
  double false_rate; /* P(outside three sigma) if the limits stay as they are; nominal 0.0027 */
} tenter_control_dependence;

/* Of count points in order of time; NaN is a gap. */
tenter_control_dependence tenter_control_dependence_of(const double *points, size_t count);

/* Widens limits of moving ranges (individuals, three-way) for it: sigma times widen, the worth of
 * centre and sigma lessened. Limits of other kinds and known ones are left as they are (averages
 * with dependent subgroups call for the three-way chart). */
void tenter_control_allow(tenter_control_limits *limits,
                          const tenter_control_dependence *dependence);

/* ---- running charts, of standardised points ---- */

/* Exponentially weighted moving average (Roberts 1959, Technometrics 1:239; limits that are exact
 * from the first point: Lucas and Saccucci 1990, Technometrics 32:1). Starts at 0. */
typedef struct tenter_ewma {
  double lambda, width; /* weight of the latest point, in (0, 1]; limits in sigma of the average */
  double value, decay;  /* decay = (1 - lambda)^(2 points) */
} tenter_ewma;

typedef struct tenter_ewma_point {
  double value, limit; /* the limits are -limit and +limit */
  int signal;          /* -1 below, +1 above, 0 none */
} tenter_ewma_point;

void tenter_ewma_start(tenter_ewma *chart, double lambda, double width);

/* The next point; a missing one (NaN or infinite) changes nothing and signals nothing. */
tenter_ewma_point tenter_ewma_step(tenter_ewma *chart, double z);

/* Tabular cumulative sums (Page 1954, Biometrika 41:100; head start: Lucas and Crosier 1982,
 * Technometrics 24:199): up = max(0, up + z - reference), down = max(0, down - z - reference). */
typedef struct tenter_cusum {
  double reference, decision, head_start; /* k, h, start value (h/2 for a fast initial response) */
  double up, down;
  size_t up_run, down_run; /* points since the sum was last 0 */
} tenter_cusum;

typedef struct tenter_cusum_point {
  double up, down;
  size_t up_run, down_run; /* the change began about so many points ago */
  int signal;              /* +1 up above decision, -1 down, 0 none */
} tenter_cusum_point;

/* Also the way to begin anew after a signal. */
void tenter_cusum_start(tenter_cusum *chart, double reference, double decision, double head_start);

/* The next point; a missing one changes nothing and signals nothing. */
tenter_cusum_point tenter_cusum_step(tenter_cusum *chart, double z);

#endif
