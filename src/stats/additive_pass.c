/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The passes of the additive model over the readings. */
#include <string.h>

#include "additive_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { MOST_BLOCKS = 64, MATRIX_ROOM = 1 << 23, LEVEL_STEPS = 2 };

/* ---- memory ---- */

static bool same_group(const tenter_additive_data *data, size_t session) {
  return data->group && session > 0 && data->group[session] == data->group[session - 1];
}

/* Where blocks begin depends on the data alone. Sessions without readings at the end would open
 * more than most. */
static bool divide(additive *a) {
  size_t readings = 0, filled = 0, most = MATRIX_ROOM / (a->p * a->p + 1);
  most = most > MOST_BLOCKS ? MOST_BLOCKS : most + 1;
  for (size_t s = 0; s < a->data->sessions; s++)
    readings += a->data->length[s];
  a->begin = tenter_alloc(most + 1, sizeof *a->begin);
  if (!a->begin)
    return false;
  for (size_t s = 0; s < a->data->sessions; s++) {
    bool full = filled * most >= readings * (a->blocks + 1) && a->blocks + 1 < most;
    if (full && !same_group(a->data, s))
      a->begin[++a->blocks] = s;
    filled += a->data->length[s];
  }
  a->begin[++a->blocks] = a->data->sessions;
  return true;
}

static bool open_block(block_sums *b, size_t p) {
  b->right = tenter_alloc(p, sizeof *b->right);
  b->matrix = tenter_alloc(p * p, sizeof *b->matrix);
  b->squares = tenter_alloc(p * p, sizeof *b->squares);
  b->readings = tenter_alloc(p, sizeof *b->readings);
  return b->right && b->matrix && b->squares && b->readings;
}

static bool open_room(worker_room *r, size_t p, size_t longest) {
  r->values = tenter_alloc(longest, sizeof *r->values);
  r->weight = tenter_alloc(p, sizeof *r->weight);
  r->sum = tenter_alloc(p, sizeof *r->sum);
  r->matrix = tenter_alloc(p * p, sizeof *r->matrix);
  r->right = tenter_alloc(p, sizeof *r->right);
  r->diagonal = tenter_alloc(p, sizeof *r->diagonal);
  r->place = tenter_alloc(p, sizeof *r->place);
  r->group_point = tenter_alloc(p, sizeof *r->group_point);
  r->touched = tenter_alloc(p, sizeof *r->touched);
  return r->values && r->weight && r->sum && r->matrix && r->right && r->diagonal && r->place &&
         r->group_point && r->touched;
}

bool additive__open(additive *a) {
  size_t longest = 1;
  for (size_t s = 0; s < a->data->sessions; s++)
    longest = a->data->length[s] > longest ? a->data->length[s] : longest;
  a->workers = tenter_pool_threads(a->pool);
  a->rooms = tenter_alloc(a->workers, sizeof *a->rooms);
  if (!divide(a) || !a->rooms)
    return false;
  a->sums = tenter_alloc(a->blocks, sizeof *a->sums);
  bool open = a->sums != NULL;
  for (size_t b = 0; b < a->blocks && open; b++)
    open = open_block(&a->sums[b], a->p);
  for (size_t w = 0; w < a->workers && open; w++)
    open = open_room(&a->rooms[w], a->p, longest);
  a->matrix = tenter_alloc(a->p * a->p, sizeof *a->matrix);
  a->right = tenter_alloc(a->p, sizeof *a->right);
  a->step = tenter_alloc(a->p, sizeof *a->step);
  a->part = tenter_alloc(a->p, sizeof *a->part);
  return open && a->matrix && a->right && a->step && a->part;
}

void additive__close(additive *a) {
  for (size_t b = 0; b < a->blocks && a->sums; b++) {
    tenter_free(a->sums[b].right);
    tenter_free(a->sums[b].matrix);
    tenter_free(a->sums[b].squares);
    tenter_free(a->sums[b].readings);
  }
  for (size_t w = 0; w < a->workers && a->rooms; w++) {
    worker_room *r = &a->rooms[w];
    void *const pieces[] = {r->values,   r->weight, r->sum,         r->matrix, r->right,
                            r->diagonal, r->place,  r->group_point, r->touched};
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++)
      tenter_free(pieces[i]);
  }
  tenter_free(a->begin);
  tenter_free(a->sums);
  tenter_free(a->rooms);
  tenter_free(a->matrix);
  tenter_free(a->right);
  tenter_free(a->step);
  tenter_free(a->part);
}

void additive__run(additive *a, tenter_task *task) {
  tenter_pool_run(a->pool, a->blocks, task, a);
}

