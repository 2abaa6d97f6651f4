/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Interned texts. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/base/names.h"

static tenter_text t(const char *string) {
  return tenter_text_of(string);
}

static tenter_text id_text(uint32_t number, char room[32]) {
  int length = snprintf(room, 32, "S-%u", (unsigned)number);
  return (tenter_text){room, (size_t)length};
}

static void ids_in_order_of_arrival(void **state) {
  (void)state;
  tenter_names *names = tenter_names_new();
  assert_int_equal(tenter_names_find(names, t("a")), TENTER_NO_NAME);
  assert_int_equal(tenter_names_add(names, t("a")), 0);
  assert_int_equal(tenter_names_add(names, t("")), 1);
  assert_int_equal(tenter_names_add(names, t("b")), 2);
  assert_int_equal(tenter_names_add(names, t("a")), 0);
  assert_int_equal(tenter_names_add(names, (tenter_text){NULL, 0}), 1);
  assert_int_equal(tenter_names_find(names, t("b")), 2);
  assert_int_equal(tenter_names_count(names), 3);
  assert_string_equal(tenter_names_get(names, 2), "b");
  assert_string_equal(tenter_names_get(names, 3), "");
  assert_string_equal(tenter_names_get(names, TENTER_NO_NAME), "");
  assert_int_equal(tenter_names_text(names, TENTER_NO_NAME).length, 0);
  tenter_names_free(names);
  tenter_names_free(NULL);
}

/* All lengths around the words that the hash reads, differing in one byte at each place. */
static void texts_that_differ_in_one_byte(void **state) {
  (void)state;
  tenter_names *names = tenter_names_new();
  char bytes[40];
  uint32_t expected = 0;
  for (size_t length = 0; length <= sizeof bytes; length++) {
    memset(bytes, 'x', sizeof bytes);
    assert_int_equal(tenter_names_add(names, (tenter_text){bytes, length}), expected++);
    for (size_t at = 0; at < length; at++) {
      bytes[at] = '\0';
      assert_int_equal(tenter_names_add(names, (tenter_text){bytes, length}), expected++);
      bytes[at] = 'x';
    }
  }
  assert_int_equal(tenter_names_count(names), expected);
  tenter_names_free(names);
}

static void many_names_survive_growing(void **state) {
  (void)state;
  tenter_names *names = tenter_names_new();
  char room[32];
  enum { COUNT = 50000 };
  for (uint32_t i = 0; i < COUNT; i++)
    assert_int_equal(tenter_names_add(names, id_text(i * 7, room)), i);
  const char *first = tenter_names_get(names, 0);
  for (uint32_t i = 0; i < COUNT; i++) {
    tenter_text text = id_text(i * 7, room);
    assert_int_equal(tenter_names_find(names, text), i);
    assert_string_equal(tenter_names_get(names, i), room);
    assert_int_equal(tenter_names_find(names, id_text(i * 7 + 1, room)), TENTER_NO_NAME);
  }
  assert_ptr_equal(tenter_names_get(names, 0), first);
  tenter_names_free(names);
}

/* So many that differ in the head, middle or tail alone that they meet in the table. */
static void texts_that_differ_in_one_word(void **state) {
  (void)state;
  const char *const forms[] = {"%08u-same", "same-%08u", "%05u-same", "sameHead%08usameTail",
                               "sameHead%08u%08usameTail"};
  for (size_t form = 0; form < sizeof forms / sizeof *forms; form++) {
    tenter_names *names = tenter_names_new();
    for (uint32_t i = 0; i < 20000; i++) {
      char room[64];
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
      int length = snprintf(room, sizeof room, forms[form], (unsigned)i, 7U);
#pragma GCC diagnostic pop
      assert_int_equal(tenter_names_add(names, (tenter_text){room, (size_t)length}), i);
    }
    tenter_names_free(names);
  }
}

static void sorting_renumbers(void **state) {
  (void)state;
  const char *const arrived[] = {"S-10", "S-9", "A", "S-010", "S-1"};
  const uint32_t to_expected[] = {4, 2, 0, 3, 1};
  tenter_names *names = tenter_names_new();
  uint32_t to[5];
  assert_true(tenter_names_sort(names, to)); /* nothing to sort */
  for (size_t i = 0; i < 5; i++)
    tenter_names_add(names, t(arrived[i]));
  assert_true(tenter_names_sort(names, to));
  for (size_t i = 0; i < 5; i++) {
    assert_int_equal(to[i], to_expected[i]);
    assert_string_equal(tenter_names_get(names, to[i]), arrived[i]);
    assert_int_equal(tenter_names_find(names, t(arrived[i])), to[i]);
    assert_int_equal(tenter_names_add(names, t(arrived[i])), to[i]);
  }
  assert_int_equal(tenter_names_add(names, t("new")), 5);
  tenter_names_free(names);
}

static int natural(const void *a, const void *b) {
  return tenter_text_natural(*(const tenter_text *)a, *(const tenter_text *)b);
}

/* However many runs the names come in: the order is that of the library's qsort. */
static void sorting_any_runs(void **state) {
  (void)state;
  enum { MOST = 600 };
  for (uint32_t count = 1; count < MOST; count += 1 + count / 3)
    for (uint32_t stride = 1; stride < 30; stride += 7) {
      static char texts[MOST][16];
      static tenter_text expected[MOST];
      static uint32_t to[MOST];
      tenter_names *names = tenter_names_new();
      for (uint32_t i = 0; i < count; i++) {
        sprintf(texts[i], "N-%u", (i * 577 / stride + i % stride * 211) % 9973);
        expected[i] = t(texts[i]);
        tenter_names_add(names, expected[i]);
      }
      uint32_t distinct = tenter_names_count(names);
      assert_true(tenter_names_sort(names, to));
      qsort(expected, count, sizeof *expected, natural);
      for (uint32_t i = 0, id = 0; i < count; i++) {
        id += i > 0 && natural(&expected[i - 1], &expected[i]) != 0;
        assert_true(tenter_text_equal(tenter_names_text(names, id), expected[i]));
        assert_int_equal(tenter_names_find(names, expected[i]), id);
        assert_true(id < distinct);
      }
      tenter_names_free(names);
    }
}

static void nearest_name(void **state) {
  (void)state;
  tenter_names *names = tenter_names_new();
  assert_int_equal(tenter_names_nearest(names, t("S-17")), TENTER_NO_NAME);
  tenter_names_add(names, t("frame-aluminium-40"));
  tenter_names_add(names, t("S-18"));
  tenter_names_add(names, t("S-1"));
  tenter_names_add(names, t("S-71"));
  assert_int_equal(tenter_names_nearest(names, t("s-18")), 1);
  assert_int_equal(tenter_names_nearest(names, t("S-17")), 1); /* three are one edit away: first */
  assert_int_equal(tenter_names_nearest(names, t("S-711")), 3);
  assert_int_equal(tenter_names_nearest(names, t("frame-alu-40")), TENTER_NO_NAME); /* 6 > 12/3 */
  assert_int_equal(tenter_names_nearest(names, t("frame-alumini-40")), 0);
  assert_int_equal(tenter_names_nearest(names, t("zzzz")), TENTER_NO_NAME);
  tenter_names_free(names);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(ids_in_order_of_arrival),
      cmocka_unit_test(texts_that_differ_in_one_byte),
      cmocka_unit_test(many_names_survive_growing),
      cmocka_unit_test(texts_that_differ_in_one_word),
      cmocka_unit_test(sorting_renumbers),
      cmocka_unit_test(sorting_any_runs),
      cmocka_unit_test(nearest_name),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
