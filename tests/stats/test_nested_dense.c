/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The nested model against a naive twin: V written out as a matrix, inverted by GSL, and the
 * textbook formulas applied to it (Henderson 1975, Biometrics 31:423; Gilmour, Thompson, Cullis
 * 1995, Biometrics 51:1440), on small random data with all that is awkward: weights, two blocks,
 * groups of one unit, units of one reading, of none, of equal u; two covariates. */
#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_matrix.h>

#include "nested_data.h"

#include "../../src/stats/nested_internal.h"

enum { GROUPS = 7, UNITS = 24, FIXED_MOST = 8 };

/* One random set and the components it is to be solved at. */
typedef struct twin {
  nested_data d;
  size_t n, p; /* rows, fixed columns: level and slope of each block, covariates */
  tenter_nested_components at;
  size_t unit_group[UNITS], unit_block[UNITS];
  gsl_matrix *V, *Vi, *X, *A, *P; /* A = (X'V^-1X)^-1 */
  gsl_vector *y, *beta, *left;    /* left = V^-1 (y - X beta) */
  double log_v, log_x;
} twin;

static tenter_nested_cov random_cov(uint64_t *seed, size_t terms, bool singular) {
  double a = 0.5 + random_uniform(seed), b = random_normal(seed), c = 0.5 + random_uniform(seed);
  if (singular)
    c = 0;
  return terms == 1 ? (tenter_nested_cov){a * a, 0, 0}
                    : (tenter_nested_cov){a * a, a * b, b * b + c * c};
}

/* Units 0 .. UNITS - 1 in groups of unequal size; rows 0 to 5 a unit. */
static void make_data(twin *t, uint64_t seed, size_t terms, size_t covariates) {
  nested_data *d = &t->d;
  *d = (nested_data){.terms = terms, .covariates = covariates, .units = UNITS, .groups = GROUPS};
  for (size_t unit = 0; unit < UNITS; unit++) {
    size_t group = unit * unit * GROUPS / (UNITS * UNITS); /* the first are large, the last small */
    t->unit_group[unit] = group;
    t->unit_block[unit] = group >= 4;
    size_t rows = (unit * 5 + 3) % 6;
    bool same_u = unit % 7 == 3;
    for (size_t j = 0; j < rows; j++) {
      size_t i = d->count++;
      d->block[i] = t->unit_block[unit];
      d->group[i] = group;
      d->unit[i] = unit;
      d->u[i] = same_u && j > 0 ? d->u[i - 1] : 3 + random_normal(&seed);
      d->w[i] = 0.3 + 2 * random_uniform(&seed);
      d->y[i] = 20 + 2 * random_normal(&seed);
      for (size_t k = 0; k < covariates; k++)
        d->x[i * covariates + k] = k == 1 ? (double)(unit % 3) : random_normal(&seed);
    }
  }
}

static void fill_design(twin *t) {
  const nested_data *d = &t->d;
  for (size_t i = 0; i < t->n; i++) {
    gsl_matrix_set(t->X, i, d->terms * d->block[i], 1);
    if (d->terms == 2)
      gsl_matrix_set(t->X, i, 2 * d->block[i] + 1, d->u[i]);
    for (size_t k = 0; k < d->covariates; k++)
      gsl_matrix_set(t->X, i, 2 * d->terms + k, d->x[i * d->covariates + k]);
    gsl_vector_set(t->y, i, d->y[i]);
  }
}

static double between(tenter_nested_cov c, double u, double v) {
  return c.level + (u + v) * c.cross + u * v * c.slope;
}

static void fill_variance(twin *t) {
  const nested_data *d = &t->d;
  for (size_t i = 0; i < t->n; i++)
    for (size_t j = 0; j < t->n; j++) {
      double u = d->terms == 2 ? d->u[i] : 0, v = d->terms == 2 ? d->u[j] : 0, f = 0;
      f += d->group[i] == d->group[j] ? between(t->at.group, u, v) : 0;
      f += d->unit[i] == d->unit[j] ? between(t->at.unit, u, v) : 0;
      f += i == j ? t->at.residual / d->w[i] : 0;
      gsl_matrix_set(t->V, i, j, f);
    }
}

