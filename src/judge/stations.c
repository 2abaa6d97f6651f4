/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How each station pulls: tilt, corners and directions of the mesh it stretched, against the other
 * stations.
 *
 * Outline: of each mounting with a station, the first full session that is no misread gives four
 * numbers (latest.c); an additive model number = mesh + station, by least squares on values drawn
 * in to their mesh's middle (four robust standard deviations), gives each station against the mean
 * of the others that share meshes with it, through whatever chain, but for those that stand off
 * themselves (set apart one after the other, Bonferroni); Student's t, adjusted over all
 * stations and numbers (Benjamini, Hochberg 1995); named where it is also large enough to matter.
 * What always went together with a station (who stretched) is named with it and not flagged. */
#include "stations.h"

#include <stdlib.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/contrast.h"
#include "tenter/stats/moments.h"
#include "tenter/stats/trend.h"

enum { MOST_MOUNTINGS = 10000, MOST_STATIONS = 200, FEW = 4, FRESH_DAYS = 14 };

static const double drawn_in = 4; /* robust standard deviations */

/* One mounting. */
typedef struct pulled {
  uint32_t station, mesh, operator; /* mesh: slot */
  size_t session;
  double number[TENTER_STATION_COUNT];
} pulled;

typedef struct pulls {
  judge *j;
  pulled *items;
  size_t count, stations; /* names */
  size_t *used;           /* by name: mountings */
  uint32_t *place;        /* by name: index into review->stations */
} pulls;

/* ---- the mountings -------------------------------------------------------------------------- */

static size_t first_full(const judge *j, const tenter_mounting *m) {
  for (size_t i = m->first_session; i < m->first_session + m->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    double age = tenter_mounting_age_hours(m, s->taken);
    if (age > FRESH_DAYS * 24)
      return SIZE_MAX; /* fresh no more */
    if (s->full && !(j->sessions[i].state & SESSION_MISREAD))
      return i;
  }
  return SIZE_MAX;
}

/* Who stretched it; TENTER_NO_NAME. */
static uint32_t stretcher_of(const judge *j, const tenter_mounting *m) {
  for (size_t i = m->first_event; i < m->first_event + m->event_count; i++) {
    const tenter_event *e = &j->tables->events[i];
    if (e->kind == m->began && e->operator!= TENTER_NO_NAME)
      return e->operator;
  }
  return TENTER_NO_NAME;
}

static void take(pulls *p, const tenter_mounting *m, size_t session) {
  tenter_latest l;
  judge__session_latest(p->j, session, &l);
  p->items[p->count++] =
      (pulled){.station = m->is.station,
               .mesh = mesh_slot(p->j, m->is.mesh),
               .operator= stretcher_of(p->j, m),
               .session = session,
               .number = {l.tilt_x, l.tilt_y, l.corner_minus_centre, l.warp_mean - l.weft_mean}};
  p->used[m->is.station]++;
}

static bool gather(pulls *p) {
  const judge *j = p->j;
  size_t eligible = 0, stride, seen = 0;
  p->stations = tenter_names_count(j->tables->names[TENTER_NAME_STATION]);
  for (size_t i = 0; i < j->shop->mounting_count; i++)
    eligible += j->shop->mountings[i].is.station != TENTER_NO_NAME;
  stride = 1 + eligible / MOST_MOUNTINGS;
  p->items = tenter_alloc(eligible / stride + 1, sizeof *p->items);
  p->used = tenter_alloc(p->stations + 1, sizeof *p->used);
  p->place = tenter_alloc(p->stations + 1, sizeof *p->place);
  if (!p->items || !p->used || !p->place)
    return false;
  for (size_t i = 0; i < j->shop->mounting_count; i++) {
    const tenter_mounting *m = &j->shop->mountings[i];
    if (m->is.station == TENTER_NO_NAME || seen++ % stride != 0)
      continue;
    size_t session = first_full(j, m);
    if (session != SIZE_MAX)
      take(p, m, session);
  }
  return true;
}

/* ---- one number ----------------------------------------------------------------------------- */

typedef struct additive {
  size_t n;           /* stations of the list */
  double *a, *b;      /* normal equations: n x n, n */
  size_t *own;        /* by station: mountings with the number */
  double *mesh_sum;   /* by mesh slot */
  size_t *mesh_count; /* by mesh slot */
  size_t *cell;       /* by mesh slot and station: mountings */
  uint32_t *root;     /* by station: those linked by meshes have one root */
  double *value;      /* by item: drawn in; NaN where not known */
  double *scratch;    /* by item */
  bool *apart;        /* by station: stands off, and is no reference for the others */
} additive;

