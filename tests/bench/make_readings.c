/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Invented readings in bulk, for the benchmarks: make_readings SCREENS SESSIONS FOLDER writes
 * FOLDER/readings.csv (SCREENS x SESSIONS x 10 rows in order of time) and FOLDER/register.csv.
 * Weekly sessions of five places in both directions; four meshes, one lot for about every 40
 * screens; tension falls with the logarithm of age. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "tenter/base/civil.h"

typedef struct screen {
  double level, loss;
  tenter_time stretched;
} screen;

static uint64_t state = 20260301;

static double uniform(void) { /* xorshift64* (Vigna 2016) */
  state ^= state >> 12;
  state ^= state << 25;
  state ^= state >> 27;
  return (double)((state * 2685821657736338717U) >> 11) / 9007199254740992.0;
}

static double normal(void) { /* Irwin and Hall: near enough for a benchmark */
  double sum = -6;
  for (int i = 0; i < 12; i++)
    sum += uniform();
  return sum;
}

static FILE *create(const char *folder, const char *name) {
  char path[4096];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "w");
  if (!file) {
    perror(path);
    exit(1);
  }
  return file;
}

static void write_register(const char *folder, screen *screens, size_t count, tenter_time start) {
  static const char *const meshes[] = {"43-80", "77-48", "100-40", "120-34"};
  static const double targets[] = {26, 24, 22, 21};
  FILE *file = create(folder, "register.csv");
  fputs("screen,mesh,lot,stretched,target,minus,plus,place\n", file);
  size_t lots = count / 40 + 4;
  double *excess = calloc(lots, sizeof *excess);
  for (size_t i = 0; excess && i < lots; i++)
    excess[i] = 0.12 * normal();
  for (size_t i = 0; i < count; i++) {
    size_t lot = (size_t)(uniform() * (double)lots), mesh = lot % 4;
    screens[i].level = targets[mesh] + 0.5 * normal();
    screens[i].loss = 1.0 + (excess ? excess[lot] : 0) + 0.15 * normal();
    screens[i].stretched = start - (tenter_time)(uniform() * 30 * TENTER_DAY);
    char at[TENTER_TIME_SIZE];
    fprintf(file, "S-%06zu,%s,L-%04zu,%s,%g,1.5,1.5,R%zu-%zu\n", i, meshes[mesh], lot,
            tenter_time_print(screens[i].stretched, at), targets[mesh], i / 100, i % 100);
  }
  free(excess);
  fclose(file);
}

static void write_session(FILE *file, size_t id, const screen *s, tenter_time taken) {
  static const char *const places[] = {"C", "NW", "NE", "SW", "SE"};
  double u = log10((double)(taken - s->stretched) / TENTER_DAY);
  double mean = s->level - s->loss * u + 0.15 * normal();
  char at[TENTER_TIME_SIZE];
  for (size_t i = 0; i < 10; i++) {
    double reading = mean + (i / 2 ? 0.1 : -0.4) + 0.3 * normal();
    tenter_date date = tenter_date_of(taken + (tenter_time)(6 * i));
    snprintf(at, sizeof at, "%04d-%02d-%02dT%02d:%02d:%02d", date.year, date.month, date.day,
             date.hour, date.minute, date.second);
    fprintf(file, "S-%06zu,%s,%s,%s,M%zu,%.1f\n", id, at, places[i / 2], i % 2 ? "weft" : "warp",
            id % 3 + 1, reading);
  }
}

int main(int argc, char **argv) {
  if (argc != 4)
    return fprintf(stderr, "make_readings SCREENS SESSIONS FOLDER\n"), 2;
  size_t count = strtoul(argv[1], NULL, 10), sessions = strtoul(argv[2], NULL, 10);
  screen *screens = calloc(count + 1, sizeof *screens);
  if (!screens)
    return 1;
  tenter_date first = {2026, 3, 2, 8, 0, 0};
  tenter_time start = tenter_time_of(&first);
  write_register(argv[3], screens, count, start);
  FILE *file = create(argv[3], "readings.csv");
  fputs("screen,taken,position,direction,meter,tension\n", file);
  for (size_t week = 0; week < sessions; week++)
    for (size_t i = 0; i < count; i++) /* a week's screens over five days of eight hours */
      write_session(file, i, &screens[i],
                    start + (tenter_time)week * TENTER_WEEK +
                        (tenter_time)(i * 5 / count) * TENTER_DAY +
                        (tenter_time)((i * 5 % count) * 28000 / count));
  free(screens);
  return fclose(file) != 0;
}
