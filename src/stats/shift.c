/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which source moved: the model at hand, the score of every candidate, one change after the other.
 *
 * Outline: rows become normal equations in cells (shift_sums.c); constants of sources, slopes,
 * the common curve and the changes found so far are the model at hand; with L L' its information
 * and U = L^-1 K'G, a block of cells has the information G - U'U beside it. A candidate is a vector
 * over one such block. Values far off are drawn in to the fit, not given less weight: a weight
 * would make one misread session look like sure evidence. */
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shift_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { BINS = 64, FEW_CELLS = 8, STEPS = 20, LEAST_ROWS = 20, LEAST_UNITS = 3 };

static const double constant_sd = 5, hinge_sd = 1; /* weak: what is aliased stays at 0 */
static const double told_se = 0.5;                 /* of a constant that is told at all */
static const double least_ramp = 13;               /* in the unit of edges: days */
static const double steady = 1e-4;
/* Of the begin's likelihood ratio: the 99 % point of a break in a mean, wider than chi-square's
 * (Hansen 2000, Econometrica 68:575, table I): P(< x) = (1 - exp(-x/2))^2. */
static const double begin_apart = 10.592;

typedef struct model {
  const tenter_shift_data *d;
  shift_sums sums;
  size_t columns; /* of the model at hand; the last are the changes found */
  size_t room;
  double *k;             /* columns x dim: each as a sum of columns of the sums */
  double *u;             /* columns x dim: L^-1 K'G */
  double *l, *inverse;   /* columns x columns */
  double *q, *beta;      /* by column: L^-1 of K'h; estimates */
  double *fixed;         /* by column of the sums */
  double *gauge;         /* by gauge: what the changes leave of its error */
  double *gauge_sums[2]; /* by group of gauges: weight, weighted shape */
  size_t gauge_groups;
  double variance; /* of a score: scale squared times dispersion */
  double scale, dispersion;
  tenter_shift_fit *fit;
} model;

/* ---- shapes --------------------------------------------------------------------------------- */

static void shape_of(const tenter_shift_data *d, tenter_shift_shape shape, size_t bin,
                     double x[BINS]) {
  double end = d->edge[d->bins], begin = d->edge[bin];
  for (size_t b = 0; b < d->bins; b++) {
    if (shape == TENTER_SHIFT_RAMP)
      x[b] = b < bin ? 0 : ((d->edge[b] + d->edge[b + 1]) / 2 - begin) / (end - begin);
    else
      x[b] = shape == TENTER_SHIFT_STEP ? b >= bin : b == bin;
  }
}

double tenter_shift_share(const tenter_shift *shift, const double *edge, size_t bins, double time) {
  double begin = edge[shift->bin], end = edge[bins];
  if (time < begin)
    return 0;
  if (shift->shape == TENTER_SHIFT_RAMP)
    return fmin(1, (time - begin) / (end - begin));
  return shift->shape == TENTER_SHIFT_STEP || time < edge[shift->bin + 1];
}

/* ---- gauges --------------------------------------------------------------------------------- */

/* Weighted means of a shape over each group of the source's gauges. */
static void centre_gauges(const model *m, size_t source, const double *x) {
  const tenter_shift_data *d = m->d;
  memset(m->gauge_sums[0], 0, m->gauge_groups * sizeof *m->gauge_sums[0]);
  memset(m->gauge_sums[1], 0, m->gauge_groups * sizeof *m->gauge_sums[1]);
  for (size_t i = 0; i < d->gauges; i++) {
    if (d->gauge_source[i] != source)
      continue;
    m->gauge_sums[0][d->gauge_group[i]] += 1 / d->gauge_variance[i];
    m->gauge_sums[1][d->gauge_group[i]] += x[d->gauge_bin[i]] / d->gauge_variance[i];
  }
}

/* Score and information that gauges of a source add to a shape; other: a second shape, for their
 * product instead of the information (NULL: the shape itself). */