static bool additive_new(const pulls *p, size_t n, additive *a) {
  size_t slots = p->j->mesh_slots;
  *a = (additive){.n = n};
  a->a = tenter_alloc(n * n, sizeof *a->a);
  a->b = tenter_alloc(n, sizeof *a->b);
  a->own = tenter_alloc(n, sizeof *a->own);
  a->mesh_sum = tenter_alloc(slots, sizeof *a->mesh_sum);
  a->mesh_count = tenter_alloc(slots, sizeof *a->mesh_count);
  a->cell = tenter_alloc(slots * n, sizeof *a->cell);
  a->root = tenter_alloc(n, sizeof *a->root);
  a->value = tenter_alloc(p->count, sizeof *a->value);
  a->scratch = tenter_alloc(p->count, sizeof *a->scratch);
  a->apart = tenter_alloc(n, sizeof *a->apart);
  return a->a && a->b && a->own && a->mesh_sum && a->mesh_count && a->cell && a->root && a->value &&
         a->scratch && a->apart;
}

static void additive_release(additive *a) {
  void *const arrays[] = {a->a,    a->b,    a->own,   a->mesh_sum, a->mesh_count,
                          a->cell, a->root, a->value, a->scratch,  a->apart};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
}

/* Values of one mesh drawn in to its middle. */
static void draw_in(const pulls *p, int number, uint32_t mesh, additive *a) {
  size_t count = 0;
  for (size_t i = 0; i < p->count; i++)
    if (p->items[i].mesh == mesh && !isnan(p->items[i].number[number]))
      a->scratch[count++] = p->items[i].number[number];
  if (count == 0)
    return;
  double middle = tenter_median_of(a->scratch, count);
  for (size_t i = 0; i < count; i++)
    a->scratch[i] = fabs(a->scratch[i] - middle);
  double reach = drawn_in * TENTER_MAD_SD * tenter_median_of(a->scratch, count);
  for (size_t i = 0; i < p->count; i++)
    if (p->items[i].mesh == mesh) {
      double value = p->items[i].number[number];
      a->value[i] = count > FEW && reach > 0 && !isnan(value)
                        ? fmax(middle - reach, fmin(middle + reach, value))
                        : value;
    }
}

static uint32_t root_of(const uint32_t *root, uint32_t i) {
  while (root[i] != i)
    i = root[i];
  return i;
}

static void link_stations(const additive *a, size_t slots) {
  for (uint32_t s = 0; s < a->n; s++)
    a->root[s] = s;
  for (size_t m = 0; m < slots; m++)
    for (uint32_t s = 0, before = UINT32_MAX; s < a->n; s++) {
      if (a->cell[m * a->n + s] == 0)
        continue;
      if (before != UINT32_MAX)
        a->root[root_of(a->root, s)] = root_of(a->root, before);
      before = s;
    }
}

/* Meshes taken out; the normal equations of the stations. */
static void add_up(const pulls *p, int number, additive *a) {
  size_t n = a->n, slots = p->j->mesh_slots;
  memset(a->a, 0, n * n * sizeof *a->a);
  memset(a->b, 0, n * sizeof *a->b);
  memset(a->own, 0, n * sizeof *a->own);
  memset(a->mesh_sum, 0, slots * sizeof *a->mesh_sum);
  memset(a->mesh_count, 0, slots * sizeof *a->mesh_count);
  memset(a->cell, 0, slots * n * sizeof *a->cell);
  for (uint32_t mesh = 0; mesh < slots; mesh++)
    draw_in(p, number, mesh, a);
  for (size_t i = 0; i < p->count; i++) {
    uint32_t s = p->place[p->items[i].station], m = p->items[i].mesh;
    if (isnan(a->value[i]))
      continue;
    a->own[s]++;
    a->mesh_sum[m] += a->value[i];
    a->mesh_count[m]++;
    a->cell[m * n + s]++;
  }
  for (size_t i = 0; i < p->count; i++)
    if (!isnan(a->value[i])) {
      uint32_t m = p->items[i].mesh;
      a->b[p->place[p->items[i].station]] +=
          a->value[i] - a->mesh_sum[m] / (double)a->mesh_count[m];
    }
  for (size_t m = 0; m < slots; m++)
    for (size_t s = 0; s < n && a->mesh_count[m] > 0; s++) {
      double of = (double)a->cell[m * n + s];
      a->a[s * n + s] += of;
      for (size_t r = 0; r < n && of > 0; r++)
        a->a[s * n + r] -= of * (double)a->cell[m * n + r] / (double)a->mesh_count[m];
    }
  link_stations(a, slots);
}

