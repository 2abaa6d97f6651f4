/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Interval-censored lives, one core: bench_life FOLDER [ROWS] writes the rows of four kinds of
 * lives (life_rows.csv), and prints and writes (life_times.csv) the processor time of
 * tenter_turnbull_run and of a Weibull fit to them; bench_life.R adds survreg and compares. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "tenter/stats/life_fit.h"
#include "tenter/stats/turnbull.h"

enum { ROUNDS = 7 };

static const char *const kinds[] = {"looks at any age", "looks on a grid", "one look each",
                                    "a third seen to fail"};

/* Processor time, so that others on the machine count for less. */
static double now(void) {
  struct timespec time;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
  return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

/* splitmix64 */
static double uniform(void) {
  static uint64_t state = 20240701;
  uint64_t z = (state += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) * 0x1p-53;
}

/* Weibull lives in days, shape 2.2, followed for 50 to 200 days with a look every 2 to 15. */
static void invent(size_t kind, double *lower, double *upper) {
  double life = 100 * pow(-log(uniform()), 1 / 2.2), end = 50 + 150 * uniform();
  double low = 0, high = 7 * uniform(), step = 4 + 6 * uniform();
  if (kind == 2) {
    low = end - 50;
    *lower = life > low ? low : 0;
    *upper = life > low ? INFINITY : low;
    return;
  }
  while (high < life && high < end) {
    low = high;
    high += step * (0.5 + uniform());
  }
  if (kind == 1) {
    low = floor(low);
    high = ceil(high);
  }
  bool seen = high <= end && high >= life;
  *lower = kind == 3 && seen && uniform() < 0.4 ? life : low;
  *upper = *lower == life ? life : seen ? high : INFINITY;
}

static tenter_life make(size_t kind, size_t rows, double *lower, double *upper, FILE *file) {
  for (size_t i = 0; i < rows; i++) {
    invent(kind, &lower[i], &upper[i]);
    fprintf(file, "%s,%.17g,%.17g\n", kinds[kind], lower[i], upper[i]);
  }
  return (tenter_life){rows, lower, upper, NULL};
}

static double time_turnbull(const tenter_life *life) {
  tenter_turnbull t;
  double best = INFINITY;
  for (int round = 0; round < ROUNDS; round++) {
    double begin = now();
    if (tenter_turnbull_run(life, &t, NULL) != TENTER_OK || !t.converged)
      exit(1);
    best = fmin(best, now() - begin);
    if (round == 0)
      printf("  %zu intervals, %zu masses, %zu steps, gap %.1e\n", t.intervals, t.count, t.steps,
             t.gap);
    tenter_turnbull_release(&t);
  }
  return best;
}

static double time_weibull(const tenter_life *life, double *coefficient) {
  tenter_life_design constant = {.terms = 1};
  tenter_life_fit fit;
  double best = INFINITY;
  for (int round = 0; round < ROUNDS; round++) {
    double begin = now();
    if (tenter_life_fit_run(life, &constant, TENTER_LIFE_WEIBULL, &fit, NULL) != TENTER_OK)
      exit(1);
    best = fmin(best, now() - begin);
    *coefficient = fit.coefficient[0];
    tenter_life_fit_release(&fit);
  }
  return best;
}

static FILE *open_in(const char *folder, const char *name) {
  char path[1024];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "w");
  if (!file) {
    perror(path);
    exit(1);
  }
  return file;
}

int main(int argc, char **argv) {
  if (argc < 2)
    return fprintf(stderr, "bench_life FOLDER [ROWS]\n"), 2;
  gsl_set_error_handler_off();
  size_t rows = argc > 2 ? strtoul(argv[2], NULL, 10) : 100000;
  double *lower = calloc(rows, sizeof *lower), *upper = calloc(rows, sizeof *upper);
  if (!lower || !upper)
    return 1;
  FILE *data = open_in(argv[1], "life_rows.csv"), *times = open_in(argv[1], "life_times.csv");
  fprintf(data, "kind,lower,upper\n");
  fprintf(times, "kind,turnbull,weibull,coefficient\n");
  for (size_t kind = 0; kind < sizeof kinds / sizeof *kinds; kind++) {
    double coefficient = NAN;
    printf("%zu rows, %s\n", rows, kinds[kind]);
    tenter_life life = make(kind, rows, lower, upper, data);
    double turnbull = time_turnbull(&life), weibull = time_weibull(&life, &coefficient);
    printf("  Turnbull %.3f s, Weibull %.3f s\n", turnbull, weibull);
    fprintf(times, "%s,%.6f,%.6f,%.17g\n", kinds[kind], turnbull, weibull, coefficient);
  }
  fclose(data);
  fclose(times);
  free(lower);
  free(upper);
  return 0;
}
