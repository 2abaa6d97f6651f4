/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The past weeks as this program would have judged them then: the shop made anew
 * as of each week's end, and judged by the same code. Sums of sessions that were the same then are
 * taken from the present review.
 *
 * Control charts of a week compare its sessions with what was known before them: while an earlier
 * week is at hand, the sessions that follow it are compared with what it let expect (foresee.c),
 * for the present review and for every later week whose charts are wanted and that is kept open
 * until it has been compared with as many weeks as a review made then would have been. Then its
 * charts are judged, and their signals enter its actions. */
#include "weeks.h"

#include "charts.h"

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

/* A week, judged: the present one, or one that is open until its charts can be. */
typedef struct judged_week {
  tenter_shop *shop; /* owned, but for the present week */
  tenter_review *review;
  size_t back, oldest; /* weeks before the present one: it, the oldest it is compared with */
} judged_week;

typedef struct looking {
  judge *j;
  const struct chart_scheme *scheme;
  tenter_review_week *weeks; /* count, the oldest first */
  size_t count, charted;     /* charted: so many past weeks are judged with their charts */
  judged_week *open;         /* the present week, then open ones; review NULL: none */
  size_t deepest;            /* how far to look back */
} looking;

static void week_free(judged_week *w) {
  tenter_review_free(w->review);
  tenter_shop_free(w->shop);
  *w = (judged_week){0};
}

static tenter_time week_begin(const looking *l, size_t back) {
  return l->weeks[l->count - 1].start - (tenter_time)back * TENTER_WEEK;
}

/* As of the last second of a week. */
static tenter_status look_back(const looking *l, size_t back, judged_week *w, tenter_error *error) {
  *w = (judged_week){.back = back};
  const judge *j = l->j;
  judge_depth depth = back < l->count ? JUDGE_ACTIONS : JUDGE_KNOWLEDGE;
  tenter_status status =
      tenter_shop_earlier(j->shop, week_begin(l, back - 1) - 1, j->pool, &w->shop, error);
  if (!status)
    status = judge__shop(w->shop, j, depth, j->pool, &w->review, error);
  if (status)
    week_free(w);
  return status;
}

static void take_actions(judge *j, const tenter_review *before) {
  for (size_t i = 0; i < before->screen_count; i++) {
    uint32_t at = j->review_index[before->screens[i].screen];
    if (at != UINT32_MAX)
      j->review->screens[at].action_before = before->screens[i].action;
  }
}

/* Enters a past week and lets it go. */
static void close_week(looking *l, judged_week *w) {
  tenter_review_week *week = &l->weeks[l->count - 1 - w->back];
  fill_week(w->review->judged, week_begin(l, w->back), week);
  week->charted = w->back <= l->charted;
  if (w->back == 1)
    take_actions(l->j, w->review);
  week_free(w);
}

/* ---- which weeks ---------------------------------------------------------------------------- */

static tenter_time first_data(const judge *j) {
  tenter_time first = j->shop->as_of;
  for (size_t i = 0; i < j->shop->session_count; i++)
    if (j->shop->sessions[i].taken < first)
      first = j->shop->sessions[i].taken;
  return first;
}

/* As many weeks as the cost allows. */
static double allowed_weeks(const judge *j) {
  return floor(j->settings->week_screens / fmax(1, (double)j->review->screen_count));
}

/* As many as asked for, as the data reach back, and as the cost allows; always two. */
static size_t week_count(const judge *j) {
  double allowed = allowed_weeks(j);
  tenter_time reach = tenter_week_start(j->shop->as_of) - tenter_week_start(first_data(j));
  size_t count = (size_t)j->settings->weeks, data = (size_t)(reach / TENTER_WEEK) + 1;
  count = data < count ? data : count;
  count = allowed < (double)count ? (size_t)allowed : count;
  return count < 2 ? 2 : count;
}

/* ---- looking back --------------------------------------------------------------------------- */

/* Compares the sessions of a later week's shop with what the past let expect: those of the week
 * after it, and with the oldest all that came before as well. */
