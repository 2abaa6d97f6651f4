/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The progress line: a carriage return, the line, blanks over what was longer before. No escape
 * sequences, so that any terminal will do. */
#include "tenter/base/progress.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "tenter/base/alloc.h"
#include "tenter/base/text.h"

enum { WIDTH = 72 };

static const double FIRST_AFTER = 1.0, EVERY = 0.1; /* seconds */

struct tenter_progress {
  struct timespec last; /* when the line was written, or the run began */
  bool shown;
};

static double seconds_since(const struct timespec *then) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)(now.tv_sec - then->tv_sec) + 1e-9 * (double)(now.tv_nsec - then->tv_nsec);
}

tenter_progress *tenter_progress_new(void) {
  if (!isatty(STDERR_FILENO))
    return NULL;
  tenter_progress *progress = tenter_alloc(1, sizeof *progress);
  if (progress != NULL)
    clock_gettime(CLOCK_MONOTONIC, &progress->last);
  return progress;
}

static void show(const char *line) {
  fprintf(stderr, "\r%-*.*s\r", WIDTH, WIDTH, line);
  fflush(stderr);
}

void tenter_progress_say(tenter_progress *progress, const char *stage, uint64_t done,
                         uint64_t total) {
  if (progress == NULL || seconds_since(&progress->last) < (progress->shown ? EVERY : FIRST_AFTER))
    return;
  clock_gettime(CLOCK_MONOTONIC, &progress->last);
  progress->shown = true;
  char line[WIDTH + 1];
  double share = total == 0 ? 0 : 100.0 * (double)done / (double)total;
  if (total == 0)
    snprintf(line, sizeof line, "%s", stage);
  else
    snprintf(line, sizeof line, "%s: %.0f %%", stage, share > 100 ? 100 : share);
  tenter_text_tame(line);
  show(line);
}

void tenter_progress_free(tenter_progress *progress) {
  if (progress == NULL)
    return;
  if (progress->shown)
    show("");
  tenter_free(progress);
}
