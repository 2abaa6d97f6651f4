/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `interval` as a document, as JSON and as a set of files. */
#include <stdio.h>

#include "account_json.h"
#include "exports.h"
#include "interval_report.h"

/* whole: the page, with pictures; else for a terminal. NULL when memory runs out. */
static tenter_document *interval_document(const tenter_interval_study *study,
                                          const tenter_report_options *options, bool whole,
                                          char note[TENTER_MESSAGE_SIZE]) {
  const tenter_review *review = study->review;
  interval_parts parts = {
      .study = study,
      .common = {.review = review,
                 .version = options->version,
                 .document =
                     document_of(review->shop, TENTER_SAY_TITLE_INTERVAL, options->version)}};
  tenter_document *d = parts.common.document;
  if (d == NULL)
    return NULL;
  d->failed |= !work_plan_new(review, false, d->arena, &parts.restretch) ||
               !work_plan_new(review, true, d->arena, &parts.read);
  if (whole)
    interval_pictures_draw(&parts);
  interval_part_days(&parts);
  interval_part_plan(&parts);
  interval_part_pictures(&parts);
  interval_part_past(&parts);
  interval_part_costs(&parts);
  interval_part_sensitivity(&parts);
  part_cautions(&parts.common);
  part_missing(&parts.common);
  if (whole)
    part_provenance(d, review->shop, options->version);
  if (note != NULL)
    snprintf(note, TENTER_MESSAGE_SIZE, "%s", parts.missing);
  return d;
}

tenter_status tenter_report_interval_text(const tenter_interval_study *study,
                                          const tenter_report_options *options, tenter_sink sink,
                                          tenter_error *error) {
  tenter_document *document = interval_document(study, options, false, NULL);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

tenter_status tenter_report_interval_json(const tenter_interval_study *study,
                                          const tenter_report_options *options, tenter_sink sink,
                                          tenter_error *error) {
  tenter_buffer buffer = {0};
  interval_json(study, options->version, &buffer);
  tenter_status status = sink_flush(sink, &buffer, error);
  tenter_buffer_release(&buffer);
  return status;
}

typedef void export_table(const tenter_review *review, tenter_buffer *out);

static tenter_status put(const tenter_review *review, export_table *export, const char *name,
                         tenter_output *output, tenter_buffer *buffer, tenter_error *error) {
  export(review, buffer);
  tenter_status status = tenter_output_put(output, name, buffer, error);
  tenter_buffer_clear(buffer);
  return status;
}

static tenter_status put_all(const tenter_interval_study *study,
                             const tenter_report_options *options, tenter_output *output,
                             char *note, tenter_buffer *buffer, tenter_error *error) {
  tenter_status status = tenter_report_put_pages(interval_document(study, options, true, note),
                                                 options, output, "interval", error);
  if (status == TENTER_OK)
    status = put(study->review, export_intervals, "intervals.csv", output, buffer, error);
  if (status == TENTER_OK)
    status = put(study->review, export_plan, "plan.csv", output, buffer, error);
  if (status == TENTER_OK)
    status = put(study->review, export_calendar, "worklist.ics", output, buffer, error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "interval.json", error);
  if (status == TENTER_OK)
    status = tenter_report_interval_json(study, options, tenter_sink_to_output(output), error);
  return status == TENTER_OK ? tenter_output_commit(output, error) : status;
}

tenter_status tenter_report_interval_files(const tenter_interval_study *study,
                                           const tenter_report_options *options, const char *folder,
                                           char note[TENTER_MESSAGE_SIZE], tenter_error *error) {
  tenter_output *output = NULL;
  tenter_buffer buffer = {0};
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = put_all(study, options, output, note, &buffer, error);
  tenter_buffer_release(&buffer);
  tenter_output_free(output);
  return status;
}
