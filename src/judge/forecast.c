/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a screen's tension is and when it reaches its floor (methods: forecast).
 *
 * A forecast is a mixture of lines, one for each node of the variance components; where the age is
 * not known, one for each age it may have. P(t) is the chance to be below the floor now or at t,
 * exact for each line (stats/crossing.h) and averaged over the lines. */
#include "forecast.h"

#include "population_inner.h"
#include "relaxation.h"

enum { MOST_LINES = 64, DAYS_AHEAD = 3653 /* 10 years */ };

/* A mixture of lines in log10(age / 24 h), each with its own age zero. */
typedef struct mixture {
  size_t count;
  double weight[MOST_LINES], zero[MOST_LINES]; /* zero: civil seconds */
  tenter_line line[MOST_LINES];
  double least_age; /* hours */
} mixture;

static double u_at(const mixture *mix, size_t k, double time) {
  return age_u(fmax((time - mix->zero[k]) / TENTER_HOUR, mix->least_age));
}

/* ---- making it ------------------------------------------------------------------------------ */

static void mix_nodes(const judge *j, const tenter_review_screen *screen, const tenter_mounting *m,
                      mixture *mix) {
  if (!screen->posterior.nodes)
    return;
  mix->count = j->review->node_count;
  for (size_t k = 0; k < mix->count; k++) {
    mix->weight[k] = j->review->node_weight[k];
    mix->zero[k] = (double)m->zero.at;
    mix->line[k] = screen->posterior.nodes[k];
  }
}

