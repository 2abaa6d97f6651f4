/* SPDX-License-Identifier: GPL-3.0-or-later */
/* On which clocks the shop's relaxation may be straight (stats/clock.h): the log law, or laws that
 * level off, each as likely as the population model finds the data on it.
 *
 * Only mountings with three fitted sessions or more can tell, and few of them tell enough: in a
 * large shop those with the most sessions, and of these every so manieth, so that the cost does not
 * grow with the shop. Coating, printing and reclaiming stand beside the law: steps down that come
 * one after the other would look like another law. The likelihood is the maximised one (ML): that
 * of REML is not comparable between clocks, whose fixed columns differ. */
#include <string.h>

#include "population_inner.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/laws.h"

enum { LEAST_SESSIONS = 3, MOST_UNITS = 300, MOST_SESSIONS = 40 };

/* Fitted sessions of the mountings that can tell. */
typedef struct sample {
  const judge *j;
  size_t units, count;
  size_t *first;   /* by unit, and the end */
  uint64_t *group; /* by unit */
  double *decades, *y, *weight;
  double *x;      /* columns by session */
  size_t columns; /* the causes of steps that differ between sessions */
  /* one batch */
  const tenter_clock *clock;
  double *loglik;
} sample;

static void release(sample *s) {
  tenter_free(s->first);
  tenter_free(s->group);
  tenter_free(s->decades);
  tenter_free(s->y);
  tenter_free(s->weight);
  tenter_free(s->x);
}

/* ---- the sample ----------------------------------------------------------------------------- */

/* Fitted sessions of a mounting, counted no further than matters. */
static size_t fitted_sessions(const struct population_inner *in, size_t i) {
  return in->fitted[i] < MOST_SESSIONS ? in->fitted[i] : MOST_SESSIONS;
}

/* Which mountings are taken: all with more fitted sessions than `least`, and of those with as many
 * every stride-th. */
typedef struct pick {
  size_t least, stride, units;
} pick;

static pick choose_units(const struct population_inner *in) {
  size_t with[MOST_SESSIONS + 1] = {0};
  for (size_t i = 0; i < in->placed_count; i++)
    with[fitted_sessions(in, i)]++;
  pick p = {.least = MOST_SESSIONS};
  while (p.least > LEAST_SESSIONS && p.units + with[p.least] < MOST_UNITS)
    p.units += with[p.least--];
  size_t room = MOST_UNITS - p.units;
  p.stride = (with[p.least] + room - 1) / room;
  p.stride = p.stride > 0 ? p.stride : 1;
  p.units += with[p.least] / p.stride + 1;
  return p;
}

static bool make_room(sample *s, size_t units) {
  s->first = tenter_alloc(units + 1, sizeof *s->first);
  s->group = tenter_alloc(units + 1, sizeof *s->group);
  s->decades = tenter_alloc(units * MOST_SESSIONS + 1, sizeof *s->decades);
  s->y = tenter_alloc(units * MOST_SESSIONS + 1, sizeof *s->y);
  s->weight = tenter_alloc(units * MOST_SESSIONS + 1, sizeof *s->weight);
  s->x = tenter_alloc(units * MOST_SESSIONS * STEP_CAUSES + 1, sizeof *s->x);
  return s->first && s->group && s->decades && s->y && s->weight && s->x;
}

/* Of a mounting read very often every so manieth session will do. */
static void add_unit(sample *s, uint64_t group, const line_data *d, const double *x) {
  size_t stride = 1 + d->count / (MOST_SESSIONS + 1);
  for (size_t k = 0; k < d->count; k += stride, s->count++) {
    s->decades[s->count] = d->u[k];
    s->y[s->count] = d->y[k];
    s->weight[s->count] = d->weight[k];
    memcpy(s->x + s->count * STEP_CAUSES, x + k * STEP_CAUSES, STEP_CAUSES * sizeof *x);
  }
  s->group[s->units++] = group;
  s->first[s->units] = s->count;
}

/* Keeps the columns that are not the same everywhere. */
static void squeeze(sample *s) {
  size_t kept[STEP_CAUSES] = {0};
  for (size_t c = 0; c < STEP_CAUSES; c++) {
    bool differs = false;
    for (size_t i = 1; i < s->count && !differs; i++)
      differs = s->x[i * STEP_CAUSES + c] != s->x[c];
    if (differs)
      kept[s->columns++] = c;
  }
  for (size_t i = 0; i < s->count; i++)
    for (size_t c = 0; c < s->columns; c++)
      s->x[i * s->columns + c] = s->x[i * STEP_CAUSES + kept[c]];
}

