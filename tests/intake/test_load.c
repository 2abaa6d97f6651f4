/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files with one defect each (tests/intake/data): what becomes of their rows, and the exact words.
 * The expectations were written from the contract, by hand. */
#include "intake_fixture.h"

/* expected: "rows accepted rejected blank repeated" and the problems, as account_of writes them; or
 * the error without the path before the file's name. */
static const struct {
  const char *file, *expected;
} cases[] = {
    {"quote-never-closed", "2 1 1 0 0\n"
                           "!2: a quotation mark opens in this row and is not closed\n"},
    {"quote-in-text", "2 2 0 0 0\n"},
    {"too-many-cells", "2 1 1 0 0\n"
                       "!2: 6 cells, but the header has 5 (a delimiter in a text must stand in "
                       "quotation marks)\n"},
    {"too-few-cells", "2 1 1 0 0\n!3: no tension\n"},
    {"old-line-ends", "2 2 0 0 0\n"},
    {"no-last-line-end", "2 2 0 0 0\n"},
    {"quoted-last-row", "2 2 0 0 0\n"},
    {"windows-1252", "1 1 0 0 0\n"},
    {"umlaut-late", "4 2 0 0 2\n"
                    "0: 2 of 4 rows repeat an earlier row exactly, as a second export of the same "
                    "readings does; if each place was read twice on purpose, add a column trial, "
                    "or put into tenter.ini: [intake] repeats = keep\n"},
    {"undefined-byte", "1 1 0 0 0\n"},
    {"utf-16-without-mark",
     "utf-16-without-mark.csv: the text looks like UTF-16 without a byte-order mark; save it as "
     "UTF-8, or put into tenter.ini: [intake] encoding = utf-16"},
    {"utf-16-pairs", "1 1 0 0 0\n"},
    {"nul-in-name", "2 1 1 0 0\n!2: a text holds a NUL byte\n"},
    {"separator-line", "1 1 0 0 0\n"},
    {"title-above", "1 1 0 0 0\n"
                    "3: what stands above the header was not read: 'Tension log of the press "
                    "room'\n"},
    {"header-again", "3 2 1 0 0\n!3: 'taken' is no date or time\n"},
    {"misspelt-tension",
     "misspelt-tension.csv:1: the header looks like readings, but there is no column tension (is "
     "it "
     "'tensoin'?). Found: screen, taken, tensoin. If one of these is it, name it in tenter.ini: "
     "[columns] tension = ^tensoin$"},
    {"misspelt-taken",
     "misspelt-taken.csv:1: the header looks like readings, but there is no column taken (is it "
     "'takken'?). Found: screen, takken, tension. If one of these is it, name it in tenter.ini: "
     "[columns] taken = ^takken$"},
    {"events-without-time",
     "events-without-time.csv:1: the header looks like events, but there is no column at. Found: "
     "screen, event. If one of these is it, name it in tenter.ini: [columns] at = ^its header$"},
    {"checks-without-indicated",
     "checks-without-indicated.csv:1: the header looks like meter checks, but there is no column "
     "indicated. Found: meter, at, nominal. If one of these is it, name it in tenter.ini: "
     "[columns] "
     "indicated = ^its header$"},
    {"two-screens", "two-screens.csv:1: the columns 'Screen No.' and 'Screen ID' would both be "
                    "read as screen. Say "
                    "which one it is in tenter.ini: [columns] screen = ^\\QScreen No.\\E$"},
    {"exact-name-wins", "1 1 0 0 0\n"
                        "1: the column 'Screen No.' was not read, since 'screen' is read as "
                        "screen\n"},
    {"two-places",
     "two-places.csv:1: the columns 'C warp' and 'centre_warp' would both be read as tension of "
     "the "
     "same place and direction. Say which one it is in tenter.ini: [columns] centre_warp = ^C "
     "warp$"},
    {"long-and-wide",
     "long-and-wide.csv:1: the header has both a column of tensions ('tension') and columns that "
     "name a place or a direction ('NW warp'); it must be one or the other"},
    {"place-twice",
     "place-twice.csv:1: the column 'NW warp' names its place, and there is a column "
     "for that as well"},
    {"unknown-unit",
     "unknown-unit.csv:1: the column 'tension (kgf/cm)' is in a unit that is not known here "
     "('kgf/cm'). Known: N/cm, N/m, kN/m, lbf/in. If its values are N/cm, put into tenter.ini: "
     "[intake] unit = N/cm"},
    {"misnamed-unit", "1 1 0 0 0\n"
                      "1: the column 'Tension Nm' is headed nm, which is no unit of tension: taken "
                      "as N/cm, not converted\n"},
    {"unknown-direction", "2 1 1 0 0\n!2: direction 'diagonal' is neither warp nor weft\n"},
    {"unknown-position", "2 2 0 0 0\n"
                         "2: the position 'by the door' is no known place: kept as it stands (2 "
                         "readings)\n"},
    {"numbers-without-layout", "1 1 0 0 0\n"
                               "2: the position '1' is no known place: kept as it stands (1 "
                               "reading); say in tenter.ini which "
                               "places the numbers stand for: [intake] layout = NW, N, NE\n"},
    {"unknown-event", "5 4 1 0 0\n"
                      "2: the event 'washed' is no known word: kept as a note (2 rows)\n"
                      "4: count '1,200' is no whole number: taken as not given (write thousands "
                      "without a mark)\n"
                      "!6: no event\n"},
    {"contrary-dates",
     "contrary-dates.csv:2: '25/03/2026 08:00' can't be a date in the order of PATH"
     "contrary-dates.csv:3: '03/26/2026 08:00', and both files have the same header. Correct one "
     "of "
     "them; or name the order in tenter.ini, and rows that do not fit it are rejected:\n[intake]\n"
     "time_order = mdy"},
    {"open-dates",
     "open-dates.csv:2: '03/11/2026 14:05' can be read in more than one way: "
     "2026-11-03T14:05 as dmy, 2026-03-11T14:05 as mdy; and no date in the files with "
     "this header decides. Put the right order into tenter.ini:\n[intake]\n"
     "time_order = dmy"},
    {"two-digit-years",
     "two-digit-years.csv:3: '31.01.26 14:05' can be read in more than one way: 2031-01-26T14:05 "
     "as "
     "ymd, 2026-01-31T14:05 as dmy; and no date in the files with this header decides. Put the "
     "right order into tenter.ini:\n[intake]\ntime_order = dmy"},
    {"day-first-late", "25 25 0 0 0\n"},
    {"month-first-late", "25 25 0 0 0\n"},
    {"commas-outvote",
     "3 2 1 0 0\n"
     "!2: tension '22.5' has a decimal point, but the numbers of this file have a "
     "decimal comma\n"},
    {"thousands", "2 1 1 0 0\n!2: tension '2.245,5' is no number\n"},
    {"bad-register-cells",
     "1 1 0 0 0\n"
     "2: frame 'wooden' is neither glued nor retensionable: taken as not given\n"
     "2: stretched 'soon' is no date or time: taken as not given\n"
     "2: target 'high' is no number: taken as not given\n"
     "2: width_cm 0 cm is outside what can be true, 1 to 10000: taken as not given\n"},
    {"trial-words", "3 3 0 0 0\n"
                    "2: trial 'first' is no whole number from 1: taken as not given\n"
                    "3: trial 'second' is no whole number from 1: taken as not given\n"},
    {"repeats", "4 1 0 0 3\n"
                "0: 3 of 4 rows repeat an earlier row exactly, as a second export of the same "
                "readings does; if each place was read twice on purpose, add a column trial, or "
                "put into tenter.ini: [intake] repeats = keep\n"},
    {"unmatched-differs", "3 2 0 0 1\n"
                          "0: 1 of 3 rows repeat an earlier row exactly, as a second export of the "
                          "same readings does; if each place was read twice on purpose, add a "
                          "column trial, or put into tenter.ini: [intake] repeats = keep\n"},
    {"wide-repeats", "5 4 0 0 1\n"
                     "5: C weft: 'n/a' is no number: this one reading was left out\n"},
    {"wide-cells", "5 1 3 1 0\n"
                   "2: centre_weft: 'n/a' is no number: this one reading was left out\n"
                   "!4: no reading can be used; centre_warp: 'n/a' is no number\n"
                   "!5: no time\n"
                   "!6: no screen\n"},
    {"wide-comma", "1 1 0 0 0\n"},
    {"sheet-not-filled", "2 1 0 1 0\n"},
    {"half-wide", "2 2 0 0 0\n"},
    {"x-and-y", "3 2 1 0 0\n!4: no y\n"},
    {"date-and-time", "3 2 1 0 0\n!3: 'later' is no time of day\n"},
    {"register-with-date",
     "1 1 0 0 0\n"
     "1: the column 'date' was not read, since it does not say what happened on that date; if the "
     "mesh was stretched then, call it stretched\n"},
    {"future", "3 1 2 0 0\n"
               "!2: '2099-03-02 08:00' lies in the future\n"
               "!3: '1926-03-02 08:00': the year is outside 1970 to 2100\n"},
    {"only-blanks", "only-blanks.csv: the table is empty: there is a header (line 1) but no row "
                    "under it that is filled in"},
    {"blank-file",
     "blank-file.csv: there is nothing in the file but blanks; looked for a header row "
     "and rows under it"},
    {"check-limits", "3 1 2 0 0\n"
                     "!3: indicated 'stuck' is no number\n"
                     "!4: nominal 200 N/cm is outside what can be true, 0 to 100\n"},
    {"page", "page.csv: this is a web page or an XML file; export the table as CSV"},
    {"picture",
     "picture.csv: this is a picture; type the readings into a table and save it as CSV"},
    {"compressed", "compressed.csv: this is a compressed file; unpack it and name the table in it"},
    {"document",
     "document.csv: this is a PDF; export the table as CSV from the program that made it"},
    {"old-workbook",
     "old-workbook.csv: this is a workbook or document of an office program; open it and save each "
     "sheet as CSV (in the list of file types: CSV, comma separated, UTF-8)"},
};

