/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Control charts from end to end: made, judged, told, and what luck would give.
 *
 * Meters come first. Sessions of a day on which the chart of their meter signals, or that were read
 * after its plates showed a shift, are told there, and are passed over by the charts of meshes,
 * lots, stations and operators: one cause, one chart. But a meter that has shifted moves all its
 * sessions; where most of them did not move the cause may be another, and every chart may say so.
 */
#include "charts.h"

#include <stdlib.h>
#include <string.h>

#include "actions.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/arl.h"
#include "tenter/words/words.h"

/* ---- words ---------------------------------------------------------------------------------- */

typedef struct stream_words {
  const char *code, *unit;
  bool averaged;
  tenter_say words;
} stream_words;

#define WORDS_OF(constant, code, unit, averaged)                                                   \
  [TENTER_STREAM_##constant] = {code, unit, averaged, TENTER_SAY_POINT_##constant},
static const stream_words streams[TENTER_STREAM_COUNT] = {TENTER_STREAMS(WORDS_OF)};

const char *tenter_stream_code(tenter_stream stream) {
  return stream < TENTER_STREAM_COUNT ? streams[stream].code : "";
}

const char *tenter_stream_unit(tenter_stream stream) {
  return stream < TENTER_STREAM_COUNT ? streams[stream].unit : "";
}

bool tenter_stream_averaged(tenter_stream stream) {
  return stream < TENTER_STREAM_COUNT && streams[stream].averaged;
}

const char *tenter_stream_words(tenter_stream stream) {
  return stream < TENTER_STREAM_COUNT ? tenter_say_text(streams[stream].words) : "";
}

const char *tenter_chart_basis_word(tenter_chart_basis basis) {
  static const char *const words[] = {[TENTER_BASIS_OWN] = "own past",
                                      [TENTER_BASIS_OTHERS] = "all stations",
                                      [TENTER_BASIS_KEPT] = "kept"};
  return basis <= TENTER_BASIS_KEPT ? words[basis] : "";
}

/* ---- making them ---------------------------------------------------------------------------- */

static const char *chart_name(judge *j, const tenter_review_chart *chart) {
  const char *mesh = chart->mesh == TENTER_NO_NAME
                         ? ""
                         : tenter_names_get(j->tables->names[TENTER_NAME_MESH], chart->mesh);
  const char *key = judge__chart_key(j, chart);
  return tenter_arena_print(j->arena, "%s%s%s%s%s", tenter_stream_code(chart->stream),
                            *mesh ? " " : "", mesh, *key ? " " : "", key);
}

tenter_review_chart *judge__chart_add(judge *j, tenter_stream stream, uint32_t mesh, uint32_t key,
                                      size_t points) {
  struct charting *of = j->charting;
  if (of->count == of->room) {
    size_t room = of->room > 0 ? 2 * of->room : 64;
    tenter_review_chart *charts = tenter_arena_alloc(j->arena, room, sizeof *charts);
    if (!charts)
      return NULL;
    if (of->count > 0)
      memcpy(charts, of->charts, of->count * sizeof *charts);
    of->charts = charts;
    of->room = room;
  }
  tenter_review_chart *chart = &of->charts[of->count];
  *chart = (tenter_review_chart){.stream = stream,
                                 .mesh = mesh,
                                 .key = key,
                                 .within = NAN,
                                 .between = NAN,
                                 .from = TENTER_NO_TIME,
                                 .to = TENTER_NO_TIME};
  chart->name = chart_name(j, chart);
  chart->points = tenter_arena_alloc(j->arena, points, sizeof *chart->points);
  if (!chart->name || !chart->points)
    return NULL;
  of->count++;
  return chart;
}

/* ---- how they are judged -------------------------------------------------------------------- */

#define RULE_CODE(constant, code, ...) code ", "

/* The rules named in the settings; beyond alone where none is. */
static tenter_status find_rules(const char *text, tenter_rules *rules, tenter_error *error) {
  *rules = *text ? TENTER_RULES_NONE : TENTER_RULE_BEYOND;
  while (*text) {
    text += strspn(text, " ,;\t");
    size_t length = strcspn(text, " ,;\t");
    const tenter_rule *rule = tenter_rule_find(text, length);
    bool none = length == 4 && strncmp(text, "none", 4) == 0;
    if (length > 0 && !rule && !none)
      return tenter_fail(
          error, TENTER_USAGE,
          "[charts] rules: there is no rule \"%.*s\"; the rules are " TENTER_RULE_LIST(
              RULE_CODE) "or none",
          (int)length, text);
    *rules |= rule ? rule->bit : 0;
    text += length;
  }
  return TENTER_OK;
}

/* The width of the usual average, as tenter_scheme_design finds it in tens of milliseconds; a test
 * finds it again. */
static const struct { double weight, run_length, width; } usual = {0.2, 500, 2.965760945942938};

static tenter_status find_width(const tenter_settings *s, double *width, tenter_error *error) {
  tenter_scheme average = {
      .kind = TENTER_SCHEME_EWMA, .lambda = s->chart_weight, .width = usual.width, .exact = true};
  tenter_status status = TENTER_OK;
  if (s->chart_weight != usual.weight || s->chart_run_length != usual.run_length)
    status = tenter_scheme_design(&average, NULL, s->chart_run_length, error);
  *width = average.width;
  return status;
}

tenter_status judge__chart_scheme(judge *j, chart_scheme *scheme, tenter_error *error) {
  tenter_review_charts *charts = &j->review->charts;
  tenter_process calm = {0, 1};
  *scheme = (chart_scheme){.weight = j->settings->chart_weight};
  charts->rules_run_length = charts->average_run_length = NAN;
  charts->average_weight = charts->average_width = NAN;
  tenter_status status = find_rules(j->settings->chart_rules, &scheme->rules, error);
  if (!status && scheme->rules) {
    tenter_scheme rules = {.kind = TENTER_SCHEME_RULES, .rules = scheme->rules};
    status = tenter_arl(&rules, calm, &charts->rules_run_length, error);
  }
  if (!status && scheme->weight > 0) {
    status = find_width(j->settings, &scheme->width, error);
    charts->average_weight = scheme->weight;
    charts->average_width = scheme->width;
    charts->average_run_length = j->settings->chart_run_length;
  }
  charts->rules = scheme->rules;
  charts->standing = CHART_STANDING;
  return status;
}

/* ---- judging them --------------------------------------------------------------------------- */

typedef struct judging {
  judge *j;
  const chart_scheme *scheme;
  const tenter_chart_limits *kept;
  size_t kept_count;
  size_t *begin; /* runs of charts of one stream (tilts), or single charts */
  tenter_status *status;
  tenter_error *error;
} judging;

static void judge_run(void *context, size_t task, size_t worker) {
  (void)worker;
  const judging *g = context;
  g->status[task] = judge__chart_limits(g->j, g->begin[task], g->begin[task + 1], g->kept,
                                        g->kept_count, &g->error[task]);
  for (size_t c = g->begin[task]; c < g->begin[task + 1] && !g->status[task]; c++)
    judge__chart_points(&g->j->charting->charts[c], g->scheme);
}

static bool go_together(const tenter_review_chart *a, const tenter_review_chart *b) {
  return a->stream == b->stream &&
         (a->stream == TENTER_STREAM_TILT_X || a->stream == TENTER_STREAM_TILT_Y);
}

/* Charts [first, count) of the list. */
static tenter_status judge_from(judge *j, size_t first, const chart_scheme *scheme,
                                const tenter_chart_limits *kept, size_t kept_count,
                                tenter_error *error) {
  size_t count = j->charting->count - first, runs = 0;
  judging g = {j,
               scheme,
               kept,
               kept_count,
               tenter_alloc(count + 1, sizeof *g.begin),
               tenter_alloc(count + 1, sizeof *g.status),
               tenter_alloc(count + 1, sizeof *g.error)};
  tenter_status status = g.begin && g.status && g.error ? TENTER_OK : tenter_fail_memory(error);
  for (size_t i = first; i < j->charting->count && !status; i++)
    if (i == first || !go_together(&j->charting->charts[i - 1], &j->charting->charts[i]))
      g.begin[runs++] = i;
  if (!status) {
    g.begin[runs] = j->charting->count;
    tenter_pool_run(j->pool, runs, judge_run, &g);
  }
  for (size_t i = 0; i < runs && !status; i++)
    if (g.status[i])
      status = tenter_fail(error, g.status[i], "%s", g.error[i].message);
  tenter_free(g.begin);
  tenter_free(g.status);
  tenter_free(g.error);
  return status;
}

/* ---- one cause, one chart ------------------------------------------------------------------- */

static const double moved_share = 0.75; /* of a day's sessions on the side of the signal */

static bool speaks_for(const tenter_chart_point *p, const cell *c) {
  double side = p->z < 0 ? c->low : c->count - c->low;
  return judge__signals(p) && side > moved_share * c->count;
}

static void tell_meters(judge *j) {
  struct charting *of = j->charting;
  const grid *g = &of->grids[TENTER_STREAM_SHIFT - TENTER_STREAM_MESH];
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const cell *c = judge__cell_of(j, g, i);
    of->told[i] = judge__shift(j, i) != 0;
    if (!c || c->point == UINT32_MAX)
      continue;
    const tenter_review_chart *chart = &of->charts[g->chart[(size_t)(c - g->cells) / g->days]];
    of->told[i] |= speaks_for(&chart->points[c->point], c);
  }
}

