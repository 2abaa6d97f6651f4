/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What no smooth relaxation explains, found before anything is fitted: a session that looks
 * misread, a step down, a rise.
 *
 * Outline: along each mounting, every session is compared with the last good one, with the loss
 * that any polyester shows in between (a wide guess, a share of the tension) and the noise of both.
 * A session that stands off and whose successor does not is misread; one whose successor stays
 * where it went is a break: the level is learned anew from there, the slope is not. A step is
 * tested before it is called an outlier: the latest session has no successor, so its points are
 * looked at. Most of them moved: a step or a rise. A few: a misread, when moving the decimal
 * point or two digits explains it. */
#include <stdlib.h>

#include "points.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { BLOCK_MOUNTINGS = 512, MOST_PAIRS = 20000 };

static const double beyond_chance = 4;   /* standard deviations of a session */
static const double point_beyond = 6;    /* of a single reading: many are looked at */
static const double least_change = 0.02; /* share of the tension that is worth a word */
static const double loss_doubt = 0.5;    /* of the guessed loss, as a share of it */

/* ---- what is expected between two sessions -------------------------------------------------- */

typedef struct change {
  double off; /* of the later session from what the earlier one lets expect */
  double variance;
} change;

static change change_between(const judge *j, size_t from, size_t to) {
  const session_value *a = &j->sessions[from], *b = &j->sessions[to];
  double loss = j->settings->prior_loss_share * a->adjusted * (b->u - a->u);
  double shift = judge__shift(j, to) - judge__shift(j, from); /* not the screen's own */
  return (change){.off = b->adjusted - a->adjusted - shift + loss,
                  .variance = a->variance + b->variance + 2 * squared(j->noise.session) +
                              squared(loss_doubt * loss)};
}

static bool is_jump(const judge *j, size_t from, size_t to) {
  change c = change_between(j, from, to);
  return squared(c.off) > squared(beyond_chance) * c.variance &&
         fabs(c.off) > least_change * j->sessions[from].adjusted;
}

/* ---- the session's own noise ---------------------------------------------------------------- */

/* From the differences of neighbouring sessions, whose spread is that of two readings' means and
 * twice the session's own: by medians, so that steps and misreads do not count. */
tenter_status judge__session_noise(judge *j, tenter_error *error) {
  j->noise.session = 0;
  double *off = tenter_alloc(2 * MOST_PAIRS, sizeof *off);
  if (!off)
    return tenter_fail_memory(error);
  size_t count = 0, stride = 1 + j->shop->session_count / MOST_PAIRS;
  for (size_t i = stride; i < j->shop->session_count && count < MOST_PAIRS; i += stride) {
    if (j->shop->sessions[i].mounting != j->shop->sessions[i - 1].mounting ||
        j->sessions[i].u - j->sessions[i - 1].u > 0.5)
      continue; /* nearer ones owe less to the guessed loss */
    off[count] = fabs(change_between(j, i - 1, i).off);
    off[MOST_PAIRS + count++] = j->sessions[i - 1].variance + j->sessions[i].variance;
  }
  if (count >= 10) {
    double scale = tenter_median_of(off, count) * TENTER_MAD_SD;
    double excess = (squared(scale) - tenter_median_of(off + MOST_PAIRS, count)) / 2;
    j->noise.session = sqrt(fmax(0, excess));
  }
  tenter_free(off);
  return TENTER_OK;
}

/* ---- the latest session's points ------------------------------------------------------------ */

typedef struct looking {
  judge *j;
  point_set now, before;
  double *sorted; /* room for one number a point */
} looking;

/* What a point was expected to read but for a shift of all: the session before, or the pattern. */
static double reference(const looking *l, bool compared, uint32_t slot, uint32_t point) {
  if (!compared)
    return judge__effect(l->j, slot, point);
  const point_mean *was = points_find(&l->before, point);
  return was ? was->mean : NAN;
}

/* The median shift of the points against their reference; NaN where none can be compared. */
static double shift_of(looking *l, bool compared, uint32_t slot) {
  size_t count = 0;
  for (size_t i = 0; i < l->now.count; i++) {
    double expected = reference(l, compared, slot, l->now.items[i].point);
    if (!isnan(expected))
      l->sorted[count++] = l->now.items[i].mean - expected;
  }
  return count ? tenter_median_of(l->sorted, count) : NAN;
}

/* The one reading that stands off most, if a slip of the pen explains it. */
static void look_for_digit(looking *l, size_t session, bool compared, uint32_t slot,
                           session_doubt *d) {
  judge *j = l->j;
  double shift = shift_of(l, compared, slot);
  double level = j->sessions[session].adjusted;
  double reading = judge__reading_sd(j, slot, level), own = judge__screen_point_sd(j, slot);
  double sd = compared ? reading * sqrt(2) : hypot(reading, isnan(own) ? 1 : own);
  size_t off = 0;
  double most = 0;
  for (size_t i = 0; i < l->now.count && !isnan(shift); i++) {
    double expected = reference(l, compared, slot, l->now.items[i].point) + shift;
    double deviation = fabs(l->now.items[i].mean - expected);
    if (!(deviation > point_beyond * sd))
      continue;
    off++;
    if (deviation > most && l->now.items[i].count == 1 &&
        judge__digits_fit(l->now.items[i].mean, expected, sd)) {
      most = deviation;
      *d = (session_doubt){
          .kind = DOUBT_DIGIT, .reading = l->now.items[i].reading, .expected = expected};
    }
  }
  if (off > 1 && 4 * off > l->now.count)
    d->kind = DOUBT_NONE; /* too many for slips of the pen */
}