static loaded load_data(const char *file) {
  char path[1024];
  snprintf(path, sizeof path, "%s/%s.csv", TEST_DATA, file);
  return load_path(path);
}

/* Takes the data folder's path out of a message. */
static void strip_path(tenter_buffer *b, const char *instead) {
  const char *text = tenter_buffer_string(b);
  tenter_buffer out = {0};
  size_t length = strlen(TEST_DATA "/");
  bool first = true;
  for (; *text; text++)
    if (strncmp(text, TEST_DATA "/", length) == 0) {
      tenter_buffer_text(&out, first ? "" : instead);
      first = false;
      text += length - 1;
    } else {
      tenter_buffer_byte(&out, *text);
    }
  tenter_buffer_release(b);
  *b = out;
}

static void test_defects(void **state) {
  (void)state;
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    loaded l = load_data(cases[i].file);
    tenter_buffer account = account_of(&l);
    strip_path(&account, "PATH");
    if (strcmp(tenter_buffer_string(&account), cases[i].expected) != 0)
      fail_msg("%s:\n%s\n--- not ---\n%s", cases[i].file, tenter_buffer_string(&account),
               cases[i].expected);
    if (l.status != TENTER_OK)
      assert_int_equal(l.status, TENTER_INPUT);
    tenter_buffer_release(&account);
    unload(&l);
  }
}

