/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control charts of the shop: what is charted, against which limits, and what they signal.
 *
 * Tension falls by design, so nothing here charts raw tension: stretching is brought to 24 h, what
 * comes later is compared with what was expected of it before it was read, meters with their plates
 * and with each other. Points come one after another, standardised by limits; a point outside them,
 * a run that meets a rule, or a weighted average outside its own limits is a signal, and the chart
 * begins anew. A signal is new when what it shows was read in the ISO week of as_of.
 *
 * Doubles are NaN where not known, ids TENTER_NO_NAME. */
#ifndef TENTER_JUDGE_CHARTS_H
#define TENTER_JUDGE_CHARTS_H

#include "tenter/shop/shop.h"
#include "tenter/stats/charts.h"
#include "tenter/stats/rules.h"

/* The streams. X(constant, code, unit of its points, whether a weighted average is charted beside
 * the points); what a point is stands in tenter/words/charts.h. Of what is expected of sessions it
 * is not: how many screens were printed for the first time that week, how old the shop's mesh is,
 * make those means wander slowly for good reasons, and a weighted average would tell it week after
 * week; slow losses are what the comparison of lots is for. */
#define TENTER_STREAMS(X)                                                                          \
  X(LEVEL, "stretching level", "N/cm", true)                                                       \
  X(TILT_X, "stretching tilt x", "N/cm", true)                                                     \
  X(TILT_Y, "stretching tilt y", "N/cm", true)                                                     \
  X(MESH, "service mesh", "sd", false)                                                             \
  X(LOT, "service lot", "sd", false)                                                               \
  X(STATION, "service station", "sd", false)                                                       \
  X(OPERATOR, "service operator", "sd", false)                                                     \
  X(SHIFT, "meter shift", "sd", false)                                                             \
  X(PLATE, "meter plate", "N/cm", true)
#define TENTER_STREAM_CONSTANT(constant, ...) TENTER_STREAM_##constant,
typedef enum tenter_stream {
  TENTER_STREAMS(TENTER_STREAM_CONSTANT) TENTER_STREAM_COUNT
} tenter_stream;
const char *tenter_stream_code(tenter_stream stream);
const char *tenter_stream_unit(tenter_stream stream);
bool tenter_stream_averaged(tenter_stream stream);
const char *tenter_stream_words(tenter_stream stream); /* what a point is */

/* A rule of runs by its number; the weighted average for any other. */
const char *tenter_chart_rule_words(size_t rule);

typedef struct tenter_chart_point {
  tenter_time at; /* of the acceptance session; of the checks; the start of the day */
  uint32_t count; /* sessions or checks behind it */
  uint32_t item;  /* the session (index into shop->sessions) where there is one; UINT32_MAX */
  double mean;    /* of them, in the unit of the stream */
  double shift;   /* service and meter shift: the same in N/cm; NaN else */
  double value;   /* what is charted: of service, the mean over its own sd with so many sessions */
  double z;       /* standardised by the limits; NaN without limits */
  double average, average_limit; /* exponentially weighted, and its limits +-; NaN where off */
  tenter_rules met;              /* rules that signal here */
  signed char drift;             /* the average signals: -1, +1; else 0 */
  bool is_new;                   /* read in the week of as_of */
} tenter_chart_point;

typedef struct tenter_chart_signal {
  size_t point;
  tenter_time at;
  const char *rule;         /* code of the rule, or "average" */
  const char *text, *shown; /* a sentence with its figures: for programs; in the reader's form */
  bool is_new;
  uint32_t screen;         /* the one that lies furthest on the side of the signal */
  const uint32_t *screens; /* it, and others beyond 2 sd on that side, by id */
  const size_t *sessions;  /* one each */
  size_t screen_count;
  const tenter_row *sources; /* rows behind it */
  uint32_t source_count, more_sources;
} tenter_chart_signal;

/* Where limits come from. */
typedef enum tenter_chart_basis {
  TENTER_BASIS_OWN,    /* the chart's own points before the week of as_of */
  TENTER_BASIS_OTHERS, /* the same stream of all stations: centre is the middle station's */
  TENTER_BASIS_KEPT    /* a file of kept limits */
} tenter_chart_basis;

const char *tenter_chart_basis_word(tenter_chart_basis basis);

/* The limits of one chart as they can be kept in a file. */
typedef struct tenter_chart_limits {
  tenter_stream stream;
  const char *mesh, *key; /* names; mesh "" but for LEVEL, key "" where a level has no station */
  tenter_control_limits limits;
  double within, between; /* service: sd of a session, of a day, in the units of the errors */
  tenter_time from, to;   /* of the data behind them */
} tenter_chart_limits;

typedef struct tenter_review_chart {
  tenter_stream stream;
  uint32_t mesh, key; /* ids; key: station, lot, operator, meter (as the stream says) */
  const char *name;
  bool from_target; /* LEVEL: points are deviations from target */
  tenter_chart_basis basis;
  tenter_control_limits limits;         /* of the values, for standardised points of one */
  double within, between;               /* see tenter_chart_limits */
  double lower, upper;                  /* of the charted value, for a point to come */
  tenter_time from, to;                 /* of the points behind the limits; TENTER_NO_TIME */
  tenter_control_dependence dependence; /* of neighbouring points of the past */
  tenter_chart_point *points;           /* in order of time (stretching: of stretch) */
  size_t point_count;
  tenter_chart_signal *signals; /* in order of points */
  size_t signal_count;
} tenter_review_chart;

/* What luck alone would give at this review, from every chart's real rules and its limits as
 * estimated, by drawing calm weeks with the points of this one; and what was seen. Means and the
 * range that holds 95 % of calm weeks. A screen counts once in a week, in however many charts. */
typedef struct tenter_chart_alarms {
  double signals, signals_low, signals_high; /* new signals */
  double screens, screens_low, screens_high; /* screens that they ask to be read again */
  size_t seen_signals, seen_screens;
  size_t draws;
} tenter_chart_alarms;

typedef struct tenter_review_charts {
  tenter_review_chart *charts; /* by stream, then name */
  size_t count;
  size_t too_few; /* streams with too few points for limits, not charted */
  tenter_chart_alarms alarms;
  tenter_rules rules;                          /* in use */
  double rules_run_length, average_run_length; /* points to a false signal, limits exact; NaN off */
  double average_weight, average_width;        /* NaN off */
  double standing;  /* of a screen's own deviation that names it behind a signal, sd */
  size_t kept_used; /* charts judged by kept limits */
} tenter_review_charts;

#endif
