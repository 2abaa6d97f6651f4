/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Putting the inputs together: names under the tables' ids, then readings into the columns. */
#include <string.h>

#include "load.h"
#include "tenter/base/alloc.h"

/* ---- names ----------------------------------------------------------------------------------- */

static void mark(uint8_t *used, uint32_t id) {
  if (used && id != TENTER_NO_NAME)
    used[id] = 1;
}

static void mark16(uint8_t *used, uint16_t id) {
  if (used && id != TENTER_NO_NAME16)
    used[id] = 1;
}

static void mark_attributes(used_ids *used, const tenter_attributes *is) {
  mark(used->names[TENTER_NAME_MESH], is->mesh);
  mark(used->names[TENTER_NAME_LOT], is->lot);
  mark(used->names[TENTER_NAME_STATION], is->station);
  mark(used->names[TENTER_NAME_PLACE], is->place);
  mark(used->names[TENTER_NAME_SET], is->set);
  mark(used->names[TENTER_NAME_CUSTOMER], is->customer);
  mark(used->names[TENTER_NAME_ORDER], is->order);
}

static void mark_readings(const lexicon *words, const chunk *of, used_ids *used) {
  const staged *rows = of->items;
  for (size_t i = 0; i < of->count; i++) {
    mark(used->names[TENTER_NAME_SCREEN], rows[i].screen);
    const setup *how = &words->setups.items[rows[i].setup >> 8];
    used->setups[rows[i].setup >> 8] = 1;
    mark16(used->names[TENTER_NAME_METER], how->meter);
    mark16(used->names[TENTER_NAME_OPERATOR], how->operator);
    mark16(used->positions, how->position);
    if (!of->more)
      continue;
    mark(used->names[TENTER_NAME_NOTE], of->more[i].note);
    if (of->more[i].attributes > 0) {
      used->attributes[of->more[i].attributes] = 1;
      mark_attributes(used, &words->attributes.items[of->more[i].attributes]);
    }
  }
}

static void mark_small(const input *in, const chunk *of, used_ids *used) {
  for (size_t i = 0; i < of->count; i++) {
    if (in->layout.table == TENTER_TABLE_REGISTER) {
      const tenter_register_row *row = (const tenter_register_row *)of->items + i;
      mark(used->names[TENTER_NAME_SCREEN], row->screen);
      mark_attributes(used, &row->attributes);
    } else if (in->layout.table == TENTER_TABLE_EVENTS) {
      const tenter_event *event = (const tenter_event *)of->items + i;
      mark(used->names[TENTER_NAME_SCREEN], event->screen);
      mark(used->names[TENTER_NAME_NOTE], event->word);
      mark(used->names[TENTER_NAME_LOT], event->lot);
      mark(used->names[TENTER_NAME_MESH], event->mesh);
      mark(used->names[TENTER_NAME_STATION], event->station);
      mark(used->names[TENTER_NAME_OPERATOR], event->operator);
    } else {
      const tenter_meter_check *check = (const tenter_meter_check *)of->items + i;
      mark(used->names[TENTER_NAME_METER], check->meter);
      mark(used->names[TENTER_NAME_OPERATOR], check->operator);
    }
  }
}

static void used_release(used_ids *used) {
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    tenter_free(used->names[kind]);
  tenter_free(used->positions);
  tenter_free(used->attributes);
  tenter_free(used->setups);
}

static bool used_make(const lexicon *words, used_ids *used) {
  bool good = true;
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    if (words->names[kind])
      good =
          (used->names[kind] = tenter_alloc(tenter_names_count(words->names[kind]) + 1, 1)) && good;
  if (words->positions.keys)
    good =
        (used->positions = tenter_alloc(tenter_names_count(words->positions.keys) + 1, 1)) && good;
  good = (used->setups = tenter_alloc((size_t)words->setups.count + 1, 1)) && good;
  return (used->attributes = tenter_alloc((size_t)words->attributes.count + 1, 1)) && good;
}

