/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nested model's speed and memory on simulated shops: 20 observations a unit, 50 units a group,
 * level and slope random at both, two covariates (four fixed columns). See compare_nested.
 *
 *   bench_nested write FILE UNITS     the data as CSV: group,unit,u,x1,x2,y
 *   bench_nested fit UNITS THREADS    products and fit, median of 5: seconds, log-likelihood
 *   bench_nested memory UNITS         units streamed in, fit: peak bytes a unit of the whole
 * process bench_nested nodes UNITS THREADS  nodes over the components: seconds, how many */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "tenter/base/alloc.h"
#include "tenter/stats/nested_nodes.h"

enum { OBSERVATIONS = 20, UNITS_A_GROUP = 50, COVARIATES = 2, REPEATS = 5 };

/* One unit's observations. */
typedef struct unit {
  double u[OBSERVATIONS], y[OBSERVATIONS], x[OBSERVATIONS * COVARIATES];
} unit;

typedef struct source {
  uint64_t seed;
  double level, slope; /* of the group */
} source;

static double uniform(source *s) {
  uint64_t z = (s->seed += 0x9e3779b97f4a7c15u); /* splitmix64 */
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(source *s) {
  double r = sqrt(-2 * log(uniform(s)));
  return r * cos(6.283185307179586 * uniform(s));
}

/* Rounded, so that CSV and memory hold the same numbers. */
static double rounded(double value) {
  return round(value * 1e6) / 1e6;
}

static void next_unit(source *s, size_t index, unit *to) {
  if (index % UNITS_A_GROUP == 0) {
    s->level = 0.7 * normal(s);
    s->slope = -0.1 * s->level + 0.15 * normal(s);
  }
  double level = 24 + s->level + 0.5 * normal(s), slope = -1.2 + s->slope + 0.2 * normal(s);
  double again = floor(4 * uniform(s)), start = uniform(s);
  for (size_t j = 0; j < OBSERVATIONS; j++) {
    double u = rounded(-1 + start + 2.5 * uniform(s));
    to->u[j] = u;
    to->x[2 * j] = again;
    to->x[2 * j + 1] = rounded(again * u);
    to->y[j] = rounded(level + slope * u - 0.1 * again + 0.05 * again * u + 0.25 * normal(s));
  }
}

static double now(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void stop(const tenter_error *error) {
  fprintf(stderr, "bench_nested: %s\n", error->message);
  exit(1);
}

static int write_data(const char *path, size_t units) {
  FILE *file = fopen(path, "w");
  source s = {.seed = 1};
  unit data;
  if (!file)
    return 1;
  fprintf(file, "group,unit,u,x1,x2,y\n");
  for (size_t i = 0; i < units; i++) {
    next_unit(&s, i, &data);
    for (size_t j = 0; j < OBSERVATIONS; j++)
      fprintf(file, "%zu,%zu,%.6f,%.0f,%.6f,%.6f\n", i / UNITS_A_GROUP, i, data.u[j], data.x[2 * j],
              data.x[2 * j + 1], data.y[j]);
  }
  return fclose(file) != 0;
}

static tenter_nested_products *begin(void) {
  tenter_nested_products *p;
  tenter_error error;
  if (tenter_nested_products_new(2, COVARIATES, &p, &error))
    stop(&error);
  return p;
}

static void add(tenter_nested_products *p, size_t index, const unit *data) {
  tenter_error error;
  if ((index % UNITS_A_GROUP == 0 && tenter_nested_group_add(p, 0, index, &error)) ||
      tenter_nested_unit_add(p, index, OBSERVATIONS, data->u, data->y, NULL, data->x, &error))
    stop(&error);
}

static unit *all_units(size_t units) {
  source s = {.seed = 1};
  unit *data = tenter_alloc(units, sizeof *data);
  if (!data)
    exit(1);
  for (size_t i = 0; i < units; i++)
    next_unit(&s, i, &data[i]);
  return data;
}

static tenter_nested_options options(tenter_pool *pool) {
  return (tenter_nested_options){
      .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE, .pool = pool};
}

static tenter_nested_products *sum_up(const unit *data, size_t units) {
  tenter_nested_products *p = begin();
  for (size_t i = 0; i < units; i++)
    add(p, i, &data[i]);
  return p;
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static int time_fit(size_t units, size_t threads) {
  unit *data = all_units(units);
  tenter_pool *pool = tenter_pool_new(threads);
  tenter_nested_options o = options(pool);
  double seconds[REPEATS], summing[REPEATS];
  tenter_nested_fit fit = {0};
  tenter_error error;
  for (size_t k = 0; k < REPEATS; k++) {
    double start = now();
    tenter_nested_products *p = sum_up(data, units);
    summing[k] = now() - start;
    if (tenter_nested_fit_run(p, &o, &fit, &error))
      stop(&error);
    seconds[k] = now() - start;
    tenter_nested_fit_release(&fit);
    tenter_nested_products_free(p);
  }
  qsort(seconds, REPEATS, sizeof *seconds, ascending);
  qsort(summing, REPEATS, sizeof *summing, ascending);
  printf("%.6f %.6f %.9f %zu %d\n", seconds[REPEATS / 2], summing[REPEATS / 2], fit.loglik,
         fit.evaluations, fit.converged);
  tenter_pool_free(pool);
  tenter_free(data);
  return 0;
}

static int memory(size_t units) {
  source s = {.seed = 1};
  struct rusage before, after;
  getrusage(RUSAGE_SELF, &before);
  tenter_nested_products *p = begin();
  tenter_nested_options o = options(NULL);
  tenter_nested_fit fit;
  tenter_error error;
  for (size_t i = 0; i < units; i++) {
    unit data;
    next_unit(&s, i, &data);
    add(p, i, &data);
  }
  if (tenter_nested_fit_run(p, &o, &fit, &error))
    stop(&error);
  getrusage(RUSAGE_SELF, &after);
  printf("%.1f\n", 1024.0 * (double)(after.ru_maxrss - before.ru_maxrss) / (double)units);
  tenter_nested_fit_release(&fit);
  tenter_nested_products_free(p);
  return 0;
}

static int time_nodes(size_t units, size_t threads) {
  unit *data = all_units(units);
  tenter_pool *pool = tenter_pool_new(threads);
  tenter_nested_options o = options(pool);
  tenter_nested_products *p = sum_up(data, units);
  tenter_nested_nodes nodes;
  tenter_error error;
  double start = now();
  if (tenter_nested_nodes_run(p, &o, NULL, &nodes, &error))
    stop(&error);
  printf("%.6f %zu %.0f\n", now() - start, nodes.count, nodes.effective);
  tenter_nested_nodes_release(&nodes);
  tenter_nested_products_free(p);
  tenter_pool_free(pool);
  tenter_free(data);
  return 0;
}

int main(int count, char **words) {
  const char *what = count > 1 ? words[1] : "";
  if (!strcmp(what, "write") && count == 4)
    return write_data(words[2], strtoul(words[3], NULL, 10));
  if (!strcmp(what, "fit") && count == 4)
    return time_fit(strtoul(words[2], NULL, 10), strtoul(words[3], NULL, 10));
  if (!strcmp(what, "memory") && count == 3)
    return memory(strtoul(words[2], NULL, 10));
  if (!strcmp(what, "nodes") && count == 4)
    return time_nodes(strtoul(words[2], NULL, 10), strtoul(words[3], NULL, 10));
  fprintf(stderr, "bench_nested write FILE UNITS | fit UNITS THREADS | memory UNITS | nodes UNITS "
                  "THREADS\n");
  return 2;
}