static void add_gauges(const model *m, size_t source, const double *x, const double *other,
                       double *score, double *information) {
  const tenter_shift_data *d = m->d;
  if (d->gauges == 0)
    return;
  centre_gauges(m, source, x);
  for (size_t i = 0; i < d->gauges; i++) {
    if (d->gauge_source[i] != source)
      continue;
    size_t g = d->gauge_group[i];
    double centred = x[d->gauge_bin[i]] - m->gauge_sums[1][g] / m->gauge_sums[0][g];
    *score += centred * m->gauge[i] / d->gauge_variance[i] * m->variance;
    *information +=
        centred * (other ? other : x)[d->gauge_bin[i]] / d->gauge_variance[i] * m->variance;
  }
}

/* ---- the model at hand ---------------------------------------------------------------------- */

/* All rows of a source (kind ALL: of all sources) weighted by x over the bins, as column i. */
static void put_column(const model *m, size_t i, tenter_shift_source who, const double *x) {
  const tenter_shift_data *d = m->d;
  double *k = &m->k[i * m->sums.dim];
  int kind = who.kind == TENTER_SHIFT_SECOND;
  memset(k, 0, m->sums.dim * sizeof *k);
  size_t begin = who.kind == TENTER_SHIFT_ALL ? 0 : who.source;
  size_t end = who.kind == TENTER_SHIFT_ALL ? d->sources[0] : who.source + 1;
  for (size_t s = begin; s < end; s++)
    for (size_t b = 0; b < d->bins; b++)
      k[shift__cell(d, kind, s, b)] = x[b];
}

static void put_model(model *m) {
  const tenter_shift_data *d = m->d;
  double x[BINS];
  m->columns = 0;
  for (size_t b = 0; b < d->bins; b++)
    x[b] = 1;
  for (int kind = 0; kind < 2; kind++)
    for (size_t s = 0; s < d->sources[kind]; s++)
      put_column(m, m->columns++,
                 (tenter_shift_source){kind ? TENTER_SHIFT_SECOND : TENTER_SHIFT_FIRST, s}, x);
  for (size_t g = 0; g < d->groups + SHIFT_HINGES; g++) {
    memset(&m->k[m->columns * m->sums.dim], 0, m->sums.dim * sizeof *m->k);
    m->k[m->columns++ * m->sums.dim + shift__slope(d, g)] = 1;
  }
  for (size_t i = 0; i < m->fit->shifts; i++) {
    shape_of(d, m->fit->shift[i].shape, m->fit->shift[i].bin, x);
    put_column(m, m->columns++, m->fit->shift[i].who, x);
  }
}

/* The first column of changes. */
static size_t first_change(const model *m) {
  return m->columns - m->fit->shifts;
}

static bool of_one_source(const tenter_shift *a, const tenter_shift *b) {
  return a->who.kind == TENTER_SHIFT_FIRST && b->who.kind == TENTER_SHIFT_FIRST &&
         a->who.source == b->who.source;
}

/* What is believed beforehand, and what gauges know of changes. */
static void add_beliefs(model *m) {
  const tenter_shift_data *d = m->d;
  size_t n = m->columns, constants = d->sources[0] + d->sources[1] + d->groups;
  for (size_t i = 0; i < constants; i++)
    m->l[i * n + i] += 1 / (constant_sd * constant_sd);
  for (size_t i = constants; i < constants + SHIFT_HINGES; i++)
    m->l[i * n + i] += 1 / (hinge_sd * hinge_sd);
  for (size_t i = 0; i < m->fit->shifts; i++)
    for (size_t j = 0; j < m->fit->shifts; j++) {
      const tenter_shift *a = &m->fit->shift[i], *b = &m->fit->shift[j];
      double x[BINS], y[BINS], ignored = 0;
      size_t at = (first_change(m) + i) * n + first_change(m) + j;
      m->l[at] += i == j ? 1e-9 : 0;
      if (!of_one_source(a, b))
        continue;
      shape_of(d, a->shape, a->bin, x);
      shape_of(d, b->shape, b->bin, y);
      add_gauges(m, a->who.source, x, y, &ignored, &m->l[at]);
    }
}

