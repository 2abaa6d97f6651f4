/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Trends without a model, shares with an interval, many tests at once. */
#include "tenter/stats/trend.h"

#include <gsl/gsl_cdf.h>
#include <stdlib.h>

#include "tenter/stats/moments.h"
#include "tenter/stats/normal.h"

/* ---- trend ---- */

static double pairs_term(double t) {
  return t * (t - 1) * (2 * t + 5);
}

/* Sum of t (t - 1)(2t + 5) over the sets of t equal values. */
static double ties_term(const double *values, size_t count) {
  double sum = 0;
  for (size_t i = 0; i < count; i++) {
    size_t equal = 1, before = 0;
    for (size_t j = 0; j < count; j++) {
      before += j < i && values[j] == values[i];
      equal += j > i && values[j] == values[i];
    }
    if (before == 0 && equal > 1)
      sum += pairs_term((double)equal);
  }
  return sum;
}

tenter_mann_kendall tenter_mann_kendall_of(const double *y, size_t count) {
  tenter_mann_kendall m = {0, 0, 0, NAN};
  for (size_t i = 0; i < count; i++)
    for (size_t j = i + 1; j < count; j++)
      m.s += (y[j] > y[i]) - (y[j] < y[i]);
  m.variance = (pairs_term((double)count) - ties_term(y, count)) / 18;
  if (!(m.variance > 0))
    return m;
  if (m.s != 0)
    m.z = (m.s > 0 ? m.s - 1 : m.s + 1) / sqrt(m.variance);
  if (count >= 4)
    m.p = 2 * tenter_normal_above(fabs(m.z));
  return m;
}

static int number_order(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

size_t tenter_theil_sen_scratch(size_t count) {
  return count < 3 ? 2 * count : count * (count - 1) / 2;
}

static double place_of(const double *x, size_t i) {
  return x ? x[i] : (double)i;
}

static double median_into(double *scratch, const double *values, size_t count) {
  for (size_t i = 0; i < count; i++)
    scratch[i] = place_of(values, i);
  return tenter_median_of(scratch, count);
}

/* The interval holds the slopes between the ranks (pairs -+ z sd of S) / 2. */
static void slope_interval(const double *sorted, double spread, tenter_theil_sen *t) {
  double pairs = (double)t->pairs;
  double low = round((pairs - spread) / 2) - 1, high = round((pairs + spread) / 2);
  if (low >= 0)
    t->low = sorted[(size_t)low];
  if (high < pairs)
    t->high = sorted[(size_t)high];
}

tenter_theil_sen tenter_theil_sen_of(const double *x, const double *y, size_t count, double level,
                                     double *scratch) {
  tenter_theil_sen t = {NAN, NAN, NAN, NAN, 0};
  if (count < 2)
    return t;
  double x_middle = median_into(scratch, x, count), y_middle = median_into(scratch, y, count);
  for (size_t i = 0; i < count; i++)
    for (size_t j = i + 1; j < count; j++) {
      double run = place_of(x, j) - place_of(x, i);
      if (run != 0)
        scratch[t.pairs++] = (y[j] - y[i]) / run;
    }
  if (t.pairs == 0)
    return t;
  qsort(scratch, t.pairs, sizeof *scratch, number_order);
  t.slope = (scratch[(t.pairs - 1) / 2] + scratch[t.pairs / 2]) / 2;
  t.intercept = y_middle - t.slope * x_middle;
  double ties = ties_term(y, count) + (x ? ties_term(x, count) : 0);
  double variance = (pairs_term((double)count) - ties) / 18;
  slope_interval(scratch, tenter_normal_quantile((1 + level) / 2) * sqrt(fmax(0, variance)), &t);
  return t;
}

/* ---- a share ---- */

tenter_interval tenter_wilson_interval(double hits, double count, double level) {
  if (!(count > 0) || !(hits >= 0 && hits <= count) || !(level >= 0 && level < 1))
    return (tenter_interval){NAN, NAN};
  double z = tenter_normal_quantile((1 + level) / 2), z2 = z * z, p = hits / count;
  double centre = p + z2 / (2 * count), whole = 1 + z2 / count;
  double half = z * sqrt(p * (1 - p) / count + z2 / (4 * count * count));
  double low = hits > 0 ? fmax(0, (centre - half) / whole) : 0;
  double high = hits < count ? fmin(1, (centre + half) / whole) : 1;
  return (tenter_interval){low, high};
}

tenter_interval tenter_exact_interval(size_t hits, size_t count, double level) {
  if (count == 0 || hits > count || !(level >= 0 && level < 1))
    return (tenter_interval){NAN, NAN};
  double k = (double)hits, n = (double)count, tail = (1 - level) / 2;
  double low = hits == 0 ? 0 : gsl_cdf_beta_Pinv(tail, k, n - k + 1);
  double high = hits == count ? 1 : gsl_cdf_beta_Qinv(tail, k + 1, n - k);
  return (tenter_interval){low, high};
}

/* ---- many tests ---- */

/* Lets order[root] sink in a heap with the greatest p on top. */
static void sink(const double *p, size_t *order, size_t root, size_t count) {
  for (size_t child; (child = 2 * root + 1) < count; root = child) {
    if (child + 1 < count && p[order[child + 1]] > p[order[child]])
      child++;
    if (p[order[root]] >= p[order[child]])
      return;
    size_t t = order[root];
    order[root] = order[child];
    order[child] = t;
  }
}

/* From the greatest p down, which a heap gives one by one: p * tests / rank, never above the one
 * before. */
void tenter_benjamini_hochberg(const double *p, size_t count, double *adjusted, size_t *order) {
  size_t tests = 0;
  for (size_t i = 0; i < count; i++) {
    if (isnan(p[i]))
      adjusted[i] = NAN;
    else
      order[tests++] = i;
  }
  for (size_t i = tests / 2; i-- > 0;)
    sink(p, order, i, tests);
  double least = 1;
  for (size_t rank = tests; rank > 0; rank--) {
    size_t greatest = order[0];
    least = fmin(least, p[greatest] * (double)tests / (double)rank);
    order[0] = order[rank - 1];
    sink(p, order, 0, rank - 1);
    adjusted[greatest] = least;
  }
}
