/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stories of many screens: first the laws of each mesh and lot among them, then the screens,
 * shared out to a pool. A task writes into its own place and arena only, and the arenas are adopted
 * in order. */
#include <stdlib.h>

#include "laws.h"
#include "story.h"
#include "tenter/base/alloc.h"

/* A mesh and lot, and what its laws are. */
typedef struct lot_task {
  uint32_t mesh, lot;
  tenter_screen_laws laws;
  tenter_arena *arena;
  tenter_status status;
  tenter_error error;
} lot_task;

typedef struct story_task {
  tenter_screen_story *story;
  tenter_arena *arena;
  tenter_status status;
  tenter_error error;
} story_task;

typedef struct telling_all {
  const tenter_review *review;
  const uint32_t *screens;
  lot_task *lots;
  size_t lot_count;
  story_task *tasks;
} telling_all;

static int compare_lots(const void *a, const void *b) {
  const lot_task *x = a, *y = b;
  if (x->mesh != y->mesh)
    return x->mesh < y->mesh ? -1 : 1;
  return (x->lot > y->lot) - (x->lot < y->lot);
}

static lot_task lot_of(const tenter_review *review, uint32_t screen) {
  const tenter_shop *shop = review->shop;
  const tenter_mounting *m = &shop->mountings[judge__story_mounting(shop, screen)];
  return (lot_task){.mesh = m->is.mesh, .lot = m->is.lot};
}

/* Each mesh and lot once. */
static void list_lots(telling_all *all, size_t count) {
  for (size_t i = 0; i < count; i++)
    all->lots[i] = lot_of(all->review, all->screens[i]);
  qsort(all->lots, count, sizeof *all->lots, compare_lots);
  for (size_t i = 0; i < count; i++)
    if (i == 0 || compare_lots(&all->lots[i], &all->lots[all->lot_count - 1]) != 0)
      all->lots[all->lot_count++] = all->lots[i];
}

static void fit_lot(void *context, size_t task, size_t worker) {
  const telling_all *all = context;
  lot_task *lot = &all->lots[task];
  (void)worker;
  lot->arena = tenter_arena_new();
  lot->status = lot->arena ? judge__lot_laws(all->review->judged, lot->mesh, lot->lot, lot->arena,
                                             &lot->laws, &lot->error)
                           : tenter_fail_memory(&lot->error);
}

static void tell_one(void *context, size_t task, size_t worker) {
  const telling_all *all = context;
  story_task *story = &all->tasks[task];
  lot_task key = lot_of(all->review, all->screens[task]);
  const lot_task *lot = bsearch(&key, all->lots, all->lot_count, sizeof *all->lots, compare_lots);
  (void)worker;
  story->arena = tenter_arena_new();
  story->status = story->arena ? judge__story(all->review, all->screens[task], &lot->laws,
                                              story->arena, &story->story, &story->error)
                               : tenter_fail_memory(&story->error);
}

/* Takes over what a task has made, and its error where it is the first. */
static void settle(tenter_arena *arena, tenter_arena *made, tenter_status of,
                   const tenter_error *why, tenter_status *status, tenter_error *error) {
  if (made)
    tenter_arena_adopt(arena, made);
  if (of == TENTER_OK || *status != TENTER_OK)
    return;
  *status = of;
  *error = *why;
}

static tenter_status tell_all(telling_all *all, size_t count, tenter_pool *pool,
                              tenter_arena *arena, const tenter_screen_story **stories,
                              tenter_error *error) {
  tenter_status status = TENTER_OK;
  list_lots(all, count);
  tenter_pool_run(pool, all->lot_count, fit_lot, all);
  for (size_t i = 0; i < all->lot_count; i++)
    settle(arena, all->lots[i].arena, all->lots[i].status, &all->lots[i].error, &status, error);
  if (status != TENTER_OK)
    return status;
  tenter_pool_run(pool, count, tell_one, all);
  for (size_t i = 0; i < count; i++) {
    settle(arena, all->tasks[i].arena, all->tasks[i].status, &all->tasks[i].error, &status, error);
    stories[i] = all->tasks[i].story;
  }
  return status;
}

tenter_status tenter_screen_stories_new(const tenter_review *review, const uint32_t *screens,
                                        size_t count, tenter_pool *pool, tenter_arena *arena,
                                        const tenter_screen_story **stories, tenter_error *error) {
  telling_all all = {.review = review,
                     .screens = screens,
                     .lots = tenter_alloc(count + 1, sizeof *all.lots),
                     .tasks = tenter_alloc(count + 1, sizeof *all.tasks)};
  tenter_status status = all.lots && all.tasks ? tell_all(&all, count, pool, arena, stories, error)
                                               : tenter_fail_memory(error);
  tenter_free(all.lots);
  tenter_free(all.tasks);
  return status;
}
