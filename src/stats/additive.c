/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual pattern over points: the fit step by step.
 *
 * Outline. One pass sums the points x points matrix A that is left when the levels are eliminated,
 * and takes each session's median as its first level. Then steps, each one pass: every level moves
 * to where its clipped residuals balance; with b the clipped residuals summed by point,
 * effect += A^+ b * (readings / readings not clipped); and the scale is solved for with the same
 * readings clipped. Where all stands still, the sums of clipped residuals are nil by session and by
 * point: Huber's equations. */
#include "tenter/stats/additive.h"

#include <string.h>

#include "additive_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/normal.h"

enum { MOST_STEPS = 100 };
static const double settled = 1e-8, level_settled = 1e-6; /* of the scale */
static const double efficiency = 0.95;                    /* of Huber's estimate at the normal */

/* ---- before ---- */

static tenter_status refuse(const additive *a, const block_sums *b, tenter_error *error) {
  const tenter_additive_data *d = a->data;
  uint32_t i = b->bad_reading;
  return tenter_fail(error, TENTER_INPUT,
                     "session %zu, reading %u of the additive model can't be used: point %u (of "
                     "%zu), value %g, weight %g",
                     b->bad - 1, i - d->first[b->bad - 1], (unsigned)d->point[i], a->p, d->value[i],
                     additive__weight(a, i));
}

/* Matrix, counts, levels to start from. */
static tenter_status gather(additive *a, tenter_error *error) {
  tenter_additive_fit *fit = a->fit;
  additive__run(a, additive__gather_block);
  for (size_t t = 0; t < a->blocks; t++) {
    const block_sums *b = &a->sums[t];
    if (b->bad)
      return refuse(a, b, error);
    a->count += b->count;
    a->sessions += b->sessions;
    for (size_t i = 0; i < a->p; i++)
      fit->readings[i] += b->readings[i];
    for (size_t i = 0; i < a->p * a->p; i++)
      a->matrix[i] += b->matrix[i];
  }
  fit->parts = additive__parts(a->matrix, fit->readings, a->p, a->part, a->rooms[0].touched);
  size_t points = 0;
  for (size_t i = 0; i < a->p; i++)
    points += fit->readings[i] > 0;
  a->df = (double)a->count - (double)a->sessions - (double)(points - fit->parts);
  if (!additive__invert(a->matrix, fit->readings, a->part, a->p))
    return tenter_fail(error, TENTER_FAILED,
                       "the additive model can't be solved: its weights are too far apart");
  return TENTER_OK;
}

/* ---- steps ---- */

/* Effects move; the most any did. */
static double move_effects(additive *a) {
  double rate = (double)a->count / fmax((double)a->inside, (double)a->count / 2), most = 0;
  for (size_t i = 0; i < a->p; i++) {
    double step = 0;
    for (size_t k = 0; k < a->p; k++)
      step += a->matrix[i * a->p + k] * a->right[k];
    a->step[i] = step * rate;
    most = fmax(most, fabs(a->step[i]));
  }
  for (size_t i = 0; i < a->p; i++)
    a->fit->effect[i] += a->step[i];
  return most;
}

/* Proposal 2: sum of min(r^2, (k s)^2) = df E[min(Z^2, k^2)] s^2, solved for s with the same
 * readings clipped; by plain iteration where too many are. */
static double next_scale(const additive *a, double inside_squares) {
  double tail = 2 * tenter_normal_above(huber_k), k2 = huber_k * huber_k;
  double expected = 1 - tail + k2 * tail - 2 * huber_k * tenter_normal_density(huber_k);
  double rest = a->df * expected - k2 * (double)a->outside;
  if (isinf(a->scale))
    return sqrt(inside_squares / a->df);
  if (rest > 0.1 * a->df)
    return sqrt(inside_squares / rest);
  double all = inside_squares + k2 * a->scale * a->scale * (double)a->outside;
  return sqrt(all / (a->df * expected));
}

/* One pass and what follows from it; true when all stands still. */
static bool take_step(additive *a) {
  double squares = 0, moved = 0;
  additive__run(a, additive__step_block);
  memset(a->right, 0, a->p * sizeof *a->right);
  a->outside = 0;
  for (size_t t = 0; t < a->blocks; t++) {
    const block_sums *b = &a->sums[t];
    squares += b->inside_squares;
    moved = fmax(moved, b->moved);
    a->outside += b->outside;
    for (size_t i = 0; i < a->p; i++)
      a->right[i] += b->right[i];
  }
  a->inside = a->count - a->outside;
  double most = move_effects(a), scale = a->df > 0 ? next_scale(a, squares) : INFINITY;
  bool still = isinf(scale) ? most == 0 && moved == 0
                            : most <= settled * scale && moved <= level_settled * scale &&
                                  fabs(scale - a->scale) <= settled * scale;
  a->scale = scale;
  return still;
}

/* Levels and effects of data that fit exactly end in rounding, which is no scale. */
static double rounding_of(const additive *a) {
  double most = 0;
  for (size_t s = 0; s < a->data->sessions; s++)
    if (a->data->length[s] > 0)
      most = fmax(most, fabs(a->fit->level[s]));
  return 1e-13 * most;
}

