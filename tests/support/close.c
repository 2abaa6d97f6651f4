/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "close.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

void test_assert_close(double actual, double expected, double relative, double absolute,
                       const char *what, const char *file, int line) {
  int same = actual == expected;
  if (!same && isfinite(actual) && isfinite(expected))
    same = fabs(actual - expected) <= relative * fabs(expected) + absolute;
  if (same)
    return;
  print_error("%s: %.17g is not %.17g (difference %.3g, allowed %.3g)\n", what, actual, expected,
              actual - expected, relative * fabs(expected) + absolute);
  _fail(file, line);
}

double test_log_relative_error(double actual, double expected) {
  if (isnan(actual) || isnan(expected))
    return 0;
  double difference = fabs(actual - expected);
  if (difference == 0)
    return 15;
  double digits = -log10(expected != 0 ? difference / fabs(expected) : difference);
  return digits < 0 ? 0 : digits > 15 ? 15 : digits;
}
