/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a screen's tension is and when it reaches its floor.
 *
 * A forecast is a mixture of lines, one for each node of the laws that remain plausible and of the
 * variance components; where the age is not known, one for each age it may have. P(t) is the chance
 * to be below the floor now or at t, exact for each line (stats/crossing.h) and averaged over the
 * lines. */
#include "forecast.h"

#include "plan.h"
#include "population_inner.h"
#include "relaxation.h"
#include "tenter/stats/crossing.h"

enum { MOST_LINES = 64 };

static const double most_hours = 24 * 3652.5; /* 10 years */

/* A mixture of lines, each on its own clock with its own age now. */
typedef struct mixture {
  size_t count;
  tenter_crossing_line line[MOST_LINES];
} mixture;

/* ---- making it ------------------------------------------------------------------------------ */

static tenter_crossing_line crossing_line(const judge *j, double weight, double zero,
                                          const tenter_line *line, tenter_clock clock) {
  double least = fmax(j->settings->least_age_minutes, 1) / 60;
  double age = ((double)j->shop->as_of - zero) / TENTER_HOUR;
  return (tenter_crossing_line){.weight = weight,
                                .age_hours = fmax(age, least),
                                .level = line->at_24h,
                                .loss = line->loss,
                                .var_level = line->var_at_24h,
                                .var_loss = line->var_loss,
                                .cov = line->cov,
                                .clock = clock};
}

static void mix_nodes(const judge *j, const tenter_review_screen *screen, const tenter_mounting *m,
                      mixture *mix) {
  if (!screen->posterior.nodes)
    return;
  mix->count = j->review->node_count;
  for (size_t k = 0; k < mix->count; k++)
    mix->line[k] = crossing_line(j, j->review->node_weight[k], (double)m->zero.at,
                                 &screen->posterior.nodes[k], j->population->node_clock[k]);
}

static void mix_ages(const judge *j, const tenter_review_screen *screen, const tenter_mounting *m,
                     mixture *mix) {
  aged_line aged[AGES];
  if (m->session_count == 0)
    return;
  mix->count = judge__unknown_age(j, screen->mounting, aged);
  for (size_t k = 0; k < mix->count; k++) {
    tenter_line line = line_of(&aged[k].line);
    mix->line[k] = crossing_line(j, aged[k].weight, aged[k].zero, &line, j->population->clock);
  }
}

/* A meter's calibration, where the config gives one, is part of what is not known of the tension.
 */
static void add_calibration(const judge *j, const tenter_review_screen *screen, mixture *mix) {
  if (!screen->read)
    return;
  uint16_t meter = j->shop->sessions[screen->latest.session].meter;
  double u = judge__calibration(j, meter, false, NULL);
  if (j->population->log)
    u /= screen->latest.adjusted_mean;
  for (size_t k = 0; k < mix->count; k++)
    mix->line[k].var_level += u * u;
}

static void make_mixture(const judge *j, const tenter_review_screen *screen, mixture *mix) {
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  mix->count = 0;
  if (m->zero.at == TENTER_NO_TIME)
    mix_ages(j, screen, m, mix);
  else
    mix_nodes(j, screen, m, mix);
  add_calibration(j, screen, mix);
}

/* ---- asking it ------------------------------------------------------------------------------ */

/* Mean and sd of the tension at an age, over the mixture; age NaN: now. */
static void tension_at(const population *p, const mixture *mix, double age_hours, double *mean,
                       double *sd) {
  double sum = 0, square = 0;
  for (size_t k = 0; k < mix->count; k++) {
    const tenter_crossing_line *l = &mix->line[k];
    double u = tenter_clock_u(l->clock, age_u(isnan(age_hours) ? l->age_hours : age_hours));
    double m = l->level - l->loss * u;
    double v = fmax(0, l->var_level - 2 * u * l->cov + u * u * l->var_loss);
    if (p->log) { /* mean and variance of a lognormal */
      m = exp(m + v / 2);
      v = m * m * expm1(v);
    }
    sum += l->weight * m;
    square += l->weight * (v + m * m);
  }
  *mean = sum;
  *sd = sqrt(fmax(0, square - sum * sum));
}

static tenter_time crossing(const judge *j, const mixture *mix, double limit, double p) {
  double hours = tenter_crossing_time(mix->line, mix->count, limit, p, most_hours, NULL);
  return isinf(hours) ? TENTER_NO_TIME : j->shop->as_of + (tenter_time)llround(hours * TENTER_HOUR);
}

/* Chances against a floor now and at the horizon; NaN without a floor. */
typedef struct chances {
  double now, horizon;
} chances;

