/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the time of a review goes: bench_stages THREADS FILE... reads, settles, models and judges
 * in one process and prints the seconds of each stage. For tools/bench. */
#include <gsl/gsl_errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "tenter/intake/config.h"
#include "tenter/intake/load.h"
#include "tenter/report/report.h"

static double now(void) {
  struct timespec time;
  clock_gettime(CLOCK_MONOTONIC, &time);
  return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static double last;

static void stage(const char *name, tenter_status status, const tenter_error *error) {
  if (status != TENTER_OK) {
    fprintf(stderr, "%s: %s\n", name, error->message);
    exit((int)status);
  }
  double at = now();
  printf("%-8s %7.3f s\n", name, at - last);
  last = at;
}

static tenter_status count_bytes(void *context, const void *bytes, size_t length,
                                 tenter_error *error) {
  (void)bytes;
  (void)error;
  *(size_t *)context += length;
  return TENTER_OK;
}

int main(int argc, char **argv) {
  if (argc < 3)
    return fprintf(stderr, "bench_stages THREADS FILE...\n"), 2;
  gsl_set_error_handler_off();
  const char *const *files = (const char *const *)argv + 2;
  size_t file_count = (size_t)argc - 2, bytes = 0;
  tenter_error error = {0};
  tenter_pool *pool = tenter_pool_new(strtoul(argv[1], NULL, 10));
  tenter_arena *arena = tenter_arena_new();
  tenter_tables *tables = tenter_tables_new();
  tenter_config config;
  tenter_shop *shop = NULL;
  tenter_review *review = NULL;
  last = now();
  stage("config", tenter_config_read(NULL, files, file_count, arena, &config, &error), &error);
  stage("read", tenter_intake_load(files, file_count, &config, tables, pool, &error), &error);
  stage("settle", tenter_tables_settle(tables, &config.settings, pool, &error), &error);
  stage("model",
        tenter_shop_new(tables, &config, tenter_tables_last_day_end(tables), pool, &shop, &error),
        &error);
  stage("judge", tenter_review_new(shop, true, pool, &review, &error), &error);
  tenter_report_options options = {.version = "0", .pool = pool};
  tenter_sink sink = {.write = count_bytes, .context = &bytes};
  stage("json", tenter_report_review_json(review, &options, sink, &error), &error);
  printf("%zu readings, %zu screens, %zu bytes of JSON\n", shop->reading_count,
         review->screen_count, bytes);
  tenter_review_free(review);
  tenter_shop_free(shop);
  tenter_tables_free(tables);
  tenter_arena_free(arena);
  tenter_pool_free(pool);
  return 0;
}
