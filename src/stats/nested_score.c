/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Derivatives of the nested model's likelihood by the elements of T and t, in one more pass, and
 * the average information (Gilmour, Thompson, Cullis 1995).
 *
 * With V the relative covariance of y, P_y = V^-1 - V^-1X(X'V^-1X)^-1X'V^-1 and r the residual
 * V^-1 is applied to, the derivative of log|V| + log|X'V^-1X| by t is
 *     sum over units of  Z'V^-1Z - Z'V^-1X (X'V^-1X)^-1 X'V^-1Z
 *   = sum of  K_i - (H'P x)(H'P x)'  over the columns x of [H v_C] L,
 * where L L' = R A R' + W, A the block's part of the inverse and R = [I - WK, -WF_C; 0, I] what is
 * left of the fixed columns when the group is integrated out; that of -r^2 is the sum of s s' with
 * s = Z'V^-1 r. The derivatives by T are the same sums over groups.
 *
 * Direction j of t moves V by f_j = Z E_j s (E_0, E_1, E_2: the units of a symmetric matrix), of T
 * likewise over groups; the average information needs f_j'P_y f_k. Its parts within a cluster,
 * before the group is integrated out, are summed over units here: w = E_j s, Z'V0^-1 f = sum K_i w,
 * C'V0^-1 f = sum v_C'P H w, f'V0^-1 f = sum w'K_i w.
 * Relies on: base/alloc, base/pool. */
#include <math.h>
#include <string.h>

#include "nested_unit.h"
#include "tenter/base/alloc.h"

/* Places in a task's partial sums: derivative of the trace, of -r^2, f_j'V0^-1f_k. */
enum { AT_TRACE = 0, AT_QUAD = 3, AT_FVF = 6 };

typedef struct score_task {
  nested_state *state;
  bool reml;
} score_task;

/* What a segment needs of its cluster. */
typedef struct cluster_view {
  double factor[NESTED_M * NESTED_M]; /* L, lower */
  double line[2];                     /* fixed line and group's effect */
} cluster_view;

/* L of a positive semidefinite matrix, in place; a pivot that is nil leaves a column of zeros. */
static void factor_semidefinite(double *a, size_t m) {
  for (size_t j = 0; j < m; j++) {
    double own = a[j * m + j];
    for (size_t k = 0; k < j; k++)
      a[j * m + j] -= a[j * m + k] * a[j * m + k];
    bool nil = a[j * m + j] <= 1e-14 * own;
    a[j * m + j] = nil ? 0 : sqrt(a[j * m + j]);
    for (size_t i = j + 1; i < m; i++) {
      for (size_t k = 0; k < j; k++)
        a[i * m + j] -= a[i * m + k] * a[j * m + k];
      a[i * m + j] = nil ? 0 : a[i * m + j] / a[j * m + j];
    }
  }
}

/* R = [I - WK, -WF_C]: two rows of m. */
static void reduce_columns(const nested_state *s, const double *sums, sym2 W, double *R) {
  size_t q = s->plan->q, m = s->plan->m;
  const double *F0 = sums + 3, *F1 = F0 + q;
  for (size_t k = 0; k < m; k++) {
    double z0 = k < 2 ? sums[k] : F0[k - 2], z1 = k < 2 ? sums[k + 1] : F1[k - 2];
    R[k] = (k == 0) - W.level * z0 - W.cross * z1;
    R[m + k] = (k == 1) - W.cross * z0 - W.slope * z1;
  }
}

/* view->factor: R A R' + W with R extended by the identity; without REML, W alone. */
static void fill_factor(const nested_state *s, const double *sums, size_t block, sym2 W, bool reml,
                        cluster_view *view) {
  size_t m = s->plan->m;
  const double *A = s->inverse + block * m * m;
  double *L = view->factor, R[2 * NESTED_M], RA[2 * NESTED_M];
  memset(L, 0, m * m * sizeof *L);
  if (reml) {
    reduce_columns(s, sums, W, R);
    for (size_t r = 0; r < 2; r++)
      for (size_t k = 0; k < m; k++) {
        RA[r * m + k] = 0;
        for (size_t j = 0; j < m; j++)
          RA[r * m + k] += R[r * m + j] * A[j * m + k];
      }
    for (size_t i = 2; i < m; i++)
      for (size_t k = 0; k <= i; k++)
        L[i * m + k] = k < 2 ? RA[k * m + i] : A[i * m + k];
    for (size_t i = 0; i < 2; i++)
      for (size_t k = 0; k <= i; k++)
        for (size_t j = 0; j < m; j++)
          L[i * m + k] += RA[i * m + j] * R[k * m + j];
  }
  L[0] += W.level;
  L[m] += W.cross;
  L[m + 1] += W.slope;
  factor_semidefinite(L, m);
}

/* F_y - K line - F_C gamma: what the group's effect is predicted from. */
static void residual_sums(const nested_state *s, const double *sums, size_t block, double *f) {
  size_t q = s->plan->q;
  const double *line = s->line + 2 * block;
  for (size_t r = 0; r < 2; r++) {
    const double *F = sums + 3 + r * q;
    f[r] = F[q - 1] - sums[r] * line[0] - sums[r + 1] * line[1];
    for (size_t k = 0; k + 1 < q; k++)
      f[r] -= F[k] * s->gamma[k];
  }
}

static sym2 cluster_w(const nested_state *s, const double *sums) {
  sym2 K = {sums[0], sums[1], sums[2]};
  return shrink2(s->group, K, det_one_plus2(K, s->group));
}

static void look_at_cluster(const nested_state *s, size_t segment, bool reml, cluster_view *view) {
  const double *sums = s->sums + nested_opening(s->plan, segment) * nested_sums(s->plan->q);
  size_t block = s->plan->segment[segment].block;
  sym2 W = cluster_w(s, sums);
  double f[2];
  fill_factor(s, sums, block, W, reml, view);
  residual_sums(s, sums, block, f);
  view->line[0] = s->line[2 * block] + W.level * f[0] + W.cross * f[1];
  view->line[1] = s->line[2 * block + 1] + W.cross * f[0] + W.slope * f[1];
}

/* ---- units ---- */

NESTED_INLINE void add_square(double *to, double h0, double h1) {
  to[0] += h0 * h0;
  to[1] += h0 * h1;
  to[2] += h1 * h1;
}

/* The directions' part of one unit: s = (h0, h1), its share K_i, and y = H'P v_C. */
NESTED_INLINE void add_directions(double h0, double h1, sym2 k, size_t c, const double *y0,
                                  const double *y1, double *score, double *fvf) {
  double a0 = h0 * k.level, a1 = h0 * k.cross; /* K E_j s */
  double b0 = h1 * k.level + h0 * k.cross, b1 = h1 * k.cross + h0 * k.slope;
  double c0 = h1 * k.cross, c1 = h1 * k.slope;
  score[0] += a0, score[1] += a1;
  score[2] += b0, score[3] += b1;
  score[4] += c0, score[5] += c1;
  fvf[0] += h0 * a0;
  fvf[1] += h0 * b0;
  fvf[2] += h0 * c0;
  fvf[3] += h1 * b0 + h0 * b1;
  fvf[4] += h1 * c0 + h0 * c1;
  fvf[5] += h1 * c1;
  for (size_t j = 0; j < c; j++) {
    score[6 + 3 * j] += h0 * y0[j];
    score[7 + 3 * j] += h1 * y0[j] + h0 * y1[j];
    score[8 + 3 * j] += h1 * y1[j];
  }
}

NESTED_INLINE void score_segment(const nested_state *s, const nested_segment *segment,
                                 const cluster_view *view, size_t q, double *score,
                                 double *partial) {
  const nested_plan *plan = s->plan;
  const size_t m = q + 1, c = q - 1;
  const double *reference = plan->reference + segment->block * 2 * q, *L = view->factor;
  const double *record = nested_unit(plan->products, segment->first);
  double sum[12] = {0}, own[6 + 3 * NESTED_Q] = {0}, y0[NESTED_Q] = {0}, y1[NESTED_Q] = {0};
  double level[NESTED_Q] = {0}, slope[NESTED_Q] = {0};
  for (size_t i = segment->first; i < segment->end; i++, record += nested_stride(q)) {
    nested_view v = nested_look(record, plan->shift, s->at.factor + 3);
    nested_lines(record, v.u, reference, q, level, slope);
    double r0 = level[c] - view->line[0] - v.u * view->line[1], r1 = slope[c] - view->line[1];
    for (size_t k = 0; k < c; k++) {
      y0[k] = v.p.level * level[k] + v.p.cross * slope[k];
      y1[k] = v.u * y0[k] + v.p.cross * level[k] + v.p.slope * slope[k];
      r0 -= level[k] * s->gamma[k];
      r1 -= slope[k] * s->gamma[k];
    }
    sym2 share = nested_share(&v);
    for (size_t j = 0; j < m; j++) { /* H'P [H v_C] L, column j */
      double h0 = j == 0   ? share.level * L[0] + share.cross * L[m]
                  : j == 1 ? share.cross * L[m + 1]
                           : 0;
      double h1 = j == 0   ? share.cross * L[0] + share.slope * L[m]
                  : j == 1 ? share.slope * L[m + 1]
                           : 0;
      for (size_t k = j < 2 ? 0 : j - 2; k < c; k++) {
        h0 += y0[k] * L[(k + 2) * m + j];
        h1 += y1[k] * L[(k + 2) * m + j];
      }
      add_square(sum + AT_TRACE, h0, h1);
    }
    double h0 = v.p.level * r0 + v.p.cross * r1;
    double h1 = v.u * h0 + v.p.cross * r0 + v.p.slope * r1;
    add_square(sum + AT_QUAD, h0, h1);
    add_directions(h0, h1, share, c, y0, y1, own, sum + AT_FVF);
  }
  for (size_t k = 0; k < 12; k++)
    partial[k] += sum[k];
  memcpy(score, own, (6 + 3 * c) * sizeof *own);
}

static void score_chunk(void *context, size_t chunk, size_t worker) {
  const score_task *task = context;
  nested_state *s = task->state;
  const nested_plan *plan = s->plan;
  size_t q = plan->q;
  double *partial = s->partial + chunk * nested_partial(q);
  cluster_view view;
  (void)worker;
  memset(partial, 0, nested_partial(q) * sizeof *partial);
  for (size_t i = plan->chunk[chunk]; i < plan->chunk[chunk + 1]; i++) {
    const nested_segment *segment = &plan->segment[i];
    double *score = s->score + i * 3 * plan->m;
    look_at_cluster(s, i, task->reml, &view);
    switch (q) {
    case 1:
      score_segment(s, segment, &view, 1, score, partial);
      break;
    case 2:
      score_segment(s, segment, &view, 2, score, partial);
      break;
    case 3:
      score_segment(s, segment, &view, 3, score, partial);
      break;
    default:
      score_segment(s, segment, &view, q, score, partial);
    }
  }
}

/* ---- groups ---- */

/* Z'V0^-1f (two rows) and C'V0^-1f (covariates rows) of the six directions, for one cluster, and
 * its group's s. */
typedef struct directions {
  double z[2][NESTED_PARAMETERS];
  double x[NESTED_Q][NESTED_PARAMETERS];
  double s[2];
} directions;

static void fill_directions(const nested_state *st, const double *sums, const double *score,
                            directions *d) {
  size_t q = st->plan->q, c = q - 1;
  double s0 = d->s[0], s1 = d->s[1];
  const double e[3][2] = {{s0, 0}, {s1, s0}, {0, s1}}; /* E_j s */
  for (size_t j = 0; j < 3; j++)
    for (size_t r = 0; r < 2; r++) {
      d->z[r][j] = sums[r] * e[j][0] + sums[r + 1] * e[j][1];
      d->z[r][3 + j] = score[2 * j + r];
    }
  for (size_t k = 0; k < c; k++)
    for (size_t j = 0; j < 3; j++) {
      d->x[k][j] = sums[3 + k] * e[j][0] + sums[3 + q + k] * e[j][1];
      d->x[k][3 + j] = score[6 + 3 * k + j];
    }
}

/* The group's own terms, its integration, and the sums over blocks. */
static void add_information(nested_state *st, const double *sums, const directions *d, sym2 W,
                            double *cross, double *shared) {
  size_t q = st->plan->q;
  double s0 = d->s[0], s1 = d->s[1];
  const double e[3][2] = {{s0, 0}, {s1, s0}, {0, s1}};
  for (size_t j = 0; j < NESTED_PARAMETERS; j++) {
    double w0 = W.level * d->z[0][j] + W.cross * d->z[1][j];
    double w1 = W.cross * d->z[0][j] + W.slope * d->z[1][j];
    for (size_t k = 0; k < NESTED_PARAMETERS; k++) {
      double f = -(w0 * d->z[0][k] + w1 * d->z[1][k]);
      if (k < 3)
        f += e[k][0] * d->z[0][j] + e[k][1] * d->z[1][j];
      else if (j < 3)
        f += e[j][0] * d->z[0][k] + e[j][1] * d->z[1][k];
      st->information[j * NESTED_PARAMETERS + k] += f;
    }
    cross[j] += d->z[0][j] - sums[0] * w0 - sums[1] * w1;
    cross[NESTED_PARAMETERS + j] += d->z[1][j] - sums[1] * w0 - sums[2] * w1;
    for (size_t k = 0; k + 1 < q; k++)
      shared[k * NESTED_PARAMETERS + j] += d->x[k][j] - sums[3 + k] * w0 - sums[3 + q + k] * w1;
  }
}

/* K - KWK - Z'V^-1X A X'V^-1Z: the group's part of the trace. */
static sym2 group_trace(const nested_state *s, const double *sums, size_t block, sym2 W,
                        bool reml) {
  size_t q = s->plan->q, m = s->plan->m;
  const double *A = s->inverse + block * m * m, *F0 = sums + 3, *F1 = F0 + q;
  double Y[2][NESTED_M] = {{0}};
  for (size_t k = 0; k < m; k++) {
    double z0 = k < 2 ? sums[k] : F0[k - 2], z1 = k < 2 ? sums[k + 1] : F1[k - 2];
    double w0 = W.level * z0 + W.cross * z1, w1 = W.cross * z0 + W.slope * z1;
    Y[0][k] = z0 - sums[0] * w0 - sums[1] * w1;
    Y[1][k] = z1 - sums[1] * w0 - sums[2] * w1;
  }
  sym2 sum = {Y[0][0], Y[0][1], Y[1][1]};
  for (size_t i = 0; reml && i < m; i++)
    for (size_t k = 0; k < m; k++) {
      double a = A[i * m + k];
      sum.level -= Y[0][i] * a * Y[0][k];
      sum.cross -= Y[0][i] * a * Y[1][k];
      sum.slope -= Y[1][i] * a * Y[1][k];
    }
  return sum;
}

static void score_cluster(nested_state *s, size_t first, size_t end, bool reml, double *shared) {
  const nested_plan *plan = s->plan;
  size_t block = plan->segment[first].block, width = 3 * plan->m;
  const double *sums = s->sums + first * nested_sums(plan->q);
  double *score = s->score + first * 3 * plan->m, f[2];
  for (size_t i = first + 1; i < end; i++)
    for (size_t k = 0; k < width; k++)
      score[k] += s->score[i * 3 * plan->m + k];
  sym2 W = cluster_w(s, sums), K = {sums[0], sums[1], sums[2]};
  directions d = {0};
  residual_sums(s, sums, block, f);
  double w0 = W.level * f[0] + W.cross * f[1], w1 = W.cross * f[0] + W.slope * f[1];
  s->trace[1] = add2(s->trace[1], K);
  if (plan->grouped) {
    d.s[0] = f[0] - K.level * w0 - K.cross * w1;
    d.s[1] = f[1] - K.cross * w0 - K.slope * w1;
    s->trace[0] = add2(s->trace[0], group_trace(s, sums, block, W, reml));
    s->quad[0] = add2(s->quad[0], (sym2){d.s[0] * d.s[0], d.s[0] * d.s[1], d.s[1] * d.s[1]});
  }
  fill_directions(s, sums, score, &d);
  add_information(s, sums, &d, W, s->cross + block * 2 * NESTED_PARAMETERS, shared);
}

/* The tasks' sums: units' part of trace, quad, information. */
static void gather_partials(nested_state *s) {
  static const size_t place[6][2] = {{3, 3}, {3, 4}, {3, 5}, {4, 4}, {4, 5}, {5, 5}};
  double sum[12] = {0};
  for (size_t chunk = 0; chunk < s->plan->chunk_count; chunk++)
    for (size_t k = 0; k < 12; k++)
      sum[k] += s->partial[chunk * nested_partial(s->plan->q) + k];
  s->trace[1] = (sym2){-sum[AT_TRACE], -sum[AT_TRACE + 1], -sum[AT_TRACE + 2]};
  s->quad[1] = (sym2){sum[AT_QUAD], sum[AT_QUAD + 1], sum[AT_QUAD + 2]};
  s->trace[0] = s->quad[0] = (sym2){0, 0, 0};
  memset(s->information, 0, sizeof s->information);
  for (size_t k = 0; k < 6; k++)
    s->information[place[k][0] * NESTED_PARAMETERS + place[k][1]] =
        s->information[place[k][1] * NESTED_PARAMETERS + place[k][0]] = sum[AT_FVF + k];
}

bool nested_score_room(nested_state *s) {
  if (!s->score)
    s->score = tenter_alloc(s->plan->segment_count + 1, 3 * s->plan->m * sizeof(double));
  if (!s->cross)
    s->cross = tenter_alloc(s->plan->blocks + 1, 2 * NESTED_PARAMETERS * sizeof(double));
  return s->score && s->cross;
}

void nested_differentiate(nested_state *s, bool reml) {
  const nested_plan *plan = s->plan;
  score_task task = {s, reml};
  double shared[NESTED_Q * NESTED_PARAMETERS] = {0};
  tenter_pool_run(s->pool, plan->chunk_count, score_chunk, &task);
  gather_partials(s);
  memset(s->cross, 0, plan->blocks * 2 * NESTED_PARAMETERS * sizeof *s->cross);
  for (size_t i = 0, next; i < plan->segment_count; i = next) {
    for (next = i + 1; next < plan->segment_count && !plan->segment[next].opens;)
      next++;
    score_cluster(s, i, next, reml, shared);
  }
  nested_fixed_project(s, shared);
}
