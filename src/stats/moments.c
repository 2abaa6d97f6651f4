/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain numbers of one sample. */
#include "tenter/stats/moments.h"

static double mean_of(const double *values, size_t count) {
  tenter_sum sum = {0};
  for (size_t i = 0; i < count; i++)
    tenter_sum_add(&sum, values[i]);
  return tenter_sum_total(&sum) / (double)count;
}

/* The mean is rounded: what that leaves in the sum of the differences is taken off the squares. */
tenter_moments tenter_moments_of(const double *values, size_t count) {
  tenter_moments m = {count, NAN, NAN, NAN, NAN, NAN};
  if (count == 0)
    return m;
  m.mean = mean_of(values, count);
  m.min = m.max = values[0];
  tenter_sum squares = {0}, rest = {0};
  for (size_t i = 0; i < count; i++) {
    double off = values[i] - m.mean;
    tenter_sum_add(&squares, off * off);
    tenter_sum_add(&rest, off);
    m.min = fmin(m.min, values[i]);
    m.max = fmax(m.max, values[i]);
  }
  m.range = m.max - m.min;
  double left = tenter_sum_total(&rest), n = (double)count;
  if (count > 1)
    m.sd = sqrt(fmax(0, tenter_sum_total(&squares) - left * left / n) / (n - 1));
  return m;
}

double tenter_weighted_mean(const double *values, const double *weights, size_t count) {
  tenter_sum sum = {0}, weight = {0};
  for (size_t i = 0; i < count; i++) {
    tenter_sum_add(&sum, weights[i] * values[i]);
    tenter_sum_add(&weight, weights[i]);
  }
  double total = tenter_sum_total(&weight);
  return total > 0 ? tenter_sum_total(&sum) / total : NAN;
}

/* ---- order statistics ---- */

static void swap(double *a, double *b) {
  double t = *a;
  *a = *b;
  *b = t;
}

/* Puts the middle one of first, middle and last in the middle. */
static double middle_of_three(double *values, size_t low, size_t high) {
  size_t middle = low + (high - low) / 2;
  if (values[middle] < values[low])
    swap(&values[middle], &values[low]);
  if (values[high] < values[low])
    swap(&values[high], &values[low]);
  if (values[high] < values[middle])
    swap(&values[high], &values[middle]);
  return values[middle];
}

/* Reorders so that values[rank] is what it would be when sorted, with none greater before it and
 * none smaller after it (Hoare 1961, Comm. ACM 4:321: find). */
static double select_rank(double *values, size_t count, size_t rank) {
  size_t low = 0, high = count - 1;
  while (low < high) {
    double pivot = middle_of_three(values, low, high);
    size_t i = low, j = high;
    for (;;) {
      while (values[i] < pivot)
        i++;
      while (pivot < values[j])
        j--;
      if (i >= j)
        break;
      swap(&values[i++], &values[j--]);
    }
    size_t end = i == j && values[i] == pivot ? i : j; /* low .. end <= pivot <= end + 1 .. high */
    if (rank <= end) {
      if (end == high)
        return values[rank]; /* low .. high is not above the pivot, which is the greatest */
      high = end;
    } else {
      low = end + 1;
    }
  }
  return values[rank];
}

double tenter_quantile_of(double *values, size_t count, double p) {
  if (count == 0 || isnan(p))
    return NAN;
  double at = (double)(count - 1) * fmin(1, fmax(0, p));
  size_t rank = (size_t)at;
  double part = at - (double)rank, low = select_rank(values, count, rank);
  if (part <= 0 || rank + 1 >= count)
    return low;
  double high = values[rank + 1];
  for (size_t i = rank + 2; i < count; i++)
    high = fmin(high, values[i]);
  return low + part * (high - low);
}

double tenter_median_of(double *values, size_t count) {
  return tenter_quantile_of(values, count, 0.5);
}

double tenter_mad_of(double *values, size_t count, double centre) {
  for (size_t i = 0; i < count; i++)
    values[i] = fabs(values[i] - centre);
  return tenter_median_of(values, count);
}
