/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter screen: one screen's whole story, or that of several. */
#include "tenter/judge/screen.h"
#include "command.h"
#include "tenter/base/alloc.h"

static int run(const command_call *call, tenter_error *error);

static const command_option options[] = {
    {"screen", "ID", "a screen to tell of (again and again)", command_take_screen},
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

/* ---- stories -------------------------------------------------------------------------------- */

typedef struct told {
  const tenter_review *review;
  tenter_arena *arena;
  uint32_t *screens;
  const tenter_screen_story **stories;
  size_t count;
} told;

/* The screens that are named; one named twice is told once. */
static tenter_status find_all(const command_call *call, const tenter_shop *shop, told *t,
                              tenter_error *error) {
  size_t names = tenter_names_count(shop->tables->names[TENTER_NAME_SCREEN]);
  bool *named = tenter_arena_alloc(t->arena, names, sizeof *named);
  t->screens = tenter_arena_alloc(t->arena, call->screen_count, sizeof *t->screens);
  t->stories = tenter_arena_alloc(t->arena, call->screen_count, sizeof *t->stories);
  if (!named || !t->screens || !t->stories)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < call->screen_count; i++) {
    uint32_t screen;
    tenter_status status = command_find_screen(shop, call->screens[i], &screen, error);
    if (status != TENTER_OK)
      return status;
    if (!named[screen])
      t->screens[t->count++] = screen;
    named[screen] = true;
  }
  return TENTER_OK;
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
  told t = {.arena = tenter_arena_new()};
  status = t.arena ? find_all(call, s.shop, &t, error) : tenter_fail_memory(error);
  if (status == TENTER_OK) /* the work of judging only for screens that there are */
    status = tenter_review_new(s.shop, true, s.pool, &review, error);
  t.review = review;
  if (status == TENTER_OK)
    status =
        tenter_screen_stories_new(review, t.screens, t.count, s.pool, t.arena, t.stories, error);
  if (status == TENTER_OK)
    status = report(call, &t, &s, error);
  tenter_arena_free(t.arena);
  tenter_review_free(review);
  command_shop_release(&s);
  return status;
}

static int run(const command_call *call, tenter_error *error) {
  command_call sorted;
  tenter_status status = command_sort_words(call, &sorted, error);
  if (status == TENTER_OK && sorted.screen_count == 0)
    status = tenter_fail(error, TENTER_USAGE,
                         "name a screen: tenter screen S-1 FILE or FOLDER..., or --screen S-1");
  if (status == TENTER_OK)
    status = command_need_files(&sorted, error);
  if (status == TENTER_OK)
    status = run_sorted(&sorted, error);
  tenter_free(sorted.screens);
  tenter_free(sorted.words);
  return (int)status;
}
