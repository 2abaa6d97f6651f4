/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What screens were read with and where they were stretched: meters, what moved, stations. */
#include <string.h>

#include "review_parts.h"

/* The code of JSON for what a bias was measured against, in words. */
static const char *against_words(const char *code) {
  static const struct {
    const char *code;
    tenter_say words;
  } known[] = {{TENTER_AGAINST_PLATE, TENTER_SAY_AGAINST_PLATE},
               {TENTER_AGAINST_METERS, TENTER_SAY_AGAINST_METERS},
               {TENTER_AGAINST_PAST, TENTER_SAY_AGAINST_PAST}};
  for (size_t i = 0; code != NULL && i < sizeof known / sizeof *known; i++)
    if (strcmp(code, known[i].code) == 0)
      return tenter_say_text(known[i].words);
  return "";
}

static void meter_row(review_parts *parts, tenter_block *table, const tenter_review_meter *meter) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(meter->bias_se);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_METER, meter->meter));
  row[1] = tenter_cell_number((double)meter->sessions, 0);
  row[2] = tenter_cell_number(meter->bias, decimals);
  row[2].sign = true;
  row[3] = tenter_cell_number(meter->bias_se, decimals);
  row[4] = tenter_cell_text(against_words(meter->bias_against));
  row[5] =
      meter->shifted
          ? tenter_cell_verdict(tenter_say_text(TENTER_SAY_METER_SHIFTED), TENTER_TONE_ACT, 1)
          : tenter_cell_verdict(tenter_say_text(TENTER_SAY_METER_NO_SHIFT), TENTER_TONE_PLAIN, 0);
  row[6] = tenter_cell_time((tenter_when){meter->since, true});
  row[7] = tenter_cell_text(part_joined(d, meter->confounded_with, meter->confounded_count));
}

/* What moved, in sentences. */
void part_shifts(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  if (review->shift_count == 0)
    return;
  tenter_block *list = tenter_document_list(d, section);
  for (size_t i = 0; i < review->shift_count; i++)
    tenter_document_item(d, list, review->shifts[i].shown);
  part_say(d, section,
           review->shifts[0].corrected ? TENTER_SAY_SHIFTS_CORRECTED : TENTER_SAY_SHIFTS_LEFT_OUT);
}

void part_meter_table(review_parts *parts, tenter_block *section, bool brief) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_METER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SESSIONS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BIAS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AGAINST), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VERDICT), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SINCE), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MIXED), TENTER_CELLS_TEXT, false}};
  tenter_block *table = tenter_document_table(d, section, "meters-table", "", columns, 8);
  for (size_t i = 0; i < review->meter_count && i < MOST_ROWS; i++)
    if (!brief || review->meters[i].shifted)
      meter_row(parts, table, &review->meters[i]);
  tenter_document_prune(table);
}

void part_meters(review_parts *parts, bool brief) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  size_t shifted = 0;
  for (size_t i = 0; i < review->meter_count; i++)
    shifted += review->meters[i].shifted;
  if (review->meter_count + review->shift_count == 0 ||
      (brief && shifted + review->shift_count == 0))
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "meters", tenter_say_text(TENTER_SAY_METERS), TENTER_SECTION_PLAIN);
  part_say(d, section, shifted > 0 ? TENTER_SAY_METERS_SHIFTED_LEAD : TENTER_SAY_METERS_LEAD);
  part_shifts(parts, section);
  if (!brief || shifted > 0)
    part_meter_table(parts, section, brief);
}

/* ---- stations ------------------------------------------------------------------------------- */

static void station_row(review_parts *parts, tenter_block *table,
                        const tenter_review_station *station) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_STATION, station->station));
  row[1] = tenter_cell_number((double)station->mountings, 0);
  for (int n = 0; n < TENTER_STATION_COUNT; n++) {
    int decimals = tenter_decimals_of(station->mean_se[n]);
    row[2 + 2 * n] = tenter_cell_number(station->mean[n], decimals);
    row[2 + 2 * n].sign = true;
    row[3 + 2 * n] = tenter_cell_number(station->mean_se[n], decimals);
  }
  row[10] = station->flagged ? tenter_cell_verdict(tenter_say_text(TENTER_SAY_STATION_UNEVEN),
                                                   TENTER_TONE_ACT, 1)
                             : tenter_cell_verdict(tenter_say_text(TENTER_SAY_STATION_NOT_SHOWN),
                                                   TENTER_TONE_PLAIN, 0);
}

static void station_table(review_parts *parts, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_STATION), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MOUNTINGS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TILT_X), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TILT_Y), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CORNER), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WARP_WEFT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VERDICT), TENTER_CELLS_VERDICT, true}};
  tenter_block *table =
      tenter_document_table(parts->document, section, "stations-table", "", columns, 11);
  for (size_t i = 0; i < parts->review->station_count; i++)
    station_row(parts, table, &parts->review->stations[i]);
  tenter_document_prune(table);
}

static void station_advice(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  tenter_block *list = NULL;
  for (size_t i = 0; i < parts->review->station_count; i++) {
    const tenter_review_station *station = &parts->review->stations[i];
    if (station->advice == NULL)
      continue;
    if (list == NULL)
      list = tenter_document_list(d, section);
    tenter_document_item(
        d, list,
        tenter_say_fill(d->arena, TENTER_SAY_STATION_STORY,
                        part_name(parts->review, TENTER_NAME_STATION, station->station),
                        station->shown, (const char *)NULL));
  }
}

static void station_maps(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  const review_pictures *pictures = &parts->pictures;
  if (pictures->station_count == 0)
    return;
  part_say(d, section, TENTER_SAY_STATION_MAPS);
  tenter_block *figures = tenter_document_figures(d, section);
  for (size_t i = 0; i < pictures->station_count; i++)
    tenter_document_figure(
        d, figures,
        (tenter_figure){.title = part_name(parts->review, TENTER_NAME_STATION,
                                           pictures->stations[i].station->station),
                        .caption = "",
                        .alternative = pictures->stations[i].alternative,
                        .svg = pictures->stations[i].svg,
                        .width = MAP_WIDTH,
                        .height = MAP_HEIGHT});
}

void part_stations(review_parts *parts, bool brief) {
  const tenter_review *review = parts->review;
  size_t told = 0, flagged = 0;
  for (size_t i = 0; i < review->station_count; i++) {
    told += review->stations[i].advice != NULL;
    flagged += review->stations[i].flagged;
  }
  if (review->station_count == 0 || (brief && told == 0))
    return;
  tenter_document *d = parts->document;
  tenter_block *section = tenter_document_section(
      d, NULL, "stations", tenter_say_text(TENTER_SAY_STATIONS), TENTER_SECTION_PLAIN);
  tenter_document_paragraph(
      d, section,
      tenter_say_fill(d->arena, TENTER_SAY_STATIONS_LEAD, part_count(d, flagged),
                      part_count(d, review->station_count),
                      part_fixed(d, 100 * review->shop->config->settings.false_discovery_rate, 0),
                      (const char *)NULL));
  station_advice(parts, section);
  if (brief)
    return;
  station_table(parts, section);
  station_maps(parts, section);
}
