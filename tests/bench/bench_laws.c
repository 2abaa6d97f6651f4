/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stretched exponential on simulated series of 20 sessions, one core: bench_laws FOLDER
 * [SERIES] writes the data (laws_data.csv) and what each solver made of them (laws_fits.csv), and
 * prints microseconds a fit of tenter        tenter_law_fit, all of its results gsl           GSL's
 * trust region (Levenberg-Marquardt) on all four parameters, numerical derivatives gsl_analytic the
 * same with the analytic Jacobian bench_laws.R adds R's nls and MINPACK and prints the comparison.
 * No bound is in play, so that all minimise the same function; all but tenter begin at the same
 * start, which costs them nothing. */
#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "tenter/stats/laws.h"

enum { N = 20, ROUNDS = 60 };

typedef struct series {
  double t[N], y[N];
} series;

typedef struct outcome {
  double rss, p[4];
  int converged;
} outcome;

/* Processor time, so that others on the machine count for less. */
static double now(void) {
  struct timespec time;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
  return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

/* splitmix64 */
static double uniform(void) {
  static uint64_t state = 20240601;
  uint64_t z = (state += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) * 0x1p-53;
}

static double normal(void) {
  double r = sqrt(-2 * log(uniform()));
  return r * cos(6.283185307179586 * uniform());
}

/* Ages from an hour to about two months, tension 24 to 18 N/cm, noise 0.15. */
static void simulate(series *s) {
  double initial = 23 + 3 * uniform(), plateau = 17 + 2 * uniform();
  double tau = 60 * exp(1.5 * uniform()), beta = 0.4 + 0.5 * uniform();
  for (size_t i = 0; i < N; i++) {
    s->t[i] = exp(log(1500) * ((double)i + 0.5 * uniform()) / (N - 0.5));
    s->y[i] = plateau + (initial - plateau) * exp(-pow(s->t[i] / tau, beta)) + 0.15 * normal();
  }
}

static void start_of(const series *s, double *p) {
  p[0] = s->y[N - 1];
  p[1] = s->y[0];
  p[2] = 100;
  p[3] = 0.7;
}

/* ---- tenter ---- */

static outcome fit_tenter(void *space, const series *s) {
  static const tenter_law_options options = {
      .plateau = TENTER_LAW_PLATEAU_FREE, .low = {0, 0, 1e-4, 0.01}, .high = {0, 0, 1e12, 20}};
  tenter_law_points points = {.count = N, .age_hours = s->t, .value = s->y};
  tenter_law_curve curve;
  outcome out = {0};
  if (tenter_law_fit(space, TENTER_LAW_STRETCHED, &points, &options, &curve, NULL, NULL, NULL,
                     NULL) != TENTER_OK)
    return out;
  out.rss = curve.rss;
  memcpy(out.p, curve.parameter, sizeof out.p);
  out.converged = !(curve.notes & (TENTER_LAW_NOT_CONVERGED | TENTER_LAW_ON_BOUND));
  return out;
}

/* ---- GSL ---- */

static int gsl_residual(const gsl_vector *x, void *data, gsl_vector *f) {
  const series *s = data;
  double plateau = gsl_vector_get(x, 0), initial = gsl_vector_get(x, 1);
  double tau = gsl_vector_get(x, 2), beta = gsl_vector_get(x, 3);
  for (size_t i = 0; i < N; i++)
    gsl_vector_set(f, i, plateau + (initial - plateau) * exp(-pow(s->t[i] / tau, beta)) - s->y[i]);
  return GSL_SUCCESS;
}

static int gsl_jacobian(const gsl_vector *x, void *data, gsl_matrix *J) {
  const series *s = data;
  double drop = gsl_vector_get(x, 1) - gsl_vector_get(x, 0);
  double tau = gsl_vector_get(x, 2), beta = gsl_vector_get(x, 3);
  for (size_t i = 0; i < N; i++) {
    double z = pow(s->t[i] / tau, beta), decay = exp(-z);
    gsl_matrix_set(J, i, 0, 1 - decay);
    gsl_matrix_set(J, i, 1, decay);
    gsl_matrix_set(J, i, 2, drop * decay * z * beta / tau);
    gsl_matrix_set(J, i, 3, -drop * decay * z * log(s->t[i] / tau));
  }
  return GSL_SUCCESS;
}

typedef struct gsl_tools {
  gsl_multifit_nlinear_workspace *w;
  gsl_matrix *covariance;
  bool analytic;
} gsl_tools;

static outcome fit_gsl(void *context, const series *s) {
  gsl_tools *tools = context;
  outcome out = {0};
  double start[4], chisq;
  int info;
  start_of(s, start);
  gsl_vector_view x = gsl_vector_view_array(start, 4);
  gsl_multifit_nlinear_fdf fdf = {.f = gsl_residual,
                                  .df = tools->analytic ? gsl_jacobian : NULL,
                                  .n = N,
                                  .p = 4,
                                  .params = (void *)(uintptr_t)s};
  gsl_multifit_nlinear_init(&x.vector, &fdf, tools->w);
  int status = gsl_multifit_nlinear_driver(200, 1e-8, 1e-8, 0, NULL, NULL, &info, tools->w);
  gsl_vector *f = gsl_multifit_nlinear_residual(tools->w);
  gsl_blas_ddot(f, f, &chisq);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(tools->w), 0, tools->covariance);
  for (size_t k = 0; k < 4; k++)
    out.p[k] = gsl_vector_get(gsl_multifit_nlinear_position(tools->w), k);
  out.rss = chisq;
  out.converged = status == GSL_SUCCESS && (info == 1 || info == 2) && isfinite(chisq);
  return out;
}

