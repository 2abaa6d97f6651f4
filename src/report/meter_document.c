/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `meter` as a document and as JSON: what moved, each meter's bias, gauge studies, and the
 * uncertainty budget of a session mean. */
#include <math.h>
#include <stdio.h>

#include "account_json.h"
#include "exports.h"
#include "meter_report.h"
#include "review_json.h"

/* ---- studies -------------------------------------------------------------------------------- */

static void component_row(tenter_document *d, tenter_block *table, tenter_say name,
                          const tenter_gauge_part *part, const tenter_gauge_study *study) {
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(tenter_say_text(name));
  row[1] = tenter_cell_number(part->sd, 3);
  row[2] = tenter_cell_number(part->sd_low, 3);
  row[3] = tenter_cell_number(part->sd_high, 3);
  row[4] = tenter_cell_number(100 * part->share, 1);
  row[5] = tenter_cell_number(100 * part->sd / study->total.sd, 1);
}

static void study_table(tenter_document *d, tenter_block *section,
                        const tenter_gauge_study *study) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_CAUSE), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FROM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TO), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SHARE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_OF_SPREAD), TENTER_CELLS_NUMBER, true}};
  tenter_block *table = tenter_document_table(d, section, "study-table", "", columns, 6);
  component_row(d, table, TENTER_SAY_STUDY_REPEATABILITY, &study->repeatability, study);
  component_row(d, table, TENTER_SAY_STUDY_PEOPLE, &study->between_people, study);
  if (!study->pooled)
    component_row(d, table, TENTER_SAY_STUDY_INTERACTION, &study->interaction_part, study);
  component_row(d, table, TENTER_SAY_STUDY_GAUGE, &study->gauge, study);
  component_row(d, table, TENTER_SAY_STUDY_PARTS, &study->between_parts, study);
  component_row(d, table, TENTER_SAY_STUDY_TOTAL, &study->total, study);
}

static void study_section(review_parts *parts, const tenter_meter_study *study) {
  tenter_document *d = parts->document;
  const tenter_gauge_study *s = &study->study;
  const char *name = study->meter == TENTER_NO_NAME16
                         ? "–"
                         : part_name(parts->review, TENTER_NAME_METER, study->meter);
  tenter_block *section = tenter_document_section(
      d, NULL, "study", tenter_say_fill(d->arena, TENTER_SAY_STUDY, name, (const char *)NULL),
      TENTER_SECTION_PLAIN);
  if (study->why != NULL) {
    const char *row = tenter_document_print(
        d, "%s:%u", parts->review->shop->tables->sources[study->first.file].file,
        study->first.line);
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_STUDY_REFUSED,
                                              part_count(d, study->readings), row, study->why,
                                              (const char *)NULL));
    return;
  }
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(
          d->arena, s->balanced ? TENTER_SAY_STUDY_LEAD : TENTER_SAY_STUDY_LEAD_UNEVEN,
          part_count(d, s->parts), part_count(d, s->people),
          part_count(d, s->balanced ? s->repeats : study->readings),
          part_fixed(d, 100 * s->share_of_study, 0), part_fixed(d, floor(s->classes), 0),
          part_fixed(d, s->interaction_p, 3),
          tenter_say_fill(d->arena,
                          s->pooled ? TENTER_SAY_STUDY_POOLED : TENTER_SAY_STUDY_NOT_POOLED,
                          part_fixed(d, TENTER_GAUGE_POOL_ABOVE, 2), (const char *)NULL),
          (const char *)NULL));
  if (!isnan(study->share_of_tolerance))
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_STUDY_TOLERANCE,
                                              part_fixed(d, 100 * study->share_of_tolerance, 0),
                                              part_fixed(d, study->tolerance, 1),
                                              (const char *)NULL));
  study_table(d, section, s);
}

/* ---- budgets -------------------------------------------------------------------------------- */

