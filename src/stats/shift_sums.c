/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows to normal equations for tenter_shift_find: each unit's line is integrated out by a 2 x 2
 * solve as its rows are added. */
#include <math.h>
#include <string.h>

#include "shift_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

enum { ENTRIES = 3 + SHIFT_HINGES }; /* of a row: a cell of each kind, slope, hinges */

/* Where the common curve may bend: 2.4 h, 12 h, 38 h, 4, 10, 20, 40, 80 days, as decades of 24 h.
 */
static const double hinge[SHIFT_HINGES] = {-1, -0.3, 0.2, 0.6, 1, 1.3, 1.6, 1.9};

static const double huber = 2.5;
static const double least_scale = 0.5, line_share = 1.5; /* what a unit's line takes of its rows */

bool shift__sums_new(const tenter_shift_data *d, shift_sums *s) {
  size_t rows = d->first[d->units];
  *s = (shift_sums){.dim = shift__slope(d, d->groups) + SHIFT_HINGES};
  s->g = tenter_alloc(s->dim * s->dim, sizeof *s->g);
  s->h = tenter_alloc(s->dim, sizeof *s->h);
  s->value = tenter_alloc(rows + 1, sizeof *s->value);
  s->sizes = tenter_alloc(rows + 1, sizeof *s->sizes);
  s->residual = tenter_alloc(rows + 1, sizeof *s->residual);
  s->local = tenter_alloc(s->dim, sizeof *s->local);
  s->column = tenter_alloc(s->dim, sizeof *s->column);
  s->product = tenter_alloc(s->dim, sizeof *s->product);
  for (size_t i = 0; s->value && i < rows; i++)
    s->value[i] = d->y[i];
  return s->g && s->h && s->value && s->sizes && s->residual && s->local && s->column && s->product;
}

void shift__sums_release(shift_sums *s) {
  void *const arrays[] = {s->g,        s->h,     s->value,  s->sizes,
                          s->residual, s->local, s->column, s->product};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++)
    tenter_free(arrays[i]);
}

/* ---- one unit ------------------------------------------------------------------------------- */

typedef struct entry {
  size_t column;
  double value;
} entry;

/* Returns how many. */
static int entries_of(const tenter_shift_data *d, size_t unit, size_t row, entry e[ENTRIES]) {
  double u = d->u[row];
  e[0] = (entry){shift__cell(d, 0, d->source[0][row], d->bin[row]), 1};
  e[1] = (entry){shift__cell(d, 1, d->source[1][row], d->bin[row]), 1};
  e[2] = (entry){shift__slope(d, d->group[unit]), u};
  int count = 3;
  for (size_t i = 0; i < SHIFT_HINGES && u > hinge[i]; i++)
    e[count++] = (entry){shift__slope(d, d->groups) + i, u - hinge[i]};
  return count;
}

/* Inverse of the line's 2 x 2 information, the slope's prior included. */
typedef struct line_cov {
  double level, cross, slope;
} line_cov;

static line_cov line_cov_of(const tenter_shift_data *d, size_t unit) {
  double w = 0, wu = 0, wuu = 1 / (d->slope_sd * d->slope_sd);
  for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++) {
    double weight = 1 / d->variance[i];
    w += weight;
    wu += weight * d->u[i];
    wuu += weight * d->u[i] * d->u[i];
  }
  double determinant = w * wuu - wu * wu;
  return (line_cov){wuu / determinant, -wu / determinant, w / determinant};
}

/* The unit's line through values, as level and slope. */
static void line_through(const tenter_shift_data *d, size_t unit, const double *values,
                         double line[2]) {
  line_cov q = line_cov_of(d, unit);
  double y[2] = {0, 0};
  for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++) {
    y[0] += values[i] / d->variance[i];
    y[1] += values[i] / d->variance[i] * d->u[i];
  }
  line[0] = q.level * y[0] + q.cross * y[1];
  line[1] = q.cross * y[0] + q.slope * y[1];
}

static void add_row(const tenter_shift_data *d, shift_sums *s, size_t unit, size_t row,
                    size_t *locals) {
  entry e[ENTRIES];
  double weight = 1 / d->variance[row];
  int count = entries_of(d, unit, row, e);
  for (int a = 0; a < count; a++) {
    size_t c = e[a].column;
    if (!s->local[c]) {
      s->column[*locals] = (uint32_t)c;
      s->product[*locals][0] = s->product[*locals][1] = 0;
      s->local[c] = (uint32_t)++ * locals;
    }
    double *product = s->product[s->local[c] - 1];
    product[0] += weight * e[a].value;
    product[1] += weight * e[a].value * d->u[row];
    for (int b = 0; b < count; b++)
      if (e[b].column <= c)
        s->g[c * s->dim + e[b].column] += weight * e[a].value * e[b].value;
  }
}