/* u: K'G at first, then L^-1 of it. */
static void multiply(model *m) {
  size_t dim = m->sums.dim, n = m->columns;
  memset(m->u, 0, n * dim * sizeof *m->u);
  memset(m->l, 0, n * n * sizeof *m->l);
  for (size_t i = 0; i < n; i++) {
    for (size_t c = 0; c < dim; c++) {
      double k = m->k[i * dim + c];
      if (k == 0)
        continue;
      for (size_t b = 0; b < dim; b++)
        m->u[i * dim + b] += k * m->sums.g[c * dim + b];
    }
  }
  for (size_t i = 0; i < n; i++)
    for (size_t j = 0; j < n; j++)
      for (size_t c = 0; c < dim; c++)
        if (m->k[j * dim + c] != 0)
          m->l[i * n + j] += m->k[j * dim + c] * m->u[i * dim + c];
}

static void substitute(model *m) {
  size_t dim = m->sums.dim, n = m->columns;
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j < i; j++) {
      double l = m->l[i * n + j];
      for (size_t c = 0; c < dim && l != 0; c++)
        m->u[i * dim + c] -= l * m->u[j * dim + c];
    }
    for (size_t c = 0; c < dim; c++)
      m->u[i * dim + c] /= m->l[i * n + i];
  }
}

/* q: K'h, with what gauges add; then L^-1 of it. */
static void take_scores(model *m) {
  const tenter_shift_data *d = m->d;
  size_t dim = m->sums.dim, n = m->columns;
  memset(m->q, 0, n * sizeof *m->q);
  for (size_t i = 0; i < n; i++)
    for (size_t c = 0; c < dim; c++)
      m->q[i] += m->k[i * dim + c] * m->sums.h[c];
  memcpy(m->gauge, d->gauge_error, d->gauges * sizeof *m->gauge);
  for (size_t i = 0; i < m->fit->shifts; i++) {
    const tenter_shift *shift = &m->fit->shift[i];
    double x[BINS], ignored = 0;
    if (shift->who.kind != TENTER_SHIFT_FIRST)
      continue;
    shape_of(d, shift->shape, shift->bin, x);
    add_gauges(m, shift->who.source, x, NULL, &m->q[first_change(m) + i], &ignored);
  }
  for (size_t i = 0; i < n; i++) {
    for (size_t j = 0; j < i; j++)
      m->q[i] -= m->l[i * n + j] * m->q[j];
    m->q[i] /= m->l[i * n + i];
  }
}

/* Estimates from q, as columns of the sums in fixed; how far they moved. */
static double take_estimates(model *m) {
  size_t dim = m->sums.dim, n = m->columns;
  double moved = 0;
  memset(m->fixed, 0, dim * sizeof *m->fixed);
  for (size_t i = n; i-- > 0;) {
    double sum = m->q[i];
    for (size_t j = i + 1; j < n; j++)
      sum -= m->l[j * n + i] * m->beta[j];
    sum /= m->l[i * n + i];
    moved = fmax(moved, fabs(sum - m->beta[i]));
    m->beta[i] = sum;
    for (size_t c = 0; c < dim; c++)
      m->fixed[c] += m->beta[i] * m->k[i * dim + c];
  }
  return moved;
}

/* What the changes found leave of the gauges' errors. */
static void clear_gauges(model *m) {
  const tenter_shift_data *d = m->d;
  for (size_t i = 0; i < m->fit->shifts; i++) {
    double x[BINS];
    const tenter_shift *shift = &m->fit->shift[i];
    if (shift->who.kind != TENTER_SHIFT_FIRST)
      continue;
    shape_of(d, shift->shape, shift->bin, x);
    for (size_t k = 0; k < d->gauges; k++)
      if (d->gauge_source[k] == shift->who.source)
        m->gauge[k] -= m->beta[first_change(m) + i] * x[d->gauge_bin[k]];
  }
}

