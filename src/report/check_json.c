/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `check --format json`: what was understood of the files, what was not, what looks wrong. */
#include "account_json.h"

static const char *file_of(const tenter_tables *tables, uint16_t file) {
  return file < tables->source_count ? tables->sources[file].file : NULL;
}

static void write_problem(tenter_json *json, const char *file, uint32_t line, const char *reason,
                          const char *text, bool rejected) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_text(json, "file", file);
  if (line > 0)
    tenter_json_integer(json, "line", line);
  else
    tenter_json_null(json, "line");
  tenter_json_text(json, "reason", reason);
  tenter_json_text(json, "text", text);
  tenter_json_flag(json, "rejected", rejected);
  tenter_json_close(json, '}');
}

static void write_findings(tenter_json *json, const tenter_tables *tables,
                           const tenter_finding *list, size_t count) {
  for (size_t i = 0; i < count; i++) {
    tenter_row row = list[i].rows[0];
    write_problem(json, row.line > 0 ? file_of(tables, row.file) : NULL, row.line, list[i].text, "",
                  false);
  }
}

/* Rows that can't be used and notes on rows, then what the shop as a whole shows, then what looks
 * written down wrong. */
static void write_problems(tenter_json *json, const tenter_shop *shop,
                           const tenter_report_options *options) {
  const tenter_tables *tables = shop->tables;
  tenter_json_line(json);
  tenter_json_open(json, "problems", '[');
  for (size_t i = 0; i < tables->problem_count; i++) {
    const tenter_problem *problem = &tables->problems[i];
    write_problem(json, file_of(tables, problem->row.file), problem->row.line, problem->reason,
                  problem->text, problem->rejected);
  }
  write_findings(json, tables, shop->findings, shop->finding_count);
  write_findings(json, tables, options->slips, options->slip_count);
  tenter_json_close(json, ']');
}

static void write_columns(tenter_json *json, const tenter_tables *tables) {
  tenter_json_line(json);
  tenter_json_open(json, "columns", '[');
  for (size_t i = 0; i < tables->column_count; i++) {
    const tenter_column *column = &tables->columns[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "file", file_of(tables, column->file));
    tenter_json_text(json, "header", column->header);
    tenter_json_name(json, "read_as", column->read_as);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static void write_counts(tenter_json *json, const tenter_shop *shop) {
  tenter_names *const *names = shop->tables->names;
  tenter_json_line(json);
  tenter_json_open(json, "shop", '{');
  tenter_json_integer(json, "screens", (long long)shop->screen_count);
  tenter_json_integer(json, "mountings", (long long)shop->mounting_count);
  tenter_json_integer(json, "sessions", (long long)shop->session_count);
  tenter_json_integer(json, "readings", (long long)shop->reading_count);
  tenter_json_integer(json, "lots", tenter_names_count(names[TENTER_NAME_LOT]));
  tenter_json_integer(json, "meters", tenter_names_count(names[TENTER_NAME_METER]));
  tenter_json_close(json, '}');
}

tenter_status tenter_report_check_json(const tenter_shop *shop,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error) {
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, shop, options->version);
  tenter_json_line(&json);
  inputs_json(&json, shop);
  write_problems(&json, shop, options);
  write_columns(&json, shop->tables);
  write_counts(&json, shop);
  tenter_json_close(&json, '}');
  tenter_buffer_byte(&buffer, '\n');
  tenter_status status = sink_flush(sink, &buffer, error);
  tenter_buffer_release(&buffer);
  return status;
}
