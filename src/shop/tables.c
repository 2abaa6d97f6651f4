/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The containers of what was read: making, filling and freeing them. Their canonical order is
 * settle.c. */
#include "tenter/shop/tables.h"

#include <math.h>
#include <string.h>

#include "tenter/base/alloc.h"

#define EVENT_WORD(constant, word) word,
static const char *const event_words[] = {TENTER_EVENT_KINDS(EVENT_WORD)};

const char *tenter_event_word(tenter_event_kind kind) {
  return (unsigned)kind < TENTER_EVENT_COUNT ? event_words[kind] : "";
}

tenter_spec tenter_spec_default(void) {
  return (tenter_spec){.mesh = "",
                       .target = NAN,
                       .minus = NAN,
                       .plus = NAN,
                       .floor = NAN,
                       .coarse_floor = NAN,
                       .maximum = NAN,
                       .evenness_point = 1.5,
                       .evenness_spread = 5,
                       .warp_weft = 2};
}

tenter_attributes tenter_attributes_none(void) {
  return (tenter_attributes){.mesh = TENTER_NO_NAME,
                             .lot = TENTER_NO_NAME,
                             .station = TENTER_NO_NAME,
                             .place = TENTER_NO_NAME,
                             .set = TENTER_NO_NAME,
                             .customer = TENTER_NO_NAME,
                             .order = TENTER_NO_NAME,
                             .frame = TENTER_FRAME_UNKNOWN,
                             .stretched = {.at = TENTER_NO_TIME},
                             .needed_on = {.at = TENTER_NO_TIME},
                             .target = NAN,
                             .minus = NAN,
                             .plus = NAN,
                             .floor = NAN,
                             .coarse_floor = NAN,
                             .maximum = NAN,
                             .width_cm = NAN,
                             .height_cm = NAN};
}

tenter_tables *tenter_tables_new(void) {
  tenter_tables *tables = tenter_alloc(1, sizeof *tables);
  if (!tables)
    return NULL;
  bool made = (tables->arena = tenter_arena_new()) != NULL;
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    made = (tables->names[kind] = tenter_names_new()) && made;
  if (made &&
      (tables->attributes = tenter_arena_alloc(tables->arena, 1, sizeof *tables->attributes))) {
    tables->attributes[0] = tenter_attributes_none();
    tables->attribute_count = 1;
    return tables;
  }
  tenter_tables_free(tables);
  return NULL;
}

void tenter_tables_free(tenter_tables *tables) {
  if (!tables)
    return;
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    tenter_names_free(tables->names[kind]);
  tenter_readings_release(&tables->readings);
  tenter_free(tables->problems);
  tenter_arena_free(tables->arena);
  tenter_free(tables);
}

tenter_status tenter_readings_reserve(tenter_readings *readings, size_t count, unsigned optional,
                                      tenter_error *error) {
  *readings = (tenter_readings){0};
  if (count == 0)
    return TENTER_OK;
  bool made = true;
#define COLUMN(name)                                                                               \
  made = (readings->name = tenter_alloc(count, sizeof *readings->name)) != NULL && made
  COLUMN(tension);
  COLUMN(taken);
  COLUMN(screen);
  COLUMN(line);
  COLUMN(position);
  COLUMN(meter);
  COLUMN(direction);
  COLUMN(flags);
  if (optional & TENTER_READINGS_ATTRIBUTES)
    COLUMN(attributes);
  if (optional & TENTER_READINGS_NOTE)
    COLUMN(note);
  if (optional & TENTER_READINGS_ROW)
    COLUMN(row);
  if (optional & TENTER_READINGS_OPERATOR)
    COLUMN(operator);
  if (optional & TENTER_READINGS_TRIAL)
    COLUMN(trial);
  if (optional & TENTER_READINGS_FILE)
    COLUMN(file);
#undef COLUMN
  if (!made) {
    tenter_readings_release(readings);
    return tenter_fail_memory(error);
  }
  readings->count = count;
  return TENTER_OK;
}

void tenter_readings_release(tenter_readings *readings) {
  void *columns[] = {readings->tension,
                     readings->taken,
                     readings->screen,
                     readings->line,
                     readings->attributes,
                     readings->note,
                     readings->row,
                     readings->file,
                     readings->position,
                     readings->meter,
                     readings->operator,
                     readings->trial,
                     readings->direction,
                     readings->flags};
  for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
    tenter_free(columns[i]);
  *readings = (tenter_readings){0};
}

char *tenter_row_print(const tenter_tables *tables, tenter_row row, tenter_arena *arena) {
  const char *file = row.file < tables->source_count ? tables->sources[row.file].file : "";
  if (row.line == 0)
    return tenter_arena_copy(arena, tenter_text_of(file));
  return tenter_arena_print(arena, "%s:%u", file, (unsigned)row.line);
}

tenter_status tenter_tables_note(tenter_tables *tables, tenter_row row, bool rejected,
                                 const char *reason, const char *text, tenter_error *error) {
  size_t count = tables->problem_count;
  if ((count & (count - 1)) == 0) { /* grows at the powers of two */
    size_t room = count ? 2 * count : 1;
    tenter_problem *grown = tenter_resize(tables->problems, room, sizeof *grown);
    if (!grown)
      return tenter_fail_memory(error);
    tables->problems = grown;
  }
  tenter_problem problem = {.row = row, .rejected = rejected};
  problem.reason = tenter_arena_copy(tables->arena, tenter_text_of(reason));
  problem.text = tenter_arena_copy(tables->arena, tenter_text_of(text));
  if (!problem.reason || !problem.text)
    return tenter_fail_memory(error);
  tables->problems[tables->problem_count++] = problem;
  return TENTER_OK;
}
