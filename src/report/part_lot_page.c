/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of the page on lots (`tenter lots`) that the review does not have: what each fast lot
 * costs, the plain means beside, the meshes, and how to read it all. */
#include <math.h>

#include "review_parts.h"

static const char *percent(tenter_document *d, double share) {
  return share > 0.995 ? ">99" : part_fixed(d, 100 * share, 0);
}

static const char *days(tenter_document *d, double value) {
  return isnan(value) ? tenter_say_text(TENTER_SAY_LOT_DAYS_LONG) : part_fixed(d, value, 0);
}

static const char *days_story(tenter_document *d, const tenter_review_lot *lot) {
  return tenter_say_fill(d->arena, TENTER_SAY_LOT_DAYS, part_fixed(d, lot->floor, 1),
                         days(d, lot->days_to_floor), days(d, lot->mesh_days_to_floor),
                         (const char *)NULL);
}

static const char *adjusted_story(tenter_document *d, const tenter_review_lot *lot) {
  return tenter_say_fill(
      d->arena, TENTER_SAY_LOT_ADJUSTED,
      tenter_document_uncertain(d, lot->adjusted_excess, lot->adjusted_excess_se),
      (const char *)NULL);
}

/* What a fast lot does and costs, in sentences. */
static const char *lot_story(review_parts *parts, const tenter_review_lot *lot) {
  tenter_document *d = parts->document;
  const char *story = tenter_say_fill(
      d->arena, TENTER_SAY_LOT_STORY, part_name(parts->review, TENTER_NAME_LOT, lot->lot),
      part_name(parts->review, TENTER_NAME_MESH, lot->mesh),
      tenter_document_uncertain(d, lot->loss_per_decade, lot->loss_per_decade_se),
      part_fixed(d, lot->mesh_loss_per_decade, tenter_decimals_of(lot->loss_per_decade_se)),
      percent(d, lot->probability_fast), (const char *)NULL);
  const char *cost = tenter_say_fill(
      d->arena, TENTER_SAY_LOT_COST,
      tenter_document_uncertain(d, lot->extra_loss_at_30_days, lot->extra_loss_at_30_days_se),
      (const char *)NULL);
  story = tenter_document_print(d, "%s %s", story, cost);
  if (!isnan(lot->days_to_floor))
    story = tenter_document_print(d, "%s %s", story, days_story(d, lot));
  if (!isnan(lot->adjusted_excess))
    story = tenter_document_print(d, "%s %s", story, adjusted_story(d, lot));
  return story;
}

static const char *together_story(review_parts *parts, const tenter_review_lot *lot) {
  tenter_document *d = parts->document;
  return tenter_say_fill(
      d->arena, TENTER_SAY_LOT_TOGETHER, part_name(parts->review, TENTER_NAME_LOT, lot->lot),
      part_name(parts->review, TENTER_NAME_MESH, lot->mesh), percent(d, lot->probability_fast),
      part_joined(d, lot->confounded_with, lot->confounded_count), (const char *)NULL);
}

void part_lots_headline(review_parts *parts) {
  enum { MOST_STORIES = 8 };
  const tenter_review *review = parts->review;
  tenter_document *d = parts->document;
  if (review->lot_count == 0) {
    part_say(d, NULL, TENTER_SAY_NO_LOTS);
    return;
  }
  tenter_document_paragraph(d, NULL, part_lots_lead(parts));
  tenter_block *list = tenter_document_list(d, NULL);
  size_t told = 0;
  for (size_t i = 0; i < review->lot_count; i++) {
    const tenter_review_lot *lot = &review->lots[i];
    bool together = !lot->fast && lot->confounded_count > 0 && lot->probability_fast > 0.5;
    if ((lot->fast || together) && told++ < MOST_STORIES)
      tenter_document_item(d, list, lot->fast ? lot_story(parts, lot) : together_story(parts, lot));
  }
  if (told > MOST_STORIES)
    part_say(d, NULL, TENTER_SAY_MORE_STORIES);
}

/* ---- pictures ------------------------------------------------------------------------------- */

void part_lot_pictures(review_parts *parts) {
  tenter_document *d = parts->document;
  const lot_pictures *lots = &parts->lots;
  if (lots->count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "pictures", tenter_say_text(TENTER_SAY_LOT_PICTURES), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_LOT_PICTURES_LEAD);
  if (lots->missing[0] != '\0')
    tenter_document_paragraph(
        d, section,
        tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES, lots->missing, (const char *)NULL));
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t i = 0; i < lots->count; i++)
    tenter_document_figure(
        d, figures,
        (tenter_figure){.title = part_name(parts->review, TENTER_NAME_MESH, lots->mesh[i].name),
                        .caption = "",
                        .alternative = lots->mesh[i].alternative,
                        .svg = lots->mesh[i].svg,
                        .width = PICTURE_WIDTH,
                        .height = lots->mesh[i].height});
}

