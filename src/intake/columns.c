/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Matching one header cell: config patterns, names, built-in patterns, wide columns. PCRE2 with
 * limits on what a pattern may cost, since the config's are the user's. What the columns make
 * together is layout.c. */
#define PCRE2_CODE_UNIT_WIDTH 8
#include <pcre2.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "columns.h"
#include "match.h"
#include "tenter/base/alloc.h"
#include "units.h"

typedef struct role_row {
  const char *name;
  unsigned tables;
  unit_class unit;
  const char *pattern;
} role_row;

#define ROLE_ROW(constant, name, tables, unit, pattern) {name, tables, unit, pattern},
static const role_row rows[] = {COLUMN_ROLES(ROLE_ROW)};
#define ROLE_ROWS ROLE_CELL /* the roles with a row */
enum { FOLDED_SIZE = 256 };

struct columns {
  pcre2_code *built_in[ROLE_ROWS];
  pcre2_code **own; /* of config->columns */
  size_t own_count;
  pcre2_match_data *match;
  pcre2_match_context *limits;
};

const char *tenter__role_name(column_role role) {
  return role < ROLE_ROWS ? rows[role].name : "";
}

unsigned tenter__role_tables(column_role role) {
  return role < ROLE_ROWS ? rows[role].tables : role == ROLE_CELL ? IN_READINGS : 0;
}

unit_class tenter__role_unit(column_role role) {
  return role < ROLE_ROWS ? rows[role].unit : role == ROLE_CELL ? UNIT_TENSION : UNIT_NONE;
}

/* ---- compiling ------------------------------------------------------------------------------ */

static pcre2_code *compile(const char *pattern, int *reason, PCRE2_SIZE *offset) {
  return pcre2_compile((PCRE2_SPTR)pattern, PCRE2_ZERO_TERMINATED,
                       PCRE2_CASELESS | PCRE2_UTF | PCRE2_DUPNAMES | PCRE2_NEVER_BACKSLASH_C,
                       reason, offset, NULL);
}

/* "at" is the time of an event; readings call it taken. */
static column_role role_named(const char *name) {
  char folded[FOLDED_SIZE], other[FOLDED_SIZE];
  tenter__fold(tenter_text_of(name), folded, sizeof folded);
  if (strcmp(folded, "at") == 0)
    return ROLE_TAKEN;
  for (int role = 0; role < (int)ROLE_ROWS; role++) {
    tenter__fold(tenter_text_of(rows[role].name), other, sizeof other);
    if (strcmp(folded, other) == 0)
      return (column_role)role;
  }
  return ROLE_NONE;
}

static const char *nearest_role(const char *name) {
  const char *nearest = "screen";
  size_t least = 255;
  for (int role = 0; role < (int)ROLE_ROWS; role++) {
    size_t distance =
        tenter_text_distance(tenter_text_of(name), tenter_text_of(rows[role].name), least);
    if (distance < least) {
      least = distance;
      nearest = rows[role].name;
    }
  }
  return nearest;
}

tenter_status tenter__pattern_check(const char *name, const char *pattern, tenter_error *error) {
  column probe;
  if (role_named(name) == ROLE_NONE && !tenter__wide_read(tenter_text_of(name), NULL, NULL, &probe))
    return tenter_fail(error, TENTER_USAGE,
                       "%s is no column; did you mean %s? (A column of a wide table is named like "
                       "centre_warp.)",
                       name, nearest_role(name));
  int reason;
  PCRE2_SIZE offset;
  pcre2_code *code = compile(pattern, &reason, &offset);
  if (code) {
    pcre2_code_free(code);
    return TENTER_OK;
  }
  if (reason == PCRE2_ERROR_HEAP_FAILED)
    return tenter_fail_memory(error);
  char message[128];
  pcre2_get_error_message(reason, (PCRE2_UCHAR *)message, sizeof message);
  return tenter_fail(error, TENTER_USAGE, "%s = %s: the pattern is wrong at its character %zu: %s",
                     name, pattern, (size_t)offset + 1, message);
}

static bool compile_all(columns *made, const tenter_config *config) {
  int reason;
  PCRE2_SIZE offset;
  for (int role = 0; role < (int)ROLE_ROWS; role++)
    if (!(made->built_in[role] = compile(rows[role].pattern, &reason, &offset)))
      return false;
  made->own = tenter_alloc(config->column_count + 1, sizeof(void *));
  if (!made->own)
    return false;
  for (size_t i = 0; i < config->column_count; i++) {
    if (!(made->own[i] = compile(config->columns[i].pattern, &reason, &offset)))
      return false;
    made->own_count++;
  }
  made->match = pcre2_match_data_create(16, NULL);
  made->limits = pcre2_match_context_create(NULL);
  if (!made->match || !made->limits)
    return false;
  pcre2_set_match_limit(made->limits, 100000);
  pcre2_set_depth_limit(made->limits, 1000);
  return true;
}

