/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How fits of laws behave: no better point on a dense grid (each linear problem solved by GSL), the
 * coverage of profile intervals, invariances, robust weights, notes and words, refusals. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/stats/laws.h"

enum { ROWS = 40, SERIES = 4 };

typedef struct data {
  size_t n;
  double t[ROWS], y[ROWS], w[ROWS];
} data;

static tenter_law_space *space;

static int make_space(void **state) {
  (void)state;
  return tenter_law_space_new(ROWS, SERIES, &space, NULL) == TENTER_OK ? 0 : 1;
}

static int free_space(void **state) {
  (void)state;
  tenter_law_space_free(space);
  return 0;
}

/* splitmix64 and Box-Muller, seeded */
static uint64_t seed;

static double uniform(void) {
  uint64_t z = (seed += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) * 0x1p-53;
}

static double normal(void) {
  double r = sqrt(-2 * log(uniform()));
  return r * cos(6.283185307179586 * uniform());
}

/* n ages from 1 h to 1500 h about evenly in log, the law with noise. */
static data simulate(tenter_law law, const double *p, size_t n, double noise) {
  data d = {.n = n};
  for (size_t i = 0; i < n; i++) {
    d.t[i] = exp(log(1500) * ((double)i + 0.5 * uniform()) / ((double)n - 0.5));
    d.y[i] = tenter_law_value(law, p, d.t[i]) + noise * normal();
    d.w[i] = 0.5 + uniform();
  }
  return d;
}

static tenter_law_curve fit_all(tenter_law law, const data *d, const tenter_law_options *options,
                                bool weighted, double *residual, double *robust) {
  tenter_law_points points = {
      .count = d->n, .age_hours = d->t, .value = d->y, .weight = weighted ? d->w : NULL};
  tenter_law_curve curve;
  tenter_error error = {0};
  if (tenter_law_fit(space, law, &points, options, &curve, residual, robust, NULL, &error) !=
      TENTER_OK)
    fail_msg("%s", error.message);
  return curve;
}

static tenter_law_curve fit(tenter_law law, const data *d, const tenter_law_options *options) {
  return fit_all(law, d, options, false, NULL, NULL);
}

/* ---- nothing better on a grid ---- */

typedef struct twin {
  gsl_multifit_linear_workspace *work;
  gsl_matrix *A, *covariance;
  gsl_vector *y, *w, *c;
} twin;

/* Weighted sum of squares with the searched parameters given, linear ones by GSL (by SVD). */
static double given(twin *g, tenter_law law, const data *d, double *p) {
  const tenter_law_info *info = tenter_law_describe(law);
  double gradient[TENTER_LAW_PARAMETERS], chisq, rss = 0;
  size_t rank;
  for (size_t i = 0; i < d->n; i++) {
    tenter_law_gradient(law, p, d->t[i], gradient);
    for (size_t k = 0; k < info->linear; k++)
      gsl_matrix_set(g->A, i, k, gradient[k]);
    gsl_vector_set(g->y, i, d->y[i]);
    gsl_vector_set(g->w, i, d->w[i]);
  }
  /* GSL's own chisq is not |r|^2 where the rank falls short (2.7.1): summed up here */
  assert_int_equal(gsl_multifit_wlinear_tsvd(g->A, g->w, g->y, 1e-10, g->c, g->covariance, &chisq,
                                             &rank, g->work),
                   GSL_SUCCESS);
  for (size_t i = 0; i < d->n; i++) {
    double r = d->y[i];
    for (size_t k = 0; k < info->linear; k++)
      r -= gsl_vector_get(g->c, k) * gsl_matrix_get(g->A, i, k);
    rss += d->w[i] * r * r;
  }
  return rss;
}

