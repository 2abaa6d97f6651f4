/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small dense least squares: pivoted Householder QR (Businger and Golub 1965, Numer. Math. 7:269),
 * the damped system of a trust-region step by Givens rotations (More 1978, section 3), and
 * (J'J)^-1 from R. Columns are few (at most 16) and may be long. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "fit_internal.h"

#define RANK_TOLERANCE 1e-14

/* Puts the longest of the columns k .. p-1 (below row k) at position k. */
static double pivot(const double *a, size_t n, size_t p, size_t k, size_t *order, double *r) {
  size_t best = k;
  double most = -1;
  for (size_t j = k; j < p; j++) {
    const double *column = a + order[j] * n;
    double square = fit_dot(column + k, column + k, n - k);
    if (square > most) {
      most = square;
      best = j;
    }
  }
  if (best != k) {
    size_t column = order[k];
    order[k] = order[best];
    order[best] = column;
    for (size_t i = 0; i < k; i++) {
      double swap = r[i * p + k];
      r[i * p + k] = r[i * p + best];
      r[i * p + best] = swap;
    }
  }
  return sqrt(most);
}

/* x - v (v'x) scale, from row k on. */
static void reflect(const double *v, double scale, double *x, size_t n) {
  double s = scale * fit_dot(v, x, n);
  for (size_t i = 0; i < n; i++)
    x[i] -= s * v[i];
}

size_t fit_qr(double *a, size_t n, size_t p, double *b, size_t *order, double *r) {
  double first = 0;
  memset(r, 0, p * p * sizeof *r);
  for (size_t j = 0; j < p; j++)
    order[j] = j;
  for (size_t k = 0; k < p; k++) {
    double norm = pivot(a, n, p, k, order, r);
    if (k == 0)
      first = norm;
    if (!(norm > RANK_TOLERANCE * first)) /* NaN too */
      return k;
    double *v = a + order[k] * n + k;
    double alpha = v[0] > 0 ? -norm : norm;
    v[0] -= alpha;
    double scale = -1 / (alpha * v[0]);
    r[k * p + k] = alpha;
    for (size_t j = k + 1; j < p; j++) {
      double *column = a + order[j] * n + k;
      reflect(v, scale, column, n - k);
      r[k * p + j] = column[0];
    }
    if (b)
      reflect(v, scale, b + k, n - k);
  }
  return p;
}

void fit_back_solve(const double *r, size_t p, size_t rank, const double *q, double *z) {
  for (size_t k = rank; k < p; k++)
    z[k] = 0;
  for (size_t k = rank; k-- > 0;) {
    double sum = -q[k];
    for (size_t j = k + 1; j < rank; j++)
      sum -= r[k * p + j] * z[j];
    z[k] = sum / r[k * p + k];
  }
}

void fit_forward_solve(const double *s, size_t p, size_t rank, const double *z, double *w) {
  for (size_t k = 0; k < rank; k++) {
    double sum = z[k];
    for (size_t j = 0; j < k; j++)
      sum -= s[j * p + k] * w[j];
    w[k] = sum / s[k * p + k];
  }
}

void fit_damped_solve(const double *r, size_t p, const double *q, double lambda, double *s,
                      double *z) {
  double root = sqrt(lambda), b[FIT_P], row[FIT_P];
  memcpy(s, r, p * p * sizeof *s);
  memcpy(b, q, p * sizeof *b);
  for (size_t j = 0; j < p; j++) { /* rotate the row root * e_j into the triangle */
    double right = 0;
    memset(row, 0, sizeof row);
    row[j] = root;
    for (size_t k = j; k < p; k++) {
      double length = hypot(s[k * p + k], row[k]);
      if (length == 0)
        continue;
      double c = s[k * p + k] / length, d = row[k] / length;
      for (size_t l = k; l < p; l++) {
        double above = s[k * p + l], below = row[l];
        s[k * p + l] = c * above + d * below;
        row[l] = c * below - d * above;
      }
      double above = b[k];
      b[k] = c * above + d * right;
      right = c * right - d * above;
    }
  }
  fit_back_solve(s, p, p, b, z);
}

/* R^-1 (upper, row by row) of the first p positions. */
static void invert_triangle(const double *r, size_t p, double *inverse) {
  memset(inverse, 0, p * p * sizeof *inverse);
  for (size_t k = 0; k < p; k++) {
    inverse[k * p + k] = 1 / r[k * p + k];
    for (size_t j = k; j-- > 0;) {
      double sum = 0;
      for (size_t l = j + 1; l <= k; l++)
        sum += r[j * p + l] * inverse[l * p + k];
      inverse[j * p + k] = -sum / r[j * p + j];
    }
  }
}

size_t fit_inverse(double *jacobian, size_t n, size_t p, const bool *fixed, double *inverse,
                   size_t stride) {
  size_t column[FIT_P], order[FIT_P], free = 0;
  double length[FIT_P], r[FIT_P * FIT_P], half[FIT_P * FIT_P];
  for (size_t k = 0; k < p; k++) {
    for (size_t j = 0; j < p; j++)
      inverse[k * stride + j] = NAN;
    if (fixed && fixed[k])
      continue;
    double *from = jacobian + k * n, *to = jacobian + free * n;
    double norm = sqrt(fit_dot(from, from, n));
    for (size_t i = 0; i < n; i++)
      to[i] = norm > 0 ? from[i] / norm : 0;
    length[free] = norm;
    column[free++] = k;
  }
  size_t rank = free ? fit_qr(jacobian, n, free, NULL, order, r) : 0;
  if (rank < free)
    return rank;
  invert_triangle(r, free, half);
  for (size_t j = 0; j < free; j++)
    for (size_t k = j; k < free; k++) {
      double sum = fit_dot(half + j * free + k, half + k * free + k, free - k);
      size_t a = order[j], b = order[k];
      sum /= length[a] * length[b];
      inverse[column[a] * stride + column[b]] = inverse[column[b] * stride + column[a]] = sum;
    }
  return rank;
}