/* a := a^-1, returning log|a|. */
static double invert(gsl_matrix *a) {
  double log_det = 0;
  assert_int_equal(gsl_linalg_cholesky_decomp1(a), GSL_SUCCESS);
  for (size_t i = 0; i < a->size1; i++)
    log_det += 2 * log(gsl_matrix_get(a, i, i));
  assert_int_equal(gsl_linalg_cholesky_invert(a), GSL_SUCCESS);
  return log_det;
}

static void product(CBLAS_TRANSPOSE_t ta, const gsl_matrix *a, const gsl_matrix *b, gsl_matrix *c) {
  gsl_blas_dgemm(ta, CblasNoTrans, 1, a, b, 0, c);
}

/* V^-1, A, beta, P = V^-1 - V^-1X A X'V^-1, left. */
static void solve_dense(twin *t) {
  size_t n = t->n, p = t->p;
  gsl_matrix *ViX = gsl_matrix_calloc(n, p), *B = gsl_matrix_calloc(n, p);
  gsl_vector *Viy = gsl_vector_calloc(n), *Xy = gsl_vector_calloc(p);
  gsl_matrix_memcpy(t->Vi, t->V);
  t->log_v = invert(t->Vi);
  product(CblasNoTrans, t->Vi, t->X, ViX);
  product(CblasTrans, t->X, ViX, t->A);
  t->log_x = invert(t->A);
  gsl_blas_dgemv(CblasNoTrans, 1, t->Vi, t->y, 0, Viy);
  gsl_blas_dgemv(CblasTrans, 1, t->X, Viy, 0, Xy);
  gsl_blas_dgemv(CblasNoTrans, 1, t->A, Xy, 0, t->beta);
  product(CblasNoTrans, ViX, t->A, B);
  gsl_matrix_memcpy(t->P, t->Vi);
  gsl_blas_dgemm(CblasNoTrans, CblasTrans, -1, B, ViX, 1, t->P);
  gsl_blas_dgemv(CblasNoTrans, 1, t->P, t->y, 0, t->left);
  gsl_matrix_free(ViX);
  gsl_matrix_free(B);
  gsl_vector_free(Viy);
  gsl_vector_free(Xy);
}

static twin *twin_new(uint64_t seed, size_t terms, size_t covariates, bool singular) {
  twin *t = calloc(1, sizeof *t);
  assert_non_null(t);
  make_data(t, seed, terms, covariates);
  t->n = t->d.count;
  t->p = 2 * terms + covariates;
  t->at = (tenter_nested_components){0.8, random_cov(&seed, terms, singular),
                                     random_cov(&seed, terms, false)};
  t->V = gsl_matrix_calloc(t->n, t->n);
  t->Vi = gsl_matrix_calloc(t->n, t->n);
  t->P = gsl_matrix_calloc(t->n, t->n);
  t->X = gsl_matrix_calloc(t->n, t->p);
  t->A = gsl_matrix_calloc(t->p, t->p);
  t->y = gsl_vector_calloc(t->n);
  t->beta = gsl_vector_calloc(t->p);
  t->left = gsl_vector_calloc(t->n);
  fill_design(t);
  fill_variance(t);
  solve_dense(t);
  return t;
}

static void twin_free(twin *t) {
  gsl_matrix_free(t->V);
  gsl_matrix_free(t->Vi);
  gsl_matrix_free(t->P);
  gsl_matrix_free(t->X);
  gsl_matrix_free(t->A);
  gsl_vector_free(t->y);
  gsl_vector_free(t->beta);
  gsl_vector_free(t->left);
  free(t);
}

/* The twin's products, units without rows included. */
static tenter_nested_products *twin_products(const twin *t) {
  tenter_nested_products *p;
  const nested_data *d = &t->d;
  assert_int_equal(tenter_nested_products_new(d->terms, d->covariates, &p, NULL), TENTER_OK);
  for (size_t unit = 0, i = 0; unit < UNITS; unit++) {
    size_t first = i;
    while (i < d->count && d->unit[i] == unit)
      i++;
    if (unit == 0 || t->unit_group[unit] != t->unit_group[unit - 1])
      assert_int_equal(tenter_nested_group_add(p, t->unit_block[unit], t->unit_group[unit], NULL),
                       TENTER_OK);
    assert_int_equal(tenter_nested_unit_add(p, unit, i - first, d->u + first, d->y + first,
                                            d->w + first, d->x + first * d->covariates, NULL),
                     TENTER_OK);
  }
  return p;
}

