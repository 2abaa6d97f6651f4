/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The CSV files. Texts from data are kept as they stand, byte for byte, within the quoting of the
 * format; see tenter_escape_csv for what that means to a spreadsheet. */
#include "exports.h"

#include <math.h>

#include "tenter/report/escape.h"
#include "tenter/report/json.h"
#include "tenter/words/words.h"
#include "work_plan.h"

typedef struct csv {
  tenter_buffer *out;
  bool filled; /* the row holds a cell */
} csv;

static void separate(csv *row) {
  if (row->filled)
    tenter_buffer_byte(row->out, ',');
  row->filled = true;
}

static void put_text(csv *row, const char *text) {
  separate(row);
  tenter_escape_csv(row->out, text != NULL ? text : "");
}

static void put_number(csv *row, double value, int decimals) {
  separate(row);
  if (isfinite(value))
    tenter_buffer_number(row->out, value, decimals);
}

static void put_count(csv *row, uint64_t value) {
  separate(row);
  tenter_buffer_integer(row->out, (long long)value);
}

static void put_tension(csv *row, double value) {
  put_number(row, value, TENTER_JSON_TENSION);
}

static void put_probability(csv *row, double value) {
  put_number(row, value, TENTER_JSON_PROBABILITY);
}

static void put_when(csv *row, tenter_when when) {
  char text[TENTER_TIME_SIZE];
  put_text(row, tenter_when_print(when, text));
}

static void put_time(csv *row, tenter_time time) {
  put_when(row, (tenter_when){.at = time, .date_only = false});
}

static void end_row(csv *row) {
  tenter_buffer_add(row->out, "\r\n", 2);
  row->filled = false;
}

static const char *name(const tenter_review *review, tenter_name_kind kind, uint32_t id) {
  return tenter_names_get(review->shop->tables->names[kind], id);
}

static void put_screen(csv *row, const tenter_review *review, const tenter_review_screen *screen) {
  const tenter_mounting *mounting = &review->shop->mountings[screen->mounting];
  put_text(row, name(review, TENTER_NAME_SCREEN, screen->screen));
  put_text(row, name(review, TENTER_NAME_PLACE, mounting->is.place));
  put_text(row, name(review, TENTER_NAME_MESH, mounting->is.mesh));
  put_text(row, name(review, TENTER_NAME_LOT, mounting->is.lot));
}

static void put_latest(csv *row, const tenter_review *review, const tenter_review_screen *screen) {
  const tenter_latest *latest = &screen->latest;
  if (screen->read) {
    const tenter_session *session = &review->shop->sessions[latest->session];
    put_when(row, (tenter_when){session->taken, session->date_only});
  } else {
    put_text(row, "");
  }
  put_tension(row, screen->read ? latest->mean : NAN);
  put_tension(row, screen->read ? latest->adjusted_mean : NAN);
  put_tension(row, screen->read ? latest->min : NAN);
  put_tension(row, screen->read ? latest->max : NAN);
  put_tension(row, screen->read ? latest->uncertainty : NAN);
}

static void put_forecast(csv *row, const tenter_review_screen *screen) {
  const tenter_forecast *forecast = &screen->forecast;
  put_tension(row, screen->relaxation.loss_per_decade);
  put_tension(row, screen->relaxation.loss_per_decade_se);
  put_tension(row, forecast->now);
  put_tension(row, forecast->now_se);
  put_probability(row, forecast->below_floor_now);
  put_probability(row, forecast->below_floor_at_horizon);
  put_time(row, forecast->early);
  put_time(row, forecast->median);
  put_time(row, forecast->late);
}

/* The codes of all reasons, worst first, with blanks between. */
static void put_reason_codes(csv *row, const tenter_review_screen *screen) {
  separate(row);
  for (size_t i = 0; i < screen->reason_count; i++) {
    if (i > 0)
      tenter_buffer_byte(row->out, ' ');
    tenter_buffer_text(row->out, tenter_reason_word(screen->reasons[i].code));
  }
}

