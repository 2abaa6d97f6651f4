/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How many signals luck alone would give at this review.
 *
 * Calm weeks are drawn with the points of this one: every session gets a standard normal error, a
 * day shares one more in the part that the chart found between days, stretchings and checks get
 * points of their own. Each chart judges them by its own rules with its own limits, whose centre
 * and sigma are off as estimates from so many points are (their worth: stats/charts.h). Charts see
 * the same sessions, so that what shows in several of them is one cause: screens are counted once a
 * week. Weeks follow each other in blocks; limits are drawn anew for each block, and its first
 * weeks only bring runs and averages into step.
 *
 * The numbers are the same on every run: the generator starts from a constant. */
#include <stdlib.h>

#include "charts.h"
#include "tenter/base/alloc.h"
#include "tenter/base/mix.h"

enum { BLOCK_WEEKS = 25, RUN_IN = 5, KNOTS = 13, MOST_WEEKS = 1000, LEAST_WEEKS = 40 };

static const double knot_step = 0.5;
static const double most_draws = 4e6; /* of sessions and points, over all weeks */

/* ---- random numbers ------------------------------------------------------------------------- */

typedef struct luck {
  uint64_t state;
  double spare;
  bool has_spare;
} luck;

static double normal(luck *l) { /* polar method: Marsaglia and Bray 1964 */
  if (l->has_spare) {
    l->has_spare = false;
    return l->spare;
  }
  double x, y, r;
  do {
    x = 2 * tenter_draw_uniform(&l->state) - 1;
    y = 2 * tenter_draw_uniform(&l->state) - 1;
    r = x * x + y * y;
  } while (r >= 1);
  double factor = sqrt(-2 * log(r) / r);
  l->spare = y * factor;
  l->has_spare = true;
  return x * factor;
}

/* An estimate of sigma over sigma, by its worth: a power of chi-square over its freedom (by Wilson
 * and Hilferty 1931, good to a percent from 3 on), with mean 1. */
static double estimate(luck *l, tenter_control_worth worth) {
  double v = fmax(worth.freedom, 1), h = worth.power / 2, w = 2 / (9 * v);
  double root = fmax(1 - w + sqrt(w) * normal(l), 0.05);
  double mean = exp(h * log(2 / v) + lgamma(v / 2 + h) - lgamma(v / 2));
  return pow(root, 3 * h) / mean;
}

/* ---- the week's charts ---------------------------------------------------------------------- */

typedef struct calm_point {
  double sum, day;    /* of errors of its sessions; of the day they share */
  double own, shared; /* weights of sum and day: the point is standard normal */
  int signal;         /* this week: side, 0 none */
  uint32_t furthest;  /* session of the week */
  uint32_t when;      /* number of its day */
  bool service;
} calm_point;

typedef struct calm_chart {
  const tenter_review_chart *of;
  size_t first, count; /* points */
  double knots[KNOTS]; /* z of a point so many sigma from the centre */
  double off, ratio;   /* of the estimates in this block */
  tenter_rules_stream rules;
  tenter_ewma average;
} calm_chart;

typedef struct calm_session {
  uint32_t point[GRIDS]; /* UINT32_MAX none */
  size_t screen;         /* of the review; SIZE_MAX where a reread would ask nothing of it */
  double error;
} calm_session;

typedef struct calm {
  judge *j;
  const chart_scheme *scheme;
  luck luck;
  calm_chart *charts;
  calm_point *points;
  calm_session *sessions;
  size_t *single; /* by point that is no service: screen of the review; SIZE_MAX */
  size_t chart_count, point_count, session_count;
  uint32_t *stamp; /* by screen: the week that named it */
  uint32_t week;
  size_t signals, screens; /* of the week */
} calm;

static void release(calm *c) {
  tenter_free(c->charts);
  tenter_free(c->points);
  tenter_free(c->sessions);
  tenter_free(c->single);
  tenter_free(c->stamp);
}

static void fill_knots(calm_chart *chart) {
  const tenter_control_limits *l = &chart->of->limits;
  for (size_t k = 0; k < KNOTS; k++)
    chart->knots[k] =
        tenter_control_z(l, 1, l->centre + (double)k * knot_step * l->sigma, TENTER_CONTROL_NEXT);
}

static double standardise(const calm_chart *chart, double x) {
  double at = fabs(x) / knot_step;
  size_t k = at >= KNOTS - 1 ? KNOTS - 2 : (size_t)at;
  double z = chart->knots[k] + (at - (double)k) * (chart->knots[k + 1] - chart->knots[k]);
  return x < 0 ? -z : z;
}