/* ---- what is compared ---- */

static const double close_enough = 1e-9;

static void check_likelihood(const twin *t, const tenter_nested_solution *s) {
  double square, n = (double)t->n, df = n - (double)t->p, pi2 = 2 * acos(-1.0);
  gsl_blas_ddot(t->y, t->left, &square);
  double ml = -(t->log_v + n * log(pi2) + square) / 2;
  double reml = -(t->log_v + t->log_x + df * log(pi2) + square) / 2;
  assert_close(tenter_nested_loglik(s, true), ml, close_enough, 0);
  assert_close(tenter_nested_loglik(s, false), reml, close_enough, 0);
  assert_int_equal(tenter_nested_rank(s), t->p);
}

/* What a prediction is of: the fixed line of a block at covariates, with a group's effect and a
 * unit's (SIZE_MAX: none; -2: one not seen). */
typedef struct target {
  size_t block, group, unit;
  bool new_group, new_unit, no_fixed;
  const tenter_nested_at *at;
} target;

/* Textbook prediction of row r (0 level, 1 slope): X weights, covariance with y. */
static void weigh(const twin *t, const target *g, size_t r, gsl_vector *x, gsl_vector *c) {
  const nested_data *d = &t->d;
  gsl_vector_set_zero(x);
  if (!g->no_fixed && r < d->terms) {
    gsl_vector_set(x, d->terms * g->block + r, 1);
    for (size_t k = 0; k < d->covariates; k++)
      gsl_vector_set(x, 2 * d->terms + k, g->at ? (r ? g->at->slope[k] : g->at->level[k]) : 0);
  }
  for (size_t i = 0; i < t->n; i++) {
    double u = d->terms == 2 ? d->u[i] : 0, f = 0;
    tenter_nested_cov G = t->at.group, H = t->at.unit;
    if (d->group[i] == g->group)
      f += r ? G.cross + G.slope * u : G.level + G.cross * u;
    if (d->unit[i] == g->unit)
      f += r ? H.cross + H.slope * u : H.level + H.cross * u;
    gsl_vector_set(c, i, f);
  }
}

static double own_variance(const twin *t, const target *g, size_t r, size_t s) {
  double f = 0;
  tenter_nested_cov G = t->at.group, H = t->at.unit;
  if (g->group != SIZE_MAX || g->new_group)
    f += r + s == 0 ? G.level : r + s == 1 ? G.cross : G.slope;
  if (g->unit != SIZE_MAX || g->new_unit)
    f += r + s == 0 ? H.level : r + s == 1 ? H.cross : H.slope;
  return f;
}

/* mean = x'beta + c'V^-1(y - X beta); var = own - c'V^-1c + (x - X'V^-1c)'A(x - X'V^-1c). */
static void predict(const twin *t, const target *g, double mean[2], double given[3],
                    double total[3]) {
  gsl_vector *x[2], *c[2], *Vc = gsl_vector_alloc(t->n), *e[2], *Ae = gsl_vector_alloc(t->p);
  for (size_t r = 0; r < 2; r++) {
    x[r] = gsl_vector_alloc(t->p), c[r] = gsl_vector_alloc(t->n), e[r] = gsl_vector_alloc(t->p);
    double random;
    weigh(t, g, r, x[r], c[r]);
    gsl_blas_ddot(c[r], t->left, &random);
    gsl_blas_ddot(x[r], t->beta, &mean[r]);
    mean[r] += random;
    gsl_blas_dgemv(CblasNoTrans, 1, t->Vi, c[r], 0, Vc);
    gsl_vector_memcpy(e[r], x[r]);
    gsl_blas_dgemv(CblasTrans, -1, t->X, Vc, 1, e[r]);
  }
  for (size_t r = 0; r < 2; r++)
    for (size_t s = r; s < 2; s++) {
      double cVc, eAe;
      gsl_blas_dgemv(CblasNoTrans, 1, t->Vi, c[r], 0, Vc);
      gsl_blas_ddot(Vc, c[s], &cVc);
      gsl_blas_dgemv(CblasNoTrans, 1, t->A, e[r], 0, Ae);
      gsl_blas_ddot(Ae, e[s], &eAe);
      given[r + s] = own_variance(t, g, r, s) - cVc;
      total[r + s] = given[r + s] + eAe;
    }
  for (size_t r = 0; r < 2; r++) {
    gsl_vector_free(x[r]);
    gsl_vector_free(c[r]);
    gsl_vector_free(e[r]);
  }
  gsl_vector_free(Vc);
  gsl_vector_free(Ae);
}