/* ---- what was read --------------------------------------------------------------------------- */

static const char *screen_at(const tenter_tables *t, size_t reading) {
  return tenter_names_get(t->names[TENTER_NAME_SCREEN], t->readings.screen[reading]);
}

static void assert_taken(const tenter_tables *t, size_t reading, const char *text) {
  tenter_when when = {t->readings.taken[reading],
                      (t->readings.flags[reading] & TENTER_READING_DATE_ONLY) != 0};
  char buffer[TENTER_TIME_SIZE];
  assert_string_equal(tenter_when_print(when, buffer), text);
}

static void test_encodings(void **state) {
  (void)state;
  static const char *const files[][2] = {
      {"windows-1252", "M\xC3\xB6we"},
      {"umlaut-late", "M\xC3\xB6we"},
      {"undefined-byte", "S\xEF\xBF\xBD\xC3\xA4"}, /* 0x81 is no character of Windows-1252 */
      {"utf-16-pairs", "S\xF0\x9F\x98\x80"},
      {"nul-in-name", "S2"},
  };
  for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
    loaded l = load_data(files[i][0]);
    assert_loaded(&l);
    assert_string_equal(screen_at(l.tables, 0), files[i][1]);
    assert_int_equal(tenter_names_count(l.tables->names[TENTER_NAME_SCREEN]),
                     strcmp(files[i][0], "umlaut-late") == 0 ? 2 : 1);
    unload(&l);
  }
}

