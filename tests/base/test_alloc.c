/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The heap: zeroed, checked products, blocks that survive a failure. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/base/alloc.h"

static void new_blocks_are_zeroed(void **state) {
  (void)state;
  unsigned char *block = tenter_alloc(1000, 3);
  assert_non_null(block);
  for (size_t i = 0; i < 3000; i++)
    assert_int_equal(block[i], 0);
  tenter_free(block);
}

static void nothing_for_nothing_or_too_much(void **state) {
  (void)state;
  assert_null(tenter_alloc(0, 8));
  assert_null(tenter_alloc(8, 0));
  assert_null(tenter_alloc(SIZE_MAX / 2, 4)); /* the product wraps round to a small number */
  assert_null(tenter_alloc(SIZE_MAX / 4 + 2, 4));
  tenter_free(NULL);
}

static void resizing_keeps_bytes_and_survives_failure(void **state) {
  (void)state;
  char *block = tenter_resize(NULL, 4, 2);
  assert_non_null(block);
  memcpy(block, "abcdefg", 8);
  block = tenter_resize(block, 1000, 2);
  assert_string_equal(block, "abcdefg");
  assert_null(tenter_resize(block, SIZE_MAX / 4 + 2, 4));
  assert_null(tenter_resize(block, 0, 4));
  assert_string_equal(block, "abcdefg");
  tenter_free(block);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(new_blocks_are_zeroed),
      cmocka_unit_test(nothing_for_nothing_or_too_much),
      cmocka_unit_test(resizing_keeps_bytes_and_survives_failure),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
