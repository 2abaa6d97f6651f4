/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The past weeks as this program would have judged them then: the shop made anew
 * as of each week's end, and judged by the same code. Sums of sessions that were the same then are
 * taken from the present review. While such a week is at hand, the sessions of the next one are
 * compared with what it let expect (foresee.c). */
#include "weeks.h"

#include "population.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"
#include "tenter/stats/trend.h"

static const double share_level = 0.95; /* of the interval of a share */

/* ---- one week ------------------------------------------------------------------------------- */

static void count_sessions(const judge *j, tenter_time from, tenter_review_week *week) {
  uint32_t last = UINT32_MAX;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (s->taken < from)
      continue;
    week->sessions++;
    week->screens += s->screen != last;
    last = s->screen;
  }
}

static void fill_week(const judge *j, tenter_time from, tenter_review_week *week) {
  const tenter_review *review = j->review;
  *week = (tenter_review_week){.start = from, .in_use = review->screen_count, .mean_shift = NAN};
  tenter_iso_week(from, &week->year, &week->week);
  count_sessions(j, from, week);
  for (size_t i = 0; i < review->screen_count; i++) {
    double p = review->screens[i].forecast.below_floor_now;
    week->actions[review->screens[i].action]++;
    week->judged += isnan(p) ? 0 : 1;
    week->below += p >= 0.5 ? 1 : 0;
  }
  double judged = (double)week->judged, below = (double)week->below;
  tenter_interval share = tenter_wilson_interval(below, judged, share_level);
  week->below_floor = week->judged > 0 ? below / judged : NAN;
  week->below_floor_low = share.low;
  week->below_floor_high = share.high;
}

/* Mean errors week by week; sessions lie in order of screens, so sums are in one order always. */
static tenter_status fill_shifts(const judge *j, tenter_review_week *weeks, size_t count,
                                 tenter_error *error) {
  tenter_sum *sums = tenter_alloc(count, sizeof *sums);
  if (!sums)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < j->shop->session_count; i++) {
    tenter_time at = j->shop->sessions[i].taken;
    if (isnan(j->foreseen[i].error) || at < weeks[0].start)
      continue;
    size_t week = (size_t)((at - weeks[0].start) / TENTER_WEEK);
    tenter_sum_add(&sums[week], j->foreseen[i].error);
    weeks[week].foreseen++;
  }
  for (size_t i = 0; i < count; i++)
    if (weeks[i].foreseen > 0)
      weeks[i].mean_shift = tenter_sum_total(&sums[i]) / (double)weeks[i].foreseen;
  tenter_free(sums);
  return TENTER_OK;
}

/* ---- earlier reviews ------------------------------------------------------------------------ */

typedef struct earlier {
  tenter_shop *shop;
  tenter_review *review;
} earlier;

static void earlier_free(earlier *e) {
  tenter_review_free(e->review);
  tenter_shop_free(e->shop);
  *e = (earlier){0};
}

static tenter_status look_back(const judge *j, tenter_time as_of, earlier *e, tenter_error *error) {
  *e = (earlier){0};
  tenter_status status = tenter_shop_earlier(j->shop, as_of, j->pool, &e->shop, error);
  if (!status)
    status = judge__shop(e->shop, j, false, j->pool, &e->review, error);
  if (status)
    earlier_free(e);
  return status;
}

static void take_actions(judge *j, const tenter_review *before) {
  for (size_t i = 0; i < before->screen_count; i++) {
    uint32_t at = j->review_index[before->screens[i].screen];
    if (at != UINT32_MAX)
      j->review->screens[at].action_before = before->screens[i].action;
  }
}

/* ---- which weeks ---------------------------------------------------------------------------- */

static tenter_time first_data(const judge *j) {
  tenter_time first = j->shop->as_of;
  for (size_t i = 0; i < j->shop->session_count; i++)
    if (j->shop->sessions[i].taken < first)
      first = j->shop->sessions[i].taken;
  return first;
}

/* As many as asked for, as the data reach back, and as the cost allows; always two. */
static size_t week_count(const judge *j) {
  double allowed = floor(j->settings->week_screens / fmax(1, (double)j->review->screen_count));
  tenter_time reach = tenter_week_start(j->shop->as_of) - tenter_week_start(first_data(j));
  size_t count = (size_t)j->settings->weeks, data = (size_t)(reach / TENTER_WEEK) + 1;
  count = data < count ? data : count;
  count = allowed < (double)count ? (size_t)allowed : count;
  return count < 2 ? 2 : count;
}

/* The week `back` weeks before the present one; what was known at its end is what the sessions of
 * the next one are compared with, and at the end of the oldest, those of all that came before. */
static tenter_status look_at_week(judge *j, tenter_review_week *weeks, size_t count, size_t back,
                                  tenter_error *error) {
  earlier e;
  tenter_time start = weeks[count - 1].start, from = start - (tenter_time)back * TENTER_WEEK;
  tenter_time next = from + TENTER_WEEK, first = back + 1 == count ? 0 : next;
  tenter_status status = look_back(j, next - 1, &e, error);
  if (status)
    return status;
  fill_week(e.review->judged, from, &weeks[count - 1 - back]);
  if (back == 1)
    take_actions(j, e.review);
  status = judge__foresee(j, e.review->judged, first, next + TENTER_WEEK, error);
  earlier_free(&e);
  return status;
}

tenter_status judge__weeks(judge *j, tenter_error *error) {
  size_t count = week_count(j);
  tenter_review_week *weeks = tenter_arena_alloc(j->arena, count, sizeof *weeks);
  if (!weeks)
    return tenter_fail_memory(error);
  fill_week(j, tenter_week_start(j->shop->as_of), &weeks[count - 1]);
  tenter_status status = TENTER_OK;
  for (size_t back = 1; back < count && !status; back++)
    status = look_at_week(j, weeks, count, back, error);
  if (!status)
    status = fill_shifts(j, weeks, count, error);
  j->review->weeks = weeks;
  j->review->week_count = count;
  return status;
}
