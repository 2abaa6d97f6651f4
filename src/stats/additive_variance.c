/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading and pattern of the additive model: Henderson's method 3.
 *
 * Within group g, sessions eliminated: A_g = sum of D - w w' / W over its sessions, b_g the right
 * side of the residuals about the usual pattern, yy_g their squares about the sessions' means. Then
 *   rest   = sum of yy_g - b_g' A_g^- b_g    has mean sd_reading^2 * (readings - sessions -
 * rank_g), within = sum of b_g' A_g^- b_g - b' A^+ b, b = sum of b_g, has mean sd_reading^2 (sum of
 * rank_g - rank A) + sd_pattern^2 (sum of tr A_g - tr A^+ sum of A_g^2), the last terms of both for
 * the usual pattern having been fitted. */
#include <string.h>

#include "additive_internal.h"

/* ---- one group ---- */

static size_t place_in_group(worker_room *r, uint16_t point) {
  if (!r->place[point]) {
    r->group_point[r->group_points] = point;
    r->place[point] = (uint16_t)++r->group_points;
  }
  return r->place[point] - 1U;
}

/* Takes the readings of a session into A_g and b_g: those within reach. */
static void take_session(const additive *a, size_t session, worker_room *r, block_sums *b) {
  const tenter_additive_data *d = a->data;
  double total = 0, sum = 0, squares = 0;
  size_t touched = 0, kept = 0;
  for (size_t i = d->first[session]; i < (size_t)d->first[session] + d->length[session]; i++) {
    double w = additive__weight(a, i);
    double off = d->value[i] - a->fit->level[session] - a->fit->effect[d->point[i]];
    if (sqrt(w) * fabs(off) > TENTER_ADDITIVE_REACH * a->scale) {
      b->left_out++;
      continue;
    }
    size_t at = place_in_group(r, d->point[i]);
    if (r->weight[at] == 0)
      r->touched[touched++] = (uint16_t)at;
    r->weight[at] += w;
    r->sum[at] += w * off;
    b->readings[d->point[i]]++;
    total += w;
    sum += w * off;
    squares += w * off * off;
    kept++;
  }
  if (kept == 0)
    return;
  b->rest += squares - sum * sum / total;
  b->rest_df += kept - 1;
  for (size_t i = 0; i < touched; i++) {
    size_t at = r->touched[i];
    double *row = &r->matrix[at * a->p], w = r->weight[at];
    row[at] += w;
    r->right[at] += r->sum[at] - w * sum / total;
    for (size_t k = 0; k < touched; k++)
      row[r->touched[k]] -= w * r->weight[r->touched[k]] / total;
  }
  for (size_t i = 0; i < touched; i++)
    r->weight[r->touched[i]] = r->sum[r->touched[i]] = 0;
}

/* Adds A_g^2 by global point. */
static void add_square(const additive *a, const worker_room *r, block_sums *b) {
  for (size_t i = 0; i < r->group_points; i++) {
    const double *row = &r->matrix[i * a->p];
    for (size_t k = 0; k <= i; k++) {
      const double *other = &r->matrix[k * a->p];
      double sum = 0;
      for (size_t j = 0; j < r->group_points; j++)
        sum += row[j] * other[j];
      b->squares[r->group_point[i] * a->p + r->group_point[k]] += sum;
      if (k < i)
        b->squares[r->group_point[k] * a->p + r->group_point[i]] += sum;
    }
  }
}

static void close_group(const additive *a, worker_room *r, block_sums *b) {
  size_t rank, m = r->group_points;
  for (size_t i = 0; i < m; i++) {
    b->trace += r->matrix[i * a->p + i];
    b->right[r->group_point[i]] += r->right[i];
    for (size_t k = 0; k < m; k++)
      b->matrix[r->group_point[i] * a->p + r->group_point[k]] += r->matrix[i * a->p + k];
  }
  add_square(a, r, b);
  double fitted = additive__eliminate(r->matrix, a->p, r->right, r->diagonal, m, &rank);
  b->rest -= fitted;
  b->within += fitted;
  b->rest_df -= rank;
  b->rank += rank;
  for (size_t i = 0; i < m; i++) {
    memset(&r->matrix[i * a->p], 0, m * sizeof *r->matrix);
    r->right[i] = 0;
    r->place[r->group_point[i]] = 0;
  }
  r->group_points = 0;
}