/* What does not hang on the values: L, U, the inverse. */
static tenter_status factorise(model *m, tenter_error *error) {
  put_model(m);
  multiply(m);
  add_beliefs(m);
  size_t n = m->columns;
  gsl_matrix_view view = gsl_matrix_view_array(m->l, n, n);
  if (gsl_linalg_cholesky_decomp1(&view.matrix))
    return tenter_fail(error, TENTER_FAILED, "the shifts of meters could not be solved for");
  memcpy(m->inverse, m->l, n * n * sizeof *m->l);
  gsl_matrix_view inverse = gsl_matrix_view_array(m->inverse, n, n);
  if (gsl_linalg_cholesky_invert(&inverse.matrix))
    return tenter_fail(error, TENTER_FAILED, "the shifts of meters could not be solved for");
  substitute(m);
  return TENTER_OK;
}

/* ---- how much cells scatter ----------------------------------------------------------------- */

static int number_order(const void *a, const void *b) {
  const double *x = a, *y = b;
  return (*x > *y) - (*x < *y);
}

/* Mean of the lower nine tenths of the cells' squared scores over their information, against that
 * of a chi-square with one degree of freedom. Its median is as robust and half as sure. */
static double dispersion_of(const model *m) {
  const tenter_shift_data *d = m->d;
  /* E(x | x < q) at the 90 % point q: P(chi-square with 3 df < q) / 0.9 */
  const double kept = 0.9, lower_mean = 0.6232;
  double squares[TENTER_SHIFT_SOURCES * BINS], sum = 0;
  size_t count = 0, dim = m->sums.dim;
  for (size_t c = 0; c < d->sources[0] * d->bins; c++) {
    double score = m->sums.h[c], information = m->sums.g[c * dim + c];
    for (size_t i = 0; i < m->columns; i++) {
      double u = m->u[i * dim + c];
      score -= u * m->q[i];
      information -= u * u;
    }
    if (information > 1) /* more than a trace of a row */
      squares[count++] = score * score / information;
  }
  if (count < FEW_CELLS)
    return 1;
  qsort(squares, count, sizeof *squares, number_order);
  size_t lower = (size_t)(kept * (double)count);
  for (size_t i = 0; i < lower; i++)
    sum += squares[i] / (double)lower;
  return fmax(1, sum / lower_mean / (m->scale * m->scale));
}

/* ---- candidates ----------------------------------------------------------------------------- */

typedef struct block {
  double g[BINS][BINS], h[BINS]; /* beside the model at hand */
} block;

static void block_of(const model *m, tenter_shift_source who, block *out) {
  const tenter_shift_data *d = m->d;
  size_t dim = m->sums.dim;
  int kind = who.kind == TENTER_SHIFT_SECOND;
  size_t begin = who.kind == TENTER_SHIFT_ALL ? 0 : who.source;
  size_t end = who.kind == TENTER_SHIFT_ALL ? d->sources[0] : who.source + 1;
  memset(out, 0, sizeof *out);
  for (size_t s = begin; s < end; s++)
    for (size_t b = 0; b < d->bins; b++) {
      const double *row = &m->sums.g[shift__cell(d, kind, s, b) * dim];
      out->h[b] += m->sums.h[shift__cell(d, kind, s, b)];
      for (size_t r = begin; r < end; r++)
        for (size_t c = 0; c < d->bins; c++)
          /* cppcheck-suppress objectIndex; a row of g, not one number */
          out->g[b][c] += row[shift__cell(d, kind, r, c)];
    }
  for (size_t i = 0; i < m->columns; i++) {
    double u[BINS] = {0};
    for (size_t s = begin; s < end; s++)
      for (size_t b = 0; b < d->bins; b++)
        u[b] += m->u[i * dim + shift__cell(d, kind, s, b)];
    for (size_t b = 0; b < d->bins; b++) {
      out->h[b] -= u[b] * m->q[i];
      for (size_t c = 0; c < d->bins; c++)
        out->g[b][c] -= u[b] * u[c];
    }
  }
}

