/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The laws of relaxation compared, for the lot of a screen and for the screen alone, and what their
 * parameters may be. */
#include <math.h>

#include "screen_telling.h"

/* ---- the laws ------------------------------------------------------------------------------- */

static void law_table(const screen_telling *t, tenter_block *section, const char *id,
                      const tenter_screen_laws *laws) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LAW), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FORMULA), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_AICC), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ABOVE), TENTER_CELLS_NUMBER, true}};
  tenter_block *table = screen_table(t, section, id, columns, 4);
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++) {
    const tenter_screen_law *law = &laws->law[i];
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_text(law->title);
    row[1] = tenter_cell_text(law->formula);
    row[2] = tenter_cell_number(law->aicc, 1);
    row[3] = tenter_cell_number(law->above, 1);
    if (!law->fitted)
      row[2].text = tenter_say_text(TENTER_SAY_SCREEN_LAW_TOO_FEW);
  }
}

/* ---- their parameters ----------------------------------------------------------------------- */

/* As many as show the first digit of its uncertainty, by the limits that there are. */
static int decimals_of(const tenter_screen_parameter *p) {
  double z = 1.645, width = p->se;
  if (p->limits == TENTER_LIMITS_GIVEN && !p->low_open && !p->high_open)
    width = (p->high - p->low) / 2 / z;
  else if (p->limits == TENTER_LIMITS_GIVEN && !p->low_open)
    width = (p->value - p->low) / z;
  else if (p->limits == TENTER_LIMITS_GIVEN && !p->high_open)
    width = (p->high - p->value) / z;
  return isfinite(width) ? tenter_decimals_of(width) : 2;
}

static tenter_cell limit_cell(double limit, bool open, int decimals) {
  tenter_cell cell = tenter_cell_number(open ? NAN : limit, decimals);
  if (open)
    cell.text = tenter_say_text(TENTER_SAY_SCREEN_OPEN);
  return cell;
}

static void parameter_rows(const screen_telling *t, tenter_block *table,
                           const tenter_screen_law *law) {
  for (size_t k = 0; k < law->parameter_count && law->fitted; k++) {
    const tenter_screen_parameter *p = &law->parameter[k];
    tenter_cell *row = isfinite(p->value) ? tenter_document_row(t->d, table) : NULL;
    if (row == NULL)
      continue;
    int decimals = decimals_of(p);
    row[0] = tenter_cell_text(law->title);
    row[1] = tenter_cell_text(p->name);
    row[2] = tenter_cell_number(p->value, decimals);
    row[3] = limit_cell(p->low, p->low_open, decimals);
    row[4] = limit_cell(p->high, p->high_open, decimals);
    row[5] = tenter_cell_text(p->unit);
  }
}

static void parameter_table(const screen_telling *t, tenter_block *section, const char *id,
                            const tenter_screen_laws *laws) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LAW), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PARAMETER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_VALUE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_FROM), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TO), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_UNIT), TENTER_CELLS_TEXT, true}};
  tenter_block *table = screen_table(t, section, id, columns, 6);
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++)
    parameter_rows(t, table, &laws->law[i]);
  tenter_document_prune(table);
}

/* ---- what they say -------------------------------------------------------------------------- */

/* The parameters of a law that are open on a side, "tau, beta"; "" for none. */
static const char *open_ones(const screen_telling *t, const tenter_screen_law *law, bool above) {
  const char *all = "";
  for (size_t k = 0; k < law->parameter_count; k++) {
    const tenter_screen_parameter *p = &law->parameter[k];
    if (above ? p->high_open : p->low_open)
      all = tenter_document_print(t->d, "%s%s%s", all, all[0] != '\0' ? ", " : "", p->name);
  }
  return all;
}

static const char *open_words(const screen_telling *t, const tenter_screen_law *law) {
  const char *above = open_ones(t, law, true), *below = open_ones(t, law, false);
  if (above[0] != '\0' && below[0] != '\0')
    return tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_OPEN_BOTH, above, below,
                           (const char *)NULL);
  if (above[0] != '\0')
    return tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_OPEN_ABOVE, above, (const char *)NULL);
  return below[0] != '\0'
             ? tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_OPEN_BELOW, below, (const char *)NULL)
             : "";
}

static void law_remarks(const screen_telling *t, tenter_block *section,
                        const tenter_screen_laws *laws) {
  tenter_block *list = NULL;
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++) {
    const char *says[] = {laws->law[i].shown, open_words(t, &laws->law[i])};
    const char *gap = says[0][0] != '\0' && says[1][0] != '\0' ? " " : "";
    if (says[0][0] == '\0' && says[1][0] == '\0')
      continue;
    if (list == NULL)
      list = tenter_document_list(t->d, section);
    const char *both = tenter_document_print(t->d, "%s%s%s", says[0], gap, says[1]);
    tenter_document_item(t->d, list,
                         tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAW_SAYS,
                                         laws->law[i].title, both, (const char *)NULL));
  }
}

/* ---- all of it ------------------------------------------------------------------------------ */

static void tell_compared(const screen_telling *t, tenter_block *section, const char *id,
                          const char *parameters_id, const tenter_screen_laws *laws,
                          const char *why) {
  if (laws->sessions > 0) {
    law_table(t, section, id, laws);
    parameter_table(t, section, parameters_id, laws);
  }
  screen_paragraph(t, section, why);
  if (laws->sessions > 0)
    law_remarks(t, section, laws);
}

const char *screen_law_of_shop(const screen_telling *t) {
  const tenter_screen_story *story = t->story;
  return tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAW_SHOP, story->lot.law[story->law].title,
                         screen_fixed(t, 100 * story->levels_off, 0), (const char *)NULL);
}

void screen_tell_laws(const screen_telling *t) {
  tenter_block *section = screen_subsection(t, "laws", TENTER_SAY_SCREEN_LAWS);
  const tenter_screen_story *story = t->story;
  const char *mesh = screen_name(t, TENTER_NAME_MESH, t->m->is.mesh);
  const char *mountings = part_count(t->d, story->lot.mountings);
  const char *sessions = part_count(t->d, story->lot.sessions);
  part_say(t->d, section, TENTER_SAY_SCREEN_LAWS_NOTE);
  screen_paragraph(t, section, screen_law_of_shop(t));
  screen_paragraph(t, section,
                   story->lot_known
                       ? tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_LOT,
                                         screen_name(t, TENTER_NAME_LOT, t->m->is.lot), mesh,
                                         mountings, sessions, (const char *)NULL)
                       : tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_MESH, mesh, mountings,
                                         sessions, (const char *)NULL));
  tell_compared(t, section, "laws-lot", "parameters-lot", &story->lot,
                tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAW_LOT, story->lot.why_shown,
                                (const char *)NULL));
  screen_paragraph(t, section,
                   tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_OWN,
                                   part_count(t->d, story->own.sessions), (const char *)NULL));
  tell_compared(t, section, "laws-own", "parameters-own", &story->own, story->own.why_shown);
}