/* Where chunks were read more than once a lexicon holds names that no row uses. */
static bool merge_discarded(const input *in, size_t number, merged *whole) {
  lexicon *words = in->lexicons[number];
  used_ids used = {.positions = NULL};
  bool good = used_make(words, &used);
  for (size_t i = 0; good && i < in->chunk_count; i++)
    if (in->chunks[i].worker == number) {
      if (in->layout.table == TENTER_TABLE_READINGS)
        mark_readings(words, &in->chunks[i], &used);
      else
        mark_small(in, &in->chunks[i], &used);
    }
  good = good && tenter__lexicon_merge(words, &used, whole);
  used_release(&used);
  return good;
}

static bool merge_lexicons(intake *all, merged *whole) {
  for (size_t i = 0; i < all->input_count; i++) {
    input *in = &all->inputs[i];
    for (size_t k = 0; k < all->worker_count; k++) {
      if (!in->lexicons[k])
        continue;
      bool good = in->discarded ? merge_discarded(in, k, whole)
                                : tenter__lexicon_merge(in->lexicons[k], NULL, whole);
      if (!good)
        return false;
    }
  }
  return true;
}

/* Screens in their settled order already, so that rows can be put by it. */
static bool sort_screens(intake *all, tenter_names *screens) {
  size_t count = tenter_names_count(screens);
  uint32_t *to = tenter_alloc(count + 1, sizeof *to);
  bool done = to && tenter_names_sort(screens, to);
  for (size_t i = 0; done && i < all->input_count; i++)
    for (size_t k = 0; k < all->worker_count; k++) {
      const lexicon *words = all->inputs[i].lexicons[k];
      uint32_t *ids = words ? words->to_names[TENTER_NAME_SCREEN] : NULL;
      size_t known = ids ? tenter_names_count(words->names[TENTER_NAME_SCREEN]) : 0;
      for (size_t id = 0; id < known; id++)
        if (ids[id] < count)
          ids[id] = to[ids[id]];
    }
  tenter_free(to);
  return done;
}

static tenter_status check_counts(const merged *whole, tenter_error *error) {
  static const tenter_name_kind kinds[] = {TENTER_NAME_METER, TENTER_NAME_OPERATOR};
  static const char *const words[] = {"meters", "operators"};
  size_t positions = whole->positions.keys ? tenter_names_count(whole->positions.keys) : 0;
  for (int i = 0; i < 2; i++)
    if (tenter_names_count(whole->tables->names[kinds[i]]) >= TENTER_NO_NAME16)
      return tenter_fail(error, TENTER_INPUT,
                         "more than 65534 different %s: is a column taken for that which is not?",
                         words[i]);
  if (positions >= TENTER_NO_NAME16)
    return tenter_fail(error, TENTER_INPUT,
                       "more than 65534 different positions: is a column taken for that which is "
                       "not?");
  return TENTER_OK;
}

/* Positions and attributes go into the tables' arena. */
static bool hand_over(merged *whole) {
  tenter_tables *tables = whole->tables;
  size_t positions = whole->positions.keys ? tenter_names_count(whole->positions.keys) : 0;
  size_t attributes = whole->attributes.count;
  tables->positions = tenter_arena_alloc(tables->arena, positions, sizeof *tables->positions);
  if (!tables->positions)
    return false;
  if (positions > 0)
    memcpy(tables->positions, whole->positions.items, positions * sizeof *tables->positions);
  tables->position_count = positions;
  if (attributes == 0)
    return true; /* entry 0 is there already */
  tables->attributes = tenter_arena_alloc(tables->arena, attributes, sizeof *tables->attributes);
  if (!tables->attributes)
    return false;
  memcpy(tables->attributes, whole->attributes.items, attributes * sizeof *tables->attributes);
  tables->attribute_count = attributes;
  return true;
}

size_t tenter__count_chunks(const intake *all) {
  size_t count = 0;
  for (size_t i = 0; i < all->input_count; i++)
    count += all->inputs[i].chunk_count;
  return count;
}

/* ---- the small tables ------------------------------------------------------------------------ */

static void rename_id(const lexicon *words, tenter_name_kind kind, uint32_t *id) {
  if (*id != TENTER_NO_NAME)
    *id = words->to_names[kind][*id];
}

