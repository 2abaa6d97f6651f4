/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The story of each screen as one section of a document: what to do first, then why: does it follow
 * its law, relaxation, sessions, laws, where it was read, events. */
#include <math.h>
#include <stdio.h>

#include "account_json.h"
#include "screen_report.h"

/* One story on its way into the document. */
typedef struct telling {
  tenter_document *d;
  const screen_parts *all;
  const tenter_review *review;
  const tenter_shop *shop;
  const tenter_screen_story *story;
  const tenter_mounting *m;
  const screen_pictures *pictures; /* NULL for a text */
  tenter_block *section;           /* of the screen */
} telling;

static void paragraph(const telling *t, tenter_block *parent, const char *text) {
  tenter_document_paragraph(t->d, parent, text);
}

static const char *fixed(const telling *t, double value, int decimals) {
  return part_fixed(t->d, value, decimals);
}

static const char *when(const telling *t, tenter_when time) {
  char words[TENTER_WORDS_SIZE];
  if (time.at == TENTER_NO_TIME)
    return tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN);
  return tenter_document_print(t->d, "%s", tenter_say_when(t->d->form, time, words));
}

static const char *day(const telling *t, tenter_time time) {
  return when(t, (tenter_when){time, true});
}

static const char *name(const telling *t, tenter_name_kind kind, uint32_t id) {
  const char *text = part_name(t->review, kind, id);
  return text[0] != '\0' ? text : tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN);
}

static const char *percent(const telling *t, double share) {
  if (share < 0.005)
    return "<1";
  return share > 0.995 ? ">99" : fixed(t, 100 * share, 0);
}

static tenter_block *subsection(const telling *t, const char *id, tenter_say heading) {
  const char *screen_id = tenter_document_print(t->d, "%s-%u", id, (unsigned)t->story->screen);
  return tenter_document_section(t->d, t->section, screen_id, tenter_say_text(heading),
                                 TENTER_SECTION_PLAIN);
}

static void figure(const telling *t, tenter_block *parent, const screen_picture *picture,
                   tenter_say title) {
  if (t->pictures == NULL || picture->alternative == NULL)
    return;
  tenter_block *figures = tenter_document_figures(t->d, parent);
  tenter_document_figure(t->d, figures,
                         (tenter_figure){.title = tenter_say_text(title),
                                         .caption = "",
                                         .alternative = picture->alternative,
                                         .svg = picture->svg,
                                         .width = picture->width,
                                         .height = picture->height});
}

/* ---- what to do ----------------------------------------------------------------------------- */

static const char *next_session(const telling *t) {
  const tenter_review_screen *judged = t->story->judged;
  if (judged->action == TENTER_ACTION_RESTRETCH || judged->action == TENTER_ACTION_WITHDRAW)
    return tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NEXT_STRETCHED,
                           fixed(t, t->shop->config->settings.settling_hours, 0),
                           (const char *)NULL);
  if (t->story->due <= t->shop->as_of)
    return tenter_say_text(TENTER_SAY_SCREEN_NEXT_NOW);
  return when(t, (tenter_when){t->story->due, judged->ageing != TENTER_AGEING_SETTLING});
}

static void tell_action(const telling *t) {
  const tenter_review_screen *judged = t->story->judged;
  if (judged == NULL) {
    paragraph(t, t->section, tenter_say_text(TENTER_SAY_SCREEN_ENDED));
    return;
  }
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_DO), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHY), TENTER_CELLS_TEXT, false}};
  if (judged->action >= TENTER_ACTION_RESTRETCH)
    tenter_document_caution(t->d, t->section, tenter_say_text(TENTER_SAY_CAUTION_RAISE));
  tenter_block *table = tenter_document_table(t->d, t->section, "reasons", "", columns, 2);
  size_t rows = judged->reason_count > 0 ? judged->reason_count : 1;
  for (size_t i = 0; i < rows; i++) {
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    bool given = judged->reason_count > 0;
    row[0] = part_action_cell(given ? judged->reasons[i].action : TENTER_ACTION_USE);
    row[1] = tenter_cell_text(given ? part_reason(t->d, &judged->reasons[i])
                                    : tenter_say_text(TENTER_SAY_SCREEN_NO_REASONS));
  }
  paragraph(
      t, t->section,
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NEXT, next_session(t), (const char *)NULL));
}

