/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Views of text. Outside checks: UTF-8 against the C library's iconv; edit distance against a
 * recursion written from the definition. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <iconv.h>
#include <stdlib.h>

#include "tenter/base/text.h"

static tenter_text t(const char *string) {
  return tenter_text_of(string);
}

static void assert_trims(const char *from, const char *to) {
  tenter_text trimmed = tenter_text_trim(t(from));
  assert_true(tenter_text_equal(trimmed, t(to)));
}

static void trimming(void **state) {
  (void)state;
  assert_trims("", "");
  assert_trims("S-1", "S-1");
  assert_trims(" \t S 1\r\n", "S 1");
  assert_trims("\xC2\xA0 22,5\xC2\xA0", "22,5");
  assert_trims(" \xC2\xA0\r\n", "");
  assert_trims("\xC2\xB0", "\xC2\xB0");         /* a degree sign: same head as the blank */
  assert_trims("\xC3\xA0", "\xC3\xA0");         /* a grave: same tail */
  assert_trims("\xE2\x80\xA0", "\xE2\x80\xA0"); /* a dagger: ends in the tail alone */
  assert_int_equal(tenter_text_trim((tenter_text){NULL, 0}).length, 0);
  assert_int_equal(tenter_text_of(NULL).length, 0);
}

static void order_of_bytes(void **state) {
  (void)state;
  assert_true(tenter_text_equal(t(""), (tenter_text){NULL, 0}));
  assert_false(tenter_text_equal(t("a"), t("b")));
  assert_false(tenter_text_equal(t("a"), t("ab")));
  assert_true(tenter_text_compare(t("a"), t("ab")) < 0);
  assert_true(tenter_text_compare(t("b"), t("ab")) > 0);
  assert_true(tenter_text_compare(t("\xC3"), t("z")) > 0); /* unsigned */
  assert_int_equal(tenter_text_compare(t("ab"), t("ab")), 0);
  assert_int_equal(tenter_text_compare(t(""), (tenter_text){NULL, 0}), 0);
}

static void natural_order(void **state) {
  (void)state;
  /* Each before the next. */
  const char *const sorted[] = {"",
                                "007",
                                "07",
                                "7",
                                "7a",
                                "10",
                                "S",
                                "S-",
                                "S-1",
                                "S-1a",
                                "S-1a2",
                                "S-1a10",
                                "S-02",
                                "S-2",
                                "S-2-1",
                                "S-9",
                                "S-10",
                                "S-99999999999999999998",
                                "S-99999999999999999999",
                                "S-100000000000000000000",
                                "S.1",
                                "s-1"};
  size_t count = sizeof sorted / sizeof *sorted;
  for (size_t i = 0; i < count; i++)
    for (size_t j = 0; j < count; j++) {
      int order = tenter_text_natural(t(sorted[i]), t(sorted[j]));
      if ((order > 0) - (order < 0) != (i > j) - (i < j))
        fail_msg("'%s' and '%s': %d", sorted[i], sorted[j], order);
    }
}

/* A random text of the letters given. */
static tenter_text draw(char *bytes, size_t longest, const char *letters) {
  size_t length = (size_t)rand() % (longest + 1);
  for (size_t i = 0; i < length; i++)
    bytes[i] = letters[(size_t)rand() % strlen(letters)];
  return (tenter_text){bytes, length};
}

static void natural_order_is_an_order(void **state) {
  (void)state;
  srand(1);
  for (int round = 0; round < 200000; round++) {
    char store[3][6];
    tenter_text a = draw(store[0], 6, "019-a"), b = draw(store[1], 6, "019-a"),
                c = draw(store[2], 6, "019-a");
    int ab = tenter_text_natural(a, b), ba = tenter_text_natural(b, a);
    assert_true((ab > 0) == (ba < 0) && (ab == 0) == tenter_text_equal(a, b));
    if (ab <= 0 && tenter_text_natural(b, c) <= 0)
      assert_true(tenter_text_natural(a, c) <= 0);
  }
}

/* Optimal string alignment by its recursion: remove, insert, change, or swap neighbours. */
static size_t slow_distance(const char *a, size_t m, const char *b, size_t n) {
  if (m == 0 || n == 0)
    return m + n;
  size_t best = slow_distance(a, m - 1, b, n - 1) + (a[m - 1] != b[n - 1]);
  size_t other = slow_distance(a, m - 1, b, n) + 1;
  best = other < best ? other : best;
  other = slow_distance(a, m, b, n - 1) + 1;
  best = other < best ? other : best;
  if (m > 1 && n > 1 && a[m - 1] == b[n - 2] && a[m - 2] == b[n - 1]) {
    other = slow_distance(a, m - 2, b, n - 2) + 1;
    best = other < best ? other : best;
  }
  return best;
}