void export_screens(const tenter_review *review, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "screen,place,mesh,lot,mounted,age_hours,target,floor,maximum,sessions,"
                          "taken,mean,adjusted_mean,min,max,uncertainty,loss_per_decade,"
                          "loss_per_decade_se,now,now_se,below_floor_now,below_floor_at_horizon,"
                          "crosses_early,crosses_median,crosses_late,action,reasons\r\n");
  for (size_t i = 0; i < review->screen_count; i++) {
    const tenter_review_screen *screen = &review->screens[i];
    const tenter_mounting *mounting = &review->shop->mountings[screen->mounting];
    put_screen(&row, review, screen);
    put_when(&row, mounting->zero);
    put_number(&row, screen->age_hours, TENTER_JSON_DURATION);
    put_tension(&row, mounting->is.target);
    put_tension(&row, mounting->is.floor);
    put_tension(&row, mounting->is.maximum);
    put_count(&row, mounting->session_count);
    put_latest(&row, review, screen);
    put_forecast(&row, screen);
    put_text(&row, tenter_action_code(screen->action));
    put_reason_codes(&row, screen);
    end_row(&row);
  }
}

static void put_lot_cost(csv *row, const tenter_review_lot *lot) {
  put_tension(row, lot->raw_loss_per_decade);
  put_tension(row, lot->raw_loss_per_decade_se);
  put_count(row, lot->raw_screens);
  put_number(row, lot->raw_p_value, TENTER_JSON_PROBABILITY);
  put_number(row, lot->raw_q_value, TENTER_JSON_PROBABILITY);
  put_number(row, lot->raw_pair_p_value, TENTER_JSON_PROBABILITY);
  put_count(row, lot->raw_above);
  put_count(row, lot->raw_compared);
  put_tension(row, lot->extra_loss_at_30_days);
  put_tension(row, lot->extra_loss_at_30_days_se);
  put_tension(row, lot->floor);
  put_number(row, lot->days_to_floor, TENTER_JSON_DURATION);
  put_number(row, lot->days_to_floor_early, TENTER_JSON_DURATION);
  put_number(row, lot->days_to_floor_late, TENTER_JSON_DURATION);
  put_number(row, lot->mesh_days_to_floor, TENTER_JSON_DURATION);
  put_number(row, lot->days_lost, TENTER_JSON_DURATION);
  put_tension(row, lot->adjusted_excess);
  put_tension(row, lot->adjusted_excess_se);
}

void export_lots(const tenter_review *review, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "lot,mesh,screens,sessions,loss_per_decade,loss_per_decade_se,"
                          "mesh_loss_per_decade,excess,excess_se,probability_fast,q_value,fast,"
                          "confounded_with,raw_loss_per_decade,raw_loss_per_decade_se,raw_screens,"
                          "raw_p_value,raw_q_value,raw_pair_p_value,raw_above,raw_compared,"
                          "extra_loss_at_30_days,extra_loss_at_30_days_se,floor,days_to_floor,"
                          "days_to_floor_early,days_to_floor_late,mesh_days_to_floor,"
                          "days_lost,adjusted_excess,adjusted_excess_se\r\n");
  for (size_t i = 0; i < review->lot_count; i++) {
    const tenter_review_lot *lot = &review->lots[i];
    put_text(&row, name(review, TENTER_NAME_LOT, lot->lot));
    put_text(&row, name(review, TENTER_NAME_MESH, lot->mesh));
    put_count(&row, lot->screens);
    put_count(&row, lot->sessions);
    put_tension(&row, lot->loss_per_decade);
    put_tension(&row, lot->loss_per_decade_se);
    put_tension(&row, lot->mesh_loss_per_decade);
    put_tension(&row, lot->excess);
    put_tension(&row, lot->excess_se);
    put_probability(&row, lot->probability_fast);
    put_probability(&row, lot->q_value);
    put_text(&row, lot->fast ? "yes" : "no");
    tenter_buffer with = {0};
    for (size_t j = 0; j < lot->confounded_count; j++) {
      tenter_buffer_text(&with, j > 0 ? "; " : "");
      tenter_buffer_text(&with, lot->confounded_with[j]);
    }
    put_text(&row, tenter_buffer_string(&with));
    out->failed |= with.failed;
    tenter_buffer_release(&with);
    put_lot_cost(&row, lot);
    end_row(&row);
  }
}

