/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A comparison of floating-point numbers for tests. cmocka 1.1.5 casts to float and lets NaN pass.
 */
#ifndef TEST_SUPPORT_CLOSE_H
#define TEST_SUPPORT_CLOSE_H

/* Fails the running test unless |actual - expected| <= relative * |expected| + absolute. NaN equals
 * nothing; an infinity equals itself only. Prints both values. */
#define assert_close(actual, expected, relative, absolute)                                         \
  test_assert_close((actual), (expected), (relative), (absolute), #actual, __FILE__, __LINE__)

void test_assert_close(double actual, double expected, double relative, double absolute,
                       const char *what, const char *file, int line);

/* Correct digits: -log10 of the relative error (absolute where expected is 0), at most 15; 0 for
 * NaN. */
double test_log_relative_error(double actual, double expected);

#endif
