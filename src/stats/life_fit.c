/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fit of a law: whether there is one, its start, and its result in the caller's parameters.
 * Relies on life_search.c. */
#include "tenter/stats/life_fit.h"

#include <math.h>
#include <string.h>

#include "life_fit_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/words/words.h"

static const double nothing = 1e-8; /* a column's information, of what it has in a line fit */
static const double steepest = 1e4, flattest = 1e-4; /* of theta: no lives have such spreads */

const char *tenter_life_state_sentence(tenter_life_state state) {
  static const tenter_say sentences[] = {
#define X(constant) TENTER_SAY_LIFE_##constant,
      TENTER_LIFE_STATES(X)
#undef X
  };
  return state < TENTER_LIFE_STATE_COUNT ? tenter_say_text(sentences[state]) : NULL;
}

/* ---- what can't be fitted ------------------------------------------------------------------- */

static tenter_status check(const tenter_life *life, const tenter_life_design *design,
                           tenter_life_law law, tenter_life_tally *tally, tenter_error *error) {
  if (law >= TENTER_LIFE_LAW_COUNT || design->terms == 0)
    return tenter_fail(error, TENTER_USAGE, "A fit of lives needs a law and at least one column.");
  tenter_status status = tenter_life_count(life, tally, error);
  if (status != TENTER_OK)
    return status;
  for (size_t i = 0; i < life->count; i++) {
    if (life->upper[i] == 0)
      return tenter_fail(error, TENTER_INPUT,
                         "Row %zu failed at time 0, which has no logarithm: give the time it was "
                         "first seen to have failed, or leave it out.",
                         i + 1);
    for (size_t k = 0; design->x && k < design->terms; k++)
      if (!isfinite(design->x[i * design->terms + k]))
        return tenter_fail(error, TENTER_INPUT, "Row %zu, column %zu is not a number.", i + 1,
                           k + 1);
  }
  return TENTER_OK;
}

static bool counts(const tenter_life *life, size_t i) {
  return !(life->weight && life->weight[i] == 0) && !(life->lower[i] == 0 && isinf(life->upper[i]));
}

/* Where all rows have a time in common, the likelihood grows as the spread shrinks about it. */
static bool meet(const tenter_life *life) {
  double latest = 0, earliest = INFINITY;
  for (size_t i = 0; i < life->count; i++)
    if (counts(life, i)) {
      latest = fmax(latest, life->lower[i]);
      earliest = fmin(earliest, life->upper[i]);
    }
  return latest <= earliest;
}

static tenter_life_state judge(const tenter_life *life, tenter_life_law law,
                               const tenter_life_tally *tally) {
  if (!(tally->exact + tally->left + tally->interval > 0))
    return TENTER_LIFE_NO_FAILURES;
  if (!(tally->exact + tally->interval + tally->right > 0))
    return TENTER_LIFE_NO_SURVIVORS;
  if (law != TENTER_LIFE_EXPONENTIAL && meet(life))
    return TENTER_LIFE_ONE_TIME;
  return TENTER_LIFE_FITTED;
}

/* ---- where the search begins ---------------------------------------------------------------- */

/* A time for a row that is known by its ends, on the log scale. */
static double middle_of(const life_search *s, size_t i) {
  double low = s->log_lower[i], high = s->log_upper[i];
  if (isinf(low))
    return high - M_LN2;
  return isinf(high) ? low : (low + high) / 2;
}

/* A line by least squares through the middles, in the search's own arrays: information holds the
 * products of the columns. False where these depend on each other. */
static bool line_through(life_search *s, double *spread) {
  size_t free = s->free, n = s->terms;
  double weights = 0, squares = 0, *x = s->low_row, *h = s->information;
  s->free = n;
  memset(s->gradient, 0, n * sizeof *s->gradient);
  memset(h, 0, n * n * sizeof *h);
  for (size_t i = 0; i < s->life->count; i++) {
    double weight = s->life->weight ? s->life->weight[i] : 1, y = middle_of(s, i);
    if (!counts(s->life, i))
      continue;
    life_search_row(s->design, i, x);
    weights += weight;
    squares += weight * y * y;
    for (size_t j = 0; j < n; j++) {
      s->gradient[j] += weight * x[j] * y;
      for (size_t k = 0; k <= j; k++)
        h[j * n + k] += weight * x[j] * x[k];
    }
  }
  bool solved = life_search_factor(s);
  if (solved)
    life_search_solve(s, s->gradient, s->at);
  for (size_t k = 0; k < n; k++)
    squares -= s->at[k] * s->gradient[k];
  *spread = sqrt(fmax(squares / weights, 1e-6));
  s->free = free;
  return solved;
}

/* The square of pivot j of the factor, unscaled: the information on column j beside those before
 * it. */
static double pivot(const life_search *s, size_t n, size_t j) {
  double p = s->information[j * n + j] / s->scale[j];
  return p * p;
}

/* Sets at; plain gets the pivots of the line fit. */
static bool begin(life_search *s, double *plain) {
  double spread;
  if (!line_through(s, &spread))
    return false;
  for (size_t k = 0; k < s->terms; k++)
    plain[k] = pivot(s, s->terms, k);
  double theta = s->law == TENTER_LIFE_EXPONENTIAL ? 1 : 1 / spread;
  for (size_t k = 0; k < s->terms; k++)
    s->at[k] *= theta;
  s->at[s->terms] = theta;
  return true;
}