static void test_quotes(void **state) {
  (void)state;
  loaded l = load_data("quote-in-text");
  const tenter_tables *t = l.tables;
  assert_loaded(&l);
  assert_string_equal(tenter_names_get(t->names[TENTER_NAME_NOTE], t->readings.note[0]),
                      "frame 23\" x 31\"");
  assert_string_equal(tenter_names_get(t->names[TENTER_NAME_NOTE], t->readings.note[1]),
                      "a \"b\" c d");
  unload(&l);
}

static void test_dates(void **state) {
  (void)state;
  loaded l = load_data("day-first-late");
  assert_loaded(&l);
  assert_taken(l.tables, 0, "2026-02-03T00:00");
  assert_taken(l.tables, 24, "2026-02-25T08:00");
  unload(&l);
  l = load_data("month-first-late");
  assert_loaded(&l);
  assert_taken(l.tables, 0, "2026-02-25T08:00");
  assert_taken(l.tables, 24, "2026-03-02T23:00");
  unload(&l);
  l = load_data("date-and-time");
  assert_loaded(&l);
  assert_taken(l.tables, 0, "2026-03-02T08:05");
  assert_taken(l.tables, 1, "2026-03-02");
  unload(&l);
}

static void test_units(void **state) {
  (void)state;
  loaded l = load_data("width-in-inches");
  assert_loaded(&l);
  const tenter_attributes *is = &l.tables->registers[0].attributes;
  assert_close(is->width_cm, 50.8, 1e-15, 0);
  assert_close(is->height_cm, 60, 0, 0);
  assert_string_equal(tenter_names_get(l.tables->names[TENTER_NAME_MESH], is->mesh), "305/in");
  unload(&l);
  l = load_data("thousands"); /* 2245.5 N/m */
  assert_loaded(&l);
  assert_close(l.tables->readings.tension[0], 22.455, 1e-15, 0);
  unload(&l);
  l = load_data("misnamed-unit");
  assert_loaded(&l);
  assert_close(l.tables->readings.tension[0], 22.5, 0, 0);
  assert_int_equal(l.tables->readings.flags[0], TENTER_READING_MISNAMED_UNIT);
  unload(&l);
  l = load_data("comma-late");
  assert_loaded(&l);
  assert_close(l.tables->readings.tension[1], 22.5, 0, 0);
  unload(&l);
}

