/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Run lengths of run rules: Champ and Woodall (1987, Technometrics 29:393) zero-shift values as
 * printed (from memory, all reproduced) and 8 sets at 15 shifts by another program's Markov chain
 * (tests/oracle/arl/run_rules.csv); trends and zigzags by counting permutations; everything at once
 * by simulation with the stream of rules.h; and what limits do that were estimated. */
#include "chart_rows.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "tenter/stats/arl.h"

static double arl_of(tenter_rules rules, double shift, double scale) {
  tenter_scheme scheme = {.kind = TENTER_SCHEME_RULES, .rules = rules};
  double arl;
  tenter_error error = {0};
  if (tenter_arl(&scheme, (tenter_process){shift, scale}, &arl, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  return arl;
}

/* The set that the file writes as digits: 1 beyond 3, 2 two of three, 3 four of five, 4 a run. */
static tenter_rules set_of(const char *digits, double run) {
  tenter_rules rules = 0;
  for (; *digits; digits++)
    rules |= *digits == '1'   ? TENTER_RULE_BEYOND
             : *digits == '2' ? TENTER_RULE_TWO_OF_THREE
             : *digits == '3' ? TENTER_RULE_FOUR_OF_FIVE
             : run < 8.5      ? TENTER_RULE_EIGHT_ONE_SIDE
                              : TENTER_RULE_NINE_ONE_SIDE;
  return rules;
}

static void agrees_with_champ_and_woodall(void **state) {
  (void)state;
  rows r;
  size_t checked = 0, printed = 0;
  for (rows_open(&r, "arl/run_rules.csv"); rows_next(&r); checked++) {
    double arl = arl_of(set_of(r.field[0], rows_number(&r, 1)), rows_number(&r, 2), 1);
    assert_close(arl, rows_number(&r, 3), 0, 6e-7); /* 6 decimals */
    if (r.fields > 4 && r.field[4][0]) {
      assert_close(arl, rows_number(&r, 4), 0, 0.00501);
      printed++;
    }
  }
  assert_int_equal(checked, 128);
  assert_int_equal(printed, 8);
}

/* ---- permutations ---- */

enum { MOST = 9 };

typedef struct counting {
  double order[MOST], met[MOST]; /* met[i]: permutations of MOST first met at point i */
  double all;
} counting;

/* The points of a continuous law stand in every order alike: count first signals over all orders.
 */
static void permute(counting *c, tenter_rules rules, size_t length) {
  if (length == MOST) {
    tenter_rules_stream stream;
    tenter_rules_start(&stream, rules, false);
    c->all++;
    for (size_t i = 0; i < MOST; i++)
      if (tenter_rules_step(&stream, c->order[i])) {
        c->met[i]++;
        return;
      }
    return;
  }
  for (size_t k = length; k < MOST; k++) {
    double t = c->order[length];
    c->order[length] = c->order[k];
    c->order[k] = t;
    permute(c, rules, length + 1);
    c->order[k] = c->order[length];
    c->order[length] = t;
  }
}

static void trends_by_counting_permutations(void **state) {
  (void)state;
  counting c = {0};
  for (size_t i = 0; i < MOST; i++)
    c.order[i] = (double)i;
  permute(&c, TENTER_RULE_SIX_TREND, 0);
  assert_close(c.all, 362880, 0, 0);
  static const double shift[] = {0, 1.3};
  for (int k = 0; k < 2; k++) { /* order does not feel a shift */
    tenter_scheme s = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_SIX_TREND};
    double alive[MOST + 1], left = 1;
    assert_int_equal(tenter_arl_alive(&s, (tenter_process){shift[k], 1}, MOST + 1, alive, NULL),
                     TENTER_OK);
    for (size_t i = 0; i <= MOST; i++) {
      assert_close(alive[i], left, 1e-12, 0);
      left -= i < MOST ? c.met[i] / c.all : 0;
    }
  }
}

/* 14 numbers stand in a zigzag in 2 * 199360981 of 14! orders (Euler's zigzag numbers, OEIS
 * A000111: 1, 1, 1, 2, 5, 16, 61, 272, 1385, 7936, 50521, 353792, 2702765, 22368256, 199360981). */
static void zigzags_by_euler_numbers(void **state) {
  (void)state;
  tenter_scheme s = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_FOURTEEN_ZIGZAG};
  double alive[16], shifted[16];
  assert_int_equal(tenter_arl_alive(&s, (tenter_process){0, 1}, 16, alive, NULL), TENTER_OK);
  assert_close(alive[13], 1, 1e-15, 0);
  assert_close(1 - alive[14], 2 * 199360981.0 / 87178291200.0, 1e-10, 0);
  assert_int_equal(tenter_arl_alive(&s, (tenter_process){2, 0.5}, 16, shifted, NULL), TENTER_OK);
  assert_close(shifted[15], alive[15], 1e-10, 0);
}