/* Warp minus weft at the points; NaN where one is missing. */
static double warp_minus_weft(const point_set *p) {
  double sum[TENTER_DIRECTIONS] = {0}, count[TENTER_DIRECTIONS] = {0};
  for (size_t i = 0; i < p->count; i++) {
    sum[p->items[i].point % TENTER_DIRECTIONS] += p->items[i].mean;
    count[p->items[i].point % TENTER_DIRECTIONS]++;
  }
  return sum[TENTER_WARP] / count[TENTER_WARP] - sum[TENTER_WEFT] / count[TENTER_WEFT];
}

static bool looks_swapped(const looking *l, uint32_t slot, double level) {
  double now = warp_minus_weft(&l->now), before = warp_minus_weft(&l->before);
  if (isnan(now) || isnan(before))
    return false;
  double sd = judge__reading_sd(l->j, slot, level) * sqrt(8.0 / (double)l->now.count);
  return fabs(before) > 1 && fabs(now + before) < 3 * sd && fabs(now - before) > point_beyond * sd;
}

/* The share of points that moved with the jump. */
static double share_moved(const looking *l, uint32_t slot, double level, double off) {
  double sd = judge__reading_sd(l->j, slot, level) * sqrt(2);
  size_t moved = 0, compared = 0;
  for (size_t i = 0; i < l->now.count; i++) {
    const point_mean *was = points_find(&l->before, l->now.items[i].point);
    if (!was)
      continue;
    double by = l->now.items[i].mean - was->mean;
    compared++;
    moved += by * off > 0 && fabs(by) > fmax(fabs(off) / 3, sd);
  }
  return compared ? (double)moved / (double)compared : 0;
}

/* A latest session that stands off as a whole: what kind of thing it is. */
static void look_at_jump(looking *l, size_t from, size_t to, uint32_t slot, session_doubt *d) {
  judge *j = l->j;
  change c = change_between(j, from, to);
  double level = j->sessions[from].adjusted;
  double factor = judge__unit_factor(j->sessions[to].adjusted / (j->sessions[to].adjusted - c.off));
  if (!isnan(factor)) {
    *d = (session_doubt){
        .kind = DOUBT_UNIT, .factor = factor, .expected = j->sessions[to].adjusted - c.off};
  } else if (l->now.count <= 1) {
    *d = (session_doubt){.kind = DOUBT_JUMP,
                         .reading = l->now.items[0].reading,
                         .expected = j->sessions[to].adjusted - c.off};
  } else if (2 * share_moved(l, slot, level, c.off) >= 1) {
    d->stepped = c.off < 0;
    d->rose = c.off > 0;
    d->change = c.off;
    d->change_at = j->shop->sessions[to].taken;
  }
}

/* Range of a session's readings, and its warp minus weft (0 where one is missing). */
typedef struct extent {
  double range, warp_minus_weft;
} extent;

static extent extent_of(const judge *j, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  double low = INFINITY, high = -INFINITY, sum[TENTER_DIRECTIONS] = {0};
  double count[TENTER_DIRECTIONS] = {0};
  for (size_t i = s->first; i < s->first + s->count; i++) {
    double tension = j->readings->tension[i];
    low = tension < low ? tension : low;
    high = tension > high ? tension : high;
    sum[j->readings->direction[i]] += tension;
    count[j->readings->direction[i]]++;
  }
  bool both = count[TENTER_WARP] > 0 && count[TENTER_WEFT] > 0;
  return (extent){high - low, both ? sum[TENTER_WARP] / count[TENTER_WARP] -
                                         sum[TENTER_WEFT] / count[TENTER_WEFT]
                                   : 0};
}

/* Two sessions in which nothing can stand off: most are, and need no closer look. */
static bool unremarkable(const judge *j, uint32_t slot, size_t from, size_t to) {
  if (from == SIZE_MAX || is_jump(j, from, to))
    return false;
  extent now = extent_of(j, to), before = extent_of(j, from);
  double sd = judge__reading_sd(j, slot, j->sessions[to].adjusted) * sqrt(2);
  return now.range + before.range < point_beyond * sd && fabs(before.warp_minus_weft) < 1;
}

