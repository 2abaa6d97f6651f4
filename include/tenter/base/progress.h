/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A line on standard error that says how far a long run is: only on a terminal, only after a
 * second, wiped at the end. The library's callers pass NULL to have none. */
#ifndef TENTER_BASE_PROGRESS_H
#define TENTER_BASE_PROGRESS_H

#include <stdint.h>

typedef struct tenter_progress tenter_progress;

/* NULL when standard error is no terminal (all calls take NULL). */
tenter_progress *tenter_progress_new(void);

/* Says how much of stage is done; where total is 0, only the stage, a short text of one line.
 * Costs a look at the clock. Calls come from one thread. */
void tenter_progress_say(tenter_progress *progress, const char *stage, uint64_t done,
                         uint64_t total);
void tenter_progress_free(tenter_progress *progress); /* wipes the line */

#endif
