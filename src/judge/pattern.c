/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual pattern of each mesh and the noise of its readings.
 *
 * Outline, mesh by mesh: a sample of whole mountings, spread evenly, is enough (an effect is known
 * to a hundredth of a newton from some thousand readings); the robust additive model of
 * stats/additive.h gives the effect of each point, the noise of a repeated reading and the screens'
 * own patterns. Effects add up to zero over the points that the mesh is usually read at, so that a
 * complete session keeps its plain mean. Then every layout's share is worked out once, and every
 * session's adjusted mean and variance. */
#include <stdlib.h>
#include <string.h>

#include "noise.h"
#include "points.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/additive.h"

enum {
  SAMPLE_READINGS = 10000,
  MOUNTING_SESSIONS = 40,
  SESSION_READINGS = 400,
  BLOCK_SESSIONS = 4096,
  MOST_EFFECTS = 1 << 20
};

static const double rare = 0.05;     /* share of sessions below which a point is not usual */
static const double usual_own = 0.5; /* N/cm, a screen's own pattern where it was not learned:
                                        common practice */

/* ---- the sample ----------------------------------------------------------------------------- */

/* What is worked on for one mesh: the sample as the additive model wants it. */
typedef struct work {
  const judge *j;
  uint32_t slot;
  uint32_t *first, *length, *group; /* by session of the sample */
  double *value;                    /* by reading */
  uint16_t *point;                  /* the same, own numbers */
  uint32_t *points;                 /* by own number: the point */
  uint16_t *number;                 /* by point: own number + 1 */
  size_t sessions, readings, point_count, mountings;
} work;

static size_t sampled_sessions(const tenter_mounting *m) {
  return m->session_count < MOUNTING_SESSIONS ? m->session_count : MOUNTING_SESSIONS;
}

static size_t sampled_readings(const tenter_session *s) {
  return s->count < SESSION_READINGS ? s->count : SESSION_READINGS;
}

/* The k-th of the sampled sessions of a mounting: evenly spread. */
static size_t sampled_session(const tenter_mounting *m, size_t k) {
  return m->first_session + k * m->session_count / sampled_sessions(m);
}

/* Counts what a stride over the mesh's mountings takes. */
static void count_sample(work *w, size_t stride) {
  const tenter_shop *shop = w->j->shop;
  size_t seen = 0;
  w->sessions = w->readings = 0;
  for (size_t i = 0; i < shop->mounting_count; i++) {
    const tenter_mounting *m = &shop->mountings[i];
    if (mesh_slot(w->j, m->is.mesh) != w->slot || m->session_count == 0 || seen++ % stride != 0)
      continue;
    w->sessions += sampled_sessions(m);
    for (size_t k = 0; k < sampled_sessions(m); k++)
      w->readings += sampled_readings(&shop->sessions[sampled_session(m, k)]);
  }
}

static bool make_room(work *w) {
  size_t points = (w->j->tables->position_count + 1) * TENTER_DIRECTIONS;
  w->first = tenter_alloc(w->sessions, sizeof *w->first);
  w->length = tenter_alloc(w->sessions, sizeof *w->length);
  w->group = tenter_alloc(w->sessions, sizeof *w->group);
  w->value = tenter_alloc(w->readings, sizeof *w->value);
  w->point = tenter_alloc(w->readings, sizeof *w->point);
  w->points = tenter_alloc(TENTER_ADDITIVE_POINTS, sizeof *w->points);
  w->number = tenter_alloc(points, sizeof *w->number);
  return w->first && w->length && w->group && w->value && w->point && w->points && w->number;
}

static void release(work *w) {
  void *const arrays[] = {w->first, w->length, w->group, w->value, w->point, w->points, w->number};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
}

/* A reading at one point too many, of a shop that reads everywhere, is left out. */
static void take_reading(work *w, size_t reading) {
  uint32_t point = point_of(w->j, reading);
  if (!w->number[point]) {
    if (w->point_count == TENTER_ADDITIVE_POINTS)
      return;
    w->points[w->point_count] = point;
    w->number[point] = (uint16_t)++w->point_count;
  }
  w->value[w->readings] = w->j->readings->tension[reading];
  w->point[w->readings++] = (uint16_t)(w->number[point] - 1);
  w->length[w->sessions]++;
}

static void take_session(work *w, size_t session, uint32_t group) {
  const tenter_session *s = &w->j->shop->sessions[session];
  w->first[w->sessions] = (uint32_t)w->readings;
  w->length[w->sessions] = 0;
  w->group[w->sessions] = group;
  for (size_t i = 0; i < sampled_readings(s); i++)
    take_reading(w, s->first + i);
  w->sessions++;
}

/* Whole mountings of the mesh, evenly spread. */
static bool take_sample(work *w) {
  const tenter_shop *shop = w->j->shop;
  size_t stride = 1, seen = 0;
  count_sample(w, 1);
  stride += w->readings / SAMPLE_READINGS;
  count_sample(w, stride);
  if (w->sessions == 0)
    return true;
  if (!make_room(w))
    return false;
  w->sessions = w->readings = 0;
  for (size_t i = 0; i < shop->mounting_count; i++) {
    const tenter_mounting *m = &shop->mountings[i];
    if (mesh_slot(w->j, m->is.mesh) != w->slot || m->session_count == 0 || seen++ % stride != 0)
      continue;
    w->mountings++;
    for (size_t k = 0; k < sampled_sessions(m); k++)
      take_session(w, sampled_session(m, k), (uint32_t)i);
  }
  return true;
}

/* ---- the pattern of a mesh ------------------------------------------------------------------ */

static int point_order(const void *a, const void *b) {
  const tenter_pattern_point *p = a, *q = b;
  if (p->position != q->position)
    return p->position < q->position ? -1 : 1;
  return (p->direction > q->direction) - (p->direction < q->direction);
}

