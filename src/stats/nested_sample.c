/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The importance sample over the variance components, and its reduction to a few nodes.
 * Relies on: GSL (Sobol' sequence, t quantiles), base/alloc. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_qrng.h>

#include "nested_posterior.h"
#include "tenter/base/alloc.h"

enum { ROUND = 256, ROUNDS = 4, SAMPLE = ROUND * ROUNDS };

static const double proposal_df = 5;
static const double good_share = 0.3; /* effective share of a sample that needs no further round */

/* Independent split t distributions along principal axes: scale[k][0] below the middle, [1] above.
 */
typedef struct proposal {
  size_t n;
  double middle[NODES_MOST], axis[NODES_MOST * NODES_MOST]; /* columns */
  double scale[NODES_MOST][2];
} proposal;

/* The sample so far: points (rows of n), log posterior, weights that add up to 1. */
typedef struct sample {
  size_t n, count, rounds;
  proposal from[ROUNDS];
  double *point, *log_posterior, *weight;
  double effective;
} sample;

static void place(const proposal *q, const double *along, double *x) {
  for (size_t j = 0; j < q->n; j++) {
    x[j] = q->middle[j];
    for (size_t k = 0; k < q->n; k++)
      x[j] += q->axis[j * q->n + k] * along[k];
  }
}

/* ---- the first proposal: from the mode ---- */

/* The scale with which a normal density would fall as this one does on the way out. */
static double side_scale(nested_posterior *p, const proposal *q, size_t k, double at_mode,
                         double step) {
  const double out = 1.5;
  double along[NODES_MOST] = {0}, x[NODES_MOST];
  along[k] = out * step;
  place(q, along, x);
  double drop = at_mode - nested_log_posterior(p, x);
  double factor = out / sqrt(2 * fmax(drop, 0.05));
  return fabs(step) * fmin(fmax(factor, 0.4), 3);
}

static bool propose_at_mode(nested_posterior *p, const double *mode, double at_mode,
                            const double *curvature, proposal *q) {
  double values[NODES_MOST];
  q->n = p->n;
  memcpy(q->middle, mode, p->n * sizeof *mode);
  if (!nested_axes(p->n, curvature, values, q->axis))
    return false;
  for (size_t k = 0; k < p->n; k++) {
    double sd = 1 / sqrt(fmax(fabs(values[k]), 0.05));
    q->scale[k][0] = side_scale(p, q, k, at_mode, -sd);
    q->scale[k][1] = side_scale(p, q, k, at_mode, sd);
  }
  return true;
}

/* ---- later proposals: from the sample ---- */

/* Weights flattened (raised to a power below 1) until enough points carry them. */
static void flatten(const sample *s, double *flat) {
  double power = 1;
  for (size_t tries = 0; tries < 20; tries++) {
    double sum = 0, square = 0;
    for (size_t i = 0; i < s->count; i++) {
      flat[i] = s->weight[i] > 0 ? pow(s->weight[i], power) : 0;
      sum += flat[i];
    }
    for (size_t i = 0; i < s->count; i++) {
      flat[i] /= sum;
      square += flat[i] * flat[i];
    }
    if (1 / square >= 10 * (double)s->n)
      return;
    power *= 0.7;
  }
}

/* Mean and principal axes of the sample. */
static bool propose_from_sample(const sample *s, proposal *q) {
  size_t n = s->n;
  double flat[SAMPLE] = {0}, cov[NODES_MOST * NODES_MOST] = {0}, values[NODES_MOST] = {0};
  flatten(s, flat);
  *q = (proposal){.n = n};
  for (size_t i = 0; i < s->count; i++)
    for (size_t k = 0; k < n; k++)
      q->middle[k] += flat[i] * s->point[i * n + k];
  for (size_t i = 0; i < s->count; i++)
    for (size_t j = 0; j < n; j++)
      for (size_t k = 0; k < n; k++)
        cov[j * n + k] +=
            flat[i] * (s->point[i * n + j] - q->middle[j]) * (s->point[i * n + k] - q->middle[k]);
  if (!nested_axes(n, cov, values, q->axis))
    return false;
  for (size_t k = 0; k < n; k++)
    q->scale[k][0] = q->scale[k][1] = 1.2 * sqrt(fmax(values[k], 1e-6));
  return true;
}

/* ---- sampling ---- */

/* A point of the proposal from one of the unit cube. */
static void draw(const proposal *q, const double *cube, double *x) {
  double along[NODES_MOST];
  for (size_t k = 0; k < q->n; k++) {
    double low = q->scale[k][0], high = q->scale[k][1], share = low / (low + high);
    bool above = cube[k] >= share;
    double half = above ? (cube[k] - share) / (1 - share) : cube[k] / share; /* uniform */
    double t = gsl_cdf_tdist_Pinv(above ? 0.5 + half / 2 : half / 2, proposal_df);
    along[k] = t * (above ? high : low);
  }
  place(q, along, x);
}

/* Density of the proposal but for the t distribution's constant. */
static double density(const proposal *q, const double *x) {
  double product = 1;
  for (size_t k = 0; k < q->n; k++) {
    double along = 0;
    for (size_t j = 0; j < q->n; j++)
      along += q->axis[j * q->n + k] * (x[j] - q->middle[j]);
    double t = along / q->scale[k][along > 0], r = 1 + t * t / proposal_df;
    product *= 2 / (q->scale[k][0] + q->scale[k][1]) / (r * r * r); /* (df + 1) / 2 = 3 */
  }
  return product;
}

/* Weights of all points as drawn from the proposals in equal shares (Veach and Guibas 1995), none
 * above sqrt(count) times the mean: a lone point far out would rule all (Ionides 2008, Truncated
 * importance sampling, J. Comput. Graph. Stat. 17:295). */
static void weigh_sample(sample *s) {
  double best = -INFINITY, sum = 0, square = 0;
  for (size_t i = 0; i < s->count; i++) {
    double q = 1e-300;
    for (size_t r = 0; r < s->rounds; r++)
      q += density(&s->from[r], s->point + i * s->n);
    s->weight[i] = s->log_posterior[i] - log(q);
    best = fmax(best, s->weight[i]);
  }
  for (size_t i = 0; i < s->count; i++)
    sum += s->weight[i] = exp(s->weight[i] - best);
  double most = sum / sqrt((double)s->count);
  sum = 0;
  for (size_t i = 0; i < s->count; i++)
    sum += s->weight[i] = fmin(s->weight[i], most);
  for (size_t i = 0; i < s->count; i++) {
    s->weight[i] = s->weight[i] / sum > 1e-9 ? s->weight[i] / sum : 0;
    square += s->weight[i] * s->weight[i];
  }
  s->effective = 1 / square;
}

static void draw_round(nested_posterior *p, sample *s, gsl_qrng *cube) {
  const proposal *q = &s->from[s->rounds++];
  for (size_t i = 0; i < ROUND; i++, s->count++) {
    double at[NODES_MOST], *x = s->point + s->count * s->n;
    gsl_qrng_get(cube, at); /* never 0 or 1: GSL begins after the origin */
    draw(q, at, x);
    s->log_posterior[s->count] = nested_log_posterior(p, x);
  }
  weigh_sample(s);
}

/* Rounds until the sample is good; false without memory. */
static bool fill_sample(nested_posterior *p, const double *mode, double at_mode,
                        const double *curvature, sample *s) {
  gsl_qrng *cube = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)p->n);
  bool done = cube && propose_at_mode(p, mode, at_mode, curvature, &s->from[0]);
  if (done)
    draw_round(p, s, cube);
  while (done && s->rounds < ROUNDS && s->effective < good_share * (double)s->count) {
    done = propose_from_sample(s, &s->from[s->rounds]);
    if (done)
      draw_round(p, s, cube);
  }
  if (cube)
    gsl_qrng_free(cube);
  return done;
}

