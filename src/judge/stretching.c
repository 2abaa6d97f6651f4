/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stretching as points of charts: every mounting's acceptance session brought to 24 h, in order of
 * stretch, per mesh and station; and how it tilts, per station. Checks of meters by day. */
#include <stdlib.h>

#include "charts.h"
#include "population.h"
#include "tenter/base/alloc.h"

enum { BLOCK_MOUNTINGS = 512, LATEST_DAYS = 7 }; /* after the settling time */

/* One mounting as it was accepted; fields NaN where the session does not tell. */
typedef struct accepted {
  uint32_t mesh, station, mounting, session;
  tenter_time stretched, taken;
  double level, target, tilt_x, tilt_y;
} accepted;

typedef struct accepting {
  const judge *j;
  accepted *of; /* by mounting; session UINT32_MAX where it has none */
} accepting;

/* A session from a meter that had shifted says nothing of the stretch; its tilt still does. */
static accepted accept(const judge *j, uint32_t mounting) {
  const tenter_mounting *m = &j->shop->mountings[mounting];
  accepted a = {m->is.mesh, m->is.station, mounting, UINT32_MAX, 0, 0, NAN, NAN, NAN, NAN};
  size_t session = judge__acceptance_session(j, m);
  if (session == SIZE_MAX || isnan(j->sessions[session].u))
    return a;
  const tenter_session *s = &j->shop->sessions[session];
  double age = tenter_mounting_age_hours(m, s->taken);
  if (age > j->settings->settling_hours + 24.0 * LATEST_DAYS)
    return a;
  a.session = (uint32_t)session;
  a.stretched = m->zero.at;
  a.taken = s->taken;
  a.target = m->is.target;
  double tension = j->sessions[session].adjusted;
  if (judge__shift(j, session) == 0)
    a.level = tension + judge__usual_loss(j, mounting, tension) *
                            tenter_clock_u(j->population->clock, j->sessions[session].u);
  tenter_latest raw;
  if (s->full && s->points > 2) {
    judge__session_latest(j, session, &raw);
    a.tilt_x = raw.tilt_x;
    a.tilt_y = raw.tilt_y;
  }
  return a;
}

static void accept_block(void *context, size_t task, size_t worker) {
  (void)worker;
  const accepting *all = context;
  size_t end = (task + 1) * BLOCK_MOUNTINGS, count = all->j->shop->mounting_count;
  for (size_t i = task * BLOCK_MOUNTINGS; i < end && i < count; i++)
    all->of[i] = accept(all->j, (uint32_t)i);
}

static int in_order(const accepted *a, const accepted *b) {
  if (a->stretched != b->stretched)
    return a->stretched < b->stretched ? -1 : 1;
  return (a->mounting > b->mounting) - (a->mounting < b->mounting);
}

static int by_mesh_and_station(const void *x, const void *y) {
  const accepted *a = x, *b = y;
  if (a->mesh != b->mesh)
    return a->mesh < b->mesh ? -1 : 1;
  if (a->station != b->station)
    return a->station < b->station ? -1 : 1;
  return in_order(a, b);
}

static int by_station(const void *x, const void *y) {
  const accepted *a = x, *b = y;
  if (a->station != b->station)
    return a->station < b->station ? -1 : 1;
  return in_order(a, b);
}

static double value_of(const accepted *a, tenter_stream stream, bool from_target) {
  if (stream == TENTER_STREAM_LEVEL)
    return from_target ? a->level - a->target : a->level;
  return stream == TENTER_STREAM_TILT_X ? a->tilt_x : a->tilt_y;
}

/* A chart of one run of mountings of the same key. */
static bool add_run(judge *j, const accepted *run, size_t count, tenter_stream stream) {
  bool from_target = true;
  size_t points = 0, past = 0;
  for (size_t i = 0; i < count; i++) {
    if (isnan(value_of(&run[i], stream, false)))
      continue;
    points++;
    past += run[i].taken < j->charting->week;
    from_target &= !isnan(run[i].target);
  }
  if (past < (size_t)j->settings->chart_least) {
    j->review->charts.too_few += points > 0;
    return true;
  }
  bool level = stream == TENTER_STREAM_LEVEL;
  tenter_review_chart *chart =
      judge__chart_add(j, stream, level ? run->mesh : TENTER_NO_NAME, run->station, points);
  if (!chart)
    return false;
  chart->from_target = level && from_target;
  for (size_t i = 0; i < count; i++) {
    double value = value_of(&run[i], stream, chart->from_target);
    if (!isnan(value))
      chart->points[chart->point_count++] =
          (tenter_chart_point){.at = run[i].stretched,
                               .count = 1,
                               .item = run[i].session,
                               .mean = value,
                               .shift = NAN,
                               .is_new = run[i].taken >= j->charting->week};
  }
  return true;
}

