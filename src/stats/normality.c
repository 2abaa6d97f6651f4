/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Anderson-Darling and the normal probability plot. */
#include "tenter/stats/normality.h"

#include <math.h>

#include "tenter/stats/moments.h"
#include "tenter/stats/normal.h"

static double p_of(double a) {
  if (a < 0.2)
    return 1 - exp(-13.436 + 101.14 * a - 223.73 * a * a);
  if (a < 0.34)
    return 1 - exp(-8.318 + 42.796 * a - 59.938 * a * a);
  if (a < 0.6)
    return exp(0.9177 - 4.279 * a - 1.38 * a * a);
  return a < 10 ? exp(1.2937 - 5.709 * a + 0.0186 * a * a) : 3.7e-24;
}

tenter_normality tenter_normality_of(const double *sorted, size_t count) {
  tenter_moments m = tenter_moments_of(sorted, count);
  tenter_normality result = {count, m.mean, m.sd, NAN, NAN, NAN};
  if (count < TENTER_NORMALITY_LEAST || !(m.sd > 0))
    return result;
  tenter_sum sum = {0};
  double n = (double)count;
  for (size_t i = 0; i < count; i++) {
    double low = (sorted[i] - m.mean) / m.sd, high = (sorted[count - 1 - i] - m.mean) / m.sd;
    double weight = (2 * (double)i + 1) / n;
    tenter_sum_add(&sum, weight * (log(tenter_normal_below(low)) + log(tenter_normal_above(high))));
  }
  result.a2 = -n - tenter_sum_total(&sum);
  result.adjusted = result.a2 * (1 + 0.75 / n + 2.25 / (n * n));
  result.p = p_of(result.adjusted);
  return result;
}

void tenter_normal_plot(size_t count, double *expected) {
  double n = (double)count, end = pow(0.5, 1 / n);
  for (size_t i = 0; i < count; i++) {
    double p = ((double)i + 1 - 0.3175) / (n + 0.365);
    if (i + 1 == count)
      p = end;
    else if (i == 0)
      p = 1 - end;
    expected[i] = tenter_normal_quantile(p);
  }
}
