/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How many signals luck alone would give at this review.
 *
 * Calm weeks are drawn with the points of this one: every session gets a standard normal error, a
 * day shares one more in the part that the chart found between days, stretchings and checks get
 * points of their own. Each chart judges them by its own rules with its own limits, whose centre
 * and sigma are off as estimates from so many points are (their worth: stats/charts.h). Charts see
 * the same sessions, so that what shows in several of them is one cause: screens are counted once a
 * week. Weeks follow each other in blocks, each a task of its own; limits are drawn anew for each
 * block, and its first weeks only bring runs and averages into step.
 *
 * The numbers are the same on every run and with any number of threads: the generator of a block
 * starts from its number. */
#include <stdlib.h>

#include "charts.h"
#include "tenter/base/alloc.h"
#include "tenter/base/mix.h"

enum {
  BLOCK_WEEKS = 25,
  RUN_IN = 5,
  KEPT_WEEKS = BLOCK_WEEKS - RUN_IN,
  MOST_DAYS = 16,
  KNOTS = 13,
  MOST_WEEKS = 1000,
  LEAST_WEEKS = 40
};

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
  double own, shared; /* weights of its sessions' errors, of the day's: it is standard normal */
  uint32_t when;      /* number of its day */
  bool service;
} calm_point;

typedef struct calm_chart {
  const tenter_review_chart *of;
  size_t first, count; /* points */
  double knots[KNOTS]; /* z of a point so many sigma from the centre */
} calm_chart;

typedef struct calm_session {
  uint32_t point[GRIDS]; /* UINT32_MAX none */
  size_t screen;         /* of the review; SIZE_MAX where a reread would ask nothing of it */
} calm_session;

/* What all draws share. */
typedef struct calm {
  judge *j;
  const chart_scheme *scheme;
  calm_chart *charts;
  calm_point *points;
  calm_session *sessions;
  size_t *single; /* by point that is no service: screen of the review; SIZE_MAX */
  size_t chart_count, point_count, session_count;
} calm;

