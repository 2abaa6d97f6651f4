/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the telling of one screen (screen.c) and of many (stories.c). */
#ifndef TENTER_JUDGE_STORY_H
#define TENTER_JUDGE_STORY_H

#include "judge.h"
#include "tenter/judge/screen.h"

/* The mounting that a screen's story is of: the current one, else the last; an index. */
size_t judge__story_mounting(const tenter_shop *shop, uint32_t screen);

/* The story of one screen; lot: what the laws of the mesh and lot of that mounting are (copied; its
 * texts are borrowed). The review is only read. */
tenter_status judge__story(const tenter_review *review, uint32_t screen,
                           const tenter_screen_laws *lot, tenter_arena *arena,
                           tenter_screen_story **story, tenter_error *error);

#endif
