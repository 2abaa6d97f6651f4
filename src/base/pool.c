/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Workers that stay. A run is a generation: the caller raises it, every worker wakes, takes task
 * numbers from one counter until none is left, and reports back; the caller does the same. */
#include "tenter/base/pool.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <unistd.h>

#include "tenter/base/alloc.h"

enum { MOST_THREADS = 256 };

typedef struct worker {
  tenter_pool *pool;
  size_t number;
  pthread_t thread;
} worker;

struct tenter_pool {
  pthread_mutex_t lock;
  pthread_cond_t begin, end;
  worker *workers; /* the caller's thread is number 0 and has no entry in use */
  size_t threads;
  size_t generation, busy; /* under lock, as is stop */
  bool stop;
  tenter_task *run; /* of this generation: set under lock before it is raised */
  void *context;
  size_t count;
  atomic_size_t next;
};

static void work(tenter_pool *pool, size_t number) {
  for (;;) {
    size_t task = atomic_fetch_add_explicit(&pool->next, 1, memory_order_relaxed);
    if (task >= pool->count)
      return;
    pool->run(pool->context, task, number);
  }
}

static void *worker_main(void *argument) {
  worker *self = argument;
  tenter_pool *pool = self->pool;
  size_t seen = 0;
  pthread_mutex_lock(&pool->lock);
  for (;;) {
    while (!pool->stop && pool->generation == seen)
      pthread_cond_wait(&pool->begin, &pool->lock);
    if (pool->stop)
      break;
    seen = pool->generation;
    pthread_mutex_unlock(&pool->lock);
    work(pool, self->number);
    pthread_mutex_lock(&pool->lock);
    if (--pool->busy == 0)
      pthread_cond_signal(&pool->end);
  }
  pthread_mutex_unlock(&pool->lock);
  return NULL;
}

/* Signals stay with the thread that made the pool. */
static void start_workers(tenter_pool *pool, size_t threads) {
  sigset_t all, old;
  sigfillset(&all);
  pthread_sigmask(SIG_SETMASK, &all, &old);
  while (pool->threads < threads) {
    worker *self = &pool->workers[pool->threads];
    *self = (worker){.pool = pool, .number = pool->threads};
    if (pthread_create(&self->thread, NULL, worker_main, self) != 0)
      break;
    pool->threads++;
  }
  pthread_sigmask(SIG_SETMASK, &old, NULL);
}

tenter_pool *tenter_pool_new(size_t threads) {
  if (threads == 0) {
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    threads = processors < 1 ? 1 : (size_t)processors;
  }
  if (threads > MOST_THREADS)
    threads = MOST_THREADS;
  tenter_pool *pool = tenter_alloc(1, sizeof *pool);
  worker *workers = tenter_alloc(threads, sizeof *workers);
  if (pool == NULL || workers == NULL) {
    tenter_free(pool);
    tenter_free(workers);
    return NULL;
  }
  pool->workers = workers;
  pool->threads = 1;
  pthread_mutex_init(&pool->lock, NULL);
  pthread_cond_init(&pool->begin, NULL);
  pthread_cond_init(&pool->end, NULL);
  start_workers(pool, threads);
  return pool;
}

void tenter_pool_free(tenter_pool *pool) {
  if (pool == NULL)
    return;
  pthread_mutex_lock(&pool->lock);
  pool->stop = true;
  pthread_cond_broadcast(&pool->begin);
  pthread_mutex_unlock(&pool->lock);
  for (size_t i = 1; i < pool->threads; i++)
    pthread_join(pool->workers[i].thread, NULL);
  pthread_cond_destroy(&pool->begin);
  pthread_cond_destroy(&pool->end);
  pthread_mutex_destroy(&pool->lock);
  tenter_free(pool->workers);
  tenter_free(pool);
}

size_t tenter_pool_threads(const tenter_pool *pool) {
  return pool == NULL ? 1 : pool->threads;
}

void tenter_pool_run(tenter_pool *pool, size_t count, tenter_task *run, void *context) {
  if (pool == NULL || pool->threads == 1 || count < 2) {
    for (size_t task = 0; task < count; task++)
      run(context, task, 0);
    return;
  }
  pthread_mutex_lock(&pool->lock);
  pool->run = run;
  pool->context = context;
  pool->count = count;
  atomic_store_explicit(&pool->next, 0, memory_order_relaxed);
  pool->busy = pool->threads - 1;
  pool->generation++;
  pthread_cond_broadcast(&pool->begin);
  pthread_mutex_unlock(&pool->lock);
  work(pool, 0);
  pthread_mutex_lock(&pool->lock);
  while (pool->busy > 0)
    pthread_cond_wait(&pool->end, &pool->lock);
  pthread_mutex_unlock(&pool->lock);
}
