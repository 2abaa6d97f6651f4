/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "points.h"

#include "tenter/base/alloc.h"

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

void judge__points_gather(const judge *j, size_t session, point_set *p) {
  for (size_t i = 0; i < p->count; i++)
    p->place[p->items[i].point] = 0;
  p->count = 0;
  const tenter_session *s = &j->shop->sessions[session];
  for (uint32_t i = s->first; i < s->first + s->count; i++) {
    uint32_t point = point_of(j, i);
    if (!p->place[point]) {
      p->items[p->count] = (point_mean){.point = point, .reading = i};
      p->place[point] = (uint32_t)++p->count;
    }
    point_mean *at = &p->items[p->place[point] - 1];
    if (at->count == 0) { /* most points are read once */
      at->count = 1;
      at->mean = j->readings->tension[i];
      continue;
    }
    double off = j->readings->tension[i] - at->mean; /* Welford's update */
    at->mean += off / ++at->count;
    at->squares += off * (j->readings->tension[i] - at->mean);
  }
}