/* Effects into b, their covariance over sigma^2 into a, sum to zero over linked ones. */
static bool solve(additive *a) {
  size_t n = a->n;
  for (uint32_t s = 0; s < n; s++)
    for (uint32_t r = 0; r < n; r++)
      a->a[s * n + r] += root_of(a->root, s) == root_of(a->root, r);
  if (!tenter_symmetric_invert(a->a, n))
    return false;
  double effect[MOST_STATIONS] = {0};
  for (size_t s = 0; s < n; s++) {
    for (size_t r = 0; r < n; r++)
      effect[s] += a->a[s * n + r] * a->b[r];
  }
  memcpy(a->b, effect, n * sizeof *effect);
  return true;
}

static bool is_reference(const additive *a, uint32_t station, uint32_t of) {
  return !a->apart[station] && a->own[station] > 0 &&
         root_of(a->root, station) == root_of(a->root, of);
}

/* How many others a station is compared with. */
static size_t references(const additive *a, uint32_t s) {
  size_t count = 0;
  for (uint32_t i = 0; i < a->n; i++)
    count += i != s && is_reference(a, i, s);
  return count;
}

typedef struct residuals {
  double variance, df;
} residuals;

static residuals residuals_of(const pulls *p, additive *a) {
  double rss = 0, rows = 0, meshes = 0, stations = 0, links = 0;
  memset(a->mesh_sum, 0, p->j->mesh_slots * sizeof *a->mesh_sum);
  for (size_t i = 0; i < p->count; i++)
    if (!isnan(a->value[i])) {
      a->scratch[i] = a->value[i] - a->b[p->place[p->items[i].station]];
      a->mesh_sum[p->items[i].mesh] += a->scratch[i];
      rows++;
    }
  for (size_t i = 0; i < p->count; i++)
    if (!isnan(a->value[i])) {
      uint32_t m = p->items[i].mesh;
      double off = a->scratch[i] - a->mesh_sum[m] / (double)a->mesh_count[m];
      rss += off * off;
    }
  for (size_t m = 0; m < p->j->mesh_slots; m++)
    meshes += a->mesh_count[m] > 0;
  for (uint32_t s = 0; s < a->n; s++) {
    stations += a->own[s] > 0;
    links += a->own[s] > 0 && a->root[s] == s;
  }
  double df = rows - meshes - (stations - links);
  return (residuals){df > 0 ? rss / df : NAN, df};
}

static void plain_means(const pulls *p, int number, const additive *a) {
  tenter_review_station *list = p->j->review->stations;
  for (uint32_t s = 0; s < a->n; s++) {
    double sum = 0, squares = 0, n = (double)a->own[s];
    for (size_t i = 0; i < p->count; i++)
      if (p->place[p->items[i].station] == s && !isnan(a->value[i]))
        sum += a->value[i];
    for (size_t i = 0; i < p->count; i++)
      if (p->place[p->items[i].station] == s && !isnan(a->value[i]))
        squares += squared(a->value[i] - sum / n);
    list[s].mean[number] = n > 0 ? sum / n : NAN;
    list[s].mean_se[number] = n > 1 ? sqrt(squares / (n - 1) / n) : NAN;
  }
}

/* One station against the mean of those linked with it that are not set apart; p 1 where it can't
 * be told. A station alone: its tilts against none. */
static double contrast(const pulls *p, int number, const additive *a, residuals r, uint32_t s) {
  tenter_review_station *station = &p->j->review->stations[s];
  double weight[MOST_STATIONS] = {0}, others = 0, off = 0, v = 0, df = r.df;
  for (uint32_t i = 0; i < a->n; i++)
    others += i != s && is_reference(a, i, s);
  for (uint32_t i = 0; i < a->n && others > 0; i++)
    weight[i] = i == s ? 1 : -is_reference(a, i, s) / others;
  for (size_t i = 0; i < a->n; i++) {
    off += weight[i] * a->b[i];
    for (size_t k = 0; k < a->n && weight[i] != 0; k++)
      v += weight[i] * weight[k] * a->a[i * a->n + k] * r.variance;
  }
  if (a->n == 1 && number < TENTER_STATION_CORNER) {
    off = station->mean[number];
    v = squared(station->mean_se[number]);
    df = (double)a->own[s] - 1;
  }
  bool told = a->own[s] >= FEW && v > 0 && df >= 1;
  station->off[number] = told ? off : NAN;
  station->off_se[number] = told ? sqrt(v) : NAN;
  return told ? tenter_student_two_sided(off / sqrt(v), df) : 1;
}