static void move_register(const lexicon *words, tenter_register_row *row) {
  tenter_attributes *is = &row->attributes;
  rename_id(words, TENTER_NAME_SCREEN, &row->screen);
  rename_id(words, TENTER_NAME_MESH, &is->mesh);
  rename_id(words, TENTER_NAME_LOT, &is->lot);
  rename_id(words, TENTER_NAME_STATION, &is->station);
  rename_id(words, TENTER_NAME_PLACE, &is->place);
  rename_id(words, TENTER_NAME_SET, &is->set);
  rename_id(words, TENTER_NAME_CUSTOMER, &is->customer);
  rename_id(words, TENTER_NAME_ORDER, &is->order);
}

static void move_event(const lexicon *words, tenter_event *event) {
  rename_id(words, TENTER_NAME_SCREEN, &event->screen);
  rename_id(words, TENTER_NAME_LOT, &event->lot);
  rename_id(words, TENTER_NAME_MESH, &event->mesh);
  rename_id(words, TENTER_NAME_STATION, &event->station);
  rename_id(words, TENTER_NAME_OPERATOR, &event->operator);
  rename_id(words, TENTER_NAME_NOTE, &event->word);
}

static void move_small(tenter_tables *tables, const input *in, const chunk *of, uint16_t file,
                       uint32_t base) {
  const lexicon *words = in->lexicons[of->worker];
  for (size_t i = 0; i < of->count; i++) {
    tenter_row *row;
    if (in->layout.table == TENTER_TABLE_REGISTER) {
      tenter_register_row *to = &tables->registers[tables->register_count++];
      *to = ((const tenter_register_row *)of->items)[i];
      move_register(words, to);
      row = &to->row;
    } else if (in->layout.table == TENTER_TABLE_EVENTS) {
      tenter_event *to = &tables->events[tables->event_count++];
      *to = ((const tenter_event *)of->items)[i];
      move_event(words, to);
      row = &to->row;
    } else {
      tenter_meter_check *to = &tables->checks[tables->check_count++];
      *to = ((const tenter_meter_check *)of->items)[i];
      rename_id(words, TENTER_NAME_METER, &to->meter);
      rename_id(words, TENTER_NAME_OPERATOR, &to->operator);
      row = &to->row;
    }
    *row = (tenter_row){file, base + row->line};
  }
}

static tenter_status move_tables(intake *all, const uint32_t *bases, tenter_error *error) {
  tenter_tables *tables = all->tables;
  size_t counts[4] = {0};
  for (size_t i = 0; i < all->input_count; i++)
    for (size_t k = 0; k < all->inputs[i].chunk_count; k++)
      counts[all->inputs[i].layout.table] += all->inputs[i].chunks[k].count;
  tables->registers =
      tenter_arena_alloc(tables->arena, counts[TENTER_TABLE_REGISTER], sizeof *tables->registers);
  tables->events =
      tenter_arena_alloc(tables->arena, counts[TENTER_TABLE_EVENTS], sizeof *tables->events);
  tables->checks =
      tenter_arena_alloc(tables->arena, counts[TENTER_TABLE_METER_CHECKS], sizeof *tables->checks);
  if (!tables->registers || !tables->events || !tables->checks)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < all->input_count; i++) {
    const input *in = &all->inputs[i];
    if (in->layout.table != TENTER_TABLE_READINGS)
      for (size_t k = 0; k < in->chunk_count; k++)
        move_small(tables, in, &in->chunks[k], (uint16_t)i, bases[k]);
    bases += in->chunk_count;
  }
  return TENTER_OK;
}

/* ---- problems, sources, columns -------------------------------------------------------------- */

