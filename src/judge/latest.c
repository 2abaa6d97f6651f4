/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a calculator gives for one session, on raw readings. */
#include <string.h>

#include "judge.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

static double median_of(const double *tension, size_t count) {
  double near[64], *copy = count <= 64 ? near : tenter_alloc(count, sizeof *copy);
  if (!copy)
    return NAN;
  memcpy(copy, tension, count * sizeof *copy);
  double median = tenter_median_of(copy, count);
  if (copy != near)
    tenter_free(copy);
  return median;
}

/* Weakest and tightest point: the first of equals. */
static void extremes(const judge *j, const tenter_session *session, tenter_latest *latest) {
  const double *tension = j->readings->tension + session->first;
  uint32_t low = 0, high = 0;
  while (tension[low] > latest->min)
    low++;
  while (tension[high] < latest->max)
    high++;
  latest->weakest_position = j->readings->position[session->first + low];
  latest->weakest_direction = j->readings->direction[session->first + low];
  latest->tightest_position = j->readings->position[session->first + high];
  latest->tightest_direction = j->readings->direction[session->first + high];
}

/* Sums of a session by direction. */
typedef struct direction_sums {
  double count, sum;
  double centres, centre, corners, corner;    /* counts and sums of these places */
  double placed, x, y, t, xx, xy, yy, xt, yt; /* of readings whose place is known */
} direction_sums;

static void add_reading(const judge *j, size_t i, direction_sums *s) {
  double t = j->readings->tension[i];
  s->count++;
  s->sum += t;
  const tenter_position *at = position_of(j, j->readings->position[i]);
  if (!at)
    return;
  if (at->kind == TENTER_PLACE_CENTRE) {
    s->centres++;
    s->centre += t;
  } else if (at->kind == TENTER_PLACE_CORNER) {
    s->corners++;
    s->corner += t;
  }
  if (isnan(at->x) || isnan(at->y))
    return;
  s->placed++;
  s->x += at->x;
  s->y += at->y;
  s->t += t;
  s->xx += at->x * at->x;
  s->xy += at->x * at->y;
  s->yy += at->y * at->y;
  s->xt += at->x * t;
  s->yt += at->y * t;
}

/* The plane through the readings, each direction with a level of its own. */
static void tilt(const direction_sums sums[TENTER_DIRECTIONS], tenter_latest *latest) {
  double xx = 0, xy = 0, yy = 0, xt = 0, yt = 0;
  for (int d = 0; d < TENTER_DIRECTIONS; d++) {
    const direction_sums *s = &sums[d];
    if (s->placed == 0)
      continue;
    xx += s->xx - s->x * s->x / s->placed;
    xy += s->xy - s->x * s->y / s->placed;
    yy += s->yy - s->y * s->y / s->placed;
    xt += s->xt - s->x * s->t / s->placed;
    yt += s->yt - s->y * s->t / s->placed;
  }
  double determinant = xx * yy - xy * xy;
  bool plane = determinant > 1e-9 * (1 + xx * yy);
  latest->tilt_x = plane ? (xt * yy - yt * xy) / determinant : NAN;
  latest->tilt_y = plane ? (yt * xx - xt * xy) / determinant : NAN;
}

/* Corners against the centre of their own direction, averaged over the directions that have both.
 */
static double corner_minus_centre(const direction_sums sums[TENTER_DIRECTIONS]) {
  double total = 0, directions = 0;
  for (int d = 0; d < TENTER_DIRECTIONS; d++) {
    const direction_sums *s = &sums[d];
    if (s->corners == 0 || s->centres == 0)
      continue;
    total += s->corner / s->corners - s->centre / s->centres;
    directions++;
  }
  return directions > 0 ? total / directions : NAN;
}

void judge__session_latest(const judge *j, size_t session, tenter_latest *latest) {
  const tenter_session *s = &j->shop->sessions[session];
  *latest = (tenter_latest){.session = session};
  latest->age_hours = tenter_mounting_age_hours(mounting_of(j, s), s->taken);
  latest->mean = j->sessions[session].mean;
  latest->adjusted_mean = j->sessions[session].adjusted;
  tenter_moments moments = tenter_moments_of(j->readings->tension + s->first, s->count);
  latest->median = median_of(j->readings->tension + s->first, s->count);
  latest->sd = moments.sd;
  latest->min = moments.min;
  latest->max = moments.max;
  latest->range = moments.range;
  extremes(j, s, latest);
  direction_sums sums[TENTER_DIRECTIONS] = {0};
  for (size_t i = s->first; i < s->first + s->count; i++)
    add_reading(j, i, &sums[j->readings->direction[i]]);
  latest->warp_mean =
      sums[TENTER_WARP].count > 0 ? sums[TENTER_WARP].sum / sums[TENTER_WARP].count : NAN;
  latest->weft_mean =
      sums[TENTER_WEFT].count > 0 ? sums[TENTER_WEFT].sum / sums[TENTER_WEFT].count : NAN;
  latest->corner_minus_centre = corner_minus_centre(sums);
  tilt(sums, latest);
  latest->uncertainty = judge__session_uncertainty(j, session, true, NULL);
}
