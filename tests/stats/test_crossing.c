/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Crossing of a floor: the closed form for one line worked by hand, Monte Carlo with a fixed seed,
 * quadrature over the loss, and what must hold of any forecast. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>

#include "numbers.h"
#include "tenter/stats/crossing.h"
#include "tenter/stats/normal.h"

static const tenter_crossing_line usual = {1, 720, 23, 1.2, 0.25, 0.04, 0.03, {0, 0}};

/* By hand: age 240 h is u = 1, 2400 h is u = 2. L(1) = 23 - 1 = 22 with variance 0.16 - 2 * 0 +
 * 0.09 = 0.25; L(2) = 21 with 0.16 + 4 * 0.09 = 0.52; cov(L(1), L(2)) = 0.16 + 1 * 2 * 0.09 = 0.34.
 * With the floor at 21.5: h = -1, k = 0.5 / sqrt(0.52), rho = 0.34 / sqrt(0.25 * 0.52). */
static void test_by_hand(void **state) {
  (void)state;
  tenter_crossing_line l = {1, 240, 23, 1, 0.16, 0.09, 0, {0, 0}};
  double k = 0.5 / sqrt(0.52), rho = 0.34 / sqrt(0.25 * 0.52);
  double p = 1 - tenter_normal_both_above(-1, k, rho);
  assert_close(tenter_crossing_probability(&l, 1, 21.5, 2160), p, 1e-13, 0);
  assert_close(tenter_crossing_probability(&l, 1, 21.5, 0), 0.158655253931457, 1e-13, 0);
  /* a sure loss, an unsure level: P = P(level < floor + u), so at p = 1/2 u = 1.5 */
  tenter_crossing_line sure = {1, 240, 23, 1, 0.16, 0, 0, {0, 0}};
  assert_close(tenter_crossing_time(&sure, 1, 21.5, 0.5, 1e6, NULL), 24 * pow(10, 1.5) - 240, 1e-8,
               0);
  /* and at p = 0.95: 23 - u + 1.644853627 * 0.4 = 21.5; at p = 0.05 u would be below 1: now */
  assert_close(tenter_crossing_time(&sure, 1, 21.5, 0.95, 1e6, NULL),
               24 * pow(10, 1.5 + 0.4 * 1.6448536269514722) - 240, 1e-8, 0);
  assert_close(tenter_crossing_time(&sure, 1, 21.5, 0.05, 1e6, NULL), 0, 0, 0);
}

/* P given the loss b: L(now) and L(then) are one level apart by b (u1 - u0), so P(below at either)
 * = P(level given b < floor + max(b u0, b u1)). */
typedef struct given {
  const tenter_crossing_line *l;
  double floor, u0, u1;
} given;

static double given_loss(double z, void *params) {
  const given *g = params;
  const tenter_crossing_line *l = g->l;
  double sd = sqrt(l->var_loss), b = l->loss + sd * z;
  double mean = l->level + l->cov / sd * z,
         rest = sqrt(l->var_level - l->cov * l->cov / l->var_loss);
  return tenter_normal_density(z) *
         tenter_normal_below((g->floor + fmax(b * g->u0, b * g->u1) - mean) / rest);
}

static tenter_crossing_line random_line(uint64_t *seed) {
  tenter_crossing_line l = {1,
                            30 * pow(10, 2 * number_uniform(seed)),
                            22 + 2 * number_uniform(seed),
                            0.3 + number_uniform(seed),
                            0,
                            0,
                            0,
                            {0, 0}};
  l.var_level = pow(0.1 + 0.6 * number_uniform(seed), 2);
  l.var_loss = pow(0.05 + 0.5 * number_uniform(seed), 2);
  l.cov = (1.9 * number_uniform(seed) - 0.95) * sqrt(l.var_level * l.var_loss);
  return l;
}

