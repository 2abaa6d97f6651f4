/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The data of a certificate as JSON: all that its pages say. */
#include <math.h>

#include "account_json.h"
#include "certificate_parts.h"
#include "review_json.h"

static const char *name(const tenter_certificate *c, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(c->review->shop->tables->names[kind], id);
}

static void tension(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_TENSION);
}

static void chance(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_PROBABILITY);
}

static void count(tenter_json *json, const char *key, size_t value) {
  tenter_json_integer(json, key, (long long)value);
}

static void element(tenter_json *json) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
}

/* ---- one screen ----------------------------------------------------------------------------- */

static const char *direction_word(uint8_t direction) {
  return direction == TENTER_WARP ? "warp" : direction == TENTER_WEFT ? "weft" : NULL;
}

static void write_place(tenter_json *json, const tenter_tables *tables, uint16_t position,
                        uint8_t direction) {
  bool known = position < tables->position_count;
  tenter_json_text(json, "position", known ? tables->positions[position].label : NULL);
  tenter_json_text(json, "direction", direction_word(direction));
}

static void write_point(tenter_json *json, const tenter_tables *tables, const char *key,
                        double value, uint16_t position, tenter_direction direction) {
  tenter_json_open(json, key, '{');
  tension(json, "tension", value);
  write_place(json, tables, position, (uint8_t)direction);
  tenter_json_close(json, '}');
}

