/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search for Turnbull's masses: a support that grows where the gradient says so and shrinks
 * where a mass falls to 0; on it, far from the top, self-consistency steps, and then Newton's in
 * the cumulated masses, brought back to rising order by isotonic regression. Relies on the heap.
 *
 * In the cumulated masses G the log-likelihood is sum of weight * log(G[hi] - G[lo]); its Hessian
 * is the Laplacian of the graph of edges, weights weight / P^2, with both ends grounded. It is
 * solved by conjugate gradients, preconditioned by its middle band (all there is to it for exact
 * and right-censored rows, so that there they need one step). */
#include <float.h>
#include <math.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"
#include "turnbull_internal.h"

enum { OUTER = 200, SHARINGS = 4, INNER = 4, HALVINGS = 60 };

static const double gap_near = 1e-8, gap_share = 1e-12; /* close enough: near + share * weight */
static const double far_share = 1e-3; /* a gap above this share of the weight is far from the top */

/* ---- the state ------------------------------------------------------------------------------ */

void turnbull_search_release(turnbull_search *s) {
  void *blocks[] = {s->support,  s->rank,      s->mass,   s->sum,      s->edge,    s->curvature,
                    s->gradient, s->direction, s->target, s->residual, s->precond, s->search,
                    s->image,    s->diagonal,  s->beside, s->pivot,    s->spare,   s->first};
  for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
    tenter_free(blocks[i]);
  *s = (turnbull_search){0};
}

tenter_status turnbull_search_make(const tenter_turnbull_rows *rows, turnbull_search *search,
                                   tenter_error *error) {
  turnbull_search s = {.rows = rows};
  size_t boundaries = rows->intervals + 2;
  double **numbers[] = {&s.mass,    &s.sum,    &s.gradient, &s.direction, &s.target, &s.residual,
                        &s.precond, &s.search, &s.image,    &s.diagonal,  &s.beside, &s.pivot};
  bool done = true;
  for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
    done &= (*numbers[i] = tenter_alloc(boundaries, sizeof **numbers[i])) != NULL;
  done &= (s.support = tenter_alloc(boundaries, sizeof *s.support)) != NULL;
  done &= (s.rank = tenter_alloc(boundaries, sizeof *s.rank)) != NULL;
  done &= (s.first = tenter_alloc(boundaries, sizeof *s.first)) != NULL;
  done &= (s.edge = tenter_alloc(rows->count, sizeof *s.edge)) != NULL;
  done &= (s.spare = tenter_alloc(rows->count, sizeof *s.spare)) != NULL;
  done &= (s.curvature = tenter_alloc(rows->count, sizeof *s.curvature)) != NULL;
  if (!done) {
    turnbull_search_release(&s);
    return tenter_fail_memory(error);
  }
  *search = s;
  return TENTER_OK;
}

static void cumulate(turnbull_search *s) {
  s->sum[0] = 0;
  for (size_t k = 0; k < s->count; k++)
    s->sum[k + 1] = s->sum[k] + s->mass[k];
}

/* The edges between the masses of the support. Those that cover all of it are certain. */
static void connect(turnbull_search *s) {
  size_t k = 0, kept = 0;
  for (size_t c = 0; c <= s->rows->intervals; c++) {
    s->rank[c] = (uint32_t)k;
    if (k < s->count && s->support[k] == c)
      k++;
  }
  for (size_t i = 0; i < s->rows->count; i++) {
    const turnbull_edge *row = &s->rows->edge[i];
    uint32_t lo = s->rank[row->lo], hi = s->rank[row->hi];
    if (lo > 0 || hi < s->count)
      s->edge[kept++] = (turnbull_edge){lo, hi, row->weight};
  }
  s->edges = turnbull_edges_merge(s->edge, kept, s->count + 1, s->spare, s->first);
  cumulate(s);
}

/* Where several steps go between the same masses, a difference of sums loses digits; a single
 * mass does not. */
static inline double chance(const turnbull_search *s, uint32_t lo, uint32_t hi) {
  return hi == lo + 1 ? s->mass[lo] : s->sum[hi] - s->sum[lo];
}

double turnbull_search_loglik(const turnbull_search *s) {
  tenter_sum total = {0};
  for (size_t i = 0; i < s->rows->count; i++) {
    const turnbull_edge *row = &s->rows->edge[i];
    tenter_sum_add(&total, row->weight * log(chance(s, s->rank[row->lo], s->rank[row->hi])));
  }
  return tenter_sum_total(&total);
}