static void release(calm *c) {
  tenter_free(c->charts);
  tenter_free(c->points);
  tenter_free(c->sessions);
  tenter_free(c->single);
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
  if (!c->sessions)
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

typedef struct drawn_chart {
  double off, ratio; /* of the estimates in this block */
  tenter_rules_stream rules;
  tenter_ewma average;
} drawn_chart;

typedef struct drawn_point {
  double sum;        /* of the errors of its sessions */
  int signal;        /* this week: side, 0 none */
  uint32_t furthest; /* session of the week */
} drawn_point;

/* A block of weeks while it is drawn. */
typedef struct draw {
  const calm *of;
  luck luck;
  drawn_chart *charts;
  drawn_point *points;
  double days[MOST_DAYS];
  double *errors;  /* by session */
  uint32_t *stamp; /* by screen: the week that named it */
  uint32_t week;
  size_t signals, screens; /* of the week */
} draw;

static bool draw_new(const calm *c, uint64_t block, draw *d) {
  *d = (draw){.of = c,
              .luck = {.state = tenter_mix(20260105 + block)},
              .charts = tenter_alloc(c->chart_count + 1, sizeof *d->charts),
              .points = tenter_alloc(c->point_count + 1, sizeof *d->points),
              .errors = tenter_alloc(c->session_count + 1, sizeof *d->errors),
              .stamp = tenter_alloc(c->j->review->screen_count + 1, sizeof *d->stamp)};
  return d->charts && d->points && d->errors && d->stamp;
}

static void draw_release(draw *d) {
  tenter_free(d->charts);
  tenter_free(d->points);
  tenter_free(d->errors);
  tenter_free(d->stamp);
}

static void start_over(const chart_scheme *scheme, drawn_chart *chart) {
  tenter_rules_start(&chart->rules, scheme->rules, true);
  tenter_ewma_start(&chart->average, scheme->weight, scheme->width);
}

static void draw_limits(draw *d) {
  for (size_t i = 0; i < d->of->chart_count; i++) {
    const calm_chart *chart = &d->of->charts[i];
    const tenter_control_limits *l = &chart->of->limits;
    d->charts[i] = (drawn_chart){.ratio = 1};
    if (chart->count > 0 && !l->known) {
      d->charts[i].off = normal(&d->luck) / sqrt(l->centre_weight);
      d->charts[i].ratio = estimate(&d->luck, l->worth);
    }
    start_over(d->of->scheme, &d->charts[i]);
  }
}

static void draw_errors(draw *d) {
  const calm *c = d->of;
  for (size_t day = 0; day < MOST_DAYS; day++)
    d->days[day] = normal(&d->luck);
  for (size_t p = 0; p < c->point_count; p++)
    d->points[p] =
        (drawn_point){.sum = c->points[p].service ? 0 : normal(&d->luck), .furthest = UINT32_MAX};
  for (size_t s = 0; s < c->session_count; s++) {
    const calm_session *session = &c->sessions[s];
    double error = d->errors[s] = normal(&d->luck);
    for (size_t g = 0; g < GRIDS; g++)
      if (session->point[g] != UINT32_MAX)
        d->points[session->point[g]].sum += error;
  }
}

static void judge_week(draw *d, size_t number) {
  const chart_scheme *scheme = d->of->scheme;
  const calm_chart *of = &d->of->charts[number];
  drawn_chart *chart = &d->charts[number];
  bool averaged = scheme->weight > 0 && tenter_stream_averaged(of->of->stream);
  for (size_t p = of->first; p < of->first + of->count; p++) {
    const calm_point *point = &d->of->points[p];
    double x = point->own * d->points[p].sum + point->shared * d->days[point->when % MOST_DAYS];
    double z = standardise(of, (x - chart->off) / chart->ratio);
    tenter_rules met = tenter_rules_step(&chart->rules, z);
    int drift = averaged ? tenter_ewma_step(&chart->average, z).signal : 0;
    if (!met && !drift)
      continue;
    d->points[p].signal = met ? (z < 0 ? -1 : 1) : drift;
    d->signals++;
    start_over(scheme, chart);
  }
}

static void name_screen(draw *d, size_t screen) {
  if (screen == SIZE_MAX || d->stamp[screen] == d->week)
    return;
  d->stamp[screen] = d->week;
  d->screens++;
}

/* As signals.c names them. */
static void name_screens(draw *d) {
  const calm *c = d->of;
  for (size_t p = 0; p < c->point_count; p++)
    if (d->points[p].signal && !c->points[p].service)
      name_screen(d, c->single[p]);
  for (uint32_t s = 0; s < c->session_count; s++)
    for (size_t g = 0; g < GRIDS; g++) {
      if (c->sessions[s].point[g] == UINT32_MAX)
        continue;
      drawn_point *point = &d->points[c->sessions[s].point[g]];
      double z = point->signal * d->errors[s];
      if (!point->signal)
        continue;
      if (z > CHART_STANDING)
        name_screen(d, c->sessions[s].screen);
      if (point->furthest == UINT32_MAX || z > point->signal * d->errors[point->furthest])
        point->furthest = s;
    }
  for (size_t p = 0; p < c->point_count; p++)
    if (d->points[p].furthest != UINT32_MAX)
      name_screen(d, c->sessions[d->points[p].furthest].screen);
}

static void draw_week(draw *d) {
  d->week++;
  d->signals = d->screens = 0;
  draw_errors(d);
  for (size_t i = 0; i < d->of->chart_count; i++)
    judge_week(d, i);
  if (d->signals > 0)
    name_screens(d);
}

typedef struct drawing {
  const calm *of;
  double *signals, *screens; /* by week */
  bool *failed;              /* by block */
} drawing;

static void draw_block(void *context, size_t block, size_t worker) {
  (void)worker;
  const drawing *all = context;
  draw d;
  all->failed[block] = !draw_new(all->of, block, &d);
  if (!all->failed[block])
    draw_limits(&d);
  for (size_t i = 0; i < BLOCK_WEEKS && !all->failed[block]; i++) {
    draw_week(&d);
    if (i < RUN_IN)
      continue;
    size_t week = block * KEPT_WEEKS + i - RUN_IN;
    all->signals[week] = (double)d.signals;
    all->screens[week] = (double)d.screens;
  }
  draw_release(&d);
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

static size_t block_count(const calm *c) {
  double each = (double)(c->session_count * 2 + c->point_count) + 1, weeks = most_draws / each;
  size_t blocks = (size_t)fmin(fmax(weeks, LEAST_WEEKS), MOST_WEEKS) / KEPT_WEEKS;
  return blocks > 2 ? blocks : 2;
}

static bool draw_all(const calm *c, tenter_chart_alarms *alarms) {
  size_t blocks = block_count(c), count = blocks * KEPT_WEEKS;
  double *weeks = tenter_alloc(2 * count, sizeof *weeks);
  bool *failed = tenter_alloc(blocks, sizeof *failed), done = weeks && failed;
  drawing all = {c, weeks, weeks + count, failed};
  if (done)
    tenter_pool_run(c->j->pool, blocks, draw_block, &all);
  for (size_t i = 0; i < blocks && done; i++)
    done = !failed[i];
  if (done) {
    alarms->draws = count;
    sum_up(all.signals, count, &alarms->signals, &alarms->signals_low, &alarms->signals_high);
    sum_up(all.screens, count, &alarms->screens, &alarms->screens_low, &alarms->screens_high);
  }
  tenter_free(weeks);
  tenter_free(failed);
  return done;
}

tenter_status judge__calm(judge *j, const chart_scheme *scheme, tenter_error *error) {
  calm c = {.j = j, .scheme = scheme};
  bool done = list_points(&c) && list_sessions(&c) && draw_all(&c, &j->review->charts.alarms);
  release(&c);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