static void budget_row(review_parts *parts, tenter_block *table, const tenter_budget *b) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_METER, b->meter));
  row[1] = tenter_cell_number((double)b->positions, 0);
  row[2] = tenter_cell_number(b->calibration, 3);
  if (b->assumed)
    row[2].text = tenter_document_print(d, "%s*", part_fixed(d, b->calibration, 3));
  row[3] = tenter_cell_number(b->resolution, 3);
  row[4] = tenter_cell_number(b->repeatability, 3);
  row[5] = tenter_cell_number(b->reproducibility, 3);
  row[6] = tenter_cell_number(b->session, 3);
  row[7] = tenter_cell_number(b->combined, 2);
  row[8] = tenter_cell_number(b->expanded, 2);
}

static void budgets(review_parts *parts, const tenter_meter_studies *studies) {
  tenter_document *d = parts->document;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_METER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_POSITIONS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CALIBRATION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RESOLUTION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_REPEATABILITY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_REPRODUCIBILITY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_SESSION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_COMBINED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_EXPANDED), TENTER_CELLS_NUMBER, true}};
  tenter_block *section = tenter_document_section(
      d, NULL, "budgets", tenter_say_text(TENTER_SAY_BUDGETS), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_BUDGETS_LEAD);
  tenter_block *table = tenter_document_table(d, section, "budgets-table", "", columns, 9);
  for (size_t i = 0; i < parts->review->meter_count && i < MOST_ROWS; i++)
    budget_row(parts, table, &studies->budgets[i]);
}

/* ---- the document --------------------------------------------------------------------------- */

static tenter_document *meter_document(const tenter_review *review,
                                       const tenter_report_options *options,
                                       const tenter_meter_studies *studies, bool whole) {
  review_parts parts = {.review = review,
                        .document =
                            document_of(review->shop, TENTER_SAY_TITLE_METER, options->version)};
  tenter_document *d = parts.document;
  if (d == NULL)
    return NULL;
  if (review->meter_count == 0)
    part_say(d, NULL, TENTER_SAY_NO_METERS);
  part_meters(&parts, false);
  for (size_t i = 0; i < studies->count; i++)
    study_section(&parts, &studies->studies[i]);
  if (studies->count == 0)
    part_say(d, NULL, TENTER_SAY_STUDY_NONE);
  meter_part_plates(&parts, studies, whole);
  meter_part_pairs(&parts, studies);
  if (review->meter_count > 0)
    budgets(&parts, studies);
  part_missing(&parts);
  if (whole)
    part_provenance(d, review->shop, options->version);
  return d;
}

