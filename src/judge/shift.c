/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Meters, people and days that moved: found from the sessions beside the mountings' own lines, and
 * from check plates, by stats/shift.h.
 *
 * Outline: an even sample of mountings; bins of a day for the last three weeks and of a week for
 * 17 weeks before (what moved earlier counts as having been so always); where a shift is older,
 * once more with days around its begin; and at last with bins of a few readings in the days in
 * which it may have begun, since a meter is dropped at ten o'clock and not at midnight: what was
 * read before and taken as shifted would look like another shift, and what was read after and not,
 * would condemn screens. Then every session learns how far it is off; what may lie on either side
 * of the begin is doubtful. What has shifted is left out of the lines that forecasts rest on, or
 * corrected for it where the settings ask: a session corrected carries the uncertainty of that. */
#include "shift.h"

#include <stdlib.h>
#include <string.h>

#include "tenter/base/alloc.h"

enum {
  SAMPLE_SESSIONS = 20000,
  MOUNTING_SESSIONS = 60,
  MOST_GROUPS = 60,
  MOST_GAUGE_GROUPS = 256,
  DAYS = 21,  /* daily bins; and those around an older begin */
  WEEKS = 17, /* weekly ones before */
  FINE = 16,  /* bins for the days in which a step may have begun */
  MOST_EDGES = 65
};

static const double limit = 16;         /* support: four standard errors, for some hundred begins */
static const double loss_spread = 0.25; /* of a mounting's loss about its lot's, as a share */
static const double always = -1e5;      /* days: before anything */

/* ---- what is looked at ---------------------------------------------------------------------- */

typedef struct scan {
  judge *j;
  tenter_shift_data d;
  tenter_shift_fit fit;
  double end; /* civil seconds: the end of the last day */
  double edge[MOST_EDGES];
  uint32_t *first;
  uint16_t *group;
  double *u, *y, *variance, *gauge_error, *gauge_variance;
  uint8_t *source[2], *bin, *gauge_source, *gauge_bin;
  uint16_t *gauge_group;
  double *days, *gauge_days;              /* when: days before the end, negative */
  uint16_t name[2][TENTER_SHIFT_SOURCES]; /* of meters and operators scanned */
  uint64_t slope[MOST_GROUPS];            /* keys of groups */
  double level;                           /* mean tension */
} scan;

static double days_of(const scan *s, tenter_time at) {
  return ((double)at - s->end) / TENTER_DAY;
}

/* Weekly bins, but daily ones from focus - DAYS/2 to focus + DAYS/2 days (focus 0: the last DAYS).
 */
static void make_bins(scan *s, double focus) {
  double from = focus < -DAYS / 2.0 ? fmax(focus - DAYS / 2.0, -DAYS - 7.0 * WEEKS) : -DAYS;
  double to = from + DAYS, at = -DAYS - 7.0 * WEEKS;
  s->d.bins = 1;
  s->edge[0] = always;
  while (at < 0) {
    s->edge[s->d.bins++] = at;
    at = at >= from && at < to ? at + 1 : at < from ? fmin(at + 7, from) : fmin(at + 7, 0);
  }
  s->edge[s->d.bins] = 0;
  s->d.spells = to >= 0 ? DAYS : 0;
  s->d.edge = s->edge;
}

static uint8_t bin_of(const scan *s, double days) {
  size_t bin = s->d.bins - 1;
  while (bin > 0 && days < s->edge[bin])
    bin--;
  return (uint8_t)bin;
}

/* Instead of the bins from edge `low` to edge `high`: bins that begin with a reading of one of the
 * shift's candidates, as even as can be. */
