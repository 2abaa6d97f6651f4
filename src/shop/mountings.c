/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lives of the mesh on one screen, from events, the register and the `stretched` of readings'
 * rows.
 *
 * Outline: all that starts or ends a life becomes a mark; marks in order of time cut the screen's
 * time into mountings. A mounting that nothing starts (before the first mark; after an end) has an
 * unknown age zero and stays only where readings fall into it (sessions.c). */
#include "model.h"

#include <math.h>
#include <stdlib.h>

#include "order.h"
#include "tenter/base/alloc.h"

typedef struct mark {
  tenter_time at;         /* where readings change sides */
  tenter_when stretched;  /* of a start: its last stage */
  tenter_event_kind kind; /* STRETCHED, RETENSIONED, REMESHED; BURST, RETIRED */
  tenter_row row;
} mark;

typedef struct marks {
  mark *items;
  size_t count;
} marks;

static bool is_start(tenter_event_kind kind) {
  return kind == TENTER_EVENT_STRETCHED || kind == TENTER_EVENT_RETENSIONED ||
         kind == TENTER_EVENT_REMESHED;
}

static bool is_end(tenter_event_kind kind) {
  return kind == TENTER_EVENT_BURST || kind == TENTER_EVENT_RETIRED;
}

/* Near enough to be the same stretch: within the stages' reach, or on one day where either is a
 * date. */
static bool same_stretch(tenter_when a, tenter_when b) {
  if (a.date_only || b.date_only)
    return tenter_day_start(a.at) == tenter_day_start(b.at);
  return llabs(a.at - b.at) < STAGE_SECONDS;
}

static void add_mark(draft *d, marks *m, mark added) {
  if (!tenter__grow((void **)&m->items, m->count, sizeof *m->items)) {
    d->failed = true;
    return;
  }
  m->items[m->count++] = added;
}

/* From when on readings belong to what starts at `when`: a date alone takes the whole day. */
static tenter_time start_of(tenter_when when) {
  return when.date_only ? tenter_day_start(when.at) : when.at;
}

/* From when on readings no longer belong to what ends at `when`: a date alone leaves it the whole
 * day. */
static tenter_time end_of(tenter_when when) {
  return when.date_only ? tenter_day_start(when.at) + TENTER_DAY : when.at + 1;
}

/* Of stages, fresh mesh says more than a stretch, a stretch more than a re-tension. */
static tenter_event_kind stage_kind(tenter_event_kind a, tenter_event_kind b) {
  if (a == TENTER_EVENT_REMESHED || b == TENTER_EVENT_REMESHED)
    return TENTER_EVENT_REMESHED;
  return a == TENTER_EVENT_STRETCHED ? a : b;
}

static void mark_events(draft *d, const screen_rows *rows, marks *m) {
  for (uint32_t i = rows->event; i < rows->event_end; i++) {
    const tenter_event *event = &d->tables->events[i];
    if (is_end(event->kind)) {
      add_mark(d, m, (mark){.at = end_of(event->at), .kind = event->kind, .row = event->row});
    } else if (is_start(event->kind)) {
      mark *last = m->count ? &m->items[m->count - 1] : NULL;
      if (last && is_start(last->kind) && same_stretch(last->stretched, event->at)) {
        last->stretched = event->at;
        last->kind = stage_kind(last->kind, event->kind);
      } else {
        add_mark(d, m, (mark){start_of(event->at), event->at, event->kind, event->row});
      }
    }
  }
}

static bool explained(const marks *m, tenter_when stretched) {
  for (size_t i = 0; i < m->count; i++)
    if (is_start(m->items[i].kind) && same_stretch(m->items[i].stretched, stretched))
      return true;
  return false;
}

static void mark_stretched(draft *d, marks *m, tenter_when stretched, tenter_row row) {
  if (stretched.at == TENTER_NO_TIME || stretched.at > d->as_of || explained(m, stretched))
    return;
  add_mark(d, m, (mark){start_of(stretched), stretched, TENTER_EVENT_STRETCHED, row});
}