tenter_status tenter_report_meter_text(const tenter_review *review,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error) {
  tenter_meter_studies studies;
  tenter_status status = tenter_meter_studies_make(review, &studies, error);
  if (status != TENTER_OK)
    return status;
  tenter_document *document = meter_document(review, options, &studies, false);
  tenter_buffer text = {0};
  status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

/* ---- JSON ----------------------------------------------------------------------------------- */

static void write_component(tenter_json *json, const char *key, const tenter_gauge_part *part) {
  tenter_json_open(json, key, '{');
  tenter_json_number(json, "sd", part->sd, TENTER_JSON_TENSION);
  tenter_json_number(json, "sd_low", part->sd_low, TENTER_JSON_TENSION);
  tenter_json_number(json, "sd_high", part->sd_high, TENTER_JSON_TENSION);
  tenter_json_number(json, "share", part->share, TENTER_JSON_PROBABILITY);
  tenter_json_close(json, '}');
}

static void write_study(tenter_json *json, const tenter_review *review,
                        const tenter_meter_study *study) {
  const tenter_gauge_study *s = &study->study;
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(
      json, "meter",
      study->meter == TENTER_NO_NAME16 ? "" : part_name(review, TENTER_NAME_METER, study->meter));
  tenter_json_integer(json, "readings", (long long)study->readings);
  tenter_json_text(json, "refused", study->why);
  if (study->why == NULL) {
    tenter_json_integer(json, "parts", (long long)s->parts);
    tenter_json_integer(json, "people", (long long)s->people);
    tenter_json_integer(json, "repeats", (long long)s->repeats);
    tenter_json_number(json, "interaction_p", s->interaction_p, TENTER_JSON_PROBABILITY);
    tenter_json_flag(json, "pooled", s->pooled);
    write_component(json, "repeatability", &s->repeatability);
    write_component(json, "interaction", &s->interaction_part);
    write_component(json, "between_people", &s->between_people);
    write_component(json, "reproducibility", &s->reproducibility);
    write_component(json, "gauge", &s->gauge);
    write_component(json, "between_parts", &s->between_parts);
    write_component(json, "total", &s->total);
    tenter_json_number(json, "share_of_study", s->share_of_study, TENTER_JSON_PROBABILITY);
    tenter_json_number(json, "classes", s->classes, TENTER_JSON_TENSION);
    tenter_json_flag(json, "balanced", s->balanced);
    tenter_json_number(json, "tolerance", study->tolerance, TENTER_JSON_TENSION);
    tenter_json_number(json, "share_of_tolerance", study->share_of_tolerance,
                       TENTER_JSON_PROBABILITY);
  }
  tenter_json_close(json, '}');
}

static void write_budget(tenter_json *json, const tenter_review *review, const tenter_budget *b) {
  tenter_json_line(json);
  tenter_json_open(json, NULL, '{');
  tenter_json_name(json, "meter", part_name(review, TENTER_NAME_METER, b->meter));
  tenter_json_integer(json, "positions", (long long)b->positions);
  tenter_json_number(json, "calibration", b->calibration, TENTER_JSON_TENSION);
  tenter_json_flag(json, "calibration_assumed", b->assumed);
  tenter_json_number(json, "resolution", b->resolution, TENTER_JSON_TENSION);
  tenter_json_number(json, "repeatability", b->repeatability, TENTER_JSON_TENSION);
  tenter_json_number(json, "reproducibility", b->reproducibility, TENTER_JSON_TENSION);
  tenter_json_number(json, "session", b->session, TENTER_JSON_TENSION);
  tenter_json_number(json, "combined", b->combined, TENTER_JSON_TENSION);
  tenter_json_number(json, "expanded", b->expanded, TENTER_JSON_TENSION);
  tenter_json_flag(json, "studied", b->studied);
  tenter_json_close(json, '}');
}

tenter_status tenter_report_meter_json(const tenter_review *review,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error) {
  tenter_meter_studies studies;
  tenter_status status = tenter_meter_studies_make(review, &studies, error);
  if (status != TENTER_OK)
    return status;
  tenter_buffer buffer = {0};
  tenter_json json = tenter_json_start(&buffer);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, review->shop, options->version);
  review_json_meters(&json, review);
  review_json_shifts(&json, review);
  tenter_json_open(&json, "studies", '[');
  for (size_t i = 0; i < studies.count; i++)
    write_study(&json, review, &studies.studies[i]);
  tenter_json_close(&json, ']');
  meter_json_plates(&json, review, &studies);
  tenter_json_open(&json, "budgets", '[');
  for (size_t i = 0; i < review->meter_count; i++)
    write_budget(&json, review, &studies.budgets[i]);
  tenter_json_close(&json, ']');
  tenter_json_close(&json, '}');
  tenter_buffer_byte(&buffer, '\n');
  status = sink_flush(sink, &buffer, error);
  tenter_buffer_release(&buffer);
  return status;
}

/* ---- files ---------------------------------------------------------------------------------- */

tenter_status tenter_report_meter_files(const tenter_review *review,
                                        const tenter_report_options *options, const char *folder,
                                        tenter_error *error) {
  tenter_output *output = NULL;
  tenter_meter_studies studies;
  tenter_status status = tenter_meter_studies_make(review, &studies, error);
  if (status == TENTER_OK)
    status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = tenter_report_put_pages(meter_document(review, options, &studies, true), options,
                                     output, "meter", error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "meter.json", error);
  if (status == TENTER_OK)
    status = tenter_report_meter_json(review, options, tenter_sink_to_output(output), error);
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  return status;
}