static void split_bins(scan *s, size_t low, size_t high, double *times, size_t count) {
  double edge[MOST_EDGES];
  size_t bins = 0;
  for (size_t i = 0; i <= low; i++)
    edge[bins++] = s->edge[i];
  for (size_t i = 0; i < FINE; i++) {
    double at = count ? times[i * count / FINE] : edge[bins - 1];
    if (at > edge[bins - 1] && at < s->edge[high])
      edge[bins++] = at;
  }
  s->d.spells = s->d.spells < s->d.bins - high ? s->d.spells : s->d.bins - high;
  for (size_t i = high; i <= s->d.bins; i++)
    edge[bins++] = s->edge[i];
  s->d.bins = bins - 1;
  memcpy(s->edge, edge, bins * sizeof *edge);
}

static void fill_bins(scan *s) {
  for (size_t i = 0; i < s->first[s->d.units]; i++)
    s->bin[i] = bin_of(s, s->days[i]);
  for (size_t i = 0; i < s->d.gauges; i++)
    s->gauge_bin[i] = bin_of(s, s->gauge_days[i]);
}

/* ---- sources -------------------------------------------------------------------------------- */

static uint16_t name_of(const tenter_session *session, int kind) {
  return kind ? session->operator: session->meter;
}

static size_t sampled(const tenter_mounting *m) {
  return m->session_count < MOUNTING_SESSIONS ? m->session_count : MOUNTING_SESSIONS;
}

/* The last sessions of a mounting count most here. */
static size_t sample_begin(const tenter_mounting *m) {
  return m->first_session + m->session_count - sampled(m);
}

static size_t stride_of(const judge *j) {
  return 1 + j->shop->session_count / SAMPLE_SESSIONS;
}

/* The meters and operators read with most in the sample. */
static bool pick_sources(scan *s, int kind) {
  static const tenter_name_kind kinds[2] = {TENTER_NAME_METER, TENTER_NAME_OPERATOR};
  const judge *j = s->j;
  size_t names = tenter_names_count(j->tables->names[kinds[kind]]), stride = stride_of(j);
  uint32_t *sessions = tenter_alloc(names + 1, sizeof *sessions);
  for (size_t i = 0; sessions && i < j->shop->mounting_count; i += stride) {
    const tenter_mounting *m = &j->shop->mountings[i];
    for (size_t k = sample_begin(m); k < m->first_session + m->session_count; k++)
      if (name_of(&j->shop->sessions[k], kind) != TENTER_NO_NAME16)
        sessions[name_of(&j->shop->sessions[k], kind)]++;
  }
  while (sessions && s->d.scanned[kind] + 1 < TENTER_SHIFT_SOURCES) {
    size_t best = names;
    for (size_t i = 0; i < names; i++)
      if (sessions[i] > 0 && (best == names || sessions[i] > sessions[best]))
        best = i;
    if (best == names)
      break;
    s->name[kind][s->d.scanned[kind]++] = (uint16_t)best;
    sessions[best] = 0;
  }
  s->d.sources[kind] = s->d.scanned[kind] + 1; /* the last: all others, and none */
  tenter_free(sessions);
  return sessions != NULL;
}

static uint8_t source_of(const scan *s, int kind, uint16_t name) {
  size_t i = 0;
  while (i < s->d.scanned[kind] && s->name[kind][i] != name)
    i++;
  return (uint8_t)i;
}

/* ---- rows ----------------------------------------------------------------------------------- */

static bool make_room(scan *s, size_t rows) {
  size_t units = s->j->shop->mounting_count / stride_of(s->j) + 2;
  size_t checks = s->j->tables->check_count + 1;
  s->first = tenter_alloc(units, sizeof *s->first);
  s->group = tenter_alloc(units, sizeof *s->group);
  s->u = tenter_alloc(rows, sizeof *s->u);
  s->y = tenter_alloc(rows, sizeof *s->y);
  s->variance = tenter_alloc(rows, sizeof *s->variance);
  s->days = tenter_alloc(rows, sizeof *s->days);
  s->bin = tenter_alloc(rows, sizeof *s->bin);
  s->source[0] = tenter_alloc(rows, sizeof *s->source[0]);
  s->source[1] = tenter_alloc(rows, sizeof *s->source[1]);
  s->gauge_error = tenter_alloc(checks, sizeof *s->gauge_error);
  s->gauge_variance = tenter_alloc(checks, sizeof *s->gauge_variance);
  s->gauge_days = tenter_alloc(checks, sizeof *s->gauge_days);
  s->gauge_source = tenter_alloc(checks, sizeof *s->gauge_source);
  s->gauge_bin = tenter_alloc(checks, sizeof *s->gauge_bin);
  s->gauge_group = tenter_alloc(checks, sizeof *s->gauge_group);
  return s->first && s->group && s->u && s->y && s->variance && s->days && s->bin && s->source[0] &&
         s->source[1] && s->gauge_error && s->gauge_variance && s->gauge_days && s->gauge_source &&
         s->gauge_bin && s->gauge_group;
}

