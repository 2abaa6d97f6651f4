/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fits against lme4 1.1-31 (tests/oracle/mixed/mixed.R made the data and the expected values; the
 * data sets are those of lme4 and nlme, named there). Published beside them: the REML criterion
 * 319.6543 of Dyestuff and 1743.628 of sleepstudy (Bates et al. 2015, J. Stat. Softw. 67(1)). */
#include "nested_data.h"

/* What a model of expected.csv is, in our terms. */
typedef struct model {
  const char *name, *set;
  size_t terms, covariates, blocks;
  tenter_nested_terms group, unit;
  const char *fixed[5]; /* names of: level, slope (blocks in turn), covariates; NULL ends */
} model;

static const model models[] = {
    {"Dyestuff", "Dyestuff", 1, 0, 1, 0, 1, {"(Intercept)"}},
    {"Dyestuff2", "Dyestuff2", 1, 0, 1, 0, 1, {"(Intercept)"}},
    {"Rail", "Rail", 1, 0, 1, 0, 1, {"(Intercept)"}},
    {"Pastes", "Pastes", 1, 0, 1, 1, 1, {"(Intercept)"}},
    {"sleepstudy_slope", "sleepstudy", 2, 0, 1, 0, 2, {"(Intercept)", "Days"}},
    {"sleepstudy_int", "sleepstudy", 2, 0, 1, 0, 1, {"(Intercept)", "Days"}},
    {"sleepstudy_unbal_slope", "sleepstudy_unbalanced", 2, 0, 1, 0, 2, {"(Intercept)", "Days"}},
    {"sleepstudy_unbal_int", "sleepstudy_unbalanced", 2, 0, 1, 0, 1, {"(Intercept)", "Days"}},
    {"Oxboys_slope", "Oxboys", 2, 1, 1, 0, 2, {"(Intercept)", "age", "age2"}},
    {"Orthodont_int", "Orthodont", 2, 1, 1, 0, 1, {"(Intercept)", "age11", "female"}},
    {"Orthodont_slope", "Orthodont", 2, 0, 1, 0, 2, {"(Intercept)", "age11"}},
    {"Orthodont_blocks",
     "Orthodont",
     2,
     0,
     2,
     0,
     2,
     {"factor(female)0", "factor(female)0:age11", "factor(female)1", "factor(female)1:age11"}},
    {"Machines", "Machines", 1, 2, 1, 1, 1, {"(Intercept)", "", "B", "C"}},
    {"Wafer_int", "Wafer", 2, 1, 1, 1, 1, {"(Intercept)", "voltage", "v2"}},
    {"Wafer_slope", "Wafer", 2, 1, 1, 2, 2, {"(Intercept)", "voltage", "v2"}},
};

enum { MODELS = sizeof models / sizeof models[0], FIELDS = 8 };

static FILE *open_oracle(const char *name) {
  char path[1024];
  snprintf(path, sizeof path, "%s/mixed/%s", TEST_ORACLE, name);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  return file;
}

/* The next line cut at its commas; false at the end. The first line is passed over. */
static bool next_row(FILE *file, char *line, size_t size, char *field[FIELDS]) {
  if (ftell(file) == 0 && !fgets(line, (int)size, file))
    return false;
  if (!fgets(line, (int)size, file))
    return false;
  line[strcspn(line, "\n")] = 0;
  for (size_t k = 0; k < FIELDS; k++) {
    field[k] = line;
    line += strcspn(line, ",");
    if (*line)
      *line++ = 0;
  }
  return true;
}

static void read_set(const model *m, nested_data *d) {
  char line[512], *field[FIELDS];
  FILE *file = open_oracle("data.csv");
  *d = (nested_data){.terms = m->terms, .covariates = m->covariates};
  while (next_row(file, line, sizeof line, field)) {
    if (strcmp(field[0], m->set) != 0)
      continue;
    size_t i = d->count++;
    assert_true(i < DATA_ROWS);
    d->block[i] = m->blocks > 1 ? (size_t)atoi(field[1]) : 0;
    d->group[i] = (size_t)atoi(field[2]);
    d->unit[i] = (size_t)atoi(field[3]);
    d->u[i] = atof(field[4]);
    d->y[i] = atof(field[5]);
    d->w[i] = 1;
    for (size_t k = 0; k < m->covariates; k++)
      d->x[i * m->covariates + k] = atof(field[6 + k]);
  }
  fclose(file);
  assert_true(d->count > 0);
}