static tenter_status compare(const looking *l, const judged_week *later, const judged_week *past,
                             tenter_error *error) {
  tenter_time next = week_begin(l, past->back - 1);
  return judge__foresee(later->review->judged, past->review->judged,
                        past->back == later->oldest ? 0 : next, next + TENTER_WEEK, error);
}

/* Of how many past weeks the charts are judged: weeks that are open are kept, and each is compared
 * with all before it. */
static size_t charted_weeks(const judge *j, size_t count) {
  double sessions = fmax(1, (double)j->shop->session_count);
  double most = floor(j->settings->chart_past_sessions / sessions);
  return most < 1 ? 1 : most < (double)(count - 1) ? (size_t)most : count - 1;
}

static tenter_status judge_charts(looking *l, judged_week *w, tenter_error *error) {
  tenter_status status = judge__past_charts(w->review->judged, l->scheme, error);
  if (!status)
    close_week(l, w);
  return status;
}

/* All that follow a week; those that wait for nothing older are judged. */
static tenter_status compare_later(looking *l, const judged_week *past, tenter_error *error) {
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i <= l->charted && !status; i++) {
    judged_week *later = &l->open[i];
    if (!later->review || past->back > later->oldest)
      continue;
    status = compare(l, later, past, error);
    if (!status && i > 0 && past->back == later->oldest)
      status = judge_charts(l, later, error);
  }
  return status;
}

/* A past week in its turn. In a shop too large to look back any further than the week before, that
 * week's sessions are compared with what it knew itself. */
static tenter_status take_week(looking *l, judged_week *w, tenter_error *error) {
  if (w->back >= l->count) {
    week_free(w);
    return TENTER_OK;
  }
  if (w->back > l->charted) {
    close_week(l, w);
    return TENTER_OK;
  }
  bool alone = allowed_weeks(l->j) < 3;
  w->oldest = alone ? w->back : w->back + week_count(w->review->judged) - 1;
  l->deepest = w->oldest > l->deepest ? w->oldest : l->deepest;
  judged_week *open = &l->open[w->back];
  *open = *w;
  *w = (judged_week){0};
  tenter_status status = alone ? compare(l, open, open, error) : TENTER_OK;
  return status || !alone ? status : judge_charts(l, open, error);
}

static tenter_status look_at_week(looking *l, size_t back, tenter_error *error) {
  judged_week past;
  tenter_status status = look_back(l, back, &past, error);
  if (!status)
    status = compare_later(l, &past, error);
  if (!status)
    status = take_week(l, &past, error);
  if (status)
    week_free(&past);
  return status;
}

static tenter_status look_at_weeks(looking *l, tenter_error *error) {
  l->open = tenter_alloc(l->charted + 1, sizeof *l->open);
  if (!l->open)
    return tenter_fail_memory(error);
  l->open[0] = (judged_week){.review = l->j->review, .oldest = l->deepest};
  tenter_status status = TENTER_OK;
  for (size_t back = 1; back <= l->deepest && !status; back++)
    status = look_at_week(l, back, error);
  for (size_t i = 1; i <= l->charted; i++)
    week_free(&l->open[i]);
  tenter_free(l->open);
  return status;
}

tenter_status judge__weeks(judge *j, const struct chart_scheme *scheme, tenter_error *error) {
  looking l = {.j = j, .scheme = scheme, .count = week_count(j)};
  l.charted = charted_weeks(j, l.count);
  l.deepest = l.count - 1;
  l.weeks = tenter_arena_alloc(j->arena, l.count, sizeof *l.weeks);
  if (!l.weeks)
    return tenter_fail_memory(error);
  fill_week(j, tenter_week_start(j->shop->as_of), &l.weeks[l.count - 1]);
  l.weeks[l.count - 1].charted = true;
  tenter_status status = look_at_weeks(&l, error);
  if (!status)
    status = fill_shifts(j, l.weeks, l.count, error);
  j->review->weeks = l.weeks;
  j->review->week_count = l.count;
  return status;
}
