/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings taken together, given to their mounting; which sessions are full; what the events did to
 * each mounting. */
#include "model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "order.h"
#include "tenter/base/alloc.h"
#include "tenter/base/mix.h"

/* A session's points as a set: how many, and a sum of mixed bits that is the same for the same set.
 */
typedef struct point_set {
  uint64_t mixed;
  uint16_t count;
} point_set;

static uint32_t point_of(const tenter_readings *r, uint32_t i) {
  return ((uint32_t)r->position[i] * TENTER_DIRECTIONS + r->direction[i]);
}

/* Where the point's stamp stands: positions not given share the last place. */
static uint32_t stamp_place(const draft *d, uint32_t point) {
  uint32_t given = (uint32_t)d->tables->position_count * TENTER_DIRECTIONS;
  return point < given ? point : given + point % TENTER_DIRECTIONS;
}

static point_set points_of(draft *d, uint32_t first, uint32_t count) {
  point_set set = {0};
  d->stamp++;
  for (uint32_t i = first; i < first + count; i++) {
    uint32_t point = point_of(&d->tables->readings, i);
    uint32_t *seen = &d->seen[stamp_place(d, point)];
    if (*seen == d->stamp)
      continue;
    *seen = d->stamp;
    set.mixed += tenter_mix(point);
    set.count++;
  }
  return set;
}

/* ---- cutting -----------------------------------------------------------------------------------
 */

/* For which side of a mounting's begin a reading counts: a date alone may be the end of its day. */
static tenter_time side_of(const tenter_readings *r, uint32_t i) {
  tenter_time taken = r->taken[i];
  bool date_only = r->flags[i] & TENTER_READING_DATE_ONLY;
  return date_only ? tenter_day_start(taken) + TENTER_DAY - 1 : taken;
}

static bool same_session(const draft *d, uint32_t before, uint32_t i) {
  const tenter_readings *r = &d->tables->readings;
  bool date_only = r->flags[i] & TENTER_READING_DATE_ONLY;
  if (date_only && (r->flags[before] & TENTER_READING_DATE_ONLY))
    return r->taken[before] == r->taken[i]; /* both at noon */
  double gap_hours = ((double)r->taken[i] - (double)r->taken[before]) / TENTER_HOUR;
  return gap_hours <= d->config->settings.session_gap_hours;
}

/* Room for count more; false, and failed set, when memory ran out. */
static bool session_room(draft *d, size_t count) {
  if (d->session_count + count <= d->session_room)
    return true;
  size_t room = d->session_room ? 2 * d->session_room : 1024;
  room = room < d->session_count + count ? d->session_count + count : room;
  tenter_session *grown = tenter_resize(d->sessions, room, sizeof *grown);
  if (grown) {
    d->sessions = grown;
    d->session_room = room;
  } else {
    d->failed = true;
  }
  return grown != NULL;
}

static tenter_session *add_session(draft *d, uint32_t screen, size_t mounting, uint32_t first) {
  if (!session_room(d, 1))
    return NULL;
  const tenter_readings *r = &d->tables->readings;
  tenter_session *session = &d->sessions[d->session_count++];
  *session = (tenter_session){.screen = screen,
                              .mounting = (uint32_t)mounting,
                              .first = first,
                              .taken = r->taken[first],
                              .meter = r->meter[first],
                              .operator= tenter_reading_operator(r, first)};
  return session;
}

static void take_reading(const tenter_readings *r, tenter_session *session, uint32_t i) {
  session->count++;
  session->date_only |= (r->flags[i] & TENTER_READING_DATE_ONLY) != 0;
  if (r->meter[i] != session->meter)
    session->meter = TENTER_NO_NAME16;
  if (tenter_reading_operator(r, i) != session->operator)
    session->operator= TENTER_NO_NAME16;
}

/* Mountings come in order of time and so do readings; a mounting once left is not gone back to. */
static void cut_sessions(draft *d, const screen_rows *rows, size_t mounting) {
  const tenter_readings *r = &d->tables->readings;
  size_t given = SIZE_MAX; /* the mounting of the session at hand */
  for (uint32_t i = rows->reading; i < rows->reading_end; i++) {
    while (mounting + 1 < d->mounting_count && side_of(r, i) >= d->mountings[mounting].ends)
      mounting++;
    if (mounting != given || !same_session(d, i - 1, i)) {
      if (!add_session(d, rows->screen, mounting, i))
        return;
      given = mounting;
    }
    take_reading(r, &d->sessions[d->session_count - 1], i);
  }
}

/* ---- full sessions -----------------------------------------------------------------------------
 */

static int point_set_order(const void *a, const void *b) {
  const point_set *p = a, *q = b;
  CHAIN(order_whole(p->count, q->count));
  return (p->mixed > q->mixed) - (p->mixed < q->mixed);
}