/* The least sum of squares over a grid of the searched parameters, within the law's bounds. */
static double grid_best(tenter_law law, const data *d, size_t steps) {
  const tenter_law_info *info = tenter_law_describe(law);
  size_t searched = info->parameters - info->linear;
  twin g = {gsl_multifit_linear_alloc(d->n, info->linear),
            gsl_matrix_alloc(d->n, info->linear),
            gsl_matrix_alloc(info->linear, info->linear),
            gsl_vector_alloc(d->n),
            gsl_vector_alloc(d->n),
            gsl_vector_alloc(info->linear)};
  double best = INFINITY;
  for (size_t i = 0; i < steps; i++)
    for (size_t j = 0; j < (searched == 2 ? steps : 1); j++) {
      double p[TENTER_LAW_PARAMETERS] = {0};
      for (size_t k = 0; k < searched; k++) {
        double place = (double)(k ? j : i) / (double)(steps - 1);
        p[info->linear + k] =
            info->is_time[info->linear + k]
                ? exp(log(0.2 * d->t[0]) + place * log(50 * d->t[d->n - 1] / (0.2 * d->t[0])))
                : (law == TENTER_LAW_POWER ? -1 + 3 * place : 0.06 + 0.94 * place);
      }
      best = fmin(best, given(&g, law, d, p));
    }
  gsl_multifit_linear_free(g.work);
  gsl_matrix_free(g.A);
  gsl_matrix_free(g.covariance);
  gsl_vector_free(g.y);
  gsl_vector_free(g.w);
  gsl_vector_free(g.c);
  return best;
}

static void nothing_better_on_a_grid(void **state) {
  (void)state;
  static const tenter_law laws[] = {TENTER_LAW_POWER, TENTER_LAW_STRETCHED, TENTER_LAW_TWO_PHASE,
                                    TENTER_LAW_SOLID};
  tenter_law_options free_plateau = {.plateau = TENTER_LAW_PLATEAU_FREE};
  seed = 1;
  for (size_t k = 0; k < sizeof laws / sizeof laws[0]; k++)
    for (size_t round = 0; round < 40; round++) {
      /* every law meets data of another one, too */
      double tau = 20 * exp(3 * uniform());
      double stretched[] = {17 + 2 * uniform(), 24, tau, 0.3 + 0.7 * uniform()};
      double phases[] = {17 + 2 * uniform(), 2, 4, 3 + 10 * uniform(), tau * 3};
      data d = round % 2 ? simulate(TENTER_LAW_STRETCHED, stretched, 14, 0.2)
                         : simulate(TENTER_LAW_TWO_PHASE, phases, 14, 0.1);
      tenter_law_curve c = fit_all(laws[k], &d, &free_plateau, true, NULL, NULL);
      double best = grid_best(laws[k], &d, laws[k] == TENTER_LAW_SOLID ? 200 : 25);
      assert_true(tenter_fit_stop_minimum(c.stop));
      if (!(c.rss <= best * (1 + 1e-9)))
        fail_msg("%s, round %zu: %.12g, on the grid %.12g", tenter_law_describe(laws[k])->name,
                 round, c.rss, best);
    }
}

/* Few readings and much noise make false minima. What the usual search finds is what following
 * every start finds; a wrong order of starts, or too few searches, shows here. */
static void every_start(void **state) {
  (void)state;
  static const tenter_law laws[] = {TENTER_LAW_POWER, TENTER_LAW_STRETCHED, TENTER_LAW_TWO_PHASE,
                                    TENTER_LAW_SOLID};
  seed = 100;
  for (size_t round = 0; round < 600; round++) {
    double tau = 20 * exp(3 * uniform());
    double phases[] = {17 + 2 * uniform(), 2, 4, 3 + 10 * uniform(), tau * 3};
    data d = simulate(TENTER_LAW_TWO_PHASE, phases, 8 + round % 10, 0.3);
    for (size_t k = 0; k < sizeof laws / sizeof laws[0]; k++) {
      tenter_law_options options = {.plateau = TENTER_LAW_PLATEAU_FREE};
      tenter_law_curve usual = fit(laws[k], &d, &options);
      options.searches = 100;
      tenter_law_curve all = fit(laws[k], &d, &options);
      if (!(usual.rss <= all.rss * (1 + 1e-6)))
        fail_msg("%s, round %zu: %.12g, from every start %.12g", tenter_law_describe(laws[k])->name,
                 round, usual.rss, all.rss);
    }
  }
}

/* ---- intervals ---- */