/* Groups must lie in one block; with blocks the units of a block make a group. */
static void groups_by_block(nested_data *d) {
  for (size_t pass = 0; pass < 1; pass++)
    for (size_t i = 1; i < d->count; i++)
      for (size_t j = i; j > 0 && d->block[j - 1] > d->block[j]; j--) {
        size_t b = d->block[j], v = d->unit[j];
        double u = d->u[j], y = d->y[j];
        d->block[j] = d->block[j - 1], d->unit[j] = d->unit[j - 1];
        d->u[j] = d->u[j - 1], d->y[j] = d->y[j - 1];
        d->block[j - 1] = b, d->unit[j - 1] = v, d->u[j - 1] = u, d->y[j - 1] = y;
      }
  for (size_t i = 0; i < d->count; i++)
    d->group[i] = d->block[i];
}

static double expected(const char *name, const char *method, const char *quantity) {
  char line[512], *field[FIELDS];
  FILE *file = open_oracle("expected.csv");
  double value = NAN;
  while (next_row(file, line, sizeof line, field))
    if (!strcmp(field[0], name) && !strcmp(field[1], method) && !strcmp(field[2], quantity))
      value = atof(field[3]);
  fclose(file);
  if (isnan(value))
    fail_msg("no %s of %s", quantity, name);
  return value;
}

/* Relative tolerances: 1e-4, 1e-3 where the fit lies on a boundary. */
static double tolerance(const char *name) {
  return !strcmp(name, "Wafer_slope") ? 1e-3 : 1e-4;
}

static void check_cov(const model *m, const char *method, const char *what, tenter_nested_cov cov,
                      tenter_nested_terms terms) {
  char quantity[64];
  double tol = tolerance(m->name), absolute = !strcmp(m->name, "Dyestuff2") ? 1e-6 : 0;
  snprintf(quantity, sizeof quantity, "%s:level", what);
  if (terms >= TENTER_NESTED_LEVEL)
    assert_close(cov.level, expected(m->name, method, quantity), tol, absolute);
  if (terms < TENTER_NESTED_LINE)
    return;
  snprintf(quantity, sizeof quantity, "%s:slope", what);
  assert_close(cov.slope, expected(m->name, method, quantity), tol, 0);
  snprintf(quantity, sizeof quantity, "%s:cross", what);
  assert_close(cov.cross, expected(m->name, method, quantity), tol,
               tol * sqrt(cov.level * cov.slope));
}

static void check_fixed_one(const model *m, const char *method, const char *name, double value,
                            double se) {
  char quantity[64];
  snprintf(quantity, sizeof quantity, "fixed:%s", name);
  assert_close(value, expected(m->name, method, quantity), 1e-4, 0);
  snprintf(quantity, sizeof quantity, "se:%s", name);
  assert_close(se, expected(m->name, method, quantity), tolerance(m->name), 0);
}

static void check_fixed(const model *m, const char *method, const tenter_nested_solution *s) {
  for (size_t b = 0; b < m->blocks; b++) {
    tenter_nested_line line;
    assert_true(tenter_nested_block_line(s, b, NULL, &line));
    check_fixed_one(m, method, m->fixed[2 * b], line.level, sqrt(line.cov.level));
    if (m->terms == 2)
      check_fixed_one(m, method, m->fixed[2 * b + 1], line.slope, sqrt(line.cov.slope));
  }
  for (size_t k = 0; k < m->covariates; k++) {
    double value, se;
    assert_true(tenter_nested_covariate(s, k, &value, &se));
    check_fixed_one(m, method, m->fixed[2 + k], value, se);
  }
}