/* The most frequent set; the larger of equally frequent ones. sorted is put in order. */
static point_set usual_set(point_set *sorted, size_t count) {
  qsort(sorted, count, sizeof *sorted, point_set_order);
  point_set usual = {0};
  for (size_t from = 0, most = 0, to; from < count; from = to) {
    for (to = from; to < count && point_set_order(&sorted[from], &sorted[to]) == 0; to++)
      ;
    if (to - from >= most) { /* sets come by size, so the later of equals is the larger */
      most = to - from;
      usual = sorted[from];
    }
  }
  return usual;
}

/* True where session covers all points of the sample session. */
static bool covers(draft *d, const tenter_session *session, const tenter_session *sample) {
  points_of(d, session->first, session->count); /* leaves its points stamped */
  for (uint32_t i = sample->first; i < sample->first + sample->count; i++)
    if (d->seen[stamp_place(d, point_of(&d->tables->readings, i))] != d->stamp)
      return false;
  return true;
}

/* Read at the same points in the same order, as the rows of one layout mostly are. */
static bool read_alike(const tenter_readings *r, const tenter_session *a, const tenter_session *b) {
  size_t count = a->count;
  return a->count == b->count &&
         memcmp(r->position + a->first, r->position + b->first, count * sizeof *r->position) == 0 &&
         memcmp(r->direction + a->first, r->direction + b->first, count) == 0;
}

/* Fills the sets of the sessions, twice over (the second copy is to be sorted); true where all are
 * the same, as they mostly are. */
static bool gather_sets(draft *d, tenter_session *sessions, size_t count, point_set *sets) {
  const tenter_readings *r = &d->tables->readings;
  bool same = true;
  for (size_t i = 0; i < count; i++) {
    bool alike = i > 0 && read_alike(r, &sessions[i - 1], &sessions[i]);
    sets[i] = alike ? sets[i - 1] : points_of(d, sessions[i].first, sessions[i].count);
    sets[count + i] = sets[i];
    sessions[i].points = sets[i].count;
    same = same && point_set_order(&sets[0], &sets[i]) == 0;
  }
  return same;
}

static void mark_full(draft *d, size_t first) {
  size_t count = d->session_count - first;
  if (count == 0)
    return; /* never read: there may be no sessions at all */
  tenter_session *sessions = d->sessions + first;
  point_set *sets = tenter_alloc(2 * count + 1, sizeof *sets);
  if (!sets) {
    d->failed = true;
    return;
  }
  bool same = gather_sets(d, sessions, count, sets);
  point_set usual = same ? sets[0] : usual_set(sets + count, count);
  const tenter_session *sample = NULL;
  for (size_t i = 0; i < count && !sample; i++)
    if (point_set_order(&sets[i], &usual) == 0)
      sample = &sessions[i];
  for (size_t i = 0; i < count; i++)
    sessions[i].full = point_set_order(&sets[i], &usual) == 0 ||
                       (sample && sets[i].count > usual.count && covers(d, &sessions[i], sample));
  tenter_free(sets);
}

/* ---- events ------------------------------------------------------------------------------------
 */

static tenter_time event_side(const tenter_event *event) {
  return event->at.date_only ? tenter_day_start(event->at.at) + TENTER_DAY - 1 : event->at.at;
}

/* The age zero is when the mesh was glued, unless a date says less than the time of the stretch. */
static void glue(tenter_mounting *mounting, tenter_when glued) {
  bool first = mounting->zero.at == mounting->stretched.at;
  bool known = mounting->stretched.at != TENTER_NO_TIME;
  bool same_day = known && tenter_day_start(glued.at) == tenter_day_start(mounting->stretched.at);
  if (!first || (known && same_day && glued.date_only && !mounting->stretched.date_only) ||
      (known && !same_day && glued.at < mounting->stretched.at))
    return;
  if (known && !glued.date_only && !mounting->stretched.date_only &&
      glued.at < mounting->stretched.at)
    return; /* glued, then stretched again: the stretch is the zero */
  mounting->zero = glued;
}

static void take_event(tenter_mounting *mounting, const tenter_event *event) {
  switch (event->kind) {
  case TENTER_EVENT_GLUED:
    glue(mounting, event->at);
    break;
  case TENTER_EVENT_COATED:
    mounting->stencil = true;
    break;
  case TENTER_EVENT_PRINTED:
    mounting->impressions += isnan(event->count) ? 0 : event->count;
    break;
  case TENTER_EVENT_RECLAIMED:
    mounting->stencil = false;
    mounting->reclaims++;
    break;
  case TENTER_EVENT_HAZE_REMOVED:
    mounting->haze_removals++;
    break;
  default:
    break;
  }
}

static void give_events(draft *d, const screen_rows *rows, size_t mounting) {
  for (uint32_t i = rows->event; i < rows->event_end; i++) {
    const tenter_event *event = &d->tables->events[i];
    while (mounting + 1 < d->mounting_count && event_side(event) >= d->mountings[mounting].ends)
      mounting++;
    tenter_mounting *given = &d->mountings[mounting];
    if (given->event_count == 0)
      given->first_event = i;
    given->event_count = i + 1 - given->first_event;
    take_event(given, event);
  }
}