static void release(scan *s) {
  void *const arrays[] = {s->first,
                          s->group,
                          s->u,
                          s->y,
                          s->variance,
                          s->days,
                          s->bin,
                          s->source[0],
                          s->source[1],
                          s->gauge_error,
                          s->gauge_variance,
                          s->gauge_days,
                          s->gauge_source,
                          s->gauge_bin,
                          s->gauge_group};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
}

/* Mountings of one lot share a mean loss; where there are too many lots, those of one mesh do. */
static uint16_t group_of(scan *s, const tenter_mounting *m, bool by_lot) {
  uint64_t mesh = mesh_slot(s->j, m->is.mesh), lot = by_lot ? m->is.lot : 0;
  uint64_t key = mesh << 32 | lot;
  for (size_t i = 0; i < s->d.groups; i++)
    if (s->slope[i] == key)
      return (uint16_t)i;
  if (s->d.groups == MOST_GROUPS)
    return MOST_GROUPS; /* no room */
  s->slope[s->d.groups++] = key;
  return (uint16_t)(s->d.groups - 1);
}

static bool is_usable(const judge *j, const tenter_mounting *m, const tenter_session *session) {
  double age = tenter_mounting_age_hours(m, session->taken);
  bool vague = tenter_mounting_age_doubt_hours(m, session) > 0 && age < 48;
  return age > 0 && !vague && age * 60 >= j->settings->least_age_minutes;
}

static void add_row(scan *s, size_t session, size_t row) {
  const judge *j = s->j;
  const session_value *value = &j->sessions[session];
  const tenter_session *at = &j->shop->sessions[session];
  s->u[row] = value->u;
  s->y[row] = value->adjusted;
  s->variance[row] = value->variance + squared(j->noise.session);
  s->days[row] = days_of(s, at->taken);
  for (int kind = 0; kind < 2; kind++)
    s->source[kind][row] = source_of(s, kind, name_of(at, kind));
  s->level += (value->adjusted - s->level) / ((double)row + 1);
}

static void add_mounting(scan *s, const tenter_mounting *m, uint32_t *rows, bool by_lot) {
  uint32_t before = *rows;
  for (size_t k = sample_begin(m); k < m->first_session + m->session_count; k++)
    if (is_usable(s->j, m, &s->j->shop->sessions[k]))
      add_row(s, k, (*rows)++);
  if (*rows == before)
    return;
  uint16_t group = group_of(s, m, by_lot);
  s->group[s->d.units++] = group < MOST_GROUPS ? group : MOST_GROUPS - 1;
  s->first[s->d.units] = *rows;
}

static size_t count_rows(const judge *j) {
  size_t rows = 1;
  for (size_t i = 0; i < j->shop->mounting_count; i += stride_of(j))
    rows += sampled(&j->shop->mountings[i]);
  return rows;
}

static void fill_rows(scan *s) {
  const judge *j = s->j;
  bool by_lot = true;
  for (size_t i = 0; i < j->shop->mounting_count && by_lot; i += stride_of(j))
    by_lot = group_of(s, &j->shop->mountings[i], true) < MOST_GROUPS;
  s->d.groups = 0;
  uint32_t rows = 0;
  for (size_t i = 0; i < j->shop->mounting_count; i += stride_of(j))
    add_mounting(s, &j->shop->mountings[i], &rows, by_lot);
}

