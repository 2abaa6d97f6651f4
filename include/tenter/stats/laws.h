/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laws of relaxation: how tension falls with age, fitted to one series or to several of one shape.
 *
 *   log          a - b log10(t / 24 h)
 *   power        a (t / 24 h)^-c
 *   stretched    plateau + (initial - plateau) exp(-(t / tau)^beta)         Kohlrausch 1854
 *   two_phase    plateau + c1 exp(-t / tau1) + c2 exp(-t / tau2), tau1 < tau2  Maxwell, two terms
 *   solid        plateau + (initial - plateau) exp(-t / tau)                standard linear solid
 *
 * t is the age in hours; values are in the caller's unit. Every law is linear in all but one or two
 * of its parameters. Those are searched (times by their logarithm, within bounds), the linear ones
 * solved for at each step: variable projection (Golub and Pereyra 1973, SIAM J. Numer. Anal.
 * 10:413; Kaufman 1975, BIT 15:49), on the solver of fit.h. A grid of starts is scored first; the
 * search begins at the best of them and, where that ends badly, at the next. A plateau is held at
 * plateau_min or above.
 *
 * Adding a law is one row in src/stats/law_table.c and its constant in tenter_law.
 *
 * Too few data: a fit needs as many points of weight as parameters; AICc needs n >= k + 2.
 * A workspace is made once; fits allocate nothing. */
#ifndef TENTER_STATS_LAWS_H
#define TENTER_STATS_LAWS_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/status.h"
#include "tenter/stats/fit.h"
#include "tenter/stats/mestimate.h"
#include "tenter/words/words.h"

enum { TENTER_LAW_PARAMETERS = 5, TENTER_LAW_HALF_LIFE = TENTER_LAW_PARAMETERS };
#define TENTER_LAW_REFERENCE_HOURS 24.0 /* the age at which the a of log and power is read */

typedef enum tenter_law {
  TENTER_LAW_LOG,
  TENTER_LAW_POWER,
  TENTER_LAW_STRETCHED,
  TENTER_LAW_TWO_PHASE,
  TENTER_LAW_SOLID,
  TENTER_LAW_COUNT
} tenter_law;

/* ---- the laws themselves ---- */

typedef struct tenter_law_info {
  const char *name; /* a word, as above */
  tenter_say title; /* as a person would say it */
  const char *formula;
  size_t parameters, linear; /* the first `linear` parameters are linear */
  const char *parameter[TENTER_LAW_PARAMETERS];
  bool is_time[TENTER_LAW_PARAMETERS]; /* in hours; else in the unit of the values, or a plain
                                          number */
  bool needs_age;                      /* ages must be above 0 */
} tenter_law_info;

const tenter_law_info *tenter_law_describe(tenter_law law);

/* The law of that name; false if none. */
bool tenter_law_find(const char *name, tenter_law *law);

/* The value at an age; log and power are not finite at 0. */
double tenter_law_value(tenter_law law, const double *parameter, double age_hours);

/* Its derivatives by the parameters, and the value as result. */
double tenter_law_gradient(tenter_law law, const double *parameter, double age_hours,
                           double *gradient);

/* ---- fitting ---- */

typedef struct tenter_law_space tenter_law_space;

/* Room for fits of up to count points in up to series series. TENTER_USAGE for 0. */
tenter_status tenter_law_space_new(size_t count, size_t series, tenter_law_space **space,
                                   tenter_error *error);
void tenter_law_space_free(tenter_law_space *space);

/* Points in order of age (within a series: the order matters for the residual diagnostics only). */
typedef struct tenter_law_points {
  size_t count;
  const double *age_hours, *value;
  const double *weight; /* proportional to 1 / variance, >= 0; NULL: all 1 */
  /* Several series of one shape: each its own linear parameters, the searched ones shared. Series s
   * holds points first[s] .. first[s + 1] - 1 (first has series + 1 entries). series 0: one series.
   */
  size_t series;
  const size_t *first;
} tenter_law_points;

/* The level at which a law with a plateau ends: at plateau_min or above, anywhere, or at
 * plateau_min. */
typedef enum tenter_law_plateau {
  TENTER_LAW_PLATEAU_BOUNDED,
  TENTER_LAW_PLATEAU_FREE,
  TENTER_LAW_PLATEAU_KNOWN
} tenter_law_plateau;

/* A zeroed struct is the usual fit. */
typedef struct tenter_law_options {
  tenter_psi psi;     /* robust weights by iteration; the bisquare begins at the Huber fit */
  double least_scale; /* the robust scale is never below this (reading noise, of weight 1) */
  tenter_law_plateau plateau;
  double plateau_min;                                             /* 0 */
  double low[TENTER_LAW_PARAMETERS], high[TENTER_LAW_PARAMETERS]; /* of the searched ones; 0, 0: the
      law's own: times from a tenth of the least age above 0 to 100 (stretched: 1000) times the
      greatest, beta 0.05 .. 1, c -5 .. 5 */
  size_t searches;  /* at least so many starts are followed to the end; 0: the law's own */
  double tolerance; /* 0: 1e-14 */
} tenter_law_options;

