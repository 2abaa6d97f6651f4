/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The general fit: a model as function and Jacobian, handed to the search as weighted residuals;
 * then covariance and likelihood. Relies on fit_search.c and fit_qr.c. */
#include "tenter/stats/fit.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "fit_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/words/words.h"

#define ONE_PI 3.14159265358979323846

struct tenter_fit_space {
  size_t count, parameters;
  double *root, *r, *trial, *matrix; /* n, n, n, n p: parts of block */
  double *block;
};

bool tenter_fit_stop_minimum(tenter_fit_stop stop) {
  static const bool minimum[] = {
#define X(name, is_minimum) is_minimum,
      TENTER_FIT_STOPS(X)
#undef X
  };
  return minimum[stop];
}

const char *tenter_fit_stop_sentence(tenter_fit_stop stop) {
  static const tenter_say sentences[] = {
#define X(name, is_minimum) TENTER_SAY_FIT_##name,
      TENTER_FIT_STOPS(X)
#undef X
  };
  return tenter_say_text(sentences[stop]);
}

tenter_status tenter_fit_space_new(size_t count, size_t parameters, tenter_fit_space **space,
                                   tenter_error *error) {
  if (count == 0 || parameters == 0 || parameters > FIT_P || count > SIZE_MAX / (FIT_P + 3))
    return tenter_fail(error, TENTER_USAGE, "a fit can't have %zu points and %zu parameters", count,
                       parameters);
  tenter_fit_space *made = tenter_alloc(1, sizeof *made);
  if (!made)
    return tenter_fail_memory(error);
  made->block = tenter_alloc(count * (3 + parameters), sizeof *made->block);
  if (!made->block) {
    tenter_fit_space_free(made);
    return tenter_fail_memory(error);
  }
  made->count = count;
  made->parameters = parameters;
  made->root = made->block;
  made->r = made->root + count;
  made->trial = made->r + count;
  made->matrix = made->trial + count;
  *space = made;
  return TENTER_OK;
}

void tenter_fit_space_free(tenter_fit_space *space) {
  if (!space)
    return;
  tenter_free(space->block);
  tenter_free(space);
}

double fit_loglik(double rss, size_t n, double log_weight_sum) {
  double count = (double)n;
  return -0.5 * count * (log(2 * ONE_PI * rss / count) + 1) + 0.5 * log_weight_sum;
}

double tenter_fit_aicc(double loglik, size_t count, size_t k) {
  if (count < k + 2)
    return NAN;
  double n = (double)count, parameters = (double)k;
  return -2 * loglik + 2 * parameters + 2 * parameters * (parameters + 1) / (n - parameters - 1);
}

/* ---- model to residuals ---- */

typedef struct weighted {
  const tenter_fit_problem *problem;
  const double *root;
} weighted;

static bool residual_of(void *context, const double *x, double *r) {
  const weighted *w = context;
  if (!w->problem->function(w->problem->context, x, r))
    return false;
  for (size_t i = 0; i < w->problem->count; i++)
    r[i] = w->root[i] * (w->problem->y[i] - r[i]);
  return true;
}

static bool jacobian_of(void *context, const double *x, double *jacobian) {
  const weighted *w = context;
  size_t n = w->problem->count;
  if (!w->problem->jacobian(w->problem->context, x, jacobian))
    return false;
  for (size_t k = 0; k < w->problem->parameters; k++)
    for (size_t i = 0; i < n; i++)
      jacobian[k * n + i] *= -w->root[i];
  return true;
}

/* ---- the run ---- */

static tenter_status check_problem(const tenter_fit_space *space, const tenter_fit_problem *problem,
                                   const double *start, tenter_error *error) {
  size_t n = problem->count, p = problem->parameters;
  if (n == 0 || p == 0 || n > space->count || p > space->parameters)
    return tenter_fail(error, TENTER_USAGE, "a fit of %zu points and %zu parameters has no room", n,
                       p);
  for (size_t k = 0; k < p; k++) {
    double low = problem->low ? problem->low[k] : -INFINITY;
    double high = problem->high ? problem->high[k] : INFINITY;
    if (!(low <= high) || !isfinite(start[k]))
      return tenter_fail(error, TENTER_USAGE, "parameter %zu of a fit has no start or no range",
                         k + 1);
  }
  size_t weighty = 0;
  for (size_t i = 0; i < n; i++) {
    double weight = problem->weight ? problem->weight[i] : 1;
    if (!isfinite(problem->y[i]) || !isfinite(weight) || weight < 0)
      return tenter_fail(error, TENTER_INPUT,
                         "point %zu of a fit has value %g and weight %g; values must be finite, "
                         "weights 0 or more",
                         i + 1, problem->y[i], weight);
    weighty += weight > 0;
  }
  if (weighty < p)
    return tenter_fail(error, TENTER_INPUT,
                       "%zu points can't determine %zu parameters: more readings are needed",
                       weighty, p);
  return TENTER_OK;
}

