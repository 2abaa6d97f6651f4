/* SPDX-License-Identifier: GPL-3.0-or-later */
/* review.json but for its screens: the keys in the order in which they are documented. */
#include "review_json.h"

#include <math.h>
#include <stdio.h>

#include "account_json.h"
#include "charts_json.h"

static const char *name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

static void tension(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_TENSION);
}

static void write_actions(tenter_json *json, const size_t actions[TENTER_ACTION_COUNT]) {
  for (tenter_action a = TENTER_ACTION_USE; a < TENTER_ACTION_COUNT; a++)
    tenter_json_integer(json, tenter_action_code(a), (long long)actions[a]);
}

static void write_summary(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "summary", '{');
  tenter_json_integer(json, "screens", (long long)review->screen_count);
  tenter_json_integer(json, "sessions", (long long)review->shop->session_count);
  tenter_json_integer(json, "readings", (long long)review->shop->reading_count);
  write_actions(json, review->actions);
  tenter_json_number(json, "expected_false_alarms", review->expected_false_alarms,
                     TENTER_JSON_TENSION);
  tenter_json_close(json, '}');
}

static void write_texts(tenter_json *json, const char *key, const char *const *texts,
                        size_t count) {
  tenter_json_open(json, key, '[');
  for (size_t i = 0; i < count; i++)
    tenter_json_text(json, NULL, texts[i]);
  tenter_json_close(json, ']');
}

static void write_lot_cost(tenter_json *json, const tenter_review_lot *lot) {
  tension(json, "extra_loss_at_30_days", lot->extra_loss_at_30_days);
  tension(json, "extra_loss_at_30_days_se", lot->extra_loss_at_30_days_se);
  tension(json, "floor", lot->floor);
  tenter_json_number(json, "days_to_floor", lot->days_to_floor, TENTER_JSON_DURATION);
  tenter_json_number(json, "days_to_floor_early", lot->days_to_floor_early, TENTER_JSON_DURATION);
  tenter_json_number(json, "days_to_floor_late", lot->days_to_floor_late, TENTER_JSON_DURATION);
  tenter_json_number(json, "mesh_days_to_floor", lot->mesh_days_to_floor, TENTER_JSON_DURATION);
  tenter_json_number(json, "days_lost", lot->days_lost, TENTER_JSON_DURATION);
  tension(json, "adjusted_excess", lot->adjusted_excess);
  tension(json, "adjusted_excess_se", lot->adjusted_excess_se);
}

void review_json_lots(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "lots", '[');
  for (size_t i = 0; i < review->lot_count; i++) {
    const tenter_review_lot *lot = &review->lots[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, lot->lot));
    tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, lot->mesh));
    tenter_json_integer(json, "screens", (long long)lot->screens);
    tenter_json_integer(json, "sessions", (long long)lot->sessions);
    tension(json, "loss_per_decade", lot->loss_per_decade);
    tension(json, "loss_per_decade_se", lot->loss_per_decade_se);
    tension(json, "mesh_loss_per_decade", lot->mesh_loss_per_decade);
    tension(json, "excess", lot->excess);
    tension(json, "excess_se", lot->excess_se);
    tenter_json_number(json, "probability_fast", lot->probability_fast, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "q_value", lot->q_value, TENTER_JSON_PROBABILITY);
    tenter_json_flag(json, "fast", lot->fast);
    write_texts(json, "confounded_with", lot->confounded_with, lot->confounded_count);
    tension(json, "raw_loss_per_decade", lot->raw_loss_per_decade);
    tension(json, "raw_loss_per_decade_se", lot->raw_loss_per_decade_se);
    tenter_json_integer(json, "raw_screens", (long long)lot->raw_screens);
    tenter_json_number(json, "raw_p_value", lot->raw_p_value, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "raw_q_value", lot->raw_q_value, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "raw_pair_p_value", lot->raw_pair_p_value, TENTER_JSON_PROBABILITY);
    tenter_json_integer(json, "raw_above", (long long)lot->raw_above);
    tenter_json_integer(json, "raw_compared", (long long)lot->raw_compared);
    write_lot_cost(json, lot);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_population(tenter_json *json, const tenter_review *review,
                             const tenter_review_population *population) {
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, population->mesh));
  tenter_json_integer(json, "mountings", (long long)population->mountings);
  tenter_json_integer(json, "lots", (long long)population->lots);
  tenter_json_integer(json, "sessions", (long long)population->sessions);
  tension(json, "reml_log_likelihood", population->reml_log_likelihood);
  tension(json, "at_24h", population->at_24h);
  tension(json, "at_24h_se", population->at_24h_se);
  tension(json, "loss_per_decade", population->loss_per_decade);
  tension(json, "loss_per_decade_se", population->loss_per_decade_se);
  tenter_json_open(json, "sd", '{');
  tension(json, "lot_at_24h", population->sd_lot_at_24h);
  tension(json, "lot_loss", population->sd_lot_loss);
  tension(json, "lot_correlation", population->lot_correlation);
  tension(json, "mounting_at_24h", population->sd_mounting_at_24h);
  tension(json, "mounting_loss", population->sd_mounting_loss);
  tension(json, "mounting_correlation", population->mounting_correlation);
  tension(json, "session", population->sd_session);
  tenter_json_close(json, '}');
  tenter_json_text(json, "structure", population->structure);
  tenter_json_open(json, "covariates", '[');
  for (size_t i = 0; i < population->covariate_count; i++) {
    const tenter_review_covariate *covariate = &population->covariates[i];
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "name", covariate->name);
    tension(json, "estimate", covariate->estimate);
    tension(json, "se", covariate->se);
    tenter_json_text(json, "unit", covariate->unit);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
  tenter_json_text(json, "scale", population->scale);
  tension(json, "loss_at_rest", population->loss_at_rest);
  tension(json, "loss_at_rest_se", population->loss_at_rest_se);
  tenter_json_text(json, "law", population->law);
  tension(json, "law_beta", population->law_beta);
  tension(json, "law_tau_hours", population->law_tau_hours);
  tenter_json_number(json, "levels_off", population->levels_off, TENTER_JSON_PROBABILITY);
  tenter_json_close(json, '}');
}