/* 1 lbf/in = 4.4482216152605 N / 2.54 cm by the definitions of pound, standard gravity and inch. */
static void test_pounds(void **state) {
  (void)state;
  test_write_file("pounds.csv", "screen,taken,tension [lbf/in]\nS1,2026-03-02,12.7\n");
  loaded l = load_path("pounds.csv");
  assert_loaded(&l);
  assert_close(l.tables->readings.tension[0], 12.7 * 4.4482216152605 / 2.54, 1e-15, 0);
  unload(&l);
}

static void test_places(void **state) {
  (void)state;
  loaded l = load_data("x-and-y");
  const tenter_readings *r = &l.tables->readings;
  assert_loaded(&l);
  const tenter_position *far = &l.tables->positions[r->position[0]];
  assert_string_equal(far->label, "10,-5");
  assert_close(far->x_cm, 10, 0, 0);
  assert_close(far->y_cm, -5, 0, 0);
  assert_int_equal(l.tables->positions[r->position[1]].kind, TENTER_PLACE_CENTRE);
  unload(&l);
  l = load_data("half-wide");
  assert_loaded(&l);
  r = &l.tables->readings;
  assert_int_equal(r->count, 4);
  assert_string_equal(l.tables->positions[r->position[0]].label, "NW");
  assert_int_equal(r->direction[0], TENTER_WARP);
  assert_close(r->tension[0], 23.5, 0, 0);
  unload(&l);
}

/* The places of several spellings are one, under the first label in natural order. */
static void test_one_place(void **state) {
  (void)state;
  test_write_file("spellings.csv", "screen,taken,position,tension\n"
                                   "S1,2026-03-02 08:00,top left,21\nS1,2026-03-02 08:01,r1c1,22\n"
                                   "S1,2026-03-02 08:02,NW,23\nS1,2026-03-02 08:03,centre,24\n");
  loaded l = load_path("spellings.csv");
  assert_loaded(&l);
  assert_int_equal(l.tables->position_count, 2);
  assert_string_equal(l.tables->positions[0].label, "NW"); /* capitals come first in bytes */
  assert_string_equal(l.tables->positions[1].label, "centre");
  unload(&l);
}

static void test_rejected_rows_leave_no_trace(void **state) {
  (void)state;
  test_write_file("traces.csv", "screen,taken,position,direction,meter,note,tension\n"
                                "S1,2026-03-02,C,warp,M1,fine,22.5\n"
                                "S2,2026-03-02,N,weft,M2,bad,broken\n"
                                "S3,never,E,weft,M3,bad,22.5\n");
  loaded l = load_path("traces.csv");
  assert_loaded(&l);
  assert_int_equal(tenter_names_count(l.tables->names[TENTER_NAME_SCREEN]), 1);
  assert_int_equal(tenter_names_count(l.tables->names[TENTER_NAME_METER]), 1);
  assert_int_equal(tenter_names_count(l.tables->names[TENTER_NAME_NOTE]), 1);
  assert_int_equal(l.tables->position_count, 1);
  assert_string_equal(l.tables->problems[0].text, "S2,2026-03-02,N,weft,M2,bad,broken");
  unload(&l);
}

/* ---- files and folders ----------------------------------------------------------------------- */

static void assert_refused(const char *path, tenter_status status, const char *message) {
  loaded l = load_path(path);
  assert_int_equal(l.status, status);
  assert_string_equal(l.error.message, message);
  unload(&l);
}