static void test_quadrature(void **state) {
  (void)state;
  gsl_set_error_handler_off();
  gsl_integration_workspace *room = gsl_integration_workspace_alloc(2000);
  uint64_t seed = 11;
  for (int round = 0; round < 300; round++) {
    tenter_crossing_line l = random_line(&seed);
    double hours = round % 3 ? 1000 * number_uniform(&seed) : 0.01, result, error;
    given g = {&l, 20 + 2 * number_uniform(&seed), log10(l.age_hours / 24),
               log10((l.age_hours + hours) / 24)};
    double kink = -l.loss / sqrt(l.var_loss), ends[] = {-9, fmax(-8.9, kink), 9};
    gsl_function f = {given_loss, &g};
    gsl_integration_qagp(&f, ends, 3, 1e-14, 1e-12, 2000, room, &result, &error);
    assert_close(tenter_crossing_probability(&l, 1, g.floor, hours), result, 0, 1e-12);
  }
  gsl_integration_workspace_free(room);
}

/* Lines drawn; how many are below the floor now or then. */
static void test_monte_carlo(void **state) {
  (void)state;
  uint64_t seed = 12;
  enum { DRAWS = 200000 };
  tenter_crossing_line lines[2] = {usual, {0.3, 100, 22.2, 0.7, 0.3, 0.2, -0.1, {0, 0}}};
  lines[0].weight = 0.7;
  double hits = 0;
  for (int i = 0; i < DRAWS; i++) {
    const tenter_crossing_line *l = &lines[number_uniform(&seed) > 0.7];
    double a = number_normal(&seed), c = number_normal(&seed), with = l->cov / sqrt(l->var_level);
    double level = l->level + sqrt(l->var_level) * a;
    double loss = l->loss + with * a + sqrt(l->var_loss - with * with) * c;
    double now = level - loss * log10(l->age_hours / 24);
    double then = level - loss * log10((l->age_hours + 500) / 24);
    hits += now < 21.3 || then < 21.3;
  }
  assert_share(hits, DRAWS, tenter_crossing_probability(lines, 2, 21.3, 500));
}

static void test_never_falls(void **state) {
  (void)state;
  uint64_t seed = 13;
  for (int round = 0; round < 400; round++) {
    tenter_crossing_line lines[3];
    for (int k = 0; k < 3; k++) {
      lines[k] = random_line(&seed);
      lines[k].weight = 1 / 3.0;
      if (round % 4 == 0)
        lines[k].loss = -0.2; /* rises, more likely than not */
      if (round % 5 == 0)
        lines[k].cov = sqrt(lines[k].var_level * lines[k].var_loss);
    }
    double floor = 20 + 3 * number_uniform(&seed), before = -1;
    for (double hours = 0; hours < 1e7; hours = hours * 1.4 + 1e-3) {
      double p = tenter_crossing_probability(lines, 3, floor, hours);
      assert_true(p >= before - 1e-13 && p <= 1);
      before = p;
    }
  }
}

/* A loss of nil, known exactly: nothing ever crosses that is not below now. */
static void test_no_loss(void **state) {
  (void)state;
  tenter_crossing_line l = {1, 100, 22, 0, 0.25, 0, 0, {0, 0}};
  double now = tenter_normal_below((21 - 22) / 0.5);
  assert_close(tenter_crossing_probability(&l, 1, 21, 0), now, 1e-14, 0);
  assert_close(tenter_crossing_probability(&l, 1, 21, 1e6), now, 1e-12, 0);
  assert_close(tenter_crossing_time(&l, 1, 21, 0.5, 87600, NULL), INFINITY, 0, 0);
  assert_close(tenter_crossing_time(&l, 1, 21, 0.01, 87600, NULL), 0, 0, 0);
  tenter_crossing_line exact = {1, 100, 22, 0, 0, 0, 0, {0, 0}};
  assert_close(tenter_crossing_probability(&exact, 1, 21, 1e6), 0, 0, 0);
  assert_close(tenter_crossing_probability(&exact, 1, 22.5, 0), 1, 0, 0);
  assert_close(tenter_crossing_time(&exact, 1, 21, 0.5, 87600, NULL), INFINITY, 0, 0);
}

