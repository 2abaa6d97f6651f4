/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which law a lot follows. The log law stands unless another one is clearly better (by AICc) on
 * readings over a wide span of ages: few readings can't tell the log law from the power law, and a
 * law with a plateau that is not seen yet forecasts a levelling off that may never come. */
#include "laws.h"

#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { LEAST_SESSIONS = 3, MOST_POINTS = 3000, MOST_WORDS = 800 };

static const double least_decades = 0.5; /* of a mounting that joins in */

/* ---- the points ----------------------------------------------------------------------------- */

typedef struct points {
  double *age, *value, *weight;
  size_t *first; /* of each series, and the end */
  size_t count, series;
  double youngest, oldest;
} points;

static void release(points *p) {
  tenter_free(p->age);
  tenter_free(p->value);
  tenter_free(p->weight);
  tenter_free(p->first);
}

static bool make_room(points *p, size_t count, size_t series) {
  *p = (points){.youngest = INFINITY, .oldest = 0};
  p->age = tenter_alloc(count + 1, sizeof *p->age);
  p->value = tenter_alloc(count + 1, sizeof *p->value);
  p->weight = tenter_alloc(count + 1, sizeof *p->weight);
  p->first = tenter_alloc(series + 2, sizeof *p->first);
  return p->age && p->value && p->weight && p->first;
}

/* Adds the fitted sessions of [begin, end) as one series, or nothing where they are too few or span
 * fewer decades of age. */
static void add_series(const judge *j, size_t begin, size_t end, double decades, points *p) {
  size_t start = p->count;
  for (size_t i = begin; i < end; i++) {
    const session_value *value = &j->sessions[i];
    if (isnan(value->u))
      continue;
    p->age[p->count] = 24 * pow(10, value->u);
    p->value[p->count] = value->adjusted - judge__shift(j, i);
    p->weight[p->count++] = value->weight;
  }
  size_t added = p->count - start;
  if (added < LEAST_SESSIONS || log10(p->age[p->count - 1] / p->age[start]) < decades) {
    p->count = start;
    return;
  }
  p->youngest = fmin(p->youngest, p->age[start]);
  p->oldest = fmax(p->oldest, p->age[p->count - 1]);
  p->first[++p->series] = p->count;
}

/* ---- fitting -------------------------------------------------------------------------------- */

/* What forbids to go by a fit. */
static const unsigned unsound = TENTER_LAW_NOT_CONVERGED | TENTER_LAW_ON_BOUND |
                                TENTER_LAW_PLATEAU_HELD | TENTER_LAW_EXPLAINS_NOTHING |
                                TENTER_LAW_UNDETERMINED | TENTER_LAW_RISES |
                                TENTER_LAW_NO_LEVELLING | TENTER_LAW_EXACT | TENTER_LAW_TOO_FEW;

static void name_parameter(tenter_screen_parameter *parameter, const char *name, const char *unit) {
  *parameter = (tenter_screen_parameter){.name = name,
                                         .unit = unit,
                                         .value = NAN,
                                         .se = NAN,
                                         .limits = TENTER_LIMITS_NO_MINIMUM,
                                         .low = NAN,
                                         .high = NAN};
}

static void describe(tenter_law law, tenter_screen_law *row) {
  const tenter_law_info *info = tenter_law_describe(law);
  *row = (tenter_screen_law){.law = info->name,
                             .title = tenter_say_text(info->title),
                             .formula = info->formula,
                             .parameter_count = info->parameters,
                             .aicc = NAN,
                             .above = NAN,
                             .explained = NAN,
                             .runs_p = NAN,
                             .words = "",
                             .shown = ""};
  for (size_t k = 0; k < info->parameters; k++)
    name_parameter(&row->parameter[k], info->parameter[k],
                   info->is_time[k]   ? "h"
                   : k < info->linear ? "N/cm"
                                      : "");
}

static const char *say_curve(const tenter_law_curve *curve, tenter_form form, tenter_arena *arena) {
  char words[MOST_WORDS];
  tenter_law_words(curve, form, words, sizeof words);
  return tenter_arena_copy(arena, tenter_text_of(words));
}

