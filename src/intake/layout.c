/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the header row to the table: which kind it is, what is missing, what is there twice. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "match.h"
#include "tenter/base/buffer.h"
#include "tenter/words/words.h"
#include "units.h"

static const char looked_for[] =
    "Looked for: readings (screen, taken, tension, or in place of tension columns like \"centre "
    "warp\"), a register (screen), events (screen, at, event) or meter checks (meter, at, nominal, "
    "indicated)";

/* "found: a, b, c" of the header, cut after a dozen. */
static void list_headers(const layout *found, char *text, size_t size) {
  size_t length = 0;
  text[0] = '\0';
  for (size_t i = 0; i < found->count && i < 12 && length + 2 < size; i++) {
    int wrote =
        snprintf(text + length, size - length, "%s%.40s", i ? ", " : "", found->columns[i].header);
    length += wrote > 0 ? (size_t)wrote : 0;
  }
  if (found->count > 12 && length + 2 < size)
    snprintf(text + length, size - length, ", ...");
}

/* An unmatched header that is near to the name of role; NULL. */
static const char *near_header(const layout *found, column_role role) {
  tenter_text name = tenter_text_of(tenter__role_name(role));
  for (size_t i = 0; i < found->count; i++)
    if (found->columns[i].role == ROLE_NONE && *found->columns[i].header &&
        tenter_text_distance(tenter_text_of(found->columns[i].header), name, 2) <= 2)
      return found->columns[i].header;
  return NULL;
}

/* A pattern that matches header and nothing else. */
enum { PATTERN_SIZE = 160 };
static const char *pattern_of(const char *header, char pattern[PATTERN_SIZE]) {
  bool plain = strpbrk(header, "\\^$.|?*+()[]{}") == NULL;
  snprintf(pattern, PATTERN_SIZE, plain ? "^%s$" : "^\\Q%s\\E$", header);
  return pattern;
}

static tenter_status fail_missing(const layout *found, const char *as, column_role missing,
                                  tenter_error *error) {
  char headers[400], pattern[PATTERN_SIZE];
  list_headers(found, headers, sizeof headers);
  const char *near = near_header(found, missing);
  const char *name =
      missing == ROLE_TAKEN && strcmp(as, "readings") != 0 ? "at" : tenter__role_name(missing);
  return tenter_fail(error, TENTER_INPUT,
                     "the header looks like %s, but there is no column %s%s%s%s. Found: %s. If one "
                     "of these is it, name it in tenter.ini: [columns] %s = %s",
                     as, name, near ? " (is it '" : "", near ? near : "", near ? "'?)" : "",
                     headers, name, pattern_of(near ? near : "its header", pattern));
}

static bool has(const layout *found, column_role role) {
  return found->at[role] >= 0;
}

/* The first column of each role; -1. */
static void index_roles(layout *found) {
  found->cells = found->matched = 0;
  for (int role = 0; role < ROLE_COUNT_ALL; role++)
    found->at[role] = -1;
  for (size_t i = 0; i < found->count; i++) {
    column_role role = found->columns[i].role;
    if (found->at[role] < 0)
      found->at[role] = (int)i;
    found->cells += role == ROLE_CELL;
    found->matched += role != ROLE_NONE && role != ROLE_CELL;
  }
}

static void forget(column *of) {
  of->role = ROLE_NONE;
  of->read_as = "";
}

static void add_note(layout *found, const char *sentence) {
  found->failed = found->failed || *sentence == '\0';
  if (found->note_count < sizeof found->notes / sizeof *found->notes)
    found->notes[found->note_count++] = sentence;
}

/* `time` beside a date is the time of day; alone it is the time. */
static void settle_clock(layout *found) {
  for (size_t i = 0; i < found->count; i++)
    if (found->columns[i].role == ROLE_CLOCK && !has(found, ROLE_TAKEN))
      found->columns[i].role = ROLE_TAKEN;
}

/* A plate's reading may stand under `tension`. */
static void settle_indicated(layout *found) {
  if (has(found, ROLE_NOMINAL) && !has(found, ROLE_INDICATED) && !has(found, ROLE_SCREEN) &&
      has(found, ROLE_TENSION))
    found->columns[found->at[ROLE_TENSION]].role = ROLE_INDICATED;
}

static bool is_about_readings(const layout *found) {
  return has(found, ROLE_POSITION) || has(found, ROLE_DIRECTION) || has(found, ROLE_METER) ||
         has(found, ROLE_TRIAL);
}

static bool is_about_screens(const layout *found) {
  static const column_role roles[] = {ROLE_MESH,  ROLE_LOT,   ROLE_TARGET,   ROLE_FLOOR,
                                      ROLE_FRAME, ROLE_WIDTH, ROLE_STRETCHED};
  for (size_t i = 0; i < sizeof roles / sizeof *roles; i++)
    if (has(found, roles[i]))
      return true;
  return false;
}

