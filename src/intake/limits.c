/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kept limits by jansson. Every entry is checked before any is used: limits that were edited by
 * hand must not judge in silence. */
#include "tenter/intake/limits.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "tenter/base/alloc.h"
#include "tenter/base/buffer.h"
#include "tenter/base/file.h"

enum { MOST_BYTES = 64 << 20 };

/* One entry while it is read. */
typedef struct entry {
  const char *file;
  size_t number; /* from 1 */
  json_t *object;
  tenter_arena *arena;
  tenter_error *error;
  tenter_status status;
} entry;

static void refuse(entry *e, const char *key, const char *expected) {
  if (e->status == TENTER_OK)
    e->status =
        tenter_fail(e->error, TENTER_USAGE, "%s: kept limits number %zu: \"%s\" should be %s",
                    e->file, e->number, key, expected);
}

/* "": the key is null. */
static const char *take_text(entry *e, const char *key) {
  json_t *value = json_object_get(e->object, key);
  if (json_is_null(value))
    return "";
  if (!json_is_string(value)) {
    refuse(e, key, "a text or null");
    return "";
  }
  char *text = tenter_arena_copy(
      e->arena, (tenter_text){json_string_value(value), json_string_length(value)});
  if (!text && e->status == TENTER_OK)
    e->status = tenter_fail_memory(e->error);
  return text ? text : "";
}

static double take_number(entry *e, const char *key, double least, bool may_miss) {
  json_t *value = json_object_get(e->object, key);
  if (may_miss && json_is_null(value))
    return NAN;
  double number = json_is_number(value) ? json_number_value(value) : NAN;
  if (!isfinite(number) || number < least) {
    refuse(e, key, least > 0 ? "a number above 0" : "a number");
    return 1;
  }
  return number;
}

static tenter_time take_time(entry *e, const char *key) {
  json_t *value = json_object_get(e->object, key);
  tenter_when when = {.at = TENTER_NO_TIME};
  const char *text = json_is_string(value) ? json_string_value(value) : "";
  if (!tenter_when_parse_iso(tenter_text_of(text), &when))
    refuse(e, key, "a date and time such as 2026-11-15T18:00");
  return when.at;
}

static void take_entry(entry *e, tenter_kept_limit *limit) {
  static const double above_0 = 1e-300;
  *limit = (tenter_kept_limit){.stream = take_text(e, "stream"),
                               .mesh = take_text(e, "mesh"),
                               .key = take_text(e, "of"),
                               .centre = take_number(e, "centre", -1e300, false),
                               .sigma = take_number(e, "sigma", above_0, false),
                               .freedom = take_number(e, "sigma_freedom", above_0, false),
                               .power = take_number(e, "sigma_power", above_0, false),
                               .centre_weight = take_number(e, "centre_weight", above_0, false),
                               .within = take_number(e, "within", above_0, true),
                               .between = take_number(e, "between", 0, true),
                               .from = take_time(e, "from"),
                               .to = take_time(e, "to")};
  double points = take_number(e, "points", above_0, false);
  if (!(points >= 2 && points <= 1e9 && points == floor(points)))
    refuse(e, "points", "a whole number of at least 2");
  else
    limit->points = (size_t)points;
  json_t *robust = json_object_get(e->object, "robust");
  if (!json_is_boolean(robust))
    refuse(e, "robust", "true or false");
  limit->robust = json_is_true(robust);
}

static bool same_chart(const tenter_kept_limit *a, const tenter_kept_limit *b) {
  return strcmp(a->stream, b->stream) == 0 && strcmp(a->mesh, b->mesh) == 0 &&
         strcmp(a->key, b->key) == 0;
}

static tenter_status take_all(const char *path, json_t *list, tenter_arena *arena,
                              tenter_kept_limit *limits, tenter_error *error) {
  for (size_t i = 0; i < json_array_size(list); i++) {
    entry e = {path, i + 1, json_array_get(list, i), arena, error, TENTER_OK};
    if (!json_is_object(e.object))
      return tenter_fail(error, TENTER_USAGE, "%s: kept limits number %zu are no object", path,
                         i + 1);
    take_entry(&e, &limits[i]);
    if (e.status != TENTER_OK)
      return e.status;
    for (size_t k = 0; k < i; k++)
      if (same_chart(&limits[k], &limits[i]))
        return tenter_fail(error, TENTER_USAGE,
                           "%s: kept limits number %zu and %zu are of the same chart", path, k + 1,
                           i + 1);
  }
  return TENTER_OK;
}

static tenter_status read_root(const char *path, json_t *root, tenter_arena *arena,
                               tenter_kept_limit **limits, size_t *count, tenter_error *error) {
  json_t *list = json_object_get(root, "limits");
  if (!json_is_array(list) || json_array_size(list) == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "%s holds no kept limits: expected a file that tenter charts --freeze wrote",
                       path);
  *count = json_array_size(list);
  *limits = tenter_arena_alloc(arena, *count, sizeof **limits);
  return *limits ? take_all(path, list, arena, *limits, error) : tenter_fail_memory(error);
}

tenter_status tenter_limits_read(const char *path, tenter_arena *arena, tenter_kept_limit **limits,
                                 size_t *count, tenter_error *error) {
  tenter_buffer bytes = {0};
  tenter_error why;
  json_error_t where;
  tenter_status status = tenter_file_slurp(path, MOST_BYTES, &bytes, &why);
  if (status != TENTER_OK) {
    tenter_buffer_release(&bytes);
    return tenter_fail(error, status == TENTER_INPUT ? TENTER_USAGE : status, "%s", why.message);
  }
  json_t *root =
      json_loadb(bytes.length > 0 ? bytes.bytes : "", bytes.length, JSON_REJECT_DUPLICATES, &where);
  tenter_buffer_release(&bytes);
  if (!root)
    return tenter_fail(error, TENTER_USAGE, "%s:%d: not JSON: %s", path, where.line, where.text);
  status = read_root(path, root, arena, limits, count, error);
  json_decref(root);
  return status;
}
