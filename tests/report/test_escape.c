/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The doors. Expected texts follow from the formats' own rules: HTML (WHATWG, 13.1.4), RFC 8259 for
 * JSON, RFC 4180 for CSV, gnuplot's manual ("Strings": in single quotes only the quote itself is
 * special). Characters that turn the direction of writing: Unicode TR 9. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/report/escape.h"

#define BAD "\xEF\xBF\xBD" /* U+FFFD */

typedef void door(tenter_buffer *buffer, const char *string);

static void check(door *through, const char *text, const char *expected) {
  tenter_buffer buffer = {0};
  through(&buffer, text);
  assert_string_equal(tenter_buffer_string(&buffer), expected);
  tenter_buffer_release(&buffer);
}

static void html_has_no_markup(void **state) {
  (void)state;
  check(tenter_escape_html, "plain text", "plain text");
  check(tenter_escape_html, "<script>\"a\" & 'b'</script>",
        "&lt;script&gt;&quot;a&quot; &amp; &#39;b&#39;&lt;/script&gt;");
  check(tenter_escape_html, "a\r\nb\tc", "a  b c");
  check(tenter_escape_html, "\x01\x1b[31m\x7f", BAD BAD "[31m" BAD);
  check(tenter_escape_html, "Größe 網", "Größe 網");
  check(tenter_escape_html, "", "");
}

static void nothing_turns_the_writing(void **state) {
  (void)state;
  const char *marks[] = {"\xE2\x80\x8E", "\xE2\x80\x8F", "\xD8\x9C",     "\xE2\x80\xAA",
                         "\xE2\x80\xAE", "\xE2\x81\xA6", "\xE2\x81\xA9", "\xE2\x80\xA8"};
  for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
    check(tenter_escape_html, marks[i], BAD);
    check(tenter_escape_terminal, marks[i], BAD);
    check(tenter_escape_gnuplot, marks[i], "''");
  }
  check(tenter_escape_terminal, "\xE2\x80\x90\xE2\x81\xAF", "\xE2\x80\x90\xE2\x81\xAF");
}

static void a_terminal_gets_no_commands(void **state) {
  (void)state;
  check(tenter_escape_terminal, "\x1b]0;x\x07", BAD "]0;x" BAD);
  check(tenter_escape_terminal, "a\nb", "a b");
  check(tenter_escape_terminal,
        "\xC2\x9B"
        "31m",
        BAD "31m"); /* C1: CSI */
}

/* Ill-formed UTF-8 (RFC 3629): a lone continuation, an overlong form, a surrogate, beyond U+10FFFF,
 * a character that is cut short. */
static void ill_formed_text_is_shown_as_such(void **state) {
  (void)state;
  check(tenter_escape_terminal, "a\x80z", "a" BAD "z");
  check(tenter_escape_terminal, "\xC0\xAF", BAD BAD);
  check(tenter_escape_terminal, "\xED\xA0\x80", BAD BAD BAD);
  check(tenter_escape_terminal, "\xF4\x90\x80\x80", BAD BAD BAD BAD);
  check(tenter_escape_terminal, "\xE2\x82", BAD BAD);
  check(tenter_escape_terminal, "\xF0\x9F\x98\x80", "\xF0\x9F\x98\x80");
  check(tenter_escape_json, "\xFF", "\"" BAD "\"");
}

static void json_strings(void **state) {
  (void)state;
  check(tenter_escape_json, "S-1", "\"S-1\"");
  check(tenter_escape_json, "\"\\/", "\"\\\"\\\\/\"");
  check(tenter_escape_json, "\b\t\n\f\r\x01\x1f", "\"\\b\\t\\n\\f\\r\\u0001\\u001f\"");
  check(tenter_escape_json, "bfnrt", "\"bfnrt\"");
  check(tenter_escape_json, "Ü\xE2\x80\xAE\x7f", "\"Ü\xE2\x80\xAE\x7f\"");
}

static void csv_cells(void **state) {
  (void)state;
  check(tenter_escape_csv, "S-1", "S-1");
  check(tenter_escape_csv, "", "");
  check(tenter_escape_csv, "a,b", "\"a,b\"");
  check(tenter_escape_csv, "a\"b\"", "\"a\"\"b\"\"\"");
  check(tenter_escape_csv, "a\r\nb", "\"a\r\nb\"");
  check(tenter_escape_csv, " a", "\" a\"");
  check(tenter_escape_csv, "a ", "\"a \"");
  check(tenter_escape_csv, "=1+1", "\"=1+1\"");
  check(tenter_escape_csv, "-5", "\"-5\"");
  check(tenter_escape_csv, "@x", "\"@x\"");
  check(tenter_escape_csv, "\x1b\xFF", "\x1b\xFF"); /* kept as it stands */
}

static void gnuplot_strings(void **state) {
  (void)state;
  check(tenter_escape_gnuplot, "`date` $(x) \"q\" {/x_2} \\n", "'`date` $(x) \"q\" {/x_2} \\n'");
  check(tenter_escape_gnuplot, "' it's '", "'’ it’s ’'");
  check(tenter_escape_gnuplot, "a\nset output 'x'\n!ls\x01", "'aset output ’x’!ls'");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(html_has_no_markup),
      cmocka_unit_test(nothing_turns_the_writing),
      cmocka_unit_test(a_terminal_gets_no_commands),
      cmocka_unit_test(ill_formed_text_is_shown_as_such),
      cmocka_unit_test(json_strings),
      cmocka_unit_test(csv_cells),
      cmocka_unit_test(gnuplot_strings),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