static void same_cov(tenter_nested_cov cov, const double *expected) {
  double size = 1e-9 * sqrt(fabs(expected[0] * expected[2]));
  assert_close(cov.level, expected[0], close_enough, 1e-12);
  assert_close(cov.cross, expected[1], close_enough, size + 1e-12);
  assert_close(cov.slope, expected[2], close_enough, 1e-12);
}

static void same_line(const twin *t, const target *g, const tenter_nested_line *line,
                      const tenter_nested_cov *given) {
  double mean[2], cond[3], total[3];
  predict(t, g, mean, cond, total);
  assert_close(line->level, mean[0], close_enough, 1e-10);
  assert_close(line->slope, mean[1], close_enough, 1e-10);
  same_cov(line->cov, total);
  if (given)
    same_cov(*given, cond);
}

static void check_predictions(const twin *t, const tenter_nested_solution *s) {
  const double level[3] = {0.4, 1.5, -0.7}, slope[3] = {-0.2, 0.1, 0.3};
  const tenter_nested_at at = {level, slope};
  const tenter_nested_at *where = t->d.terms == 2 && t->d.covariates ? &at : NULL;
  tenter_nested_line line;
  tenter_nested_cov given;
  for (size_t block = 0; block < 2; block++) {
    assert_true(tenter_nested_block_line(s, block, where, &line));
    same_line(t, &(target){block, SIZE_MAX, SIZE_MAX, .at = where}, &line, NULL);
    assert_true(tenter_nested_new_group_line(s, block, where, &line));
    same_line(t, &(target){block, SIZE_MAX, SIZE_MAX, true, true, false, where}, &line, NULL);
  }
  for (size_t unit = 0; unit < UNITS; unit++) {
    size_t group = t->unit_group[unit], block = t->unit_block[unit];
    assert_true(tenter_nested_group_line(s, group, where, &line));
    same_line(t, &(target){block, group, SIZE_MAX, .at = where}, &line, NULL);
    assert_true(tenter_nested_new_unit_line(s, group, where, &line));
    same_line(t, &(target){block, group, SIZE_MAX, .new_unit = true, .at = where}, &line, NULL);
    assert_true(tenter_nested_unit_line(s, unit, where, &line));
    same_line(t, &(target){block, group, unit, .at = where}, &line, NULL);
    tenter_nested_group_effect(s, group, &line, &given);
    same_line(t, &(target){block, group, SIZE_MAX, .no_fixed = true}, &line, &given);
    tenter_nested_unit_effect(s, unit, &line, &given);
    same_line(t, &(target){block, SIZE_MAX, unit, .no_fixed = true}, &line, &given);
  }
}

static void check_covariates(const twin *t, const tenter_nested_solution *s) {
  for (size_t k = 0; k < t->d.covariates; k++) {
    double value, se, first = gsl_matrix_get(t->A, 2 * t->d.terms, 2 * t->d.terms + k);
    size_t column = 2 * t->d.terms + k;
    assert_true(tenter_nested_covariate(s, k, &value, &se));
    assert_close(value, gsl_vector_get(t->beta, column), close_enough, 1e-12);
    assert_close(se, sqrt(gsl_matrix_get(t->A, column, column)), close_enough, 0);
    assert_close(tenter_nested_covariate_cov(s, 0, k), first, close_enough, 1e-12);
  }
}

static void check_one(uint64_t seed, size_t terms, size_t covariates, bool singular) {
  twin *t = twin_new(seed, terms, covariates, singular);
  tenter_nested_products *p = twin_products(t);
  tenter_nested_solution *s;
  assert_int_equal(tenter_nested_solve(p, &t->at, NULL, &s, NULL), TENTER_OK);
  check_likelihood(t, s);
  check_covariates(t, s);
  check_predictions(t, s);
  tenter_nested_solution_free(s);
  tenter_nested_products_free(p);
  twin_free(t);
}