/* A source of the first kind that drifts shows against others, or on a gauge. */
static bool may_drift(const model *m, tenter_shift_source who) {
  bool others = false, gauge = false;
  for (size_t s = 0; s < m->d->sources[0]; s++)
    for (size_t b = 0; b < m->d->bins && s != who.source; b++)
      others |= m->sums.g[shift__cell(m->d, 0, s, b) * (m->sums.dim + 1)] > 0;
  for (size_t i = 0; i < m->d->gauges; i++)
    gauge |= m->d->gauge_source[i] == who.source;
  return who.kind == TENTER_SHIFT_FIRST && (others || gauge);
}

static void score(const model *m, const block *b, tenter_shift candidate, tenter_shift *best) {
  const tenter_shift_data *d = m->d;
  double x[BINS], s = 0, information = 0;
  shape_of(d, candidate.shape, candidate.bin, x);
  for (size_t i = candidate.bin; i < d->bins; i++) {
    s += x[i] * b->h[i];
    for (size_t k = candidate.bin; k < d->bins; k++)
      information += x[i] * x[k] * b->g[i][k];
  }
  if (candidate.who.kind == TENTER_SHIFT_FIRST)
    add_gauges(m, candidate.who.source, x, NULL, &s, &information);
  if (!(information > 1e-6))
    return;
  candidate.size = s / information;
  candidate.support = s * s / information / m->variance;
  if (candidate.support > best->support)
    *best = candidate;
}

/* The best begin and shape of one source; a drift only where a step is told from it. */
static tenter_shift best_of(const model *m, tenter_shift_source who) {
  const tenter_shift_data *d = m->d;
  block b;
  tenter_shift best = {.who = who}, drifts = best;
  block_of(m, who, &b);
  bool drift = may_drift(m, who);
  for (size_t bin = 1; bin < d->bins; bin++) {
    score(m, &b, (tenter_shift){.who = who, .shape = TENTER_SHIFT_STEP, .bin = bin}, &best);
    if (drift && d->edge[d->bins] - d->edge[bin] >= least_ramp)
      score(m, &b, (tenter_shift){.who = who, .shape = TENTER_SHIFT_RAMP, .bin = bin}, &drifts);
    if (bin + 1 < d->bins && bin + d->spells >= d->bins)
      score(m, &b, (tenter_shift){.who = who, .shape = TENTER_SHIFT_SPELL, .bin = bin}, &best);
  }
  best = drifts.support > best.support + TENTER_SHIFT_APART ? drifts : best;
  best.earliest = best.bin;
  while (best.shape == TENTER_SHIFT_STEP && best.earliest > 1) {
    tenter_shift sooner = {.support = 0};
    score(m, &b, (tenter_shift){.who = who, .bin = best.earliest - 1}, &sooner);
    if (sooner.support < best.support - begin_apart)
      break;
    best.earliest--;
  }
  return best;
}

static bool is_gauged(const tenter_shift_data *d, const tenter_shift *shift) {
  for (size_t i = 0; i < d->gauges && shift->who.kind == TENTER_SHIFT_FIRST; i++)
    if (d->gauge_source[i] == shift->who.source && d->gauge_bin[i] >= shift->bin)
      return true;
  return false;
}

/* The best of all, with those that can't be told from it. Of equals the first: sources of the first
 * kind, of the second, all. */
