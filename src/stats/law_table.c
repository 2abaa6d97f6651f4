/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of laws: for each its names, its bounds and starts, what its linear parameters multiply
 * and the derivatives by the searched ones. Adding a law is adding a row, with its enum constant.
 */
#include <math.h>
#include <string.h>

#include "law_internal.h"

/* value = a - b u, u = log10(t / 24 h) */
static void log_basis(law_ages ages, const double *s, double *phi, size_t stride, double *work) {
  const double ln10 = log(10), reference = log(TENTER_LAW_REFERENCE_HOURS);
  (void)s;
  (void)work;
  for (size_t i = 0; i < ages.n; i++) {
    phi[i] = 1;
    phi[stride + i] = -(ages.log_t[i] - reference) / ln10;
  }
}

/* value = a e^(-c v), v = ln(t / 24 h) */
static void power_basis(law_ages ages, const double *s, double *phi, size_t stride, double *work) {
  const double reference = log(TENTER_LAW_REFERENCE_HOURS);
  (void)stride;
  (void)work;
  for (size_t i = 0; i < ages.n; i++)
    phi[i] = exp(-s[0] * (ages.log_t[i] - reference));
}

static void power_slope(law_ages ages, const double *s, const double *c, const double *phi,
                        double *slope, size_t stride, const double *work) {
  const double reference = log(TENTER_LAW_REFERENCE_HOURS);
  (void)s;
  (void)stride;
  (void)work;
  for (size_t i = 0; i < ages.n; i++)
    slope[i] = -c[0] * (ages.log_t[i] - reference) * phi[i];
}

/* value = plateau (1 - E) + initial E, E = e^-z, z = (t / tau)^beta; s = (ln tau, beta), work = z.
 * dE/d ln tau = beta z E, dE/d beta = -z ln(t / tau) E; both 0 at t = 0. */
static void stretched_basis(law_ages ages, const double *s, double *phi, size_t stride,
                            double *work) {
  double *decay = phi + stride;
  for (size_t i = 0; i < ages.n; i++)
    work[i] = exp(s[1] * (ages.log_t[i] - s[0]));
  for (size_t i = 0; i < ages.n; i++) {
    decay[i] = exp(-work[i]);
    phi[i] = 1 - decay[i];
  }
}

static void stretched_slope(law_ages ages, const double *s, const double *c, const double *phi,
                            double *slope, size_t stride, const double *work) {
  double drop = c[1] - c[0];
  for (size_t i = 0; i < ages.n; i++) {
    double rate = work[i] > 0 && phi[stride + i] > 0 ? drop * work[i] * phi[stride + i] : 0;
    slope[i] = s[1] * rate;
    slope[stride + i] = rate != 0 ? -rate * (ages.log_t[i] - s[0]) : 0;
  }
}

/* (t / tau)^beta = ln 2 */
static double stretched_half(const double *s, double *slope) {
  double log_half = log(log(2)) / s[1];
  *slope = -log_half / s[1];
  return log_half;
}

/* value = plateau + c1 e^(-t / tau1) + c2 e^(-t / tau2); s = (ln tau1, ln tau2) */
static void two_phase_basis(law_ages ages, const double *s, double *phi, size_t stride,
                            double *work) {
  double rate1 = exp(-s[0]), rate2 = exp(-s[1]);
  (void)work;
  for (size_t i = 0; i < ages.n; i++) {
    phi[i] = 1;
    phi[stride + i] = exp(-ages.t[i] * rate1);
    phi[2 * stride + i] = exp(-ages.t[i] * rate2);
  }
}

static void two_phase_slope(law_ages ages, const double *s, const double *c, const double *phi,
                            double *slope, size_t stride, const double *work) {
  (void)work;
  for (size_t k = 0; k < 2; k++) {
    double rate = exp(-s[k]) * c[k + 1];
    const double *decay = phi + (k + 1) * stride;
    for (size_t i = 0; i < ages.n; i++)
      slope[k * stride + i] = ages.t[i] * rate * decay[i];
  }
}

/* value = plateau (1 - E) + initial E, E = e^(-t / tau); s = (ln tau) */
static void solid_basis(law_ages ages, const double *s, double *phi, size_t stride, double *work) {
  double rate = exp(-s[0]);
  (void)work;
  for (size_t i = 0; i < ages.n; i++) {
    phi[stride + i] = exp(-ages.t[i] * rate);
    phi[i] = 1 - phi[stride + i];
  }
}

static void solid_slope(law_ages ages, const double *s, const double *c, const double *phi,
                        double *slope, size_t stride, const double *work) {
  double rate = exp(-s[0]) * (c[1] - c[0]);
  (void)work;
  for (size_t i = 0; i < ages.n; i++)
    slope[i] = ages.t[i] * rate * phi[stride + i];
}

static double solid_half(const double *s, double *slope) {
  (void)s;
  *slope = 0;
  return log(log(2));
}