/* Takes off what the unit's line explains. */
static void integrate_line(const tenter_shift_data *d, shift_sums *s, size_t unit, size_t locals) {
  line_cov q = line_cov_of(d, unit);
  for (size_t a = 0; a < locals; a++) {
    const double *x = s->product[a];
    double level = q.level * x[0] + q.cross * x[1], slope = q.cross * x[0] + q.slope * x[1];
    size_t c = s->column[a];
    for (size_t b = 0; b < locals; b++)
      if (s->column[b] <= c)
        s->g[c * s->dim + s->column[b]] -= level * s->product[b][0] + slope * s->product[b][1];
    s->local[c] = 0;
  }
}

void shift__sums_fill(const tenter_shift_data *d, shift_sums *s) {
  memset(s->g, 0, s->dim * s->dim * sizeof *s->g);
  for (size_t unit = 0; unit < d->units; unit++) {
    size_t locals = 0;
    if (d->first[unit + 1] - d->first[unit] < 2)
      continue; /* its level takes all it says */
    for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++)
      add_row(d, s, unit, i, &locals);
    integrate_line(d, s, unit, locals);
  }
  for (size_t c = 0; c < s->dim; c++)
    for (size_t b = 0; b < c; b++)
      s->g[b * s->dim + c] = s->g[c * s->dim + b];
}

void shift__sums_score(const tenter_shift_data *d, shift_sums *s) {
  memset(s->h, 0, s->dim * sizeof *s->h);
  for (size_t unit = 0; unit < d->units; unit++) {
    double line[2];
    if (d->first[unit + 1] - d->first[unit] < 2)
      continue;
    line_through(d, unit, s->value, line);
    for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++) {
      entry e[ENTRIES];
      int count = entries_of(d, unit, i, e);
      double off = (s->value[i] - line[0] - line[1] * d->u[i]) / d->variance[i];
      for (int a = 0; a < count; a++)
        s->h[e[a].column] += off * e[a].value;
    }
  }
}

/* ---- values that single misreadings do not carry away ------------------------------------------
 */

static double fixed_of(const tenter_shift_data *d, const double *fixed, size_t unit, size_t row) {
  entry e[ENTRIES];
  double sum = 0;
  int count = entries_of(d, unit, row, e);
  for (int a = 0; a < count; a++)
    sum += e[a].value * fixed[e[a].column];
  return sum;
}

/* Residuals of the data about the line that the values at hand give; what is fitted into value. */
static void unit_residuals(const tenter_shift_data *d, const double *fixed, shift_sums *s,
                           size_t unit) {
  double line[2];
  for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++)
    s->value[i] -= fixed_of(d, fixed, unit, i);
  line_through(d, unit, s->value, line);
  for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++) {
    s->value[i] = fixed_of(d, fixed, unit, i) + line[0] + line[1] * d->u[i];
    s->residual[i] = (d->y[i] - s->value[i]) / sqrt(d->variance[i]);
  }
}

/* From the middle of the residuals' sizes, for what lines take of them. */
static double scale_of(const tenter_shift_data *d, shift_sums *s) {
  size_t rows = 0, units = 0;
  for (size_t unit = 0; unit < d->units; unit++) {
    if (d->first[unit + 1] - d->first[unit] < 3)
      continue;
    units++;
    for (size_t i = d->first[unit]; i < d->first[unit + 1]; i++)
      s->sizes[rows++] = fabs(s->residual[i]);
  }
  if (rows == 0)
    return 1;
  double left = (double)rows - line_share * (double)units;
  double scale = tenter_median_of(s->sizes, rows) * TENTER_MAD_SD * sqrt((double)rows / left);
  return fmax(scale, least_scale);
}

double shift__winsorise(const tenter_shift_data *d, const double *fixed, shift_sums *s) {
  for (size_t unit = 0; unit < d->units; unit++)
    unit_residuals(d, fixed, s, unit);
  double scale = scale_of(d, s);
  for (size_t i = 0; i < d->first[d->units]; i++) {
    double off = fmax(-huber * scale, fmin(huber * scale, s->residual[i]));
    s->value[i] += off * sqrt(d->variance[i]);
  }
  return scale;
}
