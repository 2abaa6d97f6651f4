/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Screens of one multicolour job: do their present forecasts agree? Read with one meter its
 * calibration is no part of their differences. */
#include "sets.h"

#include <stdlib.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/shape.h"

static const double decided = 0.95; /* chance from which it is said, either way */

typedef struct member {
  uint32_t set, index; /* index into review->screens */
} member;

static int member_order(const void *a, const void *b) {
  const member *p = a, *q = b;
  if (p->set != q->set)
    return p->set < q->set ? -1 : 1;
  return (p->index > q->index) - (p->index < q->index);
}

/* The variance that a screen's meter adds, where the set was not read with one meter. */
static double meter_variance(const judge *j, const tenter_review_screen *screen, bool one_meter) {
  if (one_meter || !screen->read)
    return 0;
  return squared(
      judge__calibration(j, j->shop->sessions[screen->latest.session].meter, false, NULL));
}

static bool read_with_one(const judge *j, const member *members, size_t count) {
  uint16_t meter = TENTER_NO_NAME16;
  for (size_t i = 0; i < count; i++) {
    const tenter_review_screen *screen = &j->review->screens[members[i].index];
    uint16_t own = screen->read ? j->shop->sessions[screen->latest.session].meter : meter;
    if (i > 0 && own != meter)
      return false;
    meter = own;
  }
  return true;
}

/* The screen farthest from the middle of the others. */
static size_t odd_one(const double *mean, size_t count) {
  double sum = 0, most = -1;
  size_t odd = 0;
  for (size_t i = 0; i < count; i++)
    sum += mean[i];
  for (size_t i = 0; i < count; i++) {
    double off = fabs(mean[i] - (sum - mean[i]) / (double)(count - 1));
    if (off > most) {
      most = off;
      odd = i;
    }
  }
  return odd;
}

static bool judge_set(judge *j, const member *members, size_t count, tenter_review_set *out) {
  uint32_t *screens = tenter_arena_alloc(j->arena, count, sizeof *screens);
  double *mean = tenter_alloc(2 * count, sizeof *mean), *sd = mean ? mean + count : NULL;
  bool one_meter = read_with_one(j, members, count), known = true;
  if (!screens || !mean) {
    tenter_free(mean);
    return false;
  }
  size_t low = 0, high = 0;
  for (size_t i = 0; i < count; i++) {
    const tenter_review_screen *screen = &j->review->screens[members[i].index];
    screens[i] = screen->screen;
    mean[i] = screen->forecast.now;
    sd[i] = sqrt(squared(screen->forecast.now_se) + meter_variance(j, screen, one_meter));
    known = known && !isnan(mean[i]);
    low = mean[i] < mean[low] ? i : low;
    high = mean[i] > mean[high] ? i : high;
  }
  *out = (tenter_review_set){.set = members->set,
                             .screens = screens,
                             .screen_count = count,
                             .spread = NAN,
                             .spread_uncertainty = NAN,
                             .odd_one_out = TENTER_NO_NAME};
  if (known && count > 1) {
    out->spread = mean[high] - mean[low];
    out->spread_uncertainty = hypot(sd[high], sd[low]);
    double p = tenter_shape_range_within(count, mean, sd, j->settings->set_spread);
    out->agrees = p >= decided       ? TENTER_VERDICT_GOOD
                  : p <= 1 - decided ? TENTER_VERDICT_BAD
                                     : TENTER_VERDICT_UNDECIDED;
    if (out->agrees != TENTER_VERDICT_GOOD && count > 2)
      out->odd_one_out = screens[odd_one(mean, count)];
  }
  tenter_free(mean);
  return true;
}

tenter_status judge__sets(judge *j, tenter_error *error) {
  tenter_review *review = j->review;
  member *members = tenter_alloc(review->screen_count + 1, sizeof *members);
  size_t count = 0, sets = 0;
  if (!members)
    return tenter_fail_memory(error);
  for (uint32_t i = 0; i < review->screen_count; i++) {
    uint32_t set = j->shop->mountings[review->screens[i].mounting].is.set;
    if (set != TENTER_NO_NAME)
      members[count++] = (member){set, i};
  }
  qsort(members, count, sizeof *members, member_order);
  for (size_t i = 0; i < count; i++)
    sets += i == 0 || members[i].set != members[i - 1].set;
  review->sets = tenter_arena_alloc(j->arena, sets, sizeof *review->sets);
  bool done = review->sets != NULL;
  for (size_t from = 0, to; done && from < count; from = to) {
    for (to = from; to < count && members[to].set == members[from].set; to++)
      ;
    done = judge_set(j, &members[from], to - from, &review->sets[review->set_count++]);
  }
  tenter_free(members);
  return done ? TENTER_OK : tenter_fail_memory(error);
}
