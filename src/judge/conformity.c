/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Limits judged with measurement uncertainty: the
 * acceptance session against target and tolerance; the latest session against the mesh maker's
 * maximum; its points against the floor.
 *
 * Decision rule: JCGM 106:2012, 8.3: inside when within the limits by the guard band U = k u,
 * outside when beyond them by U, undecided between. */
#include "tenter/stats/conformity.h"
#include "judge.h"

enum { FOLLOW_UP_DAYS = 7 }; /* after the settling time */

static const double near_maximum = 10; /* N/cm, far more than any guard band */

tenter_verdict judge__guarded(const judge *j, double value, double u, double low, double high,
                              double *probability) {
  *probability = tenter_conformity_probability(value, u, low, high);
  switch (tenter_conformity_decide(value, u, j->settings->coverage_factor, low, high)) {
  case TENTER_CONFORMITY_INSIDE:
    return TENTER_VERDICT_GOOD;
  case TENTER_CONFORMITY_OUTSIDE:
    return TENTER_VERDICT_BAD;
  default:
    return TENTER_VERDICT_UNDECIDED;
  }
}

/* ---- acceptance ----------------------------------------------------------------------------- */

size_t judge__acceptance_session(const judge *j, const tenter_mounting *m) {
  for (size_t i = m->first_session; i < m->first_session + m->session_count; i++) {
    double age = tenter_mounting_age_hours(m, j->shop->sessions[i].taken);
    if (isnan(age) || age >= j->settings->settling_hours)
      return i;
  }
  return SIZE_MAX;
}

/* Until when further full sessions are judged with it. */
static tenter_time follow_up_end(const judge *j, const tenter_mounting *m, size_t acceptance) {
  bool aged = m->zero.at != TENTER_NO_TIME;
  double from = aged ? (double)m->zero.at + j->settings->settling_hours * TENTER_HOUR
                     : j->shop->sessions[acceptance].taken;
  return (tenter_time)from + FOLLOW_UP_DAYS * TENTER_DAY;
}

/* One or several sessions brought to the age of the first. */
typedef struct accepted {
  double mean, u;
  size_t sessions;
} accepted;

/* Decades of age between two sessions; 0 where the age is unknown. */
static double decades_between(const judge *j, const tenter_mounting *m, size_t from, size_t to) {
  double a = tenter_mounting_age_hours(m, j->shop->sessions[from].taken);
  double b = tenter_mounting_age_hours(m, j->shop->sessions[to].taken);
  return a > 0 && b > 0 ? log10(b / a) : 0;
}

static accepted judged_together(const judge *j, const tenter_review_screen *screen, size_t first,
                                tenter_time end, bool *assumed) {
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  double loss = screen->relaxation.loss_per_decade, loss_se = screen->relaxation.loss_per_decade_se;
  if (isnan(loss))
    loss = loss_se = 0;
  double sum = 0, variance = 0, decades = 0, n = 0;
  for (size_t i = first; i < m->first_session + m->session_count; i++) {
    const tenter_session *s = &j->shop->sessions[i];
    bool further = i > first;
    if (further && j->sessions[i].state & SESSION_BREAK)
      break; /* what came after it was another level */
    if (further && (s->taken > end || !s->full || j->sessions[i].state & SESSION_MISREAD))
      continue; /* the first counts, however late it was read */
    double later = decades_between(j, m, first, i);
    sum += j->sessions[i].adjusted + loss * later;
    variance += j->sessions[i].variance + squared(j->noise.session);
    decades += later;
    n++;
  }
  uint16_t meter = j->shop->sessions[first].meter;
  double u = sqrt(judge__meter_variance(j, meter, true, assumed) + variance / (n * n) +
                  squared(loss_se * decades / n));
  return (accepted){sum / n, u, (size_t)n};
}