static chances below(const judge *j, const mixture *mix, double floor) {
  if (isnan(floor))
    return (chances){NAN, NAN};
  double limit = scale_to(j->population, floor);
  return (chances){
      tenter_crossing_probability(mix->line, mix->count, limit, 0),
      tenter_crossing_probability(mix->line, mix->count, limit, 24 * j->settings->horizon_days)};
}

/* ---- what a further session would tell ------------------------------------------------------ */

/* Means, variances and covariance of the tension now and at the horizon, on the scale of the
 * population, over the mixture. */
static reading_moments moments_now_and_then(const judge *j, const mixture *mix) {
  reading_moments sum = {0};
  double hours = 24 * j->settings->horizon_days;
  for (int pass = 0; pass < 2; pass++) /* the means first */
    for (size_t k = 0; k < mix->count; k++) {
      const tenter_crossing_line *l = &mix->line[k];
      double u0 = tenter_clock_u(l->clock, age_u(l->age_hours));
      double u1 = tenter_clock_u(l->clock, age_u(l->age_hours + hours));
      double now = l->level - l->loss * u0, then = l->level - l->loss * u1;
      if (pass == 0) {
        sum.now += l->weight * now;
        sum.then += l->weight * then;
        continue;
      }
      double off0 = now - sum.now, off1 = then - sum.then;
      sum.var_now +=
          l->weight * (off0 * off0 + l->var_level - 2 * u0 * l->cov + u0 * u0 * l->var_loss);
      sum.var_then +=
          l->weight * (off1 * off1 + l->var_level - 2 * u1 * l->cov + u1 * u1 * l->var_loss);
      sum.cov +=
          l->weight * (off0 * off1 + l->var_level - (u0 + u1) * l->cov + u0 * u1 * l->var_loss);
    }
  return sum;
}

static void fill_turn(const judge *j, tenter_review_screen *screen, const mixture *mix) {
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  if (isnan(is->floor) || !j->texts)
    return;
  double risk = j->settings->risk;
  screen->turn.due = risk == 0.05 ? screen->forecast.early
                                  : crossing(j, mix, scale_to(j->population, is->floor), risk);
  reading_moments moments = moments_now_and_then(j, mix);
  judge__reading_value(j, screen, &moments);
}

/* ---- one screen ----------------------------------------------------------------------------- */

static void fill_chances(judge *j, tenter_review_screen *screen, const mixture *mix) {
  tenter_forecast *f = &screen->forecast;
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  chances floor = below(j, mix, is->floor);
  f->below_coarse_now = below(j, mix, is->coarse_floor).now;
  f->below_floor_now = floor.now;
  f->below_floor_at_horizon = floor.horizon;
  if (isnan(is->floor) || !j->texts)
    return;
  double limit = scale_to(j->population, is->floor);
  f->early = crossing(j, mix, limit, 0.05);
  f->median = f->early == TENTER_NO_TIME ? f->early : crossing(j, mix, limit, 0.5);
  f->late = f->median == TENTER_NO_TIME ? f->median : crossing(j, mix, limit, 0.95);
}

/* The chances with the bias of a shifted meter taken off a forecast that rests on it. */
static void correct(judge *j, const tenter_review_screen *screen, screen_inner *inner,
                    mixture *mix) {
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  bool left_out = screen->read && j->sessions[screen->latest.session].state & SESSION_LEFT_OUT;
  if (!inner->shifted)
    return;
  double shift = left_out             ? 0
                 : j->population->log ? inner->shift / screen->latest.adjusted_mean
                                      : inner->shift;
  for (size_t k = 0; k < mix->count; k++)
    mix->line[k].level -= shift;
  chances floor = below(j, mix, is->floor);
  inner->corrected_now = floor.now;
  inner->corrected_horizon = floor.horizon;
  inner->corrected_coarse = below(j, mix, is->coarse_floor).now;
}

static tenter_ageing ageing_of(const judge *j, const tenter_review_screen *screen) {
  const tenter_forecast *f = &screen->forecast;
  if (screen->age_hours < j->settings->settling_hours)
    return TENTER_AGEING_SETTLING;
  if (isnan(f->below_floor_now))
    return TENTER_AGEING_NONE;
  if (f->below_floor_now >= 0.5)
    return TENTER_AGEING_SPENT;
  return f->below_floor_at_horizon > j->settings->risk ? TENTER_AGEING_FADING
                                                       : TENTER_AGEING_HOLDING;
}

static tenter_line mean_of(const mixture *mix) {
  tenter_line lines[MOST_LINES];
  double weight[MOST_LINES];
  for (size_t k = 0; k < mix->count; k++) {
    const tenter_crossing_line *l = &mix->line[k];
    lines[k] = (tenter_line){l->level, l->loss, l->var_level, l->var_loss, l->cov};
    weight[k] = l->weight;
  }
  return judge__mean_line(mix->count, weight, lines);
}