tenter_status tenter__columns_new(const tenter_config *config, columns **made,
                                  tenter_error *error) {
  for (size_t i = 0; i < config->column_count; i++) {
    tenter_status status =
        tenter__pattern_check(config->columns[i].name, config->columns[i].pattern, error);
    if (status != TENTER_OK)
      return status;
  }
  columns *patterns = tenter_alloc(1, sizeof *patterns);
  if (!patterns || !compile_all(patterns, config)) {
    tenter__columns_free(patterns);
    return tenter_fail_memory(error);
  }
  *made = patterns;
  return TENTER_OK;
}

void tenter__columns_free(columns *patterns) {
  if (!patterns)
    return;
  for (int role = 0; role < (int)ROLE_ROWS; role++)
    pcre2_code_free(patterns->built_in[role]);
  for (size_t i = 0; i < patterns->own_count; i++)
    pcre2_code_free(patterns->own[i]);
  tenter_free(patterns->own);
  pcre2_match_data_free(patterns->match);
  pcre2_match_context_free(patterns->limits);
  tenter_free(patterns);
}

/* ---- one header ----------------------------------------------------------------------------- */

/* A header cell in its parts. */
typedef struct heading {
  tenter_text text;         /* as it stands */
  char folded[FOLDED_SIZE]; /* lower case, without blanks, '_', '.' and brackets */
  size_t length;
  tenter_text unit; /* what stands in the last brackets */
} heading;

static char closing(char byte) {
  return byte == '(' ? ')' : byte == '[' ? ']' : byte == '{' ? '}' : '\0';
}

static void fold_heading(heading *h) {
  const char *at = h->text.start, *end = at + h->text.length;
  while (at < end) {
    char close = closing(*at);
    const char *to = close ? memchr(at, close, (size_t)(end - at)) : NULL;
    if (to) {
      h->unit = tenter_text_trim((tenter_text){at + 1, (size_t)(to - at - 1)});
      at = to + 1;
      continue;
    }
    char byte = *at++;
    if (byte == ' ' || byte == '\t' || byte == '_' || byte == '.' || h->length + 1 == FOLDED_SIZE)
      continue;
    h->folded[h->length++] = byte >= 'A' && byte <= 'Z' ? (char)(byte - 'A' + 'a') : byte;
  }
  h->folded[h->length] = '\0';
}

static heading heading_of(tenter_text text) {
  heading h = {.text = tenter_text_trim(text)};
  fold_heading(&h);
  if (h.length == 0 && h.unit.length > 0) { /* "(N/cm)" is all there is */
    tenter_text inner = h.unit;
    h = (heading){.text = inner};
    fold_heading(&h);
  }
  return h;
}

static bool matches(const columns *patterns, const pcre2_code *code, tenter_text text) {
  return pcre2_match(code, (PCRE2_SPTR)text.start, text.length, 0, 0, patterns->match,
                     patterns->limits) > 0;
}

/* The unit that a pattern found in the header, copied to text; an empty one where there is none. */
static tenter_text unit_group(const columns *patterns, char *text, PCRE2_SIZE size) {
  PCRE2_SIZE length = size;
  if (pcre2_substring_copy_byname(patterns->match, (PCRE2_SPTR) "unit", (PCRE2_UCHAR *)text,
                                  &length) != 0)
    length = 0;
  return (tenter_text){text, length};
}

static bool match_own(const columns *patterns, const tenter_config *config, const heading *h,
                      const number_layout *numbers, tenter_arena *arena, column *found) {
  for (size_t i = 0; i < patterns->own_count; i++) {
    tenter_text folded = {h->folded, h->length};
    if (!matches(patterns, patterns->own[i], h->text) &&
        !matches(patterns, patterns->own[i], folded))
      continue;
    const char *name = config->columns[i].name;
    found->role = role_named(name);
    found->own = true;
    if (found->role == ROLE_NONE)
      tenter__wide_read(tenter_text_of(name), numbers, arena, found);
    return true;
  }
  return false;
}

static bool match_built_in(const columns *patterns, const heading *h, column *found,
                           tenter_text *unit, char *unit_text, size_t unit_size) {
  found->role = role_named(h->folded);
  found->exact = found->role != ROLE_NONE;
  tenter_text folded = {h->folded, h->length};
  for (int role = 0; role < (int)ROLE_ROWS && found->role == ROLE_NONE; role++)
    if (matches(patterns, patterns->built_in[role], folded)) {
      found->role = (column_role)role;
      tenter_text group = unit_group(patterns, unit_text, unit_size);
      if (unit->length == 0)
        *unit = group;
    }
  return found->role != ROLE_NONE;
}

bool tenter__role_is_own(const columns *patterns, const tenter_config *config, column_role role) {
  for (size_t i = 0; i < patterns->own_count; i++)
    if (role_named(config->columns[i].name) == role)
      return true;
  return false;
}

