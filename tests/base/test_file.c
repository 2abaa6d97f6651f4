/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading files: what is refused and how, standard input from a file and a pipe, folders. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <fcntl.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "folder.h"
#include "tenter/base/file.h"

static void assert_refused(const char *path, tenter_status status, const char *word) {
  tenter_file *file = NULL;
  tenter_error error;
  assert_int_equal(tenter_file_open(path, &file, &error), status);
  assert_null(file);
  assert_non_null(strstr(error.message, path));
  assert_non_null(strstr(error.message, word));
}

static void what_is_no_file_is_refused(void **state) {
  (void)state;
  test_fresh_folder("files");
  size_t open_before = test_count_entries("/dev/fd");
  assert_int_equal(mkfifo("files/pipe", 0666), 0);
  int fd = socket(AF_UNIX, SOCK_STREAM, 0);
  struct sockaddr_un address = {.sun_family = AF_UNIX, .sun_path = "files/socket"};
  assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
  close(fd);
  assert_int_equal(symlink("nothing", "files/dangling"), 0);
  assert_refused("files", TENTER_INPUT, "a folder");
  assert_refused("files/pipe", TENTER_INPUT, "a pipe"); /* and does not wait for a writer */
  assert_refused("files/socket", TENTER_INPUT, "a socket");
  assert_refused("/dev/zero", TENTER_INPUT, "a device");
  assert_refused("files/missing", TENTER_INPUT, "No such file");
  assert_refused("files/dangling", TENTER_INPUT, "No such file");
  assert_refused("", TENTER_INPUT, "can't be read");
  assert_int_equal(test_count_entries("/dev/fd"), open_before);
}

static void a_file_without_permission(void **state) {
  (void)state;
  test_fresh_folder("files");
  test_write_file("files/secret", "x");
  assert_int_equal(chmod("files/secret", 0), 0);
  uid_t user = geteuid();
  if (user == 0)
    assert_int_equal(seteuid(65534), 0); /* root may read all */
  tenter_error error;
  tenter_buffer buffer = {0};
  tenter_status status = tenter_file_slurp("files/secret", 9, &buffer, &error);
  if (user == 0)
    assert_int_equal(seteuid(0), 0);
  assert_int_equal(status, TENTER_INPUT);
  assert_non_null(strstr(error.message, "Permission denied"));
}

static void reading_pieces(void **state) {
  (void)state;
  test_fresh_folder("files");
  test_write_file("files/a", "0123456789");
  assert_int_equal(symlink("a", "files/link"), 0);
  tenter_file *file, *link, *other;
  assert_int_equal(tenter_file_open("files/a", &file, NULL), TENTER_OK);
  assert_string_equal(tenter_file_name(file), "files/a");
  assert_int_equal(tenter_file_size(file), 10);
  char bytes[20] = "";
  size_t got = 0;
  assert_int_equal(tenter_file_read(file, 3, bytes, 4, &got, NULL), TENTER_OK);
  assert_int_equal(got, 4);
  assert_memory_equal(bytes, "3456", 4);
  assert_int_equal(tenter_file_read(file, 8, bytes, 20, &got, NULL), TENTER_OK);
  assert_int_equal(got, 2);
  assert_int_equal(tenter_file_read(file, UINT64_MAX, bytes, 20, &got, NULL), TENTER_OK);
  assert_int_equal(got, 0);
  test_write_file("files/b", "0123456789");
  assert_int_equal(tenter_file_open("files/link", &link, NULL), TENTER_OK);
  assert_int_equal(tenter_file_open("files/b", &other, NULL), TENTER_OK);
  assert_true(tenter_file_same(file, link));
  assert_false(tenter_file_same(file, other));
  tenter_file_close(file);
  tenter_file_close(link);
  tenter_file_close(other);
  tenter_file_close(NULL);
}

static void a_file_that_changes_its_length(void **state) {
  (void)state;
  test_fresh_folder("files");
  test_write_file("files/a", "0123456789");
  tenter_file *file;
  assert_int_equal(tenter_file_open("files/a", &file, NULL), TENTER_OK);
  char bytes[20] = "";
  size_t got = 7;
  test_write_file("files/a", "0123456789 and more");
  assert_int_equal(tenter_file_read(file, 0, bytes, 20, &got, NULL), TENTER_OK);
  assert_int_equal(got, 10); /* what it held when it was opened */
  test_write_file("files/a", "012");
  tenter_error error;
  assert_int_equal(tenter_file_read(file, 0, bytes, 10, &got, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "files/a"));
  assert_non_null(strstr(error.message, "shorter"));
  tenter_file_close(file);
}

static void slurping(void **state) {
  (void)state;
  test_fresh_folder("files");
  test_write_file("files/a", "0123456789");
  test_write_file("files/empty", "");
  tenter_buffer buffer = {0};
  tenter_buffer_text(&buffer, "> ");
  assert_int_equal(tenter_file_slurp("files/a", 10, &buffer, NULL), TENTER_OK);
  assert_int_equal(tenter_file_slurp("files/empty", 0, &buffer, NULL), TENTER_OK);
  assert_string_equal(tenter_buffer_string(&buffer), "> 0123456789");
  tenter_error error;
  assert_int_equal(tenter_file_slurp("files/a", 9, &buffer, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "10 bytes"));
  assert_string_equal(tenter_buffer_string(&buffer), "> 0123456789");
  tenter_buffer_release(&buffer);
}

