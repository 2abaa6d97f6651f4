/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of kept limits: what is read, and what is refused with which words. Expected values are
 * those written into each file here. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/intake/limits.h"

static const char whole[] =
    "{\"stream\":\"service lot\",\"mesh\":null,\"of\":\"L-1\",\"unit\":\"sd\",\"centre\":-0.5,"
    "\"sigma\":1.25,\"sigma_freedom\":30.5,\"sigma_power\":1.6,\"centre_weight\":40,\"points\":41,"
    "\"robust\":true,\"within\":0.9,\"between\":0,\"from\":\"2026-01-05T00:00\","
    "\"to\":\"2026-06-30T12:30\"}";

static void write_text(const char *text) {
  FILE *file = fopen("kept.json", "w");
  assert_non_null(file);
  fputs(text, file);
  fclose(file);
}

static tenter_status read_text(const char *text, tenter_arena *arena, tenter_kept_limit **limits,
                               size_t *count, tenter_error *error) {
  write_text(text);
  return tenter_limits_read("kept.json", arena, limits, count, error);
}

static void test_what_was_written_is_read(void **state) {
  (void)state;
  char text[2048];
  tenter_arena *arena = tenter_arena_new();
  tenter_kept_limit *limits = NULL;
  size_t count = 0;
  tenter_error error;
  snprintf(text, sizeof text, "{\"limits\":[%s]}", whole);
  assert_int_equal(read_text(text, arena, &limits, &count, &error), TENTER_OK);
  assert_int_equal(count, 1);
  assert_string_equal(limits->stream, "service lot");
  assert_string_equal(limits->mesh, "");
  assert_string_equal(limits->key, "L-1");
  assert_close(limits->centre, -0.5, 0, 0);
  assert_close(limits->sigma, 1.25, 0, 0);
  assert_close(limits->freedom, 30.5, 0, 0);
  assert_close(limits->power, 1.6, 0, 0);
  assert_close(limits->centre_weight, 40, 0, 0);
  assert_int_equal(limits->points, 41);
  assert_true(limits->robust);
  assert_close(limits->within, 0.9, 0, 0);
  assert_close(limits->between, 0, 0, 0);
  char time[TENTER_TIME_SIZE];
  assert_string_equal(tenter_time_print(limits->to, time), "2026-06-30T12:30");
  tenter_arena_free(arena);
}

/* The whole entry with one piece of it put otherwise. */
static void with(char *text, size_t size, const char *piece, const char *instead) {
  const char *at = strstr(whole, piece);
  assert_non_null(at);
  snprintf(text, size, "{\"limits\":[%.*s%s%s]}", (int)(at - whole), whole, instead,
           at + strlen(piece));
}

static void test_each_wrong_value_is_named(void **state) {
  (void)state;
  static const char *const cases[][3] = {
      {"\"sigma\":1.25", "\"sigma\":0", "\"sigma\" should be a number above 0"},
      {"\"sigma\":1.25", "\"sigma\":\"1\"", "\"sigma\" should be"},
      {"\"centre\":-0.5", "\"centre\":null", "\"centre\" should be a number"},
      {"\"points\":41", "\"points\":1", "\"points\" should be a whole number"},
      {"\"points\":41", "\"points\":4.5", "\"points\" should be a whole number"},
      {"\"robust\":true", "\"robust\":1", "\"robust\" should be true or false"},
      {"\"of\":\"L-1\"", "\"of\":7", "\"of\" should be a text"},
      {"2026-06-30T12:30", "yesterday", "\"to\" should be a date"},
      {"\"between\":0,", "\"between\":-1,", "\"between\" should be"},
      {"\"sigma_freedom\":30.5,", "", "\"sigma_freedom\" should be"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char text[2048];
    tenter_arena *arena = tenter_arena_new();
    tenter_kept_limit *limits = NULL;
    size_t count = 0;
    tenter_error error = {0};
    with(text, sizeof text, cases[i][0], cases[i][1]);
    assert_int_equal(read_text(text, arena, &limits, &count, &error), TENTER_USAGE);
    if (!strstr(error.message, cases[i][2]) || !strstr(error.message, "kept.json") ||
        !strstr(error.message, "number 1"))
      fail_msg("case %zu: %s", i, error.message);
    tenter_arena_free(arena);
  }
}

static void test_files_that_hold_no_limits_are_refused(void **state) {
  (void)state;
  static const char *const texts[][2] = {
      {"", "not JSON"},
      {"{\"limits\":[", "not JSON"},
      {"[1]", "no kept limits"},
      {"{\"limits\":[]}", "no kept limits"},
      {"{\"limits\":{}}", "no kept limits"},
      {"{\"limits\":[3]}", "no object"},
      {"{\"limits\":[],\"limits\":[]}", "not JSON"},
  };
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    tenter_arena *arena = tenter_arena_new();
    tenter_kept_limit *limits = NULL;
    size_t count = 0;
    tenter_error error = {0};
    assert_int_equal(read_text(texts[i][0], arena, &limits, &count, &error), TENTER_USAGE);
    if (!strstr(error.message, texts[i][1]))
      fail_msg("text %zu: %s", i, error.message);
    tenter_arena_free(arena);
  }
}

static void test_two_of_one_chart_and_a_missing_file_are_refused(void **state) {
  (void)state;
  char text[2048];
  tenter_arena *arena = tenter_arena_new();
  tenter_kept_limit *limits = NULL;
  size_t count = 0;
  tenter_error error = {0};
  snprintf(text, sizeof text, "{\"limits\":[%s,%s]}", whole, whole);
  assert_int_equal(read_text(text, arena, &limits, &count, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "number 1 and 2 are of the same chart"));
  assert_int_equal(tenter_limits_read("none.json", arena, &limits, &count, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "none.json"));
  tenter_arena_free(arena);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_what_was_written_is_read),
      cmocka_unit_test(test_each_wrong_value_is_named),
      cmocka_unit_test(test_files_that_hold_no_limits_are_refused),
      cmocka_unit_test(test_two_of_one_chart_and_a_missing_file_are_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
