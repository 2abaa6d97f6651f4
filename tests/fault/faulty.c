/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Makes of the program one that meets a fault: FAULT="memory 17 once" arms the doors before main,
 * and at the end the number of calls through the armed door goes to the file named by
 * FAULT_REPORT, so that a sweep can find out how many there are ("memory 0 once" only counts). */
#include <stdio.h>
#include <stdlib.h>

#include "doors.h"

static void report(void) {
  unsigned long calls = fault_disarm();
  const char *path = getenv("FAULT_REPORT");
  FILE *file = path == NULL ? NULL : fopen(path, "w");
  if (file == NULL)
    return;
  fprintf(file, "%lu\n", calls);
  fclose(file);
}

__attribute__((constructor)) static void arm(void) {
  const char *text = getenv("FAULT");
  if (text == NULL)
    return;
  if (!fault_arm_text(text)) {
    fprintf(stderr, "FAULT=%s: not a fault\n", text);
    _Exit(99);
  }
  atexit(report);
}