static void tell_what(const telling *t) {
  const tenter_attributes *is = &t->m->is;
  tenter_block *list = tenter_document_definitions(t->d, t->section);
  const char *limits =
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LIMITS_WORDS, fixed(t, is->target, 1),
                      fixed(t, is->floor, 1), fixed(t, is->maximum, 1), (const char *)NULL);
  double age = tenter_mounting_age_hours(t->m, t->shop->as_of) / 24;
  const char *days = tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_AGE_DAYS, fixed(t, age, 1),
                                     (const char *)NULL);
  const char *pairs[][2] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), name(t, TENTER_NAME_MESH, is->mesh)},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), name(t, TENTER_NAME_LOT, is->lot)},
      {tenter_say_text(TENTER_SAY_COLUMN_PLACE), name(t, TENTER_NAME_PLACE, is->place)},
      {tenter_say_text(TENTER_SAY_SCREEN_MOUNTED), when(t, t->m->zero)},
      {tenter_say_text(TENTER_SAY_SCREEN_AGE),
       isnan(age) ? tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN) : days},
      {tenter_say_text(TENTER_SAY_SCREEN_LIMITS), limits}};
  for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
    tenter_document_define(t->d, list, pairs[i][0], pairs[i][1]);
}

/* ---- does it follow its law? ---------------------------------------------------------------- */

/* As few digits as a small chance bears. */
static const char *small_percent(const telling *t, double p) {
  if (p < 0.0001)
    return tenter_document_print(t->d, "<%s", fixed(t, 0.01, 2));
  return fixed(t, 100 * p, p < 0.01 ? 2 : 1);
}

static const char *rate_words(const telling *t) {
  double rate = t->story->leaving.rate;
  return fixed(t, 100 * rate, rate < 0.01 ? 2 : 0);
}

static void tell_left(const telling *t, tenter_block *section) {
  const tenter_screen_leaving *leaving = &t->story->leaving;
  const tenter_session *session = &t->shop->sessions[leaving->session];
  const char *way =
      tenter_say_text(leaving->change < 0 ? TENTER_SAY_SCREEN_LOWER : TENTER_SAY_SCREEN_HIGHER);
  const char *change = tenter_document_uncertain(t->d, fabs(leaving->change), leaving->change_se);
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LEFT,
                            when(t, (tenter_when){session->taken, session->date_only}), change, way,
                            small_percent(t, leaving->p), rate_words(t), (const char *)NULL));
  if (leaving->place < t->shop->tables->position_count)
    paragraph(t, section,
              tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_PLACE,
                              t->shop->tables->positions[leaving->place].label,
                              fixed(t, leaving->place_change, 1), (const char *)NULL));
  if (leaving->newest)
    part_say(t->d, section, TENTER_SAY_SCREEN_LEFT_NEWEST);
  part_say(t->d, section,
           leaving->change < 0 ? TENTER_SAY_SCREEN_LEFT_DOWN : TENTER_SAY_SCREEN_LEFT_UP);
}

static void tell_leaving(const telling *t) {
  const tenter_screen_leaving *leaving = &t->story->leaving;
  tenter_block *section = subsection(t, "leaving", TENTER_SAY_SCREEN_LEAVING);
  if (leaving->tested < 2)
    part_say(t->d, section, TENTER_SAY_SCREEN_TOO_FEW);
  else if (leaving->left)
    tell_left(t, section);
  else
    paragraph(t, section,
              tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NO_STEP,
                              part_count(t->d, leaving->tested), rate_words(t),
                              (const char *)NULL));
}

/* ---- relaxation ----------------------------------------------------------------------------- */

/* When the floor is reached, in words. */
static const char *floor_words(const telling *t, tenter_time early, tenter_time median,
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

static void tell_forecast(const telling *t, tenter_block *section) {
  const tenter_review_screen *judged = t->story->judged;
  const tenter_forecast *f = &judged->forecast;
  tenter_arena *arena = t->d->arena;
  double horizon = t->shop->config->settings.horizon_days;
  paragraph(t, section,
            tenter_say_fill(arena, TENTER_SAY_SCREEN_FORECAST,
                            tenter_document_uncertain(t->d, f->now, f->now_se),
                            percent(t, f->below_floor_now), percent(t, f->below_floor_at_horizon),
                            fixed(t, horizon, 0), (const char *)NULL));
  paragraph(t, section,
            tenter_say_fill(arena, TENTER_SAY_SCREEN_FLOOR_POOLED,
                            floor_words(t, f->early, f->median, f->late), (const char *)NULL));
}

static void tell_ages(const telling *t, tenter_block *section) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_AGE_DAYS), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_TENSION), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_LOST), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_SE), TENTER_CELLS_NUMBER, true}};
  const char *whose = tenter_say_text(t->story->lot_known ? TENTER_SAY_SCREEN_LOT_WORD
                                                          : TENTER_SAY_SCREEN_MESH_WORD);
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_SHARE,
                            tenter_document_uncertain(t->d, t->story->share, t->story->share_se),
                            whose, (const char *)NULL));
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_AGES_LEAD, fixed(t, 1.645, 3),
                            (const char *)NULL));
  tenter_block *table = tenter_document_table(t->d, section, "ages", "", columns, 5);
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

