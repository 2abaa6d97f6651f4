/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual pattern of each mesh and the noise of its readings (methods: comparability).
 *
 * Outline, mesh by mesh: a sample of whole mountings, spread evenly, is enough (an effect is known
 * to a hundredth of a newton from a few thousand readings); an additive model reading = session +
 * position + direction, robust to misreads, gives the effect of each point; what is left within a
 * mounting tells the noise of a repeated reading, what its points keep from session to session the
 * screen's own pattern. Effects add up to zero over the points that the mesh is usually read at, so
 * that a complete session keeps its plain mean. Then every layout's share is worked out once, and
 * every session's adjusted mean and variance. */
#include <stdlib.h>
#include <string.h>

#include "pattern.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { SAMPLE_CELLS = 20000, MOUNTING_SESSIONS = 40, BLOCK_SESSIONS = 4096, MOST_ROUNDS = 50 };

static const double rare = 0.05;     /* share of sessions below which a point is not usual */
static const double least_sd = 0.02; /* N/cm: no meter is better */
static const double usual_own = 0.5; /* N/cm, a screen's own pattern where it was not learned:
                                        common practice */

/* ---- the sample ----------------------------------------------------------------------------- */

static bool grow(void **array, size_t count, size_t *room, size_t size) {
  if (count < *room)
    return true;
  size_t more = *room ? 2 * *room : 256;
  void *grown = tenter_resize(*array, more, size);
  if (!grown)
    return false;
  *array = grown;
  *room = more;
  return true;
}

static void take_session(pattern_work *w, size_t session) {
  judge__points_gather(w->j, session, &w->points);
  for (size_t i = 0; i < w->points.count && !w->failed; i++) {
    const point_mean *p = &w->points.items[i];
    w->failed = !grow((void **)&w->cells, w->cell_count, &w->cell_room, sizeof *w->cells);
    if (w->failed)
      return;
    w->cells[w->cell_count++] = (cell){(uint32_t)w->session_count, p->point, p->mean, 0, 1};
    w->squares += p->squares;
    w->repeat_df += p->count - 1;
  }
  w->session_count++;
}

static void take_mounting(pattern_work *w, const tenter_mounting *m) {
  w->failed = w->failed || !grow((void **)&w->mountings, w->mounting_count, &w->mounting_room,
                                 sizeof *w->mountings);
  if (w->failed)
    return;
  sampled *s = &w->mountings[w->mounting_count++];
  *s = (sampled){.first = w->cell_count};
  size_t step = (m->session_count + MOUNTING_SESSIONS - 1) / MOUNTING_SESSIONS;
  for (size_t k = 0; k < m->session_count; k += step) {
    take_session(w, m->first_session + k);
    s->level += w->j->sessions[m->first_session + k].mean;
    s->sessions++;
  }
  s->count = w->cell_count - s->first;
  s->level /= (double)s->sessions;
}

/* Whole mountings of the mesh, evenly spread. */
static void take_sample(pattern_work *w) {
  const tenter_shop *shop = w->j->shop;
  size_t readings = 0, seen = 0;
  for (size_t i = 0; i < shop->mounting_count; i++) {
    const tenter_mounting *m = &shop->mountings[i];
    if (mesh_slot(w->j, m->is.mesh) == w->slot)
      for (size_t k = 0; k < m->session_count; k++)
        readings += shop->sessions[m->first_session + k].points;
  }
  size_t stride = 1 + readings / SAMPLE_CELLS;
  for (size_t i = 0; i < shop->mounting_count && !w->failed; i++) {
    const tenter_mounting *m = &shop->mountings[i];
    if (mesh_slot(w->j, m->is.mesh) == w->slot && m->session_count > 0 && seen++ % stride == 0)
      take_mounting(w, m);
  }
}

/* ---- the additive model --------------------------------------------------------------------- */

static double fitted(const pattern_work *w, const cell *c) {
  return w->position[c->point / TENTER_DIRECTIONS] + w->direction[c->point % TENTER_DIRECTIONS];
}

/* Each session's weighted mean of what position and direction leave. */
static void fit_sessions(pattern_work *w) {
  memset(w->session, 0, w->session_count * sizeof *w->session);
  memset(w->session_weight, 0, w->session_count * sizeof *w->session_weight);
  for (size_t i = 0; i < w->cell_count; i++) {
    const cell *c = &w->cells[i];
    w->session[c->session] += c->weight * (c->mean - fitted(w, c));
    w->session_weight[c->session] += c->weight;
  }
  for (size_t i = 0; i < w->session_count; i++)
    w->session[i] /= w->session_weight[i];
}

