/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each session as a few numbers. The one pass over all readings.
 *
 * Outline: blocks of sessions in parallel; each finds the mean of its sessions and names the set
 * of points they were read at (a layout) in a table of its own; the tables are merged in order of
 * blocks. What holds for a layout (effect of the pattern, missing points) is then worked out once,
 * not once a session. A review of an earlier moment takes the sums of sessions that are the same
 * from the newer review. */
#include <stdlib.h>
#include <string.h>

#include "judge.h"
#include "tenter/base/alloc.h"
#include "tenter/base/mix.h"

enum { BLOCK_SESSIONS = 4096 };

/* ---- layouts ------------------------------------------------------------------------------- */

/* An open-addressed table of layouts by hash; room is a power of two, 0 marks a free place. */
typedef struct layout_table {
  layout *items;
  uint32_t *places; /* index + 1 */
  size_t count, room;
} layout_table;

static bool table_grow(layout_table *t) {
  size_t room = t->room ? 2 * t->room : 64;
  layout *items = tenter_resize(t->items, room / 2, sizeof *items);
  if (items)
    t->items = items;
  uint32_t *places = items ? tenter_alloc(room, sizeof *places) : NULL;
  if (!places)
    return false;
  for (size_t i = 0; i < t->count; i++) {
    size_t at = t->items[i].hash & (room - 1);
    while (places[at])
      at = (at + 1) & (room - 1);
    places[at] = (uint32_t)i + 1;
  }
  tenter_free(t->places);
  t->places = places;
  t->room = room;
  return true;
}

/* The index of the layout, added if new; UINT32_MAX when memory ran out. */
static uint32_t table_add(layout_table *t, const layout *wanted) {
  if (2 * (t->count + 1) > t->room && !table_grow(t))
    return UINT32_MAX;
  size_t at = wanted->hash & (t->room - 1);
  for (; t->places[at]; at = (at + 1) & (t->room - 1))
    if (t->items[t->places[at] - 1].hash == wanted->hash)
      return t->places[at] - 1;
  t->items[t->count] = *wanted;
  t->places[at] = (uint32_t)++t->count;
  return (uint32_t)t->count - 1;
}

static void table_release(layout_table *t) {
  tenter_free(t->items);
  tenter_free(t->places);
}

/* ---- the pass ------------------------------------------------------------------------------ */

typedef struct block {
  layout_table layouts;
  bool failed;
} block;

typedef struct pass {
  judge *j;
  block *blocks;
  uint32_t **to; /* per block: index of its layouts in the merged table */
} pass;

/* Two passes over readings that the first has brought near: as good as a compensated sum. */
static double mean_of(const double *tension, uint32_t count) {
  double sum = 0, rest = 0;
  for (uint32_t i = 0; i < count; i++)
    sum += tension[i];
  double mean = sum / count;
  for (uint32_t i = 0; i < count; i++)
    rest += tension[i] - mean;
  return mean + rest / count;
}

static uint64_t points_hash(const judge *j, const tenter_session *session) {
  const uint16_t *position = j->readings->position + session->first;
  const uint8_t *direction = j->readings->direction + session->first;
  uint32_t none = (uint32_t)j->tables->position_count;
  uint64_t hash = 0;
  for (uint32_t i = 0; i < session->count; i++) {
    uint32_t at = position[i] == TENTER_NO_NAME16 ? none : position[i];
    hash += j->point_hash[at * TENTER_DIRECTIONS + direction[i]];
  }
  return hash;
}

/* The same session in the newer review, or NULL; *at walks on. */
static const session_value *newer_value(const judge *newer, const tenter_session *session,
                                        size_t *at) {
  if (!newer)
    return NULL;
  const tenter_session *sessions = newer->shop->sessions;
  while (*at < newer->shop->session_count && sessions[*at].first < session->first)
    ++*at;
  bool same = *at < newer->shop->session_count && sessions[*at].first == session->first &&
              sessions[*at].count == session->count;
  return same ? &newer->sessions[*at] : NULL;
}

