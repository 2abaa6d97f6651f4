/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between reasons.c (the rows behind a reason) and reason_text.c (its sentence). */
#ifndef TENTER_JUDGE_REASON_TEXT_H
#define TENTER_JUDGE_REASON_TEXT_H

#include "actions.h"

/* What a sentence is made from. */
typedef struct telling {
  const judge *j;
  const tenter_review_screen *screen;
  const screen_inner *inner;
  const tenter_mounting *m;
  const session_doubt *doubt;
  const cause *cause;
  tenter_form form; /* of its numbers and dates */
} telling;

/* The sentence, with the caution where that is asked for, in the arena; NULL when memory runs out.
 * *differs: whether it would look otherwise in the form of reports. */
const char *judge__reason_text(const telling *t, bool caution, tenter_arena *arena, bool *differs);

#endif