/* 95 % profile intervals of the solid's tau on 600 simulated series of 12; the share that holds the
 * truth lies within four standard errors, 4 sqrt(0.95 * 0.05 / 600) = 0.036. */
static void profile_coverage(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60};
  size_t held = 0, trials = 600;
  seed = 7;
  for (size_t k = 0; k < trials; k++) {
    data d = simulate(TENTER_LAW_SOLID, truth, 12, 0.3);
    tenter_law_curve c = fit(TENTER_LAW_SOLID, &d, NULL);
    tenter_law_interval interval;
    assert_int_equal(tenter_law_profile(space, &c, 2, 0.95, &interval, NULL), TENTER_OK);
    assert_true(interval.low <= c.parameter[2] && c.parameter[2] <= interval.high);
    held += interval.low <= truth[2] && truth[2] <= interval.high;
  }
  assert_close((double)held / (double)trials, 0.95, 0, 0.036);
}

/* A straight fall sets no upper limit to tau: the interval is open there, at the bound. */
static void open_profile(void **state) {
  (void)state;
  data d = {.n = 8};
  tenter_law_interval interval;
  seed = 3;
  for (size_t i = 0; i < d.n; i++) {
    d.t[i] = 24 * (double)(i + 1);
    d.y[i] = 25 - 0.5 * (double)i + 0.1 * normal();
  }
  tenter_law_options options = {.plateau = TENTER_LAW_PLATEAU_FREE};
  tenter_law_curve c = fit(TENTER_LAW_SOLID, &d, &options);
  assert_true(c.notes & TENTER_LAW_NO_LEVELLING);
  assert_int_equal(tenter_law_profile(space, &c, 2, 0.9, &interval, NULL), TENTER_OK);
  assert_true(interval.high_open && !interval.low_open);
  assert_close(interval.high, 100 * d.t[7], 1e-9, 0);
  tenter_error error;
  assert_int_equal(tenter_law_profile(space, &c, 3, 0.9, &interval, &error), TENTER_USAGE);
  assert_int_equal(tenter_law_profile(space, &c, 2, 1, &interval, &error), TENTER_USAGE);
  c.rss *= 1.5; /* not the last fit */
  assert_int_equal(tenter_law_profile(space, &c, 2, 0.9, &interval, &error), TENTER_USAGE);
}

/* Of a linear law the profile interval is that of Student's t (its sum of squares is a parabola).
 */
static void linear_profile(void **state) {
  (void)state;
  const double truth[] = {24, 1.2};
  seed = 5;
  data d = simulate(TENTER_LAW_LOG, truth, 12, 0.2);
  tenter_law_curve c = fit(TENTER_LAW_LOG, &d, NULL);
  for (size_t k = 0; k < 2; k++) {
    tenter_law_interval interval;
    double half = gsl_cdf_tdist_Pinv(0.95, 10) * c.se[k];
    assert_int_equal(tenter_law_profile(space, &c, k, 0.9, &interval, NULL), TENTER_OK);
    assert_close(interval.low, c.parameter[k] - half, 1e-8, 0);
    assert_close(interval.high, c.parameter[k] + half, 1e-8, 0);
    assert_false(interval.low_open || interval.high_open);
  }
  tenter_error error;
  tenter_law_interval interval;
  assert_int_equal(tenter_law_profile(space, &c, TENTER_LAW_HALF_LIFE, 0.9, &interval, &error),
                   TENTER_USAGE);
  assert_true(isnan(tenter_law_half_life(&c, NULL)));
}

/* Where the plateau rests on its least value the readings still say how high it can be at most;
 * below it nothing is asked. All points of a series determine its linear parameters alone, so that
 * of several series there is no profile of them; the times have one, and half-lives. */
