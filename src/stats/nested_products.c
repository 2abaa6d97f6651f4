/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Building the products of the nested model: each unit's observations become its own weighted
 * least-squares lines (two passes over its readings), what is left goes to one sum over all units.
 * Relies on: base/alloc. */
#include <math.h>
#include <string.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

tenter_status tenter_nested_products_new(size_t terms, size_t covariates,
                                         tenter_nested_products **products, tenter_error *error) {
  if (terms != 1 && terms != 2)
    return tenter_fail(error, TENTER_USAGE, "a nested model has 1 or 2 terms, not %zu", terms);
  if (covariates > TENTER_NESTED_COVARIATES)
    return tenter_fail(error, TENTER_USAGE, "a nested model takes at most %d covariates, not %zu",
                       (int)TENTER_NESTED_COVARIATES, covariates);
  size_t q = covariates + 1;
  tenter_nested_products *p = tenter_alloc(1, sizeof *p);
  if (p) {
    p->terms = terms;
    p->covariates = covariates;
    p->within = tenter_alloc(q * q, sizeof *p->within);
    p->raw = tenter_alloc(q, sizeof *p->raw);
  }
  if (!p || !p->within || !p->raw) {
    tenter_nested_products_free(p);
    return tenter_fail_memory(error);
  }
  *products = p;
  return TENTER_OK;
}

void tenter_nested_products_free(tenter_nested_products *p) {
  if (!p)
    return;
  tenter_free(p->group);
  tenter_free(p->unit_key);
  tenter_free(p->unit_observations);
  tenter_free(p->unit);
  tenter_free(p->within);
  tenter_free(p->raw);
  tenter_free(p);
}

/* Makes *block hold room items; on failure it is as it was. */
static bool grow(void **block, size_t room, size_t size) {
  void *bigger = tenter_resize(*block, room, size);
  if (bigger)
    *block = bigger;
  return bigger != NULL;
}

static size_t more(size_t room) {
  return room < 16 ? 16 : room + room / 4;
}

tenter_status tenter_nested_group_add(tenter_nested_products *p, size_t block, uint64_t key,
                                      tenter_error *error) {
  if (block >= UINT32_MAX)
    return tenter_fail(error, TENTER_USAGE, "block %zu of a nested model is out of range", block);
  if (p->group_count == p->group_room) {
    size_t room = more(p->group_room);
    if (!grow((void **)&p->group, room, sizeof *p->group))
      return tenter_fail_memory(error);
    p->group_room = room;
  }
  p->group[p->group_count++] = (nested_group){key, block, p->unit_count};
  if (block >= p->blocks)
    p->blocks = block + 1;
  return TENTER_OK;
}

/* One unit's observations, as the caller gave them. */
typedef struct readings {
  size_t count, covariates;
  const double *u, *y, *weight, *x;
} readings;

static double weight_of(const readings *r, size_t j) {
  return r->weight ? r->weight[j] : 1;
}
/* Column k of [x y]. */
static double value_of(const readings *r, size_t j, size_t k) {
  return k == r->covariates ? r->y[j] : r->x[j * r->covariates + k];
}

static tenter_status check(const readings *r, tenter_error *error) {
  for (size_t j = 0; j < r->count; j++) {
    bool good = isfinite(r->y[j]) && (!r->u || isfinite(r->u[j]));
    for (size_t k = 0; k < r->covariates; k++)
      good = good && isfinite(value_of(r, j, k));
    if (!good)
      return tenter_fail(error, TENTER_INPUT, "observation %zu of a unit is not finite", j);
    if (!(weight_of(r, j) > 0) || !isfinite(weight_of(r, j)))
      return tenter_fail(error, TENTER_INPUT, "observation %zu of a unit has weight %g", j,
                         weight_of(r, j));
  }
  return TENTER_OK;
}

/* Room for one more unit. */
static bool unit_room(tenter_nested_products *p) {
  if (p->unit_count < p->unit_room)
    return true;
  size_t room = more(p->unit_room);
  size_t record = nested_stride(p->covariates + 1) * sizeof(double);
  if (!grow((void **)&p->unit_key, room, sizeof *p->unit_key) ||
      !grow((void **)&p->unit_observations, room, sizeof *p->unit_observations) ||
      !grow((void **)&p->unit, room, record))
    return false;
  p->unit_room = room;
  return true;
}