/* A column whose information vanishes: its coefficient runs away while the likelihood levels off.
 */
static bool runs_away(const life_search *s, const double *plain) {
  for (size_t k = 0; k < s->terms; k++)
    if (pivot(s, s->free, k) < nothing * plain[k])
      return true;
  return false;
}

static tenter_life_state search_for(life_search *s, double *plain) {
  if (!begin(s, plain))
    return TENTER_LIFE_DEPENDENT;
  bool found = life_search_climb(s, NULL);
  if (s->at[s->terms] > steepest)
    return TENTER_LIFE_ONE_TIME;
  if (s->at[s->terms] < flattest)
    return TENTER_LIFE_REVERSED;
  if (!found)
    return s->promise < 1e-6 ? TENTER_LIFE_SEPARATED : TENTER_LIFE_UNSETTLED;
  return runs_away(s, plain) ? TENTER_LIFE_SEPARATED : TENTER_LIFE_FITTED;
}

/* ---- the result ----------------------------------------------------------------------------- */

/* Column j of d(b, log scale) / d(g, theta) times a vector v: b = g / theta, log scale = -log
 * theta. */
static void turn(const life_search *s, const double *b, double *v) {
  double theta = s->at[s->terms], change = s->free > s->terms ? v[s->terms] : 0;
  for (size_t k = 0; k < s->terms; k++)
    v[k] = (v[k] - b[k] * change) / theta;
  v[s->terms] = -change / theta;
}

/* J (information)^-1 J', columns first, then rows. */
static void fill_covariance(life_search *s, tenter_life_fit *fit) {
  size_t n = s->terms + 1;
  double *c = fit->covariance, *v = s->step;
  for (size_t j = 0; j < s->free; j++) {
    memset(s->trial, 0, n * sizeof *s->trial);
    memset(v, 0, n * sizeof *v);
    s->trial[j] = 1;
    life_search_solve(s, s->trial, v);
    turn(s, fit->coefficient, v);
    for (size_t k = 0; k < n; k++)
      c[k * n + j] = v[k];
  }
  for (size_t k = 0; k < n; k++)
    turn(s, fit->coefficient, &c[k * n]);
}

/* The density of T has 1 / t beside that of log T. */
static double log_times(const tenter_life *life) {
  double sum = 0;
  for (size_t i = 0; i < life->count; i++)
    if (life->lower[i] == life->upper[i])
      sum += (life->weight ? life->weight[i] : 1) * log(life->lower[i]);
  return sum;
}

static void fill(life_search *s, tenter_life_fit *fit) {
  for (size_t k = 0; k < s->terms; k++)
    fit->coefficient[k] = s->at[k] / s->at[s->terms];
  fit->scale = 1 / s->at[s->terms];
  fit->loglik = s->loglik - log_times(s->life);
  fit->slope = s->promise / 2;
  fill_covariance(s, fit);
}

static void fill_unknown(tenter_life_fit *fit) {
  size_t n = fit->terms + 1;
  for (size_t k = 0; k < fit->terms; k++)
    fit->coefficient[k] = NAN;
  for (size_t k = 0; k < n * n; k++)
    fit->covariance[k] = NAN;
  fit->scale = fit->loglik = fit->slope = NAN;
}

void tenter_life_fit_release(tenter_life_fit *fit) {
  if (!fit)
    return;
  tenter_free(fit->coefficient);
  tenter_free(fit->covariance);
  *fit = (tenter_life_fit){0};
}

static tenter_status run(const tenter_life *life, const tenter_life_design *design,
                         tenter_life_fit *fit, tenter_error *error) {
  life_search search;
  double *plain = tenter_alloc(design->terms, sizeof *plain);
  if (!plain)
    return tenter_fail_memory(error);
  tenter_status status = life_search_make(life, design, fit->law, &search, error);
  if (status == TENTER_OK) {
    fit->state = search_for(&search, plain);
    fit->iterations = search.iterations;
    if (fit->state == TENTER_LIFE_FITTED)
      fill(&search, fit);
    life_search_release(&search);
  }
  tenter_free(plain);
  return status;
}

tenter_status tenter_life_fit_run(const tenter_life *life, const tenter_life_design *design,
                                  tenter_life_law law, tenter_life_fit *fit, tenter_error *error) {
  tenter_life_fit made = {.law = law, .terms = design->terms};
  tenter_status status = check(life, design, law, &made.tally, error);
  if (status != TENTER_OK)
    return status;
  made.coefficient = tenter_alloc(made.terms, sizeof *made.coefficient);
  made.covariance = tenter_alloc(made.terms + 1, (made.terms + 1) * sizeof *made.covariance);
  if (!made.coefficient || !made.covariance) {
    tenter_life_fit_release(&made);
    return tenter_fail_memory(error);
  }
  fill_unknown(&made);
  made.state = judge(life, law, &made.tally);
  if (made.state == TENTER_LIFE_FITTED)
    status = run(life, design, &made, error);
  if (status == TENTER_OK)
    *fit = made;
  else
    tenter_life_fit_release(&made);
  return status;
}
