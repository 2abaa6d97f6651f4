/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pool of threads that share out numbered tasks. What a task computes must
 * depend on its number only, so that results do not depend on the number of threads. */
#ifndef TENTER_BASE_POOL_H
#define TENTER_BASE_POOL_H

#include <stddef.h>

#include "tenter/base/status.h"

typedef struct tenter_pool tenter_pool;

/* One task: context is the caller's; worker (0 .. threads - 1) names scratch space. */
typedef void tenter_task(void *context, size_t task, size_t worker);

/* A pool of threads workers, the caller's thread among them (0: as many as the machine has
 * processors). NULL when memory runs out; a thread that can't be started is done without. */
tenter_pool *tenter_pool_new(size_t threads);
void tenter_pool_free(tenter_pool *pool);
size_t tenter_pool_threads(const tenter_pool *pool); /* 1 for NULL */

/* Runs tasks 0 .. count - 1 and returns when all are done. A NULL pool runs them in turn
 * on the caller's thread. Not to be called from within a task. */
void tenter_pool_run(tenter_pool *pool, size_t count, tenter_task *run, void *context);

#endif