static tenter_shift best_change(const model *m) {
  const tenter_shift_data *d = m->d;
  tenter_shift each[2 * TENTER_SHIFT_SOURCES + 1], best = {0};
  size_t count = 0, at = 0;
  for (int kind = 0; kind < 2; kind++)
    for (size_t s = 0; s < d->scanned[kind]; s++)
      each[count++] =
          best_of(m, (tenter_shift_source){kind ? TENTER_SHIFT_SECOND : TENTER_SHIFT_FIRST, s});
  each[count++] = best_of(m, (tenter_shift_source){TENTER_SHIFT_ALL, 0});
  for (size_t i = 0; i < count; i++)
    if (each[i].support > best.support * (1 + 1e-6)) {
      best = each[i];
      at = i;
    }
  for (size_t i = 0; i < count && best.others < TENTER_SHIFT_OTHERS; i++)
    if (i != at && each[i].support > best.support - TENTER_SHIFT_APART)
      best.other[best.others++] = each[i].who;
  best.gauged = is_gauged(d, &best);
  return best;
}

/* ---- one after the other -------------------------------------------------------------------- */

/* The model at hand, fitted; values far off are drawn in again until nothing moves. */
static tenter_status settle(model *m, tenter_error *error) {
  tenter_status status = factorise(m, error);
  double moved = INFINITY;
  for (int i = 0; i < STEPS && !status && moved > steady; i++) {
    shift__sums_score(m->d, &m->sums);
    take_scores(m);
    moved = take_estimates(m);
    m->scale = shift__winsorise(m->d, m->fixed, &m->sums);
  }
  if (status)
    return status;
  shift__sums_score(m->d, &m->sums);
  take_scores(m);
  clear_gauges(m);
  m->variance = m->scale * m->scale * m->dispersion;
  return TENTER_OK;
}

static void take_sizes(model *m) {
  for (size_t i = 0; i < m->fit->shifts; i++) {
    size_t column = first_change(m) + i;
    m->fit->shift[i].size = m->beta[column];
    m->fit->shift[i].se = sqrt(m->inverse[column * (m->columns + 1)] * m->variance);
  }
}

/* Constants of the first kind about their mean. */
static void take_levels(model *m) {
  size_t told[TENTER_SHIFT_SOURCES] = {0}, count = 0, n = m->columns;
  for (size_t s = 0; s < TENTER_SHIFT_SOURCES; s++)
    m->fit->level[s] = m->fit->level_se[s] = NAN;
  for (size_t s = 0; s < m->d->scanned[0]; s++)
    told[count++] = s;
  for (size_t a = 0; a < count && count > 1; a++) {
    double value = 0, variance = 0;
    for (size_t i = 0; i < count; i++) {
      double wi = (i == a) - 1 / (double)count;
      value += wi * m->beta[told[i]];
      for (size_t j = 0; j < count; j++)
        variance += wi * ((j == a) - 1 / (double)count) * m->inverse[told[i] * n + told[j]];
    }
    double se = sqrt(fmax(0, variance) * m->variance);
    if (se < told_se) {
      m->fit->level[told[a]] = value;
      m->fit->level_se[told[a]] = se;
    }
  }
}

/* Whether enough units were read with it: a screen that fell alone is no shift. */
static bool is_common(const tenter_shift_data *d, const tenter_shift *shift) {
  size_t units = 0;
  for (size_t unit = 0; unit < d->units; unit++) {
    bool touched = false;
    for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++)
      touched |= d->bin[i] >= shift->bin &&
                 (shift->who.kind == TENTER_SHIFT_ALL ||
                  d->source[shift->who.kind == TENTER_SHIFT_SECOND][i] == shift->who.source);
    units += touched && d->first[unit + 1] - d->first[unit] > 1;
  }
  return units >= LEAST_UNITS || shift->gauged;
}

static bool is_sure(const model *m, const tenter_shift *shift) {
  return shift->support > m->d->limit && is_common(m->d, shift);
}

/* Takes the best change into the model if it is worth it. How cells scatter is only known with the
 * change in the model (else it would be taken for scatter), and so is its size (values far off are
 * drawn in to a fit without it), so it is put in to see, and judged by that. */