static int by_stream(const void *x, const void *y) {
  const tenter_review_chart *a = x, *b = y;
  if (a->stream != b->stream)
    return a->stream < b->stream ? -1 : 1;
  if (a->mesh != b->mesh)
    return a->mesh < b->mesh ? -1 : 1;
  return (a->key > b->key) - (a->key < b->key);
}

/* By stream, then name (names are in natural order); grids follow. */
static void put_in_order(judge *j) {
  struct charting *of = j->charting;
  if (of->count > 0)
    qsort(of->charts, of->count, sizeof *of->charts, by_stream);
  for (uint32_t c = 0; c < of->count; c++) {
    tenter_stream stream = of->charts[c].stream;
    if (stream >= TENTER_STREAM_MESH && stream <= TENTER_STREAM_SHIFT)
      of->grids[stream - TENTER_STREAM_MESH].chart[of->charts[c].key] = c;
  }
}

static tenter_status make_charts(judge *j, const chart_scheme *scheme, tenter_error *error) {
  j->charting->oldest = judge__oldest_foreseen(j);
  tenter_status status = judge__service_charts(j, TENTER_STREAM_SHIFT, TENTER_STREAM_SHIFT, error);
  if (!status)
    status = judge_from(j, 0, scheme, NULL, 0, error);
  if (!status)
    tell_meters(j);
  size_t first = j->charting->count;
  if (!status)
    status = judge__service_charts(j, TENTER_STREAM_MESH, (tenter_stream)(TENTER_STREAM_SHIFT - 1),
                                   error);
  if (!status)
    status = judge__stretching_charts(j, error);
  if (!status)
    status = judge__plate_charts(j, error);
  if (!status)
    status = judge_from(j, first, scheme, NULL, 0, error);
  if (!status)
    put_in_order(j);
  return status;
}