static void tell_relaxation(const telling *t) {
  tenter_block *section = subsection(t, "relaxation", TENTER_SAY_SCREEN_RELAXATION);
  if (t->pictures != NULL && t->pictures->relaxation.alternative != NULL) {
    part_say(t->d, section, TENTER_SAY_SCREEN_RELAXATION_LEAD);
    figure(t, section, &t->pictures->relaxation, TENTER_SAY_SCREEN_RELAXATION);
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

static const char *session_note(const telling *t, const tenter_screen_session *s) {
  if (s->misread)
    return tenter_say_text(TENTER_SAY_SCREEN_MISREAD);
  bool leaves = t->story->leaving.left && t->story->leaving.session == s->session;
  return leaves ? tenter_say_text(TENTER_SAY_SCREEN_LEAVES) : "";
}

static void session_row(const telling *t, tenter_block *table, const tenter_screen_session *s) {
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

static void tell_sessions(const telling *t) {
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
  tenter_block *section = subsection(t, "sessions", TENTER_SAY_SCREEN_SESSIONS);
  if (t->story->session_count == 0) {
    part_say(t->d, section, TENTER_SAY_SCREEN_NEVER);
    return;
  }
  part_say(t->d, section, TENTER_SAY_SCREEN_SESSIONS_LEAD);
  tenter_block *table = tenter_document_table(t->d, section, "sessions", "", columns, 9);
  for (size_t i = 0; i < t->story->session_count; i++)
    session_row(t, table, &t->story->sessions[i]);
  tenter_document_prune(table);
  if (t->pictures != NULL)
    figure(t, section, &t->pictures->residuals, TENTER_SAY_SCREEN_RESIDUALS);
}

/* ---- laws ----------------------------------------------------------------------------------- */

static const char *parameters(const telling *t, const tenter_screen_law *law) {
  const char *all = "";
  for (size_t k = 0; k < law->parameter_count && law->fitted; k++)
    if (isfinite(law->value[k])) {
      const char *value = isfinite(law->se[k])
                              ? tenter_document_uncertain(t->d, law->value[k], law->se[k])
                              : fixed(t, law->value[k], 2);
      all = tenter_document_print(t->d, "%s%s%s %s", all, all[0] != '\0' ? ", " : "",
                                  law->parameter[k], value);
    }
  return law->fitted ? all : tenter_say_text(TENTER_SAY_SCREEN_LAW_TOO_FEW);
}

static void law_table(const telling *t, tenter_block *section, const char *id,
                      const tenter_screen_laws *laws) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_LAW), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PARAMETERS), TENTER_CELLS_TEXT, false},
      {tenter_say_text(TENTER_SAY_COLUMN_AICC), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_ABOVE), TENTER_CELLS_NUMBER, true}};
  if (laws->sessions == 0) {
    paragraph(t, section, laws->why_shown);
    return;
  }
  tenter_block *table = tenter_document_table(t->d, section, id, "", columns, 4);
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++) {
    const tenter_screen_law *law = &laws->law[i];
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_text(law->title);
    row[1] = tenter_cell_text(parameters(t, law));
    row[2] = tenter_cell_number(law->aicc, 1);
    row[3] = tenter_cell_number(law->above, 1);
  }
  paragraph(t, section, laws->why_shown);
  tenter_block *list = NULL;
  for (size_t i = 0; i < TENTER_SCREEN_LAWS; i++) {
    if (laws->law[i].words[0] == '\0')
      continue;
    if (list == NULL)
      list = tenter_document_list(t->d, section);
    tenter_document_item(t->d, list,
                         tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAW_SAYS,
                                         laws->law[i].title, laws->law[i].words,
                                         (const char *)NULL));
  }
}

