/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The config: what is set, and the exact words of each refusal. */
#include "intake_fixture.h"

static tenter_status read_config(const char *text, tenter_arena *arena, tenter_config *config,
                                 tenter_error *error) {
  test_write_file("t.ini", text);
  return tenter_config_read("t.ini", NULL, 0, arena, config, error);
}

static void test_all_sections(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_config c;
  tenter_error error = {TENTER_OK, ""};
  tenter_status status = read_config(
      "\xEF\xBB\xBF; a comment\n[Intake]\n  time_order = DMY\nlayout = NW, N, NE ; to the right\n"
      "[review]\nrisk=0.1\n\n# more\n[spec]\ntarget = 22\nminus = 1.5\nevenness_point: 2\n"
      "[mesh 120-34]\ntarget = 24\n[mesh 305]\nfloor = 16\n[intake]\ncount_unit = inch\n"
      "[meter M 1]\nresolution = 0.1\nchecked_every_days = 30\n[columns]\ntension = ^spannung$\n"
      "centre_warp = ^MK$\n[certificate]\nname = M\xC3\xBCller\n[mesh 120-34]\nmaximum = 35\n",
      arena, &c, &error);
  if (status != TENTER_OK)
    fail_msg("%s", error.message);
  assert_int_equal(c.settings.time_order, TENTER_ORDER_DMY);
  assert_string_equal(c.settings.layout, "NW, N, NE");
  assert_close(c.settings.risk, 0.1, 0, 0);
  assert_string_equal(c.settings.shop_name, "M\xC3\xBCller");
  assert_int_equal(c.spec_count, 3);
  assert_close(c.specs[0].target, 22, 0, 0);
  assert_close(c.specs[0].evenness_point, 2, 0, 0);
  assert_close(c.specs[0].evenness_spread, 5, 0, 0); /* built in */
  assert_string_equal(c.specs[1].mesh, "120-34");
  assert_close(c.specs[1].target, 24, 0, 0);
  assert_close(c.specs[1].maximum, 35, 0, 0);
  assert_true(isnan(c.specs[1].floor));
  assert_true(isnan(c.specs[1].evenness_point)); /* [spec] holds */
  assert_string_equal(c.specs[2].mesh, "305/in");
  assert_int_equal(c.meter_count, 1);
  assert_string_equal(c.meters[0].name, "M 1");
  assert_close(c.meters[0].resolution, 0.1, 0, 0);
  assert_true(isnan(c.meters[0].coverage_factor));
  assert_int_equal(c.column_count, 2);
  assert_string_equal(c.columns[0].pattern, "^spannung$");
  assert_string_equal(c.file, "t.ini");
  tenter_arena_free(arena);
}

/* What sha256sum prints for "[spec]\n". */
static void test_hash(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_config c;
  assert_int_equal(read_config("[spec]\n", arena, &c, NULL), TENTER_OK);
  assert_string_equal(c.sha256, "7adfc8b8aaaf2dee925e95031f90126d085d643756c5a548790fc4022868a9a7");
  tenter_arena_free(arena);
}

static const struct {
  const char *text, *message;
} refusals[] = {
    {"[intake]\ntime_ordr = dmy\n",
     "t.ini:2: unknown key 'time_ordr' in [intake]; the nearest is 'time_order'"},
    {"[intak]\ntime_order = dmy\n", "t.ini:2: unknown section 'intak'; the nearest is 'intake'"},
    {"[mehs 120-34]\ntarget = 22\n",
     "t.ini:2: unknown section 'mehs 120-34'; the nearest is 'mesh NAME'"},
    {"[spec]\n\ntraget = 22\n", "t.ini:3: unknown key 'traget'; the nearest is 'target'"},
    {"[meter M1]\nresolutoin = 1\n",
     "t.ini:2: unknown key 'resolutoin'; the nearest is 'resolution'"},
    {"[intake]\ntime_order = dym\n", "t.ini:2: time_order = dym: expected one of auto|ymd|dmy|mdy "
                                     "(the order of day, month and year "
                                     "in dates that are not ISO 8601)"},
    {"[review]\nrisk = 2\n",
     "t.ini:2: risk = 2: expected a number from 0.0001 to 0.5 (the chance of being below the floor "
     "that is accepted)"},
    {"[spec]\ntarget = 22,5\n",
     "t.ini:2: target = 22,5: expected a number from 0.1 to 1000 with a decimal point"},
    {"[spec]\ntarget = -1\n",
     "t.ini:2: target = -1: expected a number from 0.1 to 1000 with a decimal point"},
    {"[meter M1]\ncoverage_factor = 0\n",
     "t.ini:2: coverage_factor = 0: expected a number from 1 to 10 with a decimal point"},
    {"[spec]\ntarget = 22\n[review]\n[spec]\nTarget = 23\n",
     "t.ini:5: this key was given before in the same section"},
    {"[mesh]\ntarget = 22\n", "t.ini:2: [mesh] needs a name: [mesh 120-34]"},
    {"[meter ]\nresolution = 1\n", "t.ini:2: [meter] needs a name: [meter M1]"},
    {"target = 22\n", "t.ini:1: a key stands before the first [section]"},
    {"[spec]\nnothing\n", "t.ini:2: the line is no [section], no 'key = value' and no comment"},
    {"[spec\ntarget = 22\n", "t.ini:1: the line is no [section], no 'key = value' and no comment"},
    {"[columns]\ntensoin = ^x$\n",
     "t.ini:2: tensoin is no column; did you mean tension? (A column of a wide table is named like "
     "centre_warp.)"},
    {"[columns]\ntension = ^(x$\n",
     "t.ini:2: tension = ^(x$: the pattern is wrong at its character 5: missing closing "
     "parenthesis"},
    {"[intake]\nlayout = NW, nowhere\n",
     "t.ini: [intake] layout: 'nowhere' is no place; write for example NW, N, NE, W, C, E, SW, S, "
     "SE"},
    {"[intake]\nleast_tension = 50\nmost_tension = 40\n",
     "t.ini: [intake] least_tension is not below most_tension"},
    {"[intake]\nleast_year = 2030\nmost_year = 2020\n",
     "t.ini: [intake] least_year is above most_year"},
    {"[mesh A]\nfloor = 16\ncoarse_floor = 18\n",
     "t.ini: A: coarse_floor 18 is above floor 16; it is the lower one"},
    {"[spec]\nfloor = 23\ntarget = 22\n",
     "t.ini: [spec]: floor, target and maximum must rise in that order"},
    {"[certificate]\nname = M\xFCller\n",
     "t.ini:2: the line is not UTF-8 text; save the file as UTF-8"},
};