/* ---- reduction ---- */

/* A basis of m points among those seen: no more carry weight. It begins with m stand-ins, unit
 * vectors without weight, each replaced by the first point that leans on it. */
typedef struct basis {
  size_t m;
  double *inverse; /* m x m: of the matrix whose columns are the points' functions */
  double *part;    /* m: the new point in terms of the basis */
  size_t *point;   /* m: SIZE_MAX for a stand-in */
} basis;

static void express(const basis *b, const double *f) {
  for (size_t r = 0; r < b->m; r++) {
    b->part[r] = 0;
    for (size_t k = 0; k < b->m; k++)
      b->part[r] += b->inverse[r * b->m + k] * f[k];
  }
}

/* Puts the new point in row r's place. */
static void exchange(basis *b, size_t r, size_t point) {
  size_t m = b->m;
  double *row = b->inverse + r * m;
  for (size_t k = 0; k < m; k++)
    row[k] /= b->part[r];
  for (size_t i = 0; i < m; i++)
    for (size_t k = 0; i != r && k < m; k++)
      b->inverse[i * m + k] -= b->part[i] * row[k];
  b->point[r] = point;
}

/* The stand-in that the new point leans on most, or m. */
static size_t stand_in(const basis *b) {
  size_t best = b->m;
  double most = 1e-7;
  for (size_t r = 0; r < b->m; r++)
    if (b->point[r] == SIZE_MAX && fabs(b->part[r]) > most) {
      most = fabs(b->part[r]);
      best = r;
    }
  return best;
}

