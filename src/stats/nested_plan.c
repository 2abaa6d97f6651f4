/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What an evaluation of the nested model needs and the components don't change: the shift of u, the
 * blocks' own least-squares lines, the columns that the data can tell apart, and the segments in
 * which the units are worked through. Relies on: base/alloc. */
#include <math.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

static const double flat_u = 1e-8;    /* spread of u in a block, of its size, that is rounding */
static const double rounding = 1e-12; /* a column's square left after the blocks, of its raw one */
static const double collinear = 1e-9; /* and after the covariates before it, of that */

void nested_plan_free(nested_plan *plan) {
  if (!plan)
    return;
  tenter_free(plan->reference);
  tenter_free(plan->center);
  tenter_free(plan->rank);
  tenter_free(plan->segment);
  tenter_free(plan->chunk);
  tenter_free(plan);
}

/* ---- blocks ---- */

/* Sums of one block while its line is found. */
typedef struct block_sums {
  double a, u, b, size; /* weight, mean u, spread about it, largest |u| */
} block_sums;

/* A walk over the units that have observations. */
typedef struct walk {
  size_t group, next; /* unit */
  size_t block;       /* of the unit found */
  const double *record;
} walk;

static bool next_unit(const tenter_nested_products *p, walk *w) {
  for (; w->next < p->unit_count; w->next++) {
    while (w->next >= nested_group_end(p, w->group))
      w->group++;
    w->block = p->group[w->group].block;
    w->record = nested_unit(p, w->next);
    if (w->record[UNIT_A] > 0) {
      w->next++;
      return true;
    }
  }
  return false;
}

/* Means of u and of every column by block; the overall mean of u is the shift. */
static void block_means(nested_plan *plan, block_sums *sum) {
  const tenter_nested_products *p = plan->products;
  size_t q = plan->q, level_units = 0, slope_units = 0;
  double all = 0, all_u = 0, level = 0, slope = 0;
  for (walk w = {0}; next_unit(p, &w);) {
    size_t block = w.block;
    const double *record = w.record;
    block_sums *s = &sum[block];
    double a = record[UNIT_A], *mean = plan->reference + block * 2 * q;
    s->a += a;
    s->u += a / s->a * (record[UNIT_MEAN_U] - s->u);
    s->size = fmax(s->size, fabs(record[UNIT_MEAN_U]));
    for (size_t k = 0; k < q; k++)
      mean[k] += a / s->a * (record[UNIT_LINES + k] - mean[k]);
    all += a;
    all_u += a / all * (record[UNIT_MEAN_U] - all_u);
    level += a;
    slope += record[UNIT_B];
    level_units++;
    slope_units += record[UNIT_B] > 0;
  }
  plan->shift = all_u;
  plan->unit_level = level_units ? level / (double)level_units : 1;
  plan->unit_slope = slope_units ? slope / (double)slope_units : 1;
}

/* Slopes about the means, ranks; then the level is moved from the block's mean u to the shift. */
static void block_lines(nested_plan *plan, block_sums *sum) {
  const tenter_nested_products *p = plan->products;
  size_t q = plan->q;
  for (walk w = {0}; next_unit(p, &w);) {
    size_t block = w.block;
    const double *record = w.record;
    double a = record[UNIT_A], b = record[UNIT_B], *level = plan->reference + block * 2 * q;
    double d = record[UNIT_MEAN_U] - sum[block].u;
    sum[block].b += b + a * d * d;
    for (size_t k = 0; k < q; k++)
      level[q + k] += b * record[UNIT_LINES + q + k] + a * d * (record[UNIT_LINES + k] - level[k]);
  }
  double all = 0, about = 0;
  for (size_t block = 0; block < plan->blocks; block++) {
    block_sums *s = &sum[block];
    double *level = plan->reference + block * 2 * q, *slope = level + q;
    bool sloped = p->terms == 2 && s->b > flat_u * flat_u * s->a * s->size * s->size && s->b > 0;
    plan->rank[block] = (uint8_t)(s->a > 0 ? 1 + sloped : 0);
    plan->fixed += plan->rank[block];
    plan->center[block] = s->u;
    all += s->a;
    about += s->b;
    for (size_t k = 0; k < q; k++) {
      slope[k] = sloped ? slope[k] / s->b : 0;
      level[k] += slope[k] * (plan->shift - s->u);
    }
  }
  plan->spread_u = all > 0 ? sqrt(about / all) : 0;
}

/* ---- covariates ---- */