static void test_refusals(void **state) {
  (void)state;
  for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
    tenter_arena *arena = tenter_arena_new();
    tenter_config c;
    tenter_error error = {TENTER_OK, ""};
    assert_int_equal(read_config(refusals[i].text, arena, &c, &error), TENTER_USAGE);
    assert_string_equal(error.message, refusals[i].message);
    assert_int_equal(error.status, TENTER_USAGE);
    tenter_arena_free(arena);
  }
}

/* inih would cut these without a word. */
static void test_long_lines(void **state) {
  (void)state;
  char text[600];
  tenter_arena *arena = tenter_arena_new();
  tenter_config c;
  tenter_error error;
  snprintf(text, sizeof text, "[certificate]\naddress = %0*d\n", 188, 7);
  assert_int_equal(read_config(text, arena, &c, &error), TENTER_OK);
  assert_int_equal(strlen(c.settings.shop_address), 188);
  snprintf(text, sizeof text, "[certificate]\naddress = %0*d\n", 189, 7);
  assert_int_equal(read_config(text, arena, &c, &error), TENTER_USAGE);
  assert_string_equal(error.message, "t.ini:2: the line is longer than 198 bytes");
  snprintf(text, sizeof text, "[mesh %0*d]\ntarget = 22\n", 42, 7);
  assert_int_equal(read_config(text, arena, &c, &error), TENTER_OK);
  assert_int_equal(strlen(c.specs[1].mesh), 42);
  snprintf(text, sizeof text, "[mesh %0*d]\ntarget = 22\n", 43, 7);
  assert_int_equal(read_config(text, arena, &c, &error), TENTER_USAGE);
  assert_string_equal(error.message, "t.ini:1: the section's name is longer than 47 bytes");
  tenter_arena_free(arena);
}

static tenter_status read_beside(const char *const *words, size_t count, const char **file,
                                 tenter_error *error) {
  static tenter_config c;
  tenter_arena *arena = tenter_arena_new();
  tenter_status status = tenter_config_read(NULL, words, count, arena, &c, error);
  static char kept[256];
  snprintf(kept, sizeof kept, "%s", status == TENTER_OK ? c.file : "");
  *file = kept;
  tenter_arena_free(arena);
  return status;
}

static void test_beside_the_data(void **state) {
  (void)state;
  const char *file;
  tenter_error error;
  test_fresh_folder("one");
  test_fresh_folder("two");
  test_write_file("one/a.csv", "");
  const char *none[] = {"one", "one/a.csv", "-", "nowhere.csv"};
  assert_int_equal(read_beside(none, 4, &file, &error), TENTER_OK);
  assert_string_equal(file, "");
  test_write_file("one/tenter.ini", "[spec]\ntarget = 22\n");
  assert_int_equal(read_beside(none, 4, &file, &error), TENTER_OK);
  assert_string_equal(file, "one/tenter.ini");
  const char *same[] = {"one/", "./one", "two"};
  assert_int_equal(read_beside(same, 3, &file, &error), TENTER_OK);
  assert_string_equal(file, "one/tenter.ini");
  test_write_file("two/tenter.ini", "[spec]\n");
  const char *both[] = {"one", "two/b.csv"};
  assert_int_equal(read_beside(both, 2, &file, &error), TENTER_USAGE);
  assert_string_equal(error.message,
                      "there are two configs, one/tenter.ini and two/tenter.ini; say "
                      "which one holds with --config FILE");
  tenter_config c;
  tenter_arena *arena = tenter_arena_new();
  assert_int_equal(tenter_config_read("nowhere.ini", NULL, 0, arena, &c, &error), TENTER_USAGE);
  assert_string_equal(error.message, "nowhere.ini: can't be read: No such file or directory");
  tenter_arena_free(arena);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_all_sections),
                                     cmocka_unit_test(test_hash), cmocka_unit_test(test_refusals),
                                     cmocka_unit_test(test_long_lines),
                                     cmocka_unit_test(test_beside_the_data)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
