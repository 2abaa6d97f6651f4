/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter screen: one screen's whole story, or that of several. */
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "tenter/base/alloc.h"
#include "tenter/base/file.h"
#include "tenter/judge/screen.h"

static int run(const command_call *call, tenter_error *error);

static tenter_status take_screen(command_call *call, const char *argument, tenter_error *error) {
  if (!*argument)
    return tenter_fail(error, TENTER_USAGE, "--screen: expected the id of a screen");
  const char **ids = tenter_resize(call->screens, call->screen_count + 1, sizeof *ids);
  if (!ids)
    return tenter_fail_memory(error);
  call->screens = ids;
  ids[call->screen_count++] = argument;
  return TENTER_OK;
}

static const command_option options[] = {
    {"screen", "ID", "a screen to tell of (again and again)", take_screen},
    {NULL, NULL, NULL, NULL}};

const command command_screen = {
    .name = "screen",
    .summary = "one screen's whole story: sessions, relaxation, laws, what to do",
    .words = "ID... ",
    .about = "Tells of each screen named what to do and why, whether it has left its law of\n"
             "relaxation and when, every session, the laws compared, where the latest session\n"
             "was read, and its events. A word that is no file or folder is an id; --screen\n"
             "takes ids that are the name of a file, too. With --out DIR it also writes\n"
             "screen.html and screen.json.",
    .options = options,
    .run = run,
};

/* ---- ids and files -------------------------------------------------------------------------- */

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

/* Ids and files of the call into lists of their own. */
static tenter_status sort_words(const command_call *call, command_call *sorted,
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
  if (sorted->screen_count == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "name a screen: tenter screen S-1 FILE or FOLDER..., or --screen S-1");
  if (sorted->word_count == 0)
    return tenter_fail(error, TENTER_USAGE,
                       "nothing to read: name the files, or the folder they are in (there is none "
                       "of the name %s)",
                       sorted->screens[sorted->screen_count - 1]);
  return TENTER_OK;
}

/* ---- stories -------------------------------------------------------------------------------- */

/* An id that no screen has is an error of the command line. */
static tenter_status find_screen(const tenter_shop *shop, const char *id, uint32_t *screen,
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

typedef struct told {
  const tenter_review *review;
  tenter_arena *arena;
  const tenter_screen_story **stories;
  size_t count;
} told;

static bool is_told(const told *t, uint32_t screen) {
  for (size_t i = 0; i < t->count; i++)
    if (t->stories[i]->screen == screen)
      return true;
  return false;
}

/* An id named twice is told once. */
static tenter_status tell_all(const command_call *call, told *t, tenter_error *error) {
  for (size_t i = 0; i < call->screen_count; i++) {
    uint32_t screen;
    tenter_screen_story *story;
    tenter_status status = find_screen(t->review->shop, call->screens[i], &screen, error);
    if (status == TENTER_OK && is_told(t, screen))
      continue;
    if (status == TENTER_OK)
      status = tenter_screen_story_new(t->review, screen, t->arena, &story, error);
    if (status != TENTER_OK)
      return status;
    t->stories[t->count++] = story;
  }
  return TENTER_OK;
}

static tenter_status find_all(const command_call *call, const tenter_shop *shop,
                              tenter_error *error) {
  tenter_status status = TENTER_OK;
  uint32_t screen;
  for (size_t i = 0; i < call->screen_count && status == TENTER_OK; i++)
    status = find_screen(shop, call->screens[i], &screen, error);
  return status;
}

static tenter_status report(const command_call *call, const told *t, const command_shop *s,
                            tenter_error *error) {
  tenter_report_options of = command_report_options(call, s);
  char note[TENTER_MESSAGE_SIZE] = "";
  tenter_status status = TENTER_OK;
  if (call->out) /* the files first: a closed pipe must not cost them */
    status =
        tenter_report_screens_files(t->review, t->stories, t->count, &of, call->out, note, error);
  if (status == TENTER_OK && *note)
    command_remark(call, "%s", note);
  if (status == TENTER_OK && call->out)
    command_remark(call, "the report is %s/screen.html", call->out);
  if (status != TENTER_OK)
    return status;
  return call->format == FORMAT_JSON ? tenter_report_screens_json(t->review, t->stories, t->count,
                                                                  &of, command_stdout(), error)
                                     : tenter_report_screens_text(t->review, t->stories, t->count,
                                                                  &of, command_stdout(), error);
}

static tenter_status run_sorted(const command_call *call, tenter_error *error) {
  command_shop s;
  tenter_review *review = NULL;
  tenter_status status = command_shop_open(call, &s, error);
  if (status != TENTER_OK)
    return status;
  status = find_all(call, s.shop, error); /* before the work of judging */
  if (status == TENTER_OK)
    status = tenter_review_new(s.shop, true, s.pool, &review, error);
  told t = {.review = review, .arena = tenter_arena_new()};
  if (t.arena)
    t.stories = tenter_arena_alloc(t.arena, call->screen_count, sizeof *t.stories);
  if (status == TENTER_OK && !t.stories)
    status = tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = tell_all(call, &t, error);
  if (status == TENTER_OK)
    status = report(call, &t, &s, error);
  tenter_arena_free(t.arena);
  tenter_review_free(review);
  command_shop_release(&s);
  return status;
}

static int run(const command_call *call, tenter_error *error) {
  command_call sorted;
  tenter_status status = sort_words(call, &sorted, error);
  if (status == TENTER_OK)
    status = run_sorted(&sorted, error);
  tenter_free(sorted.screens);
  tenter_free(sorted.words);
  return (int)status;
}
