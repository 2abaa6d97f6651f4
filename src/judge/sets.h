/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef TENTER_JUDGE_SETS_H
#define TENTER_JUDGE_SETS_H

#include "judge.h"

/* review->sets, from the forecasts of their screens. */
tenter_status judge__sets(judge *j, tenter_error *error);

/* review->lots (lots.c). */
tenter_status judge__lots(judge *j, tenter_error *error);

#endif