/* a, mean u, b of a unit's record; b = 0 where all u are one. */
static void spread_of_u(const readings *r, double *record) {
  double a = 0, sum = 0, b = 0, size = 0, widest = 0;
  for (size_t j = 0; j < r->count; j++) {
    a += weight_of(r, j);
    sum += r->u ? weight_of(r, j) * r->u[j] : 0;
  }
  double mean = sum / a;
  for (size_t j = 0; r->u && j < r->count; j++) {
    double d = r->u[j] - mean;
    b += weight_of(r, j) * d * d;
    size = fmax(size, fabs(r->u[j]));
    widest = fmax(widest, fabs(d));
  }
  record[UNIT_A] = a;
  record[UNIT_MEAN_U] = mean;
  record[UNIT_B] = widest > NESTED_SAME_U * size ? b : 0;
}

/* The least-squares line of column k: level at the mean u, slope. */
static void line_of(const readings *r, const double *record, size_t k, double *level,
                    double *slope) {
  double sum = 0, cross = 0;
  for (size_t j = 0; j < r->count; j++)
    sum += weight_of(r, j) * value_of(r, j, k);
  *level = sum / record[UNIT_A];
  *slope = 0;
  if (!r->u || record[UNIT_B] <= 0)
    return;
  for (size_t j = 0; j < r->count; j++)
    cross += weight_of(r, j) * (r->u[j] - record[UNIT_MEAN_U]) * (value_of(r, j, k) - *level);
  *slope = cross / record[UNIT_B];
}

/* Adds what is left about the lines to the sums over all units. */
static void add_within(tenter_nested_products *p, const readings *r, const double *record) {
  size_t q = p->covariates + 1;
  const double *level = record + UNIT_LINES, *slope = level + q;
  for (size_t j = 0; j < r->count; j++) {
    double left[NESTED_Q], w = weight_of(r, j);
    double d = r->u ? r->u[j] - record[UNIT_MEAN_U] : 0;
    for (size_t k = 0; k < q; k++)
      left[k] = value_of(r, j, k) - level[k] - slope[k] * d;
    for (size_t k = 0; k < q; k++)
      for (size_t i = 0; i <= k; i++)
        p->within[k * q + i] += w * left[k] * left[i];
    for (size_t k = 0; k < q; k++)
      p->raw[k] += w * value_of(r, j, k) * value_of(r, j, k);
    if (r->weight)
      p->log_weights += log(w);
  }
}

tenter_status tenter_nested_unit_add(tenter_nested_products *p, uint64_t key, size_t count,
                                     const double *u, const double *y, const double *weight,
                                     const double *x, tenter_error *error) {
  readings r = {count, p->covariates, p->terms == 2 ? u : NULL, y, weight, x};
  if (p->group_count == 0)
    return tenter_fail(error, TENTER_INPUT, "a unit of a nested model needs a group first");
  if (count > UINT32_MAX)
    return tenter_fail(error, TENTER_INPUT, "a unit of a nested model has too many observations");
  tenter_status status = check(&r, error);
  if (status)
    return status;
  if (!unit_room(p))
    return tenter_fail_memory(error);
  size_t q = p->covariates + 1, index = p->unit_count++;
  double *record = p->unit + index * nested_stride(q);
  memset(record, 0, nested_stride(q) * sizeof *record);
  p->unit_key[index] = key;
  p->unit_observations[index] = (uint32_t)count;
  p->observations += count;
  if (count == 0)
    return TENTER_OK;
  spread_of_u(&r, record);
  for (size_t k = 0; k < q; k++)
    line_of(&r, record, k, &record[UNIT_LINES + k], &record[UNIT_LINES + q + k]);
  add_within(p, &r, record);
  return TENTER_OK;
}

/* ---- stringing sets together ---- */

