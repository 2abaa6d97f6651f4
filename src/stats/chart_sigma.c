/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Estimates of sigma for control charts, each with what it is worth.
 *
 * Averages of ratios R/d2, s/c4 have a variance that follows from d3 and c4; medians that of the
 * sample median, m / 4 (sum of densities at the median)^2, with a covariance for neighbouring
 * moving ranges, which share a point; a median is as small as half of its values are, so it counts
 * half of their contrasts. Relies on chart_worth, chart_numeric and GSL's chi-square. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>

#include "chart_internal.h"
#include "chart_numeric.h"
#include "tenter/base/alloc.h"

static const chart_sigma nothing = {NAN, {NAN, NAN}};

/* ---- what is known of a spread in a subgroup of n ---- */

typedef struct spread_law {
  double mean, deviation; /* of the spread, in sigma */
  double median, density; /* median in sigma; density of spread / median at 1 */
} spread_law;

static double range_density(size_t n, double r) {
  double h = 1e-3;
  return (8 * (tenter_range_cdf(n, r + h) - tenter_range_cdf(n, r - h)) -
          (tenter_range_cdf(n, r + 2 * h) - tenter_range_cdf(n, r - 2 * h))) /
         (12 * h);
}

static spread_law law_of_range(size_t n) {
  tenter_chart_constants c;
  if (tenter_chart_constants_of(n, &c, NULL) != TENTER_OK)
    return (spread_law){NAN, NAN, NAN, NAN};
  return (spread_law){c.d2, c.d3, c.median_range,
                      c.median_range * range_density(n, c.median_range)};
}

static spread_law law_of_deviation(size_t n) {
  double freedom = (double)n - 1, c4 = tenter_chart_c4((double)n);
  double median = sqrt(gsl_cdf_chisq_Pinv(0.5, freedom) / freedom);
  double slope = 2 * freedom * median; /* of the chi-square in s */
  return (spread_law){c4, sqrt(1 - c4 * c4), median,
                      median * slope * gsl_ran_chisq_pdf(freedom * median * median, freedom)};
}

/* The law for n, kept for the sizes that ranges can have. */
static const spread_law *law_for(spread_law *kept, tenter_control_spread spread, size_t n) {
  spread_law *law = &kept[n <= TENTER_CHART_SIZE_MAX ? n : 0];
  if (law->mean == 0 || n > TENTER_CHART_SIZE_MAX)
    *law = spread == TENTER_SPREAD_RANGE ? law_of_range(n) : law_of_deviation(n);
  return law;
}

static double spread_of(const tenter_subgroup *subgroup, tenter_control_spread spread) {
  return spread == TENTER_SPREAD_RANGE ? subgroup->range : subgroup->deviation;
}

/* ---- within subgroups ---- */

static chart_sigma pooled(const tenter_subgroup *subgroup, size_t count) {
  double sum = 0, freedom = 0;
  for (size_t i = 0; i < count; i++)
    if (subgroup[i].count > 1) {
      double v = (double)subgroup[i].count - 1;
      sum += v * subgroup[i].deviation * subgroup[i].deviation;
      freedom += v;
    }
  if (freedom < 1)
    return nothing;
  return (chart_sigma){sqrt(sum / freedom) / tenter_chart_c4(freedom + 1), {freedom, 1}};
}

/* The unbiased linear estimate of least variance. */
static chart_sigma averaged(const tenter_subgroup *subgroup, size_t count,
                            tenter_control_spread spread) {
  spread_law kept[TENTER_CHART_SIZE_MAX + 1] = {{0}};
  double sum = 0, weight = 0, contrasts = 0;
  for (size_t i = 0; i < count; i++)
    if (subgroup[i].count > 1) {
      const spread_law *law = law_for(kept, spread, subgroup[i].count);
      double w = law->mean * law->mean / (law->deviation * law->deviation);
      sum += w * spread_of(&subgroup[i], spread) / law->mean;
      weight += w;
      contrasts += (double)subgroup[i].count - 1;
    }
  if (weight <= 0)
    return nothing;
  return (chart_sigma){sum / weight, chart_worth_of(1 / weight, contrasts)};
}

