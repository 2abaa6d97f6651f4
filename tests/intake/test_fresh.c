/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Twenty sets of files made by somebody who had only the text of the interface, with an account of
 * their rows by a program of their own (fresh/account.py). Where the text leaves something open the
 * expectation holds null, and only what is sure binds. */
#include <jansson.h>

#include "intake_fixture.h"

#define FRESH TEST_DATA "/../fresh"

static const char *text_at(const json_t *object, const char *key) {
  return json_string_value(json_object_get(object, key));
}

static long long number_at(const json_t *object, const char *key) {
  const json_t *value = json_object_get(object, key);
  return json_is_integer(value) ? (long long)json_integer_value(value) : -1;
}

/* The source of a file; export-b.csv may go by the name of its link. */
static size_t find_source(const tenter_tables *t, const char *file) {
  for (int link = 0; link < 2; link++)
    for (size_t i = 0; i < t->source_count; i++) {
      const char *name = strrchr(t->sources[i].file, '/') + 1;
      size_t stem = strcspn(file, ".");
      if (strcmp(name, file) == 0 ||
          (link && strncmp(name, file, stem) == 0 && strcmp(name + stem, "-link.csv") == 0))
        return i;
    }
  fail_msg("%s was not read", file);
  return 0;
}

static bool is_rejected(const tenter_tables *t, size_t source, long long line) {
  for (size_t i = 0; i < t->problem_count; i++)
    if (t->problems[i].rejected && t->problems[i].row.file == source &&
        t->problems[i].row.line == line)
      return true;
  return false;
}

static void check_lines(const tenter_tables *t, size_t source, const json_t *lines,
                        const char *file) {
  size_t i;
  json_t *line;
  json_array_foreach(lines, i, line) if (!is_rejected(t, source, json_integer_value(line)))
      fail_msg("%s:%lld was not rejected", file, (long long)json_integer_value(line));
}

static void check_count(const json_t *expected, const char *key, uint64_t ours, const char *file) {
  long long wanted = number_at(expected, key);
  if (wanted >= 0 && (uint64_t)wanted != ours)
    fail_msg("%s: %s is %llu, not %lld", file, key, (unsigned long long)ours, wanted);
  char sure[40];
  snprintf(sure, sizeof sure, "sure_%s", key);
  long long least = number_at(expected, sure);
  if (least >= 0 && ours < (uint64_t)least)
    fail_msg("%s: %s is %llu, less than %lld", file, key, (unsigned long long)ours, least);
}

static void check_file(const tenter_tables *t, const json_t *expected) {
  const char *file = text_at(expected, "file"), *table = text_at(expected, "table");
  static const char *const tables[] = {"readings", "register", "events", "meter checks"};
  size_t source = find_source(t, file);
  const tenter_source *s = &t->sources[source];
  char ours[40];
  snprintf(ours, sizeof ours, "%s%s", tables[s->table],
           s->table == TENTER_TABLE_READINGS ? s->wide ? " wide" : " long" : "");
  assert_string_equal(ours, table);
  check_count(expected, "rows", s->rows, file);
  check_count(expected, "accepted", s->accepted, file);
  check_count(expected, "rejected", s->rejected, file);
  check_count(expected, "blank", s->blank, file);
  check_count(expected, "repeated", s->repeated, file);
  assert_int_equal(s->rows, s->accepted + s->rejected + s->blank + s->repeated);
  check_lines(t, source, json_object_get(expected, "rejected_lines"), file);
  check_lines(t, source, json_object_get(expected, "sure_rejected_lines"), file);
}

static void check_set(const json_t *set) {
  char path[1024];
  snprintf(path, sizeof path, "%s/sets/%s", FRESH, text_at(set, "name"));
  loaded l = load_path(path);
  long long status = number_at(set, "exit");
  if (status >= 0 && status != (long long)l.status)
    fail_msg("%s: status %d, not %lld: %s", path, (int)l.status, status,
             l.status ? l.error.message : "");
  size_t i;
  json_t *file;
  if (l.status == TENTER_OK)
    json_array_foreach(json_object_get(set, "files"), i, file) check_file(l.tables, file);
  unload(&l);
}

static void test_sets(void **state) {
  (void)state;
  json_error_t error;
  json_t *expected = json_load_file(FRESH "/expected.json", 0, &error);
  assert_non_null(expected);
  const json_t *sets = json_object_get(expected, "sets");
  assert_int_equal(json_array_size(sets), 20);
  size_t i;
  json_t *set;
  json_array_foreach(sets, i, set) check_set(set);
  json_decref(expected);
}

/* What the error of a refused set must say. */
static void test_refusals(void **state) {
  (void)state;
  static const char *const cases[][3] = {
      {"13-ambiguous-dates", "2026-03-02T08:15 as dmy, 2026-02-03T08:15 as mdy",
       "time_order = dmy"},
      {"14-empty-file", "nothing.csv", "empty"},
      {"15-header-only", "events.csv", "no row"},
      {"16-no-table", "paint.csv", "Paint, Litres, Price"},
      {"17-workbook", "tension.csv", "workbook"},
      {"18-duplicate-headers", "'tension' and 'Tension (N/cm)'", "[columns] tension"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char path[1024];
    snprintf(path, sizeof path, "%s/sets/%s", FRESH, cases[i][0]);
    loaded l = load_path(path);
    assert_int_equal(l.status, TENTER_INPUT);
    assert_non_null(strstr(l.error.message, cases[i][1]));
    assert_non_null(strstr(l.error.message, cases[i][2]));
    unload(&l);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_sets), cmocka_unit_test(test_refusals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