/* ---- tables --------------------------------------------------------------------------------- */

static tenter_cell days_cell(double value) {
  return tenter_cell_number(value, 0);
}

static void cost_row(review_parts *parts, tenter_block *table, const tenter_review_lot *lot) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(lot->extra_loss_at_30_days_se);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_LOT, lot->lot));
  row[0].rank = lot->lot;
  row[1] = tenter_cell_number(lot->extra_loss_at_30_days, decimals);
  row[1].sign = true;
  row[2] = tenter_cell_number(lot->extra_loss_at_30_days_se, decimals);
  row[3] = days_cell(lot->days_to_floor);
  row[4] = days_cell(lot->days_to_floor_early);
  row[5] = days_cell(lot->days_to_floor_late);
  row[6] = days_cell(lot->mesh_days_to_floor);
  row[7] = days_cell(lot->days_lost);
}

static void check_row(review_parts *parts, tenter_block *table, const tenter_review_lot *lot) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(lot->loss_per_decade_se);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_LOT, lot->lot));
  row[0].rank = lot->lot;
  row[1] = tenter_cell_number(lot->loss_per_decade, decimals);
  row[2] = tenter_cell_number(lot->loss_per_decade_se, decimals);
  row[3] = tenter_cell_number(lot->raw_loss_per_decade, decimals);
  row[4] = tenter_cell_number(lot->raw_loss_per_decade_se, decimals);
  row[5] = tenter_cell_number((double)lot->raw_screens, 0);
  int adjusted = tenter_decimals_of(lot->adjusted_excess_se);
  row[6] = tenter_cell_number(lot->adjusted_excess, adjusted);
  row[6].sign = true;
  row[7] = tenter_cell_number(lot->adjusted_excess_se, adjusted);
}

typedef void add_row(review_parts *parts, tenter_block *table, const tenter_review_lot *lot);

/* A section with one table, a row a lot. */
static void lot_section(review_parts *parts, const char *id, tenter_say heading, tenter_say lead,
                        const tenter_table_column *columns, size_t count, add_row *add,
                        size_t most) {
  tenter_document *d = parts->document;
  if (parts->review->lot_count == 0)
    return;
  tenter_block *section =
      tenter_document_section(d, NULL, id, tenter_say_text(heading), TENTER_SECTION_PLAIN);
  part_say(d, section, lead);
  tenter_block *table = tenter_document_table(d, section, tenter_document_print(d, "%s-table", id),
                                              "", columns, count);
  for (size_t i = 0; i < parts->review->lot_count && i < most; i++)
    add(parts, table, &parts->review->lots[i]);
  tenter_document_prune(table);
}

void part_lot_costs(review_parts *parts, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_EXTRA), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_EARLY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_LATE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_NORM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DAYS_LOST), TENTER_CELLS_NUMBER, true}};
  lot_section(parts, "costs", TENTER_SAY_LOT_COSTS, TENTER_SAY_LOT_COSTS_LEAD, columns, 8, cost_row,
              most);
}

void part_lot_check(review_parts *parts, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOSS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ADJUSTED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true}};
  lot_section(parts, "check", TENTER_SAY_LOT_CHECK, TENTER_SAY_LOT_CHECK_LEAD, columns, 8,
              check_row, most);
}

static void unpooled_row(review_parts *parts, tenter_block *table, const tenter_review_lot *lot) {
  tenter_document *d = parts->document;
  tenter_cell *row = isnan(lot->raw_p_value) ? NULL : tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_LOT, lot->lot));
  row[0].rank = lot->lot;
  row[1] =
      tenter_cell_number(lot->raw_loss_per_decade, tenter_decimals_of(lot->raw_loss_per_decade_se));
  row[2] = tenter_cell_number(lot->raw_p_value, 3);
  row[3] = tenter_cell_number(lot->raw_q_value, 3);
  row[4] = tenter_cell_number(lot->raw_pair_p_value, 3);
  if (lot->raw_compared == 0)
    return;
  row[5] = tenter_cell_number((double)lot->raw_above, 0);
  row[6] = tenter_cell_number((double)lot->raw_compared, 0);
}

void part_lot_unpooled(review_parts *parts, size_t most) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_P), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_Q), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_PAIR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_ABOVE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_RAW_COMPARED), TENTER_CELLS_NUMBER, true}};
  bool any = false;
  for (size_t i = 0; i < parts->review->lot_count && i < most; i++)
    any |= !isnan(parts->review->lots[i].raw_p_value);
  if (any)
    lot_section(parts, "unpooled", TENTER_SAY_LOT_UNPOOLED, TENTER_SAY_LOT_UNPOOLED_LEAD, columns,
                7, unpooled_row, most);
}

/* ---- meshes --------------------------------------------------------------------------------- */