/* Better: a minimum before none, full rank before less, then the smaller sum of squares. */
static bool better(const fit_outcome *a, const fit_outcome *b) {
  bool a_good = tenter_fit_stop_minimum(a->stop), b_good = tenter_fit_stop_minimum(b->stop);
  if (a_good != b_good)
    return a_good;
  return a->rss < b->rss;
}

/* Searches with shorter first steps until one ends well; the best is kept in x. */
static fit_outcome search_best(fit_task *task, const double *start, tenter_fit *fit, double *x) {
  static const double factors[] = {100, 1, 0.1, 0.01};
  fit_outcome best = {0}, outcome;
  for (size_t k = 0; k < sizeof factors / sizeof factors[0]; k++) {
    double at[FIT_P];
    memcpy(at, start, task->p * sizeof *at);
    task->factor = factors[k];
    fit_search(task, at, &outcome);
    fit->iterations += outcome.iterations;
    fit->evaluations += outcome.evaluations;
    fit->searches++;
    if (k == 0 || better(&outcome, &best)) {
      best = outcome;
      memcpy(x, at, task->p * sizeof *at);
    }
    if (best.stop == TENTER_FIT_STOP_BOUNDS ||
        (tenter_fit_stop_minimum(best.stop) && best.rank == task->p))
      break;
  }
  return best;
}

static void fill_errors(const fit_task *task, const tenter_fit_problem *problem, tenter_fit *fit) {
  size_t p = task->p, n = task->n;
  for (size_t k = 0; k < p; k++)
    fit->on_bound[k] = (problem->low && fit->parameter[k] <= problem->low[k]) ||
                       (problem->high && fit->parameter[k] >= problem->high[k]);
  size_t bound = 0, weighty = 0;
  double log_weight = 0;
  for (size_t k = 0; k < p; k++)
    bound += fit->on_bound[k];
  for (size_t i = 0; i < n; i++) {
    double weight = problem->weight ? problem->weight[i] : 1;
    weighty += weight > 0;
    log_weight += weight > 0 ? log(weight) : 0;
  }
  size_t free = p - bound;
  fit->sigma = weighty > free ? sqrt(fit->rss / (double)(weighty - free)) : NAN;
  fit->loglik = fit_loglik(fit->rss, weighty, log_weight);
  fit->aicc = tenter_fit_aicc(fit->loglik, weighty, p + 1);
  for (size_t k = 0; k < p * p; k++)
    fit->covariance[k] = NAN;
  if (residual_of(task->context, fit->parameter, task->r) &&
      jacobian_of(task->context, fit->parameter, task->matrix))
    fit->rank = fit_inverse(task->matrix, n, p, fit->on_bound, fit->covariance, p);
  for (size_t k = 0; k < p * p; k++)
    fit->covariance[k] *= fit->sigma * fit->sigma;
  for (size_t k = 0; k < p; k++)
    fit->se[k] = sqrt(fit->covariance[k * p + k]);
}

tenter_status tenter_fit_run(tenter_fit_space *space, const tenter_fit_problem *problem,
                             const double *start, tenter_fit *fit, tenter_error *error) {
  tenter_status status = check_problem(space, problem, start, error);
  if (status != TENTER_OK)
    return status;
  double size = 0;
  for (size_t i = 0; i < problem->count; i++) {
    space->root[i] = problem->weight ? sqrt(problem->weight[i]) : 1;
    size += space->root[i] * problem->y[i] * space->root[i] * problem->y[i];
  }
  weighted context = {.problem = problem, .root = space->root};
  fit_task task = {.n = problem->count,
                   .p = problem->parameters,
                   .residual = residual_of,
                   .jacobian = jacobian_of,
                   .context = &context,
                   .low = problem->low,
                   .high = problem->high,
                   .size = sqrt(size),
                   .tolerance = problem->tolerance > 0 ? problem->tolerance : 1e-16,
                   .max_iterations = problem->max_iterations ? problem->max_iterations : 1000,
                   .r = space->r,
                   .trial = space->trial,
                   .matrix = space->matrix};
  memset(fit, 0, sizeof *fit);
  fit->count = problem->count;
  fit->parameters = problem->parameters;
  fit_outcome outcome = search_best(&task, start, fit, fit->parameter);
  fit->stop = outcome.stop;
  fit->rss = outcome.rss;
  fill_errors(&task, problem, fit);
  return TENTER_OK;
}