static void iterate(additive *a) {
  double least = rounding_of(a);
  a->scale = INFINITY;
  while (a->fit->steps < MOST_STEPS && !a->fit->converged) {
    a->fit->steps++;
    a->fit->converged = take_step(a) || a->scale <= least;
  }
}

/* ---- after ---- */

/* Variance of an effect: A^+ sd^2 of the readings, and A^+ (sum of A_g^2) A^+ of the patterns. */
static double effect_error(const additive *a, size_t point, const double *squares) {
  const tenter_additive_fit *fit = a->fit;
  bool apart = !isnan(fit->sd_pattern);
  double reading = apart ? fit->sd_reading : fit->sd_residual;
  double pattern = apart ? fit->sd_pattern : 0, through = 0;
  const double *row = &a->matrix[point * a->p];
  for (size_t k = 0; k < a->p && pattern > 0; k++)
    for (size_t j = 0; j < a->p; j++)
      through += row[k] * squares[k * a->p + j] * row[j];
  double variance = row[point] * reading * reading + through * pattern * pattern;
  return sqrt((variance < 0 ? 0 : variance) / efficiency);
}

/* Variances, errors; and what is not known of points. */
static void close_fit(additive *a, size_t *kept, double *squares) {
  tenter_additive_fit *fit = a->fit;
  bool known = a->count > 0 && additive__variances(a, kept, squares);
  for (size_t i = 0; i < a->p; i++) {
    fit->effect_se[i] = known && kept[i] > 0 ? effect_error(a, i, squares) : NAN;
    if (fit->readings[i] == 0)
      fit->effect[i] = NAN;
  }
}

static bool open_fit(const tenter_additive_data *data, tenter_additive_fit *fit) {
  *fit = (tenter_additive_fit){.points = data->points,
                               .sessions = data->sessions,
                               .sd_residual = NAN,
                               .sd_reading = NAN,
                               .sd_pattern = NAN};
  fit->effect = tenter_alloc(data->points, sizeof *fit->effect);
  fit->effect_se = tenter_alloc(data->points, sizeof *fit->effect_se);
  fit->readings = tenter_alloc(data->points, sizeof *fit->readings);
  fit->level = tenter_alloc(data->sessions, sizeof *fit->level);
  return fit->effect && fit->effect_se && fit->readings && fit->level;
}

static tenter_status run(additive *a, tenter_error *error) {
  double *squares = tenter_alloc(a->p * a->p, sizeof *squares);
  size_t *kept = tenter_alloc(a->p, sizeof *kept);
  tenter_status status =
      squares && kept && additive__open(a) ? gather(a, error) : tenter_fail_memory(error);
  if (!status) {
    if (a->count > 0)
      iterate(a);
    a->fit->sd_residual = a->df > 0 ? a->scale : NAN;
    close_fit(a, kept, squares);
  }
  tenter_free(squares);
  tenter_free(kept);
  return status;
}

/* Nothing to read: every result is NaN. */
static tenter_status nothing(const tenter_additive_data *data, tenter_additive_fit *fit,
                             tenter_error *error) {
  tenter_additive_data least = {.sessions = 1, .points = data->points ? data->points : 1};
  if (!open_fit(&least, fit)) {
    tenter_additive_fit_release(fit);
    return tenter_fail_memory(error);
  }
  for (size_t i = 0; i < least.points; i++)
    fit->effect[i] = fit->effect_se[i] = NAN;
  fit->level[0] = NAN;
  fit->points = data->points;
  fit->sessions = 0;
  fit->converged = true;
  return TENTER_OK;
}

tenter_status tenter_additive_run(const tenter_additive_data *data, tenter_pool *pool,
                                  tenter_additive_fit *fit, tenter_error *error) {
  if (data->points > TENTER_ADDITIVE_POINTS)
    return tenter_fail(error, TENTER_USAGE,
                       "an additive model takes at most %d points; there are %zu",
                       TENTER_ADDITIVE_POINTS, data->points);
  if (data->sessions == 0 || data->points == 0)
    return nothing(data, fit, error);
  additive a = {.data = data, .pool = pool, .fit = fit, .p = data->points};
  tenter_status status = open_fit(data, fit) ? run(&a, error) : tenter_fail_memory(error);
  additive__close(&a);
  if (status)
    tenter_additive_fit_release(fit);
  return status;
}

void tenter_additive_fit_release(tenter_additive_fit *fit) {
  if (!fit)
    return;
  tenter_free(fit->effect);
  tenter_free(fit->effect_se);
  tenter_free(fit->readings);
  tenter_free(fit->level);
  *fit = (tenter_additive_fit){0};
}

double tenter_additive_offset(const tenter_additive_fit *fit, const uint16_t *point, size_t count) {
  double sum = 0;
  for (size_t i = 0; i < count; i++)
    if (!isnan(fit->effect[point[i]]))
      sum += fit->effect[point[i]];
  return count ? sum / (double)count : 0;
}
