/* SPDX-License-Identifier: GPL-3.0-or-later */
/* screen.json: each screen as it stands in review.json, and its story. */
#include <math.h>

#include "account_json.h"
#include "review_json.h"
#include "tenter/report/report.h"

static const char *name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

static void tension(tenter_json *json, const char *key, double value) {
  tenter_json_number(json, key, value, TENTER_JSON_TENSION);
}

static void write_session(tenter_json *json, const tenter_review *review,
                          const tenter_screen_session *s) {
  const tenter_session *session = &review->shop->sessions[s->session];
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_when(json, "taken", (tenter_when){session->taken, session->date_only});
  tenter_json_number(json, "age_hours", s->age_hours, TENTER_JSON_DURATION);
  tenter_json_integer(json, "readings", session->count);
  tenter_json_flag(json, "full", session->full);
  tenter_json_name(json, "meter",
                   name(review, TENTER_NAME_METER,
                        session->meter == TENTER_NO_NAME16 ? TENTER_NO_NAME : session->meter));
  tension(json, "mean", s->mean);
  tension(json, "adjusted_mean", s->adjusted);
  tension(json, "uncertainty", s->uncertainty);
  tension(json, "sd", s->sd);
  tension(json, "min", s->min);
  tension(json, "max", s->max);
  tension(json, "expected", s->expected);
  tension(json, "residual", s->residual);
  tenter_json_flag(json, "misread", s->misread);
  tenter_json_close(json, '}');
}

static void write_event(tenter_json *json, const tenter_review *review, const tenter_event *e) {
  const tenter_tables *tables = review->shop->tables;
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_when(json, "at", e->at);
  tenter_json_text(json, "event",
                   e->kind == TENTER_EVENT_NOTE ? name(review, TENTER_NAME_NOTE, e->word)
                                                : tenter_event_word(e->kind));
  tenter_json_number(json, "count", e->count, 0);
  tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, e->lot));
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, e->mesh));
  tenter_json_name(json, "station", name(review, TENTER_NAME_STATION, e->station));
  tenter_json_name(json, "operator", name(review, TENTER_NAME_OPERATOR, e->operator));
  tenter_json_text(json, "file", tables->sources[e->row.file].file);
  tenter_json_integer(json, "line", e->row.line);
  tenter_json_close(json, '}');
}

static void write_parameter(tenter_json *json, const tenter_screen_parameter *p) {
  static const char *const limits[] = {"given", "each its own", "none left", "no minimum"};
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "name", p->name);
  tenter_json_text(json, "unit", p->unit);
  tension(json, "value", p->value);
  tension(json, "se", p->se);
  tenter_json_text(json, "limits", limits[p->limits]);
  tension(json, "low", p->low_open ? NAN : p->low);
  tension(json, "high", p->high_open ? NAN : p->high);
  tenter_json_flag(json, "low_open", p->low_open);
  tenter_json_flag(json, "high_open", p->high_open);
  tenter_json_close(json, '}');
}

static void write_law(tenter_json *json, const tenter_screen_law *law, const char *of) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "law", law->law);
  tenter_json_text(json, "of", of);
  tenter_json_text(json, "formula", law->formula);
  tenter_json_flag(json, "fitted", law->fitted);
  tenter_json_flag(json, "chosen", law->chosen);
  tenter_json_open(json, "parameters", '[');
  for (size_t k = 0; k < law->parameter_count; k++)
    write_parameter(json, &law->parameter[k]);
  tenter_json_close(json, ']');
  tension(json, "aicc", law->aicc);
  tension(json, "aicc_above_least", law->above);
  tension(json, "explained", law->explained);
  tenter_json_number(json, "runs_p", law->runs_p, TENTER_JSON_PROBABILITY);
  tenter_json_name(json, "words", law->words);
  tenter_json_close(json, '}');
}

static void write_laws(tenter_json *json, const tenter_screen_story *story) {
  tenter_json_open(json, "laws", '[');
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++)
    write_law(json, &story->lot.law[i], story->lot_known ? "lot" : "mesh");
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++)
    write_law(json, &story->own.law[i], "own");
  tenter_json_close(json, ']');
}