static bool add_runs(judge *j, const accepted *of, size_t count, tenter_stream stream) {
  for (size_t first = 0, i = 1; i <= count; i++) {
    bool level = stream == TENTER_STREAM_LEVEL;
    if (i < count && of[i].station == of[first].station && (!level || of[i].mesh == of[first].mesh))
      continue;
    if (!add_run(j, &of[first], i - first, stream))
      return false;
    first = i;
  }
  return true;
}

tenter_status judge__stretching_charts(judge *j, tenter_error *error) {
  size_t mountings = j->shop->mounting_count, count = 0;
  accepting all = {j, tenter_alloc(mountings + 1, sizeof *all.of)};
  if (!all.of)
    return tenter_fail_memory(error);
  tenter_pool_run(j->pool, (mountings + BLOCK_MOUNTINGS - 1) / BLOCK_MOUNTINGS, accept_block, &all);
  for (size_t i = 0; i < mountings; i++)
    if (all.of[i].session != UINT32_MAX)
      all.of[count++] = all.of[i];
  bool done = true;
  if (count > 0) {
    qsort(all.of, count, sizeof *all.of, by_mesh_and_station);
    done = add_runs(j, all.of, count, TENTER_STREAM_LEVEL);
    qsort(all.of, count, sizeof *all.of, by_station);
    done = done && add_runs(j, all.of, count, TENTER_STREAM_TILT_X) &&
           add_runs(j, all.of, count, TENTER_STREAM_TILT_Y);
  }
  tenter_free(all.of);
  return done ? TENTER_OK : tenter_fail_memory(error);
}

/* ---- plates --------------------------------------------------------------------------------- */

static int by_meter_and_time(const void *x, const void *y) {
  const tenter_meter_check *a = *(const tenter_meter_check *const *)x;
  const tenter_meter_check *b = *(const tenter_meter_check *const *)y;
  if (a->meter != b->meter)
    return a->meter < b->meter ? -1 : 1;
  if (a->at.at != b->at.at)
    return a->at.at < b->at.at ? -1 : 1;
  return (a > b) - (a < b); /* the table is in its one order */
}

/* Checks of one meter in order of time: the mean of each day. */
static bool add_meter(judge *j, const tenter_meter_check *const *run, size_t count) {
  size_t days = 0, past = 0;
  for (size_t i = 0; i < count; i++) {
    bool opens = i == 0 || tenter_day_start(run[i]->at.at) != tenter_day_start(run[i - 1]->at.at);
    days += opens;
    past += opens && run[i]->at.at < j->charting->week;
  }
  if (past < (size_t)j->settings->chart_least) {
    j->review->charts.too_few++;
    return true;
  }
  tenter_review_chart *chart =
      judge__chart_add(j, TENTER_STREAM_PLATE, TENTER_NO_NAME, run[0]->meter, days);
  if (!chart)
    return false;
  tenter_chart_point *point = NULL;
  for (size_t i = 0; i < count; i++) {
    tenter_time day = tenter_day_start(run[i]->at.at);
    if (!point || point->at != day) {
      point = &chart->points[chart->point_count++];
      *point = (tenter_chart_point){.at = day,
                                    .item = (uint32_t)(run[i] - j->tables->checks),
                                    .shift = NAN,
                                    .is_new = day >= j->charting->week};
    }
    double off = run[i]->indicated - run[i]->nominal;
    point->mean += (off - point->mean) / ++point->count;
  }
  return true;
}

tenter_status judge__plate_charts(judge *j, tenter_error *error) {
  size_t count = 0;
  const tenter_meter_check **checks = tenter_alloc(j->tables->check_count + 1, sizeof *checks);
  if (!checks)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < j->tables->check_count; i++)
    if (j->tables->checks[i].at.at <= j->shop->as_of)
      checks[count++] = &j->tables->checks[i];
  bool done = true;
  if (count > 0)
    qsort(checks, count, sizeof *checks, by_meter_and_time);
  for (size_t first = 0, i = 1; done && i <= count; i++) {
    if (i < count && checks[i]->meter == checks[first]->meter)
      continue;
    if (first < count)
      done = add_meter(j, &checks[first], i - first);
    first = i;
  }
  tenter_free(checks);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