static void test_folders(void **state) {
  (void)state;
  test_fresh_folder("shop");
  test_fresh_folder("shop/below");
  test_fresh_folder("shop/folder.csv");
  test_write_file("shop/notes.doc", "no table");
  test_write_file("shop/.hidden.csv", "no table");
  test_write_file("shop/below/x.csv", "no table");
  assert_refused("shop", TENTER_INPUT,
                 "shop: no tables in this folder; looked for files that end in .csv, .tsv or .txt "
                 "(not in folders below it), found 4 other entries");
  test_write_file("shop/A.CSV", "screen,taken,tension\nS1,2026-03-02,22.5\n");
  test_write_file("shop/b.Tsv", "screen\tmesh\nS1\t120-34\n");
  test_write_file("shop/c.txt", "screen|at|event\nS1|2026-03-01|stretched\n");
  loaded l = load_path("shop");
  assert_loaded(&l);
  assert_int_equal(l.tables->source_count, 3);
  assert_string_equal(l.tables->sources[0].file, "shop/A.CSV");
  unload(&l);
  const char *twice[] = {"shop", "./shop/A.CSV", "shop/A.CSV", "shop/"};
  l = load_with(twice, 4, NULL, 1, CHUNK_SIZE);
  assert_loaded(&l);
  assert_int_equal(l.tables->source_count, 3);
  assert_int_equal(l.tables->readings.count, 1);
  unload(&l);
  assert_refused("shop/nowhere.csv", TENTER_INPUT,
                 "shop/nowhere.csv: can't be read: No such file or directory");
  assert_refused("/dev/null", TENTER_INPUT,
                 "/dev/null: this is a device; only regular files can be read");
}

/* Files that share a header decide about the order of dates together; others do not count. */
static void test_orders_together(void **state) {
  (void)state;
  test_fresh_folder("orders");
  test_write_file("orders/a.csv", "screen,taken,tension\nS1,03/02/2026,22.5\n");
  test_write_file("orders/b.csv", "Tension;Screen ID;Date\n22,5;S1;25/02/2026\n");
  loaded l = load_path("orders");
  assert_loaded(&l);
  assert_taken(l.tables, 0, "2026-02-03");
  unload(&l);
  test_write_file("orders/b.csv", "Tension;Screen ID;Date;Meter\n22,5;S1;25/02/2026;M1\n");
  l = load_path("orders");
  assert_int_equal(l.status, TENTER_INPUT);
  assert_non_null(strstr(l.error.message, "orders/a.csv:2: '03/02/2026' can be read"));
  unload(&l);
  test_write_file("orders/tenter.ini", "[intake]\ntime_order = mdy\n");
  l = load_path("orders");
  assert_loaded(&l);
  assert_taken(l.tables, 0, "2026-03-02");
  assert_string_equal(l.tables->problems[0].reason,
                      "'25/02/2026' is no date in the order mdy (time_order in tenter.ini)");
  unload(&l);
}

static void test_config_patterns(void **state) {
  (void)state;
  test_fresh_folder("own");
  test_write_file("own/a.csv", "Sieb;Wann;Spannung [N/cm];MK;MS\nS1;2026-03-02;22,5;21;20\n");
  test_write_file("own/tenter.ini", "[columns]\nscreen = ^sieb$\ntaken = ^wann$\n"
                                    "tension = ^\\QSpannung [N/cm]\\E$\n");
  loaded l = load_path("own");
  assert_loaded(&l);
  assert_close(l.tables->readings.tension[0], 22.5, 0, 0);
  unload(&l);
  test_write_file("own/tenter.ini", "[columns]\nscreen = ^sieb$\ntaken = ^wann$\n"
                                    "centre_warp = ^mk$\nC weft = ^ms$\n");
  l = load_path("own");
  assert_loaded(&l);
  assert_int_equal(l.tables->readings.count, 2);
  assert_close(l.tables->readings.tension[0], 21, 0, 0);
  assert_string_equal(l.tables->columns[3].read_as, "tension warp centre");
  assert_string_equal(l.tables->columns[2].read_as, "");
  unload(&l);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_defects),
      cmocka_unit_test(test_encodings),
      cmocka_unit_test(test_quotes),
      cmocka_unit_test(test_dates),
      cmocka_unit_test(test_units),
      cmocka_unit_test(test_pounds),
      cmocka_unit_test(test_places),
      cmocka_unit_test(test_one_place),
      cmocka_unit_test(test_rejected_rows_leave_no_trace),
      cmocka_unit_test(test_folders),
      cmocka_unit_test(test_orders_together),
      cmocka_unit_test(test_config_patterns),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
