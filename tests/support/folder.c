/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "folder.h"

#include <dirent.h>
#include <errno.h>
#include <ftw.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

static int remove_entry(const char *path, const struct stat *found, int kind, struct FTW *walk) {
  (void)found;
  (void)kind;
  (void)walk;
  return remove(path);
}

void test_fresh_folder(const char *path) {
  if (nftw(path, remove_entry, 16, FTW_DEPTH | FTW_PHYS) != 0 && errno != ENOENT)
    fail_msg("%s: %s", path, strerror(errno));
  if (mkdir(path, 0777) != 0)
    fail_msg("%s: %s", path, strerror(errno));
}

void test_write_file(const char *path, const char *string) {
  FILE *file = fopen(path, "wb");
  if (file == NULL)
    fail_msg("%s: %s", path, strerror(errno));
  size_t done = fwrite(string, 1, strlen(string), file);
  assert_int_equal(fclose(file), 0);
  assert_int_equal(done, strlen(string));
}

void test_assert_file(const char *path, const char *string, const char *file, int line) {
  char found[4096] = "";
  FILE *opened = fopen(path, "rb");
  if (opened == NULL) {
    print_error("%s: %s\n", path, strerror(errno));
    _fail(file, line);
    return;
  }
  size_t length = fread(found, 1, sizeof found - 1, opened);
  fclose(opened);
  if (length == strlen(string) && memcmp(found, string, length) == 0)
    return;
  print_error("%s holds \"%s\", not \"%s\"\n", path, found, string);
  _fail(file, line);
}

size_t test_count_entries(const char *path) {
  DIR *folder = opendir(path);
  assert_non_null(folder);
  size_t count = 0;
  for (const struct dirent *entry; (entry = readdir(folder)) != NULL;)
    count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
  closedir(folder);
  return count;
}