static calm_point point_of_chart(const calm *c, const tenter_review_chart *chart,
                                 const tenter_chart_point *p) {
  calm_point made = {.own = 1, .when = (uint32_t)((p->at - c->j->charting->week) / TENTER_DAY)};
  made.service = !isnan(chart->within);
  if (made.service) {
    double n = p->count, variance = squared(chart->between) + squared(chart->within) / n;
    made.own = chart->within / sqrt(variance) / n;
    made.shared = chart->between / sqrt(variance);
  }
  return made;
}

/* New points of charts that have limits. */
static bool list_points(calm *c) {
  const struct charting *of = c->j->charting;
  size_t most = 0;
  for (size_t i = 0; i < of->count; i++)
    for (size_t k = 0; k < of->charts[i].point_count; k++)
      most += of->charts[i].points[k].is_new;
  c->charts = tenter_alloc(of->count + 1, sizeof *c->charts);
  c->points = tenter_alloc(most + 1, sizeof *c->points);
  c->single = tenter_alloc(most + 1, sizeof *c->single);
  if (!c->charts || !c->points || !c->single)
    return false;
  for (size_t i = 0; i < of->count; i++) {
    const tenter_review_chart *chart = &of->charts[i];
    calm_chart *made = &c->charts[i]; /* one each, so that grids find theirs */
    *made = (calm_chart){.of = chart, .first = c->point_count};
    if (chart->limits.state != TENTER_CONTROL_READY)
      continue;
    for (size_t k = 0; k < chart->point_count; k++) {
      const tenter_chart_point *p = &chart->points[k];
      if (!p->is_new)
        continue;
      bool screen = chart->stream < TENTER_STREAM_MESH;
      c->single[c->point_count] = screen ? judge__open_session(c->j, p->item) : SIZE_MAX;
      c->points[c->point_count++] = point_of_chart(c, chart, p);
      made->count++;
    }
    if (made->count > 0)
      fill_knots(made);
  }
  c->chart_count = of->count;
  return true;
}

/* The place of a session among the new points of a grid's charts. */
static uint32_t find_point(const calm *c, const grid *g, size_t session) {
  const cell *at = judge__cell_of(c->j, g, session);
  if (!at || at->point == UINT32_MAX)
    return UINT32_MAX;
  const calm_chart *chart = &c->charts[g->chart[(size_t)(at - g->cells) / g->days]];
  size_t from_end = chart->of->point_count - at->point; /* new points are the last */
  return chart->count == 0 ? UINT32_MAX : (uint32_t)(chart->first + chart->count - from_end);
}

static bool list_sessions(calm *c) {
  const judge *j = c->j;
  size_t most = 0;
  for (size_t i = 0; i < j->shop->session_count; i++)
    most += j->shop->sessions[i].taken >= j->charting->week;
  c->sessions = tenter_alloc(most + 1, sizeof *c->sessions);
  c->stamp = tenter_alloc(j->review->screen_count + 1, sizeof *c->stamp);
  if (!c->sessions || !c->stamp)
    return false;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    if (j->shop->sessions[i].taken < j->charting->week || isnan(j->foreseen[i].z))
      continue;
    calm_session *s = &c->sessions[c->session_count++];
    s->screen = judge__open_session(j, i);
    for (size_t g = 0; g < GRIDS; g++)
      s->point[g] = find_point(c, &j->charting->grids[g], i);
  }
  return true;
}

/* ---- drawing -------------------------------------------------------------------------------- */

static void draw_limits(calm *c) {
  for (size_t i = 0; i < c->chart_count; i++) {
    calm_chart *chart = &c->charts[i];
    const tenter_control_limits *l = &chart->of->limits;
    chart->off = 0;
    chart->ratio = 1;
    if (chart->count > 0 && !l->known) {
      chart->off = normal(&c->luck) / sqrt(l->centre_weight);
      chart->ratio = estimate(&c->luck, l->worth);
    }
    tenter_rules_start(&chart->rules, c->scheme->rules, true);
    tenter_ewma_start(&chart->average, c->scheme->weight, c->scheme->width);
  }
}

static void draw_errors(calm *c) {
  double days[16];
  for (size_t d = 0; d < 16; d++)
    days[d] = normal(&c->luck);
  for (size_t p = 0; p < c->point_count; p++) {
    calm_point *point = &c->points[p];
    point->sum = point->service ? 0 : normal(&c->luck);
    point->day = days[point->when % 16];
    point->signal = 0;
    point->furthest = UINT32_MAX;
  }
  for (size_t s = 0; s < c->session_count; s++) {
    calm_session *session = &c->sessions[s];
    session->error = normal(&c->luck);
    for (size_t g = 0; g < GRIDS; g++)
      if (session->point[g] != UINT32_MAX)
        c->points[session->point[g]].sum += session->error;
  }
}

