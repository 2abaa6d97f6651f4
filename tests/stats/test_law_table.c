/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The laws themselves: values and derivatives against the formulas of the header written once more
 * in complex numbers (complex-step derivatives, exact to rounding), and against central
 * differences. */
#include <complex.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/stats/laws.h"

typedef double complex value;

static value power(value base, value exponent) {
  return cexp(exponent * clog(base));
}

static value twin(tenter_law law, const value *p, double t) {
  switch (law) {
  case TENTER_LAW_LOG:
    return p[0] - p[1] * log10(t / 24);
  case TENTER_LAW_POWER:
    return p[0] * power(t / 24, -p[1]);
  case TENTER_LAW_STRETCHED:
    return p[0] + (p[1] - p[0]) * cexp(-power(t / p[2], p[3]));
  case TENTER_LAW_TWO_PHASE:
    return p[0] + p[1] * cexp(-t / p[3]) + p[2] * cexp(-t / p[4]);
  case TENTER_LAW_SOLID:
    return p[0] + (p[1] - p[0]) * cexp(-t / p[2]);
  case TENTER_LAW_COUNT:
    break;
  }
  return NAN;
}

static const double places[TENTER_LAW_COUNT][2][TENTER_LAW_PARAMETERS] = {
    [TENTER_LAW_LOG] = {{24, 1.1}, {22, -0.2}},
    [TENTER_LAW_POWER] = {{24, 0.03}, {180, 0.7}},
    [TENTER_LAW_STRETCHED] = {{18, 25, 150, 0.45}, {81, 184, 204, 1}},
    [TENTER_LAW_TWO_PHASE] = {{18, 3, 4, 6, 300}, {0, 2, 0.2, 0.5, 6}},
    [TENTER_LAW_SOLID] = {{18, 25, 150}, {22, 20, 3}},
};
static const double ages[] = {0.05, 1, 24, 150, 3000};

static void complex_step(void **state) {
  (void)state;
  for (size_t law = 0; law < TENTER_LAW_COUNT; law++)
    for (size_t place = 0; place < 2; place++)
      for (size_t i = 0; i < sizeof ages / sizeof ages[0]; i++) {
        const double *p = places[law][place];
        size_t count = tenter_law_describe((tenter_law)law)->parameters;
        double gradient[TENTER_LAW_PARAMETERS];
        double got = tenter_law_gradient((tenter_law)law, p, ages[i], gradient);
        value v[TENTER_LAW_PARAMETERS] = {0};
        for (size_t k = 0; k < count; k++)
          v[k] = p[k];
        assert_close(got, creal(twin((tenter_law)law, v, ages[i])), 1e-13, 0);
        assert_close(tenter_law_value((tenter_law)law, p, ages[i]), got, 0, 0);
        for (size_t k = 0; k < count; k++) {
          const double h = 1e-30;
          v[k] = p[k] + h * I;
          assert_close(gradient[k], cimag(twin((tenter_law)law, v, ages[i])) / h, 1e-12, 1e-15);
          v[k] = p[k];
        }
      }
}

static void central_differences(void **state) {
  (void)state;
  for (size_t law = 0; law < TENTER_LAW_COUNT; law++)
    for (size_t i = 0; i < sizeof ages / sizeof ages[0]; i++) {
      double p[TENTER_LAW_PARAMETERS], gradient[TENTER_LAW_PARAMETERS];
      memcpy(p, places[law][0], sizeof p);
      tenter_law_gradient((tenter_law)law, p, ages[i], gradient);
      for (size_t k = 0; k < tenter_law_describe((tenter_law)law)->parameters; k++) {
        double at = p[k], h = 1e-6 * at;
        p[k] = at + h;
        double above = tenter_law_value((tenter_law)law, p, ages[i]);
        p[k] = at - h;
        double below = tenter_law_value((tenter_law)law, p, ages[i]);
        p[k] = at;
        assert_close(gradient[k], (above - below) / (2 * h), 1e-6, 1e-8);
      }
    }
}

/* At age 0 the laws with a beginning begin there, with finite derivatives. */
static void age_zero(void **state) {
  (void)state;
  double gradient[TENTER_LAW_PARAMETERS];
  assert_close(
      tenter_law_gradient(TENTER_LAW_STRETCHED, places[TENTER_LAW_STRETCHED][0], 0, gradient), 25,
      0, 0);
  for (size_t k = 0; k < 4; k++)
    assert_close(gradient[k], k == 1 ? 1 : 0, 0, 0);
  assert_close(tenter_law_value(TENTER_LAW_SOLID, places[TENTER_LAW_SOLID][0], 0), 25, 0, 0);
  assert_close(tenter_law_value(TENTER_LAW_TWO_PHASE, places[TENTER_LAW_TWO_PHASE][0], 0), 25, 0,
               0);
  assert_true(isinf(tenter_law_value(TENTER_LAW_LOG, places[TENTER_LAW_LOG][0], 0)) != 0);
}

static void names(void **state) {
  (void)state;
  for (size_t law = 0; law < TENTER_LAW_COUNT; law++) {
    const tenter_law_info *info = tenter_law_describe((tenter_law)law);
    tenter_law found;
    assert_true(tenter_law_find(info->name, &found));
    assert_int_equal(found, law);
    assert_true(info->linear >= 1 && info->linear <= info->parameters);
    for (size_t k = 0; k < info->parameters; k++)
      assert_non_null(strstr(info->formula, info->parameter[k]));
    for (size_t k = 0; k < info->linear; k++)
      assert_false(info->is_time[k]);
  }
  tenter_law untouched = TENTER_LAW_SOLID;
  assert_false(tenter_law_find("linear", &untouched));
  assert_int_equal(untouched, TENTER_LAW_SOLID);
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(complex_step),
                                     cmocka_unit_test(central_differences),
                                     cmocka_unit_test(age_zero), cmocka_unit_test(names)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