static void fill_relaxation(const judge *j, tenter_review_screen *screen, const mixture *mix) {
  tenter_relaxation *r = &screen->relaxation;
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  own_line own = j->texts ? judge__own_line(j, m) : (own_line){NAN, NAN, NAN, 0};
  r->alone.at_24h = own.at_24h;
  r->alone.loss_per_decade = own.loss;
  r->alone.loss_per_decade_se = own.loss_se;
  r->alone.sessions = own.sessions;
  r->at_24h = r->loss_per_decade = r->loss_per_decade_se = NAN;
  if (mix->count == 0)
    return;
  r->law = judge__law_name(j->population);
  tenter_line mean = judge__in_tension(j->population, mean_of(mix), NAN);
  r->at_24h = mean.at_24h;
  r->loss_per_decade = mean.loss;
  r->loss_per_decade_se = sqrt(mean.var_loss);
}

void judge__forecast(judge *j, size_t i) {
  tenter_review_screen *screen = &j->review->screens[i];
  screen_inner *inner = &j->screens[i];
  double no = NAN;
  screen->forecast =
      (tenter_forecast){no, no, no, no, no, TENTER_NO_TIME, TENTER_NO_TIME, TENTER_NO_TIME};
  inner->corrected_now = inner->corrected_horizon = inner->corrected_coarse = no;
  screen->turn = (tenter_turn){TENTER_NO_TIME, -1, -1, -1, -1, no, no};
  mixture mix;
  make_mixture(j, screen, &mix);
  fill_relaxation(j, screen, &mix);
  if (mix.count > 0) {
    tension_at(j->population, &mix, NAN, &screen->forecast.now, &screen->forecast.now_se);
    fill_chances(j, screen, &mix);
    fill_turn(j, screen, &mix);
    correct(j, screen, inner, &mix);
  }
  screen->ageing = ageing_of(j, screen);
}

void tenter_review_tension_at(const tenter_review *review, const tenter_review_screen *screen,
                              double age_hours, double *mean, double *sd) {
  mixture mix;
  *mean = *sd = NAN;
  if (!(age_hours > 0) || !screen->posterior.nodes)
    return;
  make_mixture(review->judged, screen, &mix);
  tension_at(review->judged->population, &mix, age_hours, mean, sd);
}

double tenter_review_below_floor_by(const tenter_review *review, const tenter_review_screen *screen,
                                    tenter_time time) {
  const judge *j = review->judged;
  double floor = j->shop->mountings[screen->mounting].is.floor;
  mixture mix;
  make_mixture(j, screen, &mix);
  if (mix.count == 0 || isnan(floor) || time < j->shop->as_of)
    return NAN;
  return tenter_crossing_probability(mix.line, mix.count, scale_to(j->population, floor),
                                     (double)(time - j->shop->as_of) / TENTER_HOUR);
}

/* Mean and mean square of what one line loses from u0 to u1. On the logarithm the two tensions are
 * lognormal together, of which all moments are known. */
static void loss_of(bool log, const tenter_crossing_line *l, double u0, double u1, double *mean,
                    double *square) {
  double m0 = l->level - l->loss * u0, m1 = l->level - l->loss * u1;
  double v0 = l->var_level - 2 * u0 * l->cov + u0 * u0 * l->var_loss;
  double v1 = l->var_level - 2 * u1 * l->cov + u1 * u1 * l->var_loss;
  double c = l->var_level - (u0 + u1) * l->cov + u0 * u1 * l->var_loss;
  if (log) {
    double t0 = exp(m0 + v0 / 2), t1 = exp(m1 + v1 / 2);
    *mean = t0 - t1;
    *square = t0 * t0 * exp(v0) + t1 * t1 * exp(v1) - 2 * t0 * t1 * exp(c);
    return;
  }
  *mean = m0 - m1;
  *square = *mean * *mean + v0 + v1 - 2 * c;
}

void tenter_review_loss_between(const tenter_review *review, const tenter_review_screen *screen,
                                double from_hours, double to_hours, double *mean, double *sd) {
  mixture mix;
  double sum = 0, squares = 0;
  *mean = *sd = NAN;
  if (!(from_hours > 0 && to_hours > 0) || !screen->posterior.nodes)
    return;
  make_mixture(review->judged, screen, &mix);
  for (size_t k = 0; k < mix.count; k++) {
    const tenter_crossing_line *l = &mix.line[k];
    double m, square, u0 = tenter_clock_u(l->clock, age_u(from_hours));
    loss_of(review->judged->population->log, l, u0, tenter_clock_u(l->clock, age_u(to_hours)), &m,
            &square);
    sum += l->weight * m;
    squares += l->weight * square;
  }
  *mean = sum;
  *sd = sqrt(fmax(0, squares - sum * sum));
}