static void judge_week(calm *c, calm_chart *chart) {
  bool averaged = c->scheme->weight > 0 && tenter_stream_averaged(chart->of->stream);
  for (size_t p = chart->first; p < chart->first + chart->count; p++) {
    calm_point *point = &c->points[p];
    double x = point->own * point->sum + point->shared * point->day;
    double z = standardise(chart, (x - chart->off) / chart->ratio);
    tenter_rules met = tenter_rules_step(&chart->rules, z);
    int drift = averaged ? tenter_ewma_step(&chart->average, z).signal : 0;
    if (!met && !drift)
      continue;
    point->signal = met ? (z < 0 ? -1 : 1) : drift;
    c->signals++;
    tenter_rules_start(&chart->rules, c->scheme->rules, true);
    tenter_ewma_start(&chart->average, c->scheme->weight, c->scheme->width);
  }
}

static void name_screen(calm *c, size_t screen) {
  if (screen == SIZE_MAX || c->stamp[screen] == c->week)
    return;
  c->stamp[screen] = c->week;
  c->screens++;
}

/* As signals.c names them. */
static void name_screens(calm *c) {
  for (size_t p = 0; p < c->point_count; p++)
    if (c->points[p].signal && !c->points[p].service)
      name_screen(c, c->single[p]);
  for (uint32_t s = 0; s < c->session_count; s++)
    for (size_t g = 0; g < GRIDS; g++) {
      if (c->sessions[s].point[g] == UINT32_MAX)
        continue;
      calm_point *point = &c->points[c->sessions[s].point[g]];
      double z = point->signal * c->sessions[s].error;
      if (!point->signal)
        continue;
      if (z > CHART_STANDING)
        name_screen(c, c->sessions[s].screen);
      if (point->furthest == UINT32_MAX || z > point->signal * c->sessions[point->furthest].error)
        point->furthest = s;
    }
  for (size_t p = 0; p < c->point_count; p++)
    if (c->points[p].furthest != UINT32_MAX)
      name_screen(c, c->sessions[c->points[p].furthest].screen);
}

static void draw_week(calm *c) {
  c->week++;
  c->signals = c->screens = 0;
  draw_errors(c);
  for (size_t i = 0; i < c->chart_count; i++)
    judge_week(c, &c->charts[i]);
  if (c->signals > 0)
    name_screens(c);
}

/* ---- what it comes to ----------------------------------------------------------------------- */

static int by_size(const void *x, const void *y) {
  double a = *(const double *)x, b = *(const double *)y;
  return (a > b) - (a < b);
}

/* Mean and the range of the middle 95 %, of count numbers. */
static void sum_up(double *of, size_t count, double *mean, double *low, double *high) {
  double sum = 0;
  for (size_t i = 0; i < count; i++)
    sum += of[i];
  *mean = sum / (double)count;
  qsort(of, count, sizeof *of, by_size);
  size_t aside = count / 40;
  *low = of[aside];
  *high = of[count - 1 - aside];
}

static size_t week_count(const calm *c) {
  double each = (double)(c->session_count * 2 + c->point_count) + 1, weeks = most_draws / each;
  weeks = fmin(fmax(weeks, LEAST_WEEKS), MOST_WEEKS);
  size_t blocks = (size_t)weeks / (BLOCK_WEEKS - RUN_IN);
  return (blocks > 2 ? blocks : 2) * (BLOCK_WEEKS - RUN_IN);
}

static void draw_all(calm *c, double *signals, double *screens, size_t count) {
  for (size_t week = 0; week < count;) {
    draw_limits(c);
    for (size_t i = 0; i < BLOCK_WEEKS; i++) {
      draw_week(c);
      if (i < RUN_IN)
        continue;
      signals[week] = (double)c->signals;
      screens[week++] = (double)c->screens;
    }
  }
}

tenter_status judge__calm(judge *j, const chart_scheme *scheme, tenter_error *error) {
  tenter_chart_alarms *alarms = &j->review->charts.alarms;
  calm c = {.j = j, .scheme = scheme, .luck = {.state = 20260105}};
  bool done = list_points(&c) && list_sessions(&c);
  size_t count = week_count(&c);
  double *signals = tenter_alloc(2 * count, sizeof *signals);
  if (done && signals) {
    draw_all(&c, signals, signals + count, count);
    alarms->draws = count;
    sum_up(signals, count, &alarms->signals, &alarms->signals_low, &alarms->signals_high);
    sum_up(signals + count, count, &alarms->screens, &alarms->screens_low, &alarms->screens_high);
  }
  tenter_free(signals);
  release(&c);
  return done && signals ? TENTER_OK : tenter_fail_memory(error);
}
