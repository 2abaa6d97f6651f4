/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Clocks: each limit against its closed form (the laws' definitions), the inverse and the rate by
 * differences; the weighing of clocks against likelihoods whose integral can be done by hand;
 * crossings on clocks by hand. */
#include "numbers.h"
#include "tenter/stats/clock.h"
#include "tenter/stats/crossing.h"

static const double hours[] = {1, 10, 24, 50, 240, 1000, 5000, 50000};
enum { HOURS = sizeof hours / sizeof *hours };

static double clock_at(tenter_clock clock, double t) {
  return tenter_clock_u(clock, log10(t / 24));
}

typedef double law_at(double t);
static double log_law(double t) {
  return log10(t);
}
static double to_a_level(double t) {
  return -pow(t, -0.3);
}
static double solid(double t) {
  return -exp(-t / 150);
}
static double stretched(double t) {
  return -exp(-pow(t / 90, 0.4));
}

/* u is the law, brought to 0 at 24 h and 1 at 240 h. ease = growth (24 / tau)^growth. */
static void test_laws(void **state) {
  (void)state;
  const struct {
    tenter_clock clock;
    law_at *law;
  } laws[] = {{{0, 0}, log_law},
              {{0, 0.3}, to_a_level},
              {{1, 24.0 / 150}, solid},
              {{0.4, 0.4 * pow(24.0 / 90, 0.4)}, stretched}};
  for (size_t l = 0; l < 4; l++)
    for (size_t i = 0; i < HOURS; i++) {
      law_at *law = laws[l].law;
      double u = (law(hours[i]) - law(24)) / (law(240) - law(24));
      assert_close(clock_at(laws[l].clock, hours[i]), u, 1e-12, 1e-14);
    }
  assert_close(tenter_clock_tau_hours(laws[3].clock), 90, 1e-12, 0);
  /* near a limit it is the limit */
  for (size_t i = 0; i < HOURS; i++) {
    assert_close(clock_at((tenter_clock){1e-9, 1e-9}, hours[i]), log10(hours[i] / 24), 1e-7, 0);
    assert_close(clock_at((tenter_clock){1e-9, 0.3}, hours[i]),
                 clock_at((tenter_clock){0, 0.3}, hours[i]), 1e-7, 0);
  }
}

static void test_inverse_and_rate(void **state) {
  (void)state;
  const tenter_clock clocks[] = {{0, 0}, {0, 0.4}, {0.5, 0.3}, {1, 0.2}, {0.7, 0}};
  for (size_t c = 0; c < 5; c++)
    for (double v = -1.5; v <= 1.8; v += 0.3) {
      double u = tenter_clock_u(clocks[c], v), h = 1e-5;
      assert_close(tenter_clock_decades(clocks[c], u), v, 1e-9, 1e-9);
      double rate = (tenter_clock_u(clocks[c], v + h) - tenter_clock_u(clocks[c], v - h)) / (2 * h);
      assert_close(tenter_clock_rate(clocks[c], v), rate, 1e-6, 1e-9);
      assert_true(u < tenter_clock_end(clocks[c]));
    }
  /* a power t^-ease to a level: u ends at 1 / (1 - 10^-ease) */
  assert_close(tenter_clock_end(clocks[1]), 1 / (1 - pow(10, -0.4)), 1e-12, 0);
  assert_true(isinf(tenter_clock_decades(clocks[1], 1 / (1 - pow(10, -0.4)) + 1e-6)));
  assert_true(isinf(tenter_clock_end(clocks[0])));
}

/* ---- which clock ---------------------------------------------------------------------------- */

typedef struct known {
  double log_value;       /* of the log clock */
  double growth, top, sd; /* a normal in the root of ease at the centre, for this growth alone */
  tenter_clock_span span;
  size_t looks;
} known;

static void flat(void *context, size_t count, const tenter_clock *clock, double *loglik) {
  (void)clock;
  ((known *)context)->looks += count;
  for (size_t i = 0; i < count; i++)
    loglik[i] = -1000;
}

static void peak(void *context, size_t count, const tenter_clock *clock, double *loglik) {
  known *k = context;
  k->looks += count;
  for (size_t i = 0; i < count; i++) {
    double root = sqrt(clock[i].ease * exp(clock[i].growth * k->span.centre * log(10)));
    double z = (root - k->top) / k->sd;
    loglik[i] = clock[i].growth == k->growth ? -1000 - z * z / 2 : -1100;
    if (tenter_clock_is_log(clock[i]))
      loglik[i] = k->log_value;
  }
}

static void none(void *context, size_t count, const tenter_clock *clock, double *loglik) {
  (void)context;
  (void)clock;
  for (size_t i = 0; i < count; i++)
    loglik[i] = NAN;
}

static double total_of(const tenter_clocks *c) {
  double total = 0;
  for (size_t i = 0; i < c->count; i++)
    total += c->weight[i];
  return total;
}

/* A flat likelihood gains nothing: the log clock has 1 / (1 + e^-1) = 0.731059. The others are
 * spread evenly over what is allowed: with the centre at the oldest age growth g leaves out roots
 * below sqrt(g), so that the growths 0, 0.2 ... 1 keep 2, 1.552786, 1.367544, 1.225403, 1.105573, 1
 * of the root's length, and the mean growth is 3.477275 / 8.251306 = 0.421421. */
static void test_flat(void **state) {
  (void)state;
  known k = {0};
  tenter_clocks c;
  double growth = 0;
  tenter_clocks_find((tenter_clock_span){1, 1}, flat, &k, &c);
  assert_true(tenter_clock_is_log(c.clock[0]));
  assert_close(c.weight[0], 0.731059, 1e-5, 0);
  assert_close(total_of(&c), 1, 1e-12, 0);
  assert_true(c.count <= TENTER_CLOCKS && c.count > 3);
  for (size_t i = 1; i < c.count; i++)
    growth += c.weight[i] / (1 - c.weight[0]) * c.clock[i].growth;
  assert_close(growth, 0.421421, 1e-5, 0);
  assert_close(c.gain, 0, 0, 0);
  assert_true(tenter_clock_is_log(c.best));
}

/* A gain of 3 (less what the points miss of the top): 1 / (1 + e^(3 - 1)) = 0.119203. Among the
 * others the points keep the normal's mean and spread. */
static void test_peak(void **state) {
  (void)state;
  known k = {.log_value = -1003, .growth = 0.6, .top = 1.1, .sd = 0.05, .span = {1.2, 1.6}};
  tenter_clocks c;
  tenter_clocks_find(k.span, peak, &k, &c);
  assert_close(c.gain, 3, 0, 0.3);
  assert_close(c.weight[0], 1 / (1 + exp(c.gain - 1)), 1e-4, 0);
  assert_true(c.best.growth == 0.6 && k.looks < 120);
  double mean = 0, square = 0, rest = 1 - c.weight[0];
  for (size_t i = 1; i < c.count; i++) {
    double root = sqrt(c.clock[i].ease * exp(c.clock[i].growth * 1.2 * log(10)));
    assert_close(c.clock[i].growth, 0.6, 0, 0);
    mean += c.weight[i] * root / rest;
    square += c.weight[i] * root * root / rest;
  }
  assert_close(mean, 1.1, 0, 0.01);
  assert_close(sqrt(square - mean * mean), 0.05, 0.3, 0);
  k.log_value = -1040; /* beyond doubt: no log clock is left */
  tenter_clocks_find(k.span, peak, &k, &c);
  assert_false(tenter_clock_is_log(c.clock[0]));
  assert_close(total_of(&c), 1, 1e-12, 0);
}

static void test_nothing_fits(void **state) {
  (void)state;
  tenter_clocks c;
  tenter_clocks_find((tenter_clock_span){1, 2}, none, NULL, &c);
  assert_int_equal(c.count, 1);
  assert_true(tenter_clock_is_log(c.clock[0]) && c.weight[0] == 1);
}

/* ---- crossings ------------------------------------------------------------------------------ */

/* A solid, tau = 150 h: T = level - loss u falls by loss (1 - e^(-(t - 24) / 150)) / 0.763072 from
 * 24 h on (0.763072 = 1 - e^(-216 / 150)). Level 25, loss 2: the floor 23.5 is reached at 1 -
 * e^(-(t - 24) / 150) = 0.75 * 0.763072, t = 24 - 150 ln(0.4276958) = 151.4015; 22.3 lies below the
 * end, 25 - 2 / 0.763072 = 22.379. */
static void test_levelling_line(void **state) {
  (void)state;
  tenter_crossing_line l = {.weight = 1,
                            .age_hours = 100,
                            .level = 25,
                            .loss = 2,
                            .var_level = 0.04,
                            .clock = {1, 24.0 / 150}};
  assert_close(tenter_crossing_time(&l, 1, 23.5, 0.5, 1e5, NULL), 51.4015, 2e-6, 0);
  assert_true(isinf(tenter_crossing_time(&l, 1, 22.3, 0.5, 1e5, NULL)));
  /* and with the level unsure by 0.2, at p = 0.05: level 25 - 1.644854 * 0.2 = 24.671029, u =
   * 0.585515, 1 - 0.585515 * 0.763072 = 0.553210, t = 24 - 150 ln(0.553210) = 112.803 */
  assert_close(tenter_crossing_time(&l, 1, 23.5, 0.05, 1e5, NULL), 12.803, 1e-3, 0);
}

/* P(t) of a mixture on several clocks never falls, and is the weighted mean of its lines'. */
static void test_mixture(void **state) {
  (void)state;
  tenter_crossing_line l[3] = {
      {0.5, 300, 24, 1.2, 0.1, 0.04, 0.01, {0, 0}},
      {0.3, 300, 24, 1.4, 0.1, 0.05, 0.01, {0.5, 0.3}},
      {0.2, 300, 24, 1.3, 0.2, 0.04, -0.01, {1, 0.1}},
  };
  double before = 0;
  for (double t = 0; t < 80000; t = 1.5 * t + 5) {
    double p = tenter_crossing_probability(l, 3, 22, t), sum = 0;
    for (size_t i = 0; i < 3; i++) {
      tenter_crossing_line one = l[i];
      one.weight = 1;
      sum += l[i].weight * tenter_crossing_probability(&one, 1, 22, t);
    }
    assert_close(p, sum, 1e-12, 0);
    assert_true(p >= before - 1e-13);
    before = p;
  }
  double t = tenter_crossing_time(l, 3, 22, 0.5, 87660, NULL);
  assert_close(tenter_crossing_probability(l, 3, 22, t), 0.5, 0, 1e-8);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_laws),         cmocka_unit_test(test_inverse_and_rate),
      cmocka_unit_test(test_flat),         cmocka_unit_test(test_peak),
      cmocka_unit_test(test_nothing_fits), cmocka_unit_test(test_levelling_line),
      cmocka_unit_test(test_mixture),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
