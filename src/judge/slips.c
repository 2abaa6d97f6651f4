/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Slips of the pen: a misplaced decimal point, two digits exchanged; and what else looks written
 * down wrong.
 *
 * Outline: a session whose range is no larger than noise and pattern allow is passed over at once.
 * Of the others every point is held against the session's own middle and the usual pattern; one
 * that stands off by six standard deviations, and that a slip turns into what was expected, is
 * taken out of the session's mean before anything is fitted. Where more than a quarter of the
 * points stand off it is no slip of the pen. Nothing is changed in the data: the checks of single
 * points see it as it stands, and it is listed with its row. */
#include <stdlib.h>
#include <string.h>

#include "points.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { BLOCK_SESSIONS = 4096, MOST_TOLD = 2000, LEAST_POINTS = 3 };

static const double beyond = 6; /* standard deviations: many readings are looked at */
static const double alone = 3;  /* N/cm, by which one stands off that nothing can be held against */
static const double usual_own = 0.5; /* N/cm, a screen's own pattern where it was not learned */

/* ---- what a slip makes ---------------------------------------------------------------------- */

bool judge__digits_fit(double read, double expected, double sd) {
  double near = fmax(4 * sd, 0.03 * expected), rounded = 0.5; /* 2.3 stands for 22.5 to 23.5 */
  if (fabs(read * 10 - expected) <= near + rounded || fabs(read / 10 - expected) <= near)
    return true;
  long tenths = lround(read * 10); /* 21.5 as 12.5 or 25.1 */
  long a = tenths / 100, b = tenths / 10 % 10, c = tenths % 10;
  if (a == 0 || a > 9)
    return false;
  double front = (double)(b * 100 + a * 10 + c) / 10, back = (double)(a * 100 + c * 10 + b) / 10;
  return (a != b && fabs(front - expected) <= near) || (b != c && fabs(back - expected) <= near);
}

double judge__unit_factor(double ratio) {
  static const double factors[] = {0.571015, 1 / 0.571015, 0.1, 10, 0.01, 100};
  for (size_t i = 0; i < sizeof factors / sizeof *factors; i++)
    if (fabs(ratio / factors[i] - 1) < 0.04)
      return factors[i];
  return NAN;
}

void judge__leave_out(judge *j, size_t session, uint32_t slot, uint32_t reading) {
  session_value *value = &j->sessions[session];
  double n = j->shop->sessions[session].count;
  if (n < 2)
    return;
  double off = j->readings->tension[reading] - judge__effect(j, slot, point_of(j, reading));
  value->adjusted = (n * value->adjusted - off) / (n - 1);
  value->variance *= (float)(n / (n - 1));
}

/* ---- one session ---------------------------------------------------------------------------- */

typedef struct search {
  judge *j;
  point_set points;
  double *sorted; /* room for a number a point */
} search;

static double range_of(const judge *j, const tenter_session *s) {
  const double *tension = j->readings->tension + s->first;
  double low = tension[0], high = tension[0];
  for (uint32_t i = 1; i < s->count; i++) {
    low = tension[i] < low ? tension[i] : low;
    high = tension[i] > high ? tension[i] : high;
  }
  return high - low;
}

/* The points of a session, and its middle without the pattern. */
static double gather(search *w, size_t session, uint32_t slot) {
  judge__points_gather(w->j, session, &w->points);
  for (size_t i = 0; i < w->points.count; i++)
    w->sorted[i] = w->points.items[i].mean - judge__effect(w->j, slot, w->points.items[i].point);
  return tenter_median_of(w->sorted, w->points.count);
}

/* Whether the screen is so there: a session before or after it reads the point likewise. `by`: how
 * far the point stands off. Without such a session only a large one counts as a slip. */
static bool is_its_own(search *w, size_t session, uint32_t slot, uint32_t point, double by) {
  const judge *j = w->j;
  const tenter_mounting *m = mounting_of(j, &j->shop->sessions[session]);
  size_t first = m->first_session, end = first + m->session_count;
  bool compared = false;
  for (size_t other = session > first ? session - 1 : session + 1;
       other < end && other <= session + 1; other += 2) {
    double level = gather(w, other, slot);
    const point_mean *p = points_find(&w->points, point);
    if (!p)
      continue;
    compared = true;
    if (fabs(p->mean - judge__effect(j, slot, point) - level - by) < fabs(by) / 2)
      return true;
  }
  return !compared && fabs(by) < alone;
}