static void profile_of_held_plateau(void **state) {
  (void)state;
  const double truth[] = {-4, 25, 2000, 0.5};
  seed = 21;
  data d = simulate(TENTER_LAW_STRETCHED, truth, 20, 0.05);
  tenter_law_curve c = fit(TENTER_LAW_STRETCHED, &d, NULL);
  tenter_law_interval interval;
  assert_true(c.notes & TENTER_LAW_PLATEAU_HELD);
  assert_int_equal(tenter_law_profile(space, &c, 0, 0.9, &interval, NULL), TENTER_OK);
  assert_true(interval.low_open && !interval.high_open);
  assert_close(interval.low, 0, 0, 0);
  assert_true(interval.high > 0 && interval.high < 25);
  tenter_law_options known = {.plateau = TENTER_LAW_PLATEAU_KNOWN, .plateau_min = interval.high};
  double limit = c.rss * (1 + gsl_cdf_fdist_Pinv(0.9, 1, 17) / 17);
  tenter_law_curve there = fit(TENTER_LAW_STRETCHED, &d, &known);
  assert_close(there.rss, limit, 1e-6, 0); /* held there, it is just as bad as is allowed */
}

static double rss_between(const data *d, size_t k, double at, double low, double high) {
  tenter_law_options options = {.plateau = TENTER_LAW_PLATEAU_FREE};
  options.low[3 + k] = options.high[3 + k] = at;
  options.low[4 - k] = low;
  options.high[4 - k] = high;
  return fit_all(TENTER_LAW_TWO_PHASE, d, &options, false, NULL, NULL).rss;
}

/* The least sum of squares where one time of two phases stands at `at` and the other keeps its side
 * of it, a thousandth away: in each of 60 narrow pieces, so that no valley is missed. */
static double rss_of_phases(const data *d, size_t k, double at) {
  enum { PIECES = 60 };
  double from = k == 0 ? at * exp(1e-3) : d->t[0] / 10;
  double to = k == 0 ? 100 * d->t[d->n - 1] : at * exp(-1e-3), best = INFINITY;
  double ratio = pow(to / from, 1.0 / PIECES);
  for (int i = 0; i < PIECES; i++)
    best = fmin(best, rss_between(d, k, at, from * pow(ratio, i), from * pow(ratio, i + 1)));
  return best;
}

/* Phases that are hard to tell apart: the interval of the quicker one ends where it would have to
 * be the slower one to go on, and the other way round. */
static void phases_keep_their_order(void **state) {
  (void)state;
  const double truth[] = {18, 2, 5, 20, 80};
  size_t ends = 0;
  for (uint64_t trial = 1; trial <= 10; trial++) {
    seed = trial;
    data d = simulate(TENTER_LAW_TWO_PHASE, truth, 24, 0.3);
    tenter_law_options free_plateau = {.plateau = TENTER_LAW_PLATEAU_FREE};
    tenter_law_interval interval[2];
    tenter_law_curve c = fit(TENTER_LAW_TWO_PHASE, &d, &free_plateau);
    double left = (double)(c.count - c.free); /* a time on its bound is not estimated */
    double limit = c.rss * (1 + gsl_cdf_fdist_Pinv(0.9, 1, left) / left);
    for (size_t k = 0; k < 2; k++)
      assert_int_equal(tenter_law_profile(space, &c, 3 + k, 0.9, &interval[k], NULL), TENTER_OK);
    for (size_t k = 0; k < 2; k++) {
      if (!interval[k].low_open)
        assert_close(rss_of_phases(&d, k, interval[k].low), limit, 1e-4, 0);
      if (!interval[k].high_open)
        assert_close(rss_of_phases(&d, k, interval[k].high), limit, 1e-4, 0);
      ends += !interval[k].low_open + (size_t)!interval[k].high_open;
    }
  }
  assert_true(ends >= 20); /* of 40 */
}

/* The half-life is the age at which half of the fall is over, and its standard error is that of a
 * small step of each parameter. Two series share it. */
