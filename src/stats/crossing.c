/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When a falling line that is known with an error reaches a floor. */
#include "tenter/stats/crossing.h"

#include <stdbool.h>

#include "tenter/stats/normal.h"

static const double certain = 8.5; /* sds beyond which a chance is nil */

/* ---- one line ---- */

/* Mean and sd of L at u. */
static void level_at(const tenter_crossing_line *l, double u, double *mean, double *sd) {
  *mean = l->level - l->loss * u;
  *sd = sqrt(fmax(0, l->var_level - 2 * u * l->cov + u * u * l->var_loss));
}

/* P(L < floor) at one age; and the score of the floor. */
static double below_at(const tenter_crossing_line *l, double floor, double u, double *score,
                       double *sd) {
  double mean;
  level_at(l, u, &mean, sd);
  *score = *sd > 0 ? (floor - mean) / *sd : floor > mean ? INFINITY : -INFINITY;
  if (isnan(mean))
    *score = NAN;
  return tenter_normal_below(*score);
}

static double decades_of(const tenter_crossing_line *l, double hours) {
  return log10((l->age_hours + hours) / 24);
}

static double u_of(const tenter_crossing_line *l, double hours) {
  return tenter_clock_u(l->clock, decades_of(l, hours));
}

/* P(now at or above the floor, then below it). The correlation's complement comes from the
 * determinant: cov(now, then) leaves (u1 - u0)^2 det of the two variances' product. */
static double above_then_below(const tenter_crossing_line *l, double u0, double u1, double h,
                               double sd0, double k, double sd1) {
  double det = fmax(0, l->var_level * l->var_loss - l->cov * l->cov);
  double both = l->var_level - (u0 + u1) * l->cov + u0 * u1 * l->var_loss;
  double rest = (u1 - u0) * (u1 - u0) * det / (sd0 * sd0 * sd1 * sd1);
  double rho = fmax(-1, fmin(1, both / (sd0 * sd1)));
  return tenter_normal_both_above_rest(h, -k, -rho, fmin(1, rest));
}

/* P(t) of one line. */
static double reached(const tenter_crossing_line *l, double floor, double hours) {
  double h, k, sd0, sd1, u0 = u_of(l, 0);
  double now = below_at(l, floor, u0, &h, &sd0);
  if (!(hours > 0) || isnan(now) || h >= certain)
    return now;
  double u1 = u_of(l, hours), then = below_at(l, floor, u1, &k, &sd1);
  if (h <= -certain || sd1 == 0)
    return fmax(now, then);
  if (k <= -certain)
    return now;
  if (l->loss > certain * sqrt(l->var_loss)) /* it does not rise: below now is below then */
    return then;
  return now + above_then_below(l, u0, u1, h, sd0, k, sd1);
}

/* dP/du at a later u: the density of L at the floor times the mean of what falls through it,
 * E[max(loss, 0) | L = floor]. A line that falls through it then was above it now. */
static double rate_at(const tenter_crossing_line *l, double floor, double u) {
  double k, sd;
  below_at(l, floor, u, &k, &sd);
  if (!(sd > 0) || fabs(k) > certain)
    return 0;
  double with = (l->cov - u * l->var_loss) / sd, mean = l->loss + with * k;
  double own = sqrt(fmax(0, l->var_loss - with * with));
  double falls =
      own > 0 ? mean * tenter_normal_below(mean / own) + own * tenter_normal_density(mean / own)
              : fmax(0, mean);
  return tenter_normal_density(k) / sd * falls;
}

/* ---- mixtures ---- */

double tenter_crossing_probability(const tenter_crossing_line *lines, size_t count, double floor,
                                   double hours) {
  double p = 0;
  for (size_t i = 0; i < count; i++)
    if (lines[i].weight != 0)
      p += lines[i].weight * reached(&lines[i], floor, hours);
  return p > 1 ? 1 : p; /* not fmin, which would lose a NaN */
}

/* dP/dv for hours = age expm1(v). */
static double slope_at(const tenter_crossing_line *lines, size_t count, double floor, double age,
                       double hours) {
  double slope = 0;
  for (size_t i = 0; i < count; i++)
    if (lines[i].weight > 0)
      slope += lines[i].weight * rate_at(&lines[i], floor, u_of(&lines[i], hours)) *
               tenter_clock_rate(lines[i].clock, decades_of(&lines[i], hours)) * (age + hours) /
               (lines[i].age_hours + hours) / M_LN10;
  return slope;
}

/* The mixture's age, and its mean line with the covariance of all, on the clock that weighs most:
 * good enough to start from. */
