/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The account of the files as JSON, and the sinks that reports go to. */
#include "account_json.h"

const char *inputs_table_word(tenter_table_kind table) {
  static const char *const words[] = {"readings", "register", "events", "meter checks"};
  return words[table];
}

void inputs_json_head(tenter_json *json, const tenter_shop *shop, const char *version) {
  char run[TENTER_RUN_SIZE];
  tenter_report_run_id(shop, version, run);
  tenter_json_text(json, "tenter", version);
  tenter_json_text(json, "run", run);
  tenter_json_time(json, "as_of", shop->as_of);
}

void inputs_json(tenter_json *json, const tenter_shop *shop) {
  const tenter_tables *tables = shop->tables;
  tenter_json_open(json, "inputs", '[');
  for (size_t i = 0; i < tables->source_count; i++) {
    const tenter_source *source = &tables->sources[i];
    tenter_json_line(json);
    tenter_json_open(json, NULL, '{');
    tenter_json_text(json, "file", source->file);
    tenter_json_name(json, "sha256", source->sha256);
    tenter_json_text(json, "table", inputs_table_word(source->table));
    tenter_json_integer(json, "rows", (long long)source->rows);
    tenter_json_integer(json, "accepted", (long long)source->accepted);
    tenter_json_integer(json, "rejected", (long long)source->rejected);
    tenter_json_integer(json, "blank", (long long)source->blank);
    tenter_json_integer(json, "repeated", (long long)source->repeated);
    tenter_json_integer(json, "later", shop->later != NULL ? (long long)shop->later[i] : 0);
    tenter_json_close(json, '}');
  }
  tenter_json_close(json, ']');
}

static tenter_status into_buffer(void *context, const void *bytes, size_t length,
                                 tenter_error *error) {
  tenter_buffer *buffer = context;
  tenter_buffer_add(buffer, bytes, length);
  return buffer->failed ? tenter_fail_memory(error) : TENTER_OK;
}

static tenter_status into_output(void *context, const void *bytes, size_t length,
                                 tenter_error *error) {
  return tenter_output_write(context, bytes, length, error);
}

tenter_sink tenter_sink_to_buffer(tenter_buffer *buffer) {
  return (tenter_sink){into_buffer, buffer};
}

tenter_sink tenter_sink_to_output(tenter_output *output) {
  return (tenter_sink){into_output, output};
}

tenter_status sink_flush(tenter_sink sink, tenter_buffer *buffer, tenter_error *error) {
  if (buffer->failed)
    return tenter_fail_memory(error);
  tenter_status status = buffer->length > 0
                             ? sink.write(sink.context, buffer->bytes, buffer->length, error)
                             : TENTER_OK;
  tenter_buffer_clear(buffer);
  return status;
}