/* Squares and products of the covariates about their blocks' lines: c x c, in rows of q. */
static void covariate_squares(const nested_plan *plan, double *square) {
  const tenter_nested_products *p = plan->products;
  size_t q = plan->q, c = q - 1;
  for (size_t k = 0; k < c; k++)
    for (size_t i = 0; i <= k; i++)
      square[k * q + i] = p->within[k * q + i];
  for (walk w = {0}; next_unit(p, &w);) {
    size_t block = w.block;
    const double *record = w.record;
    const double *level = plan->reference + block * 2 * q, *slope = level + q;
    double v0[NESTED_Q], v1[NESTED_Q], u = record[UNIT_MEAN_U] - plan->shift;
    for (size_t k = 0; k < c; k++) {
      v0[k] = record[UNIT_LINES + k] - level[k] - slope[k] * u;
      v1[k] = record[UNIT_LINES + q + k] - slope[k];
      for (size_t i = 0; i <= k; i++)
        square[k * q + i] += record[UNIT_A] * v0[k] * v0[i] + record[UNIT_B] * v1[k] * v1[i];
    }
  }
}

/* Goes through the covariates in order and keeps those that the blocks and the covariates kept
 * before leave something of: Cholesky with the others left out. */
static void keep_covariates(nested_plan *plan, double *square) {
  size_t q = plan->q, c = q - 1;
  for (size_t k = 0; k < c; k++) {
    double own = square[k * q + k], left = own;
    for (size_t i = 0; i < k; i++) {
      if (!plan->kept[i])
        continue;
      double f = square[k * q + i];
      for (size_t j = 0; j < i; j++)
        f -= plan->kept[j] ? square[k * q + j] * square[i * q + j] : 0;
      f /= square[i * q + i];
      square[k * q + i] = f;
      left -= f * f;
    }
    plan->kept[k] = own > rounding * plan->products->raw[k] && left > collinear * own;
    plan->fixed += plan->kept[k];
    square[k * q + k] = plan->kept[k] ? sqrt(left) : 0;
  }
}

/* ---- segments ---- */

/* Walks the units in order and says where a segment begins; counts, or writes where there is room.
 */
static void cut(nested_plan *plan, bool write) {
  const tenter_nested_products *p = plan->products;
  size_t segments = 0, chunks = 0, in_chunk = NESTED_CHUNK;
  size_t block = SIZE_MAX;
  for (size_t g = 0; g < p->group_count; g++) {
    size_t at = p->group[g].first, end = nested_group_end(p, g);
    bool opens = plan->grouped || p->group[g].block != block;
    block = p->group[g].block;
    while (at < end || opens) {
      bool next_chunk = in_chunk >= NESTED_CHUNK;
      if (next_chunk) {
        in_chunk = 0;
        if (write)
          plan->chunk[chunks] = segments;
        chunks++;
      }
      size_t take = end - at < NESTED_CHUNK - in_chunk ? end - at : NESTED_CHUNK - in_chunk;
      bool extend = !opens && !next_chunk;
      segments += !extend;
      if (write && extend)
        plan->segment[segments - 1].end = at + take;
      else if (write)
        plan->segment[segments - 1] = (nested_segment){at, at + take, (uint32_t)block, opens};
      in_chunk += take;
      at += take;
      opens = false;
    }
  }
  plan->segment_count = segments;
  plan->chunk_count = chunks;
  if (write)
    plan->chunk[chunks] = segments;
}

static bool make_segments(nested_plan *plan) {
  cut(plan, false);
  plan->segment = tenter_alloc(plan->segment_count + 1, sizeof *plan->segment);
  plan->chunk = tenter_alloc(plan->chunk_count + 1, sizeof *plan->chunk);
  if (!plan->segment || !plan->chunk)
    return false;
  cut(plan, true);
  return true;
}

tenter_status nested_plan_new(const tenter_nested_products *products, bool grouped,
                              nested_plan **result, tenter_error *error) {
  size_t blocks = products->blocks, q = products->covariates + 1;
  nested_plan *plan = tenter_alloc(1, sizeof *plan);
  block_sums *sum = tenter_alloc(blocks + 1, sizeof *sum);
  double square[NESTED_Q * NESTED_Q];
  if (plan) {
    *plan = (nested_plan){
        .products = products, .q = q, .m = q + 1, .blocks = blocks, .grouped = grouped};
    plan->reference = tenter_alloc(blocks + 1, 2 * q * sizeof(double));
    plan->center = tenter_alloc(blocks + 1, sizeof(double));
    plan->rank = tenter_alloc(blocks + 1, 1);
  }
  bool room = plan && sum && plan->reference && plan->center && plan->rank && make_segments(plan);
  if (room) {
    block_means(plan, sum);
    block_lines(plan, sum);
    covariate_squares(plan, square);
    keep_covariates(plan, square);
    *result = plan;
  } else
    nested_plan_free(plan);
  tenter_free(sum);
  return room ? TENTER_OK : tenter_fail_memory(error);
}
