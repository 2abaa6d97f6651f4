/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Crossed analysis of variance of a balanced gauge study, agreement of two gauges, Deming's line.
 */
#include <gsl/gsl_cdf.h>
#include <math.h>

#include "gauge_internal.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/line.h"

static double squared(double x) {
  return x * x;
}

/* ---- the analysis of variance --------------------------------------------------------------- */

typedef struct sums {
  double *cell, *part, *person; /* means */
  size_t *count;                /* by cell */
} sums;

static bool is_balanced(const tenter_gauge_study *s, const sums *m) {
  for (size_t i = 0; i < s->parts * s->people; i++)
    if (m->count[i] != m->count[0])
      return false;
  return s->parts > 1 && s->people > 1 && m->count[0] > 1;
}

static void take_cells(const gauge_data *d, sums *m) {
  for (size_t i = 0; i < d->count; i++)
    m->count[d->part[i] * d->people + d->person[i]]++;
  for (size_t i = 0; i < d->count; i++) {
    size_t cell = d->part[i] * d->people + d->person[i];
    m->cell[cell] += d->value[i] / (double)m->count[cell];
  }
}

static void take_means(tenter_gauge_study *s, sums *m) {
  double cells = (double)(s->parts * s->people);
  for (size_t p = 0; p < s->parts; p++)
    for (size_t o = 0; o < s->people; o++) {
      double mean = m->cell[p * s->people + o];
      m->part[p] += mean / (double)s->people;
      m->person[o] += mean / (double)s->parts;
      s->mean += mean / cells;
    }
}

static tenter_gauge_line line(double squares, double df) {
  return (tenter_gauge_line){squares, df, df > 0 ? squares / df : NAN};
}

static void take_squares(const gauge_data *d, tenter_gauge_study *s, const sums *m) {
  double a = (double)s->parts, b = (double)s->people, n = (double)s->repeats;
  double parts = 0, people = 0, both = 0, repeats = 0;
  for (size_t p = 0; p < s->parts; p++)
    parts += b * n * squared(m->part[p] - s->mean);
  for (size_t o = 0; o < s->people; o++)
    people += a * n * squared(m->person[o] - s->mean);
  for (size_t p = 0; p < s->parts; p++)
    for (size_t o = 0; o < s->people; o++)
      both += n * squared(m->cell[p * s->people + o] - m->part[p] - m->person[o] + s->mean);
  for (size_t i = 0; i < d->count; i++)
    repeats += squared(d->value[i] - m->cell[d->part[i] * s->people + d->person[i]]);
  s->part = line(parts, a - 1);
  s->person = line(people, b - 1);
  s->interaction = line(both, (a - 1) * (b - 1));
  s->repeat = line(repeats, a * b * (n - 1));
}

/* ---- components ----------------------------------------------------------------------------- */

tenter_gauge_part gauge__part(double variance, double df) {
  tenter_gauge_part part = {.variance = fmax(0, variance), .sd_low = NAN, .sd_high = NAN};
  part.sd = sqrt(part.variance);
  if (variance > 0 && df > 0) {
    part.sd_low = sqrt(df * variance / gsl_cdf_chisq_Pinv(0.975, df));
    part.sd_high = df > 0.01 ? sqrt(df * variance / gsl_cdf_chisq_Pinv(0.025, df)) : INFINITY;
  }
  return part;
}

/* sum of k_i MS_i with Satterthwaite's degrees of freedom. */
static tenter_gauge_part component(const tenter_gauge_line *lines, const double *k, size_t count) {
  double variance = 0, spread = 0;
  for (size_t i = 0; i < count; i++) {
    variance += k[i] * lines[i].mean_square;
    spread += squared(k[i] * lines[i].mean_square) / lines[i].df;
  }
  return gauge__part(variance, spread > 0 ? squared(variance) / spread : NAN);
}

static void take_components(tenter_gauge_study *s) {
  double a = (double)s->parts, b = (double)s->people, n = (double)s->repeats;
  double f = s->interaction.mean_square / s->repeat.mean_square;
  s->interaction_p = gsl_cdf_fdist_Q(f, s->interaction.df, s->repeat.df);
  s->pooled = s->interaction_p > TENTER_GAUGE_POOL_ABOVE;
  tenter_gauge_line error = s->repeat, both = s->interaction;
  if (s->pooled)
    error = both =
        line(s->repeat.squares + s->interaction.squares, s->repeat.df + s->interaction.df);
  tenter_gauge_line lines[] = {s->part, s->person, both, error};
  s->repeatability = component(&lines[3], (double[]){1}, 1);
  if (!s->pooled)
    s->interaction_part = component(&lines[2], (double[]){1 / n, -1 / n}, 2);
  s->between_people = component(&lines[1], (double[]){1 / (a * n), -1 / (a * n)}, 2);
  tenter_gauge_line of_part[] = {s->part, both};
  s->between_parts = component(of_part, (double[]){1 / (b * n), -1 / (b * n)}, 2);
  /* sums of components, those below zero being zero; intervals from the same mean squares */
  double person = s->between_people.variance > 0 ? 1 / (a * n) : 0;
  double cross = s->interaction_part.variance > 0 ? 1 / n : 0;
  s->reproducibility = component(&lines[1], (double[]){person, cross - person, -cross}, 3);
  s->gauge = component(&lines[1], (double[]){person, cross - person, 1 - cross}, 3);
  double between = s->between_parts.variance > 0 ? 1 / (b * n) : 0;
  s->total = component(lines, (double[]){between, person, cross - person - between, 1 - cross}, 4);
}