/* The row that runs out first when the new point's weight moves by sign, and after how much. */
static size_t first_out(const basis *b, const double *weight, double sign, double *step) {
  size_t best = b->m;
  *step = INFINITY;
  for (size_t r = 0; r < b->m; r++) {
    double loss = sign * b->part[r];
    if (b->point[r] != SIZE_MAX && loss > 1e-9 && weight[b->point[r]] / loss < *step) {
      *step = weight[b->point[r]] / loss;
      best = r;
    }
  }
  return best;
}

/* The new point hands its weight to the basis, or takes a basis point's place. */
static void settle(basis *b, size_t point, double *weight) {
  double up, down;
  size_t on_up = first_out(b, weight, 1, &up), on_down = first_out(b, weight, -1, &down);
  bool gone = down >= weight[point];
  bool rise = !gone && on_up < b->m && fabs(b->part[on_up]) > fabs(b->part[on_down]);
  double move = gone ? -weight[point] : rise ? up : -down;
  size_t out = rise ? on_up : on_down;
  for (size_t r = 0; r < b->m; r++)
    if (b->point[r] != SIZE_MAX)
      weight[b->point[r]] = fmax(weight[b->point[r]] - move * b->part[r], 0);
  weight[point] = gone ? 0 : weight[point] + move;
  if (gone)
    return;
  weight[b->point[out]] = 0;
  exchange(b, out, point);
}

void nested_reduce(size_t count, size_t m, const double *functions, double *weight, double *work,
                   size_t *index) {
  basis b = {m, work, work + m * m, index};
  for (size_t r = 0; r < m; r++) {
    b.point[r] = SIZE_MAX;
    for (size_t k = 0; k < m; k++)
      b.inverse[r * m + k] = r == k;
  }
  for (size_t i = 0; i < count; i++) {
    if (weight[i] <= 0)
      continue;
    express(&b, functions + i * m);
    size_t r = stand_in(&b);
    if (r < m)
      exchange(&b, r, i);
    else
      settle(&b, i, weight);
  }
}

/* ---- nodes ---- */

enum { MOST_FUNCTIONS = 1 + 2 * NODES_MOST + 6 + 8 };

/* What the reduction keeps: 1; the coordinates z; their squares, and with few of them cubes;
 * products within a level; the standard deviations and variances themselves. All about the sample's
 * mean, in its standard deviations; returns how many. */
static size_t functions_of(const nested_posterior *p, const double *z, const double *variances,
                           double *f) {
  size_t m = 0;
  f[m++] = 1;
  for (size_t k = 0; k < p->n; k++) {
    f[m++] = z[k];
    f[m++] = z[k] * z[k];
    if (p->n <= 3)
      f[m++] = z[k] * z[k] * z[k];
  }
  for (size_t level = 0; level < 2; level++) {
    size_t first = p->first[level], count = nested_coordinates(p->terms[level]);
    for (size_t j = 0; j < count; j++)
      for (size_t k = 0; k < j; k++)
        f[m++] = z[first + j] * z[first + k];
    for (size_t k = 0; k < 2 && k < count; k++) {
      f[m++] = variances[2 * level + k];
      f[m++] = sqrt(variances[2 * level + k]);
    }
  }
  return m;
}

