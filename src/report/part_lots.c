/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lots and the meshes they belong to: what stands behind more than one screen. */
#include "review_parts.h"

static void lot_row(review_parts *parts, tenter_block *table, const tenter_review_lot *lot) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(lot->loss_per_decade_se);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_LOT, lot->lot));
  row[0].rank = lot->lot;
  row[1] = tenter_cell_text(part_name(parts->review, TENTER_NAME_MESH, lot->mesh));
  row[2] = tenter_cell_number((double)lot->screens, 0);
  row[3] = tenter_cell_number(lot->loss_per_decade, decimals);
  row[4] = tenter_cell_number(lot->loss_per_decade_se, decimals);
  row[5] = tenter_cell_number(lot->mesh_loss_per_decade, decimals);
  row[6] = tenter_cell_number(lot->excess, decimals);
  row[6].sign = true;
  row[7] = tenter_cell_number(lot->excess_se, decimals);
  row[8] = part_percent(lot->probability_fast);
  row[9] = lot->fast ? tenter_cell_verdict(tenter_say_text(TENTER_SAY_LOT_FAST), TENTER_TONE_ACT, 1)
                     : tenter_cell_verdict(tenter_say_text(TENTER_SAY_LOT_NOT_SHOWN),
                                           TENTER_TONE_PLAIN, 0);
  row[10] = tenter_cell_text(part_joined(d, lot->confounded_with, lot->confounded_count));
}

static size_t fast_lots(const tenter_review *review) {
  size_t count = 0;
  for (size_t i = 0; i < review->lot_count; i++)
    count += review->lots[i].fast;
  return count;
}

void part_lot_table(review_parts *parts, tenter_block *section, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOSS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NORM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_EXCESS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FAST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VERDICT), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MIXED), TENTER_CELLS_TEXT, false}};
  tenter_block *table =
      tenter_document_table(parts->document, section, "lots-table", "", columns, 11);
  for (size_t i = 0; i < parts->review->lot_count && i < most; i++)
    lot_row(parts, table, &parts->review->lots[i]);
  tenter_document_prune(table);
}

const char *part_lots_lead(review_parts *parts) {
  tenter_document *d = parts->document;
  return tenter_say_fill(d->arena, TENTER_SAY_LOTS_LEAD, part_count(d, fast_lots(parts->review)),
                         part_count(d, parts->review->lot_count), (const char *)NULL);
}

void part_lots(review_parts *parts, bool brief) {
  size_t fast = fast_lots(parts->review);
  if (parts->review->lot_count == 0 || (brief && fast == 0))
    return;
  tenter_block *section = tenter_document_section(
      parts->document, NULL, "lots", tenter_say_text(TENTER_SAY_LOTS), TENTER_SECTION_PLAIN);
  tenter_document_paragraph(parts->document, section, part_lots_lead(parts));
  part_lot_table(parts, section, brief ? fast : MOST_ROWS);
}

static void mesh_row(review_parts *parts, tenter_block *table,
                     const tenter_review_population *population) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(population->loss_per_decade_se);
  int level = tenter_decimals_of(population->at_24h_se);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_MESH, population->mesh));
  row[1] = tenter_cell_number((double)population->mountings, 0);
  row[2] = tenter_cell_number((double)population->lots, 0);
  row[3] = tenter_cell_number(population->at_24h, level);
  row[4] = tenter_cell_number(population->loss_per_decade, decimals);
  row[5] = tenter_cell_number(population->loss_per_decade_se, decimals);
  int rest = tenter_decimals_of(population->loss_at_rest_se);
  row[6] = tenter_cell_number(population->loss_at_rest, rest);
  row[7] = tenter_cell_number(population->loss_at_rest_se, rest);
  row[8] = tenter_cell_text(population->structure);
}

void part_mesh_table(review_parts *parts, tenter_block *section) {
  const tenter_review *review = parts->review;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MOUNTINGS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOTS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AT_24H), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOSS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AT_REST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FITTED), TENTER_CELLS_TEXT, false}};
  tenter_block *table =
      tenter_document_table(parts->document, section, "meshes-table", "", columns, 9);
  for (size_t i = 0; i < review->population_count && i < MOST_ROWS; i++)
    mesh_row(parts, table, &review->populations[i]);
  tenter_document_prune(table);
}

void part_meshes(review_parts *parts) {
  if (parts->review->population_count == 0)
    return;
  part_mesh_table(parts, tenter_document_section(parts->document, NULL, "meshes",
                                                 tenter_say_text(TENTER_SAY_MESHES),
                                                 TENTER_SECTION_PLAIN));
}