static void put_due(csv *row, const tenter_review *review, const work_item *item) {
  tenter_time as_of = review->shop->as_of;
  put_time(row, item->due == WORK_AFTER ? item->at : TENTER_NO_TIME);
  put_time(row, item->due == WORK_NOW ? as_of : item->due == WORK_BY ? item->at : TENTER_NO_TIME);
}

/* The weeks of a screen's turn: of its re-stretch, or of its reading where it is to be read. */
static void put_turn(csv *row, const tenter_review *review, const tenter_review_screen *screen,
                     tenter_arena *arena) {
  const tenter_turn *turn = &screen->turn;
  bool read = screen->action == TENTER_ACTION_REREAD;
  put_text(row, work_week_words(review, read ? turn->read_due : turn->restretch_due, arena));
  put_text(row, work_week_words(review, read ? turn->read_week : turn->restretch_week, arena));
  put_probability(row, turn->value);
}

void export_worklist(const tenter_review *review, work_list list, tenter_arena *arena,
                     tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "order,place,screen,action,do,not_before,by,after_this_job,mesh,lot,"
                          "now,floor,why,reasons,due_week,planned_week,value_of_reading\r\n");
  work_list_by_place(&list);
  for (size_t i = 0; i < list.count; i++) {
    const work_item *item = &list.items[i];
    put_count(&row, item->order);
    put_text(&row, name(review, TENTER_NAME_PLACE, item->mounting->is.place));
    put_text(&row, name(review, TENTER_NAME_SCREEN, item->screen->screen));
    put_text(&row, tenter_action_code(item->screen->action));
    put_text(&row, tenter_action_words(item->screen->action));
    put_due(&row, review, item);
    put_text(&row, item->screen->after_this_job ? "yes" : "no");
    put_text(&row, name(review, TENTER_NAME_MESH, item->mounting->is.mesh));
    put_text(&row, name(review, TENTER_NAME_LOT, item->mounting->is.lot));
    put_tension(&row, item->screen->forecast.now);
    put_tension(&row, item->mounting->is.floor);
    put_text(&row, item->reason != NULL ? item->reason->text : "");
    put_reason_codes(&row, item->screen);
    put_turn(&row, review, item->screen, arena);
    end_row(&row);
  }
}

void export_intervals(const tenter_review *review, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "mesh,lot,risk,floor,days,days_early,days_late,below_at_start\r\n");
  for (size_t i = 0; i < review->interval_count; i++) {
    const tenter_review_interval *interval = &review->intervals[i];
    put_text(&row, name(review, TENTER_NAME_MESH, interval->mesh));
    put_text(&row, name(review, TENTER_NAME_LOT, interval->lot));
    put_probability(&row, interval->risk);
    put_tension(&row, interval->floor);
    put_number(&row, interval->days, TENTER_JSON_DURATION);
    put_number(&row, interval->days_early, TENTER_JSON_DURATION);
    put_number(&row, interval->days_late, TENTER_JSON_DURATION);
    put_probability(&row, interval->below_at_start);
    end_row(&row);
  }
}

static void put_turns(csv *row, const tenter_review *review, bool readings, tenter_arena *arena) {
  work_plan plan;
  if (!work_plan_new(review, readings, arena, &plan))
    row->out->failed = true;
  for (size_t i = 0; i < plan.count; i++) {
    const work_turn *turn = &plan.turns[i];
    const tenter_turn *of = &turn->screen->turn;
    put_text(row, work_week_words(review, turn->week, arena));
    put_text(row, readings ? "read" : "restretch");
    put_screen(row, review, turn->screen);
    put_text(row, work_week_words(review, readings ? of->read_due : of->restretch_due, arena));
    put_time(row, of->due);
    put_probability(row, turn->screen->forecast.below_floor_at_horizon);
    put_probability(row, of->value);
    end_row(row);
  }
}

void export_plan(const tenter_review *review, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_arena *arena = tenter_arena_new();
  tenter_buffer_text(out, "week,do,screen,place,mesh,lot,due_week,risk_reached,"
                          "below_floor_at_horizon,value_of_reading\r\n");
  if (arena != NULL) {
    put_turns(&row, review, false, arena);
    put_turns(&row, review, true, arena);
  }
  out->failed |= arena == NULL || tenter_arena_failed(arena);
  tenter_arena_free(arena);
}

