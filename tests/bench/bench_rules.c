/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What control charts cost: bench_rules [POINTS] prints nanoseconds a point for all run rules
 * together, for EWMA with CUSUM, and for standardising by estimated limits, at 10^4 ... POINTS
 * (10^7) points, which should stay level; then the seconds of a run length. For tools/bench. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "tenter/stats/arl.h"

enum { KEPT = 1 << 16 }; /* points are drawn once and taken in turn */

static double now(void) {
  struct timespec time;
  clock_gettime(CLOCK_MONOTONIC, &time);
  return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static double rules(const double *z, size_t points, size_t *signals) {
  tenter_rules_stream stream;
  tenter_rules_start(&stream, TENTER_RULES_ALL, false);
  double start = now();
  for (size_t i = 0; i < points; i++)
    *signals += tenter_rules_step(&stream, z[i % KEPT]) != 0;
  return now() - start;
}

static double running(const double *z, size_t points, size_t *signals) {
  tenter_ewma ewma;
  tenter_cusum cusum;
  tenter_ewma_start(&ewma, 0.2, 3);
  tenter_cusum_start(&cusum, 0.5, 5, 2.5);
  double start = now();
  for (size_t i = 0; i < points; i++) {
    *signals += tenter_ewma_step(&ewma, z[i % KEPT]).signal != 0;
    *signals += tenter_cusum_step(&cusum, z[i % KEPT]).signal != 0;
  }
  return now() - start;
}

static double standardising(const double *z, size_t points, double power, size_t *signals) {
  tenter_control_limits limits = {.kind = TENTER_CONTROL_INDIVIDUALS,
                                  .state = TENTER_CONTROL_READY,
                                  .width = 3,
                                  .sigma = 1,
                                  .worth = {30, power},
                                  .centre_weight = 20};
  double start = now();
  for (size_t i = 0; i < points; i++)
    *signals += tenter_control_z(&limits, 1, z[i % KEPT], TENTER_CONTROL_NEXT) > 3;
  return now() - start;
}

static void run_length(const char *name, const tenter_scheme *scheme, bool estimated) {
  tenter_estimated e = {!estimated, 0.05, {30.9, 1.62}, TENTER_CONTROL_NEXT};
  double rate, start = now();
  if (tenter_arl_rate(scheme, (tenter_process){0, 1}, &e, &rate, NULL) == TENTER_OK)
    printf("%-28s %-16s %8.4f s, once in %.1f points\n", name,
           estimated ? "20 individuals" : "known limits", now() - start, 1 / rate);
}

int main(int argc, char **argv) {
  static double z[KEPT];
  size_t most = argc > 1 ? strtoul(argv[1], NULL, 10) : 10000000, signals = 0;
  gsl_set_error_handler_off();
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  if (!rng)
    return 1;
  for (size_t i = 0; i < KEPT; i++)
    z[i] = gsl_ran_gaussian_ziggurat(rng, 1);
  gsl_rng_free(rng);
  printf("%10s %12s %12s %12s %12s   ns a point\n", "points", "all rules", "ewma, cusum", "z by t",
         "z by powers");
  for (size_t points = 10000; points <= most; points *= 10) {
    double scale = 1e9 / (double)points;
    size_t few = points < 100000 ? points : 100000;
    printf("%10zu %12.2f %12.2f %12.1f %12.1f\n", points, scale * rules(z, points, &signals),
           scale * running(z, points, &signals),
           1e9 / (double)few * standardising(z, few, 1, &signals),
           1e9 / (double)few * standardising(z, few, 1.62, &signals));
  }
  printf("(%zu signals)\n", signals);
  for (int estimated = 0; estimated < 2; estimated++) {
    run_length(
        "Western Electric rules",
        &(tenter_scheme){.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_WESTERN_ELECTRIC},
        estimated);
    run_length("Nelson's rules",
               &(tenter_scheme){.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_NELSON},
               estimated);
    run_length(
        "EWMA 0.2, 3, exact limits",
        &(tenter_scheme){.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .exact = true},
        estimated);
    run_length("CUSUM 0.5, 5, head start 2.5",
               &(tenter_scheme){
                   .kind = TENTER_SCHEME_CUSUM, .reference = 0.5, .decision = 5, .head_start = 2.5},
               estimated);
  }
  return 0;
}