/* The positions' effects; returns the greatest change. */
static double fit_positions(pattern_work *w) {
  size_t count = w->j->tables->position_count + 1;
  double change = 0;
  double *old = w->position + count;
  memcpy(old, w->position, count * sizeof *old);
  memset(w->position, 0, count * sizeof *w->position);
  memset(w->position_weight, 0, count * sizeof *w->position_weight);
  for (size_t i = 0; i < w->cell_count; i++) {
    const cell *c = &w->cells[i];
    size_t at = c->point / TENTER_DIRECTIONS;
    w->position[at] +=
        c->weight * (c->mean - w->session[c->session] - w->direction[c->point % TENTER_DIRECTIONS]);
    w->position_weight[at] += c->weight;
  }
  for (size_t i = 0; i < count; i++)
    if (w->position_weight[i] > 0) {
      w->position[i] /= w->position_weight[i];
      change = fmax(change, fabs(w->position[i] - old[i]));
    }
  return change;
}

static void fit_directions(pattern_work *w) {
  double sum[TENTER_DIRECTIONS] = {0}, weight[TENTER_DIRECTIONS] = {0};
  for (size_t i = 0; i < w->cell_count; i++) {
    const cell *c = &w->cells[i];
    uint32_t d = c->point % TENTER_DIRECTIONS;
    sum[d] +=
        c->weight * (c->mean - w->session[c->session] - w->position[c->point / TENTER_DIRECTIONS]);
    weight[d] += c->weight;
  }
  for (int d = 0; d < TENTER_DIRECTIONS; d++)
    w->direction[d] = weight[d] > 0 ? sum[d] / weight[d] : 0;
}

/* Residuals, and Huber's weights from them. */
static void weigh(pattern_work *w) {
  for (size_t i = 0; i < w->cell_count; i++) {
    cell *c = &w->cells[i];
    c->left = c->mean - w->session[c->session] - fitted(w, c);
    w->numbers[i] = c->left;
  }
  for (size_t i = 0; i < w->cell_count; i++)
    w->numbers[i] = fabs(w->numbers[i]);
  double sd = fmax(tenter_median_of(w->numbers, w->cell_count) * TENTER_MAD_SD, least_sd);
  for (size_t i = 0; i < w->cell_count; i++) {
    cell *c = &w->cells[i];
    c->weight = fmin(1, 2 * sd / fmax(fabs(c->left), least_sd));
  }
}

static void start_at_medians(pattern_work *w) {
  for (size_t i = 0, end; i < w->cell_count; i = end) {
    for (end = i; end < w->cell_count && w->cells[end].session == w->cells[i].session; end++)
      w->numbers[end - i] = w->cells[end].mean;
    w->session[w->cells[i].session] = tenter_median_of(w->numbers, end - i);
  }
}

static void fit_additive(pattern_work *w) {
  start_at_medians(w);
  weigh(w);
  for (int i = 0; i < MOST_ROUNDS; i++) {
    double change = fit_positions(w);
    fit_directions(w);
    fit_sessions(w);
    weigh(w);
    if (change < 1e-6)
      return;
  }
}

/* ---- the pattern of a mesh ------------------------------------------------------------------ */

static int point_order(const void *a, const void *b) {
  const tenter_pattern_point *p = a, *q = b;
  if (p->position != q->position)
    return p->position < q->position ? -1 : 1;
  return (p->direction > q->direction) - (p->direction < q->direction);
}

/* The points of the sample with their counts in point_count; places in w->numbers. */
static size_t count_points(pattern_work *w) {
  size_t room = (w->j->tables->position_count + 1) * TENTER_DIRECTIONS, points = 0;
  memset(w->point_count, 0, room * sizeof *w->point_count);
  for (size_t i = 0; i < w->cell_count; i++)
    points += w->point_count[w->cells[i].point]++ == 0;
  return points;
}

