/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Products as bytes: a magic word, counts, sums, groups, units, and a checksum (FNV-1a, 64 bits) of
 * all before it. Numbers are 8 bytes, little endian, doubles by their IEEE 754 bits; a unit's count
 * of observations likewise. Relies on: base/alloc, base/buffer. */
#include <math.h>
#include <string.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

static const char magic[8] = {'n', 'e', 's', 't', 'e', 'd', '\0', '\1'}; /* the last: version */

enum { WORD = 8, HEAD = 7 }; /* bytes a number; numbers of the head after the magic */

static uint64_t checksum(const unsigned char *bytes, size_t length) {
  uint64_t h = 0xcbf29ce484222325u;
  for (size_t i = 0; i < length; i++)
    h = (h ^ bytes[i]) * 0x100000001b3u;
  return h;
}

/* ---- writing ---- */

static void put_word(tenter_buffer *to, uint64_t value) {
  unsigned char bytes[WORD];
  for (size_t i = 0; i < WORD; i++)
    bytes[i] = (unsigned char)(value >> (8 * i));
  tenter_buffer_add(to, bytes, WORD);
}

static void put_double(tenter_buffer *to, double value) {
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  put_word(to, bits);
}

static void put_doubles(tenter_buffer *to, const double *value, size_t count) {
  for (size_t i = 0; i < count; i++)
    put_double(to, value[i]);
}

void tenter_nested_products_save(const tenter_nested_products *p, tenter_buffer *to) {
  size_t start = to->length, q = p->covariates + 1;
  tenter_buffer_add(to, magic, sizeof magic);
  put_word(to, p->terms);
  put_word(to, p->covariates);
  put_word(to, p->blocks);
  put_word(to, p->group_count);
  put_word(to, p->unit_count);
  put_word(to, p->observations);
  put_double(to, p->log_weights);
  put_doubles(to, p->within, q * q);
  put_doubles(to, p->raw, q);
  for (size_t g = 0; g < p->group_count; g++) {
    put_word(to, p->group[g].key);
    put_word(to, p->group[g].block);
    put_word(to, p->group[g].first);
  }
  for (size_t i = 0; i < p->unit_count; i++) {
    put_word(to, p->unit_key[i]);
    put_word(to, p->unit_observations[i]);
    put_doubles(to, nested_unit(p, i), nested_stride(q));
  }
  if (!to->failed)
    put_word(to, checksum((const unsigned char *)to->bytes + start, to->length - start));
}

/* ---- reading ---- */

typedef struct reader {
  const unsigned char *at;
  bool good; /* all so far was in range */
} reader;

static uint64_t get_word(reader *r) {
  uint64_t value = 0;
  for (size_t i = 0; i < WORD; i++)
    value |= (uint64_t)r->at[i] << (8 * i);
  r->at += WORD;
  return value;
}

/* A count below limit. */
static size_t get_count(reader *r, uint64_t limit) {
  uint64_t value = get_word(r);
  r->good = r->good && value < limit;
  return value < limit ? (size_t)value : 0;
}

static double get_double(reader *r) {
  uint64_t bits = get_word(r);
  double value;
  memcpy(&value, &bits, sizeof value);
  r->good = r->good && isfinite(value);
  return value;
}

static void get_doubles(reader *r, double *value, size_t count) {
  for (size_t i = 0; i < count; i++)
    value[i] = get_double(r);
}

static void get_groups(reader *r, tenter_nested_products *p, size_t groups, size_t units) {
  for (size_t g = 0, before = 0; g < groups; g++) {
    nested_group *to = &p->group[g];
    to->key = get_word(r);
    to->block = get_count(r, p->blocks);
    to->first = get_count(r, units + 1);
    r->good = r->good && to->first >= before && (g > 0 || to->first == 0);
    before = to->first;
  }
  p->group_count = groups;
  r->good = r->good && (groups > 0 || units == 0);
}

static void get_units(reader *r, tenter_nested_products *p, size_t units) {
  size_t stride = nested_stride(p->covariates + 1), sum = 0;
  for (size_t i = 0; i < units; i++) {
    double *record = p->unit + i * stride;
    p->unit_key[i] = get_word(r);
    p->unit_observations[i] = (uint32_t)get_count(r, (uint64_t)UINT32_MAX + 1);
    get_doubles(r, record, stride);
    sum += p->unit_observations[i];
    bool empty = p->unit_observations[i] == 0;
    r->good = r->good && record[UNIT_B] >= 0 && (empty ? record[UNIT_A] == 0 : record[UNIT_A] > 0);
  }
  p->unit_count = units;
  r->good = r->good && sum == p->observations;
}

static bool make_room(tenter_nested_products *p, size_t groups, size_t units) {
  p->group_room = groups + 1;
  p->unit_room = units + 1;
  p->group = tenter_alloc(p->group_room, sizeof *p->group);
  p->unit_key = tenter_alloc(p->unit_room, sizeof *p->unit_key);
  p->unit_observations = tenter_alloc(p->unit_room, sizeof *p->unit_observations);
  p->unit = tenter_alloc(p->unit_room, nested_stride(p->covariates + 1) * sizeof *p->unit);
  return p->group && p->unit_key && p->unit_observations && p->unit;
}

static tenter_status refuse(tenter_error *error) {
  return tenter_fail(error, TENTER_INPUT,
                     "these bytes are no whole set of nested products of this version");
}

/* Numbers after the head that a set of these counts has; 0 where they can't be. */
static uint64_t numbers(uint64_t covariates, uint64_t groups, uint64_t units, uint64_t length) {
  uint64_t q = covariates + 1;
  if (covariates > TENTER_NESTED_COVARIATES || groups > length || units > length)
    return 0;
  return q * q + q + 3 * groups + units * (2 + nested_stride((size_t)q)) + 1;
}

tenter_status tenter_nested_products_load(const void *bytes, size_t length,
                                          tenter_nested_products **products, tenter_error *error) {
  const unsigned char *start = bytes;
  reader r = {start + sizeof magic, true};
  tenter_nested_products *p;
  if (length < sizeof magic + (HEAD + 1) * WORD || memcmp(start, magic, sizeof magic) != 0)
    return refuse(error);
  reader end = {start + length - WORD, true};
  size_t terms = get_count(&r, 3), covariates = get_count(&r, TENTER_NESTED_COVARIATES + 1);
  uint64_t blocks = get_count(&r, UINT32_MAX), groups = get_word(&r), units = get_word(&r);
  uint64_t whole = numbers(covariates, groups, units, length);
  bool fits = r.good && terms > 0 && whole && length == sizeof magic + (HEAD + whole) * WORD &&
              checksum(start, length - WORD) == get_word(&end);
  if (!fits)
    return refuse(error);
  tenter_status status = tenter_nested_products_new(terms, covariates, &p, error);
  if (status)
    return status;
  size_t q = covariates + 1;
  p->blocks = (size_t)blocks;
  p->observations = get_count(&r, SIZE_MAX);
  p->log_weights = get_double(&r);
  get_doubles(&r, p->within, q * q);
  get_doubles(&r, p->raw, q);
  bool room = make_room(p, (size_t)groups, (size_t)units);
  if (room) {
    get_groups(&r, p, (size_t)groups, (size_t)units);
    get_units(&r, p, (size_t)units);
  }
  if (!room || !r.good) {
    tenter_nested_products_free(p);
    return room ? refuse(error) : tenter_fail_memory(error);
  }
  *products = p;
  return TENTER_OK;
}