uint32_t tenter__text_hash(const char *text, size_t length) { /* FNV-1a */
  uint32_t hash = 2166136261U;
  for (size_t i = 0; i < length; i++)
    hash = (hash ^ (unsigned char)text[i]) * 16777619U;
  return hash;
}

bool tenter__column_match(const columns *patterns, const tenter_config *config, tenter_text text,
                          const number_layout *numbers, tenter_arena *arena, column *found) {
  heading h = heading_of(text);
  tenter_text unit = h.unit;
  char unit_text[FOLDED_SIZE];
  *found = (column){.role = ROLE_NONE, .read_as = "", .multiply = 1, .divide = 1};
  found->hash = tenter__text_hash(h.folded, h.length);
  found->place.x = found->place.y = found->place.x_cm = found->place.y_cm = NAN;
  if (h.length > 0 && !match_own(patterns, config, &h, numbers, arena, found) &&
      !match_built_in(patterns, &h, found, &unit, unit_text, sizeof unit_text))
    tenter__wide_read(h.text, numbers, arena, found);
  found->header = tenter_arena_copy(arena, tenter_text_trim(text));
  found->unit = tenter_arena_copy(arena, unit);
  bool labelled = found->role != ROLE_CELL || !found->placed || found->place.label;
  return found->header && found->unit && labelled;
}

/* ---- wide columns --------------------------------------------------------------------------- */

/* The header without brackets, with blanks for '_', for '.' that is no decimal point, and for '-'
 * that is no sign of x,y. */
static size_t plain_words(tenter_text text, char *words, size_t size) {
  bool pair = memchr(text.start, ',', text.length) || memchr(text.start, ';', text.length);
  size_t length = 0;
  for (size_t i = 0; i < text.length && length + 1 < size; i++) {
    char byte = text.start[i], close = closing(byte);
    const char *to = close ? memchr(text.start + i, close, text.length - i) : NULL;
    if (to) {
      i = (size_t)(to - text.start);
      byte = ' ';
    }
    if (byte == '_' || byte == '\t' || (!pair && (byte == '.' || byte == '-')))
      byte = ' ';
    words[length++] = byte;
  }
  words[length] = '\0';
  return length;
}

static tenter_text first_word(tenter_text text) {
  const char *blank = memchr(text.start, ' ', text.length);
  return (tenter_text){text.start, blank ? (size_t)(blank - text.start) : text.length};
}

static tenter_text last_word(tenter_text text) {
  size_t at = text.length;
  while (at > 0 && text.start[at - 1] != ' ')
    at--;
  return (tenter_text){text.start + at, text.length - at};
}

/* A word that says the direction, or nothing but that this is a tension. */
static bool is_filler(tenter_text word, tenter_direction *direction) {
  tenter_direction read = tenter__direction_read(word);
  if (read == TENTER_WARP || read == TENTER_WEFT) {
    bool first = *direction == TENTER_DIRECTION_NONE;
    *direction = read;
    return first;
  }
  static const char *const words[] = {"tension", "reading", "value", "n/cm", "at", "in"};
  for (size_t i = 0; i < sizeof words / sizeof *words; i++)
    if (tenter_text_distance(word, tenter_text_of(words[i]), 0) == 0)
      return true;
  return false;
}

static bool is_plain_number(tenter_text text) {
  return text.length >= 1 && text.length <= 2 && text.start[0] >= '1' && text.start[0] <= '9' &&
         (text.length == 1 || (text.start[1] >= '0' && text.start[1] <= '9'));
}

bool tenter__wide_read(tenter_text text, const number_layout *numbers, tenter_arena *arena,
                       column *found) {
  char words[FOLDED_SIZE];
  tenter_text rest = {words, plain_words(text, words, sizeof words)};
  tenter_direction direction = TENTER_DIRECTION_NONE;
  rest = tenter_text_trim(rest);
  for (bool stripped = true; stripped && rest.length > 0;) {
    tenter_text first = first_word(rest), last = last_word(rest);
    stripped = true;
    if (is_filler(last, &direction))
      rest.length -= last.length;
    else if (is_filler(first, &direction))
      rest = (tenter_text){rest.start + first.length, rest.length - first.length};
    else
      stripped = false;
    rest = tenter_text_trim(rest);
  }
  tenter_position place;
  bool placed = rest.length > 0;
  if (placed && !tenter__place_read(rest, numbers, &place) && !is_plain_number(rest))
    return false;
  if (!placed && direction == TENTER_DIRECTION_NONE)
    return false;
  found->role = ROLE_CELL;
  found->direction = direction;
  found->placed = placed;
  if (placed) {
    place.label = arena ? tenter_arena_copy(arena, rest) : "";
    found->place = place;
  }
  return true;
}