/* Runs body with standard input from fd. */
static void with_standard_input(int fd, void body(void)) {
  int kept = dup(STDIN_FILENO);
  assert_true(dup2(fd, STDIN_FILENO) == STDIN_FILENO);
  body();
  dup2(kept, STDIN_FILENO);
  close(kept);
}

static void expect_hello(void) {
  tenter_file *file;
  tenter_error error = {0};
  assert_int_equal(tenter_file_open("-", &file, &error), TENTER_OK);
  assert_string_equal(tenter_file_name(file), "standard input");
  assert_int_equal(tenter_file_size(file), 5);
  char bytes[5];
  size_t got;
  assert_int_equal(tenter_file_read(file, 0, bytes, 5, &got, NULL), TENTER_OK);
  assert_memory_equal(bytes, "hello", 5);
  tenter_file_close(file);
}

static void standard_input(void **state) {
  (void)state;
  test_fresh_folder("files");
  test_fresh_folder("spool");
  setenv("TMPDIR", "spool", 1);
  int ends[2];
  assert_int_equal(pipe(ends), 0);
  assert_int_equal(write(ends[1], "hello", 5), 5);
  close(ends[1]);
  with_standard_input(ends[0], expect_hello);
  close(ends[0]);
  assert_int_equal(test_count_entries("spool"), 0);
  test_write_file("files/a", "hello");
  int fd = open("files/a", O_RDONLY);
  with_standard_input(fd, expect_hello);
  close(fd);
  test_write_file("files/a", "say hello");
  fd = open("files/a", O_RDONLY);
  assert_int_equal(lseek(fd, 4, SEEK_SET), 4); /* somebody has read the head: not ours */
  with_standard_input(fd, expect_hello);
  close(fd);
}

static void expect_unspooled(void) {
  tenter_file *file;
  tenter_error error;
  assert_int_equal(tenter_file_open("-", &file, &error), TENTER_FAILED);
  assert_non_null(strstr(error.message, "no/such/folder"));
  assert_non_null(strstr(error.message, "TMPDIR"));
}

static void expect_unreadable(void) {
  tenter_file *file;
  tenter_error error;
  assert_int_equal(tenter_file_open("-", &file, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "standard input"));
}

static void standard_input_that_fails(void **state) {
  (void)state;
  int ends[2];
  assert_int_equal(pipe(ends), 0);
  close(ends[1]);
  setenv("TMPDIR", "no/such/folder", 1);
  with_standard_input(ends[0], expect_unspooled);
  close(ends[0]);
  unsetenv("TMPDIR");
  int folder = open(".", O_RDONLY);
  with_standard_input(folder, expect_unreadable);
  close(folder);
  int blind = open("/dev/null", O_WRONLY);
  with_standard_input(blind, expect_unreadable);
  close(blind);
}

static tenter_path_kind look(const char *path) {
  tenter_path_kind kind = TENTER_PATH_OTHER;
  assert_int_equal(tenter_path_look(path, &kind, NULL), TENTER_OK);
  return kind;
}

static void folders(void **state) {
  (void)state;
  test_fresh_folder("files");
  tenter_arena *arena = tenter_arena_new();
  char **paths;
  size_t count = 7;
  assert_int_equal(tenter_folder_list("files", arena, &paths, &count, NULL), TENTER_OK);
  assert_int_equal(count, 0);
  const char *const expected[] = {"files/.hidden", "files/B", "files/a", "files/\xC3\xA4"};
  for (size_t i = 4; i > 0; i--)
    test_write_file(expected[i - 1], "");
  assert_int_equal(tenter_folder_list("files/", arena, &paths, &count, NULL), TENTER_OK);
  assert_int_equal(count, 4);
  for (size_t i = 0; i < 4; i++)
    assert_string_equal(paths[i], expected[i]);
  tenter_error error;
  assert_int_equal(tenter_folder_list("files/a", arena, &paths, &count, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "files/a"));
  assert_int_equal(look("files"), TENTER_PATH_FOLDER);
  assert_int_equal(look("files/a"), TENTER_PATH_OTHER);
  assert_int_equal(look("files/c"), TENTER_PATH_NOTHING);
  assert_int_equal(look("files/a/c"), TENTER_PATH_NOTHING);
  assert_int_equal(symlink("ring", "files/ring"), 0);
  tenter_path_kind kind;
  assert_int_equal(tenter_path_look("files/ring", &kind, &error), TENTER_INPUT);
  assert_non_null(strstr(error.message, "files/ring"));
  assert_int_equal(remove("files/ring"), 0);
  assert_true(tenter_path_same("files", "./files/../files/"));
  assert_true(tenter_path_same("files/a", "./files/a"));
  assert_false(tenter_path_same("files", "files/a"));
  assert_false(tenter_path_same("files/a", "files/B"));
  assert_false(tenter_path_same("files/c", "files/c"));
  for (int i = 0; i < 200; i++) {
    char path[32];
    snprintf(path, sizeof path, "files/%03d", i);
    test_write_file(path, "");
  }
  assert_int_equal(tenter_folder_list("files", arena, &paths, &count, NULL), TENTER_OK);
  assert_int_equal(count, 204);
  assert_string_equal(paths[150], "files/149");
  tenter_arena_free(arena);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(what_is_no_file_is_refused),
      cmocka_unit_test(a_file_without_permission),
      cmocka_unit_test(reading_pieces),
      cmocka_unit_test(a_file_that_changes_its_length),
      cmocka_unit_test(slurping),
      cmocka_unit_test(standard_input),
      cmocka_unit_test(standard_input_that_fails),
      cmocka_unit_test(folders),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
