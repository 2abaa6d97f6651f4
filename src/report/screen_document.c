/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The story of each screen as one section of a document: what to do first, then why: does it follow
 * its law, relaxation, sessions (screen_course.c), where it was read, laws (screen_laws.c), events.
 */
#include <math.h>
#include <stdio.h>

#include "account_json.h"
#include "screen_telling.h"

void screen_paragraph(const screen_telling *t, tenter_block *parent, const char *text) {
  tenter_document_paragraph(t->d, parent, text);
}

const char *screen_fixed(const screen_telling *t, double value, int decimals) {
  return part_fixed(t->d, value, decimals);
}

const char *screen_when(const screen_telling *t, tenter_when time) {
  char words[TENTER_WORDS_SIZE];
  if (time.at == TENTER_NO_TIME)
    return tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN);
  return tenter_document_print(t->d, "%s", tenter_say_when(t->d->form, time, words));
}

const char *screen_name(const screen_telling *t, tenter_name_kind kind, uint32_t id) {
  const char *text = part_name(t->review, kind, id);
  return text[0] != '\0' ? text : tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN);
}

tenter_block *screen_subsection(const screen_telling *t, const char *id, tenter_say heading) {
  const char *screen_id = tenter_document_print(t->d, "%s-%u", id, (unsigned)t->story->screen);
  return tenter_document_section(t->d, t->section, screen_id, tenter_say_text(heading),
                                 TENTER_SECTION_PLAIN);
}

tenter_block *screen_table(const screen_telling *t, tenter_block *parent, const char *id,
                           const tenter_table_column *columns, size_t count) {
  const char *own = tenter_document_print(t->d, "%s-table-%u", id, (unsigned)t->story->screen);
  return tenter_document_table(t->d, parent, own, "", columns, count);
}

void screen_figure(const screen_telling *t, tenter_block *parent, const screen_picture *picture,
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

static const char *next_session(const screen_telling *t) {
  const tenter_review_screen *judged = t->story->judged;
  if (judged->action == TENTER_ACTION_RESTRETCH || judged->action == TENTER_ACTION_WITHDRAW)
    return tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NEXT_STRETCHED,
                           screen_fixed(t, t->shop->config->settings.settling_hours, 0),
                           (const char *)NULL);
  if (t->story->due <= t->shop->as_of)
    return tenter_say_text(TENTER_SAY_SCREEN_NEXT_NOW);
  return screen_when(t, (tenter_when){t->story->due, judged->ageing != TENTER_AGEING_SETTLING});
}

static void tell_action(const screen_telling *t) {
  const tenter_review_screen *judged = t->story->judged;
  if (judged == NULL) {
    screen_paragraph(t, t->section, tenter_say_text(TENTER_SAY_SCREEN_ENDED));
    return;
  }
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_DO), TENTER_CELLS_VERDICT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WHY), TENTER_CELLS_TEXT, false}};
  if (judged->action >= TENTER_ACTION_RESTRETCH)
    tenter_document_caution(t->d, t->section, tenter_say_text(TENTER_SAY_CAUTION_RAISE));
  tenter_block *table = screen_table(t, t->section, "reasons", columns, 2);
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
  screen_paragraph(
      t, t->section,
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_NEXT, next_session(t), (const char *)NULL));
}

static void tell_what(const screen_telling *t) {
  const tenter_attributes *is = &t->m->is;
  tenter_block *list = tenter_document_definitions(t->d, t->section);
  const char *limits = tenter_say_fill(
      t->d->arena, TENTER_SAY_SCREEN_LIMITS_WORDS, screen_fixed(t, is->target, 1),
      screen_fixed(t, is->floor, 1), screen_fixed(t, is->maximum, 1), (const char *)NULL);
  double age = tenter_mounting_age_hours(t->m, t->shop->as_of) / 24;
  const char *days = tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_AGE_DAYS,
                                     screen_fixed(t, age, 1), (const char *)NULL);
  const char *pairs[][2] = {
      {tenter_say_text(TENTER_SAY_COLUMN_MESH), screen_name(t, TENTER_NAME_MESH, is->mesh)},
      {tenter_say_text(TENTER_SAY_COLUMN_LOT), screen_name(t, TENTER_NAME_LOT, is->lot)},
      {tenter_say_text(TENTER_SAY_COLUMN_PLACE), screen_name(t, TENTER_NAME_PLACE, is->place)},
      {tenter_say_text(TENTER_SAY_SCREEN_MOUNTED), screen_when(t, t->m->zero)},
      {tenter_say_text(TENTER_SAY_SCREEN_AGE),
       isnan(age) ? tenter_say_text(TENTER_SAY_SCREEN_UNKNOWN) : days},
      {tenter_say_text(TENTER_SAY_SCREEN_LIMITS), limits}};
  for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
    tenter_document_define(t->d, list, pairs[i][0], pairs[i][1]);
}

