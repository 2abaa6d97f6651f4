/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How uneven several points truly are.
 *
 * Both chances are integrals along one axis x of a product of windows
 *   W_i(x) = P(x + low <= m_i <= x + high),
 * times the density of the centre (low = -L, high = L), or with one window at a time replaced by
 * the density of m_i at x (low = 0, high = R). A window changes only near its two edges, within
 * `reach` sds; a panel is halved while it is wider than `fine` sds of any factor that changes in
 * it. */
#include "tenter/stats/shape.h"

#include <math.h>
#include <stdbool.h>

#include "gauss.h"
#include "normal_table.h"
#include "tenter/stats/normal.h"

static const double held =
    NORMAL_TABLE_LAST / (double)NORMAL_TABLE_STEPS; /* 6.5: a tail of 4e-11 */
static const double reach = 5.5;     /* sds that matter to an integral: a tail of 2e-8 */
static const double fine = 1.5;      /* sds to a panel of 10 nodes */
static const double coarse = 0.8;    /* of the sharpest sd: the first trapezoidal step */
static const double settled = 1e-9;  /* chances so close to 0 or 1 are not integrated */
static const double least_sd = 1e-8; /* of the widths at hand: what sd 0 is integrated as */
enum { MOST_STEPS = 128, DEEPEST = 60 };

/* ---- a quick normal ---- */

/* P(0 < Z <= z), negative for z < 0, by Taylor's series from the nearest place of the table: five
 * terms at most 1/32 away, absolute error 5e-12; held beyond `held`. No branches: they would be
 * mispredicted. */
static inline double half_below(double z) {
  double size = fabs(z) < held ? fabs(z) : held; /* fmin is a call */
  int place = (int)(size * NORMAL_TABLE_STEPS + 0.5);
  double at = (double)place / NORMAL_TABLE_STEPS, d = size - at, a2 = at * at;
  double c2 = -at / 2, c3 = (a2 - 1) / 6, c4 = at * (3 - a2) / 24, c5 = (a2 * (a2 - 6) + 3) / 120;
  double more = d * (1 + d * (c2 + d * (c3 + d * (c4 + d * c5))));
  return copysign(normal_table[place][0] - 0.5 + normal_table[place][1] * more, z);
}

static double between(double low, double high) {
  return half_below(high) - half_below(low);
}

/* ---- the integral ---- */

typedef struct shape {
  size_t count;
  const double *mean, *sd;
  double low, high; /* the window is x + low .. x + high */
  double least;     /* sds below this count as this */
  bool centred;     /* times the density of the centre, else of the smallest */
  double centre, centre_sd;
} shape;

static double sd_of(const shape *s, size_t i) {
  return fmax(s->sd[i], s->least);
}

/* Is a factor with an edge at `edge` and this sd still moving somewhere in a .. b, and too sharp
 * for it? */
static bool too_sharp(double a, double b, double edge, double sd) {
  return b - a > fine * sd && b > edge - reach * sd && a < edge + reach * sd;
}

static bool must_halve(const shape *s, double a, double b) {
  if (s->centred && too_sharp(a, b, s->centre, s->centre_sd))
    return true;
  for (size_t i = 0; i < s->count; i++) {
    double sd = sd_of(s, i), mean = s->mean[i];
    if (too_sharp(a, b, mean - s->low, sd) || too_sharp(a, b, mean - s->high, sd))
      return true;
  }
  return false;
}

/* Product of all windows. */
static double all_open(const shape *s, double x) {
  double product = 1;
  for (size_t i = 0; i < s->count; i++) {
    double scale = 1 / sd_of(s, i), from = x - s->mean[i];
    product *= between((from + s->low) * scale, (from + s->high) * scale);
  }
  return product;
}

/* Sum over i of the product with window i replaced by the density of m_i at x. */
static double smallest_at(const shape *s, double x) {
  double product = 1, sum = 0;
  for (size_t i = 0; i < s->count; i++) {
    double scale = 1 / sd_of(s, i), z = (x - s->mean[i]) * scale;
    double window = between(z, z + s->high * scale);
    sum = sum * window + product * tenter_normal_density(z) * scale;
    product *= window;
  }
  return sum;
}

static double value_at(const shape *s, double x) {
  if (!s->centred)
    return smallest_at(s, x);
  return all_open(s, x) * tenter_normal_density((x - s->centre) / s->centre_sd) / s->centre_sd;
}

static double panel(const shape *s, double a, double b) {
  double middle = (a + b) / 2, half = (b - a) / 2, sum = 0;
  for (int i = 0; i < 5; i++) {
    double off = half * gauss10_x[i];
    sum += gauss10_w[i] * (value_at(s, middle - off) + value_at(s, middle + off));
  }
  return sum * half;
}

static double integrate(const shape *s, double a, double b, int depth) {
  double middle = (a + b) / 2;
  if (depth == DEEPEST || !must_halve(s, a, b))
    return panel(s, a, b);
  return integrate(s, a, middle, depth + 1) + integrate(s, middle, b, depth + 1);
}

/* The trapezoidal rule, halved until it stands still: the integrand is entire and all but nil at
 * both ends, so that when two results differ by a share e, the second errs by less than e^2 (the
 * rule's error falls as exp(-c / step^2): Trefethen, Weideman 2014, SIAM Rev. 56:385). False where
 * it does not. */