/* ---- check plates --------------------------------------------------------------------------- */

/* Errors of a meter on one plate, in order of time, and where they stand among the gauges. */
static void weigh_gauges(scan *s, uint16_t source) {
  double *errors = s->y + s->first[s->d.units]; /* free room: see make_all */
  size_t count = 0;
  for (size_t i = 0; i < s->d.gauges; i++)
    if (s->gauge_source[i] == source)
      errors[count++] = s->gauge_error[i];
  double sd = count ? judge__check_sd(s->j, errors, count) : 1;
  double step = s->j->meters[s->name[0][source]].resolution;
  for (size_t i = 0; i < s->d.gauges; i++)
    if (s->gauge_source[i] == source)
      s->gauge_variance[i] = fmax(sd * sd, step * step / 12);
}

static void fill_gauges(scan *s) {
  const judge *j = s->j;
  uint64_t keys[MOST_GAUGE_GROUPS];
  size_t groups = 0;
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    uint8_t source = source_of(s, 0, (uint16_t)check->meter);
    if (check->at.at > j->shop->as_of || source == s->d.scanned[0])
      continue;
    uint64_t key = (uint64_t)source << 32 | (uint32_t)llround(100 * check->nominal);
    size_t g = 0;
    while (g < groups && keys[g] != key)
      g++;
    if (g == MOST_GAUGE_GROUPS)
      continue;
    keys[g] = key;
    groups += g == groups;
    size_t at = s->d.gauges++;
    s->gauge_error[at] = check->indicated - check->nominal;
    s->gauge_source[at] = source;
    s->gauge_group[at] = (uint16_t)g;
    s->gauge_days[at] = days_of(s, check->at.at);
  }
  for (size_t source = 0; source < s->d.scanned[0]; source++)
    weigh_gauges(s, (uint16_t)source);
}

/* ---- finding -------------------------------------------------------------------------------- */

static tenter_status look(scan *s, tenter_error *error) {
  fill_bins(s);
  tenter_shift_data *d = &s->d;
  d->first = s->first;
  d->group = s->group;
  d->u = s->u;
  d->y = s->y;
  d->variance = s->variance;
  d->source[0] = s->source[0];
  d->source[1] = s->source[1];
  d->bin = s->bin;
  d->gauge_source = s->gauge_source;
  d->gauge_bin = s->gauge_bin;
  d->gauge_group = s->gauge_group;
  d->gauge_error = s->gauge_error;
  d->gauge_variance = s->gauge_variance;
  d->slope_sd = loss_spread * s->j->settings->prior_loss_share * s->level;
  d->limit = limit;
  d->least = s->j->settings->least_shift;
  return tenter_shift_find(d, &s->fit, error);
}

static bool same_source(const tenter_shift *a, const tenter_shift *b) {
  return a->who.kind == b->who.kind && a->who.source == b->who.source;
}

typedef struct seen { /* a look that can be gone back to */
  tenter_shift_fit fit;
  double edge[MOST_EDGES];
  size_t bins, spells;
} seen;

static seen keep(const scan *s) {
  seen kept = {.fit = s->fit, .bins = s->d.bins, .spells = s->d.spells};
  memcpy(kept.edge, s->edge, sizeof kept.edge);
  return kept;
}

/* Once more with the bins at hand; without the same first shift in it, that look is forgotten. */
static tenter_status look_again(scan *s, const seen *before, tenter_error *error) {
  tenter_status status = look(s, error);
  if (status || (s->fit.shifts > 0 && same_source(&s->fit.shift[0], &before->fit.shift[0])))
    return status;
  s->fit = before->fit;
  s->d.bins = before->bins;
  s->d.spells = before->spells;
  memcpy(s->edge, before->edge, sizeof s->edge);
  fill_bins(s);
  return TENTER_OK;
}

