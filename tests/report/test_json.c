/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The streaming writer: commas, brackets, null. Expected texts are JSON (RFC 8259) by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tenter/report/json.h"

static void an_object(void **state) {
  (void)state;
  tenter_buffer out = {0};
  tenter_json json = tenter_json_start(&out);
  tenter_json_open(&json, NULL, '{');
  tenter_json_text(&json, "a", "x\"y");
  tenter_json_text(&json, "b", NULL);
  tenter_json_name(&json, "c", "");
  tenter_json_number(&json, "d", 22.50, TENTER_JSON_TENSION);
  tenter_json_number(&json, "e", NAN, TENTER_JSON_TENSION);
  tenter_json_number(&json, "f", INFINITY, TENTER_JSON_TENSION);
  tenter_json_integer(&json, "g", -7);
  tenter_json_flag(&json, "h", true);
  tenter_json_null(&json, "i");
  tenter_json_time(&json, "j", TENTER_NO_TIME);
  tenter_json_time(&json, "k", 0);
  tenter_json_when(&json, "l", (tenter_when){TENTER_DAY / 2, true});
  tenter_json_open(&json, "m", '[');
  tenter_json_open(&json, NULL, '{');
  tenter_json_close(&json, '}');
  tenter_json_open(&json, NULL, '[');
  tenter_json_close(&json, ']');
  tenter_json_close(&json, ']');
  tenter_json_integer(&json, "n", 1);
  tenter_json_close(&json, '}');
  assert_string_equal(tenter_buffer_string(&out),
                      "{\"a\":\"x\\\"y\",\"b\":null,\"c\":null,\"d\":22.5,\"e\":null,\"f\":null,"
                      "\"g\":-7,\"h\":true,\"i\":null,\"j\":null,\"k\":\"1970-01-01T00:00\","
                      "\"l\":\"1970-01-01\",\"m\":[{},[]],\"n\":1}");
  tenter_buffer_release(&out);
}

static void lines_take_the_comma_with_them(void **state) {
  (void)state;
  tenter_buffer out = {0};
  tenter_json json = tenter_json_start(&out);
  tenter_json_open(&json, NULL, '[');
  for (int i = 0; i < 3; i++) {
    tenter_json_line(&json);
    tenter_json_integer(&json, NULL, i);
  }
  tenter_json_close(&json, ']');
  assert_string_equal(tenter_buffer_string(&out), "[\n0,\n1,\n2]");
  tenter_buffer_release(&out);
}

/* An array written in two pieces is the array written in one. */
static void pieces_fit_together(void **state) {
  (void)state;
  tenter_buffer whole = {0}, pieces = {0};
  tenter_json one = tenter_json_start(&whole);
  tenter_json_open(&one, NULL, '[');
  for (int i = 0; i < 4; i++)
    tenter_json_integer(&one, NULL, i);
  tenter_json_close(&one, ']');

  tenter_json head = tenter_json_start(&pieces);
  tenter_json_open(&head, NULL, '[');
  for (int piece = 0; piece < 2; piece++) {
    tenter_json json = tenter_json_resume(&pieces, head.depth, piece == 0);
    for (int i = 2 * piece; i < 2 * piece + 2; i++)
      tenter_json_integer(&json, NULL, i);
  }
  tenter_json_close(&head, ']');
  assert_string_equal(tenter_buffer_string(&pieces), tenter_buffer_string(&whole));
  tenter_buffer_release(&whole);
  tenter_buffer_release(&pieces);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(an_object),
      cmocka_unit_test(lines_take_the_comma_with_them),
      cmocka_unit_test(pieces_fit_together),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