/* Mean and standard deviation of column k of the sample. */
static void spread(const sample *s, size_t k, double *mean, double *sd) {
  double sum = 0, square = 0;
  for (size_t i = 0; i < s->count; i++)
    sum += s->weight[i] * s->point[i * s->n + k];
  for (size_t i = 0; i < s->count; i++)
    square += s->weight[i] * pow(s->point[i * s->n + k] - sum, 2);
  *mean = sum;
  *sd = square > 0 ? sqrt(square) : 1;
}

static void variances_at(const nested_posterior *p, const double *x, double v[4]) {
  tenter_nested_components c = nested_components_at(p, x);
  v[0] = c.group.level, v[1] = c.group.slope;
  v[2] = c.unit.level, v[3] = c.unit.slope;
}

/* Rows of functions for the points that carry weight; returns how many functions. */
static size_t fill_functions(const nested_posterior *p, const sample *s, double *functions) {
  double mean[NODES_MOST] = {0}, sd[NODES_MOST] = {0}, top[4] = {0}, v[4];
  size_t m = 0;
  for (size_t k = 0; k < p->n; k++)
    spread(s, k, &mean[k], &sd[k]);
  for (size_t i = 0; i < s->count; i++) { /* means of the variances, to scale them */
    variances_at(p, s->point + i * p->n, v);
    for (size_t k = 0; k < 4; k++)
      top[k] += s->weight[i] > 0 ? s->weight[i] * v[k] : 0;
  }
  for (size_t i = 0; i < s->count; i++) {
    double z[NODES_MOST], f[MOST_FUNCTIONS] = {0};
    variances_at(p, s->point + i * p->n, v);
    for (size_t k = 0; k < 4; k++)
      v[k] /= top[k] > 0 ? top[k] : 1;
    for (size_t k = 0; k < p->n; k++)
      z[k] = (s->point[i * p->n + k] - mean[k]) / sd[k];
    m = functions_of(p, z, v, f);
    memcpy(functions + i * m, f, m * sizeof *f);
  }
  return m;
}

static int heavier(const void *a, const void *b) {
  double x = ((const tenter_nested_node *)a)->weight, y = ((const tenter_nested_node *)b)->weight;
  return (x < y) - (x > y);
}

/* The points that still have weight, heaviest first. */
static bool fill_nodes(const nested_posterior *p, const sample *s, tenter_nested_nodes *nodes) {
  double sum = 0;
  nodes->node = tenter_alloc(MOST_FUNCTIONS, sizeof *nodes->node);
  if (!nodes->node)
    return false;
  for (size_t i = 0; i < s->count; i++)
    sum += s->weight[i];
  for (size_t i = 0; i < s->count; i++)
    if (s->weight[i] > 0)
      nodes->node[nodes->count++] =
          (tenter_nested_node){nested_components_at(p, s->point + i * p->n), s->weight[i] / sum};
  qsort(nodes->node, nodes->count, sizeof *nodes->node, heavier);
  return true;
}

tenter_status nested_sample_nodes(nested_posterior *p, const double *mode, double at_mode,
                                  const double *curvature, tenter_nested_nodes *nodes,
                                  tenter_error *error) {
  size_t index[MOST_FUNCTIONS] = {0};
  sample s = {.n = p->n};
  s.point = tenter_alloc(SAMPLE, p->n * sizeof(double));
  s.log_posterior = tenter_alloc(SAMPLE, sizeof(double));
  s.weight = tenter_alloc(SAMPLE, sizeof(double));
  double *functions = tenter_alloc(SAMPLE, MOST_FUNCTIONS * sizeof *functions);
  double *work = tenter_alloc(MOST_FUNCTIONS, (MOST_FUNCTIONS + 1) * sizeof *work);
  bool done = s.point && s.log_posterior && s.weight && functions && work &&
              fill_sample(p, mode, at_mode, curvature, &s);
  if (done) {
    nodes->sample = s.count;
    nodes->effective = s.effective;
    size_t m = fill_functions(p, &s, functions);
    nested_reduce(s.count, m, functions, s.weight, work, index);
    done = fill_nodes(p, &s, nodes);
  }
  tenter_free(s.point);
  tenter_free(s.log_posterior);
  tenter_free(s.weight);
  tenter_free(functions);
  tenter_free(work);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
