/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comparisons of means by their one error variance. Relies on GSL for Student's t, on the range of
 * normals (chart_constants.c) and the root finder of the charts. */
#include "tenter/stats/compare.h"

#include <math.h>

#include "chart_numeric.h"
#include "tenter/stats/charts.h"
#include "tenter/stats/contrast.h"

static const double negligible = 1e-13;
static const double widest_pair = 200; /* beyond it the chance is nil for any df that matters */

/* ---- the studentised range ------------------------------------------------------------------- */

/* Formula     P(Q > q) = integral of P(R > q s) times the density of s,
 *             s^(df-1) exp(-df s^2 / 2) but for a constant.
 * Algorithm   in x = log s the density is exp(df (x - exp(2x) / 2)), analytic, with its top at 0
 * and a width of 1 / sqrt(2 df): the trapezoidal rule both ways from the top, whose sum of the
 * density itself gives the constant. */
double tenter_studentized_range_above(size_t count, double df, double q) {
  if (count < 2 || isnan(q) || !(df > 0))
    return NAN;
  if (q <= 0)
    return 1;
  double step = fmin(0.6 / sqrt(2 * df), 0.12), sum = 0, whole = 0;
  for (int way = -1; way <= 1; way += 2)
    for (size_t k = way < 0;; k++) {
      double x = way * (double)k * step;
      double density = exp(df * (x - expm1(2 * x) / 2));
      whole += density;
      sum += density * (1 - tenter_range_cdf(count, q * exp(x)));
      if (density < negligible)
        break;
    }
  return fmin(sum / whole, 1);
}

/* ---- groups ---------------------------------------------------------------------------------- */

typedef struct pooled {
  size_t groups;
  double df, variance;    /* within groups */
  double means, inverses; /* sums over groups: of means, of 1 / count */
} pooled;

static pooled pool(const tenter_compared *group, size_t count) {
  pooled all = {0};
  for (size_t i = 0; i < count; i++) {
    if (group[i].count == 0)
      continue;
    double freedom = (double)group[i].count - 1;
    all.groups++;
    all.means += group[i].mean;
    all.inverses += 1 / (double)group[i].count;
    all.df += freedom;
    if (freedom > 0)
      all.variance += freedom * group[i].sd * group[i].sd;
  }
  all.variance /= all.df;
  return all;
}

/* Against the mean of the others: the contrast mean - sum of the others / (groups - 1). */
static void against_others(const pooled *all, tenter_compared *g) {
  double others = (double)all->groups - 1, own = 1 / (double)g->count;
  double off = g->mean - (all->means - g->mean) / others;
  double variance = all->variance * (own + (all->inverses - own) / (others * others));
  double p = tenter_student_two_sided(off / sqrt(variance), all->df) / 2;
  g->p = off > 0 ? p : 1 - p;
}

static double pair_statistic(const pooled *all, const tenter_compared *a,
                             const tenter_compared *b) {
  double variance = all->variance / 2 * (1 / (double)a->count + 1 / (double)b->count);
  return (a->mean - b->mean) / sqrt(variance);
}

/* A level of pairs and what it asks for. */
typedef struct asked {
  size_t groups;
  double df, level;
} asked;

static double over_level(double q, void *context) {
  const asked *a = context;
  return tenter_studentized_range_above(a->groups, a->df, q) - a->level;
}

static void in_pairs(const pooled *all, tenter_compared *group, size_t count, double level) {
  asked ask = {all->groups, all->df, level};
  double needed = chart_root(over_level, &ask, 0, widest_pair);
  for (size_t i = 0; i < count; i++) {
    double most = 0;
    if (group[i].count == 0)
      continue;
    for (size_t k = 0; k < count; k++) {
      if (group[k].count == 0 || k == i)
        continue;
      double q = pair_statistic(all, &group[i], &group[k]);
      most = fmax(most, q);
      group[i].above += q > needed;
    }
    group[i].others = all->groups - 1;
    group[i].pair = tenter_studentized_range_above(all->groups, all->df, most);
  }
}

void tenter_compare_groups(tenter_compared *group, size_t count, double level) {
  pooled all = pool(group, count);
  for (size_t i = 0; i < count; i++) {
    group[i].p = group[i].pair = NAN;
    group[i].above = group[i].others = 0;
  }
  if (all.groups < 2 || !(all.df > 0) || !(all.variance > 0))
    return;
  for (size_t i = 0; i < count; i++)
    if (group[i].count > 0)
      against_others(&all, &group[i]);
  if (all.groups <= TENTER_COMPARE_GROUPS)
    in_pairs(&all, group, count, level);
}
