/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The config by inih, line by line through a reader of our own: inih cuts lines, section names and
 * joins indented lines without a word, and none of that may happen to a setting. */
#include "tenter/intake/config.h"

#include <ini.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "columns.h"
#include "tenter/base/alloc.h"
#include "tenter/base/file.h"
#include "tenter/intake/house.h"
#include "tenter/intake/sha256.h"
#include "values.h"

enum { MOST_CONFIG = 1 << 20, MOST_SECTION = 48 };

/* A key that was given, to refuse it a second time. */
typedef struct given {
  const char *section, *key;
} given;

typedef struct parser {
  tenter_config *config;
  tenter_arena *arena;
  const char *file;
  const char *at, *end; /* what is left of the bytes */
  unsigned line;
  given *givens;
  size_t given_count, spec_room, meter_room, column_room, given_room;
  tenter_status status;
  tenter_error *error;
} parser;

/* A key of [spec] or [meter]: a number within a range. */
typedef struct number_key {
  const char *key;
  size_t offset;
  double least, most;
} number_key;

#define SPEC(field, least, most)                                                                   \
  { #field, offsetof(tenter_spec, field), least, most }
#define METER(field, least, most)                                                                  \
  { #field, offsetof(tenter_meter_spec, field), least, most }

static const number_key spec_keys[] = {
    SPEC(target, 0.1, 1000),       SPEC(minus, 0, 1000),           SPEC(plus, 0, 1000),
    SPEC(floor, 0, 1000),          SPEC(coarse_floor, 0, 1000),    SPEC(maximum, 0.1, 1000),
    SPEC(evenness_point, 0, 1000), SPEC(evenness_spread, 0, 1000), SPEC(warp_weft, 0, 1000),
};

static const number_key meter_keys[] = {
    METER(resolution, 0.0001, 10),
    METER(expanded_uncertainty, 0.0001, 100),
    METER(coverage_factor, 1, 10),
    METER(checked_every_days, 0.1, 36500),
};

enum {
  SPEC_KEYS = sizeof spec_keys / sizeof *spec_keys,
  METER_KEYS = sizeof meter_keys / sizeof *meter_keys
};

/* ---- messages -------------------------------------------------------------------------------- */

static bool refuse(parser *p, const char *sentence) {
  if (p->status == TENTER_OK)
    p->status = tenter_fail(p->error, TENTER_USAGE, "%s:%u: %s", p->file, p->line, sentence);
  return false;
}

static bool refuse_memory(parser *p) {
  if (p->status == TENTER_OK)
    p->status = tenter_fail_memory(p->error);
  return false;
}

/* Keeps the nearest of names. */
typedef struct nearest {
  const char *text;
  const char *name;
  size_t distance;
} nearest;

static void offer(nearest *n, const char *name) {
  size_t distance = tenter_text_distance(tenter_text_of(n->text), tenter_text_of(name), 64);
  if (!n->name || distance < n->distance) {
    n->name = name;
    n->distance = distance;
  }
}

static bool refuse_unknown(parser *p, const char *what, const char *where, const nearest *n) {
  if (p->status == TENTER_OK)
    p->status = tenter_fail(p->error, TENTER_USAGE, "%s:%u: unknown %s '%s'%s; the nearest is '%s'",
                            p->file, p->line, what, n->text, where, n->name ? n->name : "");
  return false;
}

static bool refuse_section(parser *p, const char *section) {
  nearest n = {.text = section};
  for (size_t i = 0; i < tenter_setting_count; i++)
    offer(&n, tenter_setting_table[i].section);
  static const char *const others[] = {"columns", "spec", "mesh NAME", "meter NAME"};
  for (size_t i = 0; i < sizeof others / sizeof *others; i++)
    offer(&n, others[i]);
  return refuse_unknown(p, "section", "", &n);
}

/* ---- growing lists in the arena's place ------------------------------------------------------ */

static void *grow(parser *p, void *items, size_t count, size_t *room, size_t size) {
  if (count < *room)
    return items;
  size_t wider = *room ? *room * 2 : 8;
  void *moved = tenter_arena_alloc(p->arena, wider, size);
  if (!moved) {
    refuse_memory(p);
    return NULL;
  }
  if (count > 0)
    memcpy(moved, items, count * size);
  *room = wider;
  return moved;
}

static char *copy(parser *p, const char *text) {
  char *made = tenter_arena_copy(p->arena, tenter_text_trim(tenter_text_of(text)));
  if (!made)
    refuse_memory(p);
  return made;
}

static bool is_repeated(parser *p, const char *section, const char *key) {
  for (size_t i = 0; i < p->given_count; i++)
    if (strcmp(p->givens[i].section, section) == 0 && strcasecmp(p->givens[i].key, key) == 0)
      return true;
  given *givens = grow(p, p->givens, p->given_count, &p->given_room, sizeof *givens);
  const char *section_copy = copy(p, section), *key_copy = copy(p, key);
  if (!givens || !section_copy || !key_copy)
    return false; /* the status says it */
  p->givens = givens;
  p->givens[p->given_count++] = (given){section_copy, key_copy};
  return false;
}

/* ---- one key --------------------------------------------------------------------------------- */

static bool set_number(parser *p, const number_key *keys, size_t count, void *row, const char *key,
                       const char *value) {
  nearest n = {.text = key};
  for (size_t i = 0; i < count; i++) {
    offer(&n, keys[i].key);
    if (strcasecmp(keys[i].key, key) != 0)
      continue;
    double number;
    bool marked;
    if (tenter__number_read(tenter_text_of(value), '.', &number, &marked) == NUMBER_READ &&
        number >= keys[i].least && number <= keys[i].most) {
      *(double *)(void *)((char *)row + keys[i].offset) = number;
      return true;
    }
    const char *sentence = tenter_arena_print(
        p->arena, "%s = %s: expected a number from %g to %g with a decimal point", keys[i].key,
        value, keys[i].least, keys[i].most);
    return sentence ? refuse(p, sentence) : refuse_memory(p);
  }
  return refuse_unknown(p, "key", "", &n);
}

static bool set_setting(parser *p, const char *section, const char *key, const char *value) {
  nearest n = {.text = key};
  bool known = false;
  for (size_t i = 0; i < tenter_setting_count; i++) {
    const tenter_setting *setting = &tenter_setting_table[i];
    if (strcasecmp(setting->section, section) != 0)
      continue;
    known = true;
    offer(&n, setting->key);
    if (strcasecmp(setting->key, key) != 0)
      continue;
    tenter_error why;
    if (tenter_setting_set(&p->config->settings, setting, value, p->arena, &why) == TENTER_OK)
      return true;
    return refuse(p, why.message);
  }
  if (!known)
    return refuse_section(p, section);
  const char *where = tenter_arena_print(p->arena, " in [%s]", section);
  return where ? refuse_unknown(p, "key", where, &n) : refuse_memory(p);
}

static tenter_spec *spec_named(parser *p, const char *mesh) {
  tenter_config *c = p->config;
  for (size_t i = 0; i < c->spec_count; i++)
    if (strcmp(c->specs[i].mesh, mesh) == 0)
      return &c->specs[i];
  tenter_spec *specs = grow(p, c->specs, c->spec_count, &p->spec_room, sizeof *specs);
  const char *name = copy(p, mesh);
  if (!specs || !name)
    return NULL;
  c->specs = specs;
  tenter_spec *made = &specs[c->spec_count++];
  *made = tenter_spec_default();
  /* What a mesh does not say, [spec] does. */
  made->evenness_point = made->evenness_spread = made->warp_weft = NAN;
  made->mesh = name;
  return made;
}

static tenter_meter_spec *meter_named(parser *p, const char *meter) {
  tenter_config *c = p->config;
  for (size_t i = 0; i < c->meter_count; i++)
    if (strcmp(c->meters[i].name, meter) == 0)
      return &c->meters[i];
  tenter_meter_spec *meters = grow(p, c->meters, c->meter_count, &p->meter_room, sizeof *meters);
  const char *name = copy(p, meter);
  if (!meters || !name)
    return NULL;
  c->meters = meters;
  tenter_meter_spec *made = &meters[c->meter_count++];
  *made = (tenter_meter_spec){.name = name,
                              .resolution = NAN,
                              .expanded_uncertainty = NAN,
                              .coverage_factor = NAN,
                              .checked_every_days = NAN};
  return made;
}

static bool add_column(parser *p, const char *key, const char *value) {
  tenter_config *c = p->config;
  tenter_error why;
  tenter_status checked = tenter__pattern_check(key, value, &why);
  if (checked != TENTER_OK)
    return checked == TENTER_FAILED ? refuse_memory(p) : refuse(p, why.message);
  tenter_column_pattern *grown =
      grow(p, c->columns, c->column_count, &p->column_room, sizeof *grown);
  const char *name = copy(p, key), *pattern = copy(p, value);
  if (!grown || !name || !pattern)
    return false;
  c->columns = grown;
  c->columns[c->column_count++] = (tenter_column_pattern){name, pattern};
  return true;
}

/* The NAME of "mesh NAME"; NULL where the section is another. */
static const char *section_name(const char *section, const char *kind) {
  size_t length = strlen(kind);
  if (strncasecmp(section, kind, length) != 0 || (section[length] && section[length] != ' '))
    return NULL;
  return section + length + strspn(section + length, " ");
}

static bool take_key(parser *p, const char *section, const char *key, const char *value) {
  const char *mesh = section_name(section, "mesh"), *meter = section_name(section, "meter");
  if ((mesh && !*mesh) || (meter && !*meter))
    return refuse(p,
                  mesh ? "[mesh] needs a name: [mesh 120-34]" : "[meter] needs a name: [meter M1]");
  if (strcasecmp(section, "columns") == 0)
    return add_column(p, key, value);
  if (meter) {
    tenter_meter_spec *row = meter_named(p, meter);
    return row && set_number(p, meter_keys, METER_KEYS, row, key, value);
  }
  if (mesh || strcasecmp(section, "spec") == 0) {
    tenter_spec *row = mesh ? spec_named(p, mesh) : &p->config->specs[0];
    return row && set_number(p, spec_keys, SPEC_KEYS, row, key, value);
  }
  if (!*section)
    return refuse(p, "a key stands before the first [section]");
  return set_setting(p, section, key, value);
}

static int handle(void *user, const char *section, const char *key, const char *value) {
  parser *p = user;
  if (p->status != TENTER_OK)
    return 0;
  if (is_repeated(p, section, key))
    return refuse(p, "this key was given before in the same section");
  return p->status == TENTER_OK && take_key(p, section, key, value ? value : "");
}

/* ---- lines ----------------------------------------------------------------------------------- */

static const char not_a_line[] = "the line is no [section], no 'key = value' and no comment";

/* Whether inih will take the line as it is. */
static bool line_is_whole(parser *p, tenter_text line, int size) {
  if (line.length + 2 > (size_t)size)
    return refuse(p, "the line is longer than 198 bytes");
  if (memchr(line.start, '\0', line.length) || !tenter_text_is_utf8(line))
    return refuse(p, "the line is not UTF-8 text; save the file as UTF-8");
  tenter_text text = tenter_text_trim(line);
  if (text.length == 0 || *text.start == ';' || *text.start == '#')
    return true;
  bool section = *text.start == '[';
  const char *close = memchr(text.start, ']', text.length);
  if (section ? !close
              : !memchr(text.start, '=', text.length) && !memchr(text.start, ':', text.length))
    return refuse(p, not_a_line);
  if (section && close - text.start > MOST_SECTION)
    return refuse(p, "the section's name is longer than 47 bytes");
  return true;
}

/* inih's door to the text: one line without the blanks before it, or NULL at the end or where
 * something is wrong. */
static char *next_line(char *to, int size, void *stream) {
  parser *p = stream;
  if (p->at == p->end || p->status != TENTER_OK)
    return NULL;
  const char *stop = memchr(p->at, '\n', (size_t)(p->end - p->at));
  tenter_text line = {p->at, (size_t)((stop ? stop : p->end) - p->at)};
  p->at = stop ? stop + 1 : p->end;
  p->line++;
  if (!line_is_whole(p, line, size))
    return NULL;
  line = tenter_text_trim(line);
  if (line.length > 0)
    memcpy(to, line.start, line.length);
  memcpy(to + line.length, "\n", 2);
  return to;
}

static tenter_status parse(parser *p, tenter_text text) {
  p->at = text.start;
  p->end = text.start + text.length;
  if (text.length >= 3 && memcmp(p->at, "\xEF\xBB\xBF", 3) == 0)
    p->at += 3;
  int line = ini_parse_stream(next_line, p, handle, p);
  if (p->status == TENTER_OK && line != 0) {
    p->line = line > 0 ? (unsigned)line : 0;
    refuse(p, not_a_line);
  }
  return p->status;
}

/* ---- what belongs together ------------------------------------------------------------------- */

static tenter_status refuse_whole(const parser *p, const char *sentence) {
  return tenter_fail(p->error, TENTER_USAGE, "%s: %s", p->file, sentence);
}

/* Plain counts take the unit that [intake] count_unit gives, as in the data. */
static bool name_meshes(parser *p) {
  tenter_config *c = p->config;
  for (size_t i = 1; i < c->spec_count; i++) {
    char full[32];
    tenter_text mesh = tenter__mesh_text(tenter_text_of(c->specs[i].mesh), c->settings.count_unit,
                                         full, sizeof full);
    if (mesh.start == full && !(c->specs[i].mesh = tenter_arena_copy(p->arena, mesh)))
      return false;
  }
  return true;
}

static tenter_status check_spec(const parser *p, const tenter_spec *spec) {
  const char *name = *spec->mesh ? spec->mesh : "[spec]";
  if (spec->coarse_floor > spec->floor)
    return tenter_fail(p->error, TENTER_USAGE,
                       "%s: %s: coarse_floor %g is above floor %g; it is the lower one", p->file,
                       name, spec->coarse_floor, spec->floor);
  if (spec->floor > spec->target || spec->target > spec->maximum || spec->floor > spec->maximum)
    return tenter_fail(p->error, TENTER_USAGE,
                       "%s: %s: floor, target and maximum must rise in that order", p->file, name);
  return TENTER_OK;
}

static tenter_status check_whole(parser *p) {
  const tenter_settings *s = &p->config->settings;
  number_layout numbers;
  const char *wrong = tenter__layout_read(s->layout, p->arena, &numbers);
  if (wrong && !*wrong)
    return tenter_fail_memory(p->error);
  if (wrong)
    return tenter_fail(p->error, TENTER_USAGE,
                       "%s: [intake] layout: '%s' is no place; write for example NW, N, NE, W, C, "
                       "E, SW, S, SE",
                       p->file, wrong);
  if (s->least_tension >= s->most_tension)
    return refuse_whole(p, "[intake] least_tension is not below most_tension");
  if (s->least_year > s->most_year)
    return refuse_whole(p, "[intake] least_year is above most_year");
  for (size_t i = 0; i < p->config->spec_count; i++) {
    tenter_status status = check_spec(p, &p->config->specs[i]);
    if (status != TENTER_OK)
      return status;
  }
  return name_meshes(p) ? tenter_house_read(p->config, p->arena, p->error)
                        : tenter_fail_memory(p->error);
}

static tenter_status read_bytes(parser *p, const tenter_buffer *bytes) {
  tenter_text text = {bytes->bytes ? bytes->bytes : "", bytes->length};
  if (!tenter_sha256_of(text.start, text.length, p->config->sha256))
    return tenter_fail_memory(p->error);
  tenter_status status = parse(p, text);
  return status == TENTER_OK ? check_whole(p) : status;
}

/* ---- which file ------------------------------------------------------------------------------ */

/* The tenter.ini beside a word of the command line, in the arena, or NULL where there is none. */
static tenter_status beside(const char *word, tenter_arena *arena, const char **path,
                            tenter_error *error) {
  const char *slash = strrchr(word, '/');
  tenter_path_kind kind;
  *path = NULL;
  tenter_status status = tenter_path_look(word, &kind, error);
  if (status != TENTER_OK)
    return status;
  const char *found;
  if (kind == TENTER_PATH_FOLDER)
    found = tenter_arena_print(arena, "%s%stenter.ini", word, slash && !slash[1] ? "" : "/");
  else if (!slash)
    found = tenter_arena_print(arena, "tenter.ini");
  else
    found = tenter_arena_print(arena, "%.*stenter.ini", (int)(slash - word + 1), word);
  if (!found)
    return tenter_fail_memory(error);
  if (tenter_path_look(found, &kind, NULL) != TENTER_OK || kind != TENTER_PATH_NOTHING)
    *path = found; /* where it can't be looked at, reading it says why */
  return TENTER_OK;
}

static tenter_status same_file(const char *a, const char *b, bool *same, tenter_error *error) {
  tenter_file *one = NULL, *two = NULL;
  tenter_status status = tenter_file_open(a, &one, error);
  if (status == TENTER_OK)
    status = tenter_file_open(b, &two, error);
  *same = status == TENTER_OK && tenter_file_same(one, two);
  tenter_file_close(one);
  tenter_file_close(two);
  if (status == TENTER_INPUT && error)
    error->status = TENTER_USAGE;
  return status == TENTER_INPUT ? TENTER_USAGE : status;
}

static tenter_status find_file(const char *const *words, size_t count, tenter_arena *arena,
                               const char **found, tenter_error *error) {
  *found = NULL;
  for (size_t i = 0; i < count; i++) {
    if (strcmp(words[i], "-") == 0)
      continue;
    const char *path;
    tenter_status status = beside(words[i], arena, &path, error);
    if (status != TENTER_OK)
      return status;
    if (!path || (*found && strcmp(*found, path) == 0))
      continue;
    bool same = !*found;
    status = same ? TENTER_OK : same_file(*found, path, &same, error);
    if (status != TENTER_OK)
      return status;
    if (!same)
      return tenter_fail(error, TENTER_USAGE,
                         "there are two configs, %s and %s; say which one holds with --config FILE",
                         *found, path);
    *found = *found ? *found : path;
  }
  return TENTER_OK;
}

static tenter_status read_file(parser *p) {
  tenter_buffer bytes = {0};
  tenter_status status = tenter_file_slurp(p->file, MOST_CONFIG, &bytes, p->error);
  if (status == TENTER_INPUT)
    status = TENTER_USAGE; /* the config is not the input */
  if (status == TENTER_USAGE && p->error)
    p->error->status = status;
  if (status == TENTER_OK)
    status = read_bytes(p, &bytes);
  tenter_buffer_release(&bytes);
  return status;
}

tenter_status tenter_config_read(const char *path, const char *const *words, size_t count,
                                 tenter_arena *arena, tenter_config *config, tenter_error *error) {
  *config = (tenter_config){.file = "", .settings = tenter_settings_default()};
  parser p = {.config = config, .arena = arena, .error = error};
  config->specs = grow(&p, NULL, 0, &p.spec_room, sizeof *config->specs);
  if (!config->specs)
    return p.status;
  config->specs[0] = tenter_spec_default();
  config->spec_count = 1;
  tenter_status status = path ? TENTER_OK : find_file(words, count, arena, &path, error);
  if (status != TENTER_OK || !path)
    return status;
  p.file = config->file = copy(&p, path);
  return p.file ? read_file(&p) : p.status;
}
