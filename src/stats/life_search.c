/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Newton's search for the greatest likelihood of a law. Relies on life_law.c and the heap. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "life_fit_internal.h"
#include "life_law.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { ITERATIONS = 100, HALVINGS = 40 };

static const double close_promise = 1e-6; /* Newton's step needs no checking below */
static const double last_promise = 1e-11; /* and is the last one */

void life_search_release(life_search *s) {
  void *blocks[] = {s->log_lower, s->log_upper, s->at,       s->gradient,    s->step, s->trial,
                    s->along,     s->low_row,   s->high_row, s->information, s->scale};
  for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
    tenter_free(blocks[i]);
  *s = (life_search){0};
}

tenter_status life_search_make(const tenter_life *life, const tenter_life_design *design,
                               tenter_life_law law, life_search *search, tenter_error *error) {
  size_t terms = design->terms, room = terms + 1;
  life_search s = {.life = life,
                   .design = design,
                   .law = law,
                   .terms = terms,
                   .free = law == TENTER_LIFE_EXPONENTIAL ? terms : room};
  double **short_ones[] = {&s.at,    &s.gradient, &s.step,     &s.trial,
                           &s.along, &s.low_row,  &s.high_row, &s.scale};
  bool done = true;
  for (size_t i = 0; i < sizeof short_ones / sizeof *short_ones; i++)
    done &= (*short_ones[i] = tenter_alloc(room, sizeof **short_ones[i])) != NULL;
  done &= (s.information = tenter_alloc(room, room * sizeof *s.information)) != NULL;
  done &= (s.log_lower = tenter_alloc(life->count, sizeof *s.log_lower)) != NULL;
  done &= (s.log_upper = tenter_alloc(life->count, sizeof *s.log_upper)) != NULL;
  if (!done) {
    life_search_release(&s);
    return tenter_fail_memory(error);
  }
  for (size_t i = 0; i < life->count; i++) {
    s.log_lower[i] = log(life->lower[i]);
    s.log_upper[i] = log(life->upper[i]);
  }
  *search = s;
  return TENTER_OK;
}

void life_search_row(const tenter_life_design *design, size_t i, double *x) {
  for (size_t k = 0; k < design->terms; k++)
    x[k] = design->x ? design->x[i * design->terms + k] : 1;
}

/* ---- likelihood and its derivatives --------------------------------------------------------- */

/* One row's share: w at each end is row'(parameters), row = (-x, log t). */
static void add_derivatives(life_search *s, const life_slope *slope, double weight) {
  const double *a = s->low_row, *b = s->high_row;
  for (size_t j = 0; j < s->free; j++) {
    double low = slope->by_low_low * a[j] + slope->by_low_high * b[j];
    double high = slope->by_low_high * a[j] + slope->by_high_high * b[j];
    s->gradient[j] += weight * (slope->by_low * a[j] + slope->by_high * b[j]);
    for (size_t k = 0; k <= j; k++)
      s->information[j * s->free + k] -= weight * (low * a[k] + high * b[k]);
  }
}

/* The ends of row i as rows of the design; returns the location x'g. */
static double set_rows(life_search *s, size_t i, const double *at) {
  double location = 0, *low = s->low_row, *high = s->high_row;
  life_search_row(s->design, i, low);
  for (size_t k = 0; k < s->terms; k++) {
    location += low[k] * at[k];
    low[k] = high[k] = -low[k];
  }
  low[s->terms] = isinf(s->log_lower[i]) ? 0 : s->log_lower[i];
  high[s->terms] = isinf(s->log_upper[i]) ? 0 : s->log_upper[i];
  return location;
}

/* An exact row, or one so narrow that it is its width, in log time, times the density in its
 * middle: there differences of the ends' derivatives would cancel. */
static double meet_in_middle(life_search *s, size_t i, double theta, double location, double weight,
                             tenter_sum *sum) {
  double width = s->log_upper[i] - s->log_lower[i], middle = s->log_lower[i] + width / 2;
  s->low_row[s->terms] = middle;
  if (width > 0)
    tenter_sum_add(sum, weight * log(width));
  return theta * middle - location;
}

