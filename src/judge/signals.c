/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands behind signals: the rule, the screens, their rows.
 *
 * A day's sessions together may lie low while most of them are calm; those named are the one that
 * lies furthest on the side of the signal and others beyond CHART_STANDING of their own sd on that
 * side. Of a run or of the weighted average the latest point's are named. */
#include "actions.h"
#include "charts.h"

/* ---- words ---------------------------------------------------------------------------------- */

static bool say(const judge *j, const tenter_review_chart *chart, tenter_chart_signal *signal) {
  const tenter_chart_point *point = &chart->points[signal->point];
  size_t rule = judge__rule_met(point);
  signal->rule = rule < TENTER_RULE_COUNT ? tenter_rule_at(rule)->code : "average";
  signal->text = judge__signal_text(j, chart, point, (tenter_form){0});
  signal->shown = judge__signal_text(j, chart, point, judge__form(j));
  return !tenter_arena_failed(j->arena);
}

/* ---- screens behind a signal ---------------------------------------------------------------- */

static bool make_room(judge *j, tenter_chart_signal *signal, size_t count) {
  uint32_t *screens = tenter_arena_alloc(j->arena, count, sizeof *screens);
  size_t *sessions = tenter_arena_alloc(j->arena, count, sizeof *sessions);
  signal->screens = screens;
  signal->sessions = sessions;
  return screens && sessions;
}

static void name_session(judge *j, tenter_chart_signal *signal, size_t session) {
  ((size_t *)signal->sessions)[signal->screen_count] = session;
  ((uint32_t *)signal->screens)[signal->screen_count++] = j->shop->sessions[session].screen;
}

/* Signals of one chart, and the cells (of service) that they belong to. */
static bool list_signals(judge *j, tenter_review_chart *chart) {
  size_t count = 0;
  for (size_t i = 0; i < chart->point_count; i++)
    count += judge__signals(&chart->points[i]);
  chart->signals = tenter_arena_alloc(j->arena, count, sizeof *chart->signals);
  chart->signal_count = 0;
  if (!chart->signals)
    return false;
  for (size_t i = 0; i < chart->point_count; i++) {
    const tenter_chart_point *p = &chart->points[i];
    if (!judge__signals(p))
      continue;
    tenter_chart_signal *signal = &chart->signals[chart->signal_count++];
    *signal = (tenter_chart_signal){
        .point = i, .at = p->at, .is_new = p->is_new, .screen = TENTER_NO_NAME};
    if ((j->texts && !say(j, chart, signal)) || !make_room(j, signal, p->count))
      return false;
    if (p->item != UINT32_MAX && chart->stream < TENTER_STREAM_MESH) {
      name_session(j, signal, p->item);
      signal->screen = signal->screens[0];
    }
  }
  return true;
}

/* Hands each cell the number of its signal. */
static void mark_cells(judge *j, grid *g) {
  for (size_t key = 0; g->cells && key < g->keys; key++) {
    if (g->chart[key] == UINT32_MAX)
      continue;
    const tenter_review_chart *chart = &j->charting->charts[g->chart[key]];
    size_t next = 0;
    for (size_t d = 0; d < g->days; d++) {
      cell *c = &g->cells[key * g->days + d];
      if (c->count == 0)
        continue;
      while (next < chart->signal_count && chart->signals[next].point < c->point)
        next++;
      bool signals = next < chart->signal_count && chart->signals[next].point == c->point;
      c->signal = signals ? (uint32_t)next : UINT32_MAX;
    }
  }
}

static double side_of(const tenter_review_chart *chart, const tenter_chart_signal *signal) {
  const tenter_chart_point *p = &chart->points[signal->point];
  if (p->met == 0)
    return p->drift;
  return p->z < 0 ? -1 : 1;
}

/* Sessions lie in order of screens: those named come in that order. */
static void name_members(judge *j, const grid *g) {
  size_t width = g->days;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const cell *c = judge__cell_of(j, g, i);
    if (!c || c->signal == UINT32_MAX)
      continue;
    size_t key = (size_t)(c - g->cells) / width;
    tenter_review_chart *chart = &j->charting->charts[g->chart[key]];
    tenter_chart_signal *signal = &chart->signals[c->signal];
    double side = side_of(chart, signal), z = side * j->foreseen[i].z;
    size_t furthest = chart->points[signal->point].item;
    if (furthest == UINT32_MAX || z > side * j->foreseen[furthest].z)
      chart->points[signal->point].item = (uint32_t)i;
    if (z > CHART_STANDING)
      name_session(j, signal, i);
  }
}

/* The furthest is named in any case. */
static bool finish_signal(judge *j, tenter_review_chart *chart, tenter_chart_signal *signal) {
  const tenter_chart_point *p = &chart->points[signal->point];
  if (chart->stream >= TENTER_STREAM_MESH && p->item != UINT32_MAX &&
      chart->stream != TENTER_STREAM_PLATE) {
    if (signal->screen_count == 0)
      name_session(j, signal, p->item);
    signal->screen = j->shop->sessions[p->item].screen;
  }
  if (!j->texts)
    return true;
  if (chart->stream == TENTER_STREAM_PLATE)
    return judge__check_sources(j, p->item, p->count, signal);
  return judge__session_sources(j, signal->sessions, signal->screen_count, signal);
}

tenter_status judge__signals_tell(judge *j, tenter_error *error) {
  struct charting *of = j->charting;
  bool done = true;
  for (size_t c = 0; done && c < of->count; c++) {
    bool service =
        of->charts[c].stream >= TENTER_STREAM_MESH && of->charts[c].stream != TENTER_STREAM_PLATE;
    for (size_t i = 0; service && i < of->charts[c].point_count; i++)
      of->charts[c].points[i].item = UINT32_MAX;
    done = list_signals(j, &of->charts[c]);
  }
  for (size_t g = 0; done && g < GRIDS; g++) {
    mark_cells(j, &of->grids[g]);
    if (of->grids[g].cells)
      name_members(j, &of->grids[g]);
  }
  for (size_t c = 0; done && c < of->count; c++)
    for (size_t i = 0; done && i < of->charts[c].signal_count; i++)
      done = finish_signal(j, &of->charts[c], &of->charts[c].signals[i]);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