/* What a fit has to say for itself; the sentences are in tenter/words/laws.h. */
#define TENTER_LAW_NOTES(X)                                                                        \
  X(NOT_CONVERGED)                                                                                 \
  X(ON_BOUND)                                                                                      \
  X(PLATEAU_HELD)                                                                                  \
  X(EXPLAINS_NOTHING)                                                                              \
  X(UNDETERMINED)                                                                                  \
  X(RISES)                                                                                         \
  X(NO_LEVELLING)                                                                                  \
  X(NOT_RANDOM)                                                                                    \
  X(EXACT)                                                                                         \
  X(TOO_FEW)                                                                                       \
  X(NEWEST_DOWNWEIGHTED)

enum {
#define X(name) TENTER_LAW_NOTE_INDEX_##name,
  TENTER_LAW_NOTES(X)
#undef X
      TENTER_LAW_NOTE_COUNT
};
enum {
#define X(name) TENTER_LAW_##name = 1 << TENTER_LAW_NOTE_INDEX_##name,
  TENTER_LAW_NOTES(X)
#undef X
};

typedef struct tenter_law_curve {
  tenter_law law;
  size_t count, series; /* points of weight, series */
  size_t free;          /* parameters estimated, over all series, those on a bound left out */
  double parameter[TENTER_LAW_PARAMETERS]; /* several series: linear ones NaN (see series_linear) */
  double se[TENTER_LAW_PARAMETERS];        /* NaN on a bound or not determined */
  double covariance[TENTER_LAW_PARAMETERS * TENTER_LAW_PARAMETERS]; /* [j * 5 + k] */
  bool on_bound[TENTER_LAW_PARAMETERS];
  double rss;   /* weighted by the caller's weights and the robust ones */
  double sigma; /* residual standard deviation of weight 1; robust: as summary.rlm */
  double scale; /* the robust scale; NaN without */
  double loglik,
      aicc;          /* NaN for a robust fit: likelihoods of different weights can't be compared */
  double explained;  /* 1 - rss / rss about a constant (of each series); in -inf .. 1 */
  double p_constant; /* F test against that constant; NaN without degrees of freedom */
  tenter_fit_runs runs; /* of the residuals times sqrt(weight) */
  size_t iterations, evaluations, searches;
  tenter_fit_stop stop;
  unsigned notes; /* TENTER_LAW_... */
} tenter_law_curve;

/* Fits law to points. residual (count), robust (count) and series_linear (series * linear, series
 * by series) receive the plain residuals, the robust weights and each series' linear parameters;
 * each may be NULL. A search that ends badly is no error: see stop and notes. TENTER_USAGE where
 * the points are more than the space holds; TENTER_INPUT where a number is not finite, an age is
 * negative (or 0 where the law needs more), a weight is negative, or there are fewer points of
 * weight than parameters. */
tenter_status tenter_law_fit(tenter_law_space *space, tenter_law law,
                             const tenter_law_points *points, const tenter_law_options *options,
                             tenter_law_curve *curve, double *residual, double *robust,
                             double *series_linear, tenter_error *error);

/* The curve of one series at an age, and the standard error of the curve (not of a reading) by the
 * delta method; NaN where the covariance is. A parameter on a bound counts as known. */
double tenter_law_predict(const tenter_law_curve *curve, double age_hours, double *se);

/* The age in hours at which half of what will ever be lost is lost, of a law with an end that one
 * time tells (stretched, solid): tau (ln 2)^(1 / beta); its standard error by the delta method
 * (NULL is allowed). NaN for other laws: log and power never end, and when half of two phases is
 * gone is told by their amplitudes, which each series has of its own. */
double tenter_law_half_life(const tenter_law_curve *curve, double *se);

/* An interval of a parameter. */
typedef struct tenter_law_interval {
  double low, high;
  bool low_open, high_open; /* the search met its bound: the readings set no limit on that side */
} tenter_law_interval;

/* Profile-likelihood interval of a parameter (its index, or TENTER_LAW_HALF_LIFE) of the fit that
 * space made last: all values at which the least sum of squares over the other parameters is at
 * most rss (1 + F(level; 1, n - p) / (n - p)) (Bates and Watts 1988, section 6.1.2). Bounds are
 * those of the fit; of a linear parameter plateau_min where that holds, else ten times the greatest
 * value. The two times of two phases keep their order. Robust weights stay as they are in the fit.
 * TENTER_USAGE for a linear parameter of several series, a plateau that is known, a half-life that
 * the law has not, or a level outside 0 .. 1; TENTER_FAILED where the fit did not converge, has no
 * degrees of freedom, or the profile finds a lower sum of squares. */
tenter_status tenter_law_profile(tenter_law_space *space, const tenter_law_curve *curve,
                                 size_t parameter, double level, tenter_law_interval *interval,
                                 tenter_error *error);

/* What the fit has to say, one sentence after another, with names and figures in the given form; ""
 * where there is nothing to say. Cut to size. */
void tenter_law_words(const tenter_law_curve *curve, tenter_form form, char *text, size_t size);

#endif
