/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Do the weeks drift? The mean forecast error of each week, of the shop, each mesh and each
 * station, put to Mann and Kendall's test, with the slope of Theil and Sen. */
#include "weeks.h"

#include "tenter/base/alloc.h"
#include "tenter/stats/trend.h"

enum { LEAST_WEEKS = 4 };

static const double level = 0.95; /* of the interval of a slope */

/* Sums of the errors of one name in one week. */
typedef struct week_sum {
  double error, count;
} week_sum;

typedef struct trending {
  judge *j;
  size_t weeks, meshes, stations;
  week_sum *sums; /* of the shop, of meshes, of stations; weeks each */
  double *y, *x, *scratch;
} trending;

static void release(trending *t) {
  tenter_free(t->sums);
  tenter_free(t->y);
  tenter_free(t->x);
  tenter_free(t->scratch);
}

static void add(week_sum *row, size_t week, double error) {
  row[week].error += error;
  row[week].count++;
}

static void add_sessions(trending *t) {
  const judge *j = t->j;
  tenter_time start = j->review->weeks[0].start;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (isnan(j->foreseen[i].error) || s->taken < start)
      continue;
    size_t week = (size_t)((s->taken - start) / TENTER_WEEK);
    const tenter_attributes *is = &mounting_of(j, s)->is;
    add(t->sums, week, j->foreseen[i].error);
    if (is->mesh != TENTER_NO_NAME)
      add(&t->sums[(1 + is->mesh) * t->weeks], week, j->foreseen[i].error);
    if (is->station != TENTER_NO_NAME)
      add(&t->sums[(1 + t->meshes + is->station) * t->weeks], week, j->foreseen[i].error);
  }
}

/* False when memory runs out. A name without sessions makes no trend. */
static bool add_trend(trending *t, const week_sum *row, const char *of, uint32_t name) {
  double *shift = tenter_arena_alloc(t->j->arena, t->weeks, sizeof *shift);
  size_t count = 0;
  if (!shift)
    return false;
  for (size_t w = 0; w < t->weeks; w++) {
    shift[w] = row[w].count > 0 ? row[w].error / row[w].count : NAN;
    if (row[w].count == 0)
      continue;
    t->x[count] = (double)w;
    t->y[count++] = shift[w];
  }
  if (count == 0)
    return true;
  tenter_review_trend *trend = &t->j->review->trends[t->j->review->trend_count++];
  *trend = (tenter_review_trend){of, name, count, shift, NAN, NAN, NAN, NAN};
  if (count < LEAST_WEEKS)
    return true;
  tenter_theil_sen line = tenter_theil_sen_of(t->x, t->y, count, level, t->scratch);
  trend->slope = line.slope;
  trend->low = line.low;
  trend->high = line.high;
  trend->p = tenter_mann_kendall_of(t->y, count).p;
  return true;
}

tenter_status judge__trends(judge *j, tenter_error *error) {
  trending t = {.j = j,
                .weeks = j->review->week_count,
                .meshes = tenter_names_count(j->tables->names[TENTER_NAME_MESH]),
                .stations = tenter_names_count(j->tables->names[TENTER_NAME_STATION])};
  size_t rows = 1 + t.meshes + t.stations;
  j->review->trends = tenter_arena_alloc(j->arena, rows, sizeof *j->review->trends);
  t.sums = tenter_alloc(rows * t.weeks, sizeof *t.sums);
  t.x = tenter_alloc(t.weeks, sizeof *t.x);
  t.y = tenter_alloc(t.weeks, sizeof *t.y);
  t.scratch = tenter_alloc(tenter_theil_sen_scratch(t.weeks), sizeof *t.scratch);
  bool done = j->review->trends && t.sums && t.x && t.y && t.scratch;
  if (done)
    add_sessions(&t);
  done = done && add_trend(&t, t.sums, "shop", TENTER_NO_NAME);
  for (uint32_t i = 0; done && i < t.meshes; i++)
    done = add_trend(&t, &t.sums[(1 + i) * t.weeks], "mesh", i);
  for (uint32_t i = 0; done && i < t.stations; i++)
    done = add_trend(&t, &t.sums[(1 + t.meshes + i) * t.weeks], "station", i);
  release(&t);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
