/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `check` as a document: the account of the files, how each column was read, what looks wrong. */
#include "account_json.h"
#include "exports.h"
#include "review_parts.h"

static size_t screens_known(const tenter_shop *shop) {
  size_t count = 0;
  for (size_t i = 0; i < shop->screen_count; i++)
    count += shop->screens[i].mounting_count > 0;
  return count;
}

static void shop_counts(tenter_document *d, const tenter_shop *shop) {
  tenter_names *const *names = shop->tables->names;
  tenter_document_paragraph(
      d, NULL,
      tenter_say_fill(d->arena, TENTER_SAY_SHOP_COUNTS, part_count(d, screens_known(shop)),
                      part_count(d, shop->mounting_count), part_count(d, shop->session_count),
                      part_count(d, shop->reading_count),
                      part_count(d, tenter_names_count(names[TENTER_NAME_LOT])),
                      part_count(d, tenter_names_count(names[TENTER_NAME_METER])),
                      (const char *)NULL));
}

static void columns_read(tenter_document *d, const tenter_tables *tables) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_FILE), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_HEADER), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_READ_AS), TENTER_CELLS_TEXT, false}};
  tenter_block *section = tenter_document_section(
      d, NULL, "columns", tenter_say_text(TENTER_SAY_COLUMNS), TENTER_SECTION_PLAIN);
  tenter_block *table = tenter_document_table(d, section, "columns-table", "", columns, 3);
  for (size_t i = 0; i < tables->column_count; i++) {
    const tenter_column *column = &tables->columns[i];
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return;
    bool again = i > 0 && tables->columns[i - 1].file == column->file;
    bool known = column->file < tables->source_count;
    row[0] = tenter_cell_text(!again && known ? tables->sources[column->file].file : "");
    row[1] = tenter_cell_text(column->header);
    row[2] = tenter_cell_text(
        column->read_as[0] != '\0' ? column->read_as : tenter_say_text(TENTER_SAY_NOT_UNDERSTOOD));
  }
}

static tenter_document *check_document(const tenter_shop *shop,
                                       const tenter_report_options *options) {
  tenter_document *d = document_of(shop, TENTER_SAY_TITLE_CHECK, options->version);
  if (d == NULL)
    return NULL;
  shop_counts(d, shop);
  part_files(d, shop);
  part_quality(d, shop, options->slips, options->slip_count, MOST_PROBLEMS);
  columns_read(d, shop->tables);
  part_provenance(d, shop, options->version);
  return d;
}

tenter_status tenter_report_check_text(const tenter_shop *shop,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error) {
  tenter_document *document = check_document(shop, options);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

static tenter_status write_check(const tenter_shop *shop, const tenter_report_options *options,
                                 tenter_output *output, tenter_buffer *buffer,
                                 tenter_error *error) {
  tenter_status status =
      tenter_report_put_pages(check_document(shop, options), options, output, "check", error);
  if (status != TENTER_OK)
    return status;
  export_rejected(shop->tables, buffer);
  status = tenter_output_put(output, "rejected.csv", buffer, error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "check.json", error);
  if (status == TENTER_OK)
    status = tenter_report_check_json(shop, options, tenter_sink_to_output(output), error);
  return status == TENTER_OK ? tenter_output_commit(output, error) : status;
}

tenter_status tenter_report_check_files(const tenter_shop *shop,
                                        const tenter_report_options *options, const char *folder,
                                        tenter_error *error) {
  tenter_output *output = NULL;
  tenter_buffer buffer = {0};
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = write_check(shop, options, output, &buffer, error);
  tenter_buffer_release(&buffer);
  tenter_output_free(output);
  return status;
}