/* A register may have a Date column, of which nobody knows what it dates. */
static bool forget_date(layout *found, tenter_arena *arena) {
  column *date = &found->columns[found->at[ROLE_TAKEN]];
  if (tenter_text_distance(tenter_text_of(date->header), tenter_text_of("date"), 0) != 0 ||
      !is_about_screens(found) || is_about_readings(found) || near_header(found, ROLE_TENSION) ||
      near_header(found, ROLE_EVENT))
    return false;
  forget(date);
  add_note(found,
           tenter_say_fill(arena, TENTER_SAY_NOTE_DATE_COLUMN, date->header, (const char *)NULL));
  return true;
}

static bool names_direction(const layout *found) {
  for (size_t i = 0; i < found->count; i++)
    if (found->columns[i].role == ROLE_CELL && found->columns[i].direction)
      return true;
  return false;
}

static tenter_status judge_screens(layout *found, tenter_arena *arena, tenter_error *error) {
  if (has(found, ROLE_TENSION) || found->cells > 0) {
    found->table = TENTER_TABLE_READINGS;
    found->wide = !has(found, ROLE_TENSION);
    if (!has(found, ROLE_SCREEN))
      return fail_missing(found, "readings", ROLE_SCREEN, error);
    if (!has(found, ROLE_TAKEN) && has(found, ROLE_TENSION))
      return fail_missing(found, "readings", ROLE_TAKEN, error);
    if (has(found, ROLE_TAKEN))
      return TENTER_OK;
    if (names_direction(found))
      return fail_missing(found, "readings", ROLE_TAKEN, error);
  }
  found->table = TENTER_TABLE_REGISTER;
  found->wide = false;
  if (has(found, ROLE_TAKEN) && !forget_date(found, arena))
    return fail_missing(found, "readings", ROLE_TENSION, error);
  if (is_about_readings(found))
    return fail_missing(found, "readings", has(found, ROLE_TAKEN) ? ROLE_TENSION : ROLE_TAKEN,
                        error);
  return TENTER_OK;
}

static tenter_status judge_checks(layout *found, tenter_error *error) {
  static const column_role needed[] = {ROLE_METER, ROLE_TAKEN, ROLE_NOMINAL, ROLE_INDICATED};
  found->table = TENTER_TABLE_METER_CHECKS;
  for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
    if (!has(found, needed[i]))
      return fail_missing(found, "meter checks", needed[i], error);
  return TENTER_OK;
}

static tenter_status judge_events(layout *found, tenter_error *error) {
  found->table = TENTER_TABLE_EVENTS;
  if (!has(found, ROLE_SCREEN))
    return fail_missing(found, "events", ROLE_SCREEN, error);
  return has(found, ROLE_TAKEN) ? TENTER_OK : fail_missing(found, "events", ROLE_TAKEN, error);
}

static tenter_status judge_table(layout *found, tenter_arena *arena, tenter_error *error) {
  if (has(found, ROLE_NOMINAL) && !has(found, ROLE_SCREEN))
    return judge_checks(found, error);
  if (has(found, ROLE_EVENT) && !has(found, ROLE_TENSION))
    return judge_events(found, error);
  if (has(found, ROLE_SCREEN) || has(found, ROLE_TENSION))
    return judge_screens(found, arena, error);
  char headers[400];
  list_headers(found, headers, sizeof headers);
  return tenter_fail(error, TENTER_INPUT,
                     "the header is that of no table known here. %s. Found: %s. A column by "
                     "another name can be named in tenter.ini: [columns] screen = ^its header$",
                     looked_for, headers);
}

/* Columns that mean nothing in this table are unmatched. */
static tenter_status drop_foreign(layout *found, tenter_error *error) {
  static const unsigned tables[] = {IN_READINGS, IN_REGISTER, IN_EVENTS, IN_CHECKS};
  for (size_t i = 0; i < found->count; i++) {
    column *each = &found->columns[i];
    if (each->role == ROLE_CELL && !found->wide) {
      if (found->table == TENTER_TABLE_READINGS && each->direction != TENTER_DIRECTION_NONE)
        return tenter_fail(error, TENTER_INPUT,
                           "the header has both a column of tensions ('%s') and columns that name "
                           "a place or a direction ('%s'); it must be one or the other",
                           found->columns[found->at[ROLE_TENSION]].header, each->header);
      forget(each);
    }
    if (!(tenter__role_tables(each->role) & tables[found->table]))
      forget(each);
  }
  return TENTER_OK;
}

/* ---- one column for one thing --------------------------------------------------------------- */

