/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Logos and colours: what may stand in a report and what may not. */
#include "intake_fixture.h"

#include "tenter/intake/house.h"

#define SVG(inside) "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\">" inside "</svg>"

static void logos_that_stand_still(void **state) {
  (void)state;
  static const char *const good[] = {
      SVG(""),
      "\xEF\xBB\xBF<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- a > b -->\n" SVG(
          "<path d='M0,0'/>"),
      SVG("<defs><linearGradient id=\"g\"/></defs><rect fill=\"url(#g)\" style='fill:url( \"#g\" "
          ")'/>"),
      SVG("<use href=\"#g\"/><use xlink:href='#g' /><text>one &amp; only on=\"x\"</text>"),
      SVG("<image href=\"data:image/png;base64,AAAA\"/>"),
      SVG("<style>.a { fill: red }</style><g inkscape:label=\"A &amp; B\"></g>"),
  };
  for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
    tenter_error error = {TENTER_OK, ""};
    if (tenter_logo_check(tenter_text_of(good[i]), &error) != TENTER_OK)
      fail_msg("%s: %s", good[i], error.message);
  }
}

static void logos_that_could_act(void **state) {
  (void)state;
  static const struct {
    const char *svg, *found;
  } bad[] = {
      {SVG("<script>1</script>"), "script"},
      {SVG("<svg:SCRIPT/>"), "script"},
      {SVG("<g onload=\"x\"/>"), "event handler"},
      {SVG("<g x='1' OnClick = 'x'/>"), "event handler"},
      {SVG("<foreignObject/>"), "foreignobject"},
      {SVG("<a href=\"#x\"/>"), "element a"},
      {SVG("<set attributeName=\"href\"/>"), "element set"},
      {SVG("<animate attributeName=\"x\"/>"), "animate"},
      {SVG("<image href=\"logo.png\"/>"), "leads out"},
      {SVG("<image xlink:href=\"http://127.0.0.1/x\"/>"), "leads out"},
      {SVG("<use href=\"other.svg#g\"/>"), "leads out"},
      {SVG("<image href=\"data:image/svg+xml;base64,AAAA\"/>"), "leads out"},
      {SVG("<use href=\"&#106;avascript:1\"/>"), "letters written as numbers"},
      {SVG("<rect fill=\"url(http://127.0.0.1/x)\"/>"), "loads"},
      {SVG("<rect style=\"fill:URL( 'x.svg#y')\"/>"), "loads"},
      {SVG("<rect fill=\"&#117;rl(x)\"/>"), "letters written as numbers"},
      {SVG("<rect style=\"fill:u\\72l(x)\"/>"), "loads"},
      {SVG("<style>@import 'x.css';</style>"), "loads"},
      {SVG("<style>a{b:url(x)}</style>"), "loads"},
      {SVG("<style>a<b</style>"), "markup"},
      {SVG("<g xml:base=\"http://127.0.0.1/\"/>"), "loads"},
      {"<!DOCTYPE svg [<!ENTITY x SYSTEM \"/etc/passwd\">]>" SVG("&x;"), "document type"},
      {"<?xml-stylesheet href=\"x.css\"?>" SVG(""), "processing instruction"},
      {SVG("<![CDATA[<script/>]]>"), "CDATA"},
      {SVG("<g a=\"1/>"), "broken tag"},
      {SVG("<g a=1/>"), "broken tag"},
      {SVG("<!-- never ends"), "end missing"},
      {"<html>" SVG("") "</html>", "neither"},
      {"GIF89a", "neither"},
      {"", "neither"},
      {"<svg>\xff</svg>", "UTF-8"},
  };
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    tenter_error error = {TENTER_OK, ""};
    assert_int_equal(tenter_logo_check(tenter_text_of(bad[i].svg), &error), TENTER_USAGE);
    if (strstr(error.message, bad[i].found) == NULL)
      fail_msg("%s: %s", bad[i].svg, error.message);
  }
}

/* A whole tag missing at any place must not be read past: every head of a good one, at its exact
 * size on the heap, under the sanitizers. */
static void logos_cut_short(void **state) {
  (void)state;
  static const char svg[] =
      SVG("<style>.a{fill:url(#g)}</style><use href='#g'/><!-- c --><?xml ?>");
  for (size_t length = 0; length < sizeof svg - 1; length++) {
    char *copy = malloc(length > 0 ? length : 1); /* its end is watched */
    memcpy(copy, svg, length);
    tenter_error error;
    tenter_status status = tenter_logo_check((tenter_text){copy, length}, &error);
    assert_true(status == TENTER_OK || status == TENTER_USAGE);
    free(copy);
  }
}

