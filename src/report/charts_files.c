/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `charts` as JSON, as CSV, as kept limits, as text and as a set of files. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "account_json.h"
#include "charts_document.h"
#include "charts_json.h"
#include "tenter/report/escape.h"
#include "tenter/report/report.h"

/* ---- JSON ----------------------------------------------------------------------------------- */

tenter_status tenter_report_charts_json(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error) {
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, options->version);
  charts_json(&json, review, true);
  tenter_json_close(&json, '}');
  tenter_buffer_byte(&buffer, '\n');
  tenter_status status = sink_flush(sink, &buffer, error);
  tenter_buffer_release(&buffer);
  return status;
}

/* ---- kept limits ---------------------------------------------------------------------------- */

static void write_limits(tenter_json *json, const tenter_chart_limits *of) {
  const tenter_control_limits *l = &of->limits;
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "stream", tenter_stream_code(of->stream));
  tenter_json_name(json, "mesh", of->mesh);
  tenter_json_name(json, "of", of->key);
  tenter_json_text(json, "unit", tenter_stream_unit(of->stream));
  tenter_json_number(json, "centre", l->centre, 12);
  tenter_json_number(json, "sigma", l->sigma, 12);
  tenter_json_number(json, "sigma_freedom", l->worth.freedom, 9);
  tenter_json_number(json, "sigma_power", l->worth.power, 9);
  tenter_json_number(json, "centre_weight", l->centre_weight, 9);
  tenter_json_integer(json, "points", (long long)l->subgroups);
  tenter_json_flag(json, "robust", l->robust);
  tenter_json_number(json, "within", of->within, 12);
  tenter_json_number(json, "between", of->between, 12);
  tenter_json_time(json, "from", of->from);
  tenter_json_time(json, "to", of->to);
  tenter_json_close(json, '}');
}

static size_t write_all_limits(const tenter_review *review, const char *version,
                               tenter_buffer *out) {
  tenter_json json = tenter_json_start(out);
  size_t count = 0;
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, version);
  tenter_json_line(&json);
  tenter_json_open(&json, "limits", '[');
  for (size_t i = 0; i < review->charts.count; i++) {
    const tenter_review_chart *chart = &review->charts.charts[i];
    if (chart->limits.state != TENTER_CONTROL_READY)
      continue;
    tenter_chart_limits limits = chart_limits_of(review, chart);
    write_limits(&json, &limits);
    count++;
  }
  tenter_json_close(&json, ']');
  tenter_json_close(&json, '}');
  tenter_buffer_byte(out, '\n');
  return count;
}

/* "a/b" is file b in folder a; "b" in the folder where we are. */
static tenter_status put_file(const char *path, const tenter_buffer *content, tenter_error *error) {
  const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
  tenter_buffer folder = {0};
  tenter_buffer_add(&folder, slash ? path : ".",
                    slash && slash > path ? (size_t)(slash - path) : 1);
  const char *in = tenter_buffer_string(&folder);
  tenter_output *output = NULL;
  tenter_status status = in ? tenter_output_open(in, &output, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = tenter_output_put(output, name, content, error);
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  tenter_buffer_release(&folder);
  return status;
}

tenter_status tenter_report_charts_freeze(const tenter_review *review,
                                          const tenter_report_options *options, const char *path,
                                          size_t *count, tenter_error *error) {
  tenter_buffer buffer = {0};
  *count = write_all_limits(review, options->version, &buffer);
  tenter_status status = *count > 0 ? put_file(path, &buffer, error) : TENTER_OK;
  tenter_buffer_release(&buffer);
  return status;
}

/* ---- CSV ------------------------------------------------------------------------------------ */

static void cell_text(tenter_buffer *out, const char *text) {
  tenter_escape_csv(out, text ? text : "");
  tenter_buffer_byte(out, ',');
}

static void cell_number(tenter_buffer *out, double value) {
  if (isfinite(value))
    tenter_buffer_number(out, value, TENTER_JSON_TENSION);
  tenter_buffer_byte(out, ',');
}

static void write_row(tenter_buffer *out, const tenter_review *review,
                      const tenter_review_chart *chart, const tenter_chart_point *p,
                      const tenter_chart_signal *signal) {
  char time[TENTER_TIME_SIZE];
  cell_text(out, chart->name);
  cell_text(out, tenter_time_print(p->at, time));
  cell_number(out, p->value);
  cell_text(out, tenter_stream_unit(chart->stream));
  cell_number(out, p->count);
  cell_number(out, p->shift);
  cell_number(out, p->z);
  cell_number(out, p->average);
  cell_number(out, p->average_limit);
  cell_number(out, chart->limits.centre);
  cell_number(out, chart->lower);
  cell_number(out, chart->upper);
  cell_text(out, p->is_new ? "yes" : "no");
  cell_text(out, signal ? signal->rule : "");
  bool named = signal && signal->screen != TENTER_NO_NAME;
  tenter_escape_csv(
      out, named ? tenter_names_get(review->shop->tables->names[TENTER_NAME_SCREEN], signal->screen)
                 : "");
  tenter_buffer_add(out, "\r\n", 2);
}

static void write_csv(const tenter_review *review, tenter_buffer *out) {
  tenter_buffer_text(out, "chart,at,value,unit,count,shift,standardised,average,average_limit,"
                          "centre,lower,upper,new,signal,screen\r\n");
  for (size_t c = 0; c < review->charts.count; c++) {
    const tenter_review_chart *chart = &review->charts.charts[c];
    for (size_t i = 0, s = 0; i < chart->point_count; i++) {
      bool signals = s < chart->signal_count && chart->signals[s].point == i;
      write_row(out, review, chart, &chart->points[i], signals ? &chart->signals[s++] : NULL);
    }
  }
}

/* ---- text and files ------------------------------------------------------------------------- */

tenter_status tenter_report_charts_text(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error) {
  tenter_document *document = charts_document(review, options, false, NULL);
  tenter_buffer text = {0};
  tenter_status status =
      document ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK) {
    charts_plots(review, &text);
    status = sink_flush(sink, &text, error);
  }
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

static tenter_status put_all(const tenter_review *review, const tenter_report_options *options,
                             tenter_output *output, char *note, tenter_buffer *buffer,
                             tenter_error *error) {
  tenter_status status = tenter_report_put_pages(charts_document(review, options, true, note),
                                                 options, output, "charts", error);
  if (status != TENTER_OK)
    return status;
  write_csv(review, buffer);
  status = tenter_output_put(output, "charts.csv", buffer, error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "charts.json", error);
  if (status == TENTER_OK)
    status = tenter_report_charts_json(review, options, tenter_sink_to_output(output), error);
  return status == TENTER_OK ? tenter_output_commit(output, error) : status;
}

tenter_status tenter_report_charts_files(const tenter_review *review,
                                         const tenter_report_options *options, const char *folder,
                                         char note[TENTER_MESSAGE_SIZE], tenter_error *error) {
  tenter_output *output = NULL;
  tenter_buffer buffer = {0};
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = put_all(review, options, output, note, &buffer, error);
  tenter_buffer_release(&buffer);
  tenter_output_free(output);
  return status;
}