static void distances(void **state) {
  (void)state;
  assert_int_equal(tenter_text_distance(t("kitten"), t("sitting"), 9), 3);
  assert_int_equal(tenter_text_distance(t("ca"), t("abc"), 9), 3); /* optimal string alignment */
  assert_int_equal(tenter_text_distance(t("S-17"), t("s-71"), 9), 1);
  assert_int_equal(tenter_text_distance(t(""), t("abc"), 9), 3);
  assert_int_equal(tenter_text_distance(t("same"), t("SAME"), 0), 0);
  char longest[256];
  memset(longest, 'x', sizeof longest);
  tenter_text most = {longest, 255}, over = {longest, 256};
  assert_int_equal(tenter_text_distance(most, most, 3), 0);
  assert_int_equal(tenter_text_distance(over, over, 3), 4);
  srand(2);
  for (int round = 0; round < 3000; round++) {
    char store[2][7];
    tenter_text a = draw(store[0], 7, "abc"), b = draw(store[1], 7, "abc");
    size_t expected = slow_distance(a.start, a.length, b.start, b.length);
    for (size_t limit = 0; limit < 8; limit++)
      assert_int_equal(tenter_text_distance(a, b, limit), expected <= limit ? expected : limit + 1);
  }
}

static size_t encode(uint32_t point, unsigned char *to) {
  static const unsigned char heads[] = {0, 0, 0xC0, 0xE0, 0xF0};
  size_t length = point < 0x80 ? 1 : point < 0x800 ? 2 : point < 0x10000 ? 3 : 4;
  for (size_t i = length - 1; i > 0; i--, point >>= 6)
    to[i] = (unsigned char)(0x80 | (point & 0x3F));
  to[0] = (unsigned char)(heads[length] | point);
  return length;
}

static void every_character_is_utf8(void **state) {
  (void)state;
  for (uint32_t point = 0; point <= 0x110FFF; point++) {
    unsigned char bytes[4];
    tenter_text text = {(const char *)bytes, encode(point, bytes)};
    bool valid = point <= 0x10FFFF && (point < 0xD800 || point > 0xDFFF);
    assert_true(tenter_text_is_utf8(text) == valid);
    assert_int_equal(tenter_text_character(text), valid ? text.length : 0);
    text.length--;
    assert_true(tenter_text_is_utf8(text) == (text.length == 0)); /* cut short */
  }
}

static bool iconv_accepts(iconv_t converter, char *bytes, size_t length) {
  char room[256], *to = room;
  size_t left = sizeof room;
  iconv(converter, NULL, NULL, NULL, NULL);
  return iconv(converter, &bytes, &length, &to, &left) != (size_t)-1;
}

/* Random bytes of a set rich in heads, tails and edges. */
static void iconv_agrees_on_utf8(void **state) {
  (void)state;
  static const unsigned char rich[] = {'a',  'b',  0x7F, 0x80, 0x8F, 0x90, 0x9F,
                                       0xA0, 0xBF, 0xC0, 0xC1, 0xC2, 0xDF, 0xE0,
                                       0xE1, 0xED, 0xEF, 0xF0, 0xF4, 0xF5, 0xFF};
  iconv_t converter = iconv_open("UTF-32LE", "UTF-8");
  assert_true((intptr_t)converter != -1);
  srand(3);
  int accepted = 0;
  for (int round = 0; round < 300000; round++) {
    char bytes[24];
    size_t rich_length = (size_t)rand() % 4 + 1, length = rich_length;
    size_t at = 0; /* of the rich bytes: alone, or amid plain ones that are checked by eights */
    if (rand() % 4 == 0) {
      length = sizeof bytes;
      at = (size_t)rand() % (length - rich_length + 1);
    }
    memset(bytes, 'x', length);
    for (size_t i = 0; i < rich_length; i++)
      bytes[at + i] = (char)rich[(size_t)rand() % sizeof rich];
    bool expected = iconv_accepts(converter, bytes, length);
    accepted += expected;
    assert_true(tenter_text_is_utf8((tenter_text){bytes, length}) == expected);
  }
  assert_true(accepted > 3000);
  iconv_close(converter);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(trimming),
      cmocka_unit_test(order_of_bytes),
      cmocka_unit_test(natural_order),
      cmocka_unit_test(natural_order_is_an_order),
      cmocka_unit_test(distances),
      cmocka_unit_test(every_character_is_utf8),
      cmocka_unit_test(iconv_agrees_on_utf8),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
