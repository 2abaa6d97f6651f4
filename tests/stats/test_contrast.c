/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sources: Student's t with 1 degree of freedom is Cauchy's distribution, with 2 it is t / sqrt(2 +
 * t^2) (both in closed form); the inverse of [2 1; 1 3] is [3 -1; -1 2] / 5. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "close.h"
#include "tenter/stats/contrast.h"

static void test_inverse(void **state) {
  (void)state;
  double a[] = {2, 1, 1, 3}, one[] = {4}, flat[] = {1, 1, 1, 1}, odd[] = {1, 2, 2, 1};
  const double expected[] = {0.6, -0.2, -0.2, 0.4};
  assert_true(tenter_symmetric_invert(a, 2));
  for (size_t i = 0; i < 4; i++)
    assert_close(a[i], expected[i], 1e-14, 0);
  assert_true(tenter_symmetric_invert(one, 1));
  assert_close(one[0], 0.25, 1e-15, 0);
  assert_false(tenter_symmetric_invert(flat, 2));
  assert_false(tenter_symmetric_invert(odd, 2));
}

static void test_student(void **state) {
  (void)state;
  for (int i = -6; i <= 6; i++) {
    double t = 0.7 * i;
    assert_close(tenter_student_two_sided(t, 1), 1 - 2 * atan(fabs(t)) / M_PI, 1e-12, 0);
    assert_close(tenter_student_two_sided(t, 2), 1 - fabs(t) / sqrt(2 + t * t), 1e-12, 0);
  }
  assert_true(isnan(tenter_student_two_sided(NAN, 3)));
}

int main(void) {
  gsl_set_error_handler_off();
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_inverse),
                                     cmocka_unit_test(test_student)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
