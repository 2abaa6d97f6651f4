/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What settle.c (ids and small tables) and settle_readings.c (the columns) share. */
#ifndef TENTER_SHOP_SETTLE_H
#define TENTER_SHOP_SETTLE_H

#include "tenter/shop/tables.h"

/* Where an old id goes; identical where nothing moves. */
typedef struct renumbering {
  uint32_t *to;
  uint32_t count;
  bool identical;
} renumbering;

typedef struct settling {
  tenter_tables *tables;
  tenter_pool *pool;
  tenter_arena *scratch;
  bool keep_repeats;
  renumbering names[TENTER_NAME_KINDS], positions, sources, attributes;
} settling;

static inline uint32_t moved(const renumbering *renumber, uint32_t id) {
  return id < renumber->count ? renumber->to[id] : id;
}

static inline uint16_t moved16(const renumbering *renumber, uint16_t id) {
  return id < renumber->count ? (uint16_t)renumber->to[id] : id;
}

/* Renumbers the columns, sorts them and takes repetitions out. */
tenter_status tenter__settle_readings(settling *s, tenter_error *error);

#endif