static void write_readings(tenter_json *json, const tenter_certificate *c,
                           const tenter_session *session) {
  const tenter_tables *tables = c->review->shop->tables;
  const tenter_readings *r = &tables->readings;
  tenter_json_open(json, "readings", '[');
  for (uint32_t i = session->first; i < session->first + session->count; i++) {
    tenter_json_open(json, NULL, '{');
    write_place(json, tables, r->position[i], r->direction[i]);
    tension(json, "tension", r->tension[i]);
    tenter_json_name(
        json, "meter",
        name(c, TENTER_NAME_METER, r->meter[i] == TENTER_NO_NAME16 ? TENTER_NO_NAME : r->meter[i]));
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_reading(tenter_json *json, const tenter_certificate *c,
                          const tenter_certificate_screen *screen) {
  if (screen->judged == NULL || !screen->judged->read) {
    tenter_json_null(json, "reading");
    return;
  }
  const tenter_tables *tables = c->review->shop->tables;
  const tenter_latest *latest = &screen->judged->latest;
  const tenter_session *session = &c->review->shop->sessions[latest->session];
  tenter_json_open(json, "reading", '{');
  tenter_json_when(json, "taken", (tenter_when){session->taken, session->date_only});
  tenter_json_number(json, "age_hours", latest->age_hours, TENTER_JSON_DURATION);
  count(json, "positions", screen->positions);
  tension(json, "mean", latest->adjusted_mean);
  tension(json, "mean_as_read", latest->mean);
  tension(json, "expanded_uncertainty", screen->expanded);
  write_point(json, tables, "weakest", latest->min, latest->weakest_position,
              latest->weakest_direction);
  write_point(json, tables, "tightest", latest->max, latest->tightest_position,
              latest->tightest_direction);
  tension(json, "warp_mean", latest->warp_mean);
  tension(json, "weft_mean", latest->weft_mean);
  write_readings(json, c, session);
  tenter_json_close(json, '}');
}

static void write_refusals(tenter_json *json, const tenter_certificate *c, tenter_document *d,
                           const tenter_certificate_screen *screen) {
  tenter_json_open(json, "refused", '[');
  for (size_t i = 0; i < screen->refusal_count; i++) {
    const tenter_refusal *r = &screen->refusals[i];
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "code",
                     r->reason != NULL ? tenter_reason_word(r->reason->code)
                                       : tenter_refusal_word(r->code));
    /* never in the reader's form: d has none */
    tenter_json_text(json, "text",
                     r->reason != NULL ? r->reason->text : cert_refusal_words(d, c, r));
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_tolerance(tenter_json *json, const tenter_certificate *c,
                            const tenter_certificate_screen *screen) {
  const tenter_shop *shop = c->review->shop;
  bool judged = screen->accepted_session != SIZE_MAX && screen->verdict != TENTER_VERDICT_NONE;
  tenter_json_open(json, "tolerance", '{');
  tenter_json_text(json, "verdict", review_json_verdict(screen->verdict, "inside", "outside"));
  tenter_json_flag(json, "by_simple_rule", screen->by_simple_rule);
  chance(json, "probability", judged ? screen->judged->tolerance_probability : NAN);
  tension(json, "mean", screen->accepted_mean);
  tension(json, "expanded_uncertainty", screen->accepted_expanded);
  count(json, "sessions", screen->accepted_sessions);
  tenter_json_time(json, "taken",
                   judged ? (tenter_time)shop->sessions[screen->accepted_session].taken
                          : TENTER_NO_TIME);
  tenter_json_close(json, '}');
}

static void write_ahead(tenter_json *json, const tenter_mounting *m,
                        const tenter_certificate_screen *screen) {
  tenter_json_open(json, "day_of_use", '{');
  tenter_json_when(json, "needed_on", m->is.needed_on);
  tension(json, "expected", screen->expected);
  tension(json, "expected_sd", screen->expected_sd);
  chance(json, "below_floor", screen->below_floor_then);
  tenter_json_close(json, '}');
}

static void write_screen(tenter_json *json, const tenter_certificate *c, tenter_document *d,
                         const tenter_certificate_screen *screen) {
  const tenter_mounting *m = &c->review->shop->mountings[screen->mounting];
  element(json);
  tenter_json_text(json, "screen", name(c, TENTER_NAME_SCREEN, screen->screen));
  tenter_json_flag(json, "certified", screen->certified);
  write_refusals(json, c, d, screen);
  tenter_json_name(json, "order", name(c, TENTER_NAME_ORDER, m->is.order));
  tenter_json_name(json, "customer", name(c, TENTER_NAME_CUSTOMER, m->is.customer));
  tenter_json_name(json, "mesh", name(c, TENTER_NAME_MESH, m->is.mesh));
  tenter_json_name(json, "lot", name(c, TENTER_NAME_LOT, m->is.lot));
  tenter_json_when(json, "mounted", m->zero);
  tension(json, "target", m->is.target);
  tension(json, "minus", m->is.minus);
  tension(json, "plus", m->is.plus);
  tension(json, "floor", m->is.floor);
  tension(json, "evenness_point", m->evenness_point);
  tension(json, "evenness_spread", m->evenness_spread);
  tension(json, "warp_weft", m->warp_weft);
  write_reading(json, c, screen);
  write_tolerance(json, c, screen);
  bool judged = screen->judged != NULL && screen->judged->read;
  tenter_json_text(json, "evenness",
                   judged ? review_json_verdict(screen->judged->evenness, "even", "uneven") : NULL);
  write_ahead(json, m, screen);
  tenter_json_close(json, '}');
}

/* ---- the process ---------------------------------------------------------------------------- */

static void write_estimate(tenter_json *json, const char *key, const tenter_estimate *e) {
  tenter_json_open(json, key, '{');
  chance(json, "value", e->value);
  chance(json, "low", e->low);
  chance(json, "high", e->high);
  tenter_json_close(json, '}');
}

static void write_capability(tenter_json *json, const tenter_capability *k) {
  tenter_json_open(json, "capability", '{');
  tension(json, "mean", k->mean);
  tension(json, "sd", k->sd);
  tension(json, "within", k->within);
  write_estimate(json, "cp", &k->cp);
  write_estimate(json, "cpk", &k->cpk);
  write_estimate(json, "pp", &k->pp);
  write_estimate(json, "ppk", &k->ppk);
  write_estimate(json, "below", &k->below);
  write_estimate(json, "above", &k->above);
  write_estimate(json, "outside", &k->outside);
  tenter_json_close(json, '}');
}

static void write_plan(tenter_json *json, const tenter_certificate *c,
                       const tenter_certificate_group *g) {
  if (!g->planned) {
    tenter_json_null(json, "plan");
    return;
  }
  tenter_json_open(json, "plan", '{');
  count(json, "n_asked", c->plan_asked);
  count(json, "n", g->plan.count);
  tension(json, "k", g->plan.k);
  tension(json, "sigma", g->plan.sigma);
  tension(json, "lower_quality", g->result.lower_quality);
  tension(json, "upper_quality", g->result.upper_quality);
  tenter_json_flag(json, "accepted", g->result.accepted);
  chance(json, "accepted_95", tenter_plan_quality(&g->plan, 0.95));
  chance(json, "accepted_50", tenter_plan_quality(&g->plan, 0.50));
  chance(json, "accepted_10", tenter_plan_quality(&g->plan, 0.10));
  tenter_json_close(json, '}');
}

static void write_values(tenter_json *json, const tenter_certificate *c,
                         const tenter_certificate_group *g) {
  const tenter_shop *shop = c->review->shop;
  tenter_json_open(json, "values", '[');
  for (size_t i = 0; i < g->count; i++) {
    const tenter_mounting *m = &shop->mountings[g->values[i].mounting];
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "screen", name(c, TENTER_NAME_SCREEN, m->screen));
    tenter_json_when(json, "stretched", m->stretched);
    tension(json, "at_24h", g->values[i].value);
    tenter_json_flag(json, "delivered", g->values[i].delivered);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_group(tenter_json *json, const tenter_certificate *c,
                        const tenter_certificate_group *g) {
  element(json);
  tenter_json_name(json, "mesh", name(c, TENTER_NAME_MESH, g->mesh));
  tension(json, "target", g->target);
  tension(json, "lower", g->lower);
  tension(json, "upper", g->upper);
  count(json, "mountings", g->mountings);
  count(json, "rejects", g->rejects);
  count(json, "refused", g->refused);
  count(json, "within", g->within);
  count(json, "outside", g->outside);
  chance(json, "outside_low", g->outside_share.low);
  chance(json, "outside_high", g->outside_share.high);
  tension(json, "loss_per_decade", g->mean_loss);
  write_values(json, c, g);
  tenter_json_open(json, "normality", '{');
  tenter_json_flag(json, "tested", g->tested);
  tenter_json_flag(json, "normal", g->normal);
  tension(json, "a2", g->normality.a2);
  chance(json, "p", g->normality.p);
  tenter_json_close(json, '}');
  write_capability(json, &g->capability);
  tenter_json_open(json, "tolerance_interval", '{');
  tension(json, "factor", g->factor);
  tension(json, "low", g->low);
  tension(json, "high", g->high);
  chance(json, "range_content", g->range_content);
  tenter_json_close(json, '}');
  tenter_json_flag(json, "sorted", g->sorted_delivery);
  write_plan(json, c, g);
  tenter_json_close(json, '}');
}

/* ---- meters, settings ----------------------------------------------------------------------- */

static void write_meter(tenter_json *json, const tenter_certificate *c,
                        const tenter_certificate_meter *m) {
  element(json);
  tenter_json_text(json, "meter", name(c, TENTER_NAME_METER, m->meter));
  count(json, "screens", m->screens);
  tension(json, "expanded_uncertainty", m->expanded);
  tension(json, "coverage_factor", m->coverage);
  tenter_json_flag(json, "assumed", m->assumed);
  tension(json, "resolution", m->resolution);
  tenter_json_when(json, "checked", m->checked);
  tension(json, "error_at_check", m->worst);
  tension(json, "checked_every_days", m->every_days);
  tension(json, "bias", m->bias);
  tension(json, "bias_se", m->bias_se);
  tenter_json_close(json, '}');
}

static void write_sets(tenter_json *json, const tenter_certificate *c) {
  tenter_json_open(json, "sets", '[');
  for (size_t i = 0; i < c->review->set_count; i++) {
    const tenter_review_set *set = &c->review->sets[i];
    if (!cert_has_set(c, set))
      continue;
    element(json);
    tenter_json_text(json, "set", name(c, TENTER_NAME_SET, set->set));
    count(json, "screens", set->screen_count);
    tension(json, "spread", set->spread);
    tension(json, "spread_uncertainty", set->spread_uncertainty);
    tenter_json_text(json, "agrees", review_json_verdict(set->agrees, "yes", "no"));
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_settings(tenter_json *json, const tenter_shop *shop, tenter_document *d) {
  tenter_json_line(json);
  tenter_json_open(json, "settings", '[');
  for (size_t i = 0; i < tenter_setting_count; i++) {
    const tenter_setting *setting = &tenter_setting_table[i];
    const char *value = tenter_setting_print(&shop->config->settings, setting, d->arena);
    element(json);
    tenter_json_text(json, "section", setting->section);
    tenter_json_text(json, "key", setting->key);
    tenter_json_text(json, "value", value);
    tenter_json_close(json, '}');
    d->failed |= value == NULL;
  }
  tenter_json_close(json, ']');
}

static void write_config(tenter_json *json, const tenter_shop *shop) {
  if (shop->config->file[0] == '\0') {
    tenter_json_null(json, "config");
    return;
  }
  tenter_json_open(json, "config", '{');
  tenter_json_text(json, "file", shop->config->file);
  tenter_json_text(json, "sha256", shop->config->sha256);
  tenter_json_close(json, '}');
}

/* ---- the whole ------------------------------------------------------------------------------ */

static void write_subject(tenter_json *json, const tenter_certificate *c) {
  static const char *const scopes[] = {"order", "customer", "screens"};
  const tenter_settings *is = &c->review->shop->config->settings;
  tenter_json_name(json, "issuer", is->shop_name);
  tenter_json_name(json, "issuer_address", is->shop_address);
  tenter_json_text(json, "scope", scopes[c->request.scope]);
  tenter_json_name(json, "customer", name(c, TENTER_NAME_CUSTOMER, c->customer));
  tenter_json_name(json, "order", name(c, TENTER_NAME_ORDER, c->order));
  tenter_json_text(json, "decision_rule", c->simple ? "simple" : "guarded");
  tenter_json_number(json, "coverage_factor", c->simple ? 0 : is->coverage_factor, 6);
  count(json, "certified", c->certified);
  count(json, "not_certified", c->screen_count - c->certified);
  count(json, "by_simple_rule", c->by_simple_rule);
}

void cert_data_json(const tenter_certificate_report *report, tenter_document *d,
                    tenter_buffer *out) {
  const tenter_certificate *c = report->certificate;
  tenter_json json = tenter_json_start(out);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, c->review->shop, report->options->version);
  write_subject(&json, c);
  tenter_json_line(&json);
  tenter_json_open(&json, "screens", '[');
  for (size_t i = 0; i < c->screen_count; i++)
    write_screen(&json, c, d, &c->screens[i]);
  tenter_json_close(&json, ']');
  tenter_json_line(&json);
  tenter_json_open(&json, "process", '[');
  for (size_t i = 0; i < c->group_count; i++)
    write_group(&json, c, &c->groups[i]);
  tenter_json_close(&json, ']');
  tenter_json_line(&json);
  tenter_json_open(&json, "meters", '[');
  for (size_t i = 0; i < c->meter_count; i++)
    write_meter(&json, c, &c->meters[i]);
  tenter_json_close(&json, ']');
  tenter_json_line(&json);
  write_sets(&json, c);
  tenter_json_line(&json);
  inputs_json(&json, c->review->shop);
  write_config(&json, c->review->shop);
  write_settings(&json, c->review->shop, d);
  tenter_json_close(&json, '}');
}