static void check_blups(const model *m, const tenter_nested_products *p, const nested_data *d,
                        const tenter_nested_solution *s) {
  char line[512], *field[FIELDS];
  FILE *file = open_oracle("blups.csv");
  size_t seen = 0;
  double tol = tolerance(m->name);
  while (next_row(file, line, sizeof line, field)) {
    if (strcmp(field[0], m->name) != 0)
      continue;
    tenter_nested_line effect;
    tenter_nested_cov given;
    size_t key = (size_t)atoi(field[2]), index = 0, at = 0;
    if (!strcmp(field[1], "group")) {
      tenter_nested_group_effect(s, key, &effect, &given);
    } else { /* units come in the order of rows */
      while (d->unit[at] != key)
        index += ++at < d->count && d->unit[at] != d->unit[at - 1];
      assert_true(index < tenter_nested_units(p));
      tenter_nested_unit_effect(s, index, &effect, &given);
    }
    bool level = !strcmp(field[3], "level");
    double sd = sqrt(level ? given.level : given.slope);
    assert_close(level ? effect.level : effect.slope, atof(field[4]), tol, tol * sd);
    assert_close(sd, atof(field[5]), tol, strcmp(m->name, "Dyestuff2") ? 0 : 1e-3);
    seen++;
  }
  fclose(file);
  assert_true(seen > 0);
}

static void check_model(const model *m, bool ml) {
  static nested_data d;
  const char *method = ml ? "ML" : "REML";
  tenter_nested_options options = {.ml = ml, .group_max = m->group, .unit_max = m->unit};
  tenter_nested_fit fit;
  tenter_error error;
  read_set(m, &d);
  if (m->blocks > 1)
    groups_by_block(&d);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  assert_int_equal(tenter_nested_fit_run(p, &options, &fit, &error), TENTER_OK);
  printf("%-24s %-4s %2zu evaluations%s%s\n", m->name, method, fit.evaluations,
         fit.group_boundary ? ", group at boundary" : "",
         fit.unit_boundary ? ", unit at boundary" : "");
  assert_true(fit.converged);
  assert_int_equal(fit.structure.group, m->group);
  assert_int_equal(fit.structure.unit, m->unit);
  assert_close(fit.loglik, expected(m->name, method, "loglik"), 1e-6, 0);
  assert_close(tenter_nested_loglik(fit.solution, ml), fit.loglik, 1e-12, 0);
  assert_close(fit.components.residual, expected(m->name, method, "residual"), tolerance(m->name),
               0);
  check_cov(m, method, "group", fit.components.group, m->group);
  check_cov(m, method, "unit", fit.components.unit, m->unit);
  check_fixed(m, method, fit.solution);
  if (!ml)
    check_blups(m, p, &d, fit.solution);
  bool unit_boundary = !strcmp(m->name, "Dyestuff2") || !strcmp(m->name, "Wafer_slope");
  assert_int_equal(fit.unit_boundary, unit_boundary);
  assert_false(fit.group_boundary);
  tenter_nested_fit_release(&fit);
  tenter_nested_products_free(p);
}

static void test_reml(void **state) {
  (void)state;
  for (size_t k = 0; k < MODELS; k++)
    check_model(&models[k], false);
}

static void test_ml(void **state) {
  (void)state;
  for (size_t k = 0; k < MODELS; k++)
    check_model(&models[k], true);
}

/* ---- profile intervals ---- */

/* Lower and upper limits, 95 %, by maximum likelihood. R: confint(lmer(..., REML = FALSE), parm =
 * "theta_", method = "profile"), lme4 1.1-31, which interpolates in its profiles (hence the
 * tolerance); those of sleepstudy also in Bates et al. 2015, section 5.1 (14.38 37.72, -0.482
 * 0.685, 3.80 8.75, 22.90 28.86). */
typedef struct interval {
  const char *model;
  tenter_nested_parameter parameter;
  double low, high;
} interval;