static tenter_status try_change(model *m, bool *taken, tenter_error *error) {
  tenter_shift best = best_change(m);
  *taken = false;
  if (!is_sure(m, &best))
    return TENTER_OK;
  m->fit->shift[m->fit->shifts++] = best;
  tenter_status status = settle(m, error);
  if (status)
    return status;
  double size = m->beta[m->columns - 1];
  m->dispersion = dispersion_of(m);
  m->fit->shifts--;
  status = settle(m, error);
  if (status)
    return status;
  best = best_change(m);
  *taken = fabs(size) >= m->d->least && is_sure(m, &best);
  if (*taken)
    m->fit->shift[m->fit->shifts++] = best;
  return *taken ? settle(m, error) : TENTER_OK;
}

static tenter_status find(model *m, tenter_error *error) {
  m->dispersion = m->variance = 1;
  shift__sums_fill(m->d, &m->sums);
  tenter_status status = settle(m, error);
  for (bool more = true; more && !status && m->fit->shifts < TENTER_SHIFTS_MOST;)
    status = try_change(m, &more, error);
  if (status)
    return status;
  take_sizes(m);
  take_levels(m);
  m->fit->scale = m->scale;
  m->fit->dispersion = m->dispersion;
  return TENTER_OK;
}

static bool in_range(const tenter_shift_data *d) {
  bool sources = true;
  for (int kind = 0; kind < 2; kind++)
    sources = sources && d->sources[kind] >= 1 && d->sources[kind] <= TENTER_SHIFT_SOURCES &&
              d->scanned[kind] <= d->sources[kind];
  return sources && d->bins >= 2 && d->bins <= BINS && d->slope_sd > 0;
}

static bool make_room(model *m) {
  const tenter_shift_data *d = m->d;
  for (size_t i = 0; i < d->gauges; i++)
    if (d->gauge_group[i] >= m->gauge_groups)
      m->gauge_groups = (size_t)d->gauge_group[i] + 1;
  m->room = d->sources[0] + d->sources[1] + d->groups + SHIFT_HINGES + TENTER_SHIFTS_MOST;
  size_t dim = m->sums.dim, n = m->room;
  m->k = tenter_alloc(n * dim, sizeof *m->k);
  m->u = tenter_alloc(n * dim, sizeof *m->u);
  m->l = tenter_alloc(n * n, sizeof *m->l);
  m->inverse = tenter_alloc(n * n, sizeof *m->inverse);
  m->q = tenter_alloc(n, sizeof *m->q);
  m->beta = tenter_alloc(n, sizeof *m->beta);
  m->fixed = tenter_alloc(dim, sizeof *m->fixed);
  m->gauge = tenter_alloc(d->gauges + 1, sizeof *m->gauge);
  m->gauge_sums[0] = tenter_alloc(m->gauge_groups + 1, sizeof *m->gauge_sums[0]);
  m->gauge_sums[1] = tenter_alloc(m->gauge_groups + 1, sizeof *m->gauge_sums[1]);
  return m->k && m->u && m->l && m->inverse && m->q && m->beta && m->fixed && m->gauge &&
         m->gauge_sums[0] && m->gauge_sums[1];
}

tenter_status tenter_shift_find(const tenter_shift_data *data, tenter_shift_fit *fit,
                                tenter_error *error) {
  *fit = (tenter_shift_fit){.scale = NAN, .dispersion = 1};
  for (size_t s = 0; s < TENTER_SHIFT_SOURCES; s++)
    fit->level[s] = fit->level_se[s] = NAN;
  if (!in_range(data))
    return tenter_fail(error, TENTER_USAGE, "sources or bins out of range");
  if (data->first[data->units] < LEAST_ROWS)
    return TENTER_OK;
  model m = {.d = data, .fit = fit};
  bool room = shift__sums_new(data, &m.sums) && make_room(&m);
  tenter_status status = room ? find(&m, error) : tenter_fail_memory(error);
  shift__sums_release(&m.sums);
  void *const arrays[] = {m.k,    m.u,     m.l,     m.inverse,       m.q,
                          m.beta, m.fixed, m.gauge, m.gauge_sums[0], m.gauge_sums[1]};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
  return status;
}
