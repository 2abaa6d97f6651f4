/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sessions in service as points of charts: the standardised errors of a day's sessions of one mesh,
 * lot, station, operator or meter.
 *
 * Sessions of a day share the day, its meters and its operators, so that they lie together more
 * than their own noise lets expect; a day's mean is therefore put over the sd of a mean of so many
 * sessions with the days' own variance in it, and then judged by its own moving range (Wheeler
 * 1995: averages as individuals). The variance between days is that of the one-way analysis of
 * variance with unequal numbers (Searle, Casella and McCulloch 1992, 3.6).
 *
 * Everything is sums over sessions into a table of keys and days: no sorting. Relies on foresee.c.
 */
#include "charts.h"

/* Weight of the expectation that standardised errors have variance 1 within a day, in degrees of
 * freedom. */
static const double within_df = 10;

static uint32_t key_of(const judge *j, tenter_stream stream, const tenter_session *s) {
  const tenter_attributes *is = &mounting_of(j, s)->is;
  switch (stream) {
  case TENTER_STREAM_MESH:
    return is->mesh;
  case TENTER_STREAM_LOT:
    return is->lot;
  case TENTER_STREAM_STATION:
    return is->station;
  case TENTER_STREAM_OPERATOR:
    return s->operator== TENTER_NO_NAME16 ? TENTER_NO_NAME : s->operator;
  default:
    return s->meter == TENTER_NO_NAME16 ? TENTER_NO_NAME : s->meter;
  }
}

static tenter_name_kind kind_of(tenter_stream stream) {
  static const tenter_name_kind kinds[GRIDS] = {TENTER_NAME_MESH, TENTER_NAME_LOT,
                                                TENTER_NAME_STATION, TENTER_NAME_OPERATOR,
                                                TENTER_NAME_METER};
  return kinds[stream - TENTER_STREAM_MESH];
}

cell *judge__cell_of(const judge *j, const grid *g, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  if (g->cells == NULL || isnan(j->foreseen[session].z) ||
      (j->charting->told[session] && g->stream != TENTER_STREAM_SHIFT))
    return NULL;
  uint32_t key = key_of(j, g->stream, s);
  return key == TENTER_NO_NAME
             ? NULL
             : &g->cells[key * g->days + (size_t)((s->taken - g->first) / g->step)];
}

tenter_time judge__oldest_foreseen(const judge *j) {
  tenter_time oldest = j->charting->week;
  for (size_t i = 0; i < j->shop->session_count; i++)
    if (!isnan(j->foreseen[i].z) && j->shop->sessions[i].taken < oldest)
      oldest = j->shop->sessions[i].taken;
  return oldest;
}

/* Days that end where the week of as_of begins; longer ones where keys and days are too many. */
static void lay_out(const judge *j, grid *g) {
  tenter_time week = j->charting->week, oldest = j->charting->oldest;
  size_t most = ((size_t)1 << 20) + 4 * j->shop->session_count;
  g->step = TENTER_DAY;
  for (;; g->step *= 2) {
    tenter_time before = (week - oldest + g->step - 1) / g->step;
    g->first = week - before * g->step;
    g->days = (size_t)((j->shop->as_of - g->first) / g->step) + 1;
    if (g->keys * g->days <= most || g->days <= 2)
      return;
  }
}

static void fill(const judge *j, grid *g) {
  for (size_t i = 0; g->cells && i < j->shop->session_count; i++) {
    cell *c = judge__cell_of(j, g, i);
    if (!c)
      continue;
    double z = j->foreseen[i].z;
    c->z += z;
    c->squares += z * z;
    c->error += j->foreseen[i].error;
    c->count++;
    c->low += z < 0;
  }
}

/* Sums for the variances, over the days before the week of as_of. */
typedef struct variances {
  double days, sessions, counts, z, within, between; /* counts: of squares of counts */
} variances;

