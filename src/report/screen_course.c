/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How one screen has gone: whether it follows its law, its relaxation and forecast, its sessions.
 */
#include <math.h>

#include "screen_telling.h"

static const char *day(const screen_telling *t, tenter_time time) {
  return screen_when(t, (tenter_when){time, true});
}

static const char *percent(const screen_telling *t, double share) {
  if (share < 0.005)
    return "<1";
  return share > 0.995 ? ">99" : screen_fixed(t, 100 * share, 0);
}

/* ---- does it follow its law? ---------------------------------------------------------------- */

/* As few digits as a small chance bears. */
static const char *small_percent(const screen_telling *t, double p) {
  if (p < 0.0001)
    return tenter_document_print(t->d, "<%s", screen_fixed(t, 0.01, 2));
  return screen_fixed(t, 100 * p, p < 0.01 ? 2 : 1);
}

static const char *rate_words(const screen_telling *t) {
  double rate = t->story->leaving.rate;
  return screen_fixed(t, 100 * rate, rate < 0.01 ? 2 : 0);
}

static void tell_left(const screen_telling *t, tenter_block *section) {
  const tenter_screen_leaving *leaving = &t->story->leaving;
  const tenter_session *session = &t->shop->sessions[leaving->session];
  const char *way =
      tenter_say_text(leaving->change < 0 ? TENTER_SAY_SCREEN_LOWER : TENTER_SAY_SCREEN_HIGHER);
  const char *change = tenter_document_uncertain(t->d, fabs(leaving->change), leaving->change_se);
  screen_paragraph(
      t, section,
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LEFT,
                      screen_when(t, (tenter_when){session->taken, session->date_only}), change,
                      way, small_percent(t, leaving->p), rate_words(t), (const char *)NULL));
  if (leaving->place < t->shop->tables->position_count)
    screen_paragraph(t, section,
                     tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_PLACE,
                                     t->shop->tables->positions[leaving->place].label,
                                     screen_fixed(t, leaving->place_change, 1),
                                     (const char *)NULL));
  if (leaving->newest)
    part_say(t->d, section, TENTER_SAY_SCREEN_LEFT_NEWEST);
  part_say(t->d, section,
           leaving->change < 0 ? TENTER_SAY_SCREEN_LEFT_DOWN : TENTER_SAY_SCREEN_LEFT_UP);
}

void screen_tell_leaving(const screen_telling *t) {
  const tenter_screen_leaving *leaving = &t->story->leaving;
  tenter_block *section = screen_subsection(t, "leaving", TENTER_SAY_SCREEN_LEAVING);
  if (leaving->tested < 2)
    part_say(t->d, section, TENTER_SAY_SCREEN_TOO_FEW);
  else if (leaving->left)
    tell_left(t, section);
  else
    screen_paragraph(t, section,
                     tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NO_STEP,
                                     part_count(t->d, leaving->tested), rate_words(t),
                                     (const char *)NULL));
}

/* ---- relaxation ----------------------------------------------------------------------------- */

/* When the floor is reached, in words. */
static const char *floor_words(const screen_telling *t, tenter_time early, tenter_time median,
                               tenter_time late) {
  tenter_arena *arena = t->d->arena;
  if (early == TENTER_NO_TIME)
    return tenter_say_text(TENTER_SAY_SCREEN_FLOOR_NEVER);
  if (median == TENTER_NO_TIME)
    return tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_OPEN, day(t, early), (const char *)NULL);
  if (early <= t->shop->as_of)
    return tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_DONE, day(t, median), (const char *)NULL);
  return tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_TIMES, day(t, early),
                         late == TENTER_NO_TIME ? tenter_say_text(TENTER_SAY_SCREEN_FLOOR_NEVER)
                                                : day(t, late),
                         day(t, median), (const char *)NULL);
}

static void tell_forecast(const screen_telling *t, tenter_block *section) {
  const tenter_review_screen *judged = t->story->judged;
  const tenter_forecast *f = &judged->forecast;
  tenter_arena *arena = t->d->arena;
  double horizon = t->shop->config->settings.horizon_days;
  screen_paragraph(t, section,
                   tenter_say_fill(arena, TENTER_SAY_SCREEN_FORECAST,
                                   tenter_document_uncertain(t->d, f->now, f->now_se),
                                   percent(t, f->below_floor_now),
                                   percent(t, f->below_floor_at_horizon),
                                   screen_fixed(t, horizon, 0), (const char *)NULL));
  screen_paragraph(t, section,
                   tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_POOLED,
                                   floor_words(t, f->early, f->median, f->late),
                                   (const char *)NULL));
  const tenter_screen_laws *lot = &t->story->lot;
  const tenter_screen_floor *reached = &t->story->lot_floor;
  if (reached->known && lot->chosen != t->story->law)
    screen_paragraph(t, section,
                     tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_LOT,
                                     lot->law[lot->chosen].title,
                                     floor_words(t, reached->early, reached->median, reached->late),
                                     (const char *)NULL));
}

