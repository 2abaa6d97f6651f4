/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was read: files, what became of their rows, problems, what is missing, where everything came
 * from. Shared by `check` and `review`. */
#include <stdlib.h>
#include <string.h>

#include "account_json.h"
#include "review_parts.h"

static tenter_cell count_cell(uint64_t count) {
  return tenter_cell_number((double)count, 0);
}

static const char *table_words(const tenter_source *source) {
  static const tenter_say says[] = {[TENTER_TABLE_READINGS] = TENTER_SAY_TABLE_READINGS,
                                    [TENTER_TABLE_REGISTER] = TENTER_SAY_TABLE_REGISTER,
                                    [TENTER_TABLE_EVENTS] = TENTER_SAY_TABLE_EVENTS,
                                    [TENTER_TABLE_METER_CHECKS] = TENTER_SAY_TABLE_METER_CHECKS};
  return tenter_say_text(source->wide ? TENTER_SAY_TABLE_WIDE : says[source->table]);
}

static void file_row(tenter_document *d, tenter_block *table, const tenter_source *source) {
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(source->file);
  row[1] = tenter_cell_text(table_words(source));
  row[2] = count_cell(source->rows);
  row[3] = count_cell(source->accepted);
  row[4] = count_cell(source->rejected);
  row[5] = count_cell(source->blank);
  row[6] = count_cell(source->repeated);
}

void part_files(tenter_document *d, const tenter_shop *shop) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_FILE), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_TABLE), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ROWS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ACCEPTED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_REJECTED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BLANK), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_REPEATED), TENTER_CELLS_NUMBER, true}};
  tenter_block *section = tenter_document_section(
      d, NULL, "files", tenter_say_text(TENTER_SAY_FILES), TENTER_SECTION_PLAIN);
  tenter_block *table = tenter_document_table(d, section, "files-table", "", columns, 7);
  uint64_t later = 0;
  for (size_t i = 0; i < shop->tables->source_count; i++) {
    file_row(d, table, &shop->tables->sources[i]);
    later += shop->later != NULL ? shop->later[i] : 0;
  }
  if (later > 0)
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_LATER,
                                              part_count(d, (size_t)later), (const char *)NULL));
}

static const char *row_words(tenter_document *d, const tenter_tables *tables, tenter_row row) {
  const char *file = row.file < tables->source_count ? tables->sources[row.file].file : "";
  return row.line > 0 ? tenter_document_print(d, "%s:%u", file, (unsigned)row.line) : file;
}

static void problem_row(tenter_document *d, tenter_block *table, const char *where,
                        const char *reason, const char *text) {
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(where);
  row[1] = tenter_cell_text(reason);
  row[2] = tenter_cell_text(text);
}

/* Rows that were rejected, or rows that were noted, at most most of them. */
static void problems(tenter_document *d, tenter_block *section, const tenter_shop *shop,
                     bool rejected, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_ROW), TENTER_CELLS_TEXT, false},
      {tenter_say_text(rejected ? TENTER_SAY_COLUMN_REASON : TENTER_SAY_COLUMN_NOTED),
       TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_TEXT), TENTER_CELLS_RAW, false}};
  const tenter_tables *tables = shop->tables;
  tenter_block *table = NULL;
  size_t found = 0;
  for (size_t i = 0; i < tables->problem_count; i++) {
    const tenter_problem *problem = &tables->problems[i];
    if (problem->rejected != rejected || found++ >= most)
      continue;
    if (table == NULL)
      table = tenter_document_table(
          d, section, rejected ? "rejected" : "noted",
          tenter_say_text(rejected ? TENTER_SAY_REJECTED_ROWS : TENTER_SAY_NOTED_ROWS), columns, 3);
    problem_row(d, table, row_words(d, tables, problem->row), problem->reason, problem->text);
  }
  tenter_document_prune(table);
  if (found > most)
    tenter_document_paragraph(
        d, section,
        tenter_say_fill(d->arena, rejected ? TENTER_SAY_MORE_REJECTED : TENTER_SAY_MORE_NOTED,
                        part_count(d, found - most), (const char *)NULL));
}

/* What rows say together: of the shop's records, or of single sessions. */
static void findings(tenter_document *d, tenter_block *section, const tenter_shop *shop,
                     const tenter_finding *list, size_t count, tenter_say heading, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FOUND), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_ROW), TENTER_CELLS_TEXT, false}};
  if (count == 0)
    return;
  tenter_block *table =
      tenter_document_table(d, section, heading == TENTER_SAY_FINDINGS ? "findings" : "slips",
                            tenter_say_text(heading), columns, 3);
  for (size_t i = 0; i < count && i < most; i++) {
    const char *screen = tenter_names_get(shop->tables->names[TENTER_NAME_SCREEN], list[i].screen);
    const char *first = list[i].rows[0].line > 0 ? row_words(d, shop->tables, list[i].rows[0]) : "";
    if (list[i].rows[1].line > 0)
      first =
          tenter_document_print(d, "%s, %s", first, row_words(d, shop->tables, list[i].rows[1]));
    problem_row(d, table, screen, list[i].shown, first);
  }
  if (count > most)
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_MORE_FINDINGS,
                                              part_count(d, count - most), (const char *)NULL));
}