static const law_row rows[TENTER_LAW_COUNT] = {
    [TENTER_LAW_LOG] = {.info = {.name = "log",
                                 .title = TENTER_SAY_LAW_TITLE_LOG,
                                 .formula = "a - b log10(t / 24 h)",
                                 .parameters = 2,
                                 .linear = 2,
                                 .parameter = {"a", "b"},
                                 .needs_age = true},
                        .basis = log_basis},
    [TENTER_LAW_POWER] = {.info = {.name = "power",
                                   .title = TENTER_SAY_LAW_TITLE_POWER,
                                   .formula = "a (t / 24 h)^-c",
                                   .parameters = 2,
                                   .linear = 1,
                                   .parameter = {"a", "c"},
                                   .needs_age = true},
                          .low = {-5},
                          .high = {5},
                          .starts = 4,
                          .searches = 1,
                          .start = {{0}, {0.03}, {0.3}, {-0.3}},
                          .basis = power_basis,
                          .slope = power_slope},
    [TENTER_LAW_STRETCHED] = {.info = {.name = "stretched",
                                       .title = TENTER_SAY_LAW_TITLE_STRETCHED,
                                       .formula =
                                           "plateau + (initial - plateau) exp(-(t / tau)^beta)",
                                       .parameters = 4,
                                       .linear = 2,
                                       .parameter = {"plateau", "initial", "tau", "beta"},
                                       .is_time = {false, false, true, false}},
                              .plateau = true,
                              .low = {0.1, 0.05},
                              .high = {1000, 1},
                              .starts = 3,
                              .searches = 1,
                              .start = {{0.3, 0.6}, {0.6, 0.6}, {0.9, 0.6}},
                              .basis = stretched_basis,
                              .slope = stretched_slope,
                              .half = stretched_half},
    [TENTER_LAW_TWO_PHASE] = {.info = {.name = "two_phase",
                                       .title = TENTER_SAY_LAW_TITLE_TWO_PHASE,
                                       .formula = "plateau + c1 exp(-t / tau1) + c2 exp(-t / tau2)",
                                       .parameters = 5,
                                       .linear = 3,
                                       .parameter = {"plateau", "c1", "c2", "tau1", "tau2"},
                                       .is_time = {false, false, false, true, true}},
                              .plateau = true,
                              .interchangeable = true,
                              .low = {0.1, 0.1},
                              .high = {100, 100},
                              .starts = 10,
                              .searches = 10,
                              .start = {{0.1, 0.5},
                                        {0.1, 0.8},
                                        {0.3, 0.6},
                                        {0.3, 0.8},
                                        {0.5, 0.8},
                                        {0.5, 1.0},
                                        {0.7, 0.9},
                                        {0.3, 1.1},
                                        {0.1, 0.3},
                                        {0.7, 1.1}},
                              .basis = two_phase_basis,
                              .slope = two_phase_slope},
    [TENTER_LAW_SOLID] = {.info = {.name = "solid",
                                   .title = TENTER_SAY_LAW_TITLE_SOLID,
                                   .formula = "plateau + (initial - plateau) exp(-t / tau)",
                                   .parameters = 3,
                                   .linear = 2,
                                   .parameter = {"plateau", "initial", "tau"},
                                   .is_time = {false, false, true}},
                          .plateau = true,
                          .low = {0.1},
                          .high = {100},
                          .starts = 6,
                          .searches = 2,
                          .start = {{0.1}, {0.3}, {0.5}, {0.7}, {0.9}, {1.1}},
                          .basis = solid_basis,
                          .slope = solid_slope,
                          .half = solid_half},
};

const law_row *law_row_of(tenter_law law) {
  return &rows[law];
}

const tenter_law_info *tenter_law_describe(tenter_law law) {
  return &rows[law].info;
}

bool tenter_law_find(const char *name, tenter_law *law) {
  for (size_t k = 0; k < TENTER_LAW_COUNT; k++)
    if (strcmp(rows[k].info.name, name) == 0) {
      *law = (tenter_law)k;
      return true;
    }
  return false;
}

double tenter_law_gradient(tenter_law law, const double *parameter, double age_hours,
                           double *gradient) {
  const law_row *row = &rows[law];
  size_t linear = row->info.linear;
  double s[LAW_SEARCHED] = {0}, slope[LAW_SEARCHED] = {0}, phi[LAW_LINEAR], work, value = 0;
  double log_t = log(age_hours);
  for (size_t k = linear; k < row->info.parameters; k++)
    s[k - linear] = row->info.is_time[k] ? log(parameter[k]) : parameter[k];
  law_ages age = {.n = 1, .t = &age_hours, .log_t = &log_t};
  row->basis(age, s, phi, 1, &work);
  for (size_t k = 0; k < linear; k++) {
    gradient[k] = phi[k];
    value += parameter[k] * phi[k];
  }
  if (row->slope)
    row->slope(age, s, parameter, phi, slope, 1, &work);
  for (size_t k = linear; k < row->info.parameters; k++)
    gradient[k] = slope[k - linear] / (row->info.is_time[k] ? parameter[k] : 1);
  return value;
}

double tenter_law_value(tenter_law law, const double *parameter, double age_hours) {
  double gradient[TENTER_LAW_PARAMETERS];
  return tenter_law_gradient(law, parameter, age_hours, gradient);
}