static bool same_thing(const column *a, const column *b) {
  if (a->role != b->role || a->role == ROLE_NONE)
    return false;
  if (a->role != ROLE_CELL)
    return true;
  char here[PLACE_KEY_SIZE] = "", there[PLACE_KEY_SIZE] = "";
  if (a->placed)
    tenter__place_key(&a->place, here);
  if (b->placed)
    tenter__place_key(&b->place, there);
  bool unknown =
      a->placed && b->placed && !*here && !*there && strcmp(a->place.label, b->place.label) != 0;
  return a->direction == b->direction && a->placed == b->placed && strcmp(here, there) == 0 &&
         !unknown;
}

/* How surely a column is what it was taken for. */
static int rank(const column *of) {
  return of->own ? 2 : of->exact ? 1 : 0;
}

/* Two columns for one thing: the one that bears its very name, or that the config names, is it; no
 * choice is made between equals. */
static tenter_status settle_pair(layout *found, column *a, column *b, tenter_arena *arena,
                                 tenter_error *error) {
  char pattern[PATTERN_SIZE];
  if (rank(a) == rank(b))
    return tenter_fail(error, TENTER_INPUT,
                       "the columns '%s' and '%s' would both be read as %s. Say which one it is in "
                       "tenter.ini: [columns] %s = %s",
                       a->header, b->header,
                       a->role == ROLE_CELL ? "tension of the same place and direction"
                                            : tenter__role_name(a->role),
                       a->role == ROLE_CELL ? "centre_warp" : tenter__role_name(a->role),
                       pattern_of(a->header, pattern));
  column *kept = rank(a) > rank(b) ? a : b, *other = kept == a ? b : a;
  add_note(found, tenter_say_fill(arena, TENTER_SAY_NOTE_OTHER_COLUMN, other->header, kept->header,
                                  tenter__role_name(kept->role), (const char *)NULL));
  forget(other);
  return TENTER_OK;
}

static tenter_status settle_duplicates(layout *found, tenter_arena *arena, tenter_error *error) {
  for (size_t i = 0; i < found->count; i++) {
    column *a = &found->columns[i];
    size_t from = a->role == ROLE_CELL || a->role == ROLE_NONE ? 0 : (size_t)found->at[a->role];
    for (size_t j = from; j < i; j++)
      if (same_thing(a, &found->columns[j])) {
        tenter_status status = settle_pair(found, &found->columns[j], a, arena, error);
        if (status != TENTER_OK)
          return status;
      }
  }
  return TENTER_OK;
}

/* A place in the header and a position column (or a direction twice) can't both hold; x needs y. */
static tenter_status settle_places(layout *found, tenter_error *error) {
  if (has(found, ROLE_X_CM) != has(found, ROLE_Y_CM))
    forget(&found->columns[found->at[has(found, ROLE_X_CM) ? ROLE_X_CM : ROLE_Y_CM]]);
  index_roles(found);
  bool position = has(found, ROLE_POSITION) || has(found, ROLE_X_CM);
  if (has(found, ROLE_POSITION) && has(found, ROLE_X_CM))
    return tenter_fail(error, TENTER_INPUT,
                       "the header gives the place twice, as '%s' and as x and y; name one of them "
                       "in tenter.ini",
                       found->columns[found->at[ROLE_POSITION]].header);
  for (size_t i = 0; i < found->count; i++) {
    const column *each = &found->columns[i];
    if (each->role == ROLE_CELL &&
        ((position && each->placed) || (has(found, ROLE_DIRECTION) && each->direction)))
      return tenter_fail(error, TENTER_INPUT,
                         "the column '%s' names its %s, and there is a column for that as well",
                         each->header, position && each->placed ? "place" : "direction");
  }
  return TENTER_OK;
}

/* ---- units ---------------------------------------------------------------------------------- */

static tenter_status settle_unit(layout *found, column *each, const tenter_config *config,
                                 tenter_arena *arena, tenter_error *error) {
  unit_class kind = tenter__role_unit(each->role);
  tenter_text unit = tenter_text_of(each->unit);
  bool tension = kind == UNIT_TENSION;
  if (tension && config->settings.unit != TENTER_UNIT_AUTO) {
    tenter__unit_set(config->settings.unit, each);
    return TENTER_OK;
  }
  if (kind == UNIT_NONE || unit.length == 0 || tenter__unit_read(unit, kind, each)) {
    if (tension && each->misnamed)
      add_note(found, tenter_say_fill(arena, TENTER_SAY_NOTE_UNIT, each->header, each->unit,
                                      (const char *)NULL));
    return TENTER_OK;
  }
  if (kind == UNIT_COUNT)
    return TENTER_OK;
  return tenter_fail(error, TENTER_INPUT,
                     "the column '%s' is in a unit that is not known here ('%s'). Known: %s. %s",
                     each->header, each->unit,
                     tension ? "N/cm, N/m, kN/m, lbf/in" : "cm, mm, m, in",
                     tension ? "If its values are N/cm, put into tenter.ini: [intake] unit = N/cm"
                             : "Change the header");
}

