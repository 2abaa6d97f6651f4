/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The review as a document: its parts in the order in which they are read. */
#include "review_parts.h"

#include <stdio.h>

#include "account_json.h"

/* What all parts need; false when memory ran out. */
static bool prepare(review_parts *parts) {
  return parts->document != NULL &&
         work_list_new(parts->review, parts->document->arena, &parts->work) &&
         work_sheet_new(parts->review, parts->document->arena, &parts->sheet);
}

static tenter_document *finish(review_parts *parts, bool made) {
  if (made && !parts->document->failed)
    return parts->document;
  tenter_document_free(parts->document);
  return NULL;
}

tenter_document *review_document_whole(const tenter_review *review,
                                       const tenter_report_options *options,
                                       char note[TENTER_MESSAGE_SIZE]) {
  review_parts parts = {.review = review,
                        .version = options->version,
                        .document =
                            document_of(review->shop, TENTER_SAY_TITLE_REVIEW, options->version)};
  bool made = prepare(&parts);
  if (made) {
    pictures_draw(&parts);
    part_headline(&parts);
    part_todo(&parts, MOST_ROWS);
    part_week(&parts, false);
    part_charts(&parts, false);
    part_sets(&parts);
    part_relaxation(&parts);
    part_evenness(&parts);
    part_lots(&parts, false);
    part_meshes(&parts);
    part_meters(&parts, false);
    part_stations(&parts, false);
    part_screens(&parts);
    part_missing(&parts);
    part_files(parts.document, review->shop);
    part_quality(parts.document, review->shop, review->slips, review->slip_count, MOST_PROBLEMS);
    part_cautions(&parts);
    part_sheet(&parts);
    part_provenance(parts.document, review->shop, options->version);
  }
  if (note != NULL)
    snprintf(note, TENTER_MESSAGE_SIZE, "%s", parts.pictures.missing);
  return finish(&parts, made);
}

/* Rows read, in one sentence. */
static void rows_read(tenter_document *d, tenter_block *section, const tenter_shop *shop) {
  uint64_t rows = 0, rejected = 0, repeated = 0;
  for (size_t i = 0; i < shop->tables->source_count; i++) {
    rows += shop->tables->sources[i].rows;
    rejected += shop->tables->sources[i].rejected;
    repeated += shop->tables->sources[i].repeated;
  }
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_ROWS_READ, part_count(d, (size_t)rows),
                      part_count(d, shop->tables->source_count), part_count(d, (size_t)rejected),
                      part_count(d, (size_t)repeated), part_count(d, shop->finding_count),
                      (const char *)NULL));
}

static void summary(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  tenter_block *section = tenter_document_section(
      d, NULL, "summary", tenter_say_text(TENTER_SAY_SUMMARY), TENTER_SECTION_PLAIN);
  tenter_block *table;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOW), TENTER_CELLS_NUMBER, true}};
  table = tenter_document_table(d, section, "summary-table", "", columns, 2);
  for (int a = TENTER_ACTION_COUNT - 1; a >= 0; a--) {
    tenter_cell *row = tenter_document_row(d, table);
    if (row != NULL) {
      row[0] = part_action_cell((tenter_action)a);
      row[1] = tenter_cell_number((double)review->actions[a], 0);
    }
  }
  rows_read(d, section, review->shop);
}

tenter_document *review_document_brief(const tenter_review *review,
                                       const tenter_report_options *options) {
  review_parts parts = {.review = review,
                        .version = options->version,
                        .document =
                            document_of(review->shop, TENTER_SAY_TITLE_REVIEW, options->version)};
  bool made = prepare(&parts);
  if (made) {
    part_headline(&parts);
    part_todo(&parts, SIZE_MAX);
    summary(&parts);
    part_week(&parts, true);
    part_charts(&parts, true);
    part_sets(&parts);
    part_lots(&parts, true);
    part_meters(&parts, true);
    part_stations(&parts, true);
    part_missing(&parts);
  }
  return finish(&parts, made);
}

tenter_status tenter_report_review_text(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error) {
  tenter_document *document = review_document_brief(review, options);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}