/* False where the session has none. */
static bool find_slip(search *w, size_t session, session_slip *slip) {
  judge *j = w->j;
  uint32_t slot = mesh_slot(j, mounting_of(j, &j->shop->sessions[session])->is.mesh), at = 0;
  double level = gather(w, session, slot), most = 0, way = 0;
  size_t count = w->points.count, off = 0;
  if (count < LEAST_POINTS)
    return false;
  double own = judge__screen_point_sd(j, slot);
  double sd = hypot(judge__reading_sd(j, slot, level), isnan(own) ? usual_own : own);
  for (size_t i = 0; i < count; i++) {
    const point_mean *p = &w->points.items[i];
    double expected = level + judge__effect(j, slot, p->point), by = fabs(p->mean - expected);
    off += by > beyond * sd;
    if (by > beyond * sd && by > most && p->count == 1 &&
        judge__digits_fit(p->mean, expected, sd)) {
      most = by;
      way = p->mean - expected;
      at = p->point;
      *slip = (session_slip){(uint32_t)session, p->reading, expected};
    }
  }
  return most > 0 && (off == 1 || 4 * off <= count) && !is_its_own(w, session, slot, at, way);
}

/* ---- all sessions --------------------------------------------------------------------------- */

typedef struct found {
  session_slip *items;
  size_t count, room;
} found;

typedef struct pass {
  judge *j;
  found *blocks;
} pass;

static bool add(found *f, session_slip slip) {
  if (f->count == f->room) {
    size_t room = f->room ? 2 * f->room : 16;
    session_slip *items = tenter_resize(f->items, room, sizeof *items);
    if (!items)
      return false;
    f->items = items;
    f->room = room;
  }
  f->items[f->count++] = slip;
  return true;
}

static void search_block(void *context, size_t task, size_t worker) {
  (void)worker;
  pass *p = context;
  judge *j = p->j;
  search w = {.j = j};
  size_t end = (task + 1) * BLOCK_SESSIONS, room = j->tables->position_count + 1;
  bool done = judge__points_new(j, &w.points);
  w.sorted = tenter_alloc(room * TENTER_DIRECTIONS, sizeof *w.sorted);
  done = done && w.sorted;
  for (size_t i = task * BLOCK_SESSIONS; done && i < end && i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    uint32_t slot = mesh_slot(j, mounting_of(j, s)->is.mesh);
    session_slip slip = {0};
    if (s->count < LEAST_POINTS ||
        range_of(j, s) < beyond * judge__reading_sd(j, slot, j->sessions[i].adjusted))
      continue;
    if (find_slip(&w, i, &slip)) {
      judge__leave_out(j, i, slot, slip.reading);
      j->sessions[i].state |= SESSION_SLIP;
      done = add(&p->blocks[task], slip);
    }
  }
  j->failed[task] = !done;
  judge__points_release(&w.points);
  tenter_free(w.sorted);
}

static bool merge(judge *j, const found *blocks, size_t count) {
  size_t all = 0;
  bool done = true;
  for (size_t b = 0; b < count; b++) {
    all += blocks[b].count;
    done = done && !j->failed[b];
  }
  j->slips = tenter_arena_alloc(j->arena, all, sizeof *j->slips);
  for (size_t b = 0; done && j->slips && b < count; b++)
    for (size_t i = 0; i < blocks[b].count; i++)
      j->slips[j->slip_count++] = blocks[b].items[i];
  return done && (j->slips || all == 0);
}