/* ---- what is to be read again --------------------------------------------------------------- */

size_t judge__open_session(const judge *j, size_t session) {
  uint32_t at = j->review_index[j->shop->sessions[session].screen];
  if (at == UINT32_MAX)
    return SIZE_MAX;
  const tenter_review_screen *screen = &j->review->screens[at];
  return screen->read && screen->latest.session == session ? at : SIZE_MAX;
}

/* Each screen once, by the first chart that names it. */
static bool ask_again(judge *j, bool act) {
  tenter_chart_alarms *alarms = &j->review->charts.alarms;
  bool *named = tenter_alloc(j->review->screen_count + 1, sizeof *named), done = named;
  alarms->seen_signals = alarms->seen_screens = 0;
  for (size_t c = 0; done && c < j->charting->count; c++)
    for (size_t i = 0; done && i < j->charting->charts[c].signal_count; i++) {
      const tenter_chart_signal *signal = &j->charting->charts[c].signals[i];
      alarms->seen_signals += signal->is_new;
      for (size_t k = 0; done && signal->is_new && k < signal->screen_count; k++) {
        size_t at = judge__open_session(j, signal->sessions[k]);
        if (at == SIZE_MAX || named[at])
          continue;
        named[at] = true;
        alarms->seen_screens++;
        if (act)
          done = judge__chart_reason(j, at, &j->charting->charts[c], signal);
      }
    }
  tenter_free(named);
  return done;
}

