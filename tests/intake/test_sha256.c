/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Against the examples of NIST for FIPS 180-4 (SHA256.pdf, one and two blocks; values from memory,
 * and confirmed by coreutils' sha256sum), whole and in pieces. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/intake/sha256.h"

static const char *const texts[] = {"", "abc",
                                    "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"};
static const char *const digests[] = {
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"};

static void test_examples(void **state) {
  (void)state;
  for (size_t i = 0; i < 3; i++) {
    char digits[TENTER_SHA256_SIZE];
    assert_true(tenter_sha256_of(texts[i], strlen(texts[i]), digits));
    assert_string_equal(digits, digests[i]);
  }
}

static void test_pieces(void **state) {
  (void)state;
  for (size_t cut = 0; cut <= 56; cut++) {
    char digits[TENTER_SHA256_SIZE];
    tenter_sha256 *hash = tenter_sha256_new();
    assert_non_null(hash);
    assert_true(tenter_sha256_add(hash, texts[2], cut));
    assert_true(tenter_sha256_add(hash, texts[2] + cut, 56 - cut));
    assert_true(tenter_sha256_end(hash, digits));
    assert_string_equal(digits, digests[2]);
    tenter_sha256_free(hash);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_examples),
                                     cmocka_unit_test(test_pieces)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
