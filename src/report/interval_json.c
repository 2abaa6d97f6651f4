/* SPDX-License-Identifier: GPL-3.0-or-later */
/* interval.json (schema: reports/interval.schema.json). */
#include <math.h>

#include "account_json.h"
#include "interval_report.h"
#include "review_json.h"

static void days(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_DURATION);
}

static const char *name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

static void write_array(tenter_json *json, const char *key, const double *values, size_t count,
                        int decimals) {
  tenter_json_open(json, key, '[');
  for (size_t i = 0; i < count; i++)
    tenter_json_number(json, NULL, values[i], decimals);
  tenter_json_close(json, ']');
}

static void write_estimate(tenter_json *json, const char *key, const tenter_interval_estimate *e) {
  tenter_json_open(json, key, '{');
  days(json, "days", e->days);
  days(json, "days_early", e->early);
  days(json, "days_late", e->late);
  tenter_json_close(json, '}');
}

static void write_life(tenter_json *json, const tenter_interval_life *life, bool steps) {
  static const char *const verdicts[] = {"too few", "agree", "past shorter", "past longer"};
  tenter_json_open(json, "past", '{');
  tenter_json_integer(json, "mountings", (long long)life->mountings);
  tenter_json_integer(json, "below", (long long)life->crossed);
  tenter_json_integer(json, "below_at_first", (long long)life->at_first);
  tenter_json_integer(json, "restretched", (long long)life->restretched);
  tenter_json_integer(json, "restretched_low", (long long)life->restretched_low);
  tenter_json_integer(json, "burst", (long long)life->burst);
  tenter_json_integer(json, "retired", (long long)life->retired);
  tenter_json_integer(json, "in_use", (long long)life->in_use);
  write_estimate(json, "without_a_law", &life->free);
  write_estimate(json, "weibull", &life->weibull);
  tenter_json_number(json, "weibull_shape", life->shape, TENTER_JSON_TENSION);
  days(json, "weibull_scale_days", life->scale_days);
  days(json, "weibull_days_if_all_restretched_failed", life->weibull_all_fail);
  days(json, "weibull_days_if_none_failed", life->weibull_none_fail);
  tenter_json_text(json, "against_model", verdicts[life->verdict]);
  if (steps) {
    write_array(json, "step_days", life->step_days, life->step_count, TENTER_JSON_DURATION);
    write_array(json, "step_below", life->step_below, life->step_count, TENTER_JSON_PROBABILITY);
  }
  tenter_json_close(json, '}');
}

static void write_cost(tenter_json *json, const tenter_interval_cost *cost) {
  if (!cost->known) {
    tenter_json_null(json, "cost");
    return;
  }
  tenter_json_open(json, "cost", '{');
  days(json, "best_days", cost->best_days);
  tenter_json_number(json, "best_rate", cost->best_rate, TENTER_JSON_TENSION);
  tenter_json_number(json, "habit_rate", cost->habit_rate, TENTER_JSON_TENSION);
  tenter_json_integer(json, "habit_planned", (long long)cost->habit_planned);
  tenter_json_integer(json, "habit_failed", (long long)cost->habit_failed);
  tenter_json_number(json, "habit_screen_years", cost->habit_screen_years, TENTER_JSON_TENSION);
  tenter_json_number(json, "calendar_rate", cost->calendar_rate, TENTER_JSON_TENSION);
  tenter_json_number(json, "saving_on_habit", cost->saving_on_habit, TENTER_JSON_TENSION);
  tenter_json_number(json, "saving_on_calendar", cost->saving_on_calendar, TENTER_JSON_TENSION);
  tenter_json_close(json, '}');
}

static void write_sensitivity(tenter_json *json, const tenter_interval_group *group) {
  write_array(json, "risks", group->risks, TENTER_INTERVAL_RISKS, TENTER_JSON_PROBABILITY);
  write_array(json, "risk_days", group->risk_days, TENTER_INTERVAL_RISKS, TENTER_JSON_DURATION);
  write_array(json, "read_every_days", group->spacing_days, TENTER_INTERVAL_SPACINGS,
              TENTER_JSON_DURATION);
  write_array(json, "read_life_days", group->spacing_life, TENTER_INTERVAL_SPACINGS,
              TENTER_JSON_DURATION);
}