/* ---- Newton's equations --------------------------------------------------------------------- */

void turnbull_search_curve(turnbull_search *s) {
  memset(s->diagonal, 0, (s->count + 1) * sizeof *s->diagonal);
  memset(s->beside, 0, (s->count + 1) * sizeof *s->beside);
  for (size_t i = 0; i < s->edges; i++) {
    const turnbull_edge *e = &s->edge[i];
    double p = chance(s, e->lo, e->hi), c = e->weight / (p * p);
    s->curvature[i] = c;
    s->diagonal[e->lo] += c;
    s->diagonal[e->hi] += c;
    if (e->hi == e->lo + 1)
      s->beside[e->lo] = c;
  }
  for (size_t k = 1; k < s->count; k++) {
    double above = k > 1 ? s->beside[k - 1] * s->beside[k - 1] / s->pivot[k - 1] : 0;
    s->pivot[k] = fmax(s->diagonal[k] - above, s->diagonal[k] * DBL_EPSILON);
  }
}

/* The middle band of the Hessian, as L D L'. */
static void precondition(const turnbull_search *s, const double *b, double *x) {
  size_t n = s->count;
  for (size_t k = 1; k < n; k++)
    x[k] = b[k] + (k > 1 ? s->beside[k - 1] / s->pivot[k - 1] * x[k - 1] : 0);
  for (size_t k = n; k-- > 1;)
    x[k] = (x[k] + (k + 1 < n ? s->beside[k] * x[k + 1] : 0)) / s->pivot[k];
}

static void multiply(const turnbull_search *s, const double *x, double *y) {
  memset(y, 0, (s->count + 1) * sizeof *y);
  for (size_t i = 0; i < s->edges; i++) {
    const turnbull_edge *e = &s->edge[i];
    double flow = s->curvature[i] * (x[e->hi] - x[e->lo]);
    y[e->hi] += flow;
    y[e->lo] -= flow;
  }
}

static double product(const turnbull_search *s, const double *x, const double *y) {
  double sum = 0;
  for (size_t k = 1; k < s->count; k++)
    sum += x[k] * y[k];
  return sum;
}

/* Conjugate gradients (Hestenes, Stiefel 1952), preconditioned. */
bool turnbull_search_solve(turnbull_search *s, const double *b, double *x, double tolerance) {
  size_t n = s->count, most = 2 * n + 50;
  double *r = s->residual, *z = s->precond, *d = s->search, *q = s->image;
  memset(x, 0, (n + 1) * sizeof *x);
  memcpy(r, b, (n + 1) * sizeof *r);
  d[0] = d[n] = z[0] = z[n] = 0;
  precondition(s, r, z);
  memcpy(d, z, (n + 1) * sizeof *d);
  double slope = product(s, r, z), first = slope;
  for (size_t step = 0; step < most && slope > tolerance * tolerance * first; step++) {
    multiply(s, d, q);
    double bend = product(s, d, q);
    if (!(bend > 0))
      break;
    double length = slope / bend;
    for (size_t k = 1; k < n; k++) {
      x[k] += length * d[k];
      r[k] -= length * q[k];
    }
    precondition(s, r, z);
    double next = product(s, r, z), ratio = next / slope;
    for (size_t k = 1; k < n; k++)
      d[k] = z[k] + ratio * d[k];
    slope = next;
  }
  return slope <= tolerance * tolerance * first;
}

/* ---- one step on the support ---------------------------------------------------------------- */

/* By boundary of the support. */
static void slope_of(turnbull_search *s) {
  memset(s->gradient, 0, (s->count + 1) * sizeof *s->gradient);
  for (size_t i = 0; i < s->edges; i++) {
    const turnbull_edge *e = &s->edge[i];
    double pull = e->weight / chance(s, e->lo, e->hi);
    s->gradient[e->hi] += pull;
    s->gradient[e->lo] -= pull;
  }
}

/* target: the nearest sums, by distances weighted with the diagonal of the Hessian, that rise from
 * 0 to 1 (pool adjacent violators: Ayer et al. 1955; Barlow et al. 1972). residual and precond hold
 * means and weights of the blocks, first their lengths. */