/* ---- words ---------------------------------------------------------------------------------- */

static const char *read_as(const layout *found, const column *each, tenter_arena *arena) {
  static const char *const directions[] = {"", " warp", " weft"};
  if (each->role == ROLE_NONE)
    return "";
  if (each->role == ROLE_TAKEN && found->table != TENTER_TABLE_READINGS)
    return "at";
  if (each->role != ROLE_CELL)
    return tenter__role_name(each->role);
  const char *place = each->placed ? tenter__place_word(&each->place) : "";
  if (each->placed && !*place)
    place = each->place.label;
  return tenter_arena_print(arena, "tension%s%s%s", directions[each->direction], *place ? " " : "",
                            place);
}

static int by_words(const void *a, const void *b) {
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* All that is read, in the order of words, under the table's number. */
static const char *group_of(const layout *found, tenter_arena *arena) {
  const char **words = tenter_arena_alloc(arena, found->count + 1, sizeof *words);
  if (!words)
    return NULL;
  for (size_t i = 0; i < found->count; i++)
    words[i] = found->columns[i].read_as;
  qsort(words, found->count, sizeof *words, by_words);
  tenter_buffer text = {0};
  tenter_buffer_integer(&text, found->table);
  for (size_t i = 0; i < found->count; i++)
    if (*words[i]) {
      tenter_buffer_byte(&text, '|');
      tenter_buffer_text(&text, words[i]);
    }
  const char *joined = tenter_buffer_string(&text);
  const char *group = joined ? tenter_arena_copy(arena, tenter_text_of(joined)) : NULL;
  tenter_buffer_release(&text);
  return group;
}

static tenter_status finish(layout *found, const tenter_config *config, tenter_arena *arena,
                            tenter_error *error) {
  for (size_t i = 0; i < found->count; i++) {
    column *each = &found->columns[i];
    tenter_status status = settle_unit(found, each, config, arena, error);
    if (status != TENTER_OK)
      return status;
    each->read_as = read_as(found, each, arena);
    if (!each->read_as)
      return tenter_fail_memory(error);
    each->thing_hash = tenter__text_hash(each->read_as, strlen(each->read_as));
  }
  found->group = group_of(found, arena);
  return found->group && !found->failed ? TENTER_OK : tenter_fail_memory(error);
}

static tenter_status match_all(const columns *patterns, const tenter_text *cells,
                               const tenter_config *config, const number_layout *numbers,
                               tenter_arena *arena, layout *found, tenter_error *error) {
  for (size_t i = 0; i < found->count; i++)
    if (!tenter__column_match(patterns, config, cells[i], numbers, arena, &found->columns[i]))
      return tenter_fail_memory(error);
  index_roles(found);
  for (size_t i = 0; i < found->count; i++) { /* where the config's name is there, it is the one */
    column *each = &found->columns[i];
    if (!each->own && each->role < ROLE_CELL && tenter__role_is_own(patterns, config, each->role))
      for (size_t j = 0; j < found->count; j++)
        if (found->columns[j].own && found->columns[j].role == each->role) {
          forget(each);
          break;
        }
  }
  index_roles(found);
  return TENTER_OK;
}

tenter_status tenter__layout_of(const columns *patterns, const tenter_text *cells, size_t count,
                                const tenter_config *config, const number_layout *numbers,
                                tenter_arena *arena, layout *found, tenter_error *error) {
  *found = (layout){.count = count};
  if (count > MOST_COLUMNS)
    return tenter_fail(error, TENTER_INPUT, "the header has %zu columns; at most %d can be read",
                       count, MOST_COLUMNS);
  found->columns = tenter_arena_alloc(arena, count, sizeof *found->columns);
  if (!found->columns)
    return tenter_fail_memory(error);
  tenter_status status = match_all(patterns, cells, config, numbers, arena, found, error);
  size_t matched = found->matched + found->cells;
  if (status == TENTER_OK) {
    settle_clock(found);
    settle_indicated(found);
    index_roles(found);
    status = judge_table(found, arena, error);
  }
  if (status == TENTER_OK)
    status = drop_foreign(found, error);
  if (status == TENTER_OK) {
    index_roles(found);
    status = settle_duplicates(found, arena, error);
  }
  if (status == TENTER_OK)
    status = settle_places(found, error);
  if (status == TENTER_OK)
    status = finish(found, config, arena, error);
  index_roles(found);
  found->matched = matched;
  return status;
}