/* The median of the spreads, each over its own median. ratio: room for count. */
static chart_sigma middle(const tenter_subgroup *subgroup, size_t count,
                          tenter_control_spread spread, double *ratio) {
  spread_law kept[TENTER_CHART_SIZE_MAX + 1] = {{0}};
  double density = 0, contrasts = 0;
  size_t m = 0;
  for (size_t i = 0; i < count; i++)
    if (subgroup[i].count > 1) {
      const spread_law *law = law_for(kept, spread, subgroup[i].count);
      ratio[m++] = spread_of(&subgroup[i], spread) / law->median;
      density += law->density;
      contrasts += (double)subgroup[i].count - 1;
    }
  if (m == 0)
    return nothing;
  return (chart_sigma){chart_median(ratio, m),
                       chart_worth_of(0.25 * (double)m / (density * density), contrasts)};
}

tenter_status chart_sigma_within(const tenter_subgroup *subgroups, size_t count,
                                 tenter_control_spread spread, bool robust, chart_sigma *sigma,
                                 tenter_error *error) {
  if (!robust) {
    *sigma = spread == TENTER_SPREAD_POOLED ? pooled(subgroups, count)
                                            : averaged(subgroups, count, spread);
    return TENTER_OK;
  }
  double *ratio = tenter_alloc(count, sizeof *ratio);
  if (!ratio)
    return tenter_fail_memory(error);
  *sigma = middle(subgroups, count, spread, ratio);
  tenter_free(ratio);
  return TENTER_OK;
}

/* ---- moving ranges ---- */

typedef struct moving {
  size_t ranges, shared; /* moving ranges; pairs of them that share a point */
  double sum;
} moving;

/* Neighbours without a gap; range: room for count, or NULL. */
static moving moving_ranges(const tenter_subgroup *subgroup, size_t count, double *range) {
  moving m = {0};
  for (size_t i = 1; i < count; i++)
    if (subgroup[i].count > 0 && subgroup[i - 1].count > 0) {
      double r = fabs(subgroup[i].mean - subgroup[i - 1].mean);
      if (range)
        range[m.ranges] = r;
      m.sum += r;
      m.ranges++;
      m.shared += i > 1 && subgroup[i - 2].count > 0;
    }
  return m;
}

/* cov(|U|, |V|) for U = x1 - x2, V = x2 - x3: variances 2, correlation -1/2; E|U V| = (2/pi) 2
 * (sqrt(1 - r^2) + r asin r), E|U| E|V| = 4/pi. */
static double moving_covariance(void) {
  return 4 / M_PI * (sqrt(0.75) + M_PI / 12 - 1);
}

/* P(|U| < q, |V| < q) - 1/4 for the same U, V, with q their median, in standard units. */
static double median_covariance(double q) {
  enum { NODES = 32 };
  double u[NODES], weight[NODES], both = 0;
  chart_nodes(NODES, -q, q, u, weight);
  for (size_t i = 0; i < NODES; i++)
    both +=
        weight[i] * chart_density(u[i]) *
        (chart_below((q + 0.5 * u[i]) / sqrt(0.75)) - chart_below((0.5 * u[i] - q) / sqrt(0.75)));
  return both - 0.25;
}

static chart_sigma moving_averaged(const moving *m) {
  double d2 = M_2_SQRTPI, d3_squared = 2 - d2 * d2, ranges = (double)m->ranges;
  double variance = ranges * d3_squared + 2 * (double)m->shared * moving_covariance();
  return (chart_sigma){m->sum / ranges / d2,
                       chart_worth_of(variance / (ranges * ranges * d2 * d2), ranges)};
}

static chart_sigma moving_middle(const moving *m, double *range) {
  double q = gsl_cdf_ugaussian_Pinv(0.75), ranges = (double)m->ranges;
  double density = 2 * q * chart_density(q); /* of range / median at 1 */
  double variance = 0.25 * ranges + 2 * (double)m->shared * median_covariance(q);
  return (chart_sigma){chart_median(range, m->ranges) / (M_SQRT2 * q),
                       chart_worth_of(variance / (ranges * ranges * density * density), ranges)};
}

tenter_status chart_sigma_moving(const tenter_subgroup *subgroups, size_t count, bool robust,
                                 chart_sigma *sigma, tenter_error *error) {
  double *range = robust ? tenter_alloc(count, sizeof *range) : NULL;
  if (robust && !range)
    return tenter_fail_memory(error);
  moving m = moving_ranges(subgroups, count, range);
  if (m.ranges == 0)
    *sigma = nothing;
  else
    *sigma = robust ? moving_middle(&m, range) : moving_averaged(&m);
  tenter_free(range);
  return TENTER_OK;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

double chart_median(double *values, size_t count) {
  qsort(values, count, sizeof *values, by_size);
  return count % 2 ? values[count / 2]
                   : values[count / 2 - 1] + 0.5 * (values[count / 2] - values[count / 2 - 1]);
}
