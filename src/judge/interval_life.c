/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The age at which the risk is reached by what past mountings did: Turnbull's estimate, a Weibull
 * law, and bounds for re-stretches that may have to do with the tension (stats/life.h). A mounting
 * that was re-stretched when last seen not clearly above its floor counts as failed: such an ending
 * is no innocent censoring. */
#include "interval_study.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/life_fit.h"
#include "tenter/stats/turnbull.h"

enum { LEAST_CROSSED = 3, DRAWS = 200, SEED = 20260105 };

static const double confidence = 0.90;

/* Rows of stats/life.h. */
typedef struct rows {
  double *lower, *upper, *ended;
  size_t count;
} rows;

static tenter_life life_of(const rows *r) {
  return (tenter_life){.count = r->count, .lower = r->lower, .upper = r->upper};
}

static bool make_rows(const past_life *lives, size_t count, rows *r) {
  *r = (rows){tenter_alloc(count, sizeof(double)), tenter_alloc(count, sizeof(double)),
              tenter_alloc(count, sizeof(double)), count};
  if (!r->lower || !r->upper || !r->ended)
    return false;
  for (size_t i = 0; i < count; i++) {
    bool assumed = lives[i].failed && !lives[i].crossed;
    r->lower[i] = lives[i].lower;
    r->upper[i] = assumed ? fmax(lives[i].ended, lives[i].lower) : lives[i].upper;
    r->ended[i] = NAN;
  }
  return true;
}

static void release(rows *r) {
  tenter_free(r->lower);
  tenter_free(r->upper);
  tenter_free(r->ended);
}

static void count_lives(const past_life *lives, size_t count, tenter_interval_life *out) {
  for (size_t i = 0; i < count; i++) {
    const past_life *l = &lives[i];
    out->crossed += l->crossed;
    out->at_first += l->crossed && l->lower <= 0;
    out->restretched += !l->crossed && l->end == TENTER_END_RENEWED;
    out->restretched_low += !l->crossed && l->failed;
    out->burst += !l->crossed && l->end == TENTER_END_BURST;
    out->retired += !l->crossed && l->end == TENTER_END_RETIRED;
    out->in_use += !l->crossed && l->end == TENTER_END_NONE;
  }
  out->mountings = count;
}

/* ---- by a law ------------------------------------------------------------------------------- */

static tenter_status by_law(const rows *r, double risk, tenter_interval_life *out,
                            tenter_error *error) {
  tenter_life life = life_of(r);
  tenter_life_fit fit;
  tenter_status status = tenter_life_fit_run(&life, &(tenter_life_design){.terms = 1},
                                             TENTER_LIFE_WEIBULL, &fit, error);
  if (status)
    return status;
  if (fit.state == TENTER_LIFE_FITTED) {
    tenter_life_time time = tenter_life_fit_quantile(&fit, NULL, risk, confidence);
    out->weibull = (tenter_interval_estimate){time.value, time.low, time.high};
    out->shape = 1 / fit.scale;
    out->scale_days = exp(fit.coefficient[0]);
  } else {
    out->weibull_says = tenter_life_state_sentence(fit.state);
  }
  tenter_life_fit_release(&fit);
  return TENTER_OK;
}

/* The Weibull law under a bound for all re-stretches above the floor; NaN without a fit. */
static tenter_status bound(const past_life *lives, const rows *r, tenter_ending assumed,
                           double risk, double *days, tenter_error *error) {
  rows under;
  tenter_life_fit fit;
  *days = NAN;
  if (!make_rows(lives, r->count, &under)) {
    release(&under);
    return tenter_fail_memory(error);
  }
  for (size_t i = 0; i < r->count; i++) {
    under.upper[i] = lives[i].upper;
    under.ended[i] = lives[i].crossed ? NAN : lives[i].ended;
  }
  tenter_life life = life_of(&under);
  tenter_status status =
      tenter_life_endings(&life, under.ended, assumed, under.lower, under.upper, error);
  if (!status)
    status = tenter_life_fit_run(&life, &(tenter_life_design){.terms = 1}, TENTER_LIFE_WEIBULL,
                                 &fit, error);
  if (!status) {
    if (fit.state == TENTER_LIFE_FITTED)
      *days = tenter_life_fit_quantile(&fit, NULL, risk, confidence).value;
    tenter_life_fit_release(&fit);
  }
  release(&under);
  return status;
}