static bool take_curve(const judge *j, const tenter_law_curve *curve, tenter_arena *arena,
                       tenter_screen_law *row) {
  row->fitted = true;
  row->aicc = curve->aicc;
  row->explained = curve->explained;
  row->runs_p = curve->runs.p;
  row->sound = !(curve->notes & unsound) && isfinite(curve->aicc);
  row->words = say_curve(curve, TENTER_FORM_PLAIN, arena);
  row->shown = say_curve(curve, judge__form(j), arena);
  for (size_t k = 0; k < row->parameter_count; k++) {
    row->parameter[k].value = curve->parameter[k];
    row->parameter[k].se = curve->se[k];
  }
  double se, half_life = tenter_law_half_life(curve, &se);
  if (isfinite(half_life)) {
    tenter_screen_parameter *last = &row->parameter[row->parameter_count++];
    name_parameter(last, "half-life", "h");
    last->value = half_life;
    last->se = se;
  }
  return row->words != NULL && row->shown != NULL;
}

/* The interval of one parameter of the fit that space made last. */
static void find_limits(tenter_law_space *space, const tenter_law_curve *curve, size_t index,
                        tenter_screen_parameter *parameter) {
  const tenter_law_info *info = tenter_law_describe(curve->law);
  tenter_law_interval interval;
  tenter_error why;
  if (index < info->linear && curve->series > 1)
    parameter->limits = TENTER_LIMITS_EACH_ITS_OWN;
  else if (curve->notes & TENTER_LAW_EXACT)
    parameter->limits = TENTER_LIMITS_NONE_LEFT;
  else if (tenter_law_profile(space, curve, index, TENTER_SCREEN_LEVEL, &interval, &why) ==
           TENTER_OK) {
    parameter->limits = TENTER_LIMITS_GIVEN;
    parameter->low = interval.low;
    parameter->high = interval.high;
    parameter->low_open = interval.low_open;
    parameter->high_open = interval.high_open;
  }
}

static void find_all_limits(tenter_law_space *space, const tenter_law_curve *curve,
                            tenter_screen_law *row) {
  size_t own = tenter_law_describe(curve->law)->parameters;
  for (size_t k = 0; k < row->parameter_count; k++)
    find_limits(space, curve, k < own ? k : TENTER_LAW_HALF_LIFE, &row->parameter[k]);
}

/* Of several series the medians of the linear parameters: a short series can have any. */
static void usual_values(const tenter_law_curve *fitted, const double *linear, double *sorted,
                         tenter_screen_law *row) {
  size_t count = tenter_law_describe(fitted->law)->linear;
  for (size_t k = 0; k < count && fitted->series > 1; k++) {
    for (size_t s = 0; s < fitted->series; s++)
      sorted[s] = linear[s * count + k];
    row->parameter[k].value = tenter_median_of(sorted, fitted->series);
  }
}

/* Why: best is the best of the sound ones, nearest of all. */
static void say_choice(const judge *j, tenter_arena *arena, tenter_screen_laws *laws, size_t best,
                       size_t nearest) {
  double of_log = laws->law[TENTER_LAW_LOG].aicc;
  double decades = log10(laws->oldest_hours / laws->youngest_hours);
  tenter_value values[] = {tenter_value_text(laws->law[nearest].title),
                           tenter_value_fixed(of_log - laws->law[best].aicc, 1),
                           tenter_value_fixed(decades, 1),
                           tenter_value_fixed(j->settings->law_margin, 0),
                           tenter_value_fixed(j->settings->law_decades, 1)};
  tenter_say id;
  if (laws->sessions == 0)
    id = TENTER_SAY_LAWS_TOO_FEW;
  else if (nearest == TENTER_LAW_LOG && laws->chosen == TENTER_LAW_LOG)
    id = TENTER_SAY_LAWS_LOG;
  else if (best == TENTER_LAW_LOG) {
    id = TENTER_SAY_LAWS_UNSOUND;
    values[1] = tenter_value_fixed(of_log - laws->law[nearest].aicc, 1);
  } else {
    id = laws->chosen != TENTER_LAW_LOG ? TENTER_SAY_LAWS_TAKEN : TENTER_SAY_LAWS_LOG_BETTER;
    values[0] = tenter_value_text(laws->law[best].title);
  }
  tenter_say_both(arena, judge__form(j), id, values, 5, &laws->why, &laws->why_shown);
}