/* ---- mountings that nobody saw
 * ------------------------------------------------------------------- */

static void count_sessions(draft *d, size_t first_mounting, size_t first_session) {
  for (size_t i = d->session_count; i-- > first_session;) {
    tenter_mounting *mounting = &d->mountings[d->sessions[i].mounting];
    mounting->first_session = i;
    mounting->session_count++;
  }
  for (size_t i = first_mounting; i < d->mounting_count; i++)
    if (d->mountings[i].session_count == 0)
      d->mountings[i].first_session = d->session_count;
}

/* A mounting of unknown zero without readings is nobody's, but for a screen that has no other. */
static bool keeps(const draft *d, size_t first, size_t i) {
  const tenter_mounting *mounting = &d->mountings[i];
  bool only = d->mounting_count - first == 1;
  return mounting->began != TENTER_EVENT_NOTE || mounting->session_count > 0 || only;
}

static void say_missing_start(draft *d, const tenter_mounting *mounting) {
  const tenter_session *session = &d->sessions[mounting->first_session];
  const tenter_readings *r = &d->tables->readings;
  tenter_value read = tenter_value_when((tenter_when){session->taken, session->date_only});
  tenter__find(d, mounting->screen, mounting->source, tenter_reading_row(r, session->first),
               TENTER_SAY_SHOP_NO_START, &read, 1);
}

static void drop_empty(draft *d, size_t first) {
  size_t kept = first;
  for (size_t i = first; i < d->mounting_count; i++) {
    if (!keeps(d, first, i))
      continue;
    tenter_mounting *mounting = &d->mountings[kept];
    *mounting = d->mountings[i];
    mounting->ordinal = (uint32_t)(kept - first);
    if (mounting->began == TENTER_EVENT_NOTE && mounting->source.line > 0)
      say_missing_start(d, mounting);
    for (size_t k = 0; k < mounting->session_count; k++)
      d->sessions[mounting->first_session + k].mounting = (uint32_t)kept;
    kept++;
  }
  d->mounting_count = kept;
}

/* ---- from a later moment ------------------------------------------------------------------------
 */

/* Whether nothing but readings is newer than as_of, so that the mountings are those of later. */
static bool same_mountings(const draft *d, const screen_rows *rows, size_t first) {
  const tenter_screen *screen = &d->later->screens[rows->screen];
  bool same =
      rows->event_end == rows->event_late && screen->mounting_count == d->mounting_count - first;
  for (uint32_t i = rows->reg; i < rows->reg_end && same; i++) {
    tenter_time stretched = d->tables->registers[i].attributes.stretched.at;
    same = stretched == TENTER_NO_TIME || stretched <= d->as_of;
  }
  return same;
}

/* The sessions of the screen in later, all its mountings together. */
static const tenter_session *later_sessions(const draft *d, uint32_t screen, size_t *count) {
  const tenter_screen *s = &d->later->screens[screen];
  const tenter_mounting *mountings = &d->later->mountings[s->first_mounting];
  size_t first = SIZE_MAX;
  *count = 0;
  for (size_t i = 0; i < s->mounting_count; i++) {
    if (mountings[i].session_count > 0 && first == SIZE_MAX)
      first = mountings[i].first_session;
    *count += mountings[i].session_count;
  }
  return first == SIZE_MAX ? NULL : &d->later->sessions[first];
}

/* Takes the sessions over from the later shop, where it can be seen that they were the same then:
 * whole ones, all read at as many points and full; false where they must be cut anew. */
static bool take_over(draft *d, const screen_rows *rows, size_t first) {
  if (!d->later || !same_mountings(d, rows, first))
    return false;
  size_t count, kept = 0, first_session = d->session_count;
  const tenter_session *from = later_sessions(d, rows->screen, &count);
  for (size_t i = 0; i < count; i++) {
    if (!from[i].full || from[i].points != from[0].points)
      return false;
    kept += from[i].first + from[i].count <= rows->reading_end;
  }
  if (kept > 0 && from[kept - 1].first + from[kept - 1].count != rows->reading_end)
    return false; /* one was cut short then */
  if (kept == 0 && rows->reading != rows->reading_end)
    return false;
  if (!session_room(d, kept))
    return false; /* with failed set */
  uint32_t moved = (uint32_t)first - d->later->screens[rows->screen].first_mounting;
  for (size_t i = 0; i < kept; i++) {
    d->sessions[first_session + i] = from[i];
    d->sessions[first_session + i].mounting += moved; /* modulo 2^32 */
  }
  d->session_count += kept;
  return true;
}

void tenter__sessions(draft *d, const screen_rows *rows, size_t first) {
  size_t first_session = d->session_count;
  if (!take_over(d, rows, first)) {
    if (!d->failed)
      cut_sessions(d, rows, first);
    if (d->failed)
      return;
    mark_full(d, first_session);
  }
  give_events(d, rows, first);
  count_sessions(d, first, first_session);
  drop_empty(d, first);
}
