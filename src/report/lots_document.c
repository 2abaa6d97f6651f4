/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `lots` as a document, as JSON and as a set of files: the same lots and populations as in the
 * review, with what they cost and how to read them. */
#include <stdio.h>

#include "account_json.h"
#include "exports.h"
#include "review_json.h"
#include "review_parts.h"

enum { MOST_ROWS_IN_TEXT = 60 };

/* whole: the page, with pictures; else for a terminal. NULL when memory runs out. */
static tenter_document *lots_document(const tenter_review *review,
                                      const tenter_report_options *options, bool whole,
                                      char note[TENTER_MESSAGE_SIZE]) {
  review_parts parts = {.review = review,
                        .document =
                            document_of(review->shop, TENTER_SAY_TITLE_LOTS, options->version)};
  tenter_document *d = parts.document;
  if (d == NULL)
    return NULL;
  size_t most = whole ? MOST_ROWS : MOST_ROWS_IN_TEXT;
  part_lots_headline(&parts);
  if (whole)
    lot_pictures_draw(&parts);
  part_lot_pictures(&parts);
  if (review->lot_count > 0)
    part_lot_table(&parts,
                   tenter_document_section(d, NULL, "lots", tenter_say_text(TENTER_SAY_LOTS),
                                           TENTER_SECTION_PLAIN),
                   most);
  if (review->lot_count > most)
    part_say(d, NULL, TENTER_SAY_MORE_LOTS);
  part_lot_costs(&parts, most);
  part_lot_check(&parts, most);
  part_lot_unpooled(&parts, most);
  part_population(&parts, most);
  part_lot_terms(&parts);
  part_missing(&parts);
  if (whole)
    part_provenance(d, review->shop, options->version);
  if (note != NULL)
    snprintf(note, TENTER_MESSAGE_SIZE, "%s", parts.lots.missing);
  return d;
}

tenter_status tenter_report_lots_text(const tenter_review *review,
                                      const tenter_report_options *options, tenter_sink sink,
                                      tenter_error *error) {
  tenter_document *document = lots_document(review, options, false, NULL);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

tenter_status tenter_report_lots_json(const tenter_review *review,
                                      const tenter_report_options *options, tenter_sink sink,
                                      tenter_error *error) {
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, options->version);
  review_json_lots(&json, review);
  review_json_populations(&json, review);
  tenter_json_close(&json, '}');
  tenter_buffer_byte(&buffer, '\n');
  tenter_status status = sink_flush(sink, &buffer, error);
  tenter_buffer_release(&buffer);
  return status;
}

static tenter_status put_all(const tenter_review *review, const tenter_report_options *options,
                             tenter_output *output, char *note, tenter_buffer *buffer,
                             tenter_error *error) {
  tenter_status status = tenter_report_put_pages(lots_document(review, options, true, note),
                                                 options, output, "lots", error);
  if (status != TENTER_OK)
    return status;
  export_lots(review, buffer);
  status = tenter_output_put(output, "lots.csv", buffer, error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "lots.json", error);
  if (status == TENTER_OK)
    status = tenter_report_lots_json(review, options, tenter_sink_to_output(output), error);
  return status == TENTER_OK ? tenter_output_commit(output, error) : status;
}

tenter_status tenter_report_lots_files(const tenter_review *review,
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