static void half_life(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60, 0.6};
  seed = 31;
  data d = simulate(TENTER_LAW_STRETCHED, truth, 24, 0.02);
  tenter_law_curve c = fit(TENTER_LAW_STRETCHED, &d, NULL);
  double se, half = tenter_law_half_life(&c, &se);
  double there = tenter_law_value(TENTER_LAW_STRETCHED, c.parameter, half);
  assert_close(there, (c.parameter[0] + c.parameter[1]) / 2, 1e-12, 0);
  assert_close(half, 60 * pow(log(2), 1 / 0.6), 0.1, 0);
  tenter_law_interval interval;
  assert_int_equal(tenter_law_profile(space, &c, TENTER_LAW_HALF_LIFE, 0.6826895, &interval, NULL),
                   TENTER_OK);
  assert_close((interval.high - interval.low) / 2, se, 0.05, 0); /* little noise: both agree */
  size_t first[] = {0, 12, 24};
  tenter_law_points points = {
      .count = 24, .age_hours = d.t, .value = d.y, .series = 2, .first = first};
  assert_int_equal(
      tenter_law_fit(space, TENTER_LAW_SOLID, &points, NULL, &c, NULL, NULL, NULL, NULL),
      TENTER_OK);
  tenter_error error;
  assert_int_equal(tenter_law_profile(space, &c, 0, 0.9, &interval, &error), TENTER_USAGE);
  assert_int_equal(tenter_law_profile(space, &c, TENTER_LAW_HALF_LIFE, 0.9, &interval, NULL),
                   TENTER_OK);
  half = tenter_law_half_life(&c, NULL);
  assert_true(interval.low < half && half < interval.high);
}

/* The standard error of the log law's curve by hand: var a + u^2 var b - 2 u cov. */
static void band(void **state) {
  (void)state;
  const double truth[] = {24, 1.2};
  seed = 5;
  data d = simulate(TENTER_LAW_LOG, truth, 12, 0.2);
  tenter_law_curve c = fit(TENTER_LAW_LOG, &d, NULL);
  double se, u = log10(2160.0 / 24);
  double value = tenter_law_predict(&c, 2160, &se);
  assert_close(value, c.parameter[0] - c.parameter[1] * u, 1e-13, 0);
  const double *v = c.covariance;
  assert_close(se * se, v[0] + u * u * v[TENTER_LAW_PARAMETERS + 1] - 2 * u * v[1], 1e-10, 0);
  assert_close(tenter_law_predict(&c, 24, NULL), c.parameter[0], 1e-13, 0);
}

/* With one slope the F test against a constant is the square of the slope's t test. */
static void against_constant(void **state) {
  (void)state;
  const double truth[] = {24, 0.1};
  seed = 29;
  data d = simulate(TENTER_LAW_LOG, truth, 9, 0.3);
  tenter_law_curve c = fit(TENTER_LAW_LOG, &d, NULL);
  double t = fabs(c.parameter[1] / c.se[1]);
  assert_close(c.p_constant, 2 * gsl_cdf_tdist_Q(t, 7), 1e-10, 0);
  assert_close(c.explained, t * t / (t * t + 7), 1e-10, 0);
}

/* Level and slope can't be told apart within an hour of the fortieth day. */
static void undetermined(void **state) {
  (void)state;
  data d = {.n = 8};
  for (size_t i = 0; i < d.n; i++) {
    d.t[i] = 1000 + 0.1 * (double)i;
    d.y[i] = 21 - 0.1 * (double)i + (i % 3 ? 0.01 : -0.02);
  }
  tenter_law_curve c = fit(TENTER_LAW_LOG, &d, NULL);
  assert_true(c.notes & TENTER_LAW_UNDETERMINED);
  for (size_t i = 0; i < d.n; i++)
    d.t[i] = 24 * (double)(i + 1);
  c = fit(TENTER_LAW_LOG, &d, NULL);
  assert_false(c.notes & TENTER_LAW_UNDETERMINED);
}

/* ---- invariances ---- */

static void units(void **state) {
  (void)state;
  const double truth[] = {18, 25, 150, 0.6};
  seed = 11;
  data d = simulate(TENTER_LAW_STRETCHED, truth, 20, 0.05), e = d;
  for (size_t i = 0; i < d.n; i++) {
    e.t[i] *= 60;
    e.y[i] = 10 * d.y[i];
  }
  tenter_law_options options = {.plateau = TENTER_LAW_PLATEAU_FREE};
  tenter_law_curve a = fit(TENTER_LAW_STRETCHED, &d, &options);
  tenter_law_curve b = fit(TENTER_LAW_STRETCHED, &e, &options);
  assert_close(b.parameter[2], 60 * a.parameter[2], 1e-6, 0);
  assert_close(b.parameter[3], a.parameter[3], 1e-6, 0);
  assert_close(b.se[2], 60 * a.se[2], 1e-5, 0);
  assert_close(b.parameter[0], 10 * a.parameter[0], 1e-6, 0);
  assert_close(b.rss, 100 * a.rss, 1e-9, 0);
}