static void test_solution(void **state) {
  (void)state;
  for (uint64_t seed = 1; seed <= 6; seed++)
    for (size_t terms = 1; terms <= 2; terms++)
      for (size_t covariates = 0; covariates <= DATA_COVARIATES; covariates++)
        check_one(seed, terms, covariates, seed % 3 == 0);
}

/* ---- derivatives ---- */

/* dV by element k of T (0, 1, 2) or t (3, 4, 5), about shift. */
static void direction(const twin *t, size_t k, double shift, gsl_matrix *D) {
  const nested_data *d = &t->d;
  for (size_t i = 0; i < t->n; i++)
    for (size_t j = 0; j < t->n; j++) {
      bool together = k < 3 ? d->group[i] == d->group[j] : d->unit[i] == d->unit[j];
      double u = d->u[i] - shift, v = d->u[j] - shift;
      double f = k % 3 == 0 ? 1 : k % 3 == 1 ? u + v : u * v;
      gsl_matrix_set(D, i, j, together ? f : 0);
    }
}

static double element(const sym2 *s, size_t k) {
  sym2 m = s[k / 3];
  return k % 3 == 0 ? m.level : k % 3 == 1 ? 2 * m.cross : m.slope;
}

/* Relative to sigma^2, as the state keeps them: tr(P V_k), y'P V_k P y, y'P V_j P V_k P y; P here
 * is of the absolute V. */
static void check_derivatives(const twin *t, const nested_state *s, bool reml) {
  size_t n = t->n, elements = t->d.terms == 2 ? 6 : 4;
  gsl_matrix *D = gsl_matrix_alloc(n, n), *f = gsl_matrix_alloc(n, 6), *Pf = gsl_matrix_alloc(n, 6);
  double sigma2 = t->at.residual;
  for (size_t k = 0; k < 6; k++) {
    double trace = 0, quad;
    gsl_vector_view column = gsl_matrix_column(f, k);
    direction(t, k, s->plan->shift, D);
    gsl_blas_dgemv(CblasNoTrans, 1, D, t->left, 0, &column.vector);
    gsl_blas_ddot(&column.vector, t->left, &quad);
    const gsl_matrix *weight = reml ? t->P : t->Vi;
    for (size_t i = 0; i < n; i++)
      for (size_t j = 0; j < n; j++)
        trace += gsl_matrix_get(weight, i, j) * gsl_matrix_get(D, j, i);
    if (elements == 4 && k % 3 != 0)
      continue;
    assert_close(element(s->trace, k), sigma2 * trace, close_enough, 1e-9);
    assert_close(element(s->quad, k), sigma2 * sigma2 * quad, close_enough, 1e-9);
  }
  product(CblasNoTrans, t->P, f, Pf);
  for (size_t j = 0; j < 6; j++)
    for (size_t k = 0; k < 6; k++) {
      gsl_vector_view a = gsl_matrix_column(f, j), b = gsl_matrix_column(Pf, k);
      double fPf;
      gsl_blas_ddot(&a.vector, &b.vector, &fPf);
      if (elements == 6 || (j % 3 == 0 && k % 3 == 0))
        assert_close(s->information[j * 6 + k], sigma2 * sigma2 * sigma2 * fPf, close_enough, 1e-8);
    }
  gsl_matrix_free(D);
  gsl_matrix_free(f);
  gsl_matrix_free(Pf);
}

static void test_derivatives(void **state) {
  (void)state;
  for (uint64_t seed = 1; seed <= 8; seed++) {
    size_t terms = 1 + seed % 2;
    twin *t = twin_new(seed, terms, seed % 4, seed % 3 == 0);
    tenter_nested_products *p = twin_products(t);
    tenter_nested_solution *s;
    assert_int_equal(tenter_nested_solve(p, &t->at, NULL, &s, NULL), TENTER_OK);
    assert_true(nested_score_room(s->state));
    for (int reml = 0; reml < 2; reml++) {
      nested_differentiate(s->state, reml);
      check_derivatives(t, s->state, reml);
    }
    tenter_nested_solution_free(s);
    tenter_nested_products_free(p);
    twin_free(t);
  }
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_solution),
      cmocka_unit_test(test_derivatives),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