static void write_lot(tenter_json *json, const tenter_review *review,
                      const tenter_interval_group *lot) {
  const tenter_interval_curve *c = &lot->curve;
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, lot->interval->mesh));
  tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, lot->interval->lot));
  tenter_json_integer(json, "in_use", (long long)lot->in_use);
  write_array(json, "below", c->below, TENTER_INTERVAL_POINTS, TENTER_JSON_PROBABILITY);
  write_array(json, "cost_rate", c->cost, lot->cost.known ? TENTER_INTERVAL_POINTS : 0,
              TENTER_JSON_TENSION);
  write_sensitivity(json, lot);
  write_life(json, &lot->life, false);
  write_cost(json, &lot->cost);
  tenter_json_close(json, '}');
}

static void write_mesh(tenter_json *json, const tenter_review *review,
                       const tenter_interval_group *mesh) {
  const tenter_interval_curve *c = &mesh->curve;
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, mesh->interval->mesh));
  tenter_json_integer(json, "in_use", (long long)mesh->in_use);
  write_array(json, "days", c->days, TENTER_INTERVAL_POINTS, TENTER_JSON_DURATION);
  write_array(json, "below", c->below, TENTER_INTERVAL_POINTS, TENTER_JSON_PROBABILITY);
  write_array(json, "below_low", c->low, TENTER_INTERVAL_POINTS, TENTER_JSON_TENSION);
  write_array(json, "below_high", c->high, TENTER_INTERVAL_POINTS, TENTER_JSON_TENSION);
  write_array(json, "cost_rate", c->cost, mesh->cost.known ? TENTER_INTERVAL_POINTS : 0,
              TENTER_JSON_TENSION);
  write_sensitivity(json, mesh);
  write_life(json, &mesh->life, true);
  write_cost(json, &mesh->cost);
  tenter_json_close(json, '}');
}

static void write_turn(tenter_json *json, const tenter_review *review, const work_turn *turn,
                       const char *what, int due, tenter_arena *arena) {
  const tenter_mounting *m = &review->shop->mountings[turn->screen->mounting];
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "week", work_week_words(review, turn->week, arena));
  tenter_json_text(json, "do", what);
  tenter_json_name(json, "screen", name(review, TENTER_NAME_SCREEN, turn->screen->screen));
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, turn->mesh));
  tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, m->is.lot));
  tenter_json_name(json, "place", name(review, TENTER_NAME_PLACE, m->is.place));
  tenter_json_text(json, "due_week", work_week_words(review, due, arena));
  tenter_json_time(json, "risk_reached", turn->screen->turn.due);
  tenter_json_number(json, "below_floor_at_horizon", turn->screen->forecast.below_floor_at_horizon,
                     TENTER_JSON_PROBABILITY);
  tenter_json_number(json, "value_of_reading", turn->screen->turn.value, TENTER_JSON_PROBABILITY);
  tenter_json_close(json, '}');
}

static void write_plan(tenter_json *json, const tenter_review *review, tenter_buffer *out) {
  tenter_arena *arena = tenter_arena_new();
  work_plan stretched, read;
  bool made = arena != NULL && work_plan_new(review, false, arena, &stretched) &&
              work_plan_new(review, true, arena, &read);
  tenter_json_line(json);
  tenter_json_open(json, "plan", '[');
  for (size_t i = 0; made && i < stretched.count; i++)
    write_turn(json, review, &stretched.turns[i], "restretch",
               stretched.turns[i].screen->turn.restretch_due, arena);
  for (size_t i = 0; made && i < read.count; i++)
    write_turn(json, review, &read.turns[i], "read", read.turns[i].screen->turn.read_due, arena);
  tenter_json_close(json, ']');
  out->failed |= !made || tenter_arena_failed(arena);
  tenter_arena_free(arena);
}

void interval_json(const tenter_interval_study *study, const char *version, tenter_buffer *out) {
  const tenter_review *review = study->review;
  tenter_json json = tenter_json_start(out);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, version);
  tenter_json_number(&json, "risk", review->shop->config->settings.risk, TENTER_JSON_PROBABILITY);
  days(&json, "calendar_days", study->calendar_days);
  review_json_intervals(&json, review);
  tenter_json_line(&json);
  tenter_json_open(&json, "meshes", '[');
  for (size_t m = 0; m < study->count; m++)
    write_mesh(&json, review, &study->meshes[m]);
  tenter_json_close(&json, ']');
  tenter_json_line(&json);
  tenter_json_open(&json, "lots", '[');
  for (size_t i = 0; i < study->lot_count; i++)
    write_lot(&json, review, &study->lots[i]);
  tenter_json_close(&json, ']');
  write_plan(&json, review, out);
  tenter_json_close(&json, '}');
  tenter_buffer_byte(out, '\n');
}