static void choose(const judge *j, tenter_arena *arena, tenter_screen_laws *laws) {
  size_t nearest = TENTER_LAW_LOG; /* of all, sound or not */
  double decades = log10(laws->oldest_hours / laws->youngest_hours);
  size_t best = TENTER_LAW_LOG;
  for (size_t l = 0; l < TENTER_LAW_COUNT; l++)
    if (laws->law[l].aicc < laws->law[nearest].aicc)
      nearest = l;
  for (size_t l = 0; l < TENTER_LAW_COUNT; l++) {
    laws->law[l].above = laws->law[l].aicc - laws->law[nearest].aicc;
    if (laws->law[l].sound && !(laws->law[l].aicc >= laws->law[best].aicc))
      best = l;
  }
  double margin = laws->law[TENTER_LAW_LOG].aicc - laws->law[best].aicc;
  bool wide = decades >= j->settings->law_decades, clear = margin >= j->settings->law_margin;
  laws->chosen = wide && clear ? best : TENTER_LAW_LOG;
  laws->law[laws->chosen].chosen = true;
  say_choice(j, arena, laws, best, nearest);
}

static tenter_status fit_all(const judge *j, const points *p, tenter_arena *arena,
                             tenter_screen_laws *laws, tenter_error *error) {
  tenter_law_space *space = NULL;
  double *linear = tenter_alloc((p->series + 1) * TENTER_LAW_PARAMETERS, sizeof *linear);
  double *sorted = tenter_alloc(p->series + 1, sizeof *sorted);
  tenter_status status = linear && sorted ? TENTER_OK : tenter_fail_memory(error);
  if (status == TENTER_OK && p->count > 0)
    status = tenter_law_space_new(p->count, p->series, &space, error);
  tenter_law_points of = {.count = p->count,
                          .age_hours = p->age,
                          .value = p->value,
                          .weight = p->weight,
                          .series = p->series > 1 ? p->series : 0,
                          .first = p->series > 1 ? p->first : NULL};
  for (int law = 0; law < TENTER_LAW_COUNT && status == TENTER_OK; law++) {
    tenter_law_curve fitted;
    tenter_error why;
    describe((tenter_law)law, &laws->law[law]);
    tenter_law_options options = {0};
    if (!space || tenter_law_fit(space, (tenter_law)law, &of, &options, &fitted, NULL, NULL, linear,
                                 &why) != TENTER_OK)
      continue; /* fewer sessions than parameters */
    if (!take_curve(j, &fitted, arena, &laws->law[law]))
      status = tenter_fail_memory(error);
    usual_values(&fitted, linear, sorted, &laws->law[law]);
    find_all_limits(space, &fitted, &laws->law[law]);
  }
  tenter_law_space_free(space);
  tenter_free(linear);
  tenter_free(sorted);
  laws->mountings = p->series;
  laws->sessions = p->count;
  laws->youngest_hours = p->count > 0 ? p->youngest : NAN;
  laws->oldest_hours = p->count > 0 ? p->oldest : NAN;
  if (status != TENTER_OK)
    return status;
  choose(j, arena, laws);
  return tenter_arena_failed(arena) ? tenter_fail_memory(error) : TENTER_OK;
}

/* ---- of a lot, of a mounting ---------------------------------------------------------------- */

static bool belongs(const tenter_mounting *m, uint32_t mesh, uint32_t lot) {
  return m->is.mesh == mesh && (lot == TENTER_NO_NAME || m->is.lot == lot) &&
         m->session_count >= LEAST_SESSIONS;
}

tenter_status judge__lot_laws(const judge *j, uint32_t mesh, uint32_t lot, tenter_arena *arena,
                              tenter_screen_laws *laws, tenter_error *error) {
  size_t sessions = 0, mountings = 0, seen = 0;
  for (size_t i = 0; i < j->shop->mounting_count; i++)
    if (belongs(&j->shop->mountings[i], mesh, lot)) {
      sessions += j->shop->mountings[i].session_count;
      mountings++;
    }
  points p;
  bool made = make_room(&p, sessions, mountings);
  size_t stride = 1 + sessions / MOST_POINTS; /* every so manieth mounting of a very large lot */
  for (size_t i = 0; made && i < j->shop->mounting_count; i++) {
    const tenter_mounting *m = &j->shop->mountings[i];
    if (belongs(m, mesh, lot) && seen++ % stride == 0)
      add_series(j, judge__level_begin(j, m), m->first_session + m->session_count, least_decades,
                 &p);
  }
  tenter_status status = made ? fit_all(j, &p, arena, laws, error) : tenter_fail_memory(error);
  release(&p);
  return status;
}

tenter_status judge__own_laws(const judge *j, size_t begin, size_t end, tenter_arena *arena,
                              tenter_screen_laws *laws, tenter_error *error) {
  points p;
  bool made = make_room(&p, end - begin, 1);
  if (made)
    add_series(j, begin, end, 0, &p);
  tenter_status status = made ? fit_all(j, &p, arena, laws, error) : tenter_fail_memory(error);
  release(&p);
  return status;
}