static void variance_block(void *context, size_t task, size_t worker) {
  additive *a = context;
  block_sums *b = &a->sums[task];
  worker_room *r = &a->rooms[worker];
  const uint32_t *group = a->data->group;
  memset(b->right, 0, a->p * sizeof *b->right);
  memset(b->matrix, 0, a->p * a->p * sizeof *b->matrix);
  memset(b->readings, 0, a->p * sizeof *b->readings);
  for (size_t s = a->begin[task]; s < a->begin[task + 1]; s++) {
    take_session(a, s, r, b);
    if (s + 1 == a->begin[task + 1] || !group || group[s + 1] != group[s])
      close_group(a, r, b);
  }
}

/* ---- all groups ---- */

/* Sum over the blocks: of vectors and matrices in *a, kept and squares, of the rest in block_sums
 * of no block. */
static block_sums add_blocks(additive *a, size_t *kept, double *squares) {
  block_sums all = {0};
  memset(a->right, 0, a->p * sizeof *a->right);
  memset(a->matrix, 0, a->p * a->p * sizeof *a->matrix);
  for (size_t t = 0; t < a->blocks; t++) {
    const block_sums *b = &a->sums[t];
    all.rest += b->rest;
    all.within += b->within;
    all.trace += b->trace;
    all.rest_df += b->rest_df;
    all.rank += b->rank;
    all.left_out += b->left_out;
    for (size_t i = 0; i < a->p; i++) {
      a->right[i] += b->right[i];
      kept[i] += b->readings[i];
    }
    for (size_t i = 0; i < a->p * a->p; i++) {
      a->matrix[i] += b->matrix[i];
      squares[i] += b->squares[i];
    }
  }
  return all;
}

/* b' A^+ b and tr A^+ S. */
static void usual_part(const additive *a, const double *squares, double *quadratic, double *trace) {
  *quadratic = *trace = 0;
  for (size_t i = 0; i < a->p; i++)
    for (size_t k = 0; k < a->p; k++) {
      *quadratic += a->right[i] * a->matrix[i * a->p + k] * a->right[k];
      *trace += a->matrix[i * a->p + k] * squares[i * a->p + k];
    }
}

/* sd_pattern from the mean square of `within` and what that is made of; degrees of freedom by
 * Satterthwaite 1946, Biometrics Bull. 2:110. */
static void pattern_of(tenter_additive_fit *fit, double square, double df, double share) {
  double reading = fit->sd_reading * fit->sd_reading, excess = square - reading;
  if (!(df > 0.5) || !(share > 1e-9 * df) || isnan(reading))
    return;
  fit->sd_pattern = excess > 0 ? sqrt(excess * df / share) : 0;
  fit->df_pattern = df;
  if (excess > 0)
    fit->df_pattern =
        excess * excess / (square * square / df + reading * reading / fit->df_reading);
}

bool additive__variances(additive *a, size_t *kept, double *squares) {
  tenter_additive_fit *fit = a->fit;
  additive__run(a, variance_block);
  block_sums all = add_blocks(a, kept, squares);
  fit->left_out = all.left_out;
  if (all.rest_df > 0) {
    fit->df_reading = (double)all.rest_df;
    fit->sd_reading = sqrt(fmax(0, all.rest) / fit->df_reading);
  }
  size_t parts = additive__parts(a->matrix, kept, a->p, a->part, a->rooms[0].touched), points = 0;
  for (size_t i = 0; i < a->p; i++)
    points += kept[i] > 0;
  if (!additive__invert(a->matrix, kept, a->part, a->p))
    return false;
  double usual, usual_trace, df = (double)all.rank - (double)(points - parts);
  usual_part(a, squares, &usual, &usual_trace);
  pattern_of(fit, fmax(0, all.within - usual) / df, df, all.trace - usual_trace);
  return true;
}
