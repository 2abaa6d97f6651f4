/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A certificate that holds together holds; with any one byte of it changed it does not. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/base/buffer.h"
#include "tenter/intake/vouch.h"

static const char path[] = "certificate.json";

static void save(const char *bytes, size_t length) {
  FILE *f = fopen(path, "wb");
  assert_non_null(f);
  assert_int_equal(fwrite(bytes, 1, length, f), length);
  assert_int_equal(fclose(f), 0);
}

/* As report/certificate_files.c writes it; fingerprint: NULL for the right one. */
static void make(tenter_buffer *out, const char *fingerprint) {
  static const char data[] =
      "{\"issuer\":\"A "
      "\\\"Shop\\\"\",\"customer\":null,\"order\":\"O-1\",\"certified\":2,\"mean\":20.25,\n"
      "\"inputs\":[{\"file\":\"shop/r.csv\",\"sha256\":\"aa\"},{\"file\":\"b/"
      "r.csv\",\"sha256\":\"bb\"}],"
      "\"config\":{\"file\":\"shop/tenter.ini\",\"sha256\":\"cc\"}}";
  char own[TENTER_SHA256_SIZE], seal[TENTER_SHA256_SIZE];
  assert_true(tenter_sha256_of(data, sizeof data - 1, own));
  tenter_buffer_print(out,
                      "{\"tenter\":\"1\",\"as_of\":\"2026-11-15\",\n\"data\":%s,\n\"fingerprint\":"
                      "\"%s\",\n\"files\":[{\"file\":\"certificate.html\",\"sha256\":\"dd\"}],\n",
                      data, fingerprint ? fingerprint : own);
  assert_true(tenter_sha256_of(out->bytes, out->length, seal));
  tenter_buffer_print(out, "\"seal\":\"%s\"}\n", seal);
  assert_false(out->failed);
}

static void test_holds(void **state) {
  (void)state;
  tenter_buffer file = {0};
  make(&file, NULL);
  save(file.bytes, file.length);
  tenter_arena *arena = tenter_arena_new();
  tenter_vouch v;
  assert_int_equal(tenter_vouch_read(path, arena, &v, NULL), TENTER_OK);
  assert_true(v.seal_holds && v.fingerprint_holds);
  assert_string_equal(v.issuer, "A \"Shop\"");
  assert_string_equal(v.order, "O-1");
  assert_string_equal(v.customer, "");
  assert_int_equal(v.certified, 2);
  assert_int_equal(v.file_count, 4);
  const tenter_vouched *named;
  assert_int_equal(tenter_vouch_ask(&v, "x/certificate.html", "dd", &named),
                   TENTER_VOUCH_UNCHANGED);
  assert_true(named->issued);
  assert_int_equal(tenter_vouch_ask(&v, "certificate.html", "de", NULL), TENTER_VOUCH_CHANGED);
  assert_int_equal(tenter_vouch_ask(&v, "r.csv", "bb", NULL), TENTER_VOUCH_UNCHANGED);
  assert_int_equal(tenter_vouch_ask(&v, "r.csv", "cc", NULL), TENTER_VOUCH_CHANGED);
  assert_int_equal(tenter_vouch_ask(&v, "other.ini", "cc", NULL), TENTER_VOUCH_RENAMED);
  assert_int_equal(tenter_vouch_ask(&v, "other.ini", "ee", NULL), TENTER_VOUCH_FOREIGN);
  tenter_arena_free(arena);
  tenter_buffer_release(&file);
}

/* Every byte in turn, by its lowest bit and by the bit that turns a digit into another sort of
 * character; every length that is shorter; a byte more. */
static void test_any_byte(void **state) {
  (void)state;
  tenter_buffer file = {0};
  make(&file, NULL);
  tenter_vouch v;
  for (size_t i = 0; i < file.length; i++)
    for (int bit = 1; bit <= 64; bit *= 64) {
      tenter_arena *arena = tenter_arena_new();
      file.bytes[i] = (char)(file.bytes[i] ^ bit);
      save(file.bytes, file.length);
      tenter_status status = tenter_vouch_read(path, arena, &v, NULL);
      if (status == TENTER_OK && v.seal_holds)
        fail_msg("byte %zu can be changed", i);
      file.bytes[i] = (char)(file.bytes[i] ^ bit);
      tenter_arena_free(arena);
    }
  for (size_t length = 0; length < file.length; length++) {
    tenter_arena *arena = tenter_arena_new();
    save(file.bytes, length);
    assert_true(tenter_vouch_read(path, arena, &v, NULL) != TENTER_OK || !v.seal_holds);
    tenter_arena_free(arena);
  }
  tenter_buffer_byte(&file, '\n');
  save(file.bytes, file.length);
  tenter_arena *arena = tenter_arena_new();
  assert_int_equal(tenter_vouch_read(path, arena, &v, NULL), TENTER_INPUT);
  tenter_arena_free(arena);
  tenter_buffer_release(&file);
}

/* A new seal over a fingerprint that is not that of the data. */
static void test_fingerprint(void **state) {
  (void)state;
  tenter_buffer file = {0};
  make(&file, "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef");
  save(file.bytes, file.length);
  tenter_arena *arena = tenter_arena_new();
  tenter_vouch v;
  assert_int_equal(tenter_vouch_read(path, arena, &v, NULL), TENTER_OK);
  assert_true(v.seal_holds && !v.fingerprint_holds);
  tenter_arena_free(arena);
  tenter_buffer_release(&file);
}

/* Sealed, but no JSON: said, not believed. */
static void test_no_json(void **state) {
  (void)state;
  tenter_buffer file = {0};
  char seal[TENTER_SHA256_SIZE];
  tenter_buffer_text(&file, "nothing\n");
  assert_true(tenter_sha256_of(file.bytes, file.length, seal));
  tenter_buffer_print(&file, "\"seal\":\"%s\"}\n", seal);
  save(file.bytes, file.length);
  tenter_arena *arena = tenter_arena_new();
  tenter_vouch v;
  assert_int_equal(tenter_vouch_read(path, arena, &v, NULL), TENTER_INPUT);
  tenter_arena_free(arena);
  tenter_buffer_release(&file);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_holds), cmocka_unit_test(test_any_byte),
                                     cmocka_unit_test(test_fingerprint),
                                     cmocka_unit_test(test_no_json)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