/* ---- closed forms ---- */

/* Mean wait for a run of r successes of chance p: (1 - p^r) / (p^r (1 - p)) (Feller, vol. 1,
 * XIII.7). Calm: p = P(|z| < 1); avoiding the centre: 1 - p; one side: r - 1 coins that repeat. */
static void runs_in_closed_form(void **state) {
  (void)state;
  double p = erf(M_SQRT1_2), q = 1 - p;
  assert_close(arl_of(TENTER_RULE_FIFTEEN_CALM, 0, 1), (1 - pow(p, 15)) / (pow(p, 15) * q), 1e-9,
               0);
  assert_close(arl_of(TENTER_RULE_EIGHT_AVOID_CENTRE, 0, 1), (1 - pow(q, 8)) / (pow(q, 8) * p),
               1e-9, 0);
  assert_close(arl_of(TENTER_RULE_EIGHT_ONE_SIDE, 0, 1), 255, 1e-9, 0); /* 2^8 - 1 */
  assert_close(arl_of(TENTER_RULE_NINE_ONE_SIDE, 0, 3), 511, 1e-9, 0);
}

/* More rules can only signal sooner; a mirrored shift the same; a larger one sooner. */
static void order_of_sets(void **state) {
  (void)state;
  tenter_rules rules = 0;
  double before = INFINITY;
  for (size_t k = 0; k < TENTER_RULE_COUNT; k++) {
    rules |= tenter_rule_at(k)->bit;
    double arl = arl_of(rules, 0.3, 1);
    assert_true(arl <= before * (1 + 1e-12));
    assert_close(arl_of(rules, -0.3, 1), arl, 1e-9, 0);
    before = arl;
  }
  assert_true(arl_of(TENTER_RULES_NELSON, 1, 1) < arl_of(TENTER_RULES_NELSON, 0.5, 1));
}

/* ---- simulation, as a check only ---- */

static gsl_rng *seeded(unsigned long seed) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, seed);
  return rng;
}

static size_t run(gsl_rng *rng, tenter_rules_stream *stream, double shift, double scale) {
  for (size_t i = 1;; i++)
    if (tenter_rules_step(stream, shift + gsl_ran_gaussian_ziggurat(rng, scale)))
      return i;
}

/* All rules together, alone and in two sets; 20000 runs each: standard error 0.7 %. */
static void agrees_with_simulation(void **state) {
  (void)state;
  enum { RUNS = 20000 };
  static const tenter_rules sets[] = {TENTER_RULES_NELSON, TENTER_RULES_ALL,
                                      TENTER_RULE_SIX_TREND | TENTER_RULE_EIGHT_ONE_SIDE,
                                      TENTER_RULE_FOURTEEN_ZIGZAG | TENTER_RULE_FIFTEEN_CALM};
  static const double shift[] = {0, 0.5, 0, 0.2}, scale[] = {1, 1.2, 1, 0.9};
  gsl_rng *rng = seeded(60);
  for (int k = 0; k < 4; k++) {
    double mean = 0;
    tenter_rules_stream stream;
    tenter_rules_start(&stream, sets[k], true);
    for (int i = 0; i < RUNS; i++)
      mean += (double)run(rng, &stream, shift[k], scale[k]) / RUNS;
    assert_close(mean, arl_of(sets[k], shift[k], scale[k]), 0.03, 0);
  }
  gsl_rng_free(rng);
}

