/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How residuals run: runs of one sign, and the correlation of each with the next.
 *
 * With a residuals of one sign and b of the other in random order, the number of runs R has
 *   P(R = 2k)     = 2 C(a-1, k-1) C(b-1, k-1) / C(a+b, a)
 *   P(R = 2k + 1) = (C(a-1, k) C(b-1, k-1) + C(a-1, k-1) C(b-1, k)) / C(a+b, a)
 * and mean 1 + 2ab/(a+b), variance 2ab(2ab-a-b)/((a+b)^2(a+b-1)) (Wald and Wolfowitz 1940). */
#include <math.h>

#include "tenter/stats/fit.h"

enum { EXACT_UP_TO = 200 };

static double at_most_one(double p) {
  return p < 1 ? p : 1;
}

/* Twice the smaller tail, by the recurrence of C(m, k) = C(m, k-1) (m - k + 1) / k. All terms are
 * relative to P(R = 2), so that no binomial of a + b is needed. */
static double exact_p(size_t a, size_t b, size_t runs) {
  double before_a = 1, before_b = 1, total = 0, low = 0, high = 0; /* C(., k-1) */
  for (size_t k = 1; k <= a && k <= b; k++) {
    double here_a = before_a * (double)(a - k) / (double)k; /* C(a-1, k) */
    double here_b = before_b * (double)(b - k) / (double)k;
    double even = 2 * before_a * before_b, odd = here_a * before_b + before_a * here_b;
    total += even + odd;
    low += (2 * k <= runs ? even : 0) + (2 * k + 1 <= runs ? odd : 0);
    high += (2 * k >= runs ? even : 0) + (2 * k + 1 >= runs ? odd : 0);
    before_a = here_a;
    before_b = here_b;
  }
  return at_most_one(2 * fmin(low, high) / total);
}

static double normal_p(double a, double b, double runs) {
  double n = a + b, mean = 1 + 2 * a * b / n;
  double variance = 2 * a * b * (2 * a * b - n) / (n * n * (n - 1));
  return erfc(fabs(runs - mean) / sqrt(2 * variance));
}

static double lag1(const double *r, size_t n) {
  double mean = 0, square = 0, next = 0;
  for (size_t i = 0; i < n; i++)
    mean += r[i] / (double)n;
  for (size_t i = 0; i < n; i++) {
    square += (r[i] - mean) * (r[i] - mean);
    if (i + 1 < n)
      next += (r[i] - mean) * (r[i + 1] - mean);
  }
  return n >= 3 && square > 0 ? next / square : NAN;
}

tenter_fit_runs tenter_fit_runs_test(const double *residual, size_t count) {
  tenter_fit_runs result = {.expected = NAN, .p = NAN};
  size_t above = 0;
  double last = 0;
  for (size_t i = 0; i < count; i++) {
    if (residual[i] == 0)
      continue;
    result.count++;
    above += residual[i] > 0;
    result.runs += last == 0 || (last > 0) != (residual[i] > 0);
    last = residual[i];
  }
  size_t below = result.count - above;
  if (above > 0 && below > 0) {
    double a = (double)above, b = (double)below;
    result.expected = 1 + 2 * a * b / (a + b);
    result.p = result.count <= EXACT_UP_TO ? exact_p(above, below, result.runs)
                                           : normal_p(a, b, (double)result.runs);
  }
  result.lag1 = lag1(residual, count);
  return result;
}
