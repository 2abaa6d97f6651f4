/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The points x points system of the additive model. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include "additive_internal.h"

size_t additive__parts(const double *matrix, const size_t *readings, size_t p, uint16_t *part,
                       uint16_t *queue) {
  const uint16_t none = UINT16_MAX;
  size_t parts = 0;
  for (size_t i = 0; i < p; i++)
    part[i] = readings[i] ? none : 0;
  for (size_t start = 0; start < p; start++) {
    if (!readings[start] || part[start] != none)
      continue;
    size_t first = 0, last = 0;
    queue[last++] = (uint16_t)start;
    part[start] = (uint16_t)parts;
    while (first < last) {
      size_t at = queue[first++];
      for (size_t i = 0; i < p; i++)
        if (matrix[at * p + i] != 0 && readings[i] && part[i] == none) {
          part[i] = (uint16_t)parts;
          queue[last++] = (uint16_t)i;
        }
    }
    parts++;
  }
  return parts;
}

/* Adds change within each part, to the off-diagonal too, so that 1 on a part is no null vector. */
static void add_within_parts(double *matrix, const size_t *readings, const uint16_t *part, size_t p,
                             const double *change) {
  for (size_t i = 0; i < p; i++)
    for (size_t k = 0; k < p && readings[i]; k++)
      if (readings[k] && part[k] == part[i])
        matrix[i * p + k] += change[i];
}

/* With J = 1 1' of a part of m points, (A + c J)^-1 = A^+ + J / (c m^2). */
bool additive__invert(double *matrix, const size_t *readings, const uint16_t *part, size_t p) {
  double tie[TENTER_ADDITIVE_POINTS], size[TENTER_ADDITIVE_POINTS] = {0};
  double most = 0;
  for (size_t i = 0; i < p; i++) {
    most = fmax(most, matrix[i * p + i]);
    if (readings[i])
      size[part[i]]++;
  }
  if (!(most > 0)) /* no session links two points: every part is one */
    most = 1;
  for (size_t i = 0; i < p; i++) {
    tie[i] = readings[i] ? most / size[part[i]] : 0;
    if (!readings[i])
      matrix[i * p + i] = most;
  }
  add_within_parts(matrix, readings, part, p, tie);
  gsl_matrix_view view = gsl_matrix_view_array(matrix, p, p);
  if (gsl_linalg_cholesky_decomp1(&view.matrix) || gsl_linalg_cholesky_invert(&view.matrix))
    return false;
  for (size_t i = 0; i < p; i++)
    tie[i] = readings[i] ? -1 / (most * size[part[i]]) : 0;
  add_within_parts(matrix, readings, part, p, tie);
  return true;
}

double additive__eliminate(double *matrix, size_t stride, double *right, double *diagonal, size_t m,
                           size_t *rank) {
  double quadratic = 0;
  *rank = 0;
  for (size_t i = 0; i < m; i++)
    diagonal[i] = matrix[i * stride + i];
  for (size_t j = 0; j < m; j++) {
    const double *row = &matrix[j * stride];
    if (!(row[j] > 1e-9 * diagonal[j])) /* it depends on those before */
      continue;
    ++*rank;
    quadratic += right[j] * right[j] / row[j];
    for (size_t i = j + 1; i < m; i++) {
      double factor = row[i] / row[j];
      for (size_t k = i; k < m && factor != 0; k++)
        matrix[i * stride + k] -= factor * row[k];
      right[i] -= factor * right[j];
    }
  }
  return quadratic;
}
