/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files of the control charts:
 *
 *   stretching.c   acceptance sessions and plates, as points of charts
 *   service.c      forecast errors, gathered by day and mesh, lot, station, operator, meter
 *   charting.c     one chart: its limits, its points judged
 *   signals.c      the screens and rows behind a signal
 *   signal_text.c  its sentence
 *   calm.c         how many signals luck alone would give
 *   charts.c       all of it in order
 *
 * Charts are made once; they can be judged again by other limits. */
#ifndef TENTER_JUDGE_CHARTS_INNER_H
#define TENTER_JUDGE_CHARTS_INNER_H

#include "judge.h"

/* One day (or a few, where there are very many) of one mesh, lot ... */
typedef struct cell {
  double z, squares, error; /* sums over its sessions */
  uint32_t count, low;      /* sessions; of those below what was expected */
  uint32_t point;           /* of its chart; UINT32_MAX none */
  uint32_t signal;          /* of its chart; UINT32_MAX none */
} cell;

/* All sessions of which something was expected, by key and day. */
typedef struct grid {
  tenter_stream stream;
  size_t keys, days;
  tenter_time first, step; /* start of the first day; length of a day */
  cell *cells;             /* keys * days */
  uint32_t *chart;         /* by key; UINT32_MAX none */
} grid;

enum { GRIDS = TENTER_STREAM_SHIFT - TENTER_STREAM_MESH + 1 };

struct charting {
  grid grids[GRIDS]; /* by stream from MESH on */
  bool *told;        /* by session: its meter's own chart, or its plates, speak for it */
  tenter_review_chart *charts;
  size_t count, room;
  tenter_time week;   /* start of the week of as_of */
  tenter_time oldest; /* first session of which something was expected, or week */
};

/* A point's chart as its file makes it; NULL when memory runs out. */
tenter_review_chart *judge__chart_add(judge *j, tenter_stream stream, uint32_t mesh, uint32_t key,
                                      size_t points);

/* ---- stretching.c ---- */
tenter_status judge__stretching_charts(judge *j, tenter_error *error);
tenter_status judge__plate_charts(judge *j, tenter_error *error);

/* ---- service.c ---- */

/* When the first session was taken of which something was expected; or the start of the week. */
tenter_time judge__oldest_foreseen(const judge *j);

/* The grids of streams [first, last], and their charts. Sessions that are told are passed over. */
tenter_status judge__service_charts(judge *j, tenter_stream first, tenter_stream last,
                                    tenter_error *error);

/* The cell of a session; NULL where it is in none. */
cell *judge__cell_of(const judge *j, const grid *g, size_t session);

/* ---- charting.c ---- */

/* How charts are judged; of the settings. */
typedef struct chart_scheme {
  tenter_rules rules;
  double weight, width; /* of the average; weight 0: off */
} chart_scheme;

/* The name of its station, lot ...; "" for none. */
const char *judge__chart_key(const judge *j, const tenter_review_chart *chart);

/* Limits of charts [first, end), which are of one stream each: kept ones where there are some. */
tenter_status judge__chart_limits(judge *j, size_t first, size_t end,
                                  const tenter_chart_limits *kept, size_t kept_count,
                                  tenter_error *error);

/* Values, standardised points and signals of one chart. */
void judge__chart_points(tenter_review_chart *chart, const chart_scheme *scheme);

static inline bool judge__signals(const tenter_chart_point *p) {
  return p->met != 0 || p->drift != 0;
}

/* ---- signal_text.c ---- */

/* The first rule that a point which signals meets, by its number; TENTER_RULE_COUNT where its
 * average alone signals. */
size_t judge__rule_met(const tenter_chart_point *p);

/* What such a point shows, with its figures in that form: a sentence in the arena of j; "" when
 * memory runs out, which the arena remembers. */
const char *judge__signal_text(const judge *j, const tenter_review_chart *chart,
                               const tenter_chart_point *point, tenter_form form);

/* ---- signals.c ---- */
tenter_status judge__signals_tell(judge *j, tenter_error *error);

/* ---- calm.c ---- */
tenter_status judge__calm(judge *j, const chart_scheme *scheme, tenter_error *error);

/* ---- charts.c ---- */

/* How the settings have charts judged; what review->charts says of it. */
tenter_status judge__chart_scheme(judge *j, chart_scheme *scheme, tenter_error *error);

/* Makes and judges the charts, and asks for what they signal to be read again. After
 * judge__weeks. */
tenter_status judge__charts(judge *j, const chart_scheme *scheme, tenter_error *error);

/* The same of a past week, for its actions alone: nothing in words, no false alarms to expect. When
 * all its sessions are foreseen. */
tenter_status judge__past_charts(judge *j, const chart_scheme *scheme, tenter_error *error);

/* The latest session of a screen in use, which nothing later has settled; SIZE_MAX of its index
 * into review->screens where it is not. */
size_t judge__open_session(const judge *j, size_t session);

/* A screen's own deviation that names it behind a signal, in its sd. */
#define CHART_STANDING 2.0

#endif
