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
#include <time.h>

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

/* The caller's own tasks are done first. */
static void nap(void *context, size_t task, size_t worker) {
  (void)task;
  nanosleep(&(struct timespec){.tv_nsec = worker == 0 ? 1000000 : 30000000}, NULL);
  atomic_fetch_add((atomic_int *)context, 1);
}

static void a_run_ends_when_all_is_done(void **state) {
  (void)state;
  tenter_pool *pool = tenter_pool_new(3);
  for (int run = 0; run < 5; run++) {
    atomic_int done = 0;
    tenter_pool_run(pool, 20, nap, &done);
    assert_int_equal(atomic_load(&done), 20);
  }
  tenter_pool_free(pool);
}

typedef struct meeting {
  atomic_int waiting;
  atomic_uint present; /* a bit for each worker's number */
} meeting;

static void wait_for_others(void *context, size_t task, size_t worker) {
  (void)task;
  meeting *with = context;
  atomic_fetch_or(&with->present, 1U << worker);
  atomic_fetch_sub(&with->waiting, 1);
  while (atomic_load(&with->waiting) > 0) {
  }
}

/* Four tasks that end only when all four have begun: a pool that ran them in turn would hang.
 * Each has a worker's number to itself. */
static void tasks_run_at_once(void **state) {
  (void)state;
  tenter_pool *pool = tenter_pool_new(4);
  meeting with = {4, 0};
  tenter_pool_run(pool, 4, wait_for_others, &with);
  assert_int_equal(atomic_load(&with.present), 15);
  tenter_pool_free(pool);
}

static void mark(void *context, size_t task, size_t worker) {
  (void)worker;
  ((unsigned char *)context)[task]++;
}

/* Tasks so short that the threads are always at the counter. */
static void no_task_is_given_out_twice(void **state) {
  (void)state;
  enum { MANY = 2000000 };
  static unsigned char hits[MANY];
  tenter_pool *pool = tenter_pool_new(4);
  tenter_pool_run(pool, MANY, mark, hits);
  for (size_t task = 0; task < MANY; task++)
    assert_true(hits[task] == 1);
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
      cmocka_unit_test(no_task_is_given_out_twice),
      cmocka_unit_test(a_run_ends_when_all_is_done),
      cmocka_unit_test(sizes_of_pools),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
