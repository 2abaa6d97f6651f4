/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures of the screens that matter, and the table of all screens. */
#include <math.h>

#include "review_parts.h"

static void add_picture(review_parts *parts, tenter_block *figures, const review_picture *picture,
                        int width, int height) {
  tenter_document *d = parts->document;
  const tenter_review_screen *screen = picture->screen;
  const tenter_mounting *mounting = &parts->review->shop->mountings[screen->mounting];
  const char *mesh = part_name(parts->review, TENTER_NAME_MESH, mounting->is.mesh);
  const char *words = tenter_action_words(screen->action);
  tenter_figure figure = {
      .title = part_name(parts->review, TENTER_NAME_SCREEN, screen->screen),
      .caption = mesh[0] != '\0' ? tenter_document_print(d, "%s · %s", words, mesh) : words,
      .alternative = picture->alternative,
      .svg = picture->svg,
      .width = width,
      .height = height};
  tenter_document_figure(d, figures, figure);
}

static tenter_block *picture_section(review_parts *parts, const char *id, tenter_say heading,
                                     tenter_say lead) {
  tenter_document *d = parts->document;
  tenter_block *section =
      tenter_document_section(d, NULL, id, tenter_say_text(heading), TENTER_SECTION_PLAIN);
  part_say(d, section, lead);
  if (parts->pictures.missing[0] != '\0')
    tenter_document_paragraph(d, section,
                              tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES,
                                              parts->pictures.missing, (const char *)NULL));
  return section;
}

void part_relaxation(review_parts *parts) {
  const review_pictures *pictures = &parts->pictures;
  if (pictures->relaxation_count == 0)
    return;
  tenter_block *section =
      picture_section(parts, "relaxation", TENTER_SAY_RELAXATION, TENTER_SAY_RELAXATION_LEAD);
  tenter_block *figures = tenter_document_figures(parts->document, section);
  for (size_t i = 0; i < pictures->relaxation_count; i++)
    add_picture(parts, figures, &pictures->relaxation[i], PICTURE_WIDTH, PICTURE_HEIGHT);
}

void part_evenness(review_parts *parts) {
  const review_pictures *pictures = &parts->pictures;
  if (pictures->map_count == 0)
    return;
  tenter_block *section =
      picture_section(parts, "evenness", TENTER_SAY_EVENNESS, TENTER_SAY_EVENNESS_LEAD);
  tenter_block *figures = tenter_document_figures(parts->document, section);
  for (size_t i = 0; i < pictures->map_count; i++)
    add_picture(parts, figures, &pictures->maps[i], MAP_WIDTH, MAP_HEIGHT);
}

static tenter_when latest_time(const tenter_review *review, const tenter_review_screen *screen) {
  if (!screen->read)
    return (tenter_when){.at = TENTER_NO_TIME};
  const tenter_session *session = &review->shop->sessions[screen->latest.session];
  return (tenter_when){session->taken, true};
}

static void screen_row(review_parts *parts, tenter_block *table,
                       const tenter_review_screen *screen) {
  const tenter_review *review = parts->review;
  const tenter_mounting *mounting = &review->shop->mountings[screen->mounting];
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(screen->forecast.now_se);
  row[0] = tenter_cell_text(part_name(review, TENTER_NAME_SCREEN, screen->screen));
  row[0].rank = screen->screen;
  row[1] = tenter_cell_text(part_name(review, TENTER_NAME_PLACE, mounting->is.place));
  row[1].rank = mounting->is.place;
  row[2] = tenter_cell_text(part_name(review, TENTER_NAME_MESH, mounting->is.mesh));
  row[3] = tenter_cell_text(part_name(review, TENTER_NAME_LOT, mounting->is.lot));
  row[4] = tenter_cell_time(latest_time(review, screen));
  row[5] = tenter_cell_number(screen->forecast.now, decimals);
  row[6] = tenter_cell_number(screen->forecast.now_se, decimals);
  row[7] = tenter_cell_number(mounting->is.floor, 1);
  row[8] = part_percent(screen->forecast.below_floor_at_horizon);
  row[9] = part_action_cell(screen->action);
}

void part_screens(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  if (review->screen_count == 0)
    return;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PLACE), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_READ), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TENSION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FLOOR), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CHANCE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DO), TENTER_CELLS_VERDICT, true}};
  tenter_block *section = tenter_document_section(
      d, NULL, "screens", tenter_say_text(TENTER_SAY_SCREENS), TENTER_SECTION_PLAIN);
  part_say(d, section, TENTER_SAY_SCREENS_LEAD);
  tenter_block *table = tenter_document_table(d, section, "screens-table", "", columns, 10);
  for (size_t i = 0; i < review->screen_count && i < MOST_ROWS; i++)
    screen_row(parts, table, &review->screens[i]);
  tenter_document_prune(table);
  if (review->screen_count > MOST_ROWS)
    part_say(d, section, TENTER_SAY_SCREENS_CUT);
}
