/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Adding one set of products to another. A unit in both gets the line of all its observations, and
 * the two old lines' distances from it go to the sum within units, so that nothing is lost:
 *   sum over both of  a (l - l')(l - l')' + b (s - s')(s - s')',
 * l, s the old level and slope, l', s' the new line's there.
 * Relies on: base/alloc. */
#include <math.h>
#include <string.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

/* ---- keys ---- */

/* Open addressing over a power of two; an item is its position + 1. */
typedef struct key_table {
  size_t mask;
  size_t *item;
  uint64_t *key;
} key_table;

static void table_release(key_table *t) {
  tenter_free(t->item);
  tenter_free(t->key);
}

static bool table_room(key_table *t, size_t most) {
  size_t size = 16;
  while (size < 2 * most)
    size *= 2;
  *t = (key_table){size - 1, tenter_alloc(size, sizeof(size_t)),
                   tenter_alloc(size, sizeof(uint64_t))};
  return t->item && t->key;
}

/* Empties the table as far as `most` items need it. */
static void table_clear(key_table *t, size_t most) {
  size_t size = 16;
  while (size < 2 * most)
    size *= 2;
  t->mask = size - 1;
  memset(t->item, 0, size * sizeof *t->item);
}

static size_t slot(const key_table *t, uint64_t key) {
  uint64_t h = (key ^ (key >> 31)) * 0x9e3779b97f4a7c15u;
  size_t at = (size_t)(h >> 20) & t->mask;
  while (t->item[at] && t->key[at] != key)
    at = (at + 1) & t->mask;
  return at;
}

/* False where the key is there already. */
static bool table_put(key_table *t, uint64_t key, size_t position) {
  size_t at = slot(t, key);
  if (t->item[at])
    return false;
  t->key[at] = key;
  t->item[at] = position + 1;
  return true;
}

/* The position, or SIZE_MAX. */
static size_t table_get(const key_table *t, uint64_t key) {
  return t->item[slot(t, key)] - 1;
}

/* ---- units ---- */

/* Adds record b to record a, and what the two lines leave of each other to within. */
static void combine(double *a, const double *b, size_t q, double *within) {
  double weight = a[UNIT_A] + b[UNIT_A], share = b[UNIT_A] / weight;
  double gap = b[UNIT_MEAN_U] - a[UNIT_MEAN_U];
  double size = fmax(fabs(a[UNIT_MEAN_U]), fabs(b[UNIT_MEAN_U]));
  double da = -share * gap, db = (1 - share) * gap; /* mean u of each from the common one */
  double apart = fabs(gap) > NESTED_SAME_U * size ? a[UNIT_A] * da * da + b[UNIT_A] * db * db : 0;
  double spread = a[UNIT_B] + b[UNIT_B] + apart;
  double ra[2][NESTED_Q], rb[2][NESTED_Q]; /* old lines from the new one: level, slope */
  for (size_t k = 0; k < q; k++) {
    double *level = &a[UNIT_LINES + k], *slope = &a[UNIT_LINES + q + k];
    double lb = b[UNIT_LINES + k], sb = b[UNIT_LINES + q + k];
    double l = *level + share * (lb - *level);
    double cross = a[UNIT_B] * *slope + b[UNIT_B] * sb;
    if (apart > 0)
      cross += a[UNIT_A] * da * (*level - l) + b[UNIT_A] * db * (lb - l);
    double s = spread > 0 ? cross / spread : 0;
    ra[0][k] = *level - l - s * da;
    rb[0][k] = lb - l - s * db;
    ra[1][k] = *slope - s;
    rb[1][k] = sb - s;
    *level = l;
    *slope = s;
  }
  for (size_t k = 0; k < q; k++)
    for (size_t j = 0; j <= k; j++)
      within[k * q + j] += a[UNIT_A] * ra[0][k] * ra[0][j] + b[UNIT_A] * rb[0][k] * rb[0][j] +
                           a[UNIT_B] * ra[1][k] * ra[1][j] + b[UNIT_B] * rb[1][k] * rb[1][j];
  a[UNIT_MEAN_U] += share * gap;
  a[UNIT_A] = weight;
  a[UNIT_B] = spread;
}

static void append_unit(tenter_nested_products *to, const tenter_nested_products *from,
                        size_t unit) {
  size_t stride = nested_stride(to->covariates + 1), at = to->unit_count++;
  to->unit_key[at] = from->unit_key[unit];
  to->unit_observations[at] = from->unit_observations[unit];
  memcpy(to->unit + at * stride, nested_unit(from, unit), stride * sizeof(double));
}

static void add_unit(tenter_nested_products *to, size_t at, const tenter_nested_products *from,
                     size_t unit) {
  size_t q = to->covariates + 1;
  double *record = to->unit + at * nested_stride(q);
  if (from->unit_observations[unit] > 0 && to->unit_observations[at] > 0)
    combine(record, nested_unit(from, unit), q, to->within);
  else if (from->unit_observations[unit] > 0)
    memcpy(record, nested_unit(from, unit), nested_stride(q) * sizeof(double));
  to->unit_observations[at] += from->unit_observations[unit];
}

/* ---- groups ---- */

static tenter_status repeated(tenter_error *error) {
  return tenter_fail(error, TENTER_INPUT,
                     "a key repeats in a set of nested products, which can't be merged then");
}

/* Adds other's group h to the group just copied to the end of `to`. */
static tenter_status merge_group(tenter_nested_products *to, const tenter_nested_products *other,
                                 size_t h, key_table *units, tenter_error *error) {
  size_t first = to->group[to->group_count - 1].first, own = to->unit_count - first;
  size_t end = nested_group_end(other, h), all = own + end - other->group[h].first;
  table_clear(units, all);
  for (size_t i = first; i < to->unit_count; i++)
    if (!table_put(units, to->unit_key[i], i))
      return repeated(error);
  for (size_t i = other->group[h].first; i < end; i++) {
    size_t at = table_get(units, other->unit_key[i]);
    if (at == SIZE_MAX) {
      table_put(units, other->unit_key[i], to->unit_count);
      append_unit(to, other, i);
    } else if (at >= first + own)
      return repeated(error); /* appended from other a moment ago */
    else if (to->unit_observations[at] > UINT32_MAX - other->unit_observations[i])
      return tenter_fail(error, TENTER_INPUT, "a unit has too many observations");
    else
      add_unit(to, at, other, i);
  }
  return TENTER_OK;
}

static void copy_group(tenter_nested_products *to, const tenter_nested_products *from, size_t g) {
  to->group[to->group_count++] =
      (nested_group){from->group[g].key, from->group[g].block, to->unit_count};
  for (size_t i = from->group[g].first; i < nested_group_end(from, g); i++)
    append_unit(to, from, i);
}

/* All of p, each group with other's of its key added, then other's own. */
static tenter_status merge_groups(tenter_nested_products *to, const tenter_nested_products *p,
                                  const tenter_nested_products *other, key_table *groups,
                                  key_table *units, tenter_error *error) {
  table_clear(groups, other->group_count);
  for (size_t h = 0; h < other->group_count; h++)
    if (!table_put(groups, other->group[h].key, h))
      return repeated(error);
  for (size_t g = 0; g < p->group_count; g++) {
    size_t h = table_get(groups, p->group[g].key);
    copy_group(to, p, g);
    if (h == SIZE_MAX)
      continue;
    if (other->group[h].block != p->group[g].block)
      return tenter_fail(error, TENTER_INPUT, "a group lies in blocks %zu and %zu",
                         p->group[g].block, other->group[h].block);
    tenter_status status = merge_group(to, other, h, units, error);
    if (status)
      return status;
  }
  table_clear(groups, p->group_count);
  for (size_t g = 0; g < p->group_count; g++)
    if (!table_put(groups, p->group[g].key, g))
      return repeated(error);
  for (size_t h = 0; h < other->group_count; h++)
    if (table_get(groups, other->group[h].key) == SIZE_MAX)
      copy_group(to, other, h);
  return TENTER_OK;
}

/* ---- sets ---- */

/* An empty set with room for both, their sums within units in it. */
static tenter_nested_products *room_for_both(const tenter_nested_products *p,
                                             const tenter_nested_products *other) {
  tenter_nested_products *to;
  size_t q = p->covariates + 1;
  if (tenter_nested_products_new(p->terms, p->covariates, &to, NULL))
    return NULL;
  to->group_room = p->group_count + other->group_count + 1;
  to->unit_room = p->unit_count + other->unit_count + 1;
  to->group = tenter_alloc(to->group_room, sizeof *to->group);
  to->unit_key = tenter_alloc(to->unit_room, sizeof *to->unit_key);
  to->unit_observations = tenter_alloc(to->unit_room, sizeof *to->unit_observations);
  to->unit = tenter_alloc(to->unit_room, nested_stride(q) * sizeof *to->unit);
  if (!to->group || !to->unit_key || !to->unit_observations || !to->unit) {
    tenter_nested_products_free(to);
    return NULL;
  }
  to->blocks = p->blocks > other->blocks ? p->blocks : other->blocks;
  to->observations = p->observations + other->observations;
  to->log_weights = p->log_weights + other->log_weights;
  for (size_t k = 0; k < q * q; k++)
    to->within[k] = p->within[k] + other->within[k];
  for (size_t k = 0; k < q; k++)
    to->raw[k] = p->raw[k] + other->raw[k];
  return to;
}

tenter_status tenter_nested_products_merge(tenter_nested_products *p,
                                           const tenter_nested_products *other,
                                           tenter_error *error) {
  if (p->terms != other->terms || p->covariates != other->covariates)
    return tenter_fail(error, TENTER_INPUT,
                       "sets of nested products with %zu and %zu terms, %zu and %zu covariates "
                       "can't be merged",
                       p->terms, other->terms, p->covariates, other->covariates);
  key_table groups = {0}, units = {0};
  tenter_nested_products *to = room_for_both(p, other);
  if (!to)
    return tenter_fail_memory(error);
  bool room = table_room(&groups, to->group_room) && table_room(&units, to->unit_room);
  tenter_status status =
      room ? merge_groups(to, p, other, &groups, &units, error) : tenter_fail_memory(error);
  if (status == TENTER_OK) { /* the contents change places */
    tenter_nested_products old = *p;
    *p = *to;
    *to = old;
  }
  table_release(&groups);
  table_release(&units);
  tenter_nested_products_free(to);
  return status;
}
