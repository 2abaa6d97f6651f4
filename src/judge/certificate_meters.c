/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The meters behind the certified readings: uncertainty and last check. */
#include "certificate.h"

#include <string.h>

const tenter_meter_spec *certificate_meter_spec(const judge *j, uint16_t meter) {
  const char *name = tenter_names_get(j->tables->names[TENTER_NAME_METER], meter);
  for (size_t i = 0; i < j->shop->config->meter_count; i++)
    if (strcmp(j->shop->config->meters[i].name, name) == 0)
      return &j->shop->config->meters[i];
  return NULL;
}

/* A check that has a date alone may have come before any reading of that day. */
static tenter_time earliest(const tenter_when *when) {
  return when->date_only ? tenter_day_start(when->at) : when->at;
}

const tenter_meter_check *certificate_last_check(const judge *j, uint16_t meter, tenter_time time) {
  const tenter_meter_check *last = NULL;
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    if (check->meter == meter && earliest(&check->at) <= time &&
        (!last || check->at.at >= last->at.at))
      last = check;
  }
  return last;
}

/* All checks of the day of the last one. */
static void take_checks(const judge *j, tenter_certificate_meter *m, tenter_time last_reading) {
  const tenter_meter_check *last = certificate_last_check(j, m->meter, last_reading);
  m->checked = (tenter_when){TENTER_NO_TIME, false};
  m->worst = NAN;
  if (!last)
    return;
  m->checked = last->at;
  tenter_time day = tenter_day_start(last->at.at);
  for (size_t i = 0; i < j->tables->check_count; i++) {
    const tenter_meter_check *check = &j->tables->checks[i];
    if (check->meter != m->meter || tenter_day_start(check->at.at) != day)
      continue;
    double off = check->indicated - check->nominal;
    m->checks++;
    if (isnan(m->worst) || fabs(off) > fabs(m->worst))
      m->worst = off;
  }
}

static void take_spec(const judge *j, tenter_certificate_meter *m) {
  const tenter_meter_spec *spec = certificate_meter_spec(j, m->meter);
  m->assumed = !spec || isnan(spec->expanded_uncertainty);
  m->expanded = m->assumed ? TENTER_ASSUMED_EXPANDED : spec->expanded_uncertainty;
  m->coverage =
      m->assumed || !(spec->coverage_factor > 0) ? TENTER_ASSUMED_COVERAGE : spec->coverage_factor;
  m->every_days = spec ? spec->checked_every_days : NAN;
  m->resolution = j->meters[m->meter].resolution;
  m->bias = j->review->meters[m->meter].bias;
  m->bias_se = j->review->meters[m->meter].bias_se;
}

static bool read_with(const judge *j, const tenter_session *session, uint16_t meter) {
  for (uint32_t i = session->first; i < session->first + session->count; i++)
    if (j->readings->meter[i] == meter)
      return true;
  return false;
}

tenter_status certificate_meters(tenter_certificate *c, tenter_error *error) {
  const judge *j = c->review->judged;
  c->meters = tenter_arena_alloc(c->arena, j->review->meter_count, sizeof *c->meters);
  if (!c->meters)
    return tenter_fail_memory(error);
  for (size_t meter = 0; meter < j->review->meter_count; meter++) {
    tenter_certificate_meter m = {.meter = (uint16_t)meter};
    tenter_time last = 0;
    for (size_t i = 0; i < c->screen_count; i++) {
      const tenter_certificate_screen *screen = &c->screens[i];
      if (!screen->certified)
        continue;
      const tenter_session *session = &j->shop->sessions[screen->judged->latest.session];
      if (!read_with(j, session, m.meter))
        continue;
      m.screens++;
      last = session->taken > last ? session->taken : last;
    }
    if (m.screens == 0)
      continue;
    take_spec(j, &m);
    take_checks(j, &m, last);
    c->meters[c->meter_count++] = m;
  }
  return TENTER_OK;
}
