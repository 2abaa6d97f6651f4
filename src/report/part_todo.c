/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What needs doing first, the cautions that go with it, and the sheet for reading. */
#include <math.h>

#include "review_parts.h"

static bool raises_tension(const review_parts *parts) {
  const size_t *actions = parts->review->actions;
  return actions[TENTER_ACTION_RESTRETCH] + actions[TENTER_ACTION_WITHDRAW] > 0;
}

void part_headline(review_parts *parts) {
  tenter_document *d = parts->document;
  const size_t *actions = parts->review->actions;
  const char *all = part_count(d, parts->review->screen_count);
  const char *text;
  if (parts->review->screen_count == 0)
    text = tenter_say_text(TENTER_SAY_NO_SCREENS);
  else if (parts->work.count == 0)
    text = tenter_say_fill(d->arena, TENTER_SAY_ALL_FIT, all, (const char *)NULL);
  else
    text = tenter_say_fill(d->arena, TENTER_SAY_HEADLINE, part_count(d, parts->work.count), all,
                           part_count(d, actions[TENTER_ACTION_WITHDRAW]),
                           part_count(d, actions[TENTER_ACTION_RESTRETCH]),
                           part_count(d, actions[TENTER_ACTION_REREAD]),
                           part_count(d, actions[TENTER_ACTION_USE]), (const char *)NULL);
  tenter_document_paragraph(d, NULL, text);
}

/* Why, in the words of the judge, and how many reasons more there are. */
static const char *why(tenter_document *d, const work_item *item) {
  size_t more = 0;
  for (size_t i = 0; i < item->screen->reason_count; i++)
    more += &item->screen->reasons[i] != item->reason &&
            item->screen->reasons[i].action == item->screen->action;
  const char *reason = part_reason(d, item->reason);
  if (more == 0)
    return reason;
  const char *others =
      tenter_say_fill(d->arena, TENTER_SAY_MORE_REASONS, part_count(d, more), (const char *)NULL);
  return tenter_document_print(d, "%s %s", reason, others);
}

static double due_rank(const work_item *item) {
  return item->due == WORK_NOW ? 0 : (double)item->at;
}

static void todo_row(review_parts *parts, tenter_block *table, const work_item *item) {
  tenter_document *d = parts->document;
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_SCREEN, item->screen->screen));
  row[0].rank = item->screen->screen;
  row[1] = tenter_cell_text(part_name(parts->review, TENTER_NAME_PLACE, item->mounting->is.place));
  row[1].rank = item->mounting->is.place;
  row[2] = part_action_cell(item->screen->action);
  row[3] = tenter_cell_text(work_due_words(item, d->form, d->arena));
  row[3].rank = due_rank(item);
  row[4] = tenter_cell_text(why(d, item));
}

void part_todo(review_parts *parts, size_t most) {
  tenter_document *d = parts->document;
  if (parts->work.count == 0)
    return;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PLACE), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_DO), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHY), TENTER_CELLS_TEXT, false}};
  tenter_block *section = tenter_document_section(d, NULL, "todo", tenter_say_text(TENTER_SAY_TODO),
                                                  TENTER_SECTION_PLAIN);
  if (raises_tension(parts))
    tenter_document_caution(d, section, tenter_say_text(TENTER_SAY_CAUTION_RAISE));
  tenter_block *table = tenter_document_table(d, section, "worklist", "", columns, 5);
  for (size_t i = 0; i < parts->work.count && i < most; i++)
    todo_row(parts, table, &parts->work.items[i]);
  tenter_document_prune(table);
  if (parts->work.count > most)
    part_say(d, section, TENTER_SAY_TODO_CUT);
}

void part_cautions(review_parts *parts) {
  static const tenter_say says[] = {TENTER_SAY_CAUTION_MAXIMUM,  TENTER_SAY_CAUTION_STEPS,
                                    TENTER_SAY_CAUTION_CORNERS,  TENTER_SAY_CAUTION_EYES,
                                    TENTER_SAY_CAUTION_HANDS,    TENTER_SAY_CAUTION_GLUE,
                                    TENTER_SAY_CAUTION_SOLVENTS, TENTER_SAY_CAUTION_DEFER};
  if (!raises_tension(parts))
    return;
  tenter_document *d = parts->document;
  tenter_block *section = tenter_document_section(
      d, NULL, "cautions", tenter_say_text(TENTER_SAY_CAUTIONS), TENTER_SECTION_PLAIN);
  tenter_block *caution =
      tenter_document_caution(d, section, tenter_say_text(TENTER_SAY_CAUTIONS_LEAD));
  for (size_t i = 0; i < sizeof says / sizeof *says; i++)
    tenter_document_item(d, caution, tenter_say_text(says[i]));
}

enum { SHEET_FIXED = 3 };

static void sheet_row(review_parts *parts, tenter_block *table, const work_item *item) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_PLACE, item->mounting->is.place));
  row[1] = tenter_cell_text(part_name(parts->review, TENTER_NAME_SCREEN, item->screen->screen));
  row[2] = tenter_cell_text(part_name(parts->review, TENTER_NAME_MESH, item->mounting->is.mesh));
}

static tenter_block *sheet_table(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  size_t count = SHEET_FIXED + parts->sheet.point_count;
  tenter_table_column *columns = tenter_arena_alloc(d->arena, count, sizeof *columns);
  if (columns == NULL) {
    d->failed = true;
    return NULL;
  }
  columns[0] =
      (tenter_table_column){tenter_say_text(TENTER_SAY_COLUMN_PLACE), TENTER_CELLS_TEXT, 1};
  columns[1] =
      (tenter_table_column){tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, 1};
  columns[2] = (tenter_table_column){tenter_say_text(TENTER_SAY_COLUMN_MESH), TENTER_CELLS_TEXT, 1};
  for (size_t i = SHEET_FIXED; i < count; i++)
    columns[i] =
        (tenter_table_column){work_point_words(parts->review->shop->tables,
                                               parts->sheet.points[i - SHEET_FIXED], d->arena),
                              TENTER_CELLS_BLANK, false};
  return tenter_document_table(d, section, "sheet", "", columns, count);
}

void part_sheet(review_parts *parts) {
  tenter_document *d = parts->document;
  if (parts->sheet.count == 0)
    return;
  tenter_block *section = tenter_document_section(
      d, NULL, "reading-sheet", tenter_say_text(TENTER_SAY_SHEET), TENTER_SECTION_SHEET);
  part_say(d, section, TENTER_SAY_SHEET_LEAD);
  part_say(d, section, TENTER_SAY_SHEET_FIELDS);
  tenter_block *table = sheet_table(parts, section);
  for (size_t i = 0; i < parts->sheet.count && i < MOST_ROWS; i++)
    sheet_row(parts, table, &parts->sheet.items[i]);
  if (parts->sheet.count > MOST_ROWS)
    part_say(d, section, TENTER_SAY_SHEET_CUT);
}