static void take_shares(tenter_gauge_study *s) {
  tenter_gauge_part *const all[] = {
      &s->repeatability, &s->interaction_part, &s->between_people, &s->reproducibility,
      &s->gauge,         &s->between_parts,    &s->total};
  for (size_t i = 0; i < sizeof all / sizeof *all; i++)
    all[i]->share = all[i]->variance / s->total.variance;
  s->share_of_study = s->gauge.sd / s->total.sd;
  s->classes = 1.41 * s->between_parts.sd / s->gauge.sd;
}

static void run_balanced(const gauge_data *d, sums *m, tenter_gauge_study *s) {
  s->repeats = m->count[0];
  take_means(s, m);
  take_squares(d, s, m);
  take_components(s);
}

tenter_status tenter_gauge_study_run(size_t count, const uint32_t *part, const uint32_t *person,
                                     const double *value, size_t parts, size_t people,
                                     tenter_gauge_study *study, tenter_error *error) {
  const gauge_data d = {count, parts, people, part, person, value};
  const tenter_gauge_line none = {NAN, NAN, NAN};
  *study = (tenter_gauge_study){.parts = parts,
                                .people = people,
                                .part = none,
                                .person = none,
                                .interaction = none,
                                .repeat = none,
                                .log_likelihood = NAN};
  sums m = {.cell = tenter_alloc(parts * people + 1, sizeof *m.cell),
            .part = tenter_alloc(parts + 1, sizeof *m.part),
            .person = tenter_alloc(people + 1, sizeof *m.person),
            .count = tenter_alloc(parts * people + 1, sizeof *m.count)};
  tenter_status status =
      m.cell && m.part && m.person && m.count ? TENTER_OK : tenter_fail_memory(error);
  if (!status) {
    take_cells(&d, &m);
    study->balanced = is_balanced(study, &m);
    if (study->balanced)
      run_balanced(&d, &m, study);
    else
      status = gauge__unbalanced(&d, m.cell, m.count, study, error);
  }
  if (!status)
    take_shares(study);
  tenter_free(m.cell);
  tenter_free(m.part);
  tenter_free(m.person);
  tenter_free(m.count);
  return status;
}

/* ---- known values --------------------------------------------------------------------------- */

bool tenter_gauge_linearity_fit(size_t count, const double *value, const double *error,
                                tenter_gauge_linearity *fit) {
  tenter_line_fit line;
  *fit = (tenter_gauge_linearity){count, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
  if (count < 3 || !tenter_line_least_squares(count, value, error, NULL, NAN, &line))
    return false;
  double t = fabs(line.slope) / line.slope_se;
  *fit = (tenter_gauge_linearity){count,
                                  line.level,
                                  line.slope,
                                  line.level_se,
                                  line.slope_se,
                                  line.sigma,
                                  2 * gsl_cdf_tdist_Q(t, line.df),
                                  line.u_mean,
                                  line.mean_se};
  return true;
}

double tenter_gauge_linearity_at(const tenter_gauge_linearity *fit, double value, double *low,
                                 double *high) {
  double at = fit->level + fit->slope * value;
  double se = hypot(fit->mean_se, fit->slope_se * (value - fit->value_mean));
  double half = fit->count > 2 ? gsl_cdf_tdist_Pinv(0.975, (double)fit->count - 2) * se : NAN;
  *low = at - half;
  *high = at + half;
  return at;
}

/* ---- two gauges ----------------------------------------------------------------------------- */

tenter_gauge_agreement tenter_gauge_agree(size_t count, const double *x, const double *y) {
  tenter_gauge_agreement a = {count, NAN, NAN, NAN, NAN, NAN};
  double n = (double)count, sum = 0, squares = 0;
  if (count < 2)
    return a;
  for (size_t i = 0; i < count; i++)
    sum += x[i] - y[i];
  a.mean = sum / n;
  for (size_t i = 0; i < count; i++)
    squares += squared(x[i] - y[i] - a.mean);
  a.sd = sqrt(squares / (n - 1));
  a.mean_se = a.sd / sqrt(n);
  a.low = a.mean - 1.96 * a.sd;
  a.high = a.mean + 1.96 * a.sd;
  return a;
}

/* Without pair `out` (count: with all). */
static bool deming(size_t count, const double *x, const double *y, double ratio, size_t out,
                   double *level, double *slope) {
  double n = (double)count - (out < count), mx = 0, my = 0, xx = 0, xy = 0, yy = 0;
  for (size_t i = 0; i < count; i++)
    if (i != out) {
      mx += x[i] / n;
      my += y[i] / n;
    }
  for (size_t i = 0; i < count; i++)
    if (i != out) {
      xx += squared(x[i] - mx);
      xy += (x[i] - mx) * (y[i] - my);
      yy += squared(y[i] - my);
    }
  double d = yy - ratio * xx;
  *slope = (d + sqrt(d * d + 4 * ratio * xy * xy)) / (2 * xy);
  *level = my - *slope * mx;
  return isfinite(*slope);
}

bool tenter_gauge_deming_fit(size_t count, const double *x, const double *y, double ratio,
                             tenter_gauge_deming *fit) {
  double n = (double)count, level = 0, slope = 0, levels = 0, slopes = 0;
  *fit = (tenter_gauge_deming){NAN, NAN, NAN, NAN};
  if (count < 3 || !deming(count, x, y, ratio, count, &fit->level, &fit->slope))
    return false;
  for (size_t i = 0; i < count; i++) { /* pseudo-values: n all - (n - 1) without one */
    double a, b;
    deming(count, x, y, ratio, i, &a, &b);
    double da = (n - 1) * (fit->level - a), db = (n - 1) * (fit->slope - b);
    level += da / n;
    slope += db / n;
    levels += da * da;
    slopes += db * db;
  }
  fit->level_se = sqrt((levels - n * level * level) / (n - 1) / n);
  fit->slope_se = sqrt((slopes - n * slope * slope) / (n - 1) / n);
  return true;
}
