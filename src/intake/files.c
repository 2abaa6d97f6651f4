/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the words of a command line to open files. */
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "load.h"
#include "tenter/base/alloc.h"

/* Paths, in an arena's memory. */
typedef struct path_list {
  const char **paths;
  size_t count, room;
} path_list;

static bool add_path(path_list *list, const char *path) {
  if (list->count == list->room) {
    size_t room = list->room ? list->room * 2 : 64;
    const char **paths = tenter_resize(list->paths, room, sizeof *paths);
    if (!paths)
      return false;
    list->paths = paths;
    list->room = room;
  }
  list->paths[list->count++] = path;
  return true;
}

static bool is_table_name(const char *path) {
  static const char *const endings[] = {".csv", ".tsv", ".txt"};
  const char *slash = strrchr(path, '/');
  const char *name = slash ? slash + 1 : path;
  size_t length = strlen(name);
  if (name[0] == '.' || length < 4)
    return false;
  for (size_t i = 0; i < sizeof endings / sizeof *endings; i++)
    if (strcasecmp(name + length - 4, endings[i]) == 0)
      return true;
  return false;
}

static tenter_status add_folder(intake *all, const char *folder, path_list *list,
                                tenter_error *error) {
  char **entries;
  size_t count, before = list->count;
  tenter_status status = tenter_folder_list(folder, all->arena, &entries, &count, error);
  if (status != TENTER_OK)
    return status;
  for (size_t i = 0; i < count; i++) {
    tenter_path_kind kind = TENTER_PATH_FOLDER;
    if (is_table_name(entries[i]))
      status = tenter_path_look(entries[i], &kind, error);
    if (status == TENTER_OK && kind != TENTER_PATH_FOLDER && !add_path(list, entries[i]))
      status = tenter_fail_memory(error);
    if (status != TENTER_OK)
      return status;
  }
  if (list->count > before)
    return TENTER_OK;
  return tenter_fail(error, TENTER_INPUT,
                     "%s: no tables in this folder; looked for files that end in .csv, .tsv or "
                     ".txt (not in folders below it), found %zu other entr%s",
                     folder, count, count == 1 ? "y" : "ies");
}

static int by_bytes(const void *a, const void *b) {
  return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static tenter_status list_paths(intake *all, const char *const *words, size_t count,
                                path_list *list, tenter_error *error) {
  for (size_t i = 0; i < count; i++) {
    tenter_path_kind kind = TENTER_PATH_OTHER;
    tenter_status status = TENTER_OK;
    if (strcmp(words[i], "-") != 0)
      status = tenter_path_look(words[i], &kind, error);
    if (status == TENTER_OK && kind == TENTER_PATH_FOLDER)
      status = add_folder(all, words[i], list, error);
    else if (status == TENTER_OK && !add_path(list, words[i]))
      status = tenter_fail_memory(error);
    if (status != TENTER_OK)
      return status;
  }
  if (list->count > 0)
    qsort(list->paths, list->count, sizeof *list->paths, by_bytes);
  return TENTER_OK;
}

/* O(files squared) comparisons of two numbers each: files are few. */
static bool is_known(const intake *all, const tenter_file *file) {
  for (size_t i = 0; i < all->input_count; i++)
    if (tenter_file_same(all->inputs[i].file, file))
      return true;
  return false;
}

static tenter_status open_all(intake *all, const path_list *list, tenter_error *error) {
  all->inputs = tenter_alloc(list->count, sizeof *all->inputs);
  if (!all->inputs)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < list->count; i++) {
    tenter_file *file;
    if (i > 0 && strcmp(list->paths[i], list->paths[i - 1]) == 0)
      continue; /* standard input can be read once only */
    tenter_status status = tenter_file_open(list->paths[i], &file, error);
    if (status != TENTER_OK)
      return status;
    if (is_known(all, file)) {
      tenter_file_close(file);
      continue;
    }
    all->inputs[all->input_count++] =
        (input){.file = file, .name = tenter_file_name(file), .row_items = 1, .row_bytes = 1};
  }
  if (all->input_count < TENTER_NO_NAME16)
    return TENTER_OK;
  return tenter_fail(error, TENTER_INPUT, "%zu files: at most 65534 can be read at once",
                     all->input_count);
}

tenter_status tenter__files_open(intake *all, const char *const *paths, size_t count,
                                 tenter_error *error) {
  path_list list = {0};
  tenter_status status = list_paths(all, paths, count, &list, error);
  if (status == TENTER_OK && list.count == 0)
    status = tenter_fail(error, TENTER_INPUT, "no file or folder was named");
  if (status == TENTER_OK)
    status = open_all(all, &list, error);
  tenter_free(list.paths);
  return status;
}
