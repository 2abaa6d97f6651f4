/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A set of files appears whole or not at all, and never through a link. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <signal.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "folder.h"
#include "tenter/base/output.h"

static void put(tenter_output *output, const char *name, const char *string) {
  tenter_buffer buffer = {0};
  tenter_buffer_text(&buffer, string);
  assert_int_equal(tenter_output_put(output, name, &buffer, NULL), TENTER_OK);
  tenter_buffer_release(&buffer);
}

static void a_set_appears_at_commit(void **state) {
  (void)state;
  test_fresh_folder("out");
  tenter_output *output;
  assert_int_equal(tenter_output_open("out/of/house/", &output, NULL), TENTER_OK);
  put(output, "a", "first");
  assert_int_equal(tenter_output_begin(output, "b", NULL), TENTER_OK);
  assert_int_equal(tenter_output_write(output, "sec", 3, NULL), TENTER_OK);
  assert_int_equal(tenter_output_write(output, "ond", 3, NULL), TENTER_OK);
  put(output, "empty", "");
  assert_int_equal(access("out/of/house/a", F_OK), -1);
  assert_int_equal(tenter_output_commit(output, NULL), TENTER_OK);
  tenter_output_free(output);
  assert_file_holds("out/of/house/a", "first");
  assert_file_holds("out/of/house/b", "second");
  assert_file_holds("out/of/house/empty", "");
  assert_int_equal(test_count_entries("out/of/house"), 3);
}

static void without_commit_nothing_changes(void **state) {
  (void)state;
  test_fresh_folder("out");
  test_write_file("out/a", "old");
  size_t open_before = test_count_entries("/dev/fd");
  tenter_output *output;
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "a", "new");
  put(output, "b", "new");
  assert_int_equal(test_count_entries("out"), 3);
  tenter_output_free(output);
  tenter_output_free(NULL);
  assert_int_equal(test_count_entries("out"), 1);
  assert_file_holds("out/a", "old");
  assert_int_equal(test_count_entries("/dev/fd"), open_before);
}

/* Temporary files of a run that was killed, with the process id that this one has. */
static void leftovers_are_not_in_the_way(void **state) {
  (void)state;
  test_fresh_folder("out");
  char leftover[64];
  snprintf(leftover, sizeof leftover, "out/.tenter-%ld-0-0.tmp", (long)getpid());
  test_write_file(leftover, "left");
  tenter_output *output;
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "a", "new");
  put(output, "b", "new too");
  assert_int_equal(tenter_output_commit(output, NULL), TENTER_OK);
  tenter_output_free(output);
  assert_file_holds("out/a", "new");
  assert_file_holds("out/b", "new too");
  assert_file_holds(leftover, "left");
}

static void assert_name_refused(const char *name, const char *word) {
  tenter_output *output;
  tenter_error error;
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "other", "x");
  assert_int_equal(tenter_output_begin(output, name, &error), TENTER_FAILED);
  assert_non_null(strstr(error.message, name));
  assert_non_null(strstr(error.message, word));
  tenter_output_free(output);
  assert_int_equal(access("out/other", F_OK), -1);
}

static void what_is_no_regular_file_is_not_written_to(void **state) {
  (void)state;
  test_fresh_folder("out");
  test_write_file("target", "precious");
  assert_int_equal(symlink("../target", "out/link"), 0);
  assert_int_equal(symlink("../missing", "out/dangling"), 0);
  assert_int_equal(mkdir("out/folder", 0777), 0);
  assert_int_equal(mkfifo("out/pipe", 0666), 0);
  assert_name_refused("link", "a link");
  assert_name_refused("dangling", "a link");
  assert_name_refused("folder", "a folder");
  assert_name_refused("pipe", "no regular file");
  assert_name_refused("../target", "name of a file");
  assert_name_refused("..", "name of a file");
  assert_name_refused("", "name of a file");
  assert_name_refused("other", "twice");
  assert_file_holds("target", "precious");
  assert_int_equal(test_count_entries("out"), 4);
}

/* The link comes while the file is being written. */
static void a_link_that_comes_late(void **state) {
  (void)state;
  test_fresh_folder("out");
  test_write_file("target", "precious");
  tenter_output *output;
  tenter_error error;
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "a", "x");
  put(output, "b", "y");
  assert_int_equal(symlink("../target", "out/b"), 0);
  assert_int_equal(tenter_output_commit(output, &error), TENTER_FAILED);
  tenter_output_free(output);
  assert_file_holds("target", "precious");
  assert_int_equal(test_count_entries("out"), 1); /* the link */
}

