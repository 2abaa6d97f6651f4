/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole way of a load. */
#include "tenter/intake/load.h"

#include "load.h"
#include "tenter/base/alloc.h"

static tenter_status prepare(intake *all, tenter_error *error) {
  const tenter_settings *s = all->settings;
  tenter_date first = {.year = s->least_year, .month = 1, .day = 1};
  tenter_date last = {.year = s->most_year + 1, .month = 1, .day = 1};
  tenter_time now = tenter_clock_now();
  all->least_at = tenter_time_of(&first);
  all->most_at = tenter_time_of(&last);
  all->now_limit = now == TENTER_NO_TIME ? all->most_at : now + TENTER_DAY;
  all->arena = tenter_arena_new();
  all->worker_count = tenter_pool_threads(all->pool);
  all->workers = tenter_alloc(all->worker_count, sizeof(void *));
  if (!all->arena || !all->workers)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < all->worker_count; i++)
    if (!(all->workers[i] = tenter__worker_new()))
      return tenter_fail_memory(error);
  const char *wrong = tenter__layout_read(s->layout, all->arena, &all->numbers);
  if (wrong && !*wrong)
    return tenter_fail_memory(error);
  if (wrong)
    return tenter_fail(error, TENTER_USAGE, "[intake] layout: '%s' is no place", wrong);
  return tenter__columns_new(all->config, &all->patterns, error);
}

static void release(intake *all) {
  for (size_t i = 0; i < all->input_count; i++) {
    input *in = &all->inputs[i];
    tenter__chunks_free(in);
    tenter__hasher_free(in->hasher);
    for (size_t k = 0; in->lexicons && k < all->worker_count; k++)
      tenter__lexicon_free(in->lexicons[k]);
    tenter_free(in->lexicons);
    tenter_file_close(in->file);
  }
  tenter_free(all->inputs);
  for (size_t i = 0; all->workers && i < all->worker_count; i++)
    tenter__worker_free(all->workers[i]);
  tenter_free(all->workers);
  tenter__columns_free(all->patterns);
  tenter_arena_free(all->arena);
}

tenter_status tenter__intake_load(const char *const *paths, size_t count,
                                  const tenter_config *config, tenter_tables *tables,
                                  tenter_pool *pool, size_t chunk_size, tenter_error *error) {
  intake all = {.config = config,
                .settings = &config->settings,
                .tables = tables,
                .pool = pool,
                .chunk_size = chunk_size};
  tenter_status status = prepare(&all, error);
  if (status == TENTER_OK)
    status = tenter__files_open(&all, paths, count, error);
  if (status == TENTER_OK)
    status = tenter__inputs_read(&all, error);
  if (status == TENTER_OK)
    status = tenter__inputs_merge(&all, error);
  if (status == TENTER_OK)
    status = tenter__notes_add(&all, error);
  release(&all);
  return status;
}

tenter_status tenter_intake_load(const char *const *paths, size_t count,
                                 const tenter_config *config, tenter_tables *tables,
                                 tenter_pool *pool, tenter_error *error) {
  return tenter__intake_load(paths, count, config, tables, pool, CHUNK_SIZE, error);
}