tenter_status judge__slips(judge *j, tenter_error *error) {
  size_t count = (j->shop->session_count + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS;
  pass p = {.j = j, .blocks = tenter_alloc(count + 1, sizeof *p.blocks)};
  j->failed = tenter_arena_alloc(j->arena, count + 1, sizeof *j->failed);
  bool done = p.blocks && j->failed;
  if (done) {
    tenter_pool_run(j->pool, count, search_block, &p);
    done = merge(j, p.blocks, count);
  }
  for (size_t b = 0; p.blocks && b < count; b++)
    tenter_free(p.blocks[b].items);
  tenter_free(p.blocks);
  return done ? TENTER_OK : tenter_fail_memory(error);
}

const session_slip *judge__slip_of(const judge *j, size_t session) {
  size_t low = 0, high = j->slip_count;
  while (low + 1 < high) {
    size_t middle = low + (high - low) / 2;
    if (j->slips[middle].session <= session)
      low = middle;
    else
      high = middle;
  }
  return &j->slips[low];
}

/* ---- what is told --------------------------------------------------------------------------- */

static tenter_row row_of(const judge *j, size_t reading) {
  return tenter_reading_row(j->readings, reading);
}

static void tell(judge *j, size_t session, size_t reading, tenter_say id,
                 const tenter_value *values, size_t count) {
  tenter_finding *slip = &j->review->slips[j->review->slip_count++];
  *slip = (tenter_finding){.screen = j->shop->sessions[session].screen,
                           .rows = {row_of(j, reading), {0, 0}}};
  tenter_say_both(j->arena, judge__form(j), id, values, count, &slip->text, &slip->shown);
}

static void tell_digit(judge *j, const session_slip *slip) {
  const tenter_value values[] = {tenter_value_digits(j->readings->tension[slip->reading], 6),
                                 tenter_value_fixed(slip->expected, 1)};
  tell(j, slip->session, slip->reading, TENTER_SAY_SLIP_DIGIT, values, 2);
}

/* Warp minus weft of a session; NaN where one is missing. */
static double warp_minus_weft(const judge *j, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  double sum[TENTER_DIRECTIONS] = {0}, count[TENTER_DIRECTIONS] = {0};
  for (size_t i = s->first; i < s->first + s->count; i++) {
    sum[j->readings->direction[i]] += j->readings->tension[i];
    count[j->readings->direction[i]]++;
  }
  return sum[TENTER_WARP] / count[TENTER_WARP] - sum[TENTER_WEFT] / count[TENTER_WEFT];
}

/* Directions exchanged: the difference of the session before turned round, and turned back in the
 * one after where there is one. */
static bool is_exchanged(const judge *j, const tenter_mounting *m, size_t session) {
  size_t end = m->first_session + m->session_count;
  if (session == m->first_session || j->sessions[session].state & SESSION_SLIP)
    return false;
  double before = warp_minus_weft(j, session - 1);
  if (!(fabs(before) > 1))
    return false;
  double now = warp_minus_weft(j, session);
  if (session > m->first_session + 1 && warp_minus_weft(j, session - 2) * before < 0)
    return false; /* the one before was the odd one */
  double after = session + 1 < end ? warp_minus_weft(j, session + 1) : before;
  const tenter_session *s = &j->shop->sessions[session];
  double sd = judge__reading_sd(j, mesh_slot(j, m->is.mesh), j->sessions[session].adjusted) *
              sqrt(8.0 / s->count);
  return fabs(now + before) < 3 * sd && fabs(now - before) > beyond * sd &&
         fabs(now - after) > beyond * sd;
}

/* A session set aside as misread that another unit explains, against the session before. */
static double other_unit(const judge *j, const tenter_mounting *m, size_t session) {
  if (session == m->first_session || !(j->sessions[session].state & SESSION_MISREAD))
    return NAN;
  return judge__unit_factor(j->sessions[session].adjusted / j->sessions[session - 1].adjusted);
}

typedef struct exchanging {
  const judge *j;
  bool *found; /* by session */
} exchanging;

static void look_for_exchanged(void *context, size_t task, size_t worker) {
  (void)worker;
  const exchanging *e = context;
  size_t end = (task + 1) * BLOCK_SESSIONS;
  for (size_t i = task * BLOCK_SESSIONS; i < end && i < e->j->shop->session_count; i++)
    e->found[i] = is_exchanged(e->j, mounting_of(e->j, &e->j->shop->sessions[i]), i);
}

static void tell_session(judge *j, size_t session, bool exchanged) {
  const tenter_session *s = &j->shop->sessions[session];
  const tenter_mounting *m = mounting_of(j, s);
  double factor = other_unit(j, m, session);
  if (!isnan(factor)) {
    const tenter_value values[] = {tenter_value_fixed(j->sessions[session].mean, 1),
                                   tenter_value_digits(factor, 2),
                                   tenter_value_fixed(j->sessions[session - 1].mean, 1)};
    tell(j, session, s->first, TENTER_SAY_SLIP_UNIT, values, 3);
  } else if (exchanged) {
    const tenter_value values[] = {tenter_value_signed(warp_minus_weft(j, session), 1),
                                   tenter_value_signed(warp_minus_weft(j, session - 1), 1)};
    tell(j, session, s->first, TENTER_SAY_SLIP_EXCHANGED, values, 2);
  }
}

tenter_status judge__tell_slips(judge *j, tenter_error *error) {
  size_t next = 0, sessions = j->shop->session_count;
  exchanging e = {j, tenter_alloc(sessions + 1, sizeof *e.found)};
  j->review->slips = tenter_arena_alloc(j->arena, MOST_TOLD, sizeof *j->review->slips);
  if (!j->review->slips || !e.found) {
    tenter_free(e.found);
    return tenter_fail_memory(error);
  }
  tenter_pool_run(j->pool, (sessions + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS, look_for_exchanged,
                  &e);
  for (size_t i = 0; i < sessions && j->review->slip_count < MOST_TOLD; i++) {
    if (next < j->slip_count && j->slips[next].session == i)
      tell_digit(j, &j->slips[next++]);
    else
      tell_session(j, i, e.found[i]);
  }
  tenter_free(e.found);
  return tenter_arena_failed(j->arena) ? tenter_fail_memory(error) : TENTER_OK;
}