void review_json_populations(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "populations", '[');
  for (size_t i = 0; i < review->population_count; i++) {
    tenter_json_line(json);
    write_population(json, review, &review->populations[i]);
  }
  tenter_json_close(json, ']');
}

void review_json_meters(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "meters", '[');
  for (size_t i = 0; i < review->meter_count; i++) {
    const tenter_review_meter *meter = &review->meters[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_name(json, "meter", name(review, TENTER_NAME_METER, meter->meter));
    tenter_json_integer(json, "sessions", (long long)meter->sessions);
    tension(json, "bias", meter->bias);
    tension(json, "bias_se", meter->bias_se);
    tenter_json_text(json, "bias_against", meter->bias_against);
    tenter_json_flag(json, "shifted", meter->shifted);
    tenter_json_time(json, "since", meter->since);
    write_texts(json, "confounded_with", meter->confounded_with, meter->confounded_count);
    tenter_json_integer(json, "checks", (long long)meter->checks);
    tension(json, "resolution", meter->resolution);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

void review_json_shifts(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "shifts", '[');
  for (size_t i = 0; i < review->shift_count; i++) {
    const tenter_review_shift *shift = &review->shifts[i];
    bool person = shift->cause[0] == 'o';
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "cause", shift->cause);
    tenter_json_name(json, "name",
                     name(review, person ? TENTER_NAME_OPERATOR : TENTER_NAME_METER, shift->name));
    tenter_json_time(json, "since", shift->since);
    tenter_json_time(json, "until", shift->until);
    tenter_json_flag(json, "drift", shift->drift);
    tension(json, "size", shift->size);
    tension(json, "size_se", shift->size_se);
    tenter_json_text(json, "against", shift->against);
    tenter_json_flag(json, "corrected", shift->corrected);
    tenter_json_integer(json, "sessions", (long long)shift->sessions);
    write_texts(json, "confounded_with", shift->confounded_with, shift->confounded_count);
    tenter_json_text(json, "text", shift->text);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_slips(tenter_json *json, const tenter_review *review) {
  const tenter_tables *tables = review->shop->tables;
  tenter_json_line(json);
  tenter_json_open(json, "slips", '[');
  for (size_t i = 0; i < review->slip_count; i++) {
    const tenter_finding *slip = &review->slips[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_name(json, "screen", name(review, TENTER_NAME_SCREEN, slip->screen));
    tenter_json_text(json, "file", tables->sources[slip->rows[0].file].file);
    tenter_json_integer(json, "line", slip->rows[0].line);
    tenter_json_text(json, "text", slip->text);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_station(tenter_json *json, const tenter_review *review,
                          const tenter_review_station *station) {
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "station", name(review, TENTER_NAME_STATION, station->station));
  tenter_json_integer(json, "mountings", (long long)station->mountings);
  for (int n = 0; n < TENTER_STATION_COUNT; n++)
    tension(json, tenter_station_word((tenter_station_number)n), station->mean[n]);
  tenter_json_flag(json, "flagged", station->flagged);
  tenter_json_text(json, "advice", station->advice);
  write_texts(json, "confounded_with", station->confounded_with, station->confounded_count);
  tenter_json_open(json, "numbers", '[');
  for (int n = 0; n < TENTER_STATION_COUNT; n++) {
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "number", tenter_station_word((tenter_station_number)n));
    tension(json, "mean_se", station->mean_se[n]);
    tension(json, "off", station->off[n]);
    tension(json, "off_se", station->off_se[n]);
    tenter_json_number(json, "q_value", station->q_value[n], TENTER_JSON_PROBABILITY);
    tenter_json_flag(json, "uneven", station->uneven[n]);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
  tenter_json_close(json, '}');
}

static void write_stations(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "stations", '[');
  for (size_t i = 0; i < review->station_count; i++) {
    tenter_json_line(json);
    write_station(json, review, &review->stations[i]);
  }
  tenter_json_close(json, ']');
}

static void write_set(tenter_json *json, const tenter_review *review,
                      const tenter_review_set *set) {
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "set", name(review, TENTER_NAME_SET, set->set));
  tenter_json_open(json, "screens", '[');
  for (size_t i = 0; i < set->screen_count; i++)
    tenter_json_text(json, NULL, name(review, TENTER_NAME_SCREEN, set->screens[i]));
  tenter_json_close(json, ']');
  tension(json, "spread", set->spread);
  tension(json, "spread_uncertainty", set->spread_uncertainty);
  tenter_json_text(json, "agrees", review_json_verdict(set->agrees, "yes", "no"));
  tenter_json_name(json, "odd_one_out", name(review, TENTER_NAME_SCREEN, set->odd_one_out));
  tenter_json_close(json, '}');
}

static void write_sets(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "sets", '[');
  for (size_t i = 0; i < review->set_count; i++) {
    tenter_json_line(json);
    write_set(json, review, &review->sets[i]);
  }
  tenter_json_close(json, ']');
}

void review_json_intervals(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "intervals", '[');
  for (size_t i = 0; i < review->interval_count; i++) {
    const tenter_review_interval *interval = &review->intervals[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, interval->mesh));
    tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, interval->lot));
    tenter_json_number(json, "risk", interval->risk, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "days", interval->days, TENTER_JSON_DURATION);
    tenter_json_number(json, "days_early", interval->days_early, TENTER_JSON_DURATION);
    tenter_json_number(json, "days_late", interval->days_late, TENTER_JSON_DURATION);
    tension(json, "floor", interval->floor);
    tenter_json_number(json, "below_at_start", interval->below_at_start, TENTER_JSON_PROBABILITY);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_weeks(tenter_json *json, const tenter_review *review) {
  tenter_json_line(json);
  tenter_json_open(json, "weeks", '[');
  for (size_t i = 0; i < review->week_count; i++) {
    const tenter_review_week *week = &review->weeks[i];
    char text[32];
    snprintf(text, sizeof text, "%04d-W%02d", week->year, week->week);
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "week", text);
    tenter_json_integer(json, "screens", (long long)week->screens);
    tenter_json_integer(json, "sessions", (long long)week->sessions);
    tension(json, "mean_shift", week->mean_shift);
    tenter_json_number(json, "below_floor", week->below_floor, TENTER_JSON_PROBABILITY);
    write_actions(json, week->actions);
    tenter_json_integer(json, "in_use", (long long)week->in_use);
    tenter_json_number(json, "below_floor_low", week->below_floor_low, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "below_floor_high", week->below_floor_high, TENTER_JSON_PROBABILITY);
    tenter_json_flag(json, "charted", week->charted);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_head(tenter_json *json, const tenter_review *review, const char *version) {
  const tenter_settings *settings = &review->shop->config->settings;
  tenter_json_open(json, NULL, '{');
  inputs_json_head(json, review->shop, version);
  tenter_json_number(json, "horizon_days", settings->horizon_days, TENTER_JSON_DURATION);
  tenter_json_number(json, "risk", settings->risk, TENTER_JSON_PROBABILITY);
  tenter_json_line(json);
  inputs_json(json, review->shop);
  write_summary(json, review);
  tenter_json_line(json);
  tenter_json_open(json, "screens", '[');
}

static void write_tail(tenter_json *json, const tenter_review *review) {
  tenter_json_close(json, ']');
  review_json_lots(json, review);
  review_json_populations(json, review);
  review_json_meters(json, review);
  review_json_shifts(json, review);
  write_sets(json, review);
  write_stations(json, review);
  review_json_intervals(json, review);
  charts_json(json, review, false);
  write_weeks(json, review);
  trends_json(json, review);
  write_slips(json, review);
  tenter_json_line(json);
  write_texts(json, "missing", review->missing, review->missing_count);
  tenter_json_close(json, '}');
  tenter_buffer_byte(json->out, '\n');
}

tenter_status tenter_report_review_json(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error) {
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  write_head(&json, review, options->version);
  unsigned depth = json.depth;
  tenter_status status = sink_flush(sink, &buffer, error);
  if (status == TENTER_OK)
    status = review_json_screens(review, options->pool, depth, sink, error);
  if (status == TENTER_OK) {
    write_tail(&json, review);
    status = sink_flush(sink, &buffer, error);
  }
  tenter_buffer_release(&buffer);
  return status;
}