/* A line known exactly steps from 0 to 1 where it meets the floor. */
static void test_exact_line(void **state) {
  (void)state;
  tenter_crossing_line l = {1, 240, 23, 1, 0, 0, 0, {0, 0}};
  double meets = 24 * pow(10, 1.5) - 240;
  assert_close(tenter_crossing_probability(&l, 1, 21.5, meets * 0.999), 0, 0, 0);
  assert_close(tenter_crossing_probability(&l, 1, 21.5, meets * 1.001), 1, 0, 0);
  assert_close(tenter_crossing_time(&l, 1, 21.5, 0.05, 1e5, NULL), meets, 1e-9, 0);
  tenter_crossing_line two[2] = {l, l};
  two[0].weight = two[1].weight = 0.5;
  two[1].level = 24;
  assert_close(tenter_crossing_time(two, 2, 21.5, 0.3, 1e5, NULL), meets, 1e-9, 0);
  assert_close(tenter_crossing_time(two, 2, 21.5, 0.7, 1e5, NULL), 24 * pow(10, 2.5) - 240, 1e-9,
               0);
}

/* P at the time found is p; times rise with p; the search is short. */
static void test_times(void **state) {
  (void)state;
  uint64_t seed = 14;
  size_t evaluations = 0, most = 0, searched = 0, never = 0;
  for (int round = 0; round < 3000; round++) {
    tenter_crossing_line lines[9];
    size_t count = round % 3 == 0 ? 1 : 9;
    lines[0] = random_line(&seed);
    for (size_t k = 0; k < count; k++) {
      lines[k] = lines[0];
      lines[k].weight = 1.0 / (double)count;
      lines[k].level += 0.1 * number_normal(&seed);
      lines[k].loss += 0.1 * number_normal(&seed);
      if (round % 6 == 0) /* a loss hardly known */
        lines[k].var_loss = 1;
      if (round % 3 == 2) /* an age not known: days to months */
        lines[k].age_hours = 24 * pow(2, (double)k);
    }
    double floor = 19.5 + 2 * number_uniform(&seed), before = 0;
    const double chances[] = {0.05, 0.5, 0.95};
    for (size_t i = 0; i < 3; i++) {
      size_t used = 0;
      double hours = tenter_crossing_time(lines, count, floor, chances[i], 87600, &used);
      assert_true(hours >= before);
      before = hours;
      if (hours > 0 && isfinite(hours)) {
        assert_close(tenter_crossing_probability(lines, count, floor, hours), chances[i], 0,
                     1.1e-9);
        evaluations += used;
        searched++;
        most = used > most ? used : most;
      } else if (hours == 0) {
        assert_true(tenter_crossing_probability(lines, count, floor, 0) >= chances[i]);
      } else {
        assert_true(tenter_crossing_probability(lines, count, floor, 87600) < chances[i]);
        never++;
      }
    }
  }
  print_message("crossing times: %.1f evaluations, at most %zu, in %zu searches; %zu never cross\n",
                (double)evaluations / (double)searched, most, searched, never);
  assert_true(searched > 2000 && never > 500);
  assert_true((double)evaluations / (double)searched < 4.5);
}

static void test_unknown(void **state) {
  (void)state;
  tenter_crossing_line l[2] = {usual, usual};
  l[0].weight = 1;
  l[1].weight = 0;
  l[1].level = NAN; /* of no weight: passed over */
  assert_close(tenter_crossing_probability(l, 2, 21, 100),
               tenter_crossing_probability(&usual, 1, 21, 100), 1e-15, 0);
  l[0].loss = NAN;
  l[1] = usual;
  assert_true(isnan(tenter_crossing_probability(l, 2, 21, 100)));
  assert_true(isnan(tenter_crossing_time(l, 2, 21, 0.5, 100, NULL)));
  assert_true(isnan(tenter_crossing_time(&usual, 1, NAN, 0.5, 100, NULL)));
  assert_true(isnan(tenter_crossing_time(&usual, 1, 21, 1, 100, NULL)));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_by_hand),     cmocka_unit_test(test_quadrature),
      cmocka_unit_test(test_monte_carlo), cmocka_unit_test(test_never_falls),
      cmocka_unit_test(test_no_loss),     cmocka_unit_test(test_exact_line),
      cmocka_unit_test(test_times),       cmocka_unit_test(test_unknown)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
