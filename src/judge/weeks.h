/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between review.c and weeks.c. */
#ifndef TENTER_JUDGE_WEEKS_H
#define TENTER_JUDGE_WEEKS_H

#include "judge.h"

/* Judges a shop without its past: what tenter_review_new does but for weeks and action_before.
 * newer: see judge; texts: whether reasons are put into words. Free with tenter_review_free. */
tenter_status judge__shop(const tenter_shop *shop, const judge *newer, bool texts,
                          tenter_pool *pool, tenter_review **review, tenter_error *error);

/* Fills review->weeks, every screen's action_before and j->foreseen. */
tenter_status judge__weeks(judge *j, tenter_error *error);

/* review->trends, after judge__weeks. */
tenter_status judge__trends(judge *j, tenter_error *error);

#endif