static void make_rise(turnbull_search *s) {
  double *mean = s->residual, *weight = s->precond;
  size_t blocks = 0, at = 1;
  for (size_t k = 1; k < s->count; k++) {
    double m = s->target[k], w = s->diagonal[k];
    uint32_t length = 1;
    for (; blocks > 0 && mean[blocks - 1] >= m; blocks--) {
      double both = weight[blocks - 1] + w;
      m = (m * w + mean[blocks - 1] * weight[blocks - 1]) / both;
      w = both;
      length += s->first[blocks - 1];
    }
    mean[blocks] = m;
    weight[blocks] = w;
    s->first[blocks++] = length;
  }
  for (size_t i = 0; i < blocks; i++)
    for (uint32_t left = s->first[i]; left > 0; left--)
      s->target[at++] = fmin(1, fmax(0, mean[i]));
}

static bool rises(const turnbull_search *s, const double *direction) {
  for (size_t k = 0; k < s->count; k++)
    if (!(s->mass[k] + (direction[k + 1] - direction[k]) > 0))
      return false;
  return true;
}

/* Turns the direction into one that leads to rising sums. True where nothing had to be changed. */
static bool hold_direction(turnbull_search *s) {
  double *d = s->direction;
  d[0] = d[s->count] = 0;
  if (rises(s, d))
    return true;
  for (size_t k = 1; k < s->count; k++)
    s->target[k] = s->sum[k] + d[k];
  make_rise(s);
  for (size_t k = 1; k < s->count; k++)
    d[k] = s->target[k] - s->sum[k];
  return false;
}

/* What a step of this length gains; -inf where a row becomes impossible. */
static double gain_of(const turnbull_search *s, double length) {
  double gain = 0;
  for (size_t i = 0; i < s->edges; i++) {
    const turnbull_edge *e = &s->edge[i];
    double change = length * (s->direction[e->hi] - s->direction[e->lo]);
    double ratio = change / chance(s, e->lo, e->hi);
    if (!(ratio > -1 + 1e-12))
      return -INFINITY;
    gain += e->weight * log1p(ratio);
  }
  return gain;
}

/* A length whose gain is a fair share of what the slope promises (Armijo). */
static double length_of(const turnbull_search *s, double promise) {
  double length = 1;
  for (int i = 0; i < HALVINGS; i++, length /= 2)
    if (gain_of(s, length) >= 1e-4 * length * promise)
      return length;
  return 0;
}

/* Takes the step; masses that fall to 0 leave the support. */
static void take_step(turnbull_search *s, double length) {
  size_t kept = 0, before = s->count;
  for (size_t k = 0; k < before; k++) {
    double change = s->direction[k + 1] - s->direction[k], mass = s->mass[k] + length * change;
    if (length == 1 && s->sum[k + 1] + s->direction[k + 1] <= s->sum[k] + s->direction[k])
      mass = 0;
    if (!(mass > 0))
      continue;
    s->support[kept] = s->support[k];
    s->mass[kept++] = mass;
  }
  s->count = kept;
  if (kept < before)
    connect(s);
  else
    cumulate(s);
}

/* One step; returns half of Newton's promise, about what was to be gained, or 0 where nothing was
 * gained. */
static double improve(turnbull_search *s, double tolerance) {
  slope_of(s);
  turnbull_search_curve(s);
  turnbull_search_solve(s, s->gradient, s->direction, tolerance);
  hold_direction(s);
  double promise = product(s, s->gradient, s->direction);
  double length = promise > 0 ? length_of(s, promise) : 0;
  if (length == 0) { /* the projection spoilt it: the diagonal alone always climbs */
    for (size_t k = 1; k < s->count; k++)
      s->direction[k] = s->gradient[k] / s->diagonal[k];
    hold_direction(s);
    promise = product(s, s->gradient, s->direction);
    length = promise > 0 ? length_of(s, promise) : 0;
  }
  if (length > 0)
    take_step(s, length);
  s->steps++;
  return length > 0 ? promise / 2 : 0;
}

/* A self-consistency step: each row is shared out over its masses in proportion (Turnbull 1976; an
 * EM step). It climbs from anywhere, far from the top better than Newton's. */
static void share_out(turnbull_search *s) {
  slope_of(s);
  tenter_sum pull = {s->rows->weight, 0};
  for (size_t i = 0; i < s->edges; i++)
    tenter_sum_add(&pull, -s->edge[i].weight);
  for (size_t k = 0; k < s->count; k++) {
    tenter_sum_add(&pull, -s->gradient[k]);
    s->mass[k] *= tenter_sum_total(&pull) / s->rows->weight;
  }
  cumulate(s);
}