void part_quality(tenter_document *d, const tenter_shop *shop, const tenter_finding *slips,
                  size_t slip_count, size_t most) {
  if (shop->tables->problem_count + shop->finding_count + slip_count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "data", tenter_say_text(TENTER_SAY_QUALITY), TENTER_SECTION_PLAIN);
  problems(d, section, shop, true, most);
  problems(d, section, shop, false, most);
  findings(d, section, shop, shop->findings, shop->finding_count, TENTER_SAY_FINDINGS, most);
  findings(d, section, shop, slips, slip_count, TENTER_SAY_SLIPS, most);
}

void part_missing(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  if (review->missing_count == 0 && !review->uncertainty_assumed)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "missing", tenter_say_text(TENTER_SAY_MISSING), TENTER_SECTION_PLAIN);
  tenter_block *list = tenter_document_list(d, section);
  for (size_t i = 0; i < review->missing_count; i++)
    tenter_document_item(d, list, review->missing[i]);
  if (review->uncertainty_assumed)
    tenter_document_item(d, list,
                         tenter_say_fill(d->arena, TENTER_SAY_UNCERTAINTY_ASSUMED,
                                         part_fixed(d, TENTER_ASSUMED_EXPANDED, 1),
                                         part_fixed(d, TENTER_ASSUMED_COVERAGE, 0),
                                         (const char *)NULL));
}

static void setting_row(tenter_document *d, tenter_block *table, const tenter_settings *settings,
                        const tenter_settings *initial, size_t index, bool changed_only) {
  const tenter_setting *setting = &tenter_setting_table[index];
  const char *value = tenter_setting_print(settings, setting, d->arena);
  const char *was = tenter_setting_print(initial, setting, d->arena);
  if (value == NULL || was == NULL) {
    d->failed = true;
    return;
  }
  tenter_cell *row = changed_only && strcmp(value, was) == 0 ? NULL : tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(tenter_document_print(d, "[%s] %s", setting->section, setting->key));
  row[1] = tenter_cell_text(value);
  row[2] = tenter_cell_text(was);
  row[3] = tenter_cell_text(setting->type == TENTER_SETTING_CHOICE ? "" : setting->unit);
  row[4] =
      tenter_cell_text(setting->source[0] != '\0'
                           ? tenter_document_print(d, "%s (%s)", setting->sentence, setting->source)
                           : setting->sentence);
}

static tenter_block *settings_table(tenter_document *d, tenter_block *section, const char *id,
                                    const char *caption) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SETTING), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VALUE), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_DEFAULT), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_UNIT), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_MEANS), TENTER_CELLS_TEXT, false}};
  return tenter_document_table(d, section, id, caption, columns, 5);
}

static void changed_settings(tenter_document *d, tenter_block *section,
                             const tenter_settings *settings) {
  tenter_settings initial = tenter_settings_default();
  tenter_block *changed =
      settings_table(d, section, "changed", tenter_say_text(TENTER_SAY_SETTINGS_CHANGED));
  for (size_t i = 0; i < tenter_setting_count; i++)
    setting_row(d, changed, settings, &initial, i, true);
  if (changed != NULL && changed->row_count == 0)
    changed->text = tenter_say_text(TENTER_SAY_SETTINGS_DEFAULT);
}

static void all_settings(tenter_document *d, tenter_block *section,
                         const tenter_settings *settings) {
  tenter_settings initial = tenter_settings_default();
  tenter_block *folded = tenter_document_section(
      d, section, "settings", tenter_say_text(TENTER_SAY_SETTINGS), TENTER_SECTION_FOLDED);
  tenter_block *all = settings_table(d, folded, "settings-table", "");
  for (size_t i = 0; i < tenter_setting_count; i++)
    setting_row(d, all, settings, &initial, i, false);
}

/* Program, run, config and files with their hashes. */
void part_sources(tenter_document *d, tenter_block *list, const tenter_shop *shop,
                  const char *version) {
  const char *config =
      shop->config->file[0] != '\0'
          ? tenter_document_print(d, "%s, SHA-256 %s", shop->config->file, shop->config->sha256)
          : tenter_say_text(TENTER_SAY_NO_CONFIG);
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_PROGRAM),
                         tenter_document_print(d, "tenter %s", version));
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_RUN), d->run);
  tenter_document_define(d, list, tenter_say_text(TENTER_SAY_CONFIG), config);
  for (size_t i = 0; i < shop->tables->source_count; i++)
    tenter_document_define(d, list, shop->tables->sources[i].file,
                           tenter_document_print(d, "SHA-256 %s", shop->tables->sources[i].sha256));
}

void part_provenance(tenter_document *d, const tenter_shop *shop, const char *version) {
  tenter_block *section = tenter_document_section(
      d, NULL, "provenance", tenter_say_text(TENTER_SAY_PROVENANCE), TENTER_SECTION_PLAIN);
  part_sources(d, tenter_document_definitions(d, section), shop, version);
  changed_settings(d, section, &shop->config->settings);
  all_settings(d, section, &shop->config->settings);
}
