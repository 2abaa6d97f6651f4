/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ids of screens among the words of a command line. */
#include <string.h>

#include "command.h"
#include "tenter/base/alloc.h"
#include "tenter/base/file.h"

tenter_status command_take_screen(command_call *call, const char *argument, tenter_error *error) {
  if (!*argument)
    return tenter_fail(error, TENTER_USAGE, "--screen: expected the id of a screen");
  const char **ids = tenter_resize(call->screens, call->screen_count + 1, sizeof *ids);
  if (!ids)
    return tenter_fail_memory(error);
  call->screens = ids;
  ids[call->screen_count++] = argument;
  return TENTER_OK;
}

/* A word that is no file or folder. What looks like a path, or like the name of a table, stays a
 * file, so that a slip in a file's name is called that. */
static bool is_id(const char *word) {
  tenter_path_kind kind;
  tenter_error why;
  if (strcmp(word, "-") == 0 || tenter_path_look(word, &kind, &why) != TENTER_OK ||
      kind != TENTER_PATH_NOTHING)
    return false;
  const char *dot = strrchr(word, '.');
  bool table =
      dot && (strcmp(dot, ".csv") == 0 || strcmp(dot, ".tsv") == 0 || strcmp(dot, ".txt") == 0);
  return !strchr(word, '/') && !table;
}

tenter_status command_sort_words(const command_call *call, command_call *sorted,
                                 tenter_error *error) {
  *sorted = *call;
  sorted->word_count = 0;
  sorted->screens = tenter_alloc(call->screen_count + call->word_count + 1, sizeof *call->screens);
  sorted->words = tenter_alloc(call->word_count + 1, sizeof *call->words);
  if (!sorted->screens || !sorted->words)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < call->screen_count; i++)
    sorted->screens[i] = call->screens[i];
  for (size_t i = 0; i < call->word_count; i++)
    if (is_id(call->words[i]))
      sorted->screens[sorted->screen_count++] = call->words[i];
    else
      sorted->words[sorted->word_count++] = call->words[i];
  return TENTER_OK;
}

tenter_status command_need_files(const command_call *sorted, tenter_error *error) {
  if (sorted->word_count > 0)
    return TENTER_OK;
  if (sorted->screen_count == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "nothing to read: name the files, or the folder they are in");
  return tenter_fail(error, TENTER_USAGE,
                     "nothing to read: name the files, or the folder they are in (there is none "
                     "of the name %s)",
                     sorted->screens[sorted->screen_count - 1]);
}

tenter_status command_find_screen(const tenter_shop *shop, const char *id, uint32_t *screen,
                                  tenter_error *error) {
  const tenter_names *names = shop->tables->names[TENTER_NAME_SCREEN];
  *screen = tenter_names_find(names, tenter_text_of(id));
  if (*screen != TENTER_NO_NAME && shop->screens[*screen].mounting_count > 0)
    return TENTER_OK;
  if (*screen != TENTER_NO_NAME)
    return tenter_fail(error, TENTER_USAGE, "screen %s is not known yet at the time judged at", id);
  uint32_t nearest = tenter_names_nearest(names, tenter_text_of(id));
  if (nearest == TENTER_NO_NAME)
    return tenter_fail(error, TENTER_USAGE,
                       "no screen %s in these files, nor a file or folder of that name", id);
  return tenter_fail(error, TENTER_USAGE,
                     "no screen %s in these files, nor a file or folder of that name; the nearest "
                     "is %s",
                     id, tenter_names_get(names, nearest));
}