/* ---- without a law -------------------------------------------------------------------------- */

static tenter_status keep_steps(const tenter_turnbull *t, tenter_arena *arena,
                                tenter_interval_life *out, tenter_error *error) {
  double *days = tenter_arena_alloc(arena, t->count, sizeof *days);
  double *below = tenter_arena_alloc(arena, t->count, sizeof *below);
  if (!days || !below)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < t->count; i++) {
    if (isinf(t->right[i]))
      break;
    days[i] = t->right[i];
    below[i] = 1 - t->survival[i];
    out->step_count = i + 1;
  }
  out->step_days = days;
  out->step_below = below;
  return TENTER_OK;
}

/* The age is that by which the share is certainly reached: the end of the interval that reaches it.
 */
static tenter_status without_law(const rows *r, double risk, tenter_pool *pool, tenter_arena *arena,
                                 tenter_interval_life *out, tenter_error *error) {
  tenter_life life = life_of(r);
  tenter_turnbull t;
  tenter_interval value, between;
  tenter_status status = tenter_turnbull_run(&life, &t, error);
  if (status)
    return status;
  status = tenter_turnbull_quantile_intervals(&t, 1, &risk, confidence, DRAWS, SEED, pool, &value,
                                              &between, error);
  if (!status)
    out->free = (tenter_interval_estimate){value.high, between.low, between.high};
  if (!status && arena)
    status = keep_steps(&t, arena, out, error);
  tenter_turnbull_release(&t);
  return status;
}

/* ---- both ----------------------------------------------------------------------------------- */

static tenter_interval_verdict verdict_of(const tenter_review_interval *interval,
                                          const tenter_interval_life *life) {
  double late = isnan(interval->days_late) ? INFINITY : interval->days_late;
  double early = isnan(interval->days_early) ? INFINITY : interval->days_early;
  if (life->crossed + life->restretched_low < LEAST_CROSSED || isnan(life->free.early))
    return TENTER_INTERVAL_TOO_FEW;
  if (life->free.late < early)
    return TENTER_INTERVAL_LIVES_SHORTER;
  return life->free.early > late ? TENTER_INTERVAL_LIVES_LONGER : TENTER_INTERVAL_AGREE;
}

tenter_status judge__interval_life(const tenter_review_interval *interval, const past_lives *of,
                                   tenter_pool *pool, tenter_arena *arena,
                                   tenter_interval_life *out, tenter_error *error) {
  const past_life *lives = of->lives;
  size_t count = of->count;
  const tenter_interval_estimate none = {NAN, NAN, NAN};
  *out = (tenter_interval_life){.free = none,
                                .weibull = none,
                                .weibull_all_fail = NAN,
                                .weibull_none_fail = NAN,
                                .shape = NAN,
                                .scale_days = NAN};
  count_lives(lives, count, out);
  if (count == 0)
    return TENTER_OK;
  rows r;
  tenter_status status = make_rows(lives, count, &r) ? TENTER_OK : tenter_fail_memory(error);
  double risk = interval->risk;
  if (!status)
    status = by_law(&r, risk, out, error);
  if (!status)
    status = bound(lives, &r, TENTER_ENDING_FAILED, risk, &out->weibull_all_fail, error);
  if (!status)
    status = bound(lives, &r, TENTER_ENDING_SURVIVED, risk, &out->weibull_none_fail, error);
  if (!status && out->crossed + out->restretched_low > 0)
    status = without_law(&r, risk, pool, arena, out, error);
  release(&r);
  out->verdict = verdict_of(interval, out);
  return status;
}
