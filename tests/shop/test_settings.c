/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tables_fixture.h"

static const tenter_setting *find(const char *section, const char *key) {
  for (size_t i = 0; i < tenter_setting_count; i++)
    if (strcmp(tenter_setting_table[i].section, section) == 0 &&
        strcmp(tenter_setting_table[i].key, key) == 0)
      return &tenter_setting_table[i];
  fail_msg("no setting [%s] %s", section, key);
  return NULL;
}

/* Every row can print its default and read it back; no key stands twice in a section. */
static void table_checks_itself(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_settings settings = tenter_settings_default();
  for (size_t i = 0; i < tenter_setting_count; i++) {
    const tenter_setting *row = &tenter_setting_table[i];
    assert_ptr_equal(find(row->section, row->key), row);
    assert_true(*row->sentence);
    char *text = tenter_setting_print(&settings, row, arena);
    tenter_error error = {0};
    assert_int_equal(tenter_setting_set(&settings, row, text, arena, &error), TENTER_OK);
    assert_string_equal(tenter_setting_print(&settings, row, arena), text);
  }
  tenter_arena_free(arena);
}

/* The defaults that the interface names: horizon 7 days, risk 5 %, stale after 14 days, settling 24
 * h, a session gap of 2 h, tension 1 to 100 N/cm. */
static void defaults(void **state) {
  (void)state;
  tenter_settings s = tenter_settings_default();
  assert_close(s.horizon_days, 7, 0, 0);
  assert_close(s.risk, 0.05, 0, 0);
  assert_close(s.stale_days, 14, 0, 0);
  assert_close(s.settling_hours, 24, 0, 0);
  assert_close(s.session_gap_hours, 2, 0, 0);
  assert_close(s.least_tension, 1, 0, 0);
  assert_close(s.most_tension, 100, 0, 0);
  assert_close(s.floor_share, 0.8, 0, 0);
  assert_close(tenter_spec_default().evenness_point, 1.5, 0, 0);
  assert_close(tenter_spec_default().evenness_spread, 5, 0, 0);
  assert_close(tenter_spec_default().warp_weft, 2, 0, 0);
}

static void bad_values(void **state) {
  (void)state;
  tenter_arena *arena = tenter_arena_new();
  tenter_settings s = tenter_settings_default();
  static const struct {
    const char *section, *key, *text;
  } bad[] = {
      {"review", "risk", "5 %"},    {"review", "risk", "0.9"},    {"review", "risk", "nan"},
      {"review", "risk", "0,05"},   {"review", "risk", ""},       {"review", "weeks", "2.5"},
      {"intake", "decimal", "dot"}, {"intake", "unit", "N/cm2"},  {"review", "risk", "inf"},
      {"review", "weeks", "1e9"},   {"review", "risk", "0x1p-5"}, {"review", "risk", "0.05x"},
  };
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    tenter_error error = {0};
    assert_int_equal(
        tenter_setting_set(&s, find(bad[i].section, bad[i].key), bad[i].text, arena, &error),
        TENTER_USAGE);
    assert_non_null(strstr(error.message, bad[i].key));
  }
  tenter_settings untouched = tenter_settings_default();
  assert_close(s.risk, untouched.risk, 0, 0);
  assert_int_equal(tenter_setting_set(&s, find("intake", "decimal"), "COMMA", arena, NULL), 0);
  assert_int_equal(s.decimal, TENTER_DECIMAL_COMMA);
  assert_int_equal(tenter_setting_set(&s, find("intake", "repeats"), "keep", arena, NULL), 0);
  assert_int_equal(s.repeats, TENTER_REPEATS_KEEP);
  tenter_arena_free(arena);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(table_checks_itself),
                                     cmocka_unit_test(defaults), cmocka_unit_test(bad_values)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