static tenter_crossing_line as_one(const tenter_crossing_line *lines, size_t count) {
  tenter_crossing_line one = {0};
  for (size_t i = 0; i < count; i++) {
    one.weight += lines[i].weight;
    one.age_hours += lines[i].weight * lines[i].age_hours;
    one.level += lines[i].weight * lines[i].level;
    one.loss += lines[i].weight * lines[i].loss;
  }
  for (size_t i = 0, top = 0; i < count; i++)
    if (lines[i].weight >= lines[top].weight)
      one.clock = lines[top = i].clock;
  one.age_hours /= one.weight;
  one.level /= one.weight;
  one.loss /= one.weight;
  for (size_t i = 0; i < count; i++) {
    double w = lines[i].weight / one.weight, level = lines[i].level - one.level,
           loss = lines[i].loss - one.loss;
    one.var_level += w * (lines[i].var_level + level * level);
    one.var_loss += w * (lines[i].var_loss + loss * loss);
    one.cov += w * (lines[i].cov + level * loss);
  }
  return one;
}

/* The first u beyond from with floor - mean = z sd; infinite where there is none. */
static double normal_crossing(const tenter_crossing_line *l, double floor, double z, double from) {
  double gap = floor - l->level, z2 = z * z, best = INFINITY;
  double a = l->loss * l->loss - z2 * l->var_loss, half = gap * l->loss + z2 * l->cov;
  double c = gap * gap - z2 * l->var_level, under = half * half - a * c;
  if (under < 0)
    return INFINITY;
  double q = -(half + copysign(sqrt(under), half)); /* the root without cancellation, then c / q */
  const double roots[2] = {q / a, c / q};
  for (int i = 0; i < 2; i++) {
    double u = roots[i], above = gap + l->loss * u;
    bool right = z == 0 || above * z >= 0;
    if (right && u > from && u < best)
      best = u;
  }
  return best;
}

/* ---- the search ---- */

typedef struct search {
  const tenter_crossing_line *lines;
  size_t count;
  double floor, p, z, age; /* z: normal score of p; age: scale of v */
  double low, high;        /* bracket in v: P(low) < p, and P(high) >= p once that is known */
  bool high_known;
  size_t evaluations;
} search;

static double hours_at(const search *s, double v) {
  return s->age * expm1(v);
}

/* Works P out at v, takes v into the bracket; how far P is from p. */
static double look(search *s, double v, double *chance) {
  *chance = tenter_crossing_probability(s->lines, s->count, s->floor, hours_at(s, v));
  s->evaluations++;
  if (*chance >= s->p) {
    s->high = v;
    s->high_known = true;
  } else if (v > s->low) {
    s->low = v;
  }
  return *chance - s->p;
}

/* A Newton step on the normal score, or where that leaves the bracket: its end while that is not
 * known, else its middle. */
static double next_place(const search *s, double v, double chance) {
  double score = tenter_normal_quantile(chance);
  double slope =
      slope_at(s->lines, s->count, s->floor, s->age, hours_at(s, v)) / tenter_normal_density(score);
  double next = v - (score - s->z) / slope;
  if (next > s->low && next < s->high)
    return next;
  if (!s->high_known && !(next <= s->low))
    return s->high;
  return (s->low + s->high) / 2;
}

static double find(search *s, double start) {
  const double settled = 1e-9, narrow = 1e-12;
  double v = start > s->low && start < s->high ? start : s->high, chance;
  for (;;) {
    bool at_end = v == s->high && !s->high_known;
    double off = look(s, v, &chance);
    if (isnan(off))
      return NAN;
    if (at_end && off < 0)
      return INFINITY;
    if (fabs(off) <= settled)
      return hours_at(s, v);
    if (s->high_known && s->high - s->low <= narrow)
      return hours_at(s, s->high);
    v = next_place(s, v, chance);
  }
}

double tenter_crossing_time(const tenter_crossing_line *lines, size_t count, double floor, double p,
                            double most_hours, size_t *evaluations) {
  tenter_crossing_line one = as_one(lines, count);
  double now = tenter_crossing_probability(lines, count, floor, 0);
  if (isnan(now) || isnan(one.level) || !(p > 0 && p < 1) || !(most_hours >= 0))
    return NAN;
  if (now >= p)
    return 0;
  search s = {.lines = lines,
              .count = count,
              .floor = floor,
              .p = p,
              .z = tenter_normal_quantile(p),
              .age = one.age_hours};
  s.high = log1p(most_hours / s.age);
  double u = normal_crossing(&one, floor, s.z, u_of(&one, 0));
  double hours = find(&s, (tenter_clock_decades(one.clock, u) - decades_of(&one, 0)) * M_LN10);
  if (evaluations)
    *evaluations += s.evaluations + 1;
  return hours;
}
