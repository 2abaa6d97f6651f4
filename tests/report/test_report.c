/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole reports of an invented shop with nasty names: widths, order, bytes, files. That the files
 * are what their formats ask for is seen by independent readers in tests/browser. */
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <wchar.h>

#include <cmocka.h>

#include "shared_shop.h"
#include "tenter/base/file.h"
#include "tenter/words/words.h"

static report_shop shop;
static const tenter_report_options options = {.version = "9.9.9"};

typedef tenter_status of_review(const tenter_review *, const tenter_report_options *, tenter_sink,
                                tenter_error *);

static char *review_as(of_review *report, const tenter_report_options *with) {
  tenter_buffer out = {0};
  assert_int_equal(report(shop.review, with, tenter_sink_to_buffer(&out), NULL), TENTER_OK);
  assert_non_null(tenter_buffer_string(&out));
  return out.bytes; /* freed with tenter_buffer_release of a copy */
}

static void drop(char *text) {
  tenter_buffer buffer = {.bytes = text};
  tenter_buffer_release(&buffer);
}

/* Width by the C library itself, in a UTF-8 locale. */
static int line_width(const char *line, size_t length) {
  wchar_t wide[512];
  char copy[1024];
  assert_true(length < sizeof copy);
  memcpy(copy, line, length);
  copy[length] = '\0';
  size_t count = mbstowcs(wide, copy, 512);
  assert_true(count != (size_t)-1 && count < 512);
  return wcswidth(wide, count);
}

static void check_page(const char *text) {
  for (const char *line = text; *line != '\0';) {
    size_t length = strcspn(line, "\n");
    int width = line_width(line, length); /* -1: something that doesn't print */
    if (width < 0 || width > 80)
      fail_msg("%d columns: %.*s", width, (int)length, line);
    line += length + (line[length] == '\n');
  }
}

static void text_keeps_to_the_page(void **state) {
  (void)state;
  char *text = review_as(tenter_report_review_text, &options);
  check_page(text);
  drop(text);
  text = review_as(tenter_report_lots_text, &options);
  check_page(text);
  drop(text);
  tenter_buffer out = {0};
  assert_int_equal(tenter_report_check_text(shop.shop, &options, tenter_sink_to_buffer(&out), NULL),
                   TENTER_OK);
  check_page(tenter_buffer_string(&out));
  tenter_buffer_release(&out);
}

/* The worst first; advice to raise tension comes with its caution. */
static void text_says_what_is_worst_first(void **state) {
  (void)state;
  char *text = review_as(tenter_report_review_text, &options);
  const char *todo = strstr(text, "What to do first"), *summary = strstr(text, "\nSummary\n");
  const char *withdraw = strstr(text, "TAKE OUT OF USE"), *restretch = strstr(text, "RE-STRETCH"),
             *reread = strstr(text, "READ AGAIN");
  assert_non_null(todo);
  assert_true(todo < withdraw && withdraw < restretch && restretch < reread && reread < summary);
  assert_non_null(strstr(text, "mesh maker’s maximum"));
  assert_int_equal(strncmp(tenter_say_text(TENTER_SAY_WHY_CAUTION), "Caution:", 8), 0);
  assert_null(strstr(text, "Caution:")); /* once, not in every row */
  drop(text);
}

static void json_is_the_same_for_any_threads(void **state) {
  (void)state;
  tenter_pool *pool = tenter_pool_new(3);
  tenter_report_options threaded = {.version = options.version, .pool = pool};
  char *one = review_as(tenter_report_review_json, &options);
  char *three = review_as(tenter_report_review_json, &threaded);
  assert_string_equal(one, three);
  drop(one);
  drop(three);
  tenter_pool_free(pool);
}

static void the_run_id_tells_runs_apart(void **state) {
  (void)state;
  char first[TENTER_RUN_SIZE], again[TENTER_RUN_SIZE];
  tenter_report_run_id(shop.shop, "1", first);
  tenter_report_run_id(shop.shop, "1", again);
  assert_string_equal(first, again);
  assert_int_equal(strlen(first), 16);
  tenter_report_run_id(shop.shop, "2", again);
  assert_string_not_equal(first, again);
  shop.config.settings.risk += 1e-9;
  tenter_report_run_id(shop.shop, "1", again);
  shop.config.settings = tenter_settings_default();
  assert_string_not_equal(first, again);
  shop.shop->as_of++;
  tenter_report_run_id(shop.shop, "1", again);
  shop.shop->as_of--;
  assert_string_not_equal(first, again);
}

static bool exists(const char *folder, const char *name) {
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return access(path, F_OK) == 0;
}

static void slurp(const char *folder, const char *name, tenter_buffer *buffer) {
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  assert_int_equal(tenter_file_slurp(path, SIZE_MAX, buffer, NULL), TENTER_OK);
  assert_non_null(tenter_buffer_string(buffer));
}

