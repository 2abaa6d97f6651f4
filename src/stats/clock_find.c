/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plausible clocks of given data: a likelihood looked at on a few columns of equal growth, each
 * finer where it is great, and the weighted points thinned to few.
 * Relies on: the reduction of weighted points in nested_sample.c. */
#include <math.h>
#include <string.h>

#include "nested_posterior.h"
#include "tenter/stats/clock.h"

enum { COLUMNS = 6, FIRST = 6, ROUNDS = 6, ROOM = FIRST + 2 * ROUNDS, FUNCTIONS = 6 };

static const double most_root = 2;  /* of ease at the centre */
static const double parameters = 1; /* what a clock's two cost, beside the log clock's none */
static const double hopeless = 15, fine = 2, negligible = 1e-4;

/* Clocks of one growth, by rising root of their ease. */
typedef struct column {
  double growth, least; /* the least root allowed */
  double root[ROOM], loglik[ROOM];
  size_t count;
} column;

typedef struct search {
  tenter_clock_span span;
  tenter_clock_loglik *loglik;
  void *context;
  column columns[COLUMNS];
  double of_log, best; /* log-likelihoods */
} search;

static tenter_clock clock_at(const search *s, double growth, double root) {
  return (tenter_clock){growth, root * root * exp(-growth * s->span.centre * M_LN10)};
}

/* ---- looking -------------------------------------------------------------------------------- */

static void insert(column *c, double root, double loglik) {
  size_t i = c->count++;
  for (; i > 0 && c->root[i - 1] > root; i--) {
    c->root[i] = c->root[i - 1];
    c->loglik[i] = c->loglik[i - 1];
  }
  c->root[i] = root;
  c->loglik[i] = isnan(loglik) ? -INFINITY : loglik;
}

/* Points to look at next: their columns and roots. */
typedef struct batch {
  size_t count, column[COLUMNS * FIRST];
  double root[COLUMNS * FIRST];
} batch;

static void look(search *s, const batch *b) {
  tenter_clock clock[COLUMNS * FIRST];
  double loglik[COLUMNS * FIRST];
  for (size_t i = 0; i < b->count; i++)
    clock[i] = clock_at(s, s->columns[b->column[i]].growth, b->root[i]);
  s->loglik(s->context, b->count, clock, loglik);
  for (size_t i = 0; i < b->count; i++) {
    insert(&s->columns[b->column[i]], b->root[i], loglik[i]);
    s->best = fmax(s->best, loglik[i]);
  }
}

static void look_first(search *s) {
  static const double share[FIRST] = {0.05, 0.2, 0.35, 0.5, 0.7, 0.95};
  batch b = {0};
  for (size_t c = 0; c < COLUMNS; c++) {
    column *col = &s->columns[c];
    double over = (s->span.oldest - s->span.centre) * M_LN10;
    col->growth = (double)c / (COLUMNS - 1);
    col->least = fmin(most_root, sqrt(col->growth * exp(-col->growth * over)));
    for (size_t i = 0; i < FIRST; i++, b.count++) {
      b.column[b.count] = c;
      b.root[b.count] = col->least + share[i] * (most_root - col->least);
    }
  }
  look(s, &b);
}

static size_t top_of(const column *c) {
  size_t top = 0;
  for (size_t i = 1; i < c->count; i++)
    if (c->loglik[i] > c->loglik[top])
      top = i;
  return top;
}

/* Both sides of a column's top, where it is not yet fine there. */
static void refine(const search *s, size_t at, batch *b) {
  const column *c = &s->columns[at];
  size_t top = top_of(c);
  double left = top > 0 ? c->root[top - 1] : c->least;
  double right = top + 1 < c->count ? c->root[top + 1] : most_root;
  double drop_left = top > 0 ? c->loglik[top] - c->loglik[top - 1] : 0;
  double drop_right = top + 1 < c->count ? c->loglik[top] - c->loglik[top + 1] : 0;
  double drop = fmax(drop_left, drop_right); /* the true top is not much higher than that */
  if (!(c->loglik[top] + drop > s->best - hopeless) || drop <= fine)
    return;
  b->column[b->count] = b->column[b->count + 1] = at;
  b->root[b->count++] = (left + c->root[top]) / 2;
  b->root[b->count++] = (right + c->root[top]) / 2;
}

static void look_all(search *s) {
  look_first(s);
  for (int round = 0; round < ROUNDS; round++) {
    batch b = {0};
    for (size_t c = 0; c < COLUMNS; c++)
      refine(s, c, &b);
    if (b.count == 0)
      return;
    look(s, &b);
  }
}

/* ---- weighing ------------------------------------------------------------------------------- */

typedef struct points {
  size_t count;
  double growth[COLUMNS * ROOM], root[COLUMNS * ROOM], weight[COLUMNS * ROOM];
} points;