/* tenter_tables_note grows the array at the powers of two, so its room must be one. */
static tenter_status move_problems(intake *all, const uint32_t *bases, tenter_error *error) {
  tenter_tables *tables = all->tables;
  size_t count = 0, room = 1;
  for (size_t i = 0; i < all->input_count; i++)
    for (size_t k = 0; k < all->inputs[i].chunk_count; k++)
      count += all->inputs[i].chunks[k].problem_count;
  while (room < count)
    room *= 2;
  if (count > 0 && !(tables->problems = tenter_alloc(room, sizeof *tables->problems)))
    return tenter_fail_memory(error);
  for (size_t i = 0; i < all->input_count; i++)
    for (size_t k = 0; k < all->inputs[i].chunk_count; k++, bases++) {
      chunk *of = &all->inputs[i].chunks[k];
      for (size_t p = 0; p < of->problem_count; p++) {
        const row_problem *from = &of->problems[p];
        bool kept = from->text && tables->problem_count < MOST_TEXTS;
        tables->problems[tables->problem_count++] =
            (tenter_problem){.row = {(uint16_t)i, *bases + from->line},
                             .rejected = from->rejected,
                             .reason = from->reason,
                             .text = kept ? from->text : ""};
      }
      if (of->arena)
        tenter_arena_adopt(tables->arena, of->arena);
      of->arena = NULL;
    }
  return TENTER_OK;
}

static bool add_source(intake *all, size_t number) {
  tenter_tables *tables = all->tables;
  const input *in = &all->inputs[number];
  tenter_source *source = &tables->sources[number];
  source->file = tenter_arena_copy(tables->arena, tenter_text_of(in->name));
  memcpy(source->sha256, in->sha256, sizeof source->sha256);
  source->table = in->layout.table;
  source->wide = in->layout.wide;
  for (size_t i = 0; i < in->chunk_count; i++) {
    source->rows += in->chunks[i].rows;
    source->accepted += in->chunks[i].accepted;
    source->rejected += in->chunks[i].rejected;
    source->blank += in->chunks[i].blank;
  }
  for (size_t i = 0; i < in->layout.count; i++) {
    const column *each = &in->layout.columns[i];
    if (!*each->header)
      continue;
    tenter_column *to = &tables->columns[tables->column_count++];
    to->file = (uint16_t)number;
    to->header = tenter_arena_copy(tables->arena, tenter_text_of(each->header));
    to->read_as = tenter_arena_copy(tables->arena, tenter_text_of(each->read_as));
    if (!to->header || !to->read_as)
      return false;
  }
  return source->file != NULL;
}

static tenter_status add_sources(intake *all, tenter_error *error) {
  tenter_tables *tables = all->tables;
  size_t headers = 0;
  for (size_t i = 0; i < all->input_count; i++)
    headers += all->inputs[i].layout.count;
  tables->sources = tenter_arena_alloc(tables->arena, all->input_count, sizeof *tables->sources);
  tables->columns = tenter_arena_alloc(tables->arena, headers, sizeof *tables->columns);
  bool good = tables->sources && tables->columns;
  for (size_t i = 0; good && i < all->input_count; i++)
    good = add_source(all, i);
  tables->source_count = all->input_count;
  return good ? TENTER_OK : tenter_fail_memory(error);
}

static tenter_status move_all(intake *all, const uint32_t *bases, tenter_error *error) {
  tenter_status status = tenter__move_readings(all, bases, error);
  if (status == TENTER_OK)
    status = move_tables(all, bases, error);
  if (status == TENTER_OK)
    status = move_problems(all, bases, error);
  return status == TENTER_OK ? add_sources(all, error) : status;
}

static tenter_status merge_all(intake *all, merged *whole, uint32_t *bases, tenter_error *error) {
  if (!merge_lexicons(all, whole) || !sort_screens(all, whole->tables->names[TENTER_NAME_SCREEN]))
    return tenter_fail_memory(error);
  tenter_status status = check_counts(whole, error);
  if (status != TENTER_OK)
    return status;
  if (!hand_over(whole))
    return tenter_fail_memory(error);
  uint32_t *next = bases;
  for (size_t i = 0; i < all->input_count; i++) {
    tenter__line_bases(&all->inputs[i], next);
    next += all->inputs[i].chunk_count;
  }
  return move_all(all, bases, error);
}

tenter_status tenter__inputs_merge(intake *all, tenter_error *error) {
  merged whole = {.tables = all->tables, .positions = {.arena = all->tables->arena}};
  uint32_t *bases = tenter_alloc(tenter__count_chunks(all) + 1, sizeof *bases);
  tenter_status status = bases ? merge_all(all, &whole, bases, error) : tenter_fail_memory(error);
  tenter_free(bases);
  tenter__positions_release(&whole.positions);
  tenter__attributes_release(&whole.attributes);
  return status;
}
