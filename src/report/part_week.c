/* SPDX-License-Identifier: GPL-3.0-or-later */
/* This week against the week before: counts, what changed screen by screen. Sets that do not
 * agree. */
#include "review_parts.h"

static void counts_row(tenter_document *d, tenter_block *table, tenter_cell what, size_t before,
                       size_t now) {
  tenter_cell *row = tenter_document_row(d, table);
  if (row == NULL)
    return;
  row[0] = what;
  row[1] = tenter_cell_number((double)before, 0);
  row[2] = tenter_cell_number((double)now, 0);
  row[3] = tenter_cell_number((double)now - (double)before, 0);
  row[3].sign = true;
}

/* `now` counts the screens as they are judged today; the week before as of its end. */
static void counts(review_parts *parts, tenter_block *section) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  const tenter_review_week *before = &review->weeks[review->week_count - 2];
  const tenter_review_week *week = &review->weeks[review->week_count - 1];
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEEK_BEFORE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_CHANGE), TENTER_CELLS_NUMBER, true}};
  tenter_block *table = tenter_document_table(d, section, "counts", "", columns, 4);
  for (int a = TENTER_ACTION_COUNT - 1; a >= 0; a--)
    counts_row(d, table, part_action_cell((tenter_action)a), before->actions[a],
               review->actions[a]);
  counts_row(d, table, tenter_cell_text(tenter_say_text(TENTER_SAY_IN_USE)), before->in_use,
             review->screen_count);
  counts_row(d, table, tenter_cell_text(tenter_say_text(TENTER_SAY_SESSIONS)), before->sessions,
             week->sessions);
}

static bool changed(const tenter_review_screen *screen) {
  return screen->action_before < TENTER_ACTION_COUNT && screen->action != screen->action_before;
}

/* The worst reason in a few words: its sentence stands with what to do. */
#define REASON_SAYS(constant, code) [TENTER_REASON_##constant] = TENTER_SAY_REASON_##constant,
static const tenter_say reason_says[] = {TENTER_REASONS(REASON_SAYS)};

static void change_row(review_parts *parts, tenter_block *table,
                       const tenter_review_screen *screen) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_SCREEN, screen->screen));
  row[0].rank = screen->screen;
  row[1] = part_action_cell(screen->action_before);
  row[2] = part_action_cell(screen->action);
  if (screen->reason_count > 0)
    row[3] = tenter_cell_text(tenter_say_text(reason_says[screen->reasons[0].code]));
}

/* Those that got worse, the worst first, then those that got better. */
static void changes(review_parts *parts, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEEK_AGO), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOW), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHY), TENTER_CELLS_TEXT, false}};
  const tenter_review *review = parts->review;
  tenter_block *table = tenter_document_table(parts->document, section, "changes",
                                              tenter_say_text(TENTER_SAY_CHANGES), columns, 4);
  for (int better = 0; better < 2; better++)
    for (int a = TENTER_ACTION_COUNT - 1; a >= 0; a--)
      for (size_t i = 0; i < review->screen_count; i++) {
        const tenter_review_screen *screen = &review->screens[i];
        if (changed(screen) && (int)screen->action == a &&
            (screen->action < screen->action_before) == (better == 1) && table != NULL &&
            table->row_count < MOST_ROWS)
          change_row(parts, table, screen);
      }
  tenter_document_prune(table);
}

static size_t count_changes(const tenter_review *review, bool better) {
  size_t count = 0;
  for (size_t i = 0; i < review->screen_count; i++) {
    const tenter_review_screen *screen = &review->screens[i];
    count += changed(screen) && (screen->action < screen->action_before) == better;
  }
  return count;
}

void part_week(review_parts *parts, bool brief) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  if (review->week_count < 2)
    return;
  tenter_block *section = tenter_document_section(d, NULL, "week", tenter_say_text(TENTER_SAY_WEEK),
                                                  TENTER_SECTION_PLAIN);
  size_t worse = count_changes(review, false), better = count_changes(review, true);
  const char *sentence =
      worse + better == 0 ? tenter_say_text(TENTER_SAY_NOTHING_CHANGED)
                          : tenter_say_fill(d->arena, TENTER_SAY_WEEK_CHANGES, part_count(d, worse),
                                            part_count(d, better), (const char *)NULL);
  tenter_document_paragraph(d, section, sentence);
  counts(parts, section);
  if (worse + better > 0 && !brief)
    changes(parts, section);
  if (!brief)
    part_weeks(parts, section);
}

static tenter_cell set_verdict(tenter_verdict verdict) {
  if (verdict == TENTER_VERDICT_BAD)
    return tenter_cell_verdict(tenter_say_text(TENTER_SAY_SET_NO), TENTER_TONE_ACT, 2);
  return tenter_cell_verdict(tenter_say_text(TENTER_SAY_SET_UNDECIDED), TENTER_TONE_WATCH, 1);
}

static void set_row(review_parts *parts, tenter_block *table, const tenter_review_set *set) {
  tenter_cell *row = tenter_document_row(parts->document, table);
  if (row == NULL)
    return;
  int decimals = tenter_decimals_of(set->spread_uncertainty);
  row[0] = tenter_cell_text(part_name(parts->review, TENTER_NAME_SET, set->set));
  row[1] = tenter_cell_number((double)set->screen_count, 0);
  row[2] = tenter_cell_number(set->spread, decimals);
  row[3] = tenter_cell_number(set->spread_uncertainty, decimals);
  row[4] = set_verdict(set->agrees);
  row[5] = tenter_cell_text(part_name(parts->review, TENTER_NAME_SCREEN, set->odd_one_out));
}

static bool stands_out(const tenter_review_set *set) {
  return set->agrees == TENTER_VERDICT_BAD || set->agrees == TENTER_VERDICT_UNDECIDED;
}

void part_sets(review_parts *parts) {
  tenter_document *d = parts->document;
  const tenter_review *review = parts->review;
  size_t count = 0;
  for (size_t i = 0; i < review->set_count; i++)
    count += stands_out(&review->sets[i]);
  if (count == 0)
    return;
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_SET), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREENS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SPREAD), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UNCERTAINTY), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AGREES), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ODD), TENTER_CELLS_TEXT, true}};
  tenter_block *section = tenter_document_section(d, NULL, "sets", tenter_say_text(TENTER_SAY_SETS),
                                                  TENTER_SECTION_PLAIN);
  tenter_buffer limit = {0};
  tenter_form_number(&limit, d->form, review->shop->config->settings.set_spread, 2);
  const char *number = tenter_buffer_string(&limit);
  tenter_document_paragraph(d, section,
                            tenter_say_fill(d->arena, TENTER_SAY_SETS_LEAD,
                                            number != NULL ? number : "", (const char *)NULL));
  tenter_buffer_release(&limit);
  tenter_block *table = tenter_document_table(d, section, "sets-table", "", columns, 6);
  for (size_t i = 0; i < review->set_count && table != NULL && table->row_count < MOST_ROWS; i++)
    if (stands_out(&review->sets[i]))
      set_row(parts, table, &review->sets[i]);
}