/* Effects add up to zero over the usual points. */
static void fill_points(pattern_work *w, tenter_pattern *pattern) {
  size_t room = (w->j->tables->position_count + 1) * TENTER_DIRECTIONS;
  double usual = 0, sum = 0;
  for (uint32_t point = 0; point < room; point++) {
    if (w->point_count[point] == 0)
      continue;
    cell c = {.point = point};
    tenter_pattern_point *p = &pattern->points[pattern->point_count++];
    size_t position = point / TENTER_DIRECTIONS;
    p->position = position < w->j->tables->position_count ? (uint16_t)position : TENTER_NO_NAME16;
    p->direction = point % TENTER_DIRECTIONS;
    p->effect = fitted(w, &c);
    p->effect_se = 1 / sqrt(w->point_count[point]);
    p->usual = w->point_count[point] >= rare * (double)w->session_count;
    usual += p->usual;
    sum += p->usual ? p->effect : 0;
  }
  for (size_t i = 0; i < pattern->point_count && usual > 0; i++)
    pattern->points[i].effect -= sum / usual;
}

static bool make_room(pattern_work *w) {
  size_t points = (w->j->tables->position_count + 1) * TENTER_DIRECTIONS;
  size_t positions = w->j->tables->position_count + 1;
  double **const arrays[] = {&w->session, &w->session_weight, &w->position,  &w->position_weight,
                             &w->numbers, &w->more,           &w->point_sum, &w->point_count};
  const size_t sizes[] = {w->session_count, w->session_count, 2 * positions, positions,
                          w->cell_count,    w->cell_count,    points,        points};
  for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
    if (!(*arrays[i] = tenter_alloc(sizes[i], sizeof **arrays[i])))
      return false;
  return true;
}

static void release(pattern_work *w) {
  double *const arrays[] = {w->session, w->session_weight, w->position,  w->position_weight,
                            w->numbers, w->more,           w->point_sum, w->point_count};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
  tenter_free(w->cells);
  tenter_free(w->mountings);
  judge__points_release(&w->points);
}

/* One mesh, on its own. */
typedef struct learning {
  judge *j;
  mesh_noise *noise;
  tenter_arena **arenas;
} learning;

static bool learn(pattern_work *w, tenter_arena *arena, tenter_pattern **out, mesh_noise *noise) {
  take_sample(w);
  if (w->cell_count == 0)
    return !w->failed;
  if (w->failed || !make_room(w))
    return false;
  fit_additive(w);
  tenter_pattern *pattern = tenter_arena_alloc(arena, 1, sizeof *pattern);
  size_t points = count_points(w);
  if (!pattern || !(pattern->points = tenter_arena_alloc(arena, points, sizeof *pattern->points)))
    return false;
  fill_points(w, pattern);
  judge__split_noise(w, noise);
  *out = pattern;
  return true;
}

static void learn_mesh(void *context, size_t task, size_t worker) {
  (void)worker;
  learning *l = context;
  pattern_work w = {.j = l->j, .slot = (uint32_t)task};
  l->arenas[task] = tenter_arena_new();
  bool done = judge__points_new(l->j, &w.points) && l->arenas[task];
  done = done && learn(&w, l->arenas[task], &l->j->pattern[task], &l->noise[task]);
  l->j->failed[task] = !done;
  release(&w);
}

/* ---- use of it ------------------------------------------------------------------------------ */

double judge__effect(const judge *j, uint32_t slot, uint32_t point) {
  const tenter_pattern *pattern = j->pattern[slot];
  size_t position = point / TENTER_DIRECTIONS;
  if (!pattern)
    return 0;
  tenter_pattern_point wanted = {
      .position = position < j->tables->position_count ? (uint16_t)position : TENTER_NO_NAME16,
      .direction = point % TENTER_DIRECTIONS};
  const tenter_pattern_point *found =
      bsearch(&wanted, pattern->points, pattern->point_count, sizeof wanted, point_order);
  return found ? found->effect : 0;
}

/* A layout's mean effect, and the variance that its missing points leave out: its own mean of the
 * screen's own pattern against the mean over the usual points. */
static void work_out_layout(const judge *j, point_set *p, layout *l) {
  const tenter_pattern *pattern = j->pattern[l->mesh];
  double usual = 0, squares = 0;
  judge__points_gather(j, l->session, p);
  for (size_t i = 0; i < pattern->point_count; i++)
    usual += pattern->points[i].usual;
  l->effect = 0;
  for (size_t i = 0; i < p->count; i++)
    l->effect += p->items[i].count * judge__effect(j, l->mesh, p->items[i].point);
  l->effect /= l->count;
  for (size_t i = 0; i < pattern->point_count; i++) {
    const tenter_pattern_point *at = &pattern->points[i];
    size_t position = at->position == TENTER_NO_NAME16 ? j->tables->position_count : at->position;
    const point_mean *read =
        points_find(p, (uint32_t)(position * TENTER_DIRECTIONS + (size_t)at->direction));
    double share = (read ? (double)read->count / l->count : 0) - (at->usual ? 1 / usual : 0);
    squares += share * share;
  }
  l->missing = squares;
}