static bool trapezoid(const shape *s, double from, double to, int steps, double *integral) {
  double step = (to - from) / steps, sum = 0;
  for (int i = 1; i < steps; i++)
    sum += value_at(s, from + i * step);
  for (; steps <= MOST_STEPS; steps *= 2) {
    double before = sum * step;
    for (int i = 0; i < steps; i++)
      sum += value_at(s, from + (i + 0.5) * step);
    step /= 2;
    *integral = sum * step;
    if (fabs(*integral - before) <= 2e-5 * *integral + 1e-8)
      return true;
  }
  return false;
}

/* The integral over where no window is closed: every m_i can be in x + low .. x + high. Where one
 * factor is far sharper than the rest, by panels. */
static double over_open(const shape *s, double from, double to) {
  double sharpest = s->centred ? s->centre_sd : INFINITY, integral;
  for (size_t i = 0; i < s->count; i++) {
    double sd = sd_of(s, i), far = reach * sd;
    from = fmax(from, s->mean[i] - far - s->high);
    to = fmin(to, s->mean[i] + far - s->low);
    sharpest = fmin(sharpest, sd);
  }
  if (!(from < to))
    return 0;
  double steps = ceil((to - from) / (coarse * sharpest));
  if (!(steps < MOST_STEPS) || !trapezoid(s, from, to, (int)steps, &integral))
    integral = integrate(s, from, to, 0);
  return fmin(1, fmax(0, integral));
}

/* ---- the two chances ---- */

/* A number that isn't one, or a spread below 0. */
static bool unknown(size_t count, const double *mean, const double *sd) {
  for (size_t i = 0; i < count; i++)
    if (!isfinite(mean[i]) || !(sd[i] >= 0) || isinf(sd[i]))
      return true;
  return false;
}

/* Known exactly on both sides: within or not. */
static double certain(double off, double limit) {
  return off <= limit ? 1 : 0;
}

static double within_one(double off, double sd, double limit) {
  return sd > 0 ? between((-limit - off) / sd, (limit - off) / sd) : certain(fabs(off), limit);
}

double tenter_shape_within(size_t count, const double *mean, const double *sd, double centre,
                           double centre_sd, double limit) {
  if (unknown(count, mean, sd) || unknown(1, &centre, &centre_sd) || isnan(limit))
    return NAN;
  if (limit < 0)
    return count > 0 ? 0 : 1;
  double product = 1, beyond = 0, least = 1, widest = 0;
  for (size_t i = 0; i < count; i++) {
    double off = mean[i] - centre, one = within_one(off, hypot(sd[i], centre_sd), limit);
    product *= one;
    beyond += 1 - one;
    least = fmin(least, one);
    widest = fmax(widest, sd[i]);
  }
  if (beyond < settled || least < settled || centre_sd == 0)
    return product; /* nearly certain either way, or independent */
  shape s = {.count = count,
             .mean = mean,
             .sd = sd,
             .low = -limit,
             .high = limit,
             .least = least_sd * (limit + widest + centre_sd),
             .centred = true,
             .centre = centre,
             .centre_sd = centre_sd};
  return over_open(&s, centre - reach * centre_sd, centre + reach * centre_sd);
}

/* Bounds on P(range <= R): all within R / 2 of the middle is enough; the outermost two must be
 * within R of each other, which is all there is to it where every point is exact. */
static bool range_settled(size_t count, const double *mean, const double *sd, double limit,
                          double *p) {
  size_t low = 0, high = 0;
  double beyond = 0, widest = 0;
  for (size_t i = 1; i < count; i++) {
    low = mean[i] < mean[low] ? i : low;
    high = mean[i] > mean[high] ? i : high;
  }
  double apart = mean[high] - mean[low], middle = mean[low] + apart / 2;
  *p = low == high ? 1 : within_one(apart, hypot(sd[high], sd[low]), limit);
  for (size_t i = 0; i < count; i++) {
    beyond += 1 - within_one(mean[i] - middle, sd[i], limit / 2);
    widest = fmax(widest, sd[i]);
  }
  return widest == 0 || beyond < settled || *p < settled;
}

/* An exact point's window opens at one place: the limit is let out by ten of the sds it is
 * integrated as, so that points exactly R apart are within. */
double tenter_shape_range_within(size_t count, const double *mean, const double *sd, double limit) {
  if (unknown(count, mean, sd) || isnan(limit))
    return NAN;
  if (limit < 0 || count < 2)
    return limit < 0 && count > 0 ? 0 : 1;
  double p, widest = 0, narrowest = INFINITY;
  if (range_settled(count, mean, sd, limit, &p))
    return p;
  for (size_t i = 0; i < count; i++) {
    widest = fmax(widest, sd[i]);
    narrowest = fmin(narrowest, sd[i]);
  }
  double least = least_sd * (limit + widest);
  shape s = {.count = count,
             .mean = mean,
             .sd = sd,
             .high = limit + (narrowest == 0 ? 10 * least : 0),
             .least = least};
  return over_open(&s, -INFINITY, INFINITY);
}