/* A shift of 1 after a long quiet time (no signal in 60 points), Western Electric rules. */
static void steady_state_agrees_with_simulation(void **state) {
  (void)state;
  enum { RUNS = 20000, QUIET = 60 };
  gsl_rng *rng = seeded(61);
  double mean = 0, steady;
  tenter_rules_stream stream;
  for (int i = 0; i < RUNS; i++) {
    for (int quiet = 0; quiet < QUIET; quiet++) {
      if (quiet == 0)
        tenter_rules_start(&stream, TENTER_RULES_WESTERN_ELECTRIC, true);
      if (tenter_rules_step(&stream, gsl_ran_gaussian_ziggurat(rng, 1)))
        quiet = -1;
    }
    mean += (double)run(rng, &stream, 1, 1) / RUNS;
  }
  gsl_rng_free(rng);
  tenter_scheme s = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_WESTERN_ELECTRIC};
  assert_int_equal(tenter_arl_steady(&s, (tenter_process){1, 1}, &steady, NULL), TENTER_OK);
  assert_close(mean, steady, 0.03, 0);
  assert_true(steady < 0.99 * arl_of(s.rules, 1, 1));
}

/* ---- estimated limits ---- */

static const double nominal = 0.0026997960632601866; /* 2 (1 - Phi(3)) */

static double rate_of(const tenter_scheme *s, const tenter_estimated *e) {
  double rate;
  tenter_error error = {0};
  if (tenter_arl_rate(s, (tenter_process){0, 1}, e, &rate, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  return rate;
}

/* One point outside: plain limits by the t distribution, widened ones at the nominal rate. */
static void rates_of_the_plain_chart_are_known(void **state) {
  (void)state;
  tenter_scheme s = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_BEYOND};
  static const tenter_control_worth worth[] = {{8, 1}, {30, 1}, {12.7, 1.58}, {200, 1}};
  for (int k = 0; k < 4; k++) {
    tenter_control_limits l = {.kind = TENTER_CONTROL_INDIVIDUALS,
                               .state = TENTER_CONTROL_READY,
                               .width = 3,
                               .sigma = 1,
                               .worth = worth[k],
                               .centre_weight = worth[k].freedom};
    tenter_estimated e = tenter_estimated_of(&l, 1, TENTER_CONTROL_PAST);
    assert_close(rate_of(&s, &e), tenter_control_false_alarms(&l, 1).plain, 2e-3, 0);
    e.when = TENTER_CONTROL_NEXT;
    assert_close(rate_of(&s, &e), nominal, 1e-3, 0);
  }
  tenter_estimated known = {.known = true};
  assert_close(rate_of(&s, &known), nominal, 1e-9, 0);
}

/* What a shop sees: pasts of 20 subgroups of 4, then the chart runs on and begins anew after each
 * signal. 3000 pasts of 500 points; rules and EWMA on standardised points, plain and widened. */
static void rates_agree_with_simulated_pasts(void **state) {
  (void)state;
  enum { PASTS = 3000, POINTS = 500, COUNT = 20, SIZE = 4 };
  tenter_scheme rules = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULES_WESTERN_ELECTRIC};
  tenter_scheme ewma = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2, .width = 3, .exact = true};
  gsl_rng *rng = seeded(62);
  for (int when = TENTER_CONTROL_PAST; when <= TENTER_CONTROL_NEXT; when++) {
    double signals[2] = {0, 0}, share = 1.0 / PASTS / POINTS;
    tenter_control_limits l;
    for (int i = 0; i < PASTS; i++) {
      tenter_subgroup s[COUNT];
      for (int g = 0; g < COUNT; g++) {
        double x[SIZE];
        for (int k = 0; k < SIZE; k++)
          x[k] = gsl_ran_gaussian_ziggurat(rng, 1);
        s[g] = tenter_subgroup_of(x, SIZE);
      }
      tenter_control_options o =
          TENTER_CONTROL_DEFAULTS(TENTER_CONTROL_AVERAGES, TENTER_SPREAD_POOLED);
      o.robust = TENTER_ROBUST_NEVER;
      assert_int_equal(tenter_control_estimate(s, COUNT, &o, &l, NULL), TENTER_OK);
      tenter_rules_stream stream;
      tenter_ewma chart;
      tenter_rules_start(&stream, rules.rules, true);
      tenter_ewma_start(&chart, ewma.lambda, ewma.width);
      for (int k = 0; k < POINTS; k++) {
        double x = gsl_ran_gaussian_ziggurat(rng, 1 / sqrt(SIZE));
        double z = tenter_control_z(&l, SIZE, x, (tenter_control_when)when);
        signals[0] += tenter_rules_step(&stream, z) ? share : 0;
        if (tenter_ewma_step(&chart, z).signal) {
          signals[1] += share;
          tenter_ewma_start(&chart, ewma.lambda, ewma.width);
        }
      }
    }
    tenter_estimated e = tenter_estimated_of(&l, SIZE, (tenter_control_when)when);
    assert_close(signals[0], rate_of(&rules, &e), 0.03, 0); /* standard errors 0.8 %, */
    assert_close(signals[1], rate_of(&ewma, &e), 0.08, 0);  /* 3 % */
    assert_true(rate_of(&rules, &e) > 1 / 91.75);           /* more than with known limits */
  }
  gsl_rng_free(rng);
}