static size_t newer_from(const judge *newer, uint32_t first) {
  size_t low = 0, high = newer ? newer->shop->session_count : 0;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (newer->shop->sessions[middle].first < first)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

static void pass_block(void *context, size_t task, size_t worker) {
  (void)worker;
  pass *p = context;
  judge *j = p->j;
  block *b = &p->blocks[task];
  size_t end = (task + 1) * BLOCK_SESSIONS;
  if (end > j->shop->session_count)
    end = j->shop->session_count;
  size_t at = newer_from(j->newer, j->shop->sessions[task * BLOCK_SESSIONS].first);
  for (size_t i = task * BLOCK_SESSIONS; i < end && !b->failed; i++) {
    const tenter_session *session = &j->shop->sessions[i];
    uint32_t slot = mesh_slot(j, mounting_of(j, session)->is.mesh);
    layout wanted = {.session = (uint32_t)i, .mesh = slot, .count = session->count};
    const session_value *known = newer_value(j->newer, session, &at);
    wanted.points = known ? j->newer->layouts[known->layout].points : points_hash(j, session);
    wanted.hash = tenter_mix(wanted.points ^ tenter_mix(slot));
    j->sessions[i].mean =
        known ? known->mean : mean_of(j->readings->tension + session->first, session->count);
    j->sessions[i].layout = table_add(&b->layouts, &wanted);
    b->failed = j->sessions[i].layout == UINT32_MAX;
  }
}

static void rename_block(void *context, size_t task, size_t worker) {
  (void)worker;
  pass *p = context;
  judge *j = p->j;
  size_t end = (task + 1) * BLOCK_SESSIONS;
  if (end > j->shop->session_count)
    end = j->shop->session_count;
  for (size_t i = task * BLOCK_SESSIONS; i < end; i++)
    j->sessions[i].layout = p->to[task][j->sessions[i].layout];
}

static bool merge(pass *p, size_t block_count, layout_table *all) {
  for (size_t b = 0; b < block_count; b++) {
    const layout_table *one = &p->blocks[b].layouts;
    p->to[b] = tenter_alloc(one->count, sizeof **p->to);
    if (!p->to[b] || p->blocks[b].failed)
      return false;
    for (size_t i = 0; i < one->count; i++)
      if ((p->to[b][i] = table_add(all, &one->items[i])) == UINT32_MAX)
        return false;
  }
  return true;
}

static bool make_point_hashes(judge *j) {
  size_t count = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  j->point_hash = tenter_arena_alloc(j->arena, count, sizeof *j->point_hash);
  for (size_t i = 0; j->point_hash && i < count; i++)
    j->point_hash[i] = tenter_mix(i + 1);
  return j->point_hash != NULL;
}

tenter_status judge__sessions(judge *j, tenter_error *error) {
  size_t count = j->shop->session_count;
  size_t block_count = (count + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS;
  j->sessions = tenter_arena_alloc(j->arena, count, sizeof *j->sessions);
  if (!j->sessions || !make_point_hashes(j))
    return tenter_fail_memory(error);
  if (count == 0)
    return TENTER_OK;
  pass p = {.j = j,
            .blocks = tenter_alloc(block_count, sizeof *p.blocks),
            .to = tenter_alloc(block_count, sizeof *p.to)};
  layout_table all = {0};
  bool done = p.blocks && p.to;
  if (done) {
    tenter_pool_run(j->pool, block_count, pass_block, &p);
    done = merge(&p, block_count, &all);
  }
  if (done) {
    tenter_pool_run(j->pool, block_count, rename_block, &p);
    j->layouts = tenter_arena_alloc(j->arena, all.count, sizeof *j->layouts);
    done = j->layouts != NULL;
    if (done)
      /* NOLINTNEXTLINE(clang-analyzer-core.*): items hold all.count layouts */
      memcpy(j->layouts, all.items, all.count * sizeof *j->layouts);
    j->layout_count = all.count;
  }
  for (size_t b = 0; b < block_count; b++) {
    if (p.blocks)
      table_release(&p.blocks[b].layouts);
    if (p.to)
      tenter_free(p.to[b]);
  }
  table_release(&all);
  tenter_free(p.blocks);
  tenter_free(p.to);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