static void png_headers(void **state) {
  (void)state;
  char png[33] = "\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x10\0\0\0\x10\x08\6\0\0\0";
  tenter_error error = {TENTER_OK, ""};
  assert_int_equal(tenter_logo_check((tenter_text){png, 33}, &error), TENTER_OK);
  assert_int_equal(tenter_logo_check((tenter_text){png, 32}, &error), TENTER_USAGE);
  png[18] = 0x10; /* 4112 wide */
  assert_int_equal(tenter_logo_check((tenter_text){png, 33}, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "4112 by 16"));
  png[18] = png[19] = 0;
  assert_int_equal(tenter_logo_check((tenter_text){png, 33}, &error), TENTER_USAGE);
}

/* Contrast with white: 21 for black and 1 for white by definition (WCAG 2.2); #767676 is known as
 * the lightest grey that passes 4.5 to 1, #777777 as the darkest that does not (4.54 and 4.48).
 * Pure red 4.00, green 1.37, blue 8.59: (1.05) / (0.05 + 0.2126), 0.7152, 0.0722. */
static void accents(void **state) {
  (void)state;
  tenter_error error = {TENTER_OK, ""};
  unsigned accent;
  assert_close(tenter_contrast_on_white(0x000000), 21, 1e-12, 0);
  assert_close(tenter_contrast_on_white(0xFFFFFF), 1, 1e-12, 0);
  assert_close(tenter_contrast_on_white(0x767676), 4.54, 0, 0.005);
  assert_close(tenter_contrast_on_white(0x777777), 4.48, 0, 0.005);
  assert_close(tenter_contrast_on_white(0xFF0000), 1.05 / 0.2626, 1e-9, 0);
  assert_close(tenter_contrast_on_white(0x00FF00), 1.05 / 0.7652, 1e-9, 0);
  assert_close(tenter_contrast_on_white(0x0000FF), 1.05 / 0.1222, 1e-9, 0);
  assert_int_equal(tenter_accent_read("#767676", &accent, &error), TENTER_OK);
  assert_int_equal(accent, 0x767676);
  assert_int_equal(tenter_accent_read("#1D5791", &accent, &error), TENTER_OK);
  assert_int_equal(accent, 0x1d5791);
  assert_int_equal(tenter_accent_read("#000000", &accent, &error), TENTER_OK);
  assert_true(accent != 0);
  assert_int_equal(tenter_accent_read("", &accent, &error), TENTER_OK);
  assert_int_equal(accent, 0);
  assert_int_equal(tenter_accent_read("#777777", &accent, &error), TENTER_USAGE);
  assert_non_null(strstr(error.message, "4.5 to 1"));
  static const char *const none[] = {"red", "#12345", "#1234567", "#12345g", "123456"};
  for (size_t i = 0; i < sizeof none / sizeof *none; i++)
    assert_int_equal(tenter_accent_read(none[i], &accent, &error), TENTER_USAGE);
}

/* The file lies beside the config, wherever the program runs. */
static void from_the_config(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_config config;
  tenter_error error = {TENTER_OK, ""};
  test_fresh_folder("house");
  test_write_file("house/l.svg", SVG(""));
  test_write_file("house/t.ini", "[report]\nlogo = l.svg\naccent = #1d5791\n");
  assert_int_equal(tenter_config_read("house/t.ini", NULL, 0, arena, &config, &error), TENTER_OK);
  assert_int_equal(config.logo.length, strlen(SVG("")));
  assert_int_equal(config.accent, 0x1d5791);
  test_write_file("house/t.ini", "[report]\nlogo = none.svg\n");
  assert_int_equal(tenter_config_read("house/t.ini", NULL, 0, arena, &config, &error),
                   TENTER_USAGE);
  assert_non_null(strstr(error.message, "house/t.ini: [report] logo: "));
  test_write_file("house/l.svg", SVG("<script/>"));
  test_write_file("house/t.ini", "[report]\nlogo = l.svg\n");
  assert_int_equal(tenter_config_read("house/t.ini", NULL, 0, arena, &config, &error),
                   TENTER_USAGE);
  tenter_arena_free(arena);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(logos_that_stand_still),
      cmocka_unit_test(logos_that_could_act),
      cmocka_unit_test(logos_cut_short),
      cmocka_unit_test(png_headers),
      cmocka_unit_test(accents),
      cmocka_unit_test(from_the_config),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