/* A design for estimated limits gives back the rate it was asked for, with a wider chart. */
static void designs_for_estimated_limits(void **state) {
  (void)state;
  tenter_estimated e = {false, 0.05, {30, 1}, TENTER_CONTROL_PAST};
  tenter_scheme s = {.kind = TENTER_SCHEME_EWMA, .lambda = 0.2}, known = s;
  assert_int_equal(tenter_scheme_design(&s, &e, 400, NULL), TENTER_OK);
  assert_close(rate_of(&s, &e), 1.0 / 400, 2e-4, 0);
  assert_int_equal(tenter_scheme_design(&known, NULL, 400, NULL), TENTER_OK);
  assert_true(s.width > known.width + 0.2);
}

static void rates_of_nothing_are_refused(void **state) {
  (void)state;
  tenter_scheme s = {.kind = TENTER_SCHEME_RULES, .rules = TENTER_RULE_BEYOND};
  const tenter_estimated wrong[] = {{false, 0.1, {NAN, 1}, TENTER_CONTROL_PAST},
                                    {false, -1, {5, 1}, TENTER_CONTROL_PAST},
                                    {false, 0.1, {0, 1}, TENTER_CONTROL_PAST},
                                    {false, INFINITY, {5, 1}, TENTER_CONTROL_PAST},
                                    {false, 0.1, {5, NAN}, TENTER_CONTROL_NEXT}};
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    double rate;
    assert_int_equal(tenter_arl_rate(&s, (tenter_process){0, 1}, &wrong[i], &rate, NULL),
                     TENTER_USAGE);
  }
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(agrees_with_champ_and_woodall),
      cmocka_unit_test(trends_by_counting_permutations),
      cmocka_unit_test(zigzags_by_euler_numbers),
      cmocka_unit_test(runs_in_closed_form),
      cmocka_unit_test(order_of_sets),
      cmocka_unit_test(agrees_with_simulation),
      cmocka_unit_test(steady_state_agrees_with_simulation),
      cmocka_unit_test(rates_of_the_plain_chart_are_known),
      cmocka_unit_test(rates_agree_with_simulated_pasts),
      cmocka_unit_test(designs_for_estimated_limits),
      cmocka_unit_test(rates_of_nothing_are_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
