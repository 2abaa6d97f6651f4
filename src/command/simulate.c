/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter simulate: an invented shop with known truth, as files. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "command.h"
#include "invent.h"
#include "tenter/base/output.h"
#include "tenter/report/json.h"

static int run(const command_call *call, tenter_error *error);

static tenter_status take(double *field, const char *option, double least, double most,
                          const char *argument, tenter_error *error) {
  char *end;
  errno = 0;
  double value = strtod(argument, &end);
  if (end != argument && !*end && errno == 0 && value >= least && value <= most) {
    *field = value;
    return TENTER_OK;
  }
  return tenter_fail(error, TENTER_USAGE, "--%s %s: expected a number from %g to %.10g", option,
                     argument, least, most);
}

#define TAKE(field, option, least, most, value, help)                                              \
  static tenter_status take_##field(command_call *call, const char *argument,                      \
                                    tenter_error *error) {                                         \
    return take(&call->invention.field, option, least, most, argument, error);                     \
  }
INVENT_NUMBERS(TAKE)
#undef TAKE

#define OPTION(field, option, least, most, value, help) {option, "N", help, take_##field},
static const command_option options[] = {INVENT_NUMBERS(OPTION){NULL, NULL, NULL, NULL}};
#undef OPTION

const command command_simulate = {
    .name = "simulate",
    .summary = "an invented shop with known truth, for training and for checking",
    .about = "Invents a shop and writes what it would have written down into --out DIR:\n"
             "readings.csv, register.csv, events.csv, meter-checks.csv; and truth.json, which\n"
             "no shop has: what each lot, meter, station and screen really did. The same\n"
             "options give the same files. Loss is a share of each screen's own tension, print\n"
             "and reclaims take steps, and noise grows with tension: more than the review\n"
             "assumes, as in a real shop.",
    .options = options,
    .run = run,
    .no_files = true,
};

/* ---- truth.json ----------------------------------------------------------------------------- */

static void write_plan(tenter_json *json, const invention *plan) {
  tenter_json_line(json);
  tenter_json_open(json, "options", '{');
#define WRITE(field, option, least, most, value, help)                                             \
  tenter_json_number(json, option, plan->field, 9);
  INVENT_NUMBERS(WRITE)
#undef WRITE
  tenter_json_close(json, '}');
}

static void named(tenter_json *json, const char *key, const char *prefix, size_t number) {
  char name[40];
  snprintf(name, sizeof name, "%s%zu", prefix, number + 1);
  tenter_json_text(json, key, name);
}

