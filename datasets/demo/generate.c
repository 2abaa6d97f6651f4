/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes the demo shop: generate_demo OUTDIR [TRUTHDIR]
 *
 * OUTDIR gets the files the shop would have; TRUTHDIR (default
 * OUTDIR/../demo-truth) gets truth.json, what is true behind them. Both
 * folders must exist. The seed is fixed, and the same bytes come out of every
 * run: random numbers are GSL's mt19937, and what is printed has few digits. */
#include "demo.h"

#include <stdlib.h>

void *grow(void *list, size_t n, size_t size) {
  if (n & (n - 1)) /* capacity is the next power of two, so there is room */
    return list;
  void *larger = realloc(list, (n == 0 ? 1 : 2 * n) * size);
  if (!larger) {
    fputs("generate_demo: out of memory\n", stderr);
    exit(1);
  }
  return larger;
}

static void discard(shop *s) {
  gsl_rng_free(s->rng);
  free(s->mountings);
  free(s->sessions);
  free(s->events);
  free(s->checks);
  free(s->wrong);
}

int main(int argc, char **argv) {
  if (argc < 2 || argc > 3) {
    fputs("usage: generate_demo OUTDIR [TRUTHDIR]\n", stderr);
    return 2;
  }
  char beside[4096];
  snprintf(beside, sizeof beside, "%s/../demo-truth", argv[1]);
  shop s = {.rng = gsl_rng_alloc(gsl_rng_mt19937)};
  if (!s.rng)
    return 1;
  gsl_rng_set(s.rng, 1);
  furnish(&s);
  run_weeks(&s);
  bool ok = write_demo(&s, argv[1]) && write_truth(&s, argc == 3 ? argv[2] : beside);
  discard(&s);
  return ok ? 0 : 1;
}
