/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The past weeks as this program would have judged them then: the shop made anew
 * as of each week's end, and judged by the same code. Sums of sessions that were the same then are
 * taken from the present review. */
#include "weeks.h"

#include "population.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { BLOCK_SESSIONS = 4096 };

/* ---- one week ------------------------------------------------------------------------------- */

/* Forecast errors of the sessions from a moment on, a block of sessions a task. */
typedef struct foreseeing {
  const judge *j;
  tenter_time from;
  size_t most_sessions;
  double *error; /* by session: NaN where it was not foreseen */
  bool *failed;  /* by block */
} foreseeing;

static void foresee_block(void *context, size_t task, size_t worker) {
  (void)worker;
  const foreseeing *f = context;
  const tenter_shop *shop = f->j->shop;
  line_data room = {0};
  f->failed[task] = !judge__data_room(&room, f->most_sessions);
  size_t end = (task + 1) * BLOCK_SESSIONS;
  for (size_t i = task * BLOCK_SESSIONS; i < end && i < shop->session_count; i++) {
    double mean, variance;
    f->error[i] = NAN;
    if (!f->failed[task] && shop->sessions[i].taken >= f->from &&
        judge__foresee(f->j, i, &room, &mean, &variance))
      f->error[i] = f->j->sessions[i].adjusted - mean;
  }
  judge__data_release(&room);
}

static void sum_errors(const judge *j, const double *error, tenter_time from,
                       tenter_review_week *week) {
  tenter_sum sum = {0};
  double foreseen = 0;
  uint32_t last = UINT32_MAX;
  for (size_t i = 0; i < j->shop->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    if (s->taken < from)
      continue;
    week->sessions++;
    week->screens += s->screen != last;
    last = s->screen;
    if (isnan(error[i]))
      continue;
    tenter_sum_add(&sum, error[i]);
    foreseen++;
  }
  week->mean_shift = foreseen > 0 ? tenter_sum_total(&sum) / foreseen : NAN;
}

static bool count_sessions(const judge *j, tenter_time from, tenter_review_week *week) {
  size_t blocks = (j->shop->session_count + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS;
  foreseeing f = {.j = j, .from = from, .most_sessions = judge__most_sessions(j)};
  f.error = tenter_alloc(j->shop->session_count + 1, sizeof *f.error);
  f.failed = tenter_alloc(blocks + 1, sizeof *f.failed);
  bool done = f.error && f.failed;
  if (done)
    tenter_pool_run(j->pool, blocks, foresee_block, &f);
  for (size_t i = 0; done && i < blocks; i++)
    done = !f.failed[i];
  if (done)
    sum_errors(j, f.error, from, week);
  tenter_free(f.error);
  tenter_free(f.failed);
  return done;
}

static tenter_status fill_week(const judge *j, tenter_time from, tenter_review_week *week,
                               tenter_error *error) {
  const tenter_review *review = j->review;
  double judged = 0, below = 0;
  *week = (tenter_review_week){.start = from, .in_use = review->screen_count};
  tenter_iso_week(from, &week->year, &week->week);
  if (!count_sessions(j, from, week))
    return tenter_fail_memory(error);
  for (size_t i = 0; i < review->screen_count; i++) {
    double p = review->screens[i].forecast.below_floor_now;
    week->actions[review->screens[i].action]++;
    judged += !isnan(p);
    below += p >= 0.5;
  }
  week->below_floor = judged > 0 ? below / judged : NAN;
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

tenter_status judge__weeks(judge *j, tenter_error *error) {
  size_t count = week_count(j);
  tenter_review_week *weeks = tenter_arena_alloc(j->arena, count, sizeof *weeks);
  if (!weeks)
    return tenter_fail_memory(error);
  tenter_time start = tenter_week_start(j->shop->as_of);
  tenter_status status = fill_week(j, start, &weeks[count - 1], error);
  for (size_t back = 1; back < count && !status; back++) {
    earlier e;
    tenter_time from = start - (tenter_time)back * TENTER_WEEK, end = from + TENTER_WEEK - 1;
    status = look_back(j, end, &e, error);
    if (!status)
      status = fill_week(e.review->judged, from, &weeks[count - 1 - back], error);
    if (!status && back == 1)
      take_actions(j, e.review);
    earlier_free(&e);
  }
  j->review->weeks = weeks;
  j->review->week_count = count;
  return status;
}
