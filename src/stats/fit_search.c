/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search for a least sum of squares: Levenberg and Marquardt with a trust region (More 1978).
 *
 * Model of a step  |r + J p|^2 with |D p| <= radius, D the largest lengths of J's columns so far.
 *                  With z = D p and J D^-1 = Q R it is |q + R z|^2, |z| <= radius, q = Q'r.
 * Bounds           a variable on a bound whose gradient points outside is left out of the step; the
 *                  step of the others is cut at their bounds and judged by what is left of it.
 * Ends             when the whole Gauss-Newton step would gain less than tolerance of the sum of
 * squares
 *                  (|q|^2 / |r|^2: the relative offset of Bates and Watts 1981, Technometrics
 * 23:179, squared) or nothing that rounding leaves; when the radius is nothing; when steps run out.
 */
#include <float.h>
#include <math.h>
#include <string.h>

#include "fit_internal.h"

/* A search that can go no further is at a minimum where the relative offset is below 1e-4. */
#define NEAR 1e-8

typedef struct search {
  const fit_task *task;
  double *x, *r, *trial;
  double norm;                /* |r| */
  double scale[FIT_P];        /* D */
  double gradient[FIT_P];     /* J'r */
  size_t column[FIT_P], free; /* the variables of the step */
  size_t order[FIT_P], rank;  /* position -> column */
  double R[FIT_P * FIT_P], q[FIT_P];
  double radius, lambda;
  fit_outcome *outcome;
} search;

static double norm_of(const double *v, size_t n) {
  return sqrt(fit_dot(v, v, n));
}

/* Residuals at x into r; their norm, or infinity where they are not defined. */
static double evaluate(search *s, const double *x, double *r) {
  s->outcome->evaluations++;
  if (!s->task->residual(s->task->context, x, r))
    return INFINITY;
  double norm = norm_of(r, s->task->n);
  return isfinite(norm) ? norm : INFINITY;
}

static double low_of(const fit_task *task, size_t k) {
  return task->low ? task->low[k] : -INFINITY;
}

static double high_of(const fit_task *task, size_t k) {
  return task->high ? task->high[k] : INFINITY;
}

/* On a bound with the descent pointing outside, or held fixed. */
static bool rests(const search *s, size_t k) {
  double low = low_of(s->task, k), high = high_of(s->task, k);
  return low == high || (s->x[k] <= low && s->gradient[k] >= 0) ||
         (s->x[k] >= high && s->gradient[k] <= 0);
}

/* Jacobian, gradient, free variables and R, q at x. False where the Jacobian is not defined. */
static bool linearise(search *s) {
  size_t n = s->task->n;
  double *jacobian = s->task->matrix;
  if (!s->task->jacobian(s->task->context, s->x, jacobian))
    return false;
  s->free = 0;
  for (size_t k = 0; k < s->task->p; k++) {
    double *from = jacobian + k * n, *to = jacobian + s->free * n;
    double square = fit_dot(from, from, n), along = fit_dot(from, s->r, n);
    if (!isfinite(square))
      return false;
    s->gradient[k] = along;
    s->scale[k] = fmax(s->scale[k], sqrt(square));
    if (rests(s, k) || square == 0)
      continue;
    double inverse = 1 / s->scale[k];
    for (size_t i = 0; i < n; i++)
      to[i] = from[i] * inverse;
    s->column[s->free++] = k;
  }
  s->rank = s->free ? fit_qr(jacobian, n, s->free, s->r, s->order, s->R) : 0;
  memcpy(s->q, s->r, s->free * sizeof *s->q);
  s->outcome->rank = s->rank;
  return true;
}

/* What the full Gauss-Newton step would gain. */
static double full_gain(const search *s) {
  double sum = 0;
  for (size_t k = 0; k < s->rank; k++)
    sum += s->q[k] * s->q[k];
  return sum;
}

/* Norms below this are rounding. */
static double rounding(const search *s) {
  return 8 * DBL_EPSILON * s->task->size;
}