static void tell_ages(const screen_telling *t, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_AGE_DAYS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TENSION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true}};
  const char *whose = tenter_say_text(t->story->lot_known ? TENTER_SAY_SCREEN_LOT_WORD
                                                          : TENTER_SAY_SCREEN_MESH_WORD);
  screen_paragraph(
      t, section,
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_SHARE,
                      tenter_document_uncertain(t->d, t->story->share, t->story->share_se), whose,
                      (const char *)NULL));
  screen_paragraph(t, section,
                   tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_AGES_LEAD,
                                   screen_fixed(t, 1.645, 3), (const char *)NULL));
  if (t->story->leaving.left && t->story->judged != NULL)
    part_say(t->d, section, TENTER_SAY_SCREEN_AGES_LEFT);
  tenter_block *table = screen_table(t, section, "ages", columns, 5);
  for (size_t i = 0; i < TENTER_SCREEN_AGES; i++) {
    const tenter_screen_age *age = &t->story->ages[i];
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_number(age->days, 0);
    row[1] = tenter_cell_number(age->tension, 1);
    row[2] = tenter_cell_number(1.645 * age->tension_se, 1);
    row[3] = tenter_cell_number(age->loss, 1);
    row[4] = tenter_cell_number(1.645 * age->loss_se, 1);
  }
}

void screen_tell_relaxation(const screen_telling *t) {
  tenter_block *section = screen_subsection(t, "relaxation", TENTER_SAY_SCREEN_RELAXATION);
  if (t->pictures != NULL && t->pictures->relaxation.alternative != NULL) {
    part_say(t->d, section, TENTER_SAY_SCREEN_RELAXATION_LEAD);
    screen_figure(t, section, &t->pictures->relaxation, TENTER_SAY_SCREEN_RELAXATION);
  }
  bool forecast = t->story->judged != NULL && isfinite(t->story->judged->forecast.now);
  if (forecast && isfinite(t->m->is.floor))
    tell_forecast(t, section);
  else if (t->story->judged != NULL)
    part_say(t->d, section, forecast ? TENTER_SAY_SCREEN_NO_FLOOR : TENTER_SAY_SCREEN_NO_FORECAST);
  if (isfinite(t->story->share))
    tell_ages(t, section);
}

/* ---- sessions ------------------------------------------------------------------------------- */

static const char *session_note(const screen_telling *t, const tenter_screen_session *s) {
  if (s->misread)
    return tenter_say_text(TENTER_SAY_SCREEN_MISREAD);
  bool leaves = t->story->leaving.left && t->story->leaving.session == s->session;
  return leaves ? tenter_say_text(TENTER_SAY_SCREEN_LEAVES) : "";
}

static void session_row(const screen_telling *t, tenter_block *table,
                        const tenter_screen_session *s) {
  const tenter_session *session = &t->shop->sessions[s->session];
  tenter_cell *row = tenter_document_row(t->d, table);
  if (row == NULL)
    return;
  uint32_t meter = session->meter == TENTER_NO_NAME16 ? TENTER_NO_NAME : session->meter;
  row[0] = tenter_cell_time((tenter_when){session->taken, session->date_only});
  row[1] = tenter_cell_number(s->age_hours / 24, 1);
  row[2] = tenter_cell_number(s->mean, 2);
  row[3] = tenter_cell_number(s->adjusted, 2);
  row[4] = tenter_cell_number(s->sd, 2);
  row[5] = tenter_cell_text(part_name(t->review, TENTER_NAME_METER, meter));
  row[6] = tenter_cell_number(s->expected, 2);
  row[7] = tenter_cell_number(s->residual, 1);
  row[7].sign = true;
  row[8] = tenter_cell_text(session_note(t, s));
}

void screen_tell_sessions(const screen_telling *t) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_READ), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_AGE_DAYS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_MEAN), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SCREEN_ADJUSTED), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SPREAD_SD), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_METER), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_BY_LAW), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_OFF), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_NOTED), TENTER_CELLS_TEXT, false}};
  tenter_block *section = screen_subsection(t, "sessions", TENTER_SAY_SCREEN_SESSIONS);
  if (t->story->session_count == 0) {
    part_say(t->d, section, TENTER_SAY_SCREEN_NEVER);
    return;
  }
  part_say(t->d, section, TENTER_SAY_SCREEN_SESSIONS_LEAD);
  tenter_block *table = screen_table(t, section, "sessions", columns, 9);
  for (size_t i = 0; i < t->story->session_count; i++)
    session_row(t, table, &t->story->sessions[i]);
  tenter_document_prune(table);
  if (t->pictures != NULL)
    screen_figure(t, section, &t->pictures->residuals, TENTER_SAY_SCREEN_RESIDUALS);
}
