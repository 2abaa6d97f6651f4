/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One screen: what its reading shows, its verdict by the certificate's rule, or why it is refused.
 *
 * The tolerance is judged on the acceptance session and stays with the mounting; all else is of the
 * latest session, which is what the certificate shows. */
#include "certificate.h"

#include "tenter/stats/conformity.h"

enum { MOST_REFUSALS = 64 };

static const double coverage = 2; /* of the expanded uncertainties that a certificate states */

/* A screen on its way. */
typedef struct certifying {
  const tenter_certificate *c;
  const judge *j;
  const tenter_mounting *m;
  tenter_certificate_screen *screen;
  const tenter_review_screen *judged;
  tenter_refusal refusals[MOST_REFUSALS];
  size_t count;
} certifying;

static tenter_refusal *refuse(certifying *s, tenter_refusal_code code, double found,
                              double wanted) {
  static const tenter_when never = {TENTER_NO_TIME, false};
  if (s->count == MOST_REFUSALS)
    s->count--; /* one of many more */
  tenter_refusal *r = &s->refusals[s->count++];
  *r = (tenter_refusal){
      .code = code, .found = found, .wanted = wanted, .when = never, .meter = TENTER_NO_NAME16};
  return r;
}

void certificate_limits(const tenter_attributes *is, double *lower, double *upper) {
  *lower = isnan(is->target - is->minus) ? -INFINITY : is->target - is->minus;
  *upper = isnan(is->target + is->plus) ? INFINITY : is->target + is->plus;
}

/* ---- tolerance ------------------------------------------------------------------------------ */

static void judge_tolerance(certifying *s, const screen_inner *inner) {
  tenter_certificate_screen *screen = s->screen;
  double lower, upper;
  certificate_limits(&s->m->is, &lower, &upper);
  if (isinf(lower) && isinf(upper)) {
    refuse(s, TENTER_REFUSAL_NO_TOLERANCE, NAN, NAN);
    return;
  }
  screen->accepted_session = s->judged->acceptance_session;
  if (s->judged->tolerance == TENTER_VERDICT_NONE)
    return; /* before acceptance: too young, which is said */
  screen->accepted_mean = inner->acceptance_mean;
  screen->accepted_expanded = coverage * inner->acceptance_uncertainty;
  screen->accepted_sessions = inner->acceptance_sessions;
  screen->verdict = s->judged->tolerance;
  if (s->c->simple && screen->verdict == TENTER_VERDICT_UNDECIDED) {
    bool inside = tenter_conformity_decide(inner->acceptance_mean, inner->acceptance_uncertainty, 0,
                                           lower, upper) == TENTER_CONFORMITY_INSIDE;
    screen->verdict = inside ? TENTER_VERDICT_GOOD : TENTER_VERDICT_BAD;
    screen->by_simple_rule = inside;
  }
  double limit = inner->acceptance_above ? upper : lower;
  if (screen->verdict == TENTER_VERDICT_BAD)
    refuse(s, TENTER_REFUSAL_OUTSIDE, inner->acceptance_mean, limit);
  else if (screen->verdict == TENTER_VERDICT_UNDECIDED)
    refuse(s, TENTER_REFUSAL_UNDECIDED, inner->acceptance_mean, limit);
}

/* ---- the reading ---------------------------------------------------------------------------- */

/* Distinct places of a session; readings without one are one place together. */
static size_t count_positions(const judge *j, const tenter_session *session) {
  const uint16_t *position = j->readings->position + session->first;
  size_t count = 0;
  for (uint32_t i = 0; i < session->count; i++) {
    bool seen = false;
    for (uint32_t k = 0; k < i && !seen; k++)
      seen = position[k] == position[i];
    count += !seen;
  }
  return count;
}

static void check_age(certifying *s, const tenter_session *session) {
  double age = s->judged->latest.age_hours, wanted = s->j->settings->youngest_age_hours;
  double doubt = tenter_mounting_age_doubt_hours(s->m, session);
  if (isnan(age))
    refuse(s, TENTER_REFUSAL_AGE_UNKNOWN, NAN, wanted);
  else if (age - doubt < wanted || s->judged->acceptance_session == SIZE_MAX)
    refuse(s, TENTER_REFUSAL_TOO_YOUNG, fmax(0, age - doubt),
           fmax(wanted, s->j->settings->settling_hours));
}

static void check_positions(certifying *s, const tenter_session *session) {
  double wanted = s->j->settings->least_positions;
  s->screen->positions = count_positions(s->j, session);
  if ((double)s->screen->positions < wanted)
    refuse(s, TENTER_REFUSAL_TOO_FEW_POSITIONS, (double)s->screen->positions, wanted);
}

/* ---- meters --------------------------------------------------------------------------------- */

