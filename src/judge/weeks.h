/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between review.c and weeks.c. */
#ifndef TENTER_JUDGE_WEEKS_H
#define TENTER_JUDGE_WEEKS_H

#include "judge.h"

/* How far a shop is judged. */
typedef enum judge_depth {
  JUDGE_KNOWLEDGE, /* what there is to know of lots and meshes, screens not */
  JUDGE_ACTIONS,   /* screens as well */
  JUDGE_ALL        /* and all that is not for past weeks: reasons in words, lots, stations ... */
} judge_depth;

/* Judges a shop without its past: what tenter_review_new does but for weeks, charts and
 * action_before. newer: see judge. Free with tenter_review_free. */
tenter_status judge__shop(const tenter_shop *shop, const judge *newer, judge_depth depth,
                          tenter_pool *pool, tenter_review **review, tenter_error *error);

/* Fills review->weeks, every screen's action_before and j->foreseen. O(weeks * sessions); of past
 * weeks see tenter_review_week. */
struct chart_scheme;
tenter_status judge__weeks(judge *j, const struct chart_scheme *scheme, tenter_error *error);

/* review->trends, after judge__weeks. */
tenter_status judge__trends(judge *j, tenter_error *error);

#endif