/* False when memory runs out. */
static bool take_sample(const judge *j, const population *p, sample *s) {
  const struct population_inner *in = p->inner;
  const tenter_clock plain = {0, 0};
  pick of = choose_units(in);
  size_t most = judge__most_sessions(j);
  line_data d = {0};
  double *x = tenter_alloc(most * STEP_CAUSES, sizeof *x);
  *s = (sample){.j = j};
  bool done = x && make_room(s, of.units) && judge__data_room(&d, most);
  for (size_t i = 0, seen = 0; done && i < in->placed_count; i++) {
    const tenter_mounting *m = &j->shop->mountings[in->placed[i].mounting];
    size_t fitted = fitted_sessions(in, i);
    if (fitted < of.least || (fitted == of.least && seen++ % of.stride != 0))
      continue;
    judge__data_gather(j, p, plain, m, m->first_session + m->session_count, &d);
    if (j->settings->covariates != TENTER_COVARIATES_NONE)
      judge__step_causes(j, m, m->first_session + m->session_count, x);
    add_unit(s, in->placed[i].group, &d, x);
  }
  squeeze(s);
  judge__data_release(&d);
  tenter_free(x);
  return done;
}

static tenter_clock_span span_of(const sample *s, double *decades) {
  tenter_clock_span span = {.oldest = -INFINITY};
  double youngest = INFINITY, weights = 0;
  for (size_t i = 0; i < s->count; i++) {
    span.centre += s->weight[i] * s->decades[i];
    weights += s->weight[i];
    span.oldest = fmax(span.oldest, s->decades[i]);
    youngest = fmin(youngest, s->decades[i]);
  }
  span.centre /= weights;
  *decades = span.oldest - youngest;
  return span;
}

/* ---- likelihoods ---------------------------------------------------------------------------- */

static tenter_status add_all(const sample *s, tenter_clock clock, double *u,
                             tenter_nested_products *products, tenter_error *error) {
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < s->count; i++)
    u[i] = tenter_clock_u(clock, s->decades[i]);
  for (size_t i = 0; i < s->units && !status; i++) {
    size_t first = s->first[i];
    if (i == 0 || s->group[i] != s->group[i - 1])
      status = tenter_nested_group_add(products, (size_t)(s->group[i] >> 33), s->group[i], error);
    if (!status)
      status = tenter_nested_unit_add(products, i, s->first[i + 1] - first, u + first, s->y + first,
                                      s->weight + first, s->x + first * s->columns, error);
  }
  return status;
}

/* One clock; NaN where it can't be fitted. Memory that runs out is seen elsewhere too. */
static void evaluate(void *context, size_t task, size_t worker) {
  (void)worker;
  const sample *s = context;
  tenter_nested_products *products = NULL;
  tenter_nested_fit fit = {0};
  tenter_error error;
  tenter_nested_options options = {
      .ml = true, .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE};
  double *u = tenter_alloc(s->count + 1, sizeof *u);
  s->loglik[task] = NAN;
  if (u && !tenter_nested_products_new(2, s->columns, &products, &error) &&
      !add_all(s, s->clock[task], u, products, &error) &&
      !tenter_nested_fit_run(products, &options, &fit, &error)) {
    s->loglik[task] = fit.loglik;
    tenter_nested_fit_release(&fit);
  }
  tenter_nested_products_free(products);
  tenter_free(u);
}

static void evaluate_all(void *context, size_t count, const tenter_clock *clock, double *loglik) {
  sample *s = context;
  s->clock = clock;
  s->loglik = loglik;
  tenter_pool_run(s->j->pool, count, evaluate, s);
}

/* ---- names ---------------------------------------------------------------------------------- */

/* On the logarithm of tension the log law is the power law. Clocks between the named laws, and a
 * power law that falls to a level, are limits of the stretched exponential. */
const char *judge__law_name(const population *p) {
  tenter_law law = p->log ? TENTER_LAW_POWER : TENTER_LAW_LOG;
  if (!tenter_clock_is_log(p->clock))
    law = p->clock.growth < 1 ? TENTER_LAW_STRETCHED : TENTER_LAW_SOLID;
  return tenter_law_describe(law)->name;
}

/* ---- all of it ------------------------------------------------------------------------------ */

tenter_status judge__clocks(judge *j, population *p, tenter_error *error) {
  sample s;
  double decades = 0;
  p->clock = (tenter_clock){0, 0};
  p->clocks = (tenter_clocks){.count = 1, .weight = {1}};
  bool done = take_sample(j, p, &s);
  if (done && s.units > 1) {
    tenter_clock_span span = span_of(&s, &decades);
    if (decades >= j->settings->levelling_decades)
      tenter_clocks_find(span, evaluate_all, &s, &p->clocks);
  }
  release(&s);
  /* the two parameters of a clock count as such */
  if (2 * p->clocks.gain - 4 >= j->settings->law_margin)
    p->clock = p->clocks.best;
  return done ? TENTER_OK : tenter_fail_memory(error);
}