static void check_meter(certifying *s, uint16_t meter, tenter_time taken) {
  const tenter_meter_spec *spec = certificate_meter_spec(s->j, meter);
  const tenter_review_meter *seen = &s->j->review->meters[meter];
  if (seen->shifted && taken >= seen->since) {
    tenter_refusal *r = refuse(s, TENTER_REFUSAL_METER_SHIFTED, seen->bias, NAN);
    r->meter = meter;
    r->when = (tenter_when){seen->since, true};
  }
  if (!spec || isnan(spec->checked_every_days))
    return;
  const tenter_meter_check *last = certificate_last_check(s->j, meter, taken);
  if (!last) {
    refuse(s, TENTER_REFUSAL_NEVER_CHECKED, NAN, spec->checked_every_days)->meter = meter;
    return;
  }
  /* days of the calendar: a check of the morning holds to the evening of its last day */
  double days = (double)(tenter_day_start(taken) - tenter_day_start(last->at.at)) / TENTER_DAY;
  if (days > spec->checked_every_days) {
    tenter_refusal *r = refuse(s, TENTER_REFUSAL_OUT_OF_CHECK, days, spec->checked_every_days);
    r->meter = meter;
    r->when = last->at;
  }
}

/* Every meter of the session once. */
static void check_meters(certifying *s, const tenter_session *session) {
  const uint16_t *meter = s->j->readings->meter + session->first;
  for (uint32_t i = 0; i < session->count; i++) {
    bool seen = meter[i] == TENTER_NO_NAME16;
    for (uint32_t k = 0; k < i && !seen; k++)
      seen = meter[k] == meter[i];
    if (!seen)
      check_meter(s, meter[i], session->taken);
  }
}

/* ---- what the review asks for --------------------------------------------------------------- */

/* Said by a refusal of the certificate's own, or no ground for one. */
static bool is_said_here(tenter_reason_code code) {
  switch (code) {
  case TENTER_REASON_ACCEPTANCE_LOW:
  case TENTER_REASON_ACCEPTANCE_HIGH:
  case TENTER_REASON_ACCEPTANCE_UNDECIDED:
  case TENTER_REASON_EVENNESS_UNDECIDED:
  case TENTER_REASON_METER_SHIFTED:
  case TENTER_REASON_NOT_FIT_TO_ACT:
  case TENTER_REASON_SETTLING:
    return true;
  default:
    return false;
  }
}

static void take_reasons(certifying *s) {
  for (size_t i = 0; i < s->judged->reason_count; i++) {
    const tenter_reason *reason = &s->judged->reasons[i];
    if (reason->action != TENTER_ACTION_USE && !is_said_here(reason->code))
      refuse(s, TENTER_REFUSAL_REVIEW, NAN, NAN)->reason = reason;
  }
}

static void check_evenness(certifying *s) {
  if (s->judged->evenness != TENTER_VERDICT_UNDECIDED)
    return;
  if (s->c->simple)
    s->screen->by_simple_rule = true;
  else
    refuse(s, TENTER_REFUSAL_EVENNESS_UNDECIDED, s->judged->evenness_probability, NAN);
}

/* ---- the day of use ------------------------------------------------------------------------- */

static void look_ahead(certifying *s) {
  const tenter_when *day = &s->m->is.needed_on;
  if (day->at == TENTER_NO_TIME || day->at < s->j->shop->as_of)
    return;
  tenter_review_tension_at(s->c->review, s->judged, tenter_mounting_age_hours(s->m, day->at),
                           &s->screen->expected, &s->screen->expected_sd);
  double chance = tenter_review_below_floor_by(s->c->review, s->judged, day->at);
  s->screen->below_floor_then = chance;
  if (chance > s->j->settings->risk)
    refuse(s, TENTER_REFUSAL_FALLS_BEFORE_USE, chance, s->j->settings->risk)->when = *day;
}

/* ---- the whole ------------------------------------------------------------------------------ */

static void certify(certifying *s) {
  const judge *j = s->j;
  uint32_t index = j->review_index[s->screen->screen];
  if (index == UINT32_MAX) {
    refuse(s, TENTER_REFUSAL_NOT_IN_USE, NAN, NAN);
    return;
  }
  s->judged = s->screen->judged = &j->review->screens[index];
  if (!s->judged->read) {
    refuse(s, TENTER_REFUSAL_NEVER_READ, NAN, NAN);
    return;
  }
  size_t latest = s->judged->latest.session;
  const tenter_session *session = &j->shop->sessions[latest];
  s->screen->expanded = coverage * judge__session_uncertainty(j, latest, true, NULL);
  judge_tolerance(s, &j->screens[index]);
  check_age(s, session);
  check_positions(s, session);
  check_meters(s, session);
  check_evenness(s);
  take_reasons(s);
  look_ahead(s);
}

bool certificate_screen(tenter_certificate *c, tenter_certificate_screen *screen) {
  const judge *j = c->review->judged;
  certifying s = {.c = c, .j = j, .m = &j->shop->mountings[screen->mounting], .screen = screen};
  screen->expanded = screen->accepted_mean = screen->accepted_expanded = NAN;
  screen->expected = screen->expected_sd = screen->below_floor_then = NAN;
  screen->accepted_session = SIZE_MAX;
  certify(&s);
  screen->certified = s.count == 0;
  tenter_refusal *refusals = tenter_arena_alloc(c->arena, s.count, sizeof *refusals);
  if (!refusals)
    return false;
  for (size_t i = 0; i < s.count; i++)
    refusals[i] = s.refusals[i];
  screen->refusals = refusals;
  screen->refusal_count = s.count;
  return true;
}