/* Room for count more units and groups. */
static bool append_room(tenter_nested_products *p, const tenter_nested_products *other) {
  size_t record = nested_stride(p->covariates + 1) * sizeof(double);
  size_t units = p->unit_count + other->unit_count, groups = p->group_count + other->group_count;
  if (units > p->unit_room) {
    size_t room = units > more(p->unit_room) ? units : more(p->unit_room);
    if (!grow((void **)&p->unit_key, room, sizeof *p->unit_key) ||
        !grow((void **)&p->unit_observations, room, sizeof *p->unit_observations) ||
        !grow((void **)&p->unit, room, record))
      return false;
    p->unit_room = room;
  }
  if (groups > p->group_room) {
    size_t room = groups > more(p->group_room) ? groups : more(p->group_room);
    if (!grow((void **)&p->group, room, sizeof *p->group))
      return false;
    p->group_room = room;
  }
  return true;
}

static void append_groups(tenter_nested_products *p, const tenter_nested_products *other,
                          bool going_on) {
  for (size_t i = going_on; p->group && i < other->group_count; i++) {
    p->group[p->group_count] = other->group[i];
    p->group[p->group_count++].first += p->unit_count;
  }
  p->blocks = other->blocks > p->blocks ? other->blocks : p->blocks;
}

static void append_units(tenter_nested_products *p, const tenter_nested_products *other) {
  size_t stride = nested_stride(p->covariates + 1), n = other->unit_count;
  if (n == 0)
    return;
  memcpy(p->unit_key + p->unit_count, other->unit_key, n * sizeof *p->unit_key);
  memcpy(p->unit_observations + p->unit_count, other->unit_observations,
         n * sizeof *p->unit_observations);
  memcpy(p->unit + p->unit_count * stride, other->unit, n * stride * sizeof *p->unit);
  p->unit_count += n;
}

tenter_status tenter_nested_products_append(tenter_nested_products *p,
                                            const tenter_nested_products *other,
                                            tenter_error *error) {
  if (p->terms != other->terms || p->covariates != other->covariates)
    return tenter_fail(error, TENTER_INPUT, "sets of a nested model with different columns");
  const nested_group *last = p->group_count ? &p->group[p->group_count - 1] : NULL;
  bool going_on = last && other->group_count && other->group[0].key == last->key;
  if (going_on && other->group[0].block != last->block)
    return tenter_fail(error, TENTER_INPUT, "a group of a nested model lies in two blocks");
  if (!append_room(p, other))
    return tenter_fail_memory(error);
  append_groups(p, other, going_on);
  append_units(p, other);
  size_t q = p->covariates + 1;
  for (size_t i = 0; i < q * q; i++)
    p->within[i] += other->within[i];
  for (size_t i = 0; i < q; i++)
    p->raw[i] += other->raw[i];
  p->log_weights += other->log_weights;
  p->observations += other->observations;
  return TENTER_OK;
}

size_t tenter_nested_blocks(const tenter_nested_products *p) {
  return p->blocks;
}
size_t tenter_nested_groups(const tenter_nested_products *p) {
  return p->group_count;
}
size_t tenter_nested_units(const tenter_nested_products *p) {
  return p->unit_count;
}
size_t tenter_nested_observations(const tenter_nested_products *p) {
  return p->observations;
}
size_t tenter_nested_group_block(const tenter_nested_products *p, size_t group) {
  return p->group[group].block;
}
size_t tenter_nested_unit_count(const tenter_nested_products *p, size_t unit) {
  return p->unit_observations[unit];
}

double tenter_nested_unit_mean_u(const tenter_nested_products *p, size_t unit) {
  return nested_unit(p, unit)[UNIT_MEAN_U];
}

size_t tenter_nested_bytes(const tenter_nested_products *p) {
  size_t q = p->covariates + 1;
  size_t unit = nested_stride(q) * sizeof(double) + sizeof *p->unit_key + sizeof(uint32_t);
  return sizeof *p + (q * q + q) * sizeof(double) + p->group_room * sizeof *p->group +
         p->unit_room * unit;
}

/* The last group that begins at or before the unit and is not empty before it. */
size_t tenter_nested_unit_group(const tenter_nested_products *p, size_t unit) {
  size_t low = 0, high = p->group_count; /* first[low] <= unit < first[high] */
  while (high - low > 1) {
    size_t middle = low + (high - low) / 2;
    if (p->group[middle].first <= unit)
      low = middle;
    else
      high = middle;
  }
  return low;
}