/* One series said to be one is the plain fit; two copies of it share its tau, with double the sum.
 */
static void series(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60};
  seed = 13;
  data d = simulate(TENTER_LAW_SOLID, truth, 15, 0.2), two = d;
  two.n = 30;
  for (size_t i = 0; i < 15; i++) {
    two.t[15 + i] = d.t[i];
    two.y[15 + i] = d.y[i] + 3;
  }
  tenter_law_curve plain = fit(TENTER_LAW_SOLID, &d, NULL), c;
  size_t first[] = {0, 15, 30};
  double linear[4], residual[ROWS];
  tenter_law_points points = {
      .count = 30, .age_hours = two.t, .value = two.y, .series = 2, .first = first};
  assert_int_equal(
      tenter_law_fit(space, TENTER_LAW_SOLID, &points, NULL, &c, residual, NULL, linear, NULL),
      TENTER_OK);
  assert_close(c.parameter[2], plain.parameter[2], 1e-7, 0);
  assert_close(c.rss, 2 * plain.rss, 1e-10, 0);
  assert_int_equal(c.free, 5);
  assert_true(isnan(c.parameter[0]));
  for (size_t k = 0; k < 2; k++) {
    assert_close(linear[k], plain.parameter[k], 1e-7, 0);
    assert_close(linear[2 + k], plain.parameter[k] + 3, 1e-7, 0);
  }
  assert_close(residual[20], residual[5], 0, 1e-9);
  points.count = 15;
  points.series = 1;
  assert_int_equal(
      tenter_law_fit(space, TENTER_LAW_SOLID, &points, NULL, &c, NULL, NULL, NULL, NULL),
      TENTER_OK);
  assert_close(c.se[2], plain.se[2], 0, 0);
  first[1] = 14;
  assert_int_equal(
      tenter_law_fit(space, TENTER_LAW_SOLID, &points, NULL, &c, NULL, NULL, NULL, NULL),
      TENTER_USAGE);
}

/* ---- robust ---- */

/* 2.25 for 22.5 loses its weight, and the rest is fitted as if it were not there; at the end it is
 * named. */
static void misread_digit(void **state) {
  (void)state;
  const double truth[] = {18, 25, 150, 0.6};
  for (size_t where = 0; where < 2; where++) {
    seed = 17;
    data d = simulate(TENTER_LAW_STRETCHED, truth, 20, 0.1);
    size_t at = where ? 19 : 8;
    double robust[ROWS];
    tenter_law_options options = {.psi = TENTER_PSI_BISQUARE};
    tenter_law_curve clean = fit(TENTER_LAW_STRETCHED, &d, &options);
    d.y[at] /= 10;
    tenter_law_curve c = fit_all(TENTER_LAW_STRETCHED, &d, &options, false, NULL, robust);
    assert_true(tenter_fit_stop_minimum(c.stop));
    assert_close(robust[at], 0, 0, 0);
    for (size_t i = 0; i < d.n; i++)
      assert_true(i == at || robust[i] > 0);
    double middle = tenter_law_predict(&c, 24, NULL);
    assert_close(middle, tenter_law_predict(&clean, 24, NULL), 0, 0.1);
    assert_int_equal((c.notes & TENTER_LAW_NEWEST_DOWNWEIGHTED) != 0, where == 1);
  }
}

/* Three of four points on a line would make the scale nothing: least_scale keeps the noise known.
 */
static void least_scale(void **state) {
  (void)state;
  data d = {.n = 7,
            .t = {2.4, 24, 240, 2400, 24000, 240000, 2400000},
            .y = {25, 24, 23, 22, 21, 20, 19.2}};
  double robust[ROWS];
  tenter_law_options options = {.psi = TENTER_PSI_BISQUARE, .least_scale = 0.2};
  fit_all(TENTER_LAW_LOG, &d, &options, false, NULL, robust);
  assert_true(robust[6] > 0.9);
  options.least_scale = 0;
  fit_all(TENTER_LAW_LOG, &d, &options, false, NULL, robust);
  assert_true(robust[6] < 0.1);
}