/* |R'q|: the gradient in scaled variables. */
static double scaled_gradient(const search *s) {
  double sum = 0;
  for (size_t k = 0; k < s->free; k++) {
    size_t variable = s->column[k];
    double g = s->gradient[variable] / s->scale[variable];
    sum += g * g;
  }
  return sqrt(sum);
}

/* The step z within the radius (to a tenth), and lambda: More 1978, algorithm 5.5. */
static void trust_step(search *s, double *z) {
  size_t p = s->free;
  double damped[FIT_P * FIT_P], unit[FIT_P], w[FIT_P];
  fit_back_solve(s->R, p, s->rank, s->q, z);
  double length = norm_of(z, p), excess = length - s->radius, least = 0;
  if (excess <= 0.1 * s->radius) {
    s->lambda = 0;
    return;
  }
  if (s->rank == p) {
    for (size_t k = 0; k < p; k++)
      unit[k] = z[k] / length;
    fit_forward_solve(s->R, p, p, unit, w);
    double t = norm_of(w, p);
    least = excess / s->radius / t / t;
  }
  double gradient = scaled_gradient(s), most = gradient / s->radius;
  if (most == 0)
    most = DBL_MIN / fmin(s->radius, 0.1);
  s->lambda = fmin(fmax(s->lambda, least), most);
  if (s->lambda == 0)
    s->lambda = gradient / length;
  for (size_t round = 0; round < 10; round++) {
    double before = excess;
    if (s->lambda == 0)
      s->lambda = fmax(DBL_MIN, 0.001 * most);
    fit_damped_solve(s->R, p, s->q, s->lambda, damped, z);
    length = norm_of(z, p);
    excess = length - s->radius;
    if (fabs(excess) <= 0.1 * s->radius || (least == 0 && excess <= before && before < 0))
      return;
    for (size_t k = 0; k < p; k++)
      unit[k] = z[k] / length;
    fit_forward_solve(damped, p, p, unit, w);
    double t = norm_of(w, p), change = excess / s->radius / t / t;
    if (excess > 0)
      least = fmax(least, s->lambda);
    else
      most = fmin(most, s->lambda);
    s->lambda = fmax(least, s->lambda + change);
  }
}

/* The trial point x + D^-1 z cut at the bounds; z becomes the step that is left. */
static void trial_point(const search *s, double *z, double *point) {
  memcpy(point, s->x, s->task->p * sizeof *point);
  for (size_t k = 0; k < s->free; k++) {
    size_t variable = s->column[s->order[k]];
    double to = s->x[variable] + z[k] / s->scale[variable];
    double cut = fmin(fmax(to, low_of(s->task, variable)), high_of(s->task, variable));
    if (cut != to)
      z[k] = (cut - s->x[variable]) * s->scale[variable];
    point[variable] = cut;
  }
}

/* What the linear model gains by z: |q|^2 - |q + R z|^2, and its slope q'R z. */
static double predicted_gain(const search *s, const double *z, double *slope) {
  double along = 0, square = 0;
  for (size_t k = 0; k < s->free; k++) {
    double row = 0;
    for (size_t j = k; j < s->free; j++)
      row += s->R[k * s->free + j] * z[j];
    if (k < s->rank)
      along += s->q[k] * row;
    square += row * row;
  }
  *slope = along;
  return -2 * along - square;
}

/* The new radius after a step of length z with the given gains. */
static void adapt_radius(search *s, double length, double gain, double predicted, double slope) {
  double ratio = gain / predicted;
  if (!(predicted > 0) || !(ratio > 0.25)) {
    double share = 0.25;
    if (isfinite(gain) && predicted > 0) /* least point of the parabola through what is known */
      share = gain >= 0 ? 0.5 : fmin(fmax(slope / (2 * slope + gain), 0.1), 0.5);
    s->radius = share * fmin(s->radius, 10 * length);
    s->lambda /= share;
  } else if (s->lambda == 0 || ratio >= 0.75) {
    s->radius = 2 * length;
    s->lambda *= 0.5;
  }
}