/* Decades of age; with an unknown zero as if the first session had come a day after it. */
static double session_u(const judge *j, const tenter_mounting *m, const tenter_session *s) {
  double age = tenter_mounting_age_hours(m, s->taken);
  if (isnan(age))
    age = 24 + ((double)s->taken - j->shop->sessions[m->first_session].taken) / TENTER_HOUR;
  double least = fmax(j->settings->least_age_minutes, 1) / 60;
  return age_u(fmax(age, fmax(least, tenter_mounting_age_doubt_hours(m, s))));
}

static void adjust_block(void *context, size_t task, size_t worker) {
  (void)worker;
  judge *j = context;
  size_t end = (task + 1) * BLOCK_SESSIONS;
  for (size_t i = task * BLOCK_SESSIONS; i < end && i < j->shop->session_count; i++) {
    session_value *value = &j->sessions[i];
    const layout *l = &j->layouts[value->layout];
    value->adjusted = value->mean - l->effect;
    value->u = session_u(j, mounting_of(j, &j->shop->sessions[i]), &j->shop->sessions[i]);
    double reading = judge__reading_sd(j, l->mesh, value->adjusted);
    value->variance = (float)(squared(reading) / l->count + l->missing * j->own_variance[l->mesh]);
  }
}

static tenter_status adjust(judge *j, tenter_error *error) {
  point_set p;
  bool done = judge__points_new(j, &p);
  j->own_variance = tenter_arena_alloc(j->arena, j->mesh_slots, sizeof *j->own_variance);
  done = done && j->own_variance;
  for (uint32_t slot = 0; done && slot < j->mesh_slots; slot++) {
    double own = judge__screen_point_sd(j, slot);
    j->own_variance[slot] = squared(isnan(own) ? usual_own : own);
  }
  for (size_t i = 0; done && i < j->layout_count; i++)
    work_out_layout(j, &p, &j->layouts[i]);
  judge__points_release(&p);
  if (!done)
    return tenter_fail_memory(error);
  size_t blocks = (j->shop->session_count + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS;
  tenter_pool_run(j->pool, blocks, adjust_block, j);
  return TENTER_OK;
}

static bool list_patterns(judge *j) {
  tenter_review *review = j->review;
  review->patterns = tenter_arena_alloc(j->arena, j->mesh_slots, sizeof *review->patterns);
  if (!review->patterns)
    return false;
  for (size_t slot = 0; slot < j->mesh_slots; slot++) {
    if (!j->pattern[slot])
      continue;
    j->pattern[slot]->mesh = slot + 1 == j->mesh_slots ? TENTER_NO_NAME : (uint32_t)slot;
    review->patterns[review->pattern_count++] = *j->pattern[slot];
  }
  return true;
}

tenter_status judge__patterns(judge *j, tenter_error *error) {
  size_t slots = j->mesh_slots;
  j->pattern = tenter_arena_alloc(j->arena, slots, sizeof *j->pattern);
  j->pattern_inner = tenter_arena_alloc(j->arena, slots, sizeof *j->pattern_inner);
  j->failed = tenter_arena_alloc(j->arena, slots, sizeof *j->failed);
  learning l = {.j = j,
                .noise = tenter_alloc(slots, sizeof *l.noise),
                .arenas = tenter_alloc(slots, sizeof *l.arenas)};
  bool done = j->pattern && j->pattern_inner && j->failed && l.noise && l.arenas;
  if (done) {
    tenter_pool_run(j->pool, slots, learn_mesh, &l);
    for (size_t i = 0; i < slots; i++) {
      done = done && !j->failed[i];
      if (l.arenas[i])
        tenter_arena_adopt(j->arena, l.arenas[i]);
    }
  }
  if (done) {
    judge__noise(j, l.noise);
    done = list_patterns(j);
  }
  tenter_free(l.noise);
  tenter_free(l.arenas);
  return done ? adjust(j, error) : tenter_fail_memory(error);
}