/* ---- what is said ---- */

static void assert_says(const tenter_law_curve *c, unsigned note, const char *part) {
  char text[2048];
  tenter_law_words(c, TENTER_FORM_PLAIN, text, sizeof text);
  if (!(c->notes & note) || !strstr(text, part))
    fail_msg("notes %x, text '%s' without '%s'", c->notes, text, part);
}

static void notes(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60}, flat[] = {22, 0}, rising[] = {20, -1};
  seed = 19;
  data d = simulate(TENTER_LAW_SOLID, truth, 20, 0.2);
  tenter_law_curve c = fit(TENTER_LAW_SOLID, &d, NULL);
  char text[64];
  tenter_law_words(&c, TENTER_FORM_PLAIN, text, sizeof text);
  assert_string_equal(text, "");
  assert_int_equal(c.notes, 0);
  assert_true(c.explained > 0.95 && c.p_constant < 1e-6);
  c = fit(TENTER_LAW_LOG, &d, NULL); /* the wrong law runs */
  assert_says(&c, TENTER_LAW_NOT_RANDOM, "runs where");
  d = simulate(TENTER_LAW_LOG, flat, 15, 0.3);
  c = fit(TENTER_LAW_LOG, &d, NULL);
  assert_says(&c, TENTER_LAW_EXPLAINS_NOTHING, "A constant explains the readings as well (p = ");
  d = simulate(TENTER_LAW_LOG, rising, 15, 0.1);
  c = fit(TENTER_LAW_LOG, &d, NULL);
  assert_says(&c, TENTER_LAW_RISES, "rises with age");
  for (size_t i = 0; i < d.n; i++)
    d.y[i] = 22;
  c = fit(TENTER_LAW_STRETCHED, &d, NULL);
  assert_says(&c, TENTER_LAW_EXPLAINS_NOTHING, "A constant");
  d = simulate(TENTER_LAW_SOLID, truth, 4, 0.1);
  c = fit(TENTER_LAW_STRETCHED, &d, NULL);
  assert_says(&c, TENTER_LAW_TOO_FEW, "(4)");
  assert_true(isnan(c.aicc));
  tenter_law_words(&c, TENTER_FORM_PLAIN, text, sizeof text);
  assert_int_equal(strlen(text), sizeof text - 1);
  tenter_law_words(&c, TENTER_FORM_PLAIN, text, 0);
}

/* AICc needs n >= k + 2, k = 4 of the solid with sigma^2. */
static void aicc_needs(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60};
  for (size_t n = 5; n <= 6; n++) {
    seed = 23;
    data d = simulate(TENTER_LAW_SOLID, truth, n, 0.1);
    tenter_law_curve c = fit(TENTER_LAW_SOLID, &d, NULL);
    assert_int_equal(isnan(c.aicc) != 0, n == 5);
    if (n == 6)
      assert_close(c.aicc, -2 * c.loglik + 8 + 40, 1e-12, 0);
  }
}

/* A fall that goes on: the plateau would lie far below nothing, and is held at 0 where the best
 * fit with plateau 0 lies; said in words. */
static void plateau_held(void **state) {
  (void)state;
  data d = {.n = 9};
  for (size_t i = 0; i < d.n; i++) {
    d.t[i] = 24 * (double)(i + 1);
    d.y[i] = 25 - 0.01 * d.t[i] - 1e-5 * d.t[i] * d.t[i] + (i % 2 ? 0.02 : -0.02);
  }
  tenter_law_curve c = fit(TENTER_LAW_SOLID, &d, NULL);
  assert_close(c.parameter[0], 0, 0, 0);
  assert_true(c.on_bound[0] && isnan(c.se[0]) && c.se[2] > 0);
  assert_says(&c, TENTER_LAW_PLATEAU_HELD, "do not show");
  tenter_law_options known = {.plateau = TENTER_LAW_PLATEAU_KNOWN};
  tenter_law_curve at_zero = fit(TENTER_LAW_SOLID, &d, &known);
  assert_close(c.rss, at_zero.rss, 1e-10, 0);
  assert_false(at_zero.notes & TENTER_LAW_PLATEAU_HELD);
  double se;
  tenter_law_predict(&c, 2000, &se);
  assert_true(se > 0);
}

