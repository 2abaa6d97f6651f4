/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Unevenness: Sidak's product, the range distribution of R's ptukey, closed forms of one and two
 * points, Monte Carlo with a fixed seed, nested quadrature by GSL, and invariance. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>

#include "numbers.h"
#include "tenter/stats/normal.h"
#include "tenter/stats/shape.h"

enum { POINTS = 18 };
static const double stated = 1e-6;

static void equal(double *mean, double *sd, size_t count) {
  for (size_t i = 0; i < count; i++) {
    mean[i] = 22;
    sd[i] = 1;
  }
}

static void uneven(uint64_t *seed, double *mean, double *sd, size_t count) {
  for (size_t i = 0; i < count; i++) {
    mean[i] = 22 + 0.5 * number_normal(seed);
    sd[i] = 0.1 + 0.4 * number_uniform(seed);
  }
}

/* A centre known exactly: the points are independent (Sidak). */
static void test_sidak(void **state) {
  (void)state;
  double mean[100], sd[100];
  equal(mean, sd, 100);
  for (size_t n = 1; n <= 100; n += 11)
    for (double limit = 0; limit < 7; limit += 0.25)
      assert_close(tenter_shape_within(n, mean, sd, 22, 0, limit),
                   1 - (limit > 0 ? tenter_normal_greatest_above((double)n, limit) : 1), 0, stated);
}

static void test_range_of_equals(void **state) {
  (void)state;
  double mean[50], sd[50];
  rows r;
  equal(mean, sd, 50);
  rows_open(&r, "numerics/range.csv");
  while (rows_next(&r))
    assert_close(
        tenter_shape_range_within((size_t)rows_number(&r, 0), mean, sd, rows_number(&r, 1)),
        rows_number(&r, 2), 0, stated);
}

/* One point and its centre, and two points, are a difference of two normals. */
static void test_two(void **state) {
  (void)state;
  for (double other = 1e-9; other < 1e3; other *= 3.7)
    for (double limit = 0.05; limit < 4; limit += 0.3) {
      const double mean[] = {22.7, 22}, sd[] = {0.3, other}, both = hypot(0.3, other);
      double expected = tenter_normal_between(0.7, both, -limit, limit);
      assert_close(tenter_shape_within(1, mean, sd, 22, other, limit), expected, 0, stated);
      assert_close(tenter_shape_within(1, mean + 1, sd + 1, 22.7, 0.3, limit), expected, 0, stated);
      assert_close(tenter_shape_range_within(2, mean, sd, limit), expected, 0, stated);
    }
}

/* The integral over the centre, or the least point, by adaptive quadrature and erfc. */
typedef struct twin {
  size_t count;
  const double *mean, *sd;
  double centre, centre_sd, limit;
} twin;

static double given_centre(double c, void *params) {
  const twin *t = params;
  double p = tenter_normal_density((c - t->centre) / t->centre_sd) / t->centre_sd;
  for (size_t i = 0; i < t->count; i++)
    p *= tenter_normal_between(t->mean[i], t->sd[i], c - t->limit, c + t->limit);
  return p;
}

static double given_least(double x, void *params) {
  const twin *t = params;
  double sum = 0;
  for (size_t i = 0; i < t->count; i++) {
    double p = tenter_normal_density((x - t->mean[i]) / t->sd[i]) / t->sd[i];
    for (size_t j = 0; j < t->count; j++)
      p *= j == i ? 1 : tenter_normal_between(t->mean[j], t->sd[j], x, x + t->limit);
    sum += p;
  }
  return sum;
}

static void test_quadrature(void **state) {
  (void)state;
  gsl_set_error_handler_off();
  gsl_integration_workspace *room = gsl_integration_workspace_alloc(1000);
  uint64_t seed = 21;
  double mean[POINTS], sd[POINTS], result, error, worst = 0;
  for (int round = 0; round < 60; round++) {
    size_t count = 1 + (size_t)(17 * number_uniform(&seed));
    uneven(&seed, mean, sd, count);
    if (round % 4 == 0)
      sd[0] = 0.003; /* far sharper than the rest */
    twin t = {count, mean, sd, 22, 0.05 + 0.3 * number_uniform(&seed), 0.5 + number_uniform(&seed)};
    gsl_function centre = {given_centre, &t}, least = {given_least, &t};
    double most = mean[0] - t.limit, least_end = mean[0] + t.limit; /* where point 0's edges are */
    double ends[] = {17, most - 0.02, most + 0.02, least_end - 0.02, least_end + 0.02, 27};
    gsl_integration_qagp(&centre, ends, 6, 1e-10, 1e-8, 1000, room, &result, &error);
    double p = tenter_shape_within(count, mean, sd, 22, t.centre_sd, t.limit);
    worst = fmax(worst, fabs(p - result));
    assert_close(p, result, 0, stated);
    t.limit *= 2;
    double places[] = {
        17, mean[0] - t.limit - 0.02, mean[0] - t.limit + 0.02, mean[0] - 0.02, mean[0] + 0.02, 27};
    gsl_integration_qagp(&least, places, 6, 1e-10, 1e-8, 1000, room, &result, &error);
    p = tenter_shape_range_within(count, mean, sd, t.limit);
    worst = fmax(worst, fabs(p - result));
    assert_close(p, result, 0, stated);
  }
  print_message("shape: worst error against quadrature %.1e\n", worst);
  gsl_integration_workspace_free(room);
}