static void write_lots(tenter_json *json, const invented_shop *s) {
  tenter_json_line(json);
  tenter_json_open(json, "lots", '[');
  for (size_t i = 0; i < (size_t)s->plan->lots; i++) {
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    named(json, "lot", "L", i);
    tenter_json_text(json, "mesh", invented_meshes[s->lots[i].mesh].name);
    tenter_json_number(json, "loss_factor", s->lots[i].factor, 4);
    tenter_json_flag(json, "fast", s->lots[i].fast);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_meters(tenter_json *json, const invented_shop *s) {
  tenter_json_line(json);
  tenter_json_open(json, "meters", '[');
  for (size_t i = 0; i < (size_t)s->plan->meters; i++) {
    bool moved = i + 1 == (size_t)s->plan->meters && s->plan->shift != 0;
    tenter_json_open(json, NULL, '{');
    named(json, "meter", "meter ", i);
    tenter_json_number(json, "bias", s->meter_bias[i], 4);
    tenter_json_number(json, "moved_by", moved ? s->plan->shift : 0, 4);
    tenter_json_time(json, "since", moved ? s->shift_at : TENTER_NO_TIME);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
  tenter_json_line(json);
  tenter_json_open(json, "stations", '[');
  for (size_t i = 0; i < (size_t)s->plan->stations; i++) {
    tenter_json_open(json, NULL, '{');
    named(json, "station", "station ", i);
    tenter_json_number(json, "east_minus_west", s->station_tilt[i], 4);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_screens(tenter_json *json, const invented_shop *s) {
  tenter_json_line(json);
  tenter_json_open(json, "screens", '[');
  for (size_t i = 0; i < (size_t)s->plan->screens; i++) {
    const invented_screen *c = &s->screens[i];
    double now = invented_tension(s, c, s->end);
    char name[24];
    snprintf(name, sizeof name, "S-%05zu", i + 1);
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "screen", name);
    named(json, "lot", "L", c->lot);
    named(json, "station", "station ", c->station);
    tenter_json_time(json, "glued", c->zero);
    tenter_json_number(json, "loss_per_decade", c->loss, 4);
    tenter_json_number(json, "taken_by_print", c->lost, 4);
    tenter_json_number(json, "tension_at_the_end", now, 4);
    tenter_json_flag(json, "below_floor", now < invented_meshes[c->mesh].floor);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_truth(tenter_buffer *out, const invented_shop *s) {
  tenter_json json = tenter_json_start(out);
  tenter_json_open(&json, NULL, '{');
  write_plan(&json, s->plan);
  tenter_json_time(&json, "start", s->start);
  tenter_json_time(&json, "end", s->end);
  write_lots(&json, s);
  write_meters(&json, s);
  write_screens(&json, s);
  tenter_json_close(&json, '}');
  tenter_buffer_byte(out, '\n');
}

/* ---- the files ------------------------------------------------------------------------------ */

static tenter_status write_files(const invented_shop *s, const tenter_buffer *truth,
                                 const char *folder, tenter_error *error) {
  const struct {
    const char *name;
    const tenter_buffer *content;
  } files[] = {{"readings.csv", &s->readings},
               {"register.csv", &s->reg},
               {"events.csv", &s->events},
               {"meter-checks.csv", &s->checks},
               {"truth.json", truth}};
  tenter_output *output = NULL;
  tenter_status status = tenter_output_open(folder, &output, error);
  for (size_t i = 0; i < sizeof files / sizeof *files && status == TENTER_OK; i++)
    status = tenter_output_put(output, files[i].name, files[i].content, error);
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  return status;
}

static tenter_status check_call(const command_call *call, tenter_error *error) {
  const invention *plan = &call->invention;
  static const char whole[] = "expected whole numbers";
  if (call->word_count > 0)
    return tenter_fail(error, TENTER_USAGE,
                       "%s: simulate reads no files; see tenter simulate "
                       "--help",
                       call->words[0]);
  if (!call->out)
    return tenter_fail(error, TENTER_USAGE, "simulate writes files: say where with --out DIR");
  if (call->pdf)
    return tenter_fail(error, TENTER_USAGE, "simulate writes no pages: leave --pdf out");
  if (plan->fast > plan->lots)
    return tenter_fail(error, TENTER_USAGE, "--fast-lots %g: there are %g lots", plan->fast,
                       plan->lots);
  if (plan->lots < plan->meshes)
    return tenter_fail(error, TENTER_USAGE, "--lots %g: each of the %g meshes needs one",
                       plan->lots, plan->meshes);
#define WHOLE(field, option, least, most, value, help)                                             \
  if ((least) >= 0 && plan->field != floor(plan->field))                                           \
    return tenter_fail(error, TENTER_USAGE, "--%s %g: %s", option, plan->field, whole);
  INVENT_NUMBERS(WHOLE)
#undef WHOLE
  return TENTER_OK;
}

static void say(const command_call *call) {
  const invention *plan = &call->invention;
  printf("An invented shop of %g screens over %g weeks is in %s.\n\n"
         "What is really so in it stands in %s/truth.json.\n"
         "To see what tenter makes of it: tenter review %s\n",
         plan->screens, plan->weeks, call->out, call->out, call->out);
}

static int run(const command_call *call, tenter_error *error) {
  invented_shop shop;
  tenter_buffer truth = {0};
  tenter_status status = check_call(call, error);
  if (status != TENTER_OK)
    return (int)status;
  status = invent(&call->invention, &shop, error);
  if (status == TENTER_OK)
    write_truth(&truth, &shop);
  if (status == TENTER_OK)
    status = write_files(&shop, &truth, call->out, error);
  if (status == TENTER_OK)
    say(call);
  tenter_buffer_release(&truth);
  invented_release(&shop);
  return (int)status;
}