/* The eight files; review.json is what --format json prints; nothing nasty has run. */
static void the_files_of_a_review(void **state) {
  (void)state;
  static const char *const names[] = {"review.html",       "review.json",  "screens.csv",
                                      "lots.csv",          "worklist.csv", "worklist.ics",
                                      "reading-sheet.csv", "rejected.csv"};
  char note[TENTER_MESSAGE_SIZE];
  tenter_error error = {0};
  if (tenter_report_review_files(shop.review, &options, "out", note, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  assert_string_equal(note, "");
  for (size_t i = 0; i < sizeof names / sizeof *names; i++)
    assert_true(exists("out", names[i]));
  tenter_buffer json = {0};
  slurp("out", "review.json", &json);
  char *printed = review_as(tenter_report_review_json, &options);
  assert_string_equal(json.bytes, printed);
  drop(printed);
  tenter_buffer_release(&json);
  assert_int_not_equal(access("pwned", F_OK), 0);
}

/* The page on lots, its table and, the same as printed, its JSON; told in words without gnuplot. */
static void the_files_of_the_lots(void **state) {
  (void)state;
  char note[TENTER_MESSAGE_SIZE], *path = strdup(getenv("PATH"));
  assert_int_equal(tenter_report_lots_files(shop.review, &options, "lots", note, NULL), TENTER_OK);
  assert_string_equal(note, "");
  tenter_buffer file = {0};
  slurp("lots", "lots.html", &file);
  assert_non_null(strstr(file.bytes, "<svg"));
  assert_null(strstr(file.bytes, report_shop_nasty[0]));
  tenter_buffer_clear(&file);
  slurp("lots", "lots.json", &file);
  char *printed = review_as(tenter_report_lots_json, &options);
  assert_string_equal(file.bytes, printed);
  drop(printed);
  tenter_buffer_clear(&file);
  assert_int_equal(setenv("PATH", "/nowhere", 1), 0);
  assert_int_equal(tenter_report_lots_files(shop.review, &options, "lots", note, NULL), TENTER_OK);
  assert_int_equal(setenv("PATH", path, 1), 0);
  free(path);
  assert_non_null(strstr(note, "gnuplot"));
  slurp("lots", "lots.html", &file);
  assert_null(strstr(file.bytes, "<svg"));
  assert_non_null(strstr(file.bytes, "by its own screens alone"));
  tenter_buffer_release(&file);
  assert_true(exists("lots", "lots.csv"));
  assert_int_not_equal(access("pwned", F_OK), 0);
}

/* Without gnuplot the report is whole, says so, and tells the pictures in words. */
static void without_gnuplot(void **state) {
  (void)state;
  char note[TENTER_MESSAGE_SIZE];
  char *path = strdup(getenv("PATH"));
  assert_int_equal(setenv("PATH", "/nowhere", 1), 0);
  assert_int_equal(tenter_report_review_files(shop.review, &options, "bare", note, NULL),
                   TENTER_OK);
  assert_int_equal(setenv("PATH", path, 1), 0);
  free(path);
  assert_non_null(strstr(note, "gnuplot"));
  tenter_buffer page = {0};
  slurp("bare", "review.html", &page);
  assert_non_null(strstr(page.bytes, "The pictures are missing"));
  assert_non_null(strstr(page.bytes, "sessions, the latest at"));
  assert_null(strstr(page.bytes, "<svg"));
  tenter_buffer_release(&page);
}

static tenter_status full(void *context, const void *bytes, size_t length, tenter_error *error) {
  (void)bytes;
  size_t *left = context;
  if (length > *left)
    return tenter_fail(error, TENTER_FAILED, "disk full");
  *left -= length;
  return TENTER_OK;
}

static void a_sink_that_fails_is_an_error(void **state) {
  (void)state;
  for (size_t room = 0; room < 100000; room = room * 4 + 10) {
    size_t left = room;
    tenter_error error = {0};
    tenter_status status =
        tenter_report_review_json(shop.review, &options, (tenter_sink){full, &left}, &error);
    assert_int_equal(status, TENTER_FAILED);
    assert_string_equal(error.message, "disk full");
  }
}

static void the_files_of_a_check(void **state) {
  (void)state;
  assert_int_equal(tenter_report_check_files(shop.shop, &options, "checked", NULL), TENTER_OK);
  assert_true(exists("checked", "check.html"));
  assert_true(exists("checked", "check.json"));
  assert_true(exists("checked", "rejected.csv"));
}

static int make(void **state) {
  (void)state;
  setlocale(LC_CTYPE, "C.UTF-8");
  report_shop_make(&shop, 40, NULL);
  return 0;
}

static int release(void **state) {
  (void)state;
  report_shop_release(&shop);
  return 0;
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(text_keeps_to_the_page),
      cmocka_unit_test(text_says_what_is_worst_first),
      cmocka_unit_test(json_is_the_same_for_any_threads),
      cmocka_unit_test(the_run_id_tells_runs_apart),
      cmocka_unit_test(the_files_of_a_review),
      cmocka_unit_test(the_files_of_the_lots),
      cmocka_unit_test(without_gnuplot),
      cmocka_unit_test(a_sink_that_fails_is_an_error),
      cmocka_unit_test(the_files_of_a_check),
  };
  return cmocka_run_group_tests(tests, make, release);
}