static void tell_laws(const telling *t) {
  tenter_block *section = subsection(t, "laws", TENTER_SAY_SCREEN_LAWS);
  const tenter_screen_story *story = t->story;
  const char *mesh = name(t, TENTER_NAME_MESH, t->m->is.mesh);
  const char *mountings = part_count(t->d, story->lot.mountings);
  const char *sessions = part_count(t->d, story->lot.sessions);
  part_say(t->d, section, TENTER_SAY_SCREEN_LAWS_NOTE);
  paragraph(t, section,
            story->lot_known ? tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_LOT,
                                               name(t, TENTER_NAME_LOT, t->m->is.lot), mesh,
                                               mountings, sessions, (const char *)NULL)
                             : tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_MESH, mesh,
                                               mountings, sessions, (const char *)NULL));
  law_table(t, section, "laws-lot", &story->lot);
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_LAWS_OWN,
                            part_count(t->d, story->own.sessions), (const char *)NULL));
  law_table(t, section, "laws-own", &story->own);
}

/* ---- where it was read ---------------------------------------------------------------------- */

/* Means of the readings of a session at a position and direction; NaN without one. */
static double mean_at(const telling *t, const tenter_session *session, uint16_t position,
                      int direction) {
  const tenter_readings *r = &t->shop->tables->readings;
  double sum = 0;
  size_t count = 0;
  for (size_t i = session->first; i < session->first + session->count; i++)
    if (r->position[i] == position && r->direction[i] == direction) {
      sum += r->tension[i];
      count++;
    }
  return count > 0 ? sum / (double)count : NAN;
}

static void map_table(const telling *t, tenter_block *section, const tenter_session *session) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_POSITION), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WARP), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEFT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PLAIN), TENTER_CELLS_NUMBER, true}};
  const tenter_tables *tables = t->shop->tables;
  tenter_block *table = tenter_document_table(t->d, section, "map", "", columns, 4);
  for (size_t p = 0; p <= tables->position_count; p++) {
    uint16_t position = p < tables->position_count ? (uint16_t)p : TENTER_NO_NAME16;
    double warp = mean_at(t, session, position, TENTER_WARP);
    double weft = mean_at(t, session, position, TENTER_WEFT);
    double plain = mean_at(t, session, position, TENTER_DIRECTION_NONE);
    if (isnan(warp) && isnan(weft) && isnan(plain))
      continue;
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    row[0] =
        tenter_cell_text(p < tables->position_count ? tables->positions[p].label
                                                    : tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN));
    row[0].rank = (double)p;
    row[1] = tenter_cell_number(warp, 1);
    row[2] = tenter_cell_number(weft, 1);
    row[3] = tenter_cell_number(plain, 1);
  }
  tenter_document_prune(table);
}

static void tell_map(const telling *t) {
  if (t->story->session_count == 0)
    return;
  static const tenter_say verdicts[] = {TENTER_SAY_SCREEN_NOT_JUDGED, TENTER_SAY_SCREEN_EVEN,
                                        TENTER_SAY_SCREEN_UNDECIDED, TENTER_SAY_SCREEN_UNEVEN};
  tenter_block *section = subsection(t, "map", TENTER_SAY_SCREEN_MAP);
  const tenter_session *session =
      &t->shop->sessions[t->story->sessions[t->story->session_count - 1].session];
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_MAP_LEAD,
                            when(t, (tenter_when){session->taken, session->date_only}),
                            (const char *)NULL));
  if (t->pictures != NULL)
    figure(t, section, &t->pictures->map, TENTER_SAY_SCREEN_MAP);
  map_table(t, section, session);
  const tenter_review_screen *judged = t->story->judged;
  if (judged == NULL)
    return;
  const tenter_latest *latest = &judged->latest;
  paragraph(t, section,
            tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_EVENNESS,
                            tenter_say_text(verdicts[judged->evenness]), fixed(t, latest->range, 1),
                            fixed(t, latest->warp_mean - latest->weft_mean, 1),
                            fixed(t, latest->corner_minus_centre, 1), (const char *)NULL));
}

/* ---- events --------------------------------------------------------------------------------- */

