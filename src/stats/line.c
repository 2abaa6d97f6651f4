/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A straight line by weighted least squares; the robust line is in line_robust.c. */
#include "line_internal.h"

#include <math.h>

void tenter_line_sums_add(tenter_line_sums *s, double u, double y, double weight) {
  if (!(weight > 0))
    return;
  s->count++;
  s->weight += weight;
  double part = weight / s->weight, off_u = u - s->u_mean, off_y = y - s->y_mean;
  s->u_mean += part * off_u;
  s->y_mean += part * off_y;
  double kept = weight * (1 - part);
  s->uu += kept * off_u * off_u;
  s->uy += kept * off_u * off_y;
  s->yy += kept * off_y * off_y;
}

void tenter_line_sums_merge(tenter_line_sums *s, const tenter_line_sums *more) {
  if (more->count == 0)
    return;
  double weight = s->weight + more->weight, part = more->weight / weight;
  double off_u = more->u_mean - s->u_mean, off_y = more->y_mean - s->y_mean;
  double kept = s->weight * part;
  s->count += more->count;
  s->uu += more->uu + kept * off_u * off_u;
  s->uy += more->uy + kept * off_u * off_y;
  s->yy += more->yy + kept * off_y * off_y;
  s->u_mean += part * off_u;
  s->y_mean += part * off_y;
  s->weight = weight;
}

static bool one_u(const tenter_line_sums *s) {
  double size = fabs(s->u_mean) * 1e-10;
  return !(s->uu > s->weight * size * size);
}

void line__errors(const tenter_line_sums *s, double sigma, tenter_line_fit *fit) {
  fit->u_mean = s->u_mean;
  fit->mean_se = sigma / sqrt(s->weight);
  fit->slope_se = sigma / sqrt(s->uu);
  fit->level_se = hypot(fit->mean_se, s->u_mean * fit->slope_se);
  fit->cov = -s->u_mean * fit->slope_se * fit->slope_se;
}

/* Fills all but the residuals' part; false where there is no line. */
static bool coefficients_of(const tenter_line_sums *s, tenter_line_fit *fit) {
  *fit = (tenter_line_fit){.count = s->count,
                           .level = NAN,
                           .slope = NAN,
                           .level_se = NAN,
                           .slope_se = NAN,
                           .cov = NAN,
                           .u_mean = NAN,
                           .mean_se = NAN,
                           .sigma = NAN,
                           .df = 0,
                           .rss = NAN};
  if (s->count > 0 && one_u(s) && s->u_mean == 0)
    fit->level = s->y_mean;
  if (s->count < 2 || one_u(s))
    return false;
  fit->slope = s->uy / s->uu;
  fit->level = s->y_mean - fit->slope * s->u_mean;
  return true;
}

static void noise_of(const tenter_line_sums *s, double sigma, double rss, tenter_line_fit *fit) {
  fit->rss = rss;
  fit->df = isnan(sigma) ? (double)s->count - 2 : INFINITY;
  fit->sigma = isnan(sigma) && s->count > 2 ? sqrt(rss / fit->df) : sigma;
  line__errors(s, fit->sigma, fit);
}

bool tenter_line_solve(const tenter_line_sums *s, double sigma, tenter_line_fit *fit) {
  if (!coefficients_of(s, fit))
    return false;
  noise_of(s, sigma, s->count > 2 ? fmax(0, s->yy - fit->slope * s->uy) : 0, fit);
  return true;
}

/* Means first, then products about them: no digit is lost to a far origin. */
tenter_line_sums line__sums(const line_data *d) {
  tenter_line_sums s = {0};
  double u_sum = 0, y_sum = 0;
  for (size_t i = 0; i < d->count; i++) {
    double w = line__weight(d, i);
    s.count += w > 0;
    s.weight += w;
    u_sum += w * d->u[i];
    y_sum += w * d->y[i];
  }
  if (s.count == 0)
    return s;
  double u_start = u_sum / s.weight, y_start = y_sum / s.weight, u_rest = 0, y_rest = 0;
  for (size_t i = 0; i < d->count; i++) {
    double w = line__weight(d, i);
    u_rest += w * (d->u[i] - u_start);
    y_rest += w * (d->y[i] - y_start);
  }
  s.u_mean = u_start + u_rest / s.weight;
  s.y_mean = y_start + y_rest / s.weight;
  for (size_t i = 0; i < d->count; i++) {
    double w = line__weight(d, i), off_u = d->u[i] - s.u_mean, off_y = d->y[i] - s.y_mean;
    s.uu += w * off_u * off_u;
    s.uy += w * off_u * off_y;
    s.yy += w * off_y * off_y;
  }
  return s;
}

bool line__solve(const line_data *d, double sigma, tenter_line_fit *fit) {
  tenter_line_sums s = line__sums(d);
  if (!coefficients_of(&s, fit))
    return false;
  double rss = 0;
  for (size_t i = 0; i < d->count; i++) {
    double off = d->y[i] - s.y_mean - fit->slope * (d->u[i] - s.u_mean);
    rss += line__weight(d, i) * off * off;
  }
  noise_of(&s, sigma, rss, fit);
  return true;
}

bool tenter_line_least_squares(size_t count, const double *u, const double *y, const double *weight,
                               double sigma, tenter_line_fit *fit) {
  line_data d = {count, u, y, weight, NULL};
  return line__solve(&d, sigma, fit);
}

double tenter_line_fit_at(const tenter_line_fit *fit, double u, double *se) {
  if (se)
    *se = hypot(fit->mean_se, (u - fit->u_mean) * fit->slope_se);
  return fit->level + fit->slope * u;
}