double life_search_value(life_search *s, const double *at, bool derive) {
  tenter_sum sum = {0};
  double theta = at[s->terms], exact = 0;
  if (derive) {
    memset(s->gradient, 0, (s->terms + 1) * sizeof *s->gradient);
    memset(s->information, 0, s->free * s->free * sizeof *s->information);
  }
  for (size_t i = 0; i < s->life->count; i++) {
    double weight = s->life->weight ? s->life->weight[i] : 1;
    if (weight == 0 || (isinf(s->log_lower[i]) && isinf(s->log_upper[i])))
      continue;
    double location = set_rows(s, i, at), low = theta * s->log_lower[i] - location;
    double high = theta * s->log_upper[i] - location;
    bool one = s->log_lower[i] == s->log_upper[i] || life_law_is_narrow(s->law, low, high);
    if (one)
      low = high = meet_in_middle(s, i, theta, location, weight, &sum);
    life_slope slope = life_law_slope(s->law, low, high);
    tenter_sum_add(&sum, weight * slope.value);
    exact += one ? weight : 0;
    if (derive)
      add_derivatives(s, &slope, weight);
  }
  if (derive && s->free > s->terms) {
    s->gradient[s->terms] += exact / theta;
    s->information[s->free * s->free - 1] += exact / (theta * theta);
  }
  tenter_sum_add(&sum, exact * log(theta));
  double value = tenter_sum_total(&sum);
  return isnan(value) ? -INFINITY : value;
}

/* ---- Newton's equations --------------------------------------------------------------------- */

/* Cholesky's factor of the information with rows and columns scaled to a diagonal of 1; a pivot
 * below the rounding of that says that there is none. */
bool life_search_factor(life_search *s) {
  size_t n = s->free;
  double *h = s->information;
  for (size_t j = 0; j < n; j++) {
    s->scale[j] = h[j * n + j] > 0 ? 1 / sqrt(h[j * n + j]) : 0;
    if (!(s->scale[j] > 0) || isinf(s->scale[j]))
      return false;
  }
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k <= j; k++) {
      double sum = h[j * n + k] * s->scale[j] * s->scale[k];
      for (size_t i = 0; i < k; i++)
        sum -= h[j * n + i] * h[k * n + i];
      if (j == k && !(sum > 64 * DBL_EPSILON))
        return false;
      h[j * n + k] = j == k ? sqrt(sum) : sum / h[k * n + k];
    }
  return true;
}

void life_search_solve(const life_search *s, const double *b, double *x) {
  size_t n = s->free;
  const double *h = s->information;
  for (size_t j = 0; j < n; j++) {
    double sum = b[j] * s->scale[j];
    for (size_t i = 0; i < j; i++)
      sum -= h[j * n + i] * x[i];
    x[j] = sum / h[j * n + j];
  }
  for (size_t j = n; j-- > 0;) {
    double sum = x[j];
    for (size_t i = j + 1; i < n; i++)
      sum -= h[i * n + j] * x[i];
    x[j] = sum / h[j * n + j];
  }
  for (size_t j = 0; j < n; j++)
    x[j] *= s->scale[j];
}

static double product(size_t n, const double *a, const double *b) {
  double sum = 0;
  for (size_t k = 0; k < n; k++)
    sum += a[k] * b[k];
  return sum;
}

/* Newton's step; on a plane, the part of it that stays there (Lagrange). */
static void find_step(life_search *s, const double *plane) {
  life_search_solve(s, s->gradient, s->step);
  if (!plane)
    return;
  life_search_solve(s, plane, s->along);
  double share = product(s->free, plane, s->step) / product(s->free, plane, s->along);
  for (size_t k = 0; k < s->free; k++)
    s->step[k] -= share * s->along[k];
}

/* ---- the climb ------------------------------------------------------------------------------ */

/* The longest step up to 1 that leaves theta a tenth of itself. */
static double longest(const life_search *s) {
  double theta = s->at[s->terms], change = s->free > s->terms ? s->step[s->terms] : 0;
  return theta + change < 0.1 * theta ? -0.9 * theta / change : 1;
}

static void set_trial(life_search *s, double length) {
  memcpy(s->trial, s->at, (s->terms + 1) * sizeof *s->trial);
  for (size_t k = 0; k < s->free; k++)
    s->trial[k] += length * s->step[k];
}

/* The step, halved until it gains a fair share of its promise (Armijo). */
static bool take_step(life_search *s) {
  double length = longest(s);
  for (int i = 0; i < HALVINGS; i++, length /= 2) {
    set_trial(s, length);
    double value = life_search_value(s, s->trial, false);
    if (value >= s->loglik + 1e-4 * length * s->promise ||
        (s->promise < close_promise && length == 1)) {
      memcpy(s->at, s->trial, (s->terms + 1) * sizeof *s->at);
      return true;
    }
  }
  return false;
}

bool life_search_climb(life_search *s, const double *plane) {
  for (int i = 0; i < ITERATIONS; i++) {
    s->loglik = life_search_value(s, s->at, true);
    s->iterations++;
    if (isinf(s->loglik) || !life_search_factor(s))
      return false;
    find_step(s, plane);
    s->promise = product(s->free, s->gradient, s->step);
    if (!take_step(s))
      return false;
    if (s->promise < last_promise) {
      s->loglik = life_search_value(s, s->at, true);
      return life_search_factor(s);
    }
  }
  return false;
}