/* ---- the run ---- */

typedef outcome fitter(void *context, const series *s);

static void run(const char *name, fitter *fit, void *context, const series *all, size_t count,
                FILE *fits) {
  double best = INFINITY;
  for (size_t round = 0; round < ROUNDS; round++) {
    double begin = now(), sum = 0;
    for (size_t k = 0; k < count; k++)
      sum += fit(context, &all[k]).rss;
    double took = (now() - begin) / (double)count;
    if (took < best && sum != 0)
      best = took;
  }
  size_t converged = 0;
  for (size_t k = 0; k < count; k++) {
    outcome out = fit(context, &all[k]);
    converged += out.converged != 0;
    fprintf(fits, "%s,%zu,%d,%.17g,%.10g,%.10g,%.10g,%.10g\n", name, k, out.converged, out.rss,
            out.p[0], out.p[1], out.p[2], out.p[3]);
  }
  fprintf(fits, "%s,time,,%.17g,,,,\n", name, best * 1e6);
  printf("%-13s %8.2f us a fit, %zu of %zu converged\n", name, best * 1e6, converged, count);
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
    return fprintf(stderr, "bench_laws FOLDER [SERIES]\n"), 2;
  gsl_set_error_handler_off();
  size_t count = argc > 2 ? strtoul(argv[2], NULL, 10) : 500;
  series *all = calloc(count, sizeof *all);
  tenter_law_space *space = NULL;
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  gsl_tools tools = {.w = gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, N, 4),
                     .covariance = gsl_matrix_alloc(4, 4)};
  if (!all || !tools.w || !tools.covariance || tenter_law_space_new(N, 1, &space, NULL))
    return 1;
  FILE *data = open_in(argv[1], "laws_data.csv"), *fits = open_in(argv[1], "laws_fits.csv");
  fprintf(data, "series,t,y\n");
  fprintf(fits, "solver,series,converged,rss,plateau,initial,tau,beta\n");
  for (size_t k = 0; k < count; k++) {
    simulate(&all[k]);
    for (size_t i = 0; i < N; i++)
      fprintf(data, "%zu,%.17g,%.17g\n", k, all[k].t[i], all[k].y[i]);
  }
  run("tenter", fit_tenter, space, all, count, fits);
  run("gsl", fit_gsl, &tools, all, count, fits);
  tools.analytic = true;
  run("gsl_analytic", fit_gsl, &tools, all, count, fits);
  int failed = fclose(data) | fclose(fits);
  tenter_law_space_free(space);
  gsl_multifit_nlinear_free(tools.w);
  gsl_matrix_free(tools.covariance);
  free(all);
  return failed ? 1 : 0;
}