static void write_ages(tenter_json *json, const tenter_screen_story *story) {
  tenter_json_open(json, "ages", '[');
  for (size_t i = 0; i < TENTER_SCREEN_AGES; i++) {
    tenter_json_open(json, NULL, '{');
    tenter_json_number(json, "days", story->ages[i].days, TENTER_JSON_DURATION);
    tension(json, "tension", story->ages[i].tension);
    tension(json, "tension_se", story->ages[i].tension_se);
    tension(json, "loss", story->ages[i].loss);
    tension(json, "loss_se", story->ages[i].loss_se);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_crosses(tenter_json *json, const char *key, const tenter_screen_floor *floor) {
  tenter_json_open(json, key, '{');
  tenter_json_time(json, "early", floor->early);
  tenter_json_time(json, "median", floor->median);
  tenter_json_time(json, "late", floor->late);
  tenter_json_close(json, '}');
}

static void write_choice(tenter_json *json, const tenter_screen_story *story) {
  tenter_screen_floor forecast = {false, TENTER_NO_TIME, TENTER_NO_TIME, TENTER_NO_TIME};
  if (story->judged != NULL)
    forecast = (tenter_screen_floor){true, story->judged->forecast.early,
                                     story->judged->forecast.median, story->judged->forecast.late};
  tenter_json_open(json, "choice", '{');
  tenter_json_text(json, "law", story->lot.law[story->law].law);
  tenter_json_number(json, "chance_of_levelling", story->levels_off, TENTER_JSON_PROBABILITY);
  tenter_json_text(json, "lot_law", story->lot.law[story->lot.chosen].law);
  tenter_json_text(json, "why", story->lot.why);
  tenter_json_integer(json, "mountings", (long long)story->lot.mountings);
  tenter_json_integer(json, "sessions", (long long)story->lot.sessions);
  tenter_json_text(json, "own_law", story->own.law[story->own.chosen].law);
  tenter_json_text(json, "own_why", story->own.why);
  tension(json, "share_of_loss", story->share);
  tension(json, "share_of_loss_se", story->share_se);
  write_ages(json, story);
  write_crosses(json, "crosses", &forecast);
  if (story->lot_floor.known)
    write_crosses(json, "crosses_by_lot_law", &story->lot_floor);
  else
    tenter_json_null(json, "crosses_by_lot_law");
  tenter_json_close(json, '}');
}

static void write_leaving(tenter_json *json, const tenter_review *review,
                          const tenter_screen_leaving *leaving) {
  tenter_json_open(json, "leaving", '{');
  tenter_json_integer(json, "tested", (long long)leaving->tested);
  tenter_json_flag(json, "left", leaving->left);
  bool known = leaving->session != SIZE_MAX;
  tenter_json_time(json, "taken",
                   known ? (tenter_time)review->shop->sessions[leaving->session].taken
                         : TENTER_NO_TIME);
  tension(json, "change", leaving->change);
  tension(json, "change_se", leaving->change_se);
  tenter_json_number(json, "p", known ? leaving->p : NAN, TENTER_JSON_PROBABILITY);
  tenter_json_number(json, "false_alarm_rate", leaving->rate, TENTER_JSON_PROBABILITY);
  tenter_json_flag(json, "newest", leaving->newest);
  bool placed = leaving->place < review->shop->tables->position_count;
  tenter_json_text(json, "place",
                   placed ? review->shop->tables->positions[leaving->place].label : NULL);
  tension(json, "place_change", leaving->place_change);
  tenter_json_close(json, '}');
}

static void write_unjudged(tenter_json *json, const tenter_review *review,
                           const tenter_screen_story *story) {
  const tenter_mounting *m = &review->shop->mountings[story->mounting];
  tenter_json_text(json, "screen", name(review, TENTER_NAME_SCREEN, story->screen));
  tenter_json_name(json, "mesh", name(review, TENTER_NAME_MESH, m->is.mesh));
  tenter_json_name(json, "lot", name(review, TENTER_NAME_LOT, m->is.lot));
  tenter_json_when(json, "mounted", m->zero);
  tenter_json_integer(json, "sessions", (long long)m->session_count);
  tenter_json_null(json, "action");
}

static void write_story(tenter_json *json, const tenter_review *review,
                        const review_json_names *files, const tenter_screen_story *story) {
  const tenter_mounting *m = &review->shop->mountings[story->mounting];
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  if (story->judged != NULL)
    review_json_screen(json, review, files, story->judged);
  else
    write_unjudged(json, review, story);
  tenter_json_flag(json, "in_use", story->judged != NULL);
  tenter_json_time(json, "next_session", story->due);
  tenter_json_open(json, "session_list", '[');
  for (size_t i = 0; i < story->session_count; i++)
    write_session(json, review, &story->sessions[i]);
  tenter_json_close(json, ']');
  tenter_json_open(json, "events", '[');
  for (size_t i = 0; i < m->event_count; i++)
    write_event(json, review, &review->shop->tables->events[m->first_event + i]);
  tenter_json_close(json, ']');
  write_laws(json, story);
  write_choice(json, story);
  write_leaving(json, review, &story->leaving);
  tenter_json_close(json, '}');
}

tenter_status tenter_report_screens_json(const tenter_review *review,
                                         const tenter_screen_story *const *stories, size_t count,
                                         const tenter_report_options *options, tenter_sink sink,
                                         tenter_error *error) {
  review_json_names files = {0};
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  tenter_status status =
      review_json_names_new(review->shop->tables, &files) ? TENTER_OK : tenter_fail_memory(error);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, options->version);
  tenter_json_line(&json);
  tenter_json_open(&json, "screens", '[');
  for (size_t i = 0; i < count && status == TENTER_OK; i++) {
    write_story(&json, review, &files, stories[i]);
    status = sink_flush(sink, &buffer, error);
  }
  tenter_json_close(&json, ']');
  tenter_json_close(&json, '}');
  tenter_buffer_byte(&buffer, '\n');
  if (status == TENTER_OK)
    status = sink_flush(sink, &buffer, error);
  review_json_names_release(&files);
  tenter_buffer_release(&buffer);
  return status;
}
