/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Notes on words that are not known, on headers, and on repetitions that look deliberate. */
#include <math.h>
#include <string.h>

#include "load.h"
#include "tenter/base/alloc.h"
#include "tenter/intake/load.h"
#include "tenter/words/words.h"

#define END ((const char *)NULL)

/* How often something was met, and where first. */
typedef struct sighting {
  tenter_row row;
  uint64_t count;
} sighting;

static void see(sighting *seen, tenter_row row) {
  bool earlier =
      row.file < seen->row.file || (row.file == seen->row.file && row.line < seen->row.line);
  if (seen->count++ == 0 || earlier)
    seen->row = row;
}

static tenter_status note(tenter_tables *tables, tenter_row row, const char *sentence,
                          tenter_error *error) {
  return *sentence != '\0' ? tenter_tables_note(tables, row, false, sentence, "", error)
                           : tenter_fail_memory(error);
}

static tenter_status note_events(tenter_tables *tables, tenter_error *error) {
  size_t words = tenter_names_count(tables->names[TENTER_NAME_NOTE]);
  sighting *seen = tenter_alloc(words + 1, sizeof *seen);
  if (!seen)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < tables->event_count; i++)
    if (tables->events[i].kind == TENTER_EVENT_NOTE && tables->events[i].word < words)
      see(&seen[tables->events[i].word], tables->events[i].row);
  tenter_status status = TENTER_OK;
  for (uint32_t word = 0; word < words && status == TENTER_OK; word++)
    if (seen[word].count > 0)
      status = note(
          tables, seen[word].row,
          tenter_say_fill(tables->arena,
                          seen[word].count == 1 ? TENTER_SAY_NOTE_EVENT : TENTER_SAY_NOTE_EVENTS,
                          tenter_names_get(tables->names[TENTER_NAME_NOTE], word),
                          tenter_say_count(tables->arena, seen[word].count), END),
          error);
  tenter_free(seen);
  return status;
}

static bool is_unknown(const tenter_position *place) {
  return place->kind == TENTER_PLACE_UNKNOWN && isnan(place->x_cm);
}

static const char *position_sentence(tenter_tables *tables, const char *label, uint64_t count) {
  bool number = strspn(label, "0123456789") == strlen(label);
  const char *text = tenter_say_fill(
      tables->arena, count == 1 ? TENTER_SAY_NOTE_POSITION : TENTER_SAY_NOTE_POSITIONS, label,
      tenter_say_count(tables->arena, count), END);
  return number ? tenter_say_fill(tables->arena, TENTER_SAY_NOTE_NUMBERED, text, END) : text;
}

static tenter_status note_positions(tenter_tables *tables, tenter_error *error) {
  const tenter_readings *r = &tables->readings;
  size_t unknown = 0;
  for (size_t i = 0; i < tables->position_count; i++)
    unknown += is_unknown(&tables->positions[i]);
  if (unknown == 0)
    return TENTER_OK;
  sighting *seen = tenter_alloc(tables->position_count, sizeof *seen);
  if (!seen)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < r->count; i++)
    if (r->position[i] < tables->position_count && is_unknown(&tables->positions[r->position[i]]))
      see(&seen[r->position[i]], tenter_reading_row(r, i));
  tenter_status status = TENTER_OK;
  for (size_t i = 0; i < tables->position_count && status == TENTER_OK; i++)
    if (seen[i].count > 0)
      status = note(tables, seen[i].row,
                    position_sentence(tables, tables->positions[i].label, seen[i].count), error);
  tenter_free(seen);
  return status;
}

static tenter_status note_headers(const intake *all, tenter_error *error) {
  for (size_t i = 0; i < all->input_count; i++) {
    const layout *l = &all->inputs[i].layout;
    tenter_row row = {(uint16_t)i, all->inputs[i].dialect.header_line};
    for (size_t k = 0; k < l->note_count; k++) {
      tenter_status status = note(all->tables, row, l->notes[k], error);
      if (status != TENTER_OK)
        return status;
    }
  }
  return TENTER_OK;
}

static tenter_status note_lean(tenter_tables *tables, size_t problems, tenter_error *error) {
  if (problems <= MOST_TEXTS)
    return TENTER_OK;
  return note(tables, tables->problems[MOST_TEXTS].row,
              tenter_say_fill(tables->arena, TENTER_SAY_NOTE_LEAN,
                              tenter_say_count(tables->arena, problems - MOST_TEXTS), END),
              error);
}

tenter_status tenter__notes_add(intake *all, tenter_error *error) {
  tenter_tables *tables = all->tables;
  size_t problems = tables->problem_count;
  tenter_status status = note_lean(tables, problems, error);
  if (status == TENTER_OK)
    status = note_headers(all, error);
  if (status == TENTER_OK)
    status = note_events(tables, error);
  return status == TENTER_OK ? note_positions(tables, error) : status;
}

/* ---- after settling -------------------------------------------------------------------------- */

static bool has_trial(const tenter_tables *tables, size_t file) {
  for (size_t i = 0; i < tables->column_count; i++)
    if (tables->columns[i].file == file && strcmp(tables->columns[i].read_as, "trial") == 0)
      return true;
  return false;
}

/* Moves the note that was added last to its place before the other problems of its file. */
static void settle_note(tenter_tables *tables) {
  tenter_problem *problems = tables->problems, last = problems[tables->problem_count - 1];
  size_t at = tables->problem_count - 1;
  for (; at > 0 && problems[at - 1].row.file >= last.row.file; at--)
    problems[at] = problems[at - 1];
  problems[at] = last;
}

tenter_status tenter_intake_notes(tenter_tables *tables, tenter_error *error) {
  for (size_t i = 0; i < tables->source_count; i++) {
    const tenter_source *source = &tables->sources[i];
    if (source->table != TENTER_TABLE_READINGS || source->repeated * 5 <= source->rows ||
        has_trial(tables, i))
      continue;
    tenter_row row = {(uint16_t)i, 0};
    tenter_status status = note(tables, row,
                                tenter_say_fill(tables->arena, TENTER_SAY_NOTE_REPEATS,
                                                tenter_say_count(tables->arena, source->repeated),
                                                tenter_say_count(tables->arena, source->rows), END),
                                error);
    if (status != TENTER_OK)
      return status;
    settle_note(tables);
  }
  return TENTER_OK;
}