static void spread_row(review_parts *parts, tenter_block *table,
                       const tenter_review_population *p) {
  const double sd[] = {p->sd_lot_at_24h, p->sd_lot_loss, p->sd_mounting_at_24h, p->sd_mounting_loss,
                       p->sd_session};
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_MESH, p->mesh));
  for (size_t i = 0; i < 5; i++)
    row[i + 1] = tenter_cell_number(sd[i], 2);
}

static void spread_table(review_parts *parts, tenter_block *section, size_t most) {
  const tenter_review *review = parts->review;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_LOT_LEVEL), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_LOT_LOSS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_MOUNTING_LEVEL), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_MOUNTING_LOSS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SD_SESSION), TENTER_CELLS_NUMBER, true}};
  tenter_block *table =
      tenter_document_table(parts->document, section, "spread-table",
                            tenter_say_text(TENTER_SAY_POPULATION_SPREAD), columns, 6);
  for (size_t i = 0; i < review->population_count && i < most; i++)
    spread_row(parts, table, &review->populations[i]);
  tenter_document_prune(table);
}

static void cause_row(review_parts *parts, tenter_block *table, const tenter_review_covariate *c) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(c->se);
  row[0] = tenter_cell_text(c->words);
  row[1] = tenter_cell_number(c->estimate, decimals);
  row[1].sign = true;
  row[2] = tenter_cell_number(c->se, decimals);
  row[3] = tenter_cell_text(c->unit);
}

/* The covariates, at the level of the mesh with most mountings. */
static void causes(review_parts *parts) {
  const tenter_review *review = parts->review;
  tenter_document *d = parts->document;
  const tenter_review_population *most = &review->populations[0];
  for (size_t i = 1; i < review->population_count; i++)
    if (review->populations[i].covariate_count > 0 &&
        review->populations[i].mountings > most->mountings)
      most = &review->populations[i];
  if (most->covariate_count == 0)
    return;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_CAUSE), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ESTIMATE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UNIT), TENTER_CELLS_TEXT, true}};
  tenter_block *section = tenter_document_section(
      d, NULL, "causes", tenter_say_text(TENTER_SAY_COVARIATES), TENTER_SECTION_PLAIN);
  tenter_document_paragraph(d, section,
                            tenter_say_fill(d->arena, TENTER_SAY_COVARIATES_LEAD,
                                            part_name(review, TENTER_NAME_MESH, most->mesh),
                                            (const char *)NULL));
  tenter_block *table = tenter_document_table(d, section, "causes-table", "", columns, 4);
  for (size_t i = 0; i < most->covariate_count; i++)
    cause_row(parts, table, &most->covariates[i]);
}

void part_population(review_parts *parts, size_t most) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  if (review->population_count == 0)
    return;
  bool logarithm = review->populations[0].scale[0] == 'l';
  tenter_block *section = tenter_document_section(
      d, NULL, "meshes", tenter_say_text(TENTER_SAY_POPULATION), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_POPULATION_LEAD);
  part_mesh_table(parts, section);
  spread_table(parts, section, most);
  part_say(d, section, logarithm ? TENTER_SAY_POPULATION_LOG : TENTER_SAY_POPULATION_TENSION);
  causes(parts);
}

/* ---- terms ---------------------------------------------------------------------------------- */

void part_lot_terms(review_parts *parts) {
  static const tenter_say terms[][2] = {
      {TENTER_SAY_TERM_DECADE, TENTER_SAY_TERM_DECADE_TEXT},
      {TENTER_SAY_TERM_SE, TENTER_SAY_TERM_SE_TEXT},
      {TENTER_SAY_TERM_NORM, TENTER_SAY_TERM_NORM_TEXT},
      {TENTER_SAY_TERM_EXCESS, TENTER_SAY_TERM_EXCESS_TEXT},
      {TENTER_SAY_TERM_FAST, TENTER_SAY_TERM_FAST_TEXT},
      {TENTER_SAY_TERM_NOT_SHOWN, TENTER_SAY_TERM_NOT_SHOWN_TEXT},
      {TENTER_SAY_TERM_TOGETHER, TENTER_SAY_TERM_TOGETHER_TEXT},
      {TENTER_SAY_TERM_STRUCTURE, TENTER_SAY_TERM_STRUCTURE_TEXT}};
  tenter_document *d = parts->document;
  const tenter_settings *settings = &parts->review->shop->config->settings;
  tenter_block *section = tenter_document_section(
      d, NULL, "terms", tenter_say_text(TENTER_SAY_LOTS_HOW), TENTER_SECTION_PLAIN);
  tenter_block *list = tenter_document_definitions(d, section);
  for (size_t i = 0; i < sizeof terms / sizeof *terms; i++)
    tenter_document_define(d, list, tenter_say_text(terms[i][0]),
                           tenter_say_fill(d->arena, terms[i][1],
                                           part_fixed(d, 100 * settings->margin_share, 0),
                                           part_fixed(d, settings->margin_loss, 2),
                                           part_fixed(d, 100 * settings->false_discovery_rate, 0),
                                           (const char *)NULL));
}