/* Makes the trial point, with its residuals in trial, the point. */
static void accept(search *s, const double *point, double norm) {
  double *swap = s->r;
  s->r = s->trial;
  s->trial = swap;
  memcpy(s->x, point, s->task->p * sizeof *point);
  s->norm = norm;
}

/* One accepted step from a linearised point; false, with the stop, when there is none. A last full
 * step whose gain drowns in rounding is taken: its direction is still better than none. */
static bool step(search *s, bool first) {
  double z[FIT_P], point[FIT_P], size = 0, square = s->norm * s->norm;
  for (size_t k = 0; k < s->task->p; k++)
    size = hypot(size, s->scale[k] * s->x[k]);
  bool near = full_gain(s) <= NEAR * square + rounding(s) * rounding(s);
  s->outcome->stop = near ? TENTER_FIT_STOP_STEP : TENTER_FIT_STOP_STUCK;
  for (size_t attempt = 0; attempt < 100; attempt++) {
    trust_step(s, z);
    trial_point(s, z, point);
    double length = norm_of(z, s->free), slope;
    if (first && attempt == 0)
      s->radius = fmin(s->radius, length);
    double predicted = predicted_gain(s, z, &slope);
    double norm = evaluate(s, point, s->trial);
    double gain = (s->norm - norm) * (s->norm + norm);
    bool last = s->lambda == 0 && predicted <= 4 * DBL_EPSILON * square;
    adapt_radius(s, length, gain, predicted, slope);
    if (predicted > 0 && gain >= 1e-4 * predicted) {
      accept(s, point, norm);
      return true;
    }
    if (last && fabs(gain) <= 64 * DBL_EPSILON * square)
      accept(s, point, norm);
    if (last || s->radius <= 1e-15 * size || length == 0)
      break;
  }
  return false;
}

/* Whether the linearised point is where the search ends, and why. */
static bool ends(search *s) {
  double least = rounding(s);
  if (s->norm <= least)
    s->outcome->stop = TENTER_FIT_STOP_EXACT;
  else if (s->free == 0) {
    bool bounded = false;
    for (size_t k = 0; k < s->task->p; k++)
      bounded |= s->x[k] <= low_of(s->task, k) || s->x[k] >= high_of(s->task, k);
    s->outcome->stop = bounded ? TENTER_FIT_STOP_BOUNDS : TENTER_FIT_STOP_GRADIENT;
  } else if (full_gain(s) <= s->task->tolerance * s->norm * s->norm + least * least)
    s->outcome->stop = TENTER_FIT_STOP_GAIN;
  else
    return false;
  return true;
}

static double first_radius(const search *s) {
  double sum = 0;
  for (size_t k = 0; k < s->task->p; k++)
    sum = hypot(sum, s->scale[k] * (s->task->unit > 0 ? s->task->unit : s->x[k]));
  return s->task->factor * (sum > 0 ? sum : 1);
}

static void walk(search *s) {
  for (size_t k = 0; k < s->task->p; k++)
    s->x[k] = fmin(fmax(s->x[k], low_of(s->task, k)), high_of(s->task, k));
  s->norm = evaluate(s, s->x, s->r);
  s->outcome->stop = TENTER_FIT_STOP_UNDEFINED;
  if (!isfinite(s->norm) || !linearise(s))
    return;
  s->radius = first_radius(s);
  while (!ends(s)) {
    if (s->outcome->iterations >= s->task->max_iterations) {
      s->outcome->stop = TENTER_FIT_STOP_ITERATIONS;
      return;
    }
    if (!step(s, s->outcome->iterations == 0))
      return;
    s->outcome->iterations++;
    if (!linearise(s)) {
      s->outcome->stop = TENTER_FIT_STOP_UNDEFINED;
      return;
    }
  }
}

void fit_search(const fit_task *task, double *x, fit_outcome *outcome) {
  search s = {.task = task, .x = x, .r = task->r, .trial = task->trial, .outcome = outcome};
  memset(outcome, 0, sizeof *outcome);
  walk(&s);
  outcome->rss = s.norm * s.norm;
}