/* The station that stands off most surely among those not set apart, or n. Of two that are left,
 * the one whose tilt is further from none; else neither can be told from the other. */
static uint32_t most_off(const pulls *p, int number, const additive *a, residuals r,
                         const double *p_value) {
  const tenter_review_station *list = p->j->review->stations;
  uint32_t best = (uint32_t)a->n;
  double limit = p->j->settings->false_discovery_rate / (double)(a->n * TENTER_STATION_COUNT);
  double most = 0;
  for (uint32_t s = 0; s < a->n; s++) {
    double t = fabs(list[s].off[number]) / list[s].off_se[number];
    if (a->apart[s] || !(p_value[s] <= limit))
      continue;
    if (references(a, s) == 1)
      t = number < TENTER_STATION_CORNER ? fabs(list[s].mean[number]) / sqrt(r.variance) : 0;
    if (t > most) {
      most = t;
      best = s;
    }
  }
  return best;
}

/* p-values of all stations, those that stand off set apart one after the other so that they do not
 * make the others look off. */
static void contrasts(const pulls *p, int number, additive *a, residuals r, double *p_value) {
  memset(a->apart, 0, a->n * sizeof *a->apart);
  for (;;) {
    for (uint32_t s = 0; s < a->n; s++)
      p_value[s] = contrast(p, number, a, r, s);
    uint32_t off = a->n > 1 ? most_off(p, number, a, r, p_value) : (uint32_t)a->n;
    if (off == a->n)
      return;
    a->apart[off] = true;
  }
}

/* ---- what went together --------------------------------------------------------------------- */

static bool name_confounded(const pulls *p, tenter_review_station *station, tenter_say id,
                            tenter_name_kind kind, uint32_t name) {
  const char **list = tenter_arena_alloc(p->j->arena, 1, sizeof *list);
  if (list)
    list[0] = tenter_say_fill(p->j->arena, id, tenter_names_get(p->j->tables->names[kind], name),
                              (const char *)NULL);
  station->confounded_with = list;
  station->confounded_count = 1;
  return !tenter_arena_failed(p->j->arena);
}

/* Of two stations whose corners or directions differ, either may be the one to adjust. */
static uint32_t other_of_two(const pulls *p, const tenter_review_station *station) {
  const tenter_review_station *list = p->j->review->stations;
  bool tilted = station->uneven[TENTER_STATION_TILT_X] || station->uneven[TENTER_STATION_TILT_Y];
  if (p->j->review->station_count != 2 || tilted)
    return TENTER_NO_NAME;
  return list[list[0].station == station->station].station;
}

/* The other of two; or somebody who stretched here always, and nowhere else. */
static bool find_confounded(const pulls *p, tenter_review_station *station) {
  uint32_t other = other_of_two(p, station), who = TENTER_NO_NAME;
  if (other != TENTER_NO_NAME)
    return name_confounded(p, station, TENTER_SAY_STATION_OTHER, TENTER_NAME_STATION, other);
  for (size_t i = 0; i < p->count; i++)
    if (p->items[i].station == station->station && p->items[i].operator!= TENTER_NO_NAME)
      who = p->items[i].operator;
  for (size_t i = 0; i < p->count; i++) {
    bool here = p->items[i].station == station->station, he = p->items[i].operator== who;
    if (here != he && p->items[i].operator!= TENTER_NO_NAME)
      return true;
  }
  if (who == TENTER_NO_NAME)
    return true;
  return name_confounded(p, station, TENTER_SAY_SHIFT_OF_OPERATOR, TENTER_NAME_OPERATOR, who);
}

/* ---- the average map ------------------------------------------------------------------------ */