/* ---- the support ---------------------------------------------------------------------------- */

/* By innermost interval: sum of weight / P over the rows that cover it. Rows that cover one mass
 * alone are added at once, so that their great terms need not cancel. */
static void pull_of_all(turnbull_search *s) {
  size_t n = s->rows->intervals;
  double *own = s->target, *pull = s->gradient;
  memset(own, 0, (n + 1) * sizeof *own);
  memset(pull, 0, (n + 1) * sizeof *pull);
  for (size_t i = 0; i < s->rows->count; i++) {
    const turnbull_edge *row = &s->rows->edge[i];
    double w = row->weight / chance(s, s->rank[row->lo], s->rank[row->hi]);
    if (row->hi == row->lo + 1) {
      own[row->lo] += w;
    } else {
      pull[row->lo] += w;
      pull[row->hi] -= w;
    }
  }
  tenter_sum sum = {0};
  for (size_t j = 0; j < n; j++) {
    tenter_sum_add(&sum, pull[j]);
    pull[j] = tenter_sum_total(&sum) + own[j];
  }
}

/* Adds, in each stretch between masses, the interval of the greatest pull above the weight. */
static void widen(turnbull_search *s) {
  size_t count = 0, k = 0, best = SIZE_MAX, n = s->rows->intervals;
  double most = s->rows->weight;
  for (size_t j = 0; j <= n; j++) {
    bool held = k < s->count && s->support[k] == j;
    if (held || j == n) {
      if (best != SIZE_MAX) {
        s->first[count] = (uint32_t)best;
        s->target[count++] = 0;
      }
      if (j == n)
        break;
      s->first[count] = (uint32_t)j;
      s->target[count++] = s->mass[k++];
      best = SIZE_MAX;
      most = s->rows->weight;
    } else if (s->gradient[j] > most) {
      most = s->gradient[j];
      best = j;
    }
  }
  memcpy(s->support, s->first, count * sizeof *s->support);
  memcpy(s->mass, s->target, count * sizeof *s->mass);
  if (count > s->count) {
    s->count = count;
    connect(s);
  }
}

static double near_enough(const turnbull_search *s) {
  return gap_near + gap_share * s->rows->weight;
}

bool turnbull_search_is_near(const turnbull_search *s) {
  return s->gap <= near_enough(s);
}

void turnbull_search_climb(turnbull_search *s) {
  double weight = s->rows->weight, enough = near_enough(s);
  for (int outer = 0; outer < OUTER; outer++) {
    pull_of_all(s);
    double most = 0;
    for (size_t j = 0; j < s->rows->intervals; j++)
      most = fmax(most, s->gradient[j]);
    s->gap = fmax(0, most - weight);
    if (s->gap <= enough)
      return;
    widen(s);
    for (int i = 0; i < SHARINGS && s->gap > far_share * weight; i++)
      share_out(s);
    double tolerance = fmin(0.1, sqrt(s->gap / weight));
    for (int inner = 0; inner < INNER; inner++) {
      double gain = improve(s, tolerance);
      if (gain < 0.01 * enough)
        break;
    }
  }
}

/* The fewest masses that give every row one: the last interval of a row that has none, rows taken
 * by where they end. */
static size_t stab(turnbull_search *s) {
  size_t n = s->rows->intervals, count = 0;
  uint32_t *latest = s->first; /* the greatest lo of the rows that end at each boundary, + 1 */
  memset(latest, 0, (n + 1) * sizeof *latest);
  for (size_t i = 0; i < s->rows->count; i++) {
    const turnbull_edge *row = &s->rows->edge[i];
    if (row->lo + 1 > latest[row->hi])
      latest[row->hi] = row->lo + 1;
  }
  for (size_t c = 1; c <= n; c++)
    if (latest[c] > 0 && (count == 0 || s->support[count - 1] + 1 < latest[c]))
      s->support[count++] = (uint32_t)(c - 1);
  return count;
}

void turnbull_search_begin(turnbull_search *s, const uint32_t *support, const double *mass,
                           size_t count) {
  s->steps = 0;
  if (support) {
    memcpy(s->support, support, count * sizeof *support);
    memcpy(s->mass, mass, count * sizeof *mass);
    s->count = count;
  } else {
    s->count = stab(s);
    for (size_t k = 0; k < s->count; k++)
      s->mass[k] = 1 / (double)s->count;
  }
  connect(s);
}