/* Looks at the latest session against the last good one before it (SIZE_MAX: none). */
static void look_at_latest(looking *l, const tenter_mounting *m, size_t from, size_t to,
                           session_doubt *d) {
  judge *j = l->j;
  uint32_t slot = mesh_slot(j, m->is.mesh);
  bool compared = from != SIZE_MAX && !(j->sessions[from].state & SESSION_SLIP);
  if (j->sessions[to].state & SESSION_SLIP) {
    const session_slip *slip = judge__slip_of(j, to);
    *d = (session_doubt){.kind = DOUBT_DIGIT, .reading = slip->reading, .expected = slip->expected};
    return;
  }
  if (unremarkable(j, slot, from, to))
    return;
  judge__points_gather(j, to, &l->now);
  if (from != SIZE_MAX)
    judge__points_gather(j, from, &l->before);
  if (l->now.count > 2)
    look_for_digit(l, to, compared, slot, d);
  if (d->kind == DOUBT_DIGIT) {
    judge__leave_out(j, to, slot, d->reading);
    return;
  }
  if (from == SIZE_MAX)
    return;
  if (compared && looks_swapped(l, slot, j->sessions[to].adjusted))
    d->kind = DOUBT_SWAP;
  else if (is_jump(j, from, to))
    look_at_jump(l, from, to, slot, d);
}

/* ---- along a mounting ----------------------------------------------------------------------- */

static void mark_break(judge *j, size_t session, bool up) {
  j->sessions[session].state |= SESSION_BREAK | (up ? SESSION_ROSE : 0);
  j->level[j->shop->sessions[session].mounting] = (uint32_t)session;
}

/* An earlier session that stands off: misread where its successor does not stay there, else a
 * break. Returns the last good session. */
static size_t settle_jump(judge *j, size_t good, size_t session) {
  if (is_jump(j, session, session + 1)) {
    j->sessions[session].state |= SESSION_MISREAD;
    return good;
  }
  mark_break(j, session, change_between(j, good, session).off > 0);
  return session;
}

static void settle_latest(looking *l, const tenter_mounting *m, size_t good, size_t last,
                          session_doubt *d) {
  judge *j = l->j;
  look_at_latest(l, m, good, last, d);
  if (d->kind == DOUBT_UNIT || d->kind == DOUBT_JUMP)
    j->sessions[last].state |= SESSION_MISREAD;
  else if (d->stepped || d->rose)
    mark_break(j, last, d->rose);
  else if (d->kind == DOUBT_NONE && good != SIZE_MAX && is_jump(j, good, last))
    mark_break(j, last, change_between(j, good, last).off > 0);
}

static void walk_mounting(looking *l, const tenter_mounting *m, bool current, session_doubt *d) {
  judge *j = l->j;
  size_t good = SIZE_MAX, last = m->first_session + m->session_count - 1;
  for (size_t i = m->first_session; i < last; i++) {
    if (good != SIZE_MAX && is_jump(j, good, i)) {
      good = settle_jump(j, good, i);
      if (good == i && j->sessions[i].state & SESSION_ROSE) {
        d->rose_before = true;
        d->change_at = j->shop->sessions[i].taken;
      }
    } else {
      good = i;
    }
  }
  session_doubt latest = {0};
  if (current) {
    settle_latest(l, m, good, last, &latest);
    latest.rose_before = d->rose_before;
    if (!latest.stepped && !latest.rose)
      latest.change_at = d->change_at;
    *d = latest;
  } else if (good != SIZE_MAX && is_jump(j, good, last)) {
    j->sessions[last].state |= SESSION_MISREAD; /* nobody can say any more what it was */
  }
}

static void walk_block(void *context, size_t task, size_t worker) {
  (void)worker;
  judge *j = context;
  looking l = {.j = j};
  size_t room = (j->tables->position_count + 1) * TENTER_DIRECTIONS;
  bool now = judge__points_new(j, &l.now), before = judge__points_new(j, &l.before);
  l.sorted = tenter_alloc(room, sizeof *l.sorted);
  size_t end = (task + 1) * BLOCK_MOUNTINGS;
  if (end > j->shop->mounting_count)
    end = j->shop->mounting_count;
  for (size_t i = task * BLOCK_MOUNTINGS; i < end && now && before && l.sorted; i++) {
    const tenter_mounting *m = &j->shop->mountings[i];
    session_doubt d = {0};
    j->level[i] = (uint32_t)m->first_session;
    if (m->session_count == 0)
      continue;
    bool current = j->shop->screens[m->screen].current == i;
    walk_mounting(&l, m, current, &d);
    if (current)
      j->doubts[m->screen] = d;
  }
  if (!now || !before || !l.sorted)
    j->failed[task] = true;
  judge__points_release(&l.now);
  judge__points_release(&l.before);
  tenter_free(l.sorted);
}

tenter_status judge__doubts(judge *j, tenter_error *error) {
  size_t blocks = (j->shop->mounting_count + BLOCK_MOUNTINGS - 1) / BLOCK_MOUNTINGS;
  j->doubts = tenter_arena_alloc(j->arena, j->shop->screen_count, sizeof *j->doubts);
  j->level = tenter_arena_alloc(j->arena, j->shop->mounting_count, sizeof *j->level);
  j->failed = tenter_arena_alloc(j->arena, blocks, sizeof *j->failed);
  if (!j->doubts || !j->level || !j->failed)
    return tenter_fail_memory(error);
  tenter_pool_run(j->pool, blocks, walk_block, j);
  for (size_t i = 0; i < blocks; i++)
    if (j->failed[i])
      return tenter_fail_memory(error);
  return TENTER_OK;
}