/* ---- where it was read ---------------------------------------------------------------------- */

/* Means of the readings of a session at a position and direction; NaN without one. */
static double mean_at(const screen_telling *t, const tenter_session *session, uint16_t position,
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

static void map_table(const screen_telling *t, tenter_block *section,
                      const tenter_session *session) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_POSITION), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WARP), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_WEFT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_PLAIN), TENTER_CELLS_NUMBER, true}};
  const tenter_tables *tables = t->shop->tables;
  tenter_block *table = screen_table(t, section, "map", columns, 4);
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

static void tell_map(const screen_telling *t) {
  if (t->story->session_count == 0)
    return;
  static const tenter_say verdicts[] = {TENTER_SAY_SCREEN_NOT_JUDGED, TENTER_SAY_SCREEN_EVEN,
                                        TENTER_SAY_SCREEN_UNDECIDED, TENTER_SAY_SCREEN_UNEVEN};
  tenter_block *section = screen_subsection(t, "map", TENTER_SAY_SCREEN_MAP);
  const tenter_session *session =
      &t->shop->sessions[t->story->sessions[t->story->session_count - 1].session];
  screen_paragraph(
      t, section,
      tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_MAP_LEAD,
                      screen_when(t, (tenter_when){session->taken, session->date_only}),
                      (const char *)NULL));
  if (t->pictures != NULL)
    screen_figure(t, section, &t->pictures->map, TENTER_SAY_SCREEN_MAP);
  map_table(t, section, session);
  const tenter_review_screen *judged = t->story->judged;
  if (judged == NULL)
    return;
  const tenter_latest *latest = &judged->latest;
  screen_paragraph(t, section,
                   tenter_say_fill(t->d->arena, TENTER_SAY_SCREEN_EVENNESS,
                                   tenter_say_text(verdicts[judged->evenness]),
                                   screen_fixed(t, latest->range, 1),
                                   screen_fixed(t, latest->warp_mean - latest->weft_mean, 1),
                                   screen_fixed(t, latest->corner_minus_centre, 1),
                                   (const char *)NULL));
}

/* ---- events --------------------------------------------------------------------------------- */

static void tell_events(const screen_telling *t) {
  const tenter_table_column columns[] = {
      {tenter_say_text(TENTER_SAY_COLUMN_WHEN), TENTER_CELLS_TIME, true},
      {tenter_say_text(TENTER_SAY_COLUMN_EVENT), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_COUNT), TENTER_CELLS_NUMBER, true},
      {tenter_say_text(TENTER_SAY_COLUMN_STATION), TENTER_CELLS_TEXT, true},
      {tenter_say_text(TENTER_SAY_COLUMN_OPERATOR), TENTER_CELLS_TEXT, true}};
  tenter_block *section = screen_subsection(t, "events", TENTER_SAY_SCREEN_EVENTS);
  if (t->m->event_count == 0) {
    part_say(t->d, section, TENTER_SAY_SCREEN_NO_EVENTS);
    return;
  }
  tenter_block *table = screen_table(t, section, "events", columns, 5);
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
  screen_telling t = {.d = d,
                      .review = review,
                      .shop = review->shop,
                      .story = story,
                      .m = &review->shop->mountings[story->mounting],
                      .pictures = all->pictures != NULL ? &all->pictures[i] : NULL,
                      .section =
                          tenter_document_section(d, NULL, id, heading, TENTER_SECTION_PLAIN)};
  tell_action(&t);
  tell_what(&t);
  screen_tell_leaving(&t);
  screen_tell_relaxation(&t);
  screen_tell_sessions(&t);
  tell_map(&t);
  screen_tell_laws(&t);
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
