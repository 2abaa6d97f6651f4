/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One evaluation of the nested model: units are integrated out segment by segment (in parallel),
 * groups after them, the fixed effects last (nested_fixed.c). Symbols: nested_internal.h.
 * Relies on: base/alloc, base/pool. */
#include <math.h>
#include <string.h>

#include "nested_unit.h"
#include "tenter/base/alloc.h"

tenter_status nested_state_new(nested_plan *plan, tenter_pool *pool, nested_state **result,
                               tenter_error *error) {
  size_t q = plan->q, m = plan->m, blocks = plan->blocks + 1, d = sizeof(double);
  nested_state *s = tenter_alloc(1, sizeof *s);
  if (s) {
    s->plan = plan;
    s->pool = pool;
    s->sums = tenter_alloc(plan->segment_count + 1, nested_sums(q) * d);
    s->partial = tenter_alloc(plan->chunk_count + 1, nested_partial(q) * d);
    s->local = tenter_alloc(blocks, nested_sums(q) * d);
    s->solved = tenter_alloc(blocks, 2 * q * d);
    s->local_inverse = tenter_alloc(blocks, 3 * d);
    s->inverse = tenter_alloc(blocks, m * m * d);
    s->line = tenter_alloc(blocks, 2 * d);
  }
  if (!s || !s->sums || !s->partial || !s->local || !s->solved || !s->local_inverse ||
      !s->inverse || !s->line) {
    nested_state_free(s);
    return tenter_fail_memory(error);
  }
  *result = s;
  return TENTER_OK;
}

void nested_state_free(nested_state *s) {
  if (!s)
    return;
  tenter_free(s->sums);
  tenter_free(s->partial);
  tenter_free(s->local);
  tenter_free(s->solved);
  tenter_free(s->local_inverse);
  tenter_free(s->inverse);
  tenter_free(s->line);
  tenter_free(s->score);
  tenter_free(s->cross);
  tenter_free(s);
}

/* ---- units ---- */

/* Adds log x to *sum, by way of a running product: a logarithm costs more than the rest. */
NESTED_INLINE void add_log(double x, double *product, double *sum) {
  *product *= x;
  if (*product > 1e100) {
    *sum += log(*product);
    *product = 1;
  }
}

/* K and F of a segment to sums; its log|I + tD| and E are added to partial. */
NESTED_INLINE void sum_segment(const nested_state *s, const nested_segment *segment, size_t q,
                               double *sums, double *partial) {
  const nested_plan *plan = s->plan;
  const double *reference = plan->reference + segment->block * 2 * q;
  const double *record = nested_unit(plan->products, segment->first);
  double K0 = 0, K1 = 0, K2 = 0, F[2 * NESTED_Q] = {0}, product = 1, logs = 0;
  for (size_t i = segment->first; i < segment->end; i++, record += nested_stride(q)) {
    double level[NESTED_Q], slope[NESTED_Q];
    nested_view v = nested_look(record, plan->shift, s->at.factor + 3);
    nested_lines(record, v.u, reference, q, level, slope);
    add_log(v.d, &product, &logs);
    sym2 share = nested_share(&v);
    K0 += share.level;
    K1 += share.cross;
    K2 += share.slope;
    for (size_t k = 0; k < q; k++) {
      double p0 = v.p.level * level[k] + v.p.cross * slope[k];
      double p1 = v.p.cross * level[k] + v.p.slope * slope[k];
      F[k] += p0;
      F[q + k] += v.u * p0 + p1;
      for (size_t j = 0; j <= k; j++)
        partial[1 + k * q + j] += p0 * level[j] + p1 * slope[j];
    }
  }
  sums[0] = K0;
  sums[1] = K1;
  sums[2] = K2;
  memcpy(sums + 3, F, 2 * q * sizeof *F);
  partial[0] += logs + log(product);
}