static void mark_readings(draft *d, const screen_rows *rows, marks *m) {
  const tenter_readings *r = &d->tables->readings;
  if (!r->attributes)
    return;
  uint32_t last = 0;
  for (uint32_t i = rows->reading; i < rows->reading_end; i++) {
    uint32_t id = r->attributes[i];
    if (id == last)
      continue;
    last = id;
    mark_stretched(d, m, d->tables->attributes[id].stretched, tenter_reading_row(r, i));
  }
}

/* The register speaks of the current mounting: between the starts that are known it is out of date.
 */
static void mark_register(draft *d, const screen_rows *rows, marks *m) {
  for (uint32_t i = rows->reg; i < rows->reg_end; i++) {
    const tenter_register_row *reg = &d->tables->registers[i];
    tenter_when stretched = reg->attributes.stretched;
    if (stretched.at == TENTER_NO_TIME || stretched.at > d->as_of || explained(m, stretched))
      continue;
    const mark *before = NULL, *after = NULL;
    for (size_t k = 0; k < m->count; k++) {
      if (is_start(m->items[k].kind) && m->items[k].at <= stretched.at)
        before = &m->items[k];
      if (is_start(m->items[k].kind) && m->items[k].at > stretched.at && !after)
        after = &m->items[k];
    }
    if (before && after) {
      const tenter_value values[] = {tenter_value_when(stretched),
                                     tenter_value_when(after->stretched)};
      tenter__find(d, rows->screen, reg->row, after->row, TENTER_SAY_SHOP_REGISTER_OLD, values, 2);
      continue;
    }
    add_mark(d, m, (mark){start_of(stretched), stretched, TENTER_EVENT_STRETCHED, reg->row});
  }
}

static int mark_order(const void *a, const void *b) {
  const mark *p = a, *q = b;
  CHAIN(order_whole(p->at, q->at));
  CHAIN(order_whole(is_start(p->kind), is_start(q->kind))); /* an end before a start */
  CHAIN(order_when(p->stretched, q->stretched));
  CHAIN(order_whole(p->kind, q->kind));
  return order_row(p->row, q->row);
}

static tenter_mounting blank(uint32_t screen, tenter_time begins) {
  return (tenter_mounting){.screen = screen,
                           .began = TENTER_EVENT_NOTE,
                           .stretched = {.at = TENTER_NO_TIME},
                           .zero = {.at = TENTER_NO_TIME},
                           .begins = begins,
                           .ends = INT64_MAX,
                           .is = tenter_attributes_none()};
}

static tenter_mounting *add_mounting(draft *d, tenter_mounting added) {
  if (!tenter__grow((void **)&d->mountings, d->mounting_count, sizeof *d->mountings)) {
    d->failed = true;
    return NULL;
  }
  d->mountings[d->mounting_count] = added;
  return &d->mountings[d->mounting_count++];
}

static void apply_mark(draft *d, uint32_t screen, const mark *m) {
  tenter_mounting *open = &d->mountings[d->mounting_count - 1];
  open->ends = m->at;
  tenter_mounting next = blank(screen, m->at);
  next.source = m->row;
  if (is_start(m->kind)) {
    if (open->end == TENTER_END_NONE)
      open->end = TENTER_END_RENEWED;
    next.began = m->kind;
    next.stretched = next.zero = m->stretched;
  } else {
    open->end = m->kind == TENTER_EVENT_BURST ? TENTER_END_BURST : TENTER_END_RETIRED;
  }
  add_mounting(d, next);
}

void tenter__mountings(draft *d, const screen_rows *rows) {
  marks m = {0};
  mark_events(d, rows, &m);
  mark_readings(d, rows, &m);
  mark_register(d, rows, &m);
  if (m.count)
    qsort(m.items, m.count, sizeof *m.items, mark_order);
  add_mounting(d, blank(rows->screen, INT64_MIN));
  for (size_t i = 0; i < m.count && !d->failed; i++)
    apply_mark(d, rows->screen, &m.items[i]);
  tenter_free(m.items);
}
