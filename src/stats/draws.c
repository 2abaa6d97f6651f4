/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Percentiles of draws. Relies on nothing. */
#include "draws.h"

#include <stdlib.h>

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

tenter_interval draw_percentiles(double *values, size_t count, double level) {
  double last = (double)(count - 1);
  qsort(values, count, sizeof *values, by_size);
  return (tenter_interval){values[(size_t)floor((1 - level) / 2 * last)],
                           values[(size_t)ceil((1 + level) / 2 * last)]};
}
