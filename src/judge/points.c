/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "points.h"

#include "tenter/base/alloc.h"

enum { MOST_TRIED = 64 }; /* readings of a session whose meter is counted */

bool judge__points_new(const judge *j, point_set *p) {
  size_t count = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  *p = (point_set){.place = tenter_alloc(count, sizeof *p->place),
                   .items = tenter_alloc(count, sizeof *p->items)};
  return p->place && p->items;
}

void judge__points_release(point_set *p) {
  tenter_free(p->place);
  tenter_free(p->items);
  *p = (point_set){0};
}

static void clear(point_set *p) {
  for (size_t i = 0; i < p->count; i++)
    p->place[p->items[i].point] = 0;
  p->count = 0;
}

static void add(const judge *j, size_t reading, point_set *p) {
  uint32_t point = point_of(j, reading);
  double tension = j->readings->tension[reading];
  if (!p->place[point]) { /* most points are read once */
    p->items[p->count] =
        (point_mean){.point = point, .count = 1, .reading = (uint32_t)reading, .mean = tension};
    p->place[point] = (uint32_t)++p->count;
    return;
  }
  point_mean *at = &p->items[p->place[point] - 1];
  at->mean += (tension - at->mean) / ++at->count;
}

void judge__points_gather(const judge *j, size_t session, point_set *p) {
  const tenter_session *s = &j->shop->sessions[session];
  clear(p);
  for (size_t i = s->first; i < s->first + s->count; i++)
    add(j, i, p);
}

void judge__points_gather_of(const judge *j, size_t session, uint16_t meter, point_set *p) {
  const tenter_session *s = &j->shop->sessions[session];
  clear(p);
  for (size_t i = s->first; i < s->first + s->count; i++)
    if (j->readings->meter[i] == meter)
      add(j, i, p);
}

uint16_t judge__points_meter(const judge *j, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  const uint16_t *meter = j->readings->meter + s->first;
  uint16_t most_used = meter[0];
  uint32_t most = 0;
  if (s->meter != TENTER_NO_NAME16)
    return s->meter;
  for (uint32_t i = 0; i < s->count && 2 * most < s->count; i++) { /* few meters: soon over */
    uint32_t uses = 0;
    for (uint32_t k = i; k < s->count; k++)
      uses += meter[k] == meter[i];
    if (uses > most) {
      most = uses;
      most_used = meter[i];
    }
    if (i >= MOST_TRIED)
      break;
  }
  return most_used;
}
