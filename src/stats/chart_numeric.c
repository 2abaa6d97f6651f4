/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Nodes, roots and the normal law of the charts. Relies on the C library. */
#include "chart_numeric.h"

#include <gsl/gsl_math.h>
#include <math.h>

/* P_n(x) and its slope by the three-term recurrence. */
static double legendre(size_t n, double x, double *slope) {
  double before = 1, p = x; /* P_0, P_1: n >= 1 */
  for (size_t k = 2; k <= n; k++) {
    double next = ((2.0 * (double)k - 1) * x * p - ((double)k - 1) * before) / (double)k;
    before = p;
    p = next;
  }
  *slope = (double)n * (x * p - before) / (x * x - 1);
  return p;
}

/* Newton from Tricomi's guess; symmetric, so half of the nodes are searched. */
void chart_nodes(size_t count, double low, double high, double *node, double *weight) {
  double centre = 0.5 * (low + high), half = 0.5 * (high - low);
  for (size_t i = 0; i < (count + 1) / 2; i++) {
    double x = cos(M_PI * ((double)i + 0.75) / ((double)count + 0.5)), slope = 1;
    for (int step = 0; step < 20; step++) {
      double change = legendre(count, x, &slope) / slope;
      x -= change;
      if (fabs(change) < 1e-16)
        break;
    }
    legendre(count, x, &slope);
    if (2 * i + 1 == count)
      x = 0;
    size_t j = count - 1 - i;
    node[i] = centre - half * x;
    node[j] = centre + half * x;
    weight[i] = weight[j] = 2 * half / ((1 - x * x) * slope * slope);
  }
}

/* Ridders (1979, IEEE Trans. Circuits and Systems 26:979): false position after an exponential has
 * been divided out that straightens the function; never leaves the bracket. */
double chart_root(chart_function *f, void *context, double low, double high) {
  double f_low = f(low, context), f_high = f(high, context), x = NAN;
  if (isnan(f_low) || isnan(f_high))
    return NAN;
  if (f_low * f_high >= 0)
    return fabs(f_low) < fabs(f_high) ? low : high;
  for (int step = 0; step < 100; step++) {
    double middle = 0.5 * (low + high), f_middle = f(middle, context);
    double next = middle + (middle - low) * (f_low > f_high ? 1 : -1) * f_middle /
                               sqrt(f_middle * f_middle - f_low * f_high);
    double f_next = f(next, context);
    if (isnan(f_next) || f_next == 0 || fabs(next - x) <= 1e-14 * fabs(next))
      return isnan(f_next) ? NAN : next;
    x = next;
    double left = fmin(middle, next), right = fmax(middle, next);
    double f_left = left == middle ? f_middle : f_next;
    double f_right = left == middle ? f_next : f_middle;
    if (f_low * f_left <= 0) {
      high = left, f_high = f_left;
    } else if (f_left * f_right <= 0) {
      low = left, f_low = f_left;
      high = right, f_high = f_right;
    } else {
      low = right, f_low = f_right;
    }
  }
  return x;
}

double chart_density(double z) {
  return M_SQRT1_2 * M_2_SQRTPI * 0.5 * exp(-0.5 * z * z);
}

double chart_below(double z) {
  return 0.5 * erfc(-M_SQRT1_2 * z);
}

double chart_above(double z) {
  return 0.5 * erfc(M_SQRT1_2 * z);
}