/* The share of a column's length that stands for point i: half way to its neighbours. */
static double share_of(const column *c, size_t i) {
  /* cppcheck-suppress arrayIndexOutOfBoundsCond; i < c->count */
  double from = i > 0 ? (c->root[i - 1] + c->root[i]) / 2 : c->least;
  double to = i + 1 < c->count ? (c->root[i] + c->root[i + 1]) / 2 : most_root;
  return (to - from) / most_root;
}

static double raw_weight(const search *s, size_t c, size_t i) {
  return exp(s->columns[c].loglik[i] - s->best) * share_of(&s->columns[c], i);
}

/* Weights of the points, which add up to `all`; those that don't matter left out. */
static void weigh(const search *s, double all, points *p) {
  double total = 0;
  for (size_t c = 0; c < COLUMNS; c++)
    for (size_t i = 0; i < s->columns[c].count; i++)
      total += raw_weight(s, c, i);
  for (size_t c = 0; c < COLUMNS && total > 0; c++)
    for (size_t i = 0; i < s->columns[c].count; i++) {
      double w = raw_weight(s, c, i) / total;
      if (!(w > negligible))
        continue;
      p->growth[p->count] = s->columns[c].growth;
      p->root[p->count] = s->columns[c].root[i];
      p->weight[p->count++] = w * all;
    }
}

/* Mean and standard deviation of x under the weights; 1 for no spread. */
static void spread(const points *p, const double *x, double *mean, double *sd) {
  double total = 0, sum = 0, square = 0;
  for (size_t i = 0; i < p->count; i++) {
    total += p->weight[i];
    sum += p->weight[i] * x[i];
  }
  *mean = sum / total;
  for (size_t i = 0; i < p->count; i++)
    square += p->weight[i] * (x[i] - *mean) * (x[i] - *mean);
  *sd = square > 0 ? sqrt(square / total) : 1;
}

/* At most FUNCTIONS points that keep total, means, squares and product. */
static void thin(points *p) {
  double functions[COLUMNS * ROOM * FUNCTIONS], work[FUNCTIONS * (FUNCTIONS + 1)];
  double growth, growth_sd, root, root_sd;
  size_t index[FUNCTIONS];
  if (p->count == 0)
    return;
  spread(p, p->growth, &growth, &growth_sd);
  spread(p, p->root, &root, &root_sd);
  for (size_t i = 0; i < p->count; i++) {
    double x = (p->growth[i] - growth) / growth_sd, y = (p->root[i] - root) / root_sd;
    const double f[FUNCTIONS] = {1, x, y, x * x, y * y, x * y};
    memcpy(functions + i * FUNCTIONS, f, sizeof f);
  }
  nested_reduce(p->count, FUNCTIONS, functions, p->weight, work, index);
}

static void add(tenter_clocks *out, tenter_clock clock, double weight) {
  size_t i = out->count++;
  bool log_first = i > 0 && tenter_clock_is_log(out->clock[0]);
  for (; i > (size_t)log_first && out->weight[i - 1] < weight; i--) {
    out->clock[i] = out->clock[i - 1];
    out->weight[i] = out->weight[i - 1];
  }
  out->clock[i] = clock;
  out->weight[i] = weight;
}

static void find_best(const search *s, tenter_clocks *out) {
  double best = s->of_log;
  for (size_t c = 0; c < COLUMNS; c++) {
    const column *col = &s->columns[c];
    size_t top = top_of(col);
    if (col->loglik[top] > best) {
      best = col->loglik[top];
      out->best = clock_at(s, col->growth, col->root[top]);
    }
  }
  out->gain = best - s->of_log;
}

void tenter_clocks_find(tenter_clock_span span, tenter_clock_loglik *loglik, void *context,
                        tenter_clocks *clocks) {
  search s = {.span = span, .loglik = loglik, .context = context};
  points p = {0};
  double total = 0;
  *clocks = (tenter_clocks){.count = 1, .weight = {1}};
  loglik(context, 1, clocks->clock, &s.of_log);
  if (!isfinite(s.of_log))
    return;
  s.best = s.of_log;
  look_all(&s);
  find_best(&s, clocks);
  double others = 1 / (1 + exp(parameters - clocks->gain));
  weigh(&s, others, &p);
  thin(&p);
  clocks->count = 0;
  if (1 - others > negligible || p.count == 0)
    add(clocks, (tenter_clock){0, 0}, 1 - others);
  for (size_t i = 0; i < p.count; i++)
    if (p.weight[i] > 0)
      add(clocks, clock_at(&s, p.growth[i], p.root[i]), p.weight[i]);
  for (size_t i = 0; i < clocks->count; i++)
    total += clocks->weight[i];
  for (size_t i = 0; i < clocks->count; i++)
    clocks->weight[i] /= total;
}