static void test_monte_carlo(void **state) {
  (void)state;
  enum { DRAWS = 60000 };
  uint64_t seed = 22;
  double mean[POINTS], sd[POINTS], inside = 0, narrow = 0;
  uneven(&seed, mean, sd, POINTS);
  for (int k = 0; k < DRAWS; k++) {
    double centre = 22 + 0.3 * number_normal(&seed), low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < POINTS; i++) {
      double m = mean[i] + sd[i] * number_normal(&seed);
      low = fmin(low, m);
      high = fmax(high, m);
    }
    inside += high <= centre + 1.3 && low >= centre - 1.3;
    narrow += high - low <= 2;
  }
  double within = tenter_shape_within(POINTS, mean, sd, 22, 0.3, 1.3);
  double range = tenter_shape_range_within(POINTS, mean, sd, 2);
  print_message("shape: within %.3f, range %.3f\n", within, range);
  assert_true(within > 0.1 && within < 0.9 && range > 0.1 && range < 0.9);
  assert_share(inside, DRAWS, within);
  assert_share(narrow, DRAWS, range);
}

/* With 0.5 N/cm of noise, 18 % of perfectly even screens of nine points show one of the eight
 * beyond 1.5 of the centre: the differences have sd 0.5 sqrt 2 and share the centre's error. */
static void test_luck(void **state) {
  (void)state;
  double mean[8], sd[8];
  for (size_t i = 0; i < 8; i++) {
    mean[i] = 22;
    sd[i] = 0.5;
  }
  double beyond = 1 - tenter_shape_within(8, mean, sd, 22, 0.5, 1.5);
  print_message("even screens with a point beyond 1.5: %.1f %%\n", 100 * beyond);
  assert_close(beyond, 0.18, 0, 0.01);
}

static void test_exact_points(void **state) {
  (void)state;
  const double mean[] = {20.5, 22, 23.5}, none[] = {0, 0, 0}, one[] = {0.2, 0, 0};
  assert_close(tenter_shape_within(3, mean, none, 22, 0, 1.5), 1, 0, 0);
  assert_close(tenter_shape_within(3, mean, none, 22, 0, 1.49), 0, 0, 0);
  assert_close(tenter_shape_within(3, mean, none, 22, 0.1, 1.6),
               tenter_normal_between(0, 0.1, -0.1, 0.1), 0, stated);
  assert_close(tenter_shape_range_within(3, mean, none, 3), 1, 0, 0);
  assert_close(tenter_shape_range_within(3, mean, none, 2.99), 0, 0, 0);
  const double tenths[] = {0.1, 0.7}; /* half of 0.6 is less than 0.4 - 0.1, in binary */
  assert_close(tenter_shape_range_within(2, tenths, none, 0.7 - 0.1), 1, 0, 0);
  /* the two exact points fill the limit: the third must lie between them */
  const double filled[] = {22.2, 22, 23.5};
  assert_close(tenter_shape_range_within(3, filled, one, 1.5),
               tenter_normal_between(22.2, 0.2, 22, 23.5), 0, stated);
  assert_close(tenter_shape_range_within(3, mean, one, 3),
               tenter_normal_between(20.5, 0.2, 20.5, 25), 0, stated);
  assert_close(tenter_shape_range_within(3, mean, one, 1.4), 0, 0, 1e-9);
}

/* Same at any place, in any order and unit; never falls with the limit. */
static void test_invariance(void **state) {
  (void)state;
  uint64_t seed = 23;
  double mean[POINTS], sd[POINTS], other[POINTS], other_sd[POINTS];
  uneven(&seed, mean, sd, POINTS);
  for (size_t i = 0; i < POINTS; i++) {
    other[i] = 3 * mean[POINTS - 1 - i] - 11;
    other_sd[i] = 3 * sd[POINTS - 1 - i];
  }
  double before = 0, before_range = 0;
  for (double limit = 0; limit < 5; limit += 0.1) {
    double p = tenter_shape_within(POINTS, mean, sd, 22, 0.2, limit);
    double range = tenter_shape_range_within(POINTS, mean, sd, limit);
    assert_close(tenter_shape_within(POINTS, other, other_sd, 55, 0.6, 3 * limit), p, 0,
                 2 * stated);
    assert_close(tenter_shape_range_within(POINTS, other, other_sd, 3 * limit), range, 0,
                 2 * stated);
    assert_true(p >= before - stated && range >= before_range - stated);
    before = p;
    before_range = range;
  }
  assert_close(before, 1, 0, stated);
  assert_close(before_range, 1, 0, stated);
}

static void test_few(void **state) {
  (void)state;
  const double mean[] = {22, NAN}, sd[] = {0.5, 0.5}, wrong[] = {-1, 1};
  assert_close(tenter_shape_within(0, mean, sd, 22, 1, 1), 1, 0, 0);
  assert_close(tenter_shape_range_within(0, mean, sd, 1), 1, 0, 0);
  assert_close(tenter_shape_range_within(1, mean, sd, 0), 1, 0, 0);
  assert_close(tenter_shape_range_within(1, mean, sd, -1), 0, 0, 0);
  assert_close(tenter_shape_within(1, mean, sd, 22, 1, -1), 0, 0, 0);
  assert_true(isnan(tenter_shape_within(2, mean, sd, 22, 1, 1)));
  assert_true(isnan(tenter_shape_within(1, mean, sd, NAN, 1, 1)));
  assert_true(isnan(tenter_shape_within(1, mean, sd, 22, 1, NAN)));
  assert_true(isnan(tenter_shape_range_within(2, mean, sd, 1)));
  assert_true(isnan(tenter_shape_range_within(1, mean, wrong, 1)));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_sidak),        cmocka_unit_test(test_range_of_equals),
      cmocka_unit_test(test_two),          cmocka_unit_test(test_quadrature),
      cmocka_unit_test(test_monte_carlo),  cmocka_unit_test(test_luck),
      cmocka_unit_test(test_exact_points), cmocka_unit_test(test_invariance),
      cmocka_unit_test(test_few)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
