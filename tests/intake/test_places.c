/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words against what they mean. Facts of the trade and of the compass: common practice, no source.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "../../src/intake/places.h"
#include "close.h"

static const char *word_of(const char *text, const number_layout *layout) {
  tenter_position place;
  return tenter__place_read(tenter_text_of(text), layout, &place) ? tenter__place_word(&place)
                                                                  : "no";
}

static void test_places(void **state) {
  (void)state;
  static const char *const cases[][2] = {
      {"C", "centre"},
      {"centre", "centre"},
      {"Center", "centre"},
      {"MIDDLE", "centre"},
      {"N", "top"},
      {"ne", "top right"},
      {"South-West", "bottom left"},
      {"top left", "top left"},
      {"Left Top", "top left"},
      {"BOTTOM", "bottom"},
      {"lower right corner", "bottom right"},
      {"middle left", "left"},
      {"top centre", "top"},
      {"r1c1", "top left"},
      {"R3C2", "bottom"},
      {"r2c2", "centre"},
      {"r4c1", "no"},
      {"1", "no"},
      {"by the door", "no"},
      {"left right", "no"},
      {"top top", "no"},
      {"corner", "no"},
      {"", "no"},
      {"x", "no"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    if (strcmp(word_of(cases[i][0], NULL), cases[i][1]) != 0)
      fail_msg("'%s' is '%s', not '%s'", cases[i][0], word_of(cases[i][0], NULL), cases[i][1]);
}

static void test_layout(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  number_layout layout;
  assert_null(tenter__layout_read("NW, top right; C", arena, &layout));
  assert_int_equal(layout.count, 3);
  assert_string_equal(word_of("1", &layout), "top left");
  assert_string_equal(word_of("2", &layout), "top right");
  assert_string_equal(word_of("3", &layout), "centre");
  assert_string_equal(word_of("4", &layout), "no");
  assert_string_equal(word_of("0", &layout), "no");
  assert_null(tenter__layout_read("NW NE C", arena, &layout));
  assert_string_equal(word_of("3", &layout), "centre");
  assert_string_equal(tenter__layout_read("NW, nowhere", arena, &layout), "nowhere");
  assert_null(tenter__layout_read("", arena, &layout));
  assert_int_equal(layout.count, 0);
  tenter_arena_free(arena);
}

static void test_pairs(void **state) {
  (void)state;
  static const struct {
    const char *text;
    double x, y;
  } cases[] = {{"10,-5", 10, -5},    {"10;-5", 10, -5},     {"(10, -5)", 10, -5},
               {"-7.5,0", -7.5, 0},  {"12,5;-3", 12.5, -3}, {"12,5,-3,25", 12.5, -3.25},
               {"12,5,3", NAN, NAN}, {"1001,0", NAN, NAN},  {"10;5;3", NAN, NAN},
               {"a,b", NAN, NAN},    {",", NAN, NAN}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    tenter_position place;
    bool read = tenter__place_read(tenter_text_of(cases[i].text), NULL, &place);
    assert_int_equal(read, !isnan(cases[i].x));
    if (read) {
      assert_close(place.x_cm, cases[i].x, 0, 0);
      assert_close(place.y_cm, cases[i].y, 0, 0);
    }
  }
}

static void test_keys(void **state) {
  (void)state;
  static const char *const same[][2] = {{"C", "0,0"}, {"NW", "r1c1"}, {"10,5", "10.0;5"}};
  char one[PLACE_KEY_SIZE], two[PLACE_KEY_SIZE];
  tenter_position place;
  for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
    tenter__place_read(tenter_text_of(same[i][0]), NULL, &place);
    tenter__place_key(&place, one);
    tenter__place_read(tenter_text_of(same[i][1]), NULL, &place);
    tenter__place_key(&place, two);
    assert_string_equal(one, two);
    assert_true(*one != '\0');
  }
}

static void test_words(void **state) {
  (void)state;
  assert_int_equal(tenter__direction_read(tenter_text_of("WARP")), TENTER_WARP);
  assert_int_equal(tenter__direction_read(tenter_text_of("Wf.")), TENTER_WEFT);
  assert_int_equal(tenter__direction_read(tenter_text_of("diagonal")), TENTER_DIRECTIONS);
  assert_int_equal(tenter__event_read(tenter_text_of("Re-Tensioned")), TENTER_EVENT_RETENSIONED);
  assert_int_equal(tenter__event_read(tenter_text_of("haze removed")), TENTER_EVENT_HAZE_REMOVED);
  assert_int_equal(tenter__event_read(tenter_text_of("washed")), TENTER_EVENT_NOTE);
  for (int kind = 0; kind < TENTER_EVENT_NOTE; kind++) /* each word of the interface */
    assert_int_equal(tenter__event_read(tenter_text_of(tenter_event_word((tenter_event_kind)kind))),
                     kind);
  assert_int_equal(tenter__frame_read(tenter_text_of("glued")), TENTER_FRAME_GLUED);
  assert_int_equal(tenter__frame_read(tenter_text_of("retensionable")), TENTER_FRAME_RETENSIONABLE);
  assert_int_equal(tenter__frame_read(tenter_text_of("wooden")), TENTER_FRAME_UNKNOWN);
}

static void test_meshes(void **state) {
  (void)state;
  char full[32];
  tenter_text mesh = tenter__mesh_text(tenter_text_of("305"), TENTER_COUNT_INCH, full, sizeof full);
  assert_true(tenter_text_equal(mesh, tenter_text_of("305/in")));
  mesh = tenter__mesh_text(tenter_text_of("120"), TENTER_COUNT_CM, full, sizeof full);
  assert_true(tenter_text_equal(mesh, tenter_text_of("120/cm")));
  mesh = tenter__mesh_text(tenter_text_of("120"), TENTER_COUNT_NONE, full, sizeof full);
  assert_true(tenter_text_equal(mesh, tenter_text_of("120")));
  mesh = tenter__mesh_text(tenter_text_of("120-34"), TENTER_COUNT_CM, full, sizeof full);
  assert_true(tenter_text_equal(mesh, tenter_text_of("120-34")));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_places), cmocka_unit_test(test_layout),
                                     cmocka_unit_test(test_pairs),  cmocka_unit_test(test_keys),
                                     cmocka_unit_test(test_words),  cmocka_unit_test(test_meshes)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
