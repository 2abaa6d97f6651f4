/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pool: every task once, whatever the number of threads; workers that stay. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <stdatomic.h>
#include <stdbool.h>

#include "tenter/base/pool.h"

enum { TASKS = 1000, RUNS = 200, MOST = 8 };

typedef struct tally {
  unsigned char hits[TASKS];
  size_t by_worker[MOST];
  atomic_bool stranger; /* a worker's number out of range */
  size_t workers;
} tally;

static void count_task(void *context, size_t task, size_t worker) {
  tally *into = context;
  into->hits[task]++;
  if (worker >= into->workers)
    atomic_store(&into->stranger, true);
  else
    into->by_worker[worker]++; /* a race where two threads had one number: seen by TSan and the sum
                                */
}

static void every_task_once(void **state) {
  (void)state;
  for (size_t threads = 1; threads <= MOST; threads++) {
    tenter_pool *pool = tenter_pool_new(threads);
    assert_non_null(pool);
    assert_int_equal(tenter_pool_threads(pool), threads);
    for (int run = 0; run < RUNS; run++) {
      tally into = {.workers = threads};
      size_t count = run % 3 == 0 ? TASKS : (size_t)run % 7, sum = 0;
      tenter_pool_run(pool, count, count_task, &into);
      for (size_t task = 0; task < TASKS; task++)
        assert_int_equal(into.hits[task], task < count);
      for (size_t worker = 0; worker < MOST; worker++)
        sum += into.by_worker[worker];
      assert_int_equal(sum, count);
      assert_false(atomic_load(&into.stranger));
    }
    tenter_pool_free(pool);
  }
}

static void no_pool_runs_in_turn(void **state) {
  (void)state;
  tally into = {.workers = 1};
  tenter_pool_run(NULL, TASKS, count_task, &into);
  assert_int_equal(into.by_worker[0], TASKS);
  assert_int_equal(tenter_pool_threads(NULL), 1);
  tenter_pool_free(NULL);
}

static void wait_for_others(void *context, size_t task, size_t worker) {
  (void)task;
  (void)worker;
  atomic_int *waiting = context;
  atomic_fetch_sub(waiting, 1);
  while (atomic_load(waiting) > 0) {
  }
}

/* Four tasks that end only when all four have begun: a pool that ran them in turn would hang. */
static void tasks_run_at_once(void **state) {
  (void)state;
  tenter_pool *pool = tenter_pool_new(4);
  atomic_int waiting = 4;
  tenter_pool_run(pool, 4, wait_for_others, &waiting);
  assert_int_equal(atomic_load(&waiting), 0);
  tenter_pool_free(pool);
}

static void sizes_of_pools(void **state) {
  (void)state;
  tenter_pool *pool = tenter_pool_new(0);
  assert_true(tenter_pool_threads(pool) >= 1);
  tenter_pool_free(pool);
  pool = tenter_pool_new(SIZE_MAX);
  assert_true(tenter_pool_threads(pool) >= 1 && tenter_pool_threads(pool) <= 1024);
  tenter_pool_free(pool);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_task_once),
      cmocka_unit_test(no_pool_runs_in_turn),
      cmocka_unit_test(tasks_run_at_once),
      cmocka_unit_test(sizes_of_pools),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