static void tell_events(const telling *t) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_WHEN), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_EVENT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_COUNT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_STATION), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_OPERATOR), TENTER_CELLS_TEXT, true}};
  tenter_block *section = subsection(t, "events", TENTER_SAY_SCREEN_EVENTS);
  if (t->m->event_count == 0) {
    part_say(t->d, section, TENTER_SAY_SCREEN_NO_EVENTS);
    return;
  }
  tenter_block *table = tenter_document_table(t->d, section, "events", "", columns, 5);
  for (size_t i = 0; i < t->m->event_count; i++) {
    const tenter_event *e = &t->shop->tables->events[t->m->first_event + i];
    tenter_cell *row = tenter_document_row(t->d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_time(e->at);
    row[1] = tenter_cell_text(e->kind == TENTER_EVENT_NOTE
                                  ? part_name(t->review, TENTER_NAME_NOTE, e->word)
                                  : tenter_event_word(e->kind));
    row[2] = tenter_cell_number(e->count, 0);
    row[3] = tenter_cell_text(part_name(t->review, TENTER_NAME_STATION, e->station));
    row[4] = tenter_cell_text(part_name(t->review, TENTER_NAME_OPERATOR, e->operator));
  }
  tenter_document_prune(table);
}

/* ---- all of it ------------------------------------------------------------------------------ */

static void tell(screen_parts *all, size_t i) {
  const tenter_screen_story *story = all->stories[i];
  tenter_document *d = all->parts.document;
  const tenter_review *review = all->parts.review;
  const char *heading = part_name(review, TENTER_NAME_SCREEN, story->screen);
  if (story->judged != NULL)
    heading =
        tenter_document_print(d, "%s: %s", heading, tenter_action_words(story->judged->action));
  const char *id = tenter_document_print(d, "screen-%u", (unsigned)story->screen);
  telling t = {.d = d,
               .all = all,
               .review = review,
               .shop = review->shop,
               .story = story,
               .m = &review->shop->mountings[story->mounting],
               .pictures = all->pictures != NULL ? &all->pictures[i] : NULL,
               .section = tenter_document_section(d, NULL, id, heading, TENTER_SECTION_PLAIN)};
  tell_action(&t);
  tell_what(&t);
  tell_leaving(&t);
  tell_relaxation(&t);
  tell_sessions(&t);
  tell_map(&t);
  tell_laws(&t);
  tell_events(&t);
}

tenter_document *screen_document(const tenter_review *review,
                                 const tenter_screen_story *const *stories, size_t count,
                                 const tenter_report_options *options, bool pictures, char *note) {
  screen_parts all = {
      .parts = {.review = review,
                .version = options->version,
                .document = document_of(review->shop, TENTER_SAY_TITLE_SCREEN, options->version)},
      .stories = stories,
      .count = count};
  tenter_document *d = all.parts.document;
  if (d == NULL)
    return NULL;
  if (pictures) {
    all.pictures = tenter_arena_alloc(d->arena, count, sizeof *all.pictures);
    d->failed |= all.pictures == NULL;
    if (!d->failed)
      screen_pictures_draw(&all);
  }
  if (all.missing[0] != '\0')
    tenter_document_paragraph(
        d, NULL,
        tenter_say_fill(d->arena, TENTER_SAY_NO_PICTURES, all.missing, (const char *)NULL));
  if (note != NULL)
    snprintf(note, TENTER_MESSAGE_SIZE, "%s", all.missing);
  for (size_t i = 0; i < count && !d->failed; i++)
    tell(&all, i);
  if (pictures) {
    part_cautions(&all.parts);
    part_provenance(d, review->shop, options->version);
  }
  if (!d->failed)
    return d;
  tenter_document_free(d);
  return NULL;
}

tenter_status tenter_report_screens_text(const tenter_review *review,
                                         const tenter_screen_story *const *stories, size_t count,
                                         const tenter_report_options *options, tenter_sink sink,
                                         tenter_error *error) {
  tenter_document *document = screen_document(review, stories, count, options, false, NULL);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

tenter_status tenter_report_screens_files(const tenter_review *review,
                                          const tenter_screen_story *const *stories, size_t count,
                                          const tenter_report_options *options, const char *folder,
                                          char note[TENTER_MESSAGE_SIZE], tenter_error *error) {
  tenter_output *output = NULL;
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = tenter_report_put_pages(screen_document(review, stories, count, options, true, note),
                                     options, output, "screen", error);
  if (status == TENTER_OK)
    status = tenter_output_begin(output, "screen.json", error);
  if (status == TENTER_OK)
    status = tenter_report_screens_json(review, stories, count, options,
                                        tenter_sink_to_output(output), error);
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  return status;
}
