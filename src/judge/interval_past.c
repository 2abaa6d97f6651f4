/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What became of every mounting, without a model: between which sessions it came below its floor,
 * or how long it was seen above it.
 *
 * A single noisy reading is no crossing. The sessions of a mounting are smoothed by the one thing
 * that is sure, that tension does not rise by itself: weighted isotonic regression, by pooling
 * neighbours that stand in the wrong order (Ayer, Brunk, Ewing, Reid, Silverman 1955, Ann. Math.
 * Statist. 26:641). With nothing known of the level beforehand a block's posterior is normal about
 * its mean, so that its chance to be below the floor is over a half where its mean is below. Where
 * tension rose without an event, the mounting is taken to have been re-stretched there. */
#include <stdlib.h>

#include "interval_study.h"
#include "tenter/base/alloc.h"

/* Neighbouring sessions taken together. */
typedef struct block {
  double mean, weight;
  double first_days, last_days; /* ages of its first and last session */
} block;

static double session_weight(const judge *j, size_t session) {
  return 1 / fmax(j->sessions[session].variance + squared(j->noise.session), 1e-12);
}

static double age_days(const tenter_mounting *m, const tenter_session *s) {
  return tenter_mounting_age_hours(m, s->taken) / 24;
}

/* Fills blocks, of falling means; returns how many. *rose: the age in days at which tension rose;
 * NaN. */
static size_t smooth(const judge *j, const tenter_mounting *m, block *blocks, double *rose) {
  size_t count = 0;
  *rose = NAN;
  for (size_t i = m->first_session; i < m->first_session + m->session_count; i++) {
    double days = age_days(m, &j->shop->sessions[i]);
    if (j->sessions[i].state & SESSION_ROSE && count > 0) {
      *rose = days;
      break;
    }
    if (!(days > 0) || j->sessions[i].state & SESSION_MISREAD)
      continue;
    blocks[count++] = (block){j->sessions[i].adjusted, session_weight(j, i), days, days};
    while (count > 1 && blocks[count - 1].mean > blocks[count - 2].mean) {
      block *into = &blocks[count - 2], *from = &blocks[count - 1];
      double weight = into->weight + from->weight;
      into->mean += (from->mean - into->mean) * from->weight / weight;
      into->weight = weight;
      into->last_days = from->last_days;
      count--;
    }
  }
  return count;
}

/* How the mounting was ended for one that was above its floor when last seen. */
static void ending(const judge *j, const block *last, double floor, past_life *life) {
  double doubt = tenter_normal_below((floor - last->mean) * sqrt(last->weight));
  life->lower = last->last_days;
  life->upper = INFINITY;
  if (life->end != TENTER_END_RENEWED)
    return;
  life->ended = fmax(life->days, life->lower);
  life->failed = doubt > j->settings->risk;
}

static bool fill(const judge *j, const tenter_mounting *m, block *blocks, past_life *life) {
  double rose, floor = m->is.floor;
  if (m->zero.at == TENTER_NO_TIME || isnan(floor))
    return false;
  size_t count = smooth(j, m, blocks, &rose), below = 0;
  if (count == 0)
    return false;
  tenter_time end = m->ends < j->shop->as_of ? m->ends : j->shop->as_of;
  *life = (past_life){.ended = NAN,
                      .days = (double)(end - m->zero.at) / TENTER_DAY,
                      .end = isnan(rose) ? m->end : TENTER_END_RENEWED,
                      .slot = mesh_slot(j, m->is.mesh),
                      .lot = m->is.lot};
  if (!isnan(rose))
    life->days = rose;
  while (below < count && blocks[below].mean >= floor)
    below++;
  if (below == count) {
    ending(j, &blocks[count - 1], floor, life);
    return true;
  }
  life->crossed = life->failed = true;
  life->lower = below > 0 ? blocks[below - 1].last_days : 0;
  life->upper = blocks[below].first_days;
  return true;
}

static int slot_order(const void *a, const void *b) { /* lives of a mesh: any fixed order */
  const past_life *x = a, *y = b;
  if (x->slot != y->slot)
    return x->slot < y->slot ? -1 : 1;
  if (x->lower != y->lower)
    return x->lower < y->lower ? -1 : 1;
  return (x->upper > y->upper) - (x->upper < y->upper);
}

static int lot_order(const void *a, const void *b) {
  const past_life *x = a, *y = b;
  if (x->slot == y->slot && x->lot != y->lot)
    return x->lot < y->lot ? -1 : 1;
  return slot_order(a, b);
}

void judge__past_by_lot(past_lives *past) {
  qsort(past->lives, past->count, sizeof *past->lives, lot_order);
}

/* Below 0: before those of the interval. */
static int against(const past_life *life, uint32_t slot, uint32_t lot) {
  if (life->slot != slot)
    return life->slot < slot ? -1 : 1;
  if (lot == TENTER_NO_NAME || life->lot == lot)
    return 0;
  return life->lot < lot ? -1 : 1;
}

past_lives judge__past_of(const past_lives *past, const judge *j,
                          const tenter_review_interval *interval, size_t *at) {
  uint32_t slot = interval_slot(j, interval);
  while (*at < past->count && against(&past->lives[*at], slot, interval->lot) < 0)
    (*at)++;
  size_t first = *at;
  while (*at < past->count && against(&past->lives[*at], slot, interval->lot) == 0)
    (*at)++;
  return (past_lives){past->lives + first, *at - first};
}

tenter_status judge__past_lives(const judge *j, past_lives *past, tenter_error *error) {
  block *blocks = tenter_alloc(judge__most_sessions(j), sizeof *blocks);
  *past = (past_lives){tenter_alloc(j->shop->mounting_count + 1, sizeof *past->lives), 0};
  if (!blocks || !past->lives) {
    tenter_free(blocks);
    tenter_free(past->lives);
    return tenter_fail_memory(error);
  }
  for (size_t i = 0; i < j->shop->mounting_count; i++)
    past->count += fill(j, &j->shop->mountings[i], blocks, &past->lives[past->count]);
  qsort(past->lives, past->count, sizeof *past->lives, slot_order);
  tenter_free(blocks);
  return TENTER_OK;
}