static tenter_pattern_point pattern_point(const judge *j, uint32_t point) {
  size_t position = point / TENTER_DIRECTIONS;
  bool given = position < j->tables->position_count;
  return (tenter_pattern_point){.position = given ? (uint16_t)position : TENTER_NO_NAME16,
                                .direction = point % TENTER_DIRECTIONS};
}

/* Effects add up to zero over the usual points. */
static void fill_points(const work *w, const tenter_additive_fit *fit, tenter_pattern *pattern) {
  double usual = 0, sum = 0;
  for (size_t i = 0; i < w->point_count; i++) {
    tenter_pattern_point *p = &pattern->points[pattern->point_count++];
    *p = pattern_point(w->j, w->points[i]);
    p->effect = fit->effect[i];
    p->effect_se = fit->effect_se[i];
    p->usual = (double)fit->readings[i] >= rare * (double)w->sessions;
    usual += p->usual;
    sum += p->usual ? p->effect : 0;
  }
  for (size_t i = 0; i < pattern->point_count && usual > 0; i++)
    pattern->points[i].effect -= sum / usual;
  qsort(pattern->points, pattern->point_count, sizeof *pattern->points, point_order);
}

static void fill_noise(const work *w, const tenter_additive_fit *fit, mesh_noise *noise) {
  *noise = (mesh_noise){.reading = squared(fit->sd_reading),
                        .reading_df = fit->df_reading,
                        .own = squared(fit->sd_pattern),
                        .own_df = fit->df_pattern,
                        .mountings = w->mountings};
  for (size_t i = 0; i < w->sessions; i++)
    noise->level += fit->level[i] / (double)w->sessions;
}

/* Meshes are learned side by side. */
typedef struct learning {
  judge *j;
  mesh_noise *noise;
  tenter_arena **arenas;
  tenter_error *errors;
} learning;

static tenter_status learn(work *w, tenter_arena *arena, tenter_pattern **out, mesh_noise *noise,
                           tenter_error *error) {
  if (!take_sample(w))
    return tenter_fail_memory(error);
  if (w->sessions == 0)
    return TENTER_OK;
  tenter_additive_data data = {.sessions = w->sessions,
                               .first = w->first,
                               .length = w->length,
                               .group = w->group,
                               .points = w->point_count,
                               .value = w->value,
                               .point = w->point};
  tenter_additive_fit fit;
  tenter_status status = tenter_additive_run(&data, NULL, &fit, error);
  if (status)
    return status;
  tenter_pattern *pattern = tenter_arena_alloc(arena, 1, sizeof *pattern);
  if (pattern)
    pattern->points = tenter_arena_alloc(arena, w->point_count, sizeof *pattern->points);
  if (pattern && pattern->points) {
    fill_points(w, &fit, pattern);
    fill_noise(w, &fit, noise);
    *out = pattern;
  } else {
    status = tenter_fail_memory(error);
  }
  tenter_additive_fit_release(&fit);
  return status;
}

static void learn_mesh(void *context, size_t task, size_t worker) {
  (void)worker;
  learning *l = context;
  work w = {.j = l->j, .slot = (uint32_t)task};
  l->arenas[task] = tenter_arena_new();
  if (!l->arenas[task])
    tenter_fail_memory(&l->errors[task]);
  else
    learn(&w, l->arenas[task], &l->j->pattern[task], &l->noise[task], &l->errors[task]);
  release(&w);
}

/* ---- use of it ------------------------------------------------------------------------------ */

/* The effects as a table, where that is not too large; else they are looked up. */
static bool make_table(judge *j) {
  size_t points = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  if (points * j->mesh_slots > MOST_EFFECTS)
    return true;
  j->effects = tenter_arena_alloc(j->arena, points * j->mesh_slots, sizeof *j->effects);
  for (size_t slot = 0; j->effects && slot < j->mesh_slots; slot++)
    for (size_t i = 0; j->pattern[slot] && i < j->pattern[slot]->point_count; i++) {
      const tenter_pattern_point *p = &j->pattern[slot]->points[i];
      j->effects[slot * points + point_number(j, p->position, p->direction)] = p->effect;
    }
  return j->effects != NULL;
}

double judge__effect(const judge *j, uint32_t slot, uint32_t point) {
  const tenter_pattern *pattern = j->pattern[slot];
  if (j->effects)
    return j->effects[slot * (j->tables->position_count + 1) * TENTER_DIRECTIONS + point];
  if (!pattern)
    return 0;
  tenter_pattern_point wanted = pattern_point(j, point);
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
    const point_mean *read = points_find(p, point_number(j, at->position, at->direction));
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
  learning l = {.j = j,
                .noise = tenter_alloc(slots, sizeof *l.noise),
                .errors = tenter_alloc(slots, sizeof *l.errors),
                .arenas = tenter_alloc(slots, sizeof *l.arenas)};
  bool made = j->pattern && j->pattern_inner && l.noise && l.errors && l.arenas;
  tenter_status status = made ? TENTER_OK : tenter_fail_memory(error);
  if (!status)
    tenter_pool_run(j->pool, slots, learn_mesh, &l);
  for (size_t i = 0; made && i < slots; i++) {
    if (!status && l.errors[i].status)
      status = tenter_fail(error, l.errors[i].status, "%s", l.errors[i].message);
    if (l.arenas[i])
      tenter_arena_adopt(j->arena, l.arenas[i]);
  }
  if (!status) {
    judge__noise(j, l.noise);
    status = list_patterns(j) && make_table(j) ? TENTER_OK : tenter_fail_memory(error);
  }
  tenter_free(l.noise);
  tenter_free(l.errors);
  tenter_free(l.arenas);
  return status ? status : adjust(j, error);
}