static void refusals(void **state) {
  (void)state;
  const double truth[] = {18, 25, 60};
  data d = simulate(TENTER_LAW_SOLID, truth, 6, 0.1);
  tenter_law_points points = {.count = 6, .age_hours = d.t, .value = d.y};
  tenter_law_curve c;
  tenter_error error = {0};
  d.t[0] = 0;
#define FIT(law, options)                                                                          \
  tenter_law_fit(space, (law), &points, (options), &c, NULL, NULL, NULL, &error)
  assert_int_equal(FIT(TENTER_LAW_LOG, NULL), TENTER_INPUT);
  assert_non_null(strstr(error.message, "point 1 has age 0 h"));
  assert_int_equal(FIT(TENTER_LAW_STRETCHED, NULL), TENTER_OK);
  d.t[0] = -1;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_INPUT);
  d.t[0] = 1;
  d.y[3] = NAN;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_INPUT);
  d.y[3] = 20;
  points.weight = d.w;
  d.w[2] = -0.5;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_INPUT);
  assert_non_null(strstr(error.message, "point 3 has weight -0.5"));
  memset(d.w, 0, sizeof d.w);
  d.w[0] = d.w[1] = 1;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_INPUT);
  assert_non_null(strstr(error.message, "2 readings can't determine the 3 parameters"));
  d.w[2] = 1; /* with the plateau known two parameters are left */
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_OK);
  d.w[2] = 0;
  tenter_law_options known = {.plateau = TENTER_LAW_PLATEAU_KNOWN, .plateau_min = 18};
  assert_int_equal(FIT(TENTER_LAW_SOLID, &known), TENTER_OK);
  assert_true(c.notes & TENTER_LAW_EXACT);
  assert_true(isnan(c.sigma) && isnan(c.se[2]));
  points.weight = NULL;
  tenter_law_options wrong = {.low = {0, 0, -1}, .high = {0, 0, 5}};
  assert_int_equal(FIT(TENTER_LAW_SOLID, &wrong), TENTER_USAGE);
  assert_non_null(strstr(error.message, "tau"));
  tenter_law_options nowhere = {.plateau_min = NAN};
  assert_int_equal(FIT(TENTER_LAW_SOLID, &nowhere), TENTER_USAGE);
  points.count = ROWS + 1;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_USAGE);
  points.count = 0;
  assert_int_equal(FIT(TENTER_LAW_SOLID, NULL), TENTER_INPUT);
  tenter_law_space *none = NULL;
  assert_int_equal(tenter_law_space_new(0, 1, &none, NULL), TENTER_USAGE);
  assert_int_equal(tenter_law_space_new(1, 0, &none, NULL), TENTER_USAGE);
  assert_int_equal(tenter_law_space_new(SIZE_MAX / 2, 1, &none, NULL), TENTER_USAGE);
  assert_null(none);
  tenter_law_space_free(NULL);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_better_on_a_grid),
                                     cmocka_unit_test(every_start),
                                     cmocka_unit_test(against_constant),
                                     cmocka_unit_test(undetermined),
                                     cmocka_unit_test(profile_coverage),
                                     cmocka_unit_test(open_profile),
                                     cmocka_unit_test(linear_profile),
                                     cmocka_unit_test(profile_of_held_plateau),
                                     cmocka_unit_test(phases_keep_their_order),
                                     cmocka_unit_test(half_life),
                                     cmocka_unit_test(band),
                                     cmocka_unit_test(units),
                                     cmocka_unit_test(series),
                                     cmocka_unit_test(misread_digit),
                                     cmocka_unit_test(least_scale),
                                     cmocka_unit_test(notes),
                                     cmocka_unit_test(aicc_needs),
                                     cmocka_unit_test(plateau_held),
                                     cmocka_unit_test(refusals)};
  return cmocka_run_group_tests(tests, make_space, free_space);
}