static void mix_ages(const judge *j, const tenter_review_screen *screen, const tenter_mounting *m,
                     mixture *mix) {
  aged_line aged[AGES];
  if (m->session_count == 0)
    return;
  mix->count = judge__unknown_age(j, screen->mounting, aged);
  for (size_t k = 0; k < mix->count; k++) {
    mix->weight[k] = aged[k].weight;
    mix->zero[k] = aged[k].zero;
    mix->line[k] = line_of(&aged[k].line);
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
    mix->line[k].var_at_24h += u * u;
}

static void make_mixture(const judge *j, const tenter_review_screen *screen, mixture *mix) {
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  *mix = (mixture){.least_age = fmax(j->settings->least_age_minutes, 1) / 60};
  if (m->zero.at == TENTER_NO_TIME)
    mix_ages(j, screen, m, mix);
  else
    mix_nodes(j, screen, m, mix);
  add_calibration(j, screen, mix);
}

/* ---- asking it ------------------------------------------------------------------------------ */

/* P(the line is below limit at u0 or at u1). */
static double line_below(const tenter_line *l, double limit, double u0, double u1) {
  double v0 = l->var_at_24h - 2 * u0 * l->cov + u0 * u0 * l->var_loss;
  double v1 = l->var_at_24h - 2 * u1 * l->cov + u1 * u1 * l->var_loss;
  double p0 = tenter_normal_below((limit - (l->at_24h - l->loss * u0)) / sqrt(v0));
  double p1 = tenter_normal_below((limit - (l->at_24h - l->loss * u1)) / sqrt(v1));
  return fmax(p0, p1);
}

/* P(below at t0 or at t1), limit on the scale of the population. */
static double below(const mixture *mix, double limit, double now, double then) {
  double p = 0;
  for (size_t k = 0; k < mix->count; k++)
    p += mix->weight[k] * line_below(&mix->line[k], limit, u_at(mix, k, now), u_at(mix, k, then));
  return p;
}

/* Mean and sd of the tension, the mixture's. */
static void tension_now(const population *p, const mixture *mix, double now, double *mean,
                        double *sd) {
  double sum = 0, square = 0;
  for (size_t k = 0; k < mix->count; k++) {
    const tenter_line *l = &mix->line[k];
    double u = u_at(mix, k, now), m = l->at_24h - l->loss * u;
    double v = l->var_at_24h - 2 * u * l->cov + u * u * l->var_loss;
    if (p->log) { /* mean and variance of a lognormal */
      m = exp(m + v / 2);
      v = m * m * expm1(v);
    }
    sum += mix->weight[k] * m;
    square += mix->weight[k] * (v + m * m);
  }
  *mean = sum;
  *sd = sqrt(fmax(0, square - sum * sum));
}

/* The time when the chance reaches p: regula falsi (Illinois) on the log odds, which are nearly
 * straight in log age. */
static tenter_time crossing(const mixture *mix, double limit, tenter_time as_of, double p) {
  double low = 0, high = log1p(DAYS_AHEAD), target = log(p / (1 - p));
  double now = (double)as_of;
  double p_low = below(mix, limit, now, now);
  double p_high = below(mix, limit, now, now + (double)DAYS_AHEAD * TENTER_DAY);
  if (p_low >= p)
    return as_of;
  if (!(p_high >= p))
    return TENTER_NO_TIME;
  const double least = 1e-12;
  double f_low = log(fmax(p_low, least)) - log1p(-p_low) - target;
  double f_high = log(p_high) - log(fmax(1 - p_high, least)) - target;
  int side = 0;
  for (int i = 0; i < 60 && high - low > 1e-6; i++) {
    double at = (low * f_high - high * f_low) / (f_high - f_low);
    double chance = below(mix, limit, now, now + expm1(at) * TENTER_DAY);
    double f = log(fmax(chance, least)) - log(fmax(1 - chance, least)) - target;
    if (f >= 0) {
      high = at;
      f_high = f;
      f_low = side == 1 ? f_low / 2 : f_low;
      side = 1;
    } else {
      low = at;
      f_low = f;
      f_high = side == -1 ? f_high / 2 : f_high;
      side = -1;
    }
    if (fabs(f) < 1e-6)
      return as_of + (tenter_time)llround(expm1(at) * TENTER_DAY);
  }
  return as_of + (tenter_time)llround(expm1(high) * TENTER_DAY);
}

/* ---- one screen ----------------------------------------------------------------------------- */

static void fill_chances(judge *j, size_t i, const mixture *mix) {
  tenter_review_screen *screen = &j->review->screens[i];
  tenter_forecast *f = &screen->forecast;
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  double now = (double)j->shop->as_of, then = now + j->settings->horizon_days * TENTER_DAY;
  double floor = scale_to(j->population, is->floor);
  if (!isnan(is->coarse_floor))
    f->below_coarse_now = below(mix, scale_to(j->population, is->coarse_floor), now, now);
  if (isnan(is->floor))
    return;
  f->below_floor_now = below(mix, floor, now, now);
  f->below_floor_at_horizon = below(mix, floor, now, then);
  if (!j->texts)
    return;
  f->early = crossing(mix, floor, j->shop->as_of, 0.05);
  f->median = f->early == TENTER_NO_TIME ? f->early : crossing(mix, floor, j->shop->as_of, 0.5);
  f->late = f->median == TENTER_NO_TIME ? f->median : crossing(mix, floor, j->shop->as_of, 0.95);
}

/* The chances with the bias of a shifted meter taken off the forecast. */
static void correct(judge *j, size_t i, mixture *mix) {
  screen_inner *inner = &j->screens[i];
  const tenter_review_screen *screen = &j->review->screens[i];
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  double now = (double)j->shop->as_of, then = now + j->settings->horizon_days * TENTER_DAY;
  if (inner->shift == 0)
    return;
  double shift = j->population->log ? inner->shift / screen->latest.adjusted_mean : inner->shift;
  for (size_t k = 0; k < mix->count; k++)
    mix->line[k].at_24h -= shift;
  if (!isnan(is->floor)) {
    inner->corrected_now = below(mix, scale_to(j->population, is->floor), now, now);
    inner->corrected_horizon = below(mix, scale_to(j->population, is->floor), now, then);
  }
  if (!isnan(is->coarse_floor))
    inner->corrected_coarse = below(mix, scale_to(j->population, is->coarse_floor), now, now);
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
  r->law = "log";
  tenter_line mean = judge__mean_line(mix->count, mix->weight, mix->line);
  mean = judge__in_tension(j->population, mean, NAN);
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
  mixture mix;
  make_mixture(j, screen, &mix);
  fill_relaxation(j, screen, &mix);
  if (mix.count > 0) {
    tension_now(j->population, &mix, (double)j->shop->as_of, &screen->forecast.now,
                &screen->forecast.now_se);
    fill_chances(j, i, &mix);
    correct(j, i, &mix);
  }
  screen->ageing = ageing_of(j, screen);
}

void tenter_review_tension_at(const tenter_review *review, const tenter_review_screen *screen,
                              double age_hours, double *mean, double *sd) {
  mixture mix;
  *mean = *sd = NAN;
  if (isnan(age_hours) || !screen->posterior.nodes)
    return;
  make_mixture(review->judged, screen, &mix);
  tension_now(review->judged->population, &mix, mix.zero[0] + age_hours * TENTER_HOUR, mean, sd);
}