static void sum_chunk(void *context, size_t chunk, size_t worker) {
  nested_state *s = context;
  const nested_plan *plan = s->plan;
  size_t q = plan->q, stride = nested_sums(q);
  double *partial = s->partial + chunk * nested_partial(q);
  (void)worker;
  memset(partial, 0, nested_partial(q) * sizeof *partial);
  for (size_t i = plan->chunk[chunk]; i < plan->chunk[chunk + 1]; i++) {
    const nested_segment *segment = &plan->segment[i];
    double *sums = s->sums + i * stride;
    switch (q) { /* the compiler unrolls the usual ones */
    case 1:
      sum_segment(s, segment, 1, sums, partial);
      break;
    case 2:
      sum_segment(s, segment, 2, sums, partial);
      break;
    case 3:
      sum_segment(s, segment, 3, sums, partial);
      break;
    default:
      sum_segment(s, segment, q, sums, partial);
    }
  }
}

/* ---- groups ---- */

/* Adds the later segments of a cluster to its first; returns the segment after the cluster. */
static size_t gather(nested_state *s, size_t first) {
  size_t stride = nested_sums(s->plan->q), next = first + 1;
  double *sums = s->sums + first * stride;
  for (; next < s->plan->segment_count && !s->plan->segment[next].opens; next++)
    for (size_t k = 0; k < stride; k++)
      sums[k] += s->sums[next * stride + k];
  return next;
}

/* Integrates a cluster's effect out of its sums, adds it to its block and to energy; returns
 * |I + KT|. */
static double close_cluster(nested_state *s, const double *sums, double *local) {
  size_t q = s->plan->q;
  const double *F0 = sums + 3, *F1 = F0 + q;
  double *L0 = local + 3, *L1 = L0 + q;
  sym2 K = {sums[0], sums[1], sums[2]};
  double d = det_one_plus2(K, s->group);
  sym2 W = shrink2(s->group, K, d), P = shrink2(K, s->group, d);
  local[0] += P.level;
  local[1] += P.cross;
  local[2] += P.slope;
  for (size_t k = 0; k < q; k++) {
    double w0 = W.level * F0[k] + W.cross * F1[k], w1 = W.cross * F0[k] + W.slope * F1[k];
    L0[k] += F0[k] - K.level * w0 - K.cross * w1;
    L1[k] += F1[k] - K.cross * w0 - K.slope * w1;
    for (size_t j = 0; j <= k; j++)
      s->energy[k * q + j] -= w0 * F0[j] + w1 * F1[j];
  }
  return d;
}

void nested_evaluate(nested_state *s, const nested_point *at) {
  const nested_plan *plan = s->plan;
  size_t q = plan->q, stride = nested_sums(q);
  s->at = *at;
  s->group = nested_product(at->factor);
  s->unit = nested_product(at->factor + 3);
  tenter_pool_run(s->pool, plan->chunk_count, sum_chunk, s);
  s->log_v = 0;
  memcpy(s->energy, plan->products->within, q * q * sizeof *s->energy);
  for (size_t chunk = 0; chunk < plan->chunk_count; chunk++) {
    const double *partial = s->partial + chunk * nested_partial(q);
    s->log_v += partial[0];
    for (size_t k = 0; k < q * q; k++)
      s->energy[k] += partial[1 + k];
  }
  memset(s->local, 0, plan->blocks * stride * sizeof *s->local);
  double product = 1;
  for (size_t i = 0; i < plan->segment_count;) {
    size_t next = gather(s, i);
    double *local = s->local + plan->segment[i].block * stride;
    add_log(close_cluster(s, s->sums + i * stride, local), &product, &s->log_v);
    i = next;
  }
  s->log_v += log(product);
  nested_fixed_solve(s);
}

double nested_deviance(const nested_state *s, bool ml, const double *residual) {
  const tenter_nested_products *p = s->plan->products;
  double df = (double)p->observations - (ml ? 0 : (double)s->plan->fixed);
  double common = s->log_v + (ml ? 0 : s->log_x) - p->log_weights;
  double variance = residual ? *residual : s->square / df;
  return common + df * log(2 * acos(-1.0) * variance) + s->square / variance;
}