/* sum and count: room for every point, empty. */
static bool average_map(const pulls *p, tenter_review_station *station, double *sum,
                        size_t *count) {
  const judge *j = p->j;
  size_t points = (j->tables->position_count + 1) * TENTER_DIRECTIONS, seen = 0;
  memset(sum, 0, points * sizeof *sum);
  memset(count, 0, points * sizeof *count);
  for (size_t i = 0; i < p->count; i++) {
    const tenter_session *s = &j->shop->sessions[p->items[i].session];
    for (size_t r = s->first; p->items[i].station == station->station && r < s->first + s->count;
         r++) {
      sum[point_of(j, r)] += j->readings->tension[r];
      seen += count[point_of(j, r)]++ == 0;
    }
  }
  tenter_station_point *list = tenter_arena_alloc(j->arena, seen, sizeof *list);
  for (size_t i = 0; list && i < j->tables->position_count * TENTER_DIRECTIONS; i++)
    if (count[i] > 0)
      list[station->point_count++] =
          (tenter_station_point){.position = (uint16_t)(i / TENTER_DIRECTIONS),
                                 .direction = (tenter_direction)(i % TENTER_DIRECTIONS),
                                 .mean = sum[i] / (double)count[i],
                                 .readings = count[i]};
  station->points = list;
  return list || seen == 0;
}

/* ---- all of it ------------------------------------------------------------------------------ */

static bool list_stations(pulls *p) {
  tenter_review *review = p->j->review;
  size_t n = 0;
  for (size_t i = 0; i < p->stations; i++)
    n += p->used[i] > 0;
  n = n < MOST_STATIONS ? n : MOST_STATIONS;
  review->stations = tenter_arena_alloc(p->j->arena, n, sizeof *review->stations);
  for (uint32_t i = 0; review->stations && i < p->stations; i++) {
    if (p->used[i] == 0 || review->station_count == n)
      continue;
    p->place[i] = (uint32_t)review->station_count;
    review->stations[review->station_count++] =
        (tenter_review_station){.station = i, .mountings = p->used[i]};
  }
  size_t kept = 0; /* of stations there is room for */
  for (size_t i = 0; review->stations && i < p->count; i++)
    if (review->stations[p->place[p->items[i].station]].station == p->items[i].station)
      p->items[kept++] = p->items[i];
  p->count = kept;
  return n == 0 || review->stations;
}

static bool judge_numbers(const pulls *p, additive *a, double *p_value) {
  for (int number = 0; number < TENTER_STATION_COUNT; number++) {
    add_up(p, number, a);
    if (!solve(a))
      return false;
    plain_means(p, number, a);
    contrasts(p, number, a, residuals_of(p, a), &p_value[(size_t)number * a->n]);
  }
  return true;
}

static bool decide(const pulls *p, const double *q_value) {
  tenter_review *review = p->j->review;
  const tenter_settings *settings = p->j->settings;
  for (size_t s = 0; s < review->station_count; s++) {
    tenter_review_station *station = &review->stations[s];
    bool any = false;
    for (int n = 0; n < TENTER_STATION_COUNT; n++) {
      double size = judge__station_size((tenter_station_number)n, station->off[n]);
      station->q_value[n] = isnan(size) ? NAN : q_value[(size_t)n * review->station_count + s];
      station->uneven[n] = station->q_value[n] <= settings->false_discovery_rate &&
                           fabs(size) > settings->least_unevenness;
      any |= station->uneven[n];
    }
    if (any && !(find_confounded(p, station) && judge__station_advice(p->j, station)))
      return false;
    station->flagged = any && station->confounded_count == 0;
  }
  return true;
}

static bool judge_all(const pulls *p) {
  size_t n = p->j->review->station_count, points = p->j->tables->position_count + 1;
  size_t tests = n * TENTER_STATION_COUNT;
  additive a;
  double *p_value = tenter_alloc(tests, sizeof *p_value), *q = tenter_alloc(tests, sizeof *q);
  size_t *order = tenter_alloc(tests, sizeof *order);
  double *sum = tenter_alloc(points * TENTER_DIRECTIONS, sizeof *sum);
  size_t *count = tenter_alloc(points * TENTER_DIRECTIONS, sizeof *count);
  bool done = additive_new(p, n, &a) && p_value && q && order && sum && count;
  done = done && judge_numbers(p, &a, p_value);
  if (done)
    tenter_benjamini_hochberg(p_value, tests, q, order);
  done = done && decide(p, q);
  for (size_t s = 0; done && s < n; s++)
    done = average_map(p, &p->j->review->stations[s], sum, count);
  additive_release(&a);
  tenter_free(p_value);
  tenter_free(q);
  tenter_free(order);
  tenter_free(sum);
  tenter_free(count);
  return done;
}

tenter_status judge__stations(judge *j, tenter_error *error) {
  pulls p = {.j = j};
  bool done = gather(&p) && list_stations(&p) && (p.count == 0 || judge_all(&p));
  tenter_free(p.items);
  tenter_free(p.used);
  tenter_free(p.place);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