static void judge_acceptance(judge *j, tenter_review_screen *screen, screen_inner *inner) {
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  screen->acceptance_session = judge__acceptance_session(j, m);
  screen->tolerance_probability = NAN;
  if (screen->acceptance_session == SIZE_MAX || isnan(m->is.target) ||
      (isnan(m->is.minus) && isnan(m->is.plus)))
    return;
  double low = isnan(m->is.minus) ? -INFINITY : m->is.target - m->is.minus;
  double high = isnan(m->is.plus) ? INFINITY : m->is.target + m->is.plus;
  size_t first = screen->acceptance_session;
  accepted a = {j->sessions[first].adjusted,
                judge__session_uncertainty(j, first, true, &inner->assumed), 1};
  tenter_time end = follow_up_end(j, m, first);
  screen->tolerance = judge__guarded(j, a.mean, a.u, low, high, &screen->tolerance_probability);
  if (screen->tolerance == TENTER_VERDICT_UNDECIDED) {
    a = judged_together(j, screen, first, end, &inner->assumed);
    screen->tolerance = judge__guarded(j, a.mean, a.u, low, high, &screen->tolerance_probability);
  }
  double shift = judge__shift(j, first), ignored;
  if (shift != 0 &&
      screen->tolerance != judge__guarded(j, a.mean - shift, a.u, low, high, &ignored))
    screen->tolerance = TENTER_VERDICT_UNDECIDED; /* the meter decides, not the screen */
  inner->acceptance_mean = a.mean;
  inner->acceptance_uncertainty = a.u;
  inner->acceptance_sessions = a.sessions;
  inner->acceptance_above = isinf(low) || a.mean - low > high - a.mean;
  inner->acceptance_closed = a.sessions > 1 || j->shop->as_of > end;
}

/* ---- single points of the latest session ---------------------------------------------------- */

/* What one reading says; its uncertainty is worked out only where a limit is near. */
static void judge_point(const judge *j, const tenter_review_screen *screen, uint32_t reading,
                        screen_inner *inner) {
  const tenter_attributes *is = &j->shop->mountings[screen->mounting].is;
  double floor = isnan(is->coarse_floor) ? is->floor : is->coarse_floor;
  double tension = j->readings->tension[reading];
  if (tension < j->readings->tension[inner->low_reading])
    inner->low_reading = reading;
  if (tension > j->readings->tension[inner->over_reading])
    inner->over_reading = reading;
  tension -= judge__correction(j, screen->latest.session);
  bool low = tension < is->floor || tension < floor; /* false against NaN */
  bool high = tension > is->maximum - near_maximum;
  if (!low && !high)
    return;
  double guard =
      j->settings->coverage_factor * judge__reading_uncertainty(j, screen->latest.session, reading);
  inner->point_below |= tension < floor - guard;
  inner->point_between |= tension < is->floor - guard;
  inner->over_point |= tension > is->maximum + guard;
  inner->near_maximum |= tension > is->maximum - guard;
}

static void judge_points(const judge *j, tenter_review_screen *screen, screen_inner *inner) {
  const tenter_session *s = &j->shop->sessions[screen->latest.session];
  inner->low_reading = inner->over_reading = s->first;
  for (uint32_t i = s->first; i < s->first + s->count; i++)
    judge_point(j, screen, i, inner);
  inner->point_between &= !inner->point_below;
}

static void judge_maximum(const judge *j, tenter_review_screen *screen, screen_inner *inner) {
  const tenter_mounting *m = &j->shop->mountings[screen->mounting];
  screen->maximum_probability = NAN;
  if (isnan(m->is.maximum))
    return;
  size_t session = screen->latest.session;
  double u = judge__session_uncertainty(j, session, false, NULL);
  screen->maximum = judge__guarded(j, j->sessions[session].adjusted, u, -INFINITY, m->is.maximum,
                                   &screen->maximum_probability);
  if (inner->over_point)
    screen->maximum = TENTER_VERDICT_BAD;
  else if (screen->maximum == TENTER_VERDICT_GOOD && inner->near_maximum)
    screen->maximum = TENTER_VERDICT_UNDECIDED;
  double over =
      j->readings->tension[inner->over_reading] - judge__correction(j, session) - m->is.maximum;
  double point_u = judge__reading_uncertainty(j, session, inner->over_reading);
  inner->over_anyway = over - inner->shift > j->settings->coverage_factor * point_u;
  screen->maximum_probability =
      fmin(screen->maximum_probability, tenter_normal_below(-over / point_u));
}

void judge__conformity(judge *j, size_t i) {
  tenter_review_screen *screen = &j->review->screens[i];
  screen_inner *inner = &j->screens[i];
  screen->tolerance_probability = screen->maximum_probability = NAN;
  screen->acceptance_session = SIZE_MAX;
  if (!screen->read)
    return;
  judge_acceptance(j, screen, inner);
  judge_points(j, screen, inner);
  judge_maximum(j, screen, inner);
}
