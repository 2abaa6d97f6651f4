/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures by gnuplot. What is drawn is looked at as text: nasty words stay words, ids do not
 * clash, colours are names, two runs give the same bytes, a missing gnuplot is an error that says
 * so. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "tenter/report/charts.h"

static const double x[] = {0, 1, 2}, y[] = {20, NAN, 18}, low[] = {19, 18, 17},
                    high[] = {21, 20, 19};
static const char *const words[] = {"'; system('touch pwned'); '", "`touch pwned`",
                                    "<script>alert(1)</script>\nset output 'pwned'"};

static tenter_layer layers[] = {
    {TENTER_LAYER_BAND, TENTER_PAINT_FORECAST, x, NULL, low, high, NULL, 3},
    {TENTER_LAYER_LINE, TENTER_PAINT_FORECAST, x, y, NULL, NULL, NULL, 3},
    {TENTER_LAYER_RULE, TENTER_PAINT_TARGET, x, y, NULL, NULL, NULL, 3},
    {TENTER_LAYER_DASHES, TENTER_PAINT_FLOOR, x, low, NULL, NULL, NULL, 3},
    {TENTER_LAYER_POINTS, TENTER_PAINT_INK, x, y, NULL, NULL, NULL, 3},
    {TENTER_LAYER_BARS, TENTER_PAINT_INK, x, NULL, low, high, NULL, 3},
    {TENTER_LAYER_WORDS, TENTER_PAINT_ACT, x, high, NULL, NULL, words, 3}};

static tenter_chart chart(void) {
  return (tenter_chart){.width = 216,
                        .height = 150,
                        .x_least = 0,
                        .x_most = 3,
                        .y_least = 16,
                        .y_most = 22,
                        .x_label = "it's \"days\"",
                        .y_label = "",
                        .layers = layers,
                        .layer_count = sizeof layers / sizeof *layers};
}

static size_t count(const char *text, const char *what) {
  size_t found = 0;
  for (; (text = strstr(text, what)) != NULL; text += strlen(what))
    found++;
  return found;
}

static void pictures_are_drawn(void **state) {
  tenter_arena *arena = *state;
  tenter_chart charts[] = {chart(), chart()};
  charts[1].bare = true;
  tenter_text svg[2], again[2];
  tenter_error error = {0};
  if (tenter_charts_draw(charts, 2, arena, svg, &error) != TENTER_OK)
    fail_msg("%s", error.message);
  assert_int_equal(tenter_charts_draw(charts, 2, arena, again, &error), TENTER_OK);
  for (int i = 0; i < 2; i++) {
    assert_true(tenter_text_equal(svg[i], again[i]));
    const char *text = svg[i].start;
    assert_int_equal(count(text, "<svg"), 1);
    assert_int_equal(count(text, "</svg>"), 1);
    assert_int_equal(count(text, "<g"), count(text, "</g>")); /* brackets balance */
    assert_int_equal(count(text, " id=\""), 1);
    assert_non_null(strstr(text, i == 0 ? "id=\"dot1\"" : "id=\"dot2\""));
    assert_non_null(strstr(text, i == 0 ? "'#dot1'" : "'#dot2'"));
    assert_non_null(strstr(text, "var(--forecast)"));
    assert_non_null(strstr(text, "var(--act)"));
    assert_null(strstr(text, "rgb("));
    assert_null(strstr(text, "black"));
    assert_null(strstr(text, "GNUPLOT"));
  }
}

static void words_stay_words(void **state) {
  tenter_chart one = chart();
  tenter_text svg;
  assert_int_equal(tenter_charts_draw(&one, 1, *state, &svg, NULL), TENTER_OK);
  assert_int_not_equal(access("pwned", F_OK), 0);
  assert_null(strstr(svg.start, "<script"));
  assert_non_null(strstr(svg.start, "&lt;script>alert(1)&lt;/script>set output ’pwned’"));
  assert_non_null(strstr(svg.start, ">’; system(’touch pwned’); ’<"));
  assert_non_null(strstr(svg.start, ">`touch pwned`<"));
  assert_non_null(strstr(svg.start, "it’s \"days\""));
}

static void nothing_to_draw(void **state) {
  assert_int_equal(tenter_charts_draw(NULL, 0, *state, NULL, NULL), TENTER_OK);
}

/* Axes without a span are gnuplot's own error. */
static void a_picture_that_cant_be_drawn(void **state) {
  tenter_chart charts[] = {chart(), chart()};
  charts[1].x_least = charts[1].x_most = NAN;
  tenter_text svg[2] = {{"x", 1}, {"x", 1}};
  tenter_error error = {0};
  assert_int_equal(tenter_charts_draw(charts, 2, *state, svg, &error), TENTER_FAILED);
  assert_non_null(strstr(error.message, "gnuplot"));
  assert_null(svg[0].start);
  assert_null(svg[1].start);
}

static void without_gnuplot(void **state) {
  tenter_chart one = chart();
  tenter_text svg;
  tenter_error error = {0};
  char *path = strdup(getenv("PATH"));
  assert_int_equal(setenv("PATH", "/nowhere", 1), 0);
  assert_int_equal(tenter_charts_draw(&one, 1, *state, &svg, &error), TENTER_FAILED);
  assert_int_equal(setenv("PATH", path, 1), 0);
  free(path);
  assert_non_null(strstr(error.message, "gnuplot"));
  assert_null(svg.start);
}

static int make_arena(void **state) {
  return (*state = tenter_arena_new()) == NULL;
}

static int free_arena(void **state) {
  tenter_arena_free(*state);
  return 0;
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(pictures_are_drawn), cmocka_unit_test(words_stay_words),
      cmocka_unit_test(nothing_to_draw),    cmocka_unit_test(a_picture_that_cant_be_drawn),
      cmocka_unit_test(without_gnuplot),
  };
  return cmocka_run_group_tests(tests, make_arena, free_arena);
}
