/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter charts: control charts of stretching, service and meters; limits kept in a file. */
#include <math.h>
#include <string.h>

#include "command.h"
#include "tenter/base/alloc.h"
#include "tenter/intake/limits.h"

static int run(const command_call *call, tenter_error *error);

static tenter_status take_freeze(command_call *call, const char *argument, tenter_error *error) {
  size_t length = strlen(argument);
  call->freeze = argument;
  if (length > 0 && argument[length - 1] != '/')
    return TENTER_OK;
  return tenter_fail(error, TENTER_USAGE, "--freeze: expected the name of a file");
}

static tenter_status take_limits(command_call *call, const char *argument, tenter_error *error) {
  call->limits = argument;
  if (*argument)
    return TENTER_OK;
  return tenter_fail(error, TENTER_USAGE, "--limits: expected the name of a file");
}

static const command_option options[] = {
    {"freeze", "FILE", "keep the limits of all charts in FILE", take_freeze},
    {"limits", "FILE", "judge by the limits kept in FILE", take_limits},
    {NULL, NULL, NULL, NULL}};

const command command_charts = {
    .name = "charts",
    .summary = "control charts of stretching, service and meters",
    .about = "Charts what may be compared: stretching brought to 24 h and how it tilts, per\n"
             "mesh and station; sessions against what was expected of them, per mesh, lot,\n"
             "station and operator; meters against their plates and each other. Says which\n"
             "signals are new this week, and how many luck alone would give. --freeze keeps\n"
             "the limits in a file, --limits judges by kept ones. With --out DIR it writes\n"
             "charts.html, charts.csv and charts.json.",
    .options = options,
    .run = run,
};

/* ---- kept limits ---------------------------------------------------------------------------- */

static tenter_status make_limits(const char *file, const tenter_kept_limit *kept,
                                 tenter_chart_limits *limits, tenter_error *error) {
  tenter_stream stream = 0;
  while (stream < TENTER_STREAM_COUNT && strcmp(tenter_stream_code(stream), kept->stream) != 0)
    stream++;
  if (stream == TENTER_STREAM_COUNT)
    return tenter_fail(error, TENTER_USAGE, "%s: there is no stream \"%s\"", file, kept->stream);
  bool service = stream >= TENTER_STREAM_MESH && stream <= TENTER_STREAM_SHIFT;
  if (service == (isnan(kept->within) || isnan(kept->between)))
    return tenter_fail(
        error, TENTER_USAGE,
        "%s: \"within\" and \"between\" belong to limits of sessions in service, and "
        "to them alone (stream \"%s\", of \"%s\")",
        file, kept->stream, kept->key);
  tenter_control_options how =
      TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_INDIVIDUALS, TENTER_SPREAD_RANGE);
  *limits =
      (tenter_chart_limits){.stream = stream,
                            .mesh = kept->mesh,
                            .key = kept->key,
                            .limits = tenter_control_known(&how, kept->centre, kept->sigma, NAN),
                            .within = kept->within,
                            .between = kept->between,
                            .from = kept->from,
                            .to = kept->to};
  tenter_control_limits *l = &limits->limits;
  l->known = false; /* estimates they were, and of this worth */
  l->robust = kept->robust;
  l->worth = (tenter_control_worth){kept->freedom, kept->power};
  l->centre_weight = kept->centre_weight;
  l->subgroups = l->readings = kept->points;
  return TENTER_OK;
}

/* Reads them before the data: a slip in the name of a small file must not cost a long wait. */
static tenter_status read_limits(const char *file, tenter_arena *arena,
                                 tenter_chart_limits **limits, size_t *count, tenter_error *error) {
  tenter_kept_limit *kept = NULL;
  tenter_status status = tenter_limits_read(file, arena, &kept, count, error);
  if (status != TENTER_OK)
    return status;
  *limits = tenter_arena_alloc(arena, *count, sizeof **limits);
  if (!*limits)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < *count && status == TENTER_OK; i++)
    status = make_limits(file, &kept[i], &(*limits)[i], error);
  return status;
}

/* Which of the charts were provisional is a setting of now. */
static void mark_provisional(const tenter_shop *shop, tenter_chart_limits *limits, size_t count) {
  for (size_t i = 0; i < count; i++)
    limits[i].limits.provisional =
        limits[i].limits.subgroups < (size_t)shop->config->settings.chart_provisional;
}

static tenter_status judge_by(tenter_review *review, const char *file, tenter_chart_limits *limits,
                              size_t count, tenter_error *error) {
  tenter_error why;
  mark_provisional(review->shop, limits, count);
  tenter_status status = tenter_review_chart_by(review, limits, count, &why);
  return status == TENTER_OK ? status : tenter_fail(error, status, "%s: %s", file, why.message);
}

/* ---- report --------------------------------------------------------------------------------- */

static tenter_status freeze(const command_call *call, const tenter_review *review,
                            const tenter_report_options *report, tenter_error *error) {
  size_t count;
  tenter_status status = tenter_report_charts_freeze(review, report, call->freeze, &count, error);
  if (status == TENTER_OK && count == 0)
    return tenter_fail(error, TENTER_INPUT,
                       "no chart has limits yet, so there is nothing to keep in %s", call->freeze);
  if (status == TENTER_OK)
    command_remark(call, "the limits of %zu charts are kept in %s", count, call->freeze);
  return status;
}

static tenter_status write_files(const command_call *call, const tenter_review *review,
                                 const tenter_report_options *report, tenter_error *error) {
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = tenter_report_charts_files(review, report, call->out, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "the pictures are missing: %s", note);
  if (status == TENTER_OK)
    command_remark(call, "the report is %s/charts.html", call->out);
  return status;
}

static tenter_status answer(const command_call *call, command_shop *s, tenter_chart_limits *limits,
                            size_t count, tenter_error *error) {
  tenter_review *review = NULL;
  tenter_status status = tenter_review_new(s->shop, true, s->pool, &review, error);
  tenter_report_options report = command_report_options(call, s);
  if (status == TENTER_OK && call->limits)
    status = judge_by(review, call->limits, limits, count, error);
  if (status == TENTER_OK && call->freeze)
    status = freeze(call, review, &report, error);
  if (status == TENTER_OK && call->out)
    status = write_files(call, review, &report, error);
  if (status == TENTER_OK)
    status = call->format == FORMAT_JSON
                 ? tenter_report_charts_json(review, &report, command_stdout(), error)
                 : tenter_report_charts_text(review, &report, command_stdout(), error);
  tenter_review_free(review);
  return status;
}

static int run(const command_call *call, tenter_error *error) {
  command_shop s;
  size_t count = 0;
  tenter_chart_limits *limits = NULL;
  tenter_arena *arena = tenter_arena_new();
  tenter_status status = arena ? TENTER_OK : tenter_fail_memory(error);
  if (status == TENTER_OK && call->limits)
    status = read_limits(call->limits, arena, &limits, &count, error);
  if (status == TENTER_OK)
    status = command_shop_open(call, &s, error);
  if (status == TENTER_OK) {
    status = answer(call, &s, limits, count, error);
    command_shop_release(&s);
  }
  tenter_arena_free(arena);
  return (int)status;
}