static void folders_that_cannot_be(void **state) {
  (void)state;
  test_fresh_folder("out");
  test_write_file("out/file", "x");
  tenter_output *output = NULL;
  tenter_error error;
  assert_int_not_equal(tenter_output_open("out/file", &output, &error), TENTER_OK);
  assert_non_null(strstr(error.message, "out/file"));
  assert_int_not_equal(tenter_output_open("out/file/below", &output, &error), TENTER_OK);
  assert_non_null(strstr(error.message, "out/file"));
  assert_int_equal(tenter_output_open("", &output, &error), TENTER_USAGE);
  assert_null(output);
  assert_file_holds("out/file", "x");
}

static void a_folder_that_is_read_only(void **state) {
  (void)state;
  test_fresh_folder("out");
  assert_int_equal(chmod("out", 0555), 0);
  uid_t user = geteuid();
  if (user == 0)
    assert_int_equal(seteuid(65534), 0); /* root may write anywhere */
  tenter_output *output = NULL;
  tenter_error error = {0}, below = {0};
  tenter_status opened = tenter_output_open("out", &output, NULL);
  tenter_status begun = opened == TENTER_OK ? tenter_output_begin(output, "a", &error) : opened;
  tenter_output_free(output);
  tenter_status made = tenter_output_open("out/below", &output, &below);
  if (user == 0)
    assert_int_equal(seteuid(0), 0);
  assert_int_equal(opened, TENTER_OK);
  assert_int_equal(begun, TENTER_FAILED);
  assert_non_null(strstr(error.message, "out/a"));
  assert_non_null(strstr(error.message, "Permission denied"));
  assert_int_equal(made, TENTER_FAILED);
  assert_non_null(strstr(below.message, "out/below"));
}

/* A limit on the size of files stands for a full disk. */
static void a_disk_that_fills_up(void **state) {
  (void)state;
  test_fresh_folder("out");
  test_write_file("out/a", "old");
  signal(SIGXFSZ, SIG_IGN);
  struct rlimit before, small;
  getrlimit(RLIMIT_FSIZE, &before);
  small = before;
  small.rlim_cur = 1000;
  tenter_output *output;
  tenter_error error;
  char bytes[700] = "";
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "b", "x");
  assert_int_equal(tenter_output_begin(output, "a", NULL), TENTER_OK);
  setrlimit(RLIMIT_FSIZE, &small);
  tenter_status first = tenter_output_write(output, bytes, sizeof bytes, NULL);
  tenter_status second = tenter_output_write(output, bytes, sizeof bytes, &error);
  setrlimit(RLIMIT_FSIZE, &before);
  assert_int_equal(first, TENTER_OK);
  assert_int_equal(second, TENTER_FAILED);
  assert_non_null(strstr(error.message, "out/a"));
  assert_non_null(strstr(error.message, "File too large"));
  tenter_output_free(output);
  assert_file_holds("out/a", "old");
  assert_int_equal(test_count_entries("out"), 1);
}

static void a_failed_buffer_is_not_written(void **state) {
  (void)state;
  test_fresh_folder("out");
  tenter_output *output;
  tenter_error error;
  tenter_buffer buffer = {.failed = true};
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  assert_int_equal(tenter_output_put(output, "a", &buffer, &error), TENTER_FAILED);
  assert_non_null(strstr(error.message, "memory"));
  assert_int_equal(tenter_output_commit(output, NULL), TENTER_FAILED);
  tenter_output_free(output);
  assert_int_equal(test_count_entries("out"), 0);
}

/* What failed can't be committed by somebody who did not look. */
static void a_failure_sticks(void **state) {
  (void)state;
  test_fresh_folder("out");
  assert_int_equal(mkdir("out/b", 0777), 0);
  tenter_output *output;
  tenter_error error;
  assert_int_equal(tenter_output_open("out", &output, NULL), TENTER_OK);
  put(output, "a", "x");
  assert_int_equal(tenter_output_begin(output, "b", NULL), TENTER_FAILED);
  assert_int_equal(tenter_output_write(output, "y", 1, &error), TENTER_FAILED);
  assert_int_equal(tenter_output_commit(output, &error), TENTER_FAILED);
  tenter_output_free(output);
  assert_int_equal(test_count_entries("out"), 1);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_set_appears_at_commit),
      cmocka_unit_test(without_commit_nothing_changes),
      cmocka_unit_test(leftovers_are_not_in_the_way),
      cmocka_unit_test(what_is_no_regular_file_is_not_written_to),
      cmocka_unit_test(a_link_that_comes_late),
      cmocka_unit_test(folders_that_cannot_be),
      cmocka_unit_test(a_folder_that_is_read_only),
      cmocka_unit_test(a_disk_that_fills_up),
      cmocka_unit_test(a_failed_buffer_is_not_written),
      cmocka_unit_test(a_failure_sticks),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