/* ---- matrix and starts ---- */

/* The first reading of a session that can't be used, or first + length. */
static size_t first_bad(const additive *a, size_t session) {
  const tenter_additive_data *d = a->data;
  size_t i = d->first[session], end = i + d->length[session];
  while (i < end && d->point[i] < a->p && isfinite(d->value[i]) && additive__weight(a, i) > 0 &&
         isfinite(additive__weight(a, i)))
    i++;
  return i;
}

/* D - w w' / W of one session, its readings summed by point first. */
static void add_session(const additive *a, size_t session, worker_room *r, block_sums *b) {
  const tenter_additive_data *d = a->data;
  size_t first = d->first[session], end = first + d->length[session], touched = 0;
  double total = 0;
  for (size_t i = first; i < end; i++) {
    uint16_t at = d->point[i];
    if (r->weight[at] == 0)
      r->touched[touched++] = at;
    r->weight[at] += additive__weight(a, i);
    total += additive__weight(a, i);
    b->readings[at]++;
  }
  for (size_t i = 0; i < touched; i++) {
    double *row = &b->matrix[r->touched[i] * a->p], w = r->weight[r->touched[i]];
    row[r->touched[i]] += w;
    for (size_t k = 0; k < touched; k++)
      row[r->touched[k]] -= w * r->weight[r->touched[k]] / total;
  }
  for (size_t i = 0; i < touched; i++)
    r->weight[r->touched[i]] = 0;
}

void additive__gather_block(void *context, size_t task, size_t worker) {
  additive *a = context;
  block_sums *b = &a->sums[task];
  worker_room *r = &a->rooms[worker];
  for (size_t s = a->begin[task]; s < a->begin[task + 1]; s++) {
    size_t first = a->data->first[s], length = a->data->length[s], bad = first_bad(a, s);
    a->fit->level[s] = NAN;
    if (bad < first + length) {
      b->bad = s + 1;
      b->bad_reading = (uint32_t)bad;
      return;
    }
    if (length == 0)
      continue;
    add_session(a, s, r, b);
    memcpy(r->values, &a->data->value[first], length * sizeof *r->values);
    a->fit->level[s] = tenter_median_of(r->values, length);
    b->count += length;
    b->sessions++;
  }
}

/* ---- one step ---- */

/* Not by fmin and fmax, which are calls. */
static inline double clipped(double off, double most) {
  off = off > most ? most : off;
  return off < -most ? -most : off;
}

/* Moves the level to where the clipped residuals balance: as many Newton steps as LEVEL_STEPS,
 * whose rate is held to a half or more. */
static double move_level(const additive *a, size_t session, double level) {
  const tenter_additive_data *d = a->data;
  size_t first = d->first[session], end = first + d->length[session];
  double clip = huber_k * a->scale;
  for (int step = 0; step < LEVEL_STEPS; step++) {
    double sum = 0, inside = 0, total = 0;
    for (size_t i = first; i < end; i++) {
      double w = additive__weight(a, i), most = d->weight ? clip / sqrt(w) : clip;
      double off = d->value[i] - level - a->fit->effect[d->point[i]];
      sum += w * clipped(off, most);
      inside += fabs(off) <= most ? w : 0;
      total += w;
    }
    level += sum / fmax(inside, total / 2);
  }
  return level;
}

static void add_clipped(const additive *a, size_t session, block_sums *b) {
  const tenter_additive_data *d = a->data;
  size_t first = d->first[session], end = first + d->length[session];
  double clip = huber_k * a->scale, level = a->fit->level[session];
  for (size_t i = first; i < end; i++) {
    double w = additive__weight(a, i), most = d->weight ? clip / sqrt(w) : clip;
    double off = d->value[i] - level - a->fit->effect[d->point[i]];
    bool inside = fabs(off) <= most;
    b->right[d->point[i]] += w * clipped(off, most);
    b->inside_squares += inside ? w * off * off : 0;
    b->outside += !inside;
  }
}

void additive__step_block(void *context, size_t task, size_t worker) {
  (void)worker;
  additive *a = context;
  block_sums *b = &a->sums[task];
  memset(b->right, 0, a->p * sizeof *b->right);
  b->inside_squares = b->moved = 0;
  b->outside = 0;
  for (size_t s = a->begin[task]; s < a->begin[task + 1]; s++) {
    if (a->data->length[s] == 0)
      continue;
    double level = move_level(a, s, a->fit->level[s]);
    b->moved = fmax(b->moved, fabs(level - a->fit->level[s]));
    a->fit->level[s] = level;
    add_clipped(a, s, b);
  }
}