/* With days around the begin of an older step. */
static tenter_status look_closer(scan *s, tenter_error *error) {
  double begin = s->edge[s->fit.shift[0].bin];
  if (begin >= -DAYS)
    return TENTER_OK;
  seen before = keep(s);
  make_bins(s, begin);
  return look_again(s, &before, error);
}

/* Whether readings of these sources are those of one of the shift's candidates. */
static bool is_candidate(const tenter_shift *shift, uint8_t meter, uint8_t operator) {
  bool is = false;
  for (size_t i = 0; i <= shift->others; i++) {
    tenter_shift_source who = i ? shift->other[i - 1] : shift->who;
    is |= who.kind == TENTER_SHIFT_ALL ||
          (who.kind == TENTER_SHIFT_FIRST ? meter : operator) == who.source;
  }
  return is;
}

static int time_order(const void *a, const void *b) {
  const double *x = a, *y = b;
  return (*x > *y) - (*x < *y);
}

/* When the candidates of a shift were read with or checked, from a time to another; in order. */
static size_t times_of(const scan *s, const tenter_shift *shift, double from, double to,
                       double *times) {
  size_t count = 0;
  for (size_t i = 0; i < s->first[s->d.units]; i++)
    if (s->days[i] >= from && s->days[i] < to &&
        is_candidate(shift, s->source[0][i], s->source[1][i]))
      times[count++] = s->days[i];
  for (size_t i = 0; i < s->d.gauges; i++)
    if (s->gauge_days[i] >= from && s->gauge_days[i] < to &&
        is_candidate(shift, s->gauge_source[i], TENTER_SHIFT_SOURCES))
      times[count++] = s->gauge_days[i];
  qsort(times, count, sizeof *times, time_order);
  return count;
}

/* With a few readings a bin in the days in which a step may have begun. */
static tenter_status look_at_begin(scan *s, tenter_error *error) {
  const tenter_shift *shift = &s->fit.shift[0];
  size_t low = shift->earliest - 1, high = shift->bin + 2;
  if (high > s->d.bins)
    high = s->d.bins;
  double *times = tenter_alloc(s->first[s->d.units] + s->d.gauges, sizeof *times);
  if (!times)
    return tenter_fail_memory(error);
  double from = fmax(s->edge[low], s->edge[high] - DAYS);
  size_t count = times_of(s, shift, from, s->edge[high], times);
  seen before = keep(s);
  split_bins(s, low, high, times, count);
  tenter_free(times);
  return look_again(s, &before, error);
}

static tenter_status look_all(scan *s, tenter_error *error) {
  judge *j = s->j;
  s->end = (double)tenter_day_start(j->shop->as_of - 1) + TENTER_DAY;
  size_t rows = count_rows(j);
  if (!pick_sources(s, 0) || !pick_sources(s, 1) || !make_room(s, rows + j->tables->check_count))
    return tenter_fail_memory(error);
  fill_rows(s);
  fill_gauges(s);
  s->fit = (tenter_shift_fit){0};
  if (s->d.units == 0)
    return TENTER_OK;
  make_bins(s, 0);
  tenter_status status = look(s, error);
  if (!status && s->fit.shifts > 0 && s->fit.shift[0].shape == TENTER_SHIFT_STEP)
    status = look_closer(s, error);
  if (!status && s->fit.shifts > 0 && s->fit.shift[0].shape == TENTER_SHIFT_STEP)
    status = look_at_begin(s, error);
  return status;
}

/* ---- what sessions learn -------------------------------------------------------------------- */

static bool is_of(const scan *s, tenter_shift_source who, const tenter_session *session) {
  if (who.kind == TENTER_SHIFT_ALL)
    return true;
  int kind = who.kind == TENTER_SHIFT_SECOND;
  return name_of(session, kind) == s->name[kind][who.source];
}

static bool touches(const scan *s, const tenter_shift *shift, const tenter_session *session) {
  bool touched = is_of(s, shift->who, session);
  for (size_t i = 0; i < shift->others; i++)
    touched |= is_of(s, shift->other[i], session);
  return touched;
}

