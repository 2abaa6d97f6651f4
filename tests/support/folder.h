/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Folders and files for tests, under the folder in which the test runs. */
#ifndef TEST_SUPPORT_FOLDER_H
#define TEST_SUPPORT_FOLDER_H

#include <stddef.h>

/* Removes path and all below it (links are not followed), then makes it as an empty folder. */
void test_fresh_folder(const char *path);

/* Writes string to a new file, or over an old one. */
void test_write_file(const char *path, const char *string);

/* Fails the running test unless the file holds string and nothing else. */
#define assert_file_holds(path, string) test_assert_file((path), (string), __FILE__, __LINE__)

void test_assert_file(const char *path, const char *string, const char *file, int line);

/* The number of entries of a folder ("/dev/fd": descriptors that are open). */
size_t test_count_entries(const char *path);

#endif