void export_reading_sheet(const tenter_review *review, const work_sheet *sheet, tenter_arena *arena,
                          tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "screen,place,mesh,taken,meter,operator");
  row.filled = true;
  for (size_t i = 0; i < sheet->point_count; i++)
    put_text(&row, work_point_words(review->shop->tables, sheet->points[i], arena));
  end_row(&row);
  for (size_t i = 0; i < sheet->count; i++) {
    const work_item *item = &sheet->items[i];
    put_text(&row, name(review, TENTER_NAME_SCREEN, item->screen->screen));
    put_text(&row, name(review, TENTER_NAME_PLACE, item->mounting->is.place));
    put_text(&row, name(review, TENTER_NAME_MESH, item->mounting->is.mesh));
    for (size_t blank = 0; blank < 3 + sheet->point_count; blank++)
      put_text(&row, "");
    end_row(&row);
  }
}

static void put_refusals(csv *row, const tenter_certificate_screen *screen) {
  separate(row);
  for (size_t i = 0; i < screen->refusal_count; i++) {
    const tenter_refusal *refusal = &screen->refusals[i];
    tenter_buffer_text(row->out, i > 0 ? ";" : "");
    tenter_buffer_text(row->out, refusal->reason != NULL ? tenter_reason_word(refusal->reason->code)
                                                         : tenter_refusal_word(refusal->code));
  }
}

static void put_certified(csv *row, const tenter_certificate *c,
                          const tenter_certificate_screen *screen) {
  const tenter_review *review = c->review;
  const tenter_attributes *is = &review->shop->mountings[screen->mounting].is;
  put_text(row, name(review, TENTER_NAME_SCREEN, screen->screen));
  put_text(row, screen->certified ? "yes" : "no");
  put_refusals(row, screen);
  put_text(row, name(review, TENTER_NAME_ORDER, is->order));
  put_text(row, name(review, TENTER_NAME_CUSTOMER, is->customer));
  put_text(row, name(review, TENTER_NAME_MESH, is->mesh));
  put_text(row, name(review, TENTER_NAME_LOT, is->lot));
  put_tension(row, is->target);
  put_tension(row, is->minus);
  put_tension(row, is->plus);
  bool read = screen->judged != NULL && screen->judged->read;
  const tenter_latest *latest = read ? &screen->judged->latest : NULL;
  put_time(row, read ? (tenter_time)review->shop->sessions[latest->session].taken : TENTER_NO_TIME);
  put_number(row, read ? latest->age_hours : NAN, TENTER_JSON_DURATION);
  put_tension(row, read ? latest->adjusted_mean : NAN);
  put_tension(row, screen->expanded);
  put_tension(row, read ? latest->min : NAN);
  put_tension(row, read ? latest->max : NAN);
  put_tension(row, screen->accepted_mean);
  put_when(row, is->needed_on);
  put_tension(row, screen->expected);
}

void export_certificate(const tenter_certificate *certificate, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out,
                     "screen,certified,refused,order,customer,mesh,lot,target,minus,plus,taken,"
                     "age_hours,mean,expanded_uncertainty,min,max,accepted_mean,needed_on,"
                     "expected\r\n");
  for (size_t i = 0; i < certificate->screen_count; i++) {
    put_certified(&row, certificate, &certificate->screens[i]);
    end_row(&row);
  }
}

void export_rejected(const tenter_tables *tables, tenter_buffer *out) {
  csv row = {.out = out};
  tenter_buffer_text(out, "file,line,reason,text\r\n");
  for (size_t i = 0; i < tables->problem_count; i++) {
    const tenter_problem *problem = &tables->problems[i];
    if (!problem->rejected)
      continue;
    bool known = problem->row.file < tables->source_count;
    put_text(&row, known ? tables->sources[problem->row.file].file : "");
    put_count(&row, problem->row.line);
    put_text(&row, problem->reason);
    put_text(&row, problem->text);
    end_row(&row);
  }
}