static void tell_session(scan *s, size_t session) {
  judge *j = s->j;
  session_value *value = &j->sessions[session];
  const tenter_session *at = &j->shop->sessions[session];
  double days = days_of(s, at->taken), off = 0, variance = 0;
  bool doubtful = false;
  for (size_t i = 0; i < s->fit.shifts; i++) {
    const tenter_shift *shift = &s->fit.shift[i];
    double share = tenter_shift_share(shift, s->edge, s->d.bins, days);
    /* It may have begun within the bin before the earliest, too. */
    bool perhaps =
        share == 0 && shift->shape == TENTER_SHIFT_STEP && days >= s->edge[shift->earliest - 1];
    if (perhaps && touches(s, shift, at))
      doubtful = true; /* it may have begun by then */
    if (share == 0 || !touches(s, shift, at))
      continue;
    tenter_review_shift *told = &j->review->shifts[i];
    told->sessions++;
    if (told->since == TENTER_NO_TIME || at->taken < told->since)
      told->since = at->taken;
    off += share * shift->size;
    variance += squared(share * shift->se);
  }
  if (fabs(off) < j->settings->least_shift / 2 && !doubtful)
    return;
  value->state |= SESSION_SHIFTED | SESSION_LEFT_OUT;
  value->shift = (float)off;
  if (j->settings->shifted_readings == TENTER_SHIFTED_CORRECTED && !doubtful) {
    value->state ^= SESSION_LEFT_OUT | SESSION_CORRECTED;
    value->adjusted -= off;
    value->variance += (float)variance;
    value->shift_variance = (float)variance;
  }
}

/* A meter that the plate alone finds off: its sessions keep their place. */
static void tell_plate(judge *j, size_t session) {
  const tenter_session *at = &j->shop->sessions[session];
  if (at->meter == TENTER_NO_NAME16 || j->sessions[session].state & SESSION_SHIFTED)
    return;
  const tenter_review_meter *meter = &j->review->meters[at->meter];
  if (!meter->shifted || at->taken < meter->since)
    return;
  j->sessions[session].state |= SESSION_SHIFTED;
  j->sessions[session].shift = (float)meter->bias;
}

/* ---- all of it ------------------------------------------------------------------------------ */

static bool make_list(scan *s) {
  judge *j = s->j;
  tenter_review *review = j->review;
  review->shift_count = s->fit.shifts;
  review->shifts = tenter_arena_alloc(j->arena, s->fit.shifts, sizeof *review->shifts);
  for (size_t i = 0; review->shifts && i < s->fit.shifts; i++)
    review->shifts[i].since = TENTER_NO_TIME;
  return s->fit.shifts == 0 || review->shifts;
}

tenter_status judge__shifts(judge *j, tenter_error *error) {
  scan s = {.j = j};
  tenter_status status = look_all(&s, error);
  bool plates = false;
  for (size_t i = 0; i < j->review->meter_count; i++)
    plates |= j->review->meters[i].shifted;
  if (!status && !make_list(&s))
    status = tenter_fail_memory(error);
  for (size_t i = 0; !status && s.fit.shifts > 0 && i < j->shop->session_count; i++)
    tell_session(&s, i);
  shift_words words = {.j = j, .fit = &s.fit, .edge = s.edge, .bins = s.d.bins, .end = s.end};
  for (int kind = 0; kind < 2; kind++)
    for (size_t i = 0; i < s.d.scanned[kind]; i++)
      words.name[kind][i] = s.name[kind][i];
  words.scanned[0] = s.d.scanned[0];
  words.scanned[1] = s.d.scanned[1];
  if (!status && !judge__shift_words(&words))
    status = tenter_fail_memory(error);
  for (size_t i = 0; !status && plates && i < j->shop->session_count; i++)
    tell_plate(j, i);
  release(&s);
  return status;
}
