/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The robust line: repeated medians to start from, then bisquare weights step by step. */
#include <math.h>

#include "line_internal.h"
#include "tenter/stats/mestimate.h"
#include "tenter/stats/moments.h"

enum { START_POINTS = 256, MOST_STEPS = 200 };
static const double settled = 1e-10;

/* ---- start ---- */

/* The repeated median line of at most START_POINTS points, picked evenly. */
static void start_line(const line_data *d, double *level, double *slope) {
  double slopes[START_POINTS], medians[START_POINTS];
  size_t picked = d->count < START_POINTS ? d->count : START_POINTS, found = 0;
  for (size_t a = 0; a < picked; a++) {
    size_t i = a * d->count / picked, others = 0;
    for (size_t b = 0; b < picked; b++) {
      size_t j = b * d->count / picked;
      if (d->u[j] != d->u[i])
        slopes[others++] = (d->y[j] - d->y[i]) / (d->u[j] - d->u[i]);
    }
    if (others > 0)
      medians[found++] = tenter_median_of(slopes, others);
  }
  *slope = found ? tenter_median_of(medians, found) : 0;
  for (size_t a = 0; a < picked; a++) {
    size_t i = a * d->count / picked;
    slopes[a] = d->y[i] - *slope * d->u[i];
  }
  *level = tenter_median_of(slopes, picked);
}

/* ---- steps ---- */

/* Residuals times the root of the prior weight. */
static void residuals(const line_data *d, const tenter_line_fit *fit, double *r) {
  for (size_t i = 0; i < d->count; i++)
    r[i] = (d->y[i] - fit->level - fit->slope * d->u[i]) * (d->weight ? sqrt(d->weight[i]) : 1);
}

/* Below this a residual is rounding. */
static double rounding_of(const line_data *d) {
  double most = 0;
  for (size_t i = 0; i < d->count; i++)
    most = fmax(most, fabs(d->y[i]) * (d->weight ? sqrt(d->weight[i]) : 1));
  return 1e-12 * most;
}

static void reweight(const double *r, size_t count, double scale, double least, double *robust) {
  for (size_t i = 0; i < count; i++)
    robust[i] = scale > least ? tenter_psi_weight(TENTER_PSI_BISQUARE, r[i] / scale)
                              : fabs(r[i]) <= 2 * least;
}

/* The most that the line moved by at any point, in units of the residuals. */
static double moved(const line_data *d, const tenter_line_fit *from, const tenter_line_fit *to) {
  double most = 0, level = to->level - from->level, slope = to->slope - from->slope;
  for (size_t i = 0; i < d->count; i++)
    most = fmax(most, fabs(level + slope * d->u[i]) * (d->weight ? sqrt(d->weight[i]) : 1));
  return most;
}

/* Steps from *fit to where it stands still; the scale of the last step. scratch holds the
 * residuals, robust lends its room to their median. */
static double iterate(const line_data *d, double *robust, double *r, bool *still,
                      tenter_line_fit *fit) {
  double scale = 0, least = rounding_of(d);
  *still = false;
  for (int step = 0; step < MOST_STEPS && !*still; step++) {
    residuals(d, fit, r);
    scale = tenter_mad_scale(r, d->count, robust);
    reweight(r, d->count, scale, least, robust);
    tenter_line_fit next;
    if (!line__solve(d, NAN, &next))
      break; /* the points kept have one u: the line before stands */
    *still = moved(d, fit, &next) <= settled * fmax(scale, least);
    *fit = next;
  }
  residuals(d, fit, r);
  return scale > least ? scale : 0;
}

bool tenter_line_robust(size_t count, const double *u, const double *y, const double *weight,
                        double *robust, double *scratch, bool *converged, tenter_line_fit *fit) {
  line_data plain = {count, u, y, weight, NULL}, d = {count, u, y, weight, robust};
  for (size_t i = 0; i < count; i++)
    robust[i] = 1;
  bool still = true, line = line__solve(&plain, NAN, fit) && count >= 3;
  if (line) {
    start_line(&d, &fit->level, &fit->slope);
    double scale = iterate(&d, robust, scratch, &still, fit);
    tenter_line_sums sums = line__sums(&plain);
    line__errors(
        &sums,
        scale > 0 ? tenter_mestimate_sigma(TENTER_PSI_BISQUARE, scratch, count, 2, scale) : 0, fit);
    fit->count = count;
    fit->df = (double)count - 2;
    fit->sigma = scale;
  }
  if (converged)
    *converged = still;
  return line;
}