static variances sum_days(const grid *g, const cell *row, tenter_time week) {
  variances v = {0};
  for (size_t d = 0; d < g->days && g->first + (tenter_time)d * g->step < week; d++) {
    double n = row[d].count;
    if (row[d].count == 0)
      continue;
    v.days++;
    v.sessions += n;
    v.counts += n * n;
    v.z += row[d].z;
    v.within += row[d].squares - row[d].z * row[d].z / n;
    v.between += row[d].z * row[d].z / n;
  }
  return v;
}

static void find_variances(const variances *v, tenter_review_chart *chart) {
  double within = (v->within + within_df) / (v->sessions - v->days + within_df);
  double spread = v->between - v->z * v->z / v->sessions;
  double usual = (v->sessions - v->counts / v->sessions) / (v->days - 1); /* sessions a day */
  double between = v->days > 1 ? (spread / (v->days - 1) - within) / usual : 0;
  chart->within = sqrt(within);
  chart->between = sqrt(fmax(between, 0));
}

static void fill_points(const grid *g, cell *row, tenter_time week, tenter_review_chart *chart) {
  for (size_t d = 0; d < g->days; d++) {
    if (row[d].count == 0)
      continue;
    tenter_time at = g->first + (tenter_time)d * g->step;
    row[d].point = (uint32_t)chart->point_count;
    chart->points[chart->point_count++] = (tenter_chart_point){.at = at,
                                                               .count = row[d].count,
                                                               .item = UINT32_MAX,
                                                               .mean = row[d].z / row[d].count,
                                                               .shift = row[d].error / row[d].count,
                                                               .is_new = at >= week};
  }
}

/* The chart of one key, where its past has points enough. */
static bool add_chart(judge *j, grid *g, uint32_t key) {
  cell *row = &g->cells[key * g->days];
  size_t points = 0;
  for (size_t d = 0; d < g->days; d++) {
    points += row[d].count > 0;
    row[d].point = row[d].signal = UINT32_MAX;
  }
  variances v = sum_days(g, row, j->charting->week);
  g->chart[key] = UINT32_MAX;
  if (v.days < j->settings->chart_least) {
    j->review->charts.too_few += points > 0;
    return true;
  }
  tenter_review_chart *chart = judge__chart_add(j, g->stream, TENTER_NO_NAME, key, points);
  if (!chart)
    return false;
  g->chart[key] = (uint32_t)(chart - j->charting->charts);
  find_variances(&v, chart);
  fill_points(g, row, j->charting->week, chart);
  return true;
}

typedef struct filling {
  const judge *j;
  tenter_stream first;
} filling;

static void fill_grid(void *context, size_t task, size_t worker) {
  (void)worker;
  const filling *f = context;
  fill(f->j, &f->j->charting->grids[f->first + (tenter_stream)task - TENTER_STREAM_MESH]);
}

static tenter_status make_grid(judge *j, tenter_stream stream, tenter_error *error) {
  grid *g = &j->charting->grids[stream - TENTER_STREAM_MESH];
  g->stream = stream;
  g->keys = tenter_names_count(j->tables->names[kind_of(stream)]);
  if (g->keys == 0)
    return TENTER_OK;
  lay_out(j, g);
  g->cells = tenter_arena_alloc(j->arena, g->keys * g->days, sizeof *g->cells);
  g->chart = tenter_arena_alloc(j->arena, g->keys, sizeof *g->chart);
  return g->cells && g->chart ? TENTER_OK : tenter_fail_memory(error);
}

tenter_status judge__service_charts(judge *j, tenter_stream first, tenter_stream last,
                                    tenter_error *error) {
  filling f = {j, first};
  for (tenter_stream s = first; s <= last; s++) {
    tenter_status status = make_grid(j, s, error);
    if (status)
      return status;
  }
  tenter_pool_run(j->pool, (size_t)(last - first) + 1, fill_grid, &f);
  for (tenter_stream s = first; s <= last; s++) {
    grid *g = &j->charting->grids[s - TENTER_STREAM_MESH];
    for (uint32_t key = 0; key < g->keys; key++)
      if (!add_chart(j, g, key))
        return tenter_fail_memory(error);
  }
  return TENTER_OK;
}