static const interval intervals[] = {
    {"sleepstudy_slope", TENTER_NESTED_UNIT_LEVEL_SD, 14.38148112, 37.71601874},
    {"sleepstudy_slope", TENTER_NESTED_UNIT_CORRELATION, -0.48150044, 0.68498614},
    {"sleepstudy_slope", TENTER_NESTED_UNIT_SLOPE_SD, 3.80116476, 8.75336666},
    {"sleepstudy_slope", TENTER_NESTED_RESIDUAL_SD, 22.89826622, 28.85799732},
    {"Pastes", TENTER_NESTED_UNIT_LEVEL_SD, 2.15793374, 4.0535890},
    {"Pastes", TENTER_NESTED_GROUP_LEVEL_SD, 0, 2.9465913},
    {"Pastes", TENTER_NESTED_RESIDUAL_SD, 0.65202336, 1.0854481},
    {"Dyestuff", TENTER_NESTED_UNIT_LEVEL_SD, 12.198535, 84.063047},
    {"Dyestuff", TENTER_NESTED_RESIDUAL_SD, 38.229985, 67.657696},
    {"Dyestuff2", TENTER_NESTED_UNIT_LEVEL_SD, 0, 2.0840435},
    {"Dyestuff2", TENTER_NESTED_RESIDUAL_SD, 2.892831, 4.8158326},
};

static const model *model_named(const char *name) {
  for (size_t k = 0; k < MODELS; k++)
    if (!strcmp(models[k].name, name))
      return &models[k];
  fail_msg("no model %s", name);
  return NULL;
}

static void test_intervals(void **state) {
  static nested_data d;
  (void)state;
  for (size_t k = 0; k < sizeof intervals / sizeof intervals[0]; k++) {
    const model *m = model_named(intervals[k].model);
    tenter_nested_options options = {.ml = true, .group_max = m->group, .unit_max = m->unit};
    tenter_nested_fit fit;
    double low, high;
    read_set(m, &d);
    tenter_nested_products *p = data_products(&d, 0, d.count);
    assert_int_equal(tenter_nested_fit_run(p, &options, &fit, NULL), TENTER_OK);
    assert_int_equal(
        tenter_nested_interval(p, &options, &fit, intervals[k].parameter, 0.95, &low, &high, NULL),
        TENTER_OK);
    assert_close(low, intervals[k].low, 2e-4, 0);
    assert_close(high, intervals[k].high, 2e-4, 0);
    assert_int_equal(tenter_nested_interval(p, &options, &fit, TENTER_NESTED_GROUP_CORRELATION,
                                            0.95, &low, &high, NULL),
                     TENTER_USAGE);
    tenter_nested_fit_release(&fit);
    tenter_nested_products_free(p);
  }
}

/* A correlation on its boundary keeps it as a limit. */
static void test_interval_at_boundary(void **state) {
  static nested_data d;
  const model *m = model_named("Wafer_slope");
  tenter_nested_options options = {.group_max = m->group, .unit_max = m->unit};
  tenter_nested_fit fit;
  double low, high;
  (void)state;
  read_set(m, &d);
  tenter_nested_products *p = data_products(&d, 0, d.count);
  assert_int_equal(tenter_nested_fit_run(p, &options, &fit, NULL), TENTER_OK);
  assert_int_equal(tenter_nested_interval(p, &options, &fit, TENTER_NESTED_UNIT_CORRELATION, 0.95,
                                          &low, &high, NULL),
                   TENTER_OK);
  assert_true(low > 0 && low < 1);
  assert_close(high, 1, 0, 0);
  assert_int_equal(tenter_nested_interval(p, &options, &fit, TENTER_NESTED_UNIT_CORRELATION, 1,
                                          &low, &high, NULL),
                   TENTER_USAGE);
  tenter_nested_fit_release(&fit);
  tenter_nested_products_free(p);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_reml),
      cmocka_unit_test(test_ml),
      cmocka_unit_test(test_intervals),
      cmocka_unit_test(test_interval_at_boundary),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
