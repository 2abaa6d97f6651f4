/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The laws of relaxation compared on the sessions of a lot, or of one mounting. */
#ifndef TENTER_JUDGE_LAWS_H
#define TENTER_JUDGE_LAWS_H

#include "judge.h"
#include "tenter/judge/screen.h"
#include "tenter/stats/laws.h"

/* Fits all laws to the last levels of the mountings of a mesh and lot (TENTER_NO_NAME: of any lot)
 * together, each mounting with its own linear parameters, and chooses: what the lot alone says. */
tenter_status judge__lot_laws(const judge *j, uint32_t mesh, uint32_t lot, tenter_arena *arena,
                              tenter_screen_laws *laws, tenter_error *error);

/* The same of sessions [begin, end) of one mounting. */
tenter_status judge__own_laws(const judge *j, size_t begin, size_t end, tenter_arena *arena,
                              tenter_screen_laws *laws, tenter_error *error);

#endif