/* ---- all of it ------------------------------------------------------------------------------ */

static tenter_status conclude(judge *j, const chart_scheme *scheme, bool act, tenter_error *error) {
  tenter_review_charts *charts = &j->review->charts;
  tenter_status status = judge__signals_tell(j, error);
  if (!status)
    status = judge__calm(j, scheme, error);
  if (!status && !ask_again(j, act))
    status = tenter_fail_memory(error);
  charts->charts = j->charting->charts;
  charts->count = j->charting->count;
  j->review->expected_false_alarms = charts->alarms.screens;
  return status;
}

static tenter_status make(judge *j, const chart_scheme *scheme, tenter_error *error) {
  j->charting = tenter_arena_alloc(j->arena, 1, sizeof *j->charting);
  bool *told = tenter_arena_alloc(j->arena, j->shop->session_count + 1, sizeof *told);
  if (!j->charting || !told)
    return tenter_fail_memory(error);
  j->charting->told = told;
  j->charting->week = tenter_week_start(j->shop->as_of);
  return make_charts(j, scheme, error);
}

tenter_status judge__charts(judge *j, const chart_scheme *scheme, tenter_error *error) {
  tenter_status status = make(j, scheme, error);
  return status ? status : conclude(j, scheme, true, error);
}

tenter_status judge__past_charts(judge *j, const chart_scheme *scheme, tenter_error *error) {
  tenter_status status = make(j, scheme, error);
  if (!status)
    status = judge__signals_tell(j, error);
  if (!status && !ask_again(j, true))
    status = tenter_fail_memory(error);
  return status;
}

tenter_status tenter_review_chart_by(tenter_review *review, const tenter_chart_limits *kept,
                                     size_t count, tenter_error *error) {
  judge *j = review->judged;
  chart_scheme scheme;
  for (size_t i = 0; i < count; i++)
    if (kept[i].to > j->shop->as_of)
      return tenter_fail(error, TENTER_INPUT,
                         "the kept limits rest on data later than the moment judged at: they can't "
                         "judge their own past; freeze them as of an earlier moment");
  tenter_status status = judge__chart_scheme(j, &scheme, error);
  if (!status)
    status = judge_from(j, 0, &scheme, kept, count, error);
  review->charts.kept_used = 0;
  for (size_t c = 0; c < j->charting->count && !status; c++)
    review->charts.kept_used += j->charting->charts[c].basis == TENTER_BASIS_KEPT;
  if (!status && review->charts.kept_used == 0)
    return tenter_fail(error, TENTER_INPUT,
                       "none of the %zu kept limits belongs to a chart of these data: are they of "
                       "another shop?",
                       count);
  return status ? status : conclude(j, &scheme, false, error);
}
