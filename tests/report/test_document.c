/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tree and its two renderers. Layouts are written out by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/report/document.h"
#include "tenter/words/words.h"

/* As many decimals as show the first digit of the uncertainty once it is rounded: 0.31 -> 1,
 * 0.096 -> 0.10 -> 1, 0.094 -> 0.09 -> 2 (GUM 7.2.6: no more digits than the uncertainty bears). */
static void decimals_follow_the_uncertainty(void **state) {
  (void)state;
  const struct {
    double uncertainty;
    int decimals;
  } cases[] = {{12, 0},    {1, 0},      {0.96, 0},  {0.94, 1}, {0.31, 1},
               {0.1, 1},   {0.096, 1},  {0.094, 2}, {0.02, 2}, {0.0096, 2},
               {0.001, 3}, {0.0001, 3}, {0, 1},     {NAN, 1},  {-1, 1}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
    assert_int_equal(tenter_decimals_of(cases[i].uncertainty), cases[i].decimals);
}

static void a_value_with_its_uncertainty(void **state) {
  (void)state;
  tenter_document *d = tenter_document_new("t", "en");
  assert_string_equal(tenter_document_uncertain(d, 17.4321, 0.31), "17.4 ± 0.3");
  assert_string_equal(tenter_document_uncertain(d, 17.4321, NAN), "17.4");
  assert_string_equal(tenter_document_uncertain(d, NAN, 0.3), "");
  tenter_document_free(d);
}

static const tenter_table_column columns[] = {{"Screen", TENTER_CELLS_TEXT, true},
                                              {"N/cm", TENTER_CELLS_NUMBER, true},
                                              {"Do", TENTER_CELLS_VERDICT, true},
                                              {"Why", TENTER_CELLS_TEXT, false}};

static void add_row(tenter_document *d, tenter_block *table, const char *screen, double value,
                    int decimals, const char *why) {
  tenter_cell *row = tenter_document_row(d, table);
  assert_non_null(row);
  row[0] = tenter_cell_text(screen);
  row[1] = tenter_cell_number(value, decimals);
  row[2] = tenter_cell_verdict("USE", TENTER_TONE_GOOD, 0);
  row[3] = tenter_cell_text(why);
}

static tenter_document *sample(void) {
  tenter_document *d = tenter_document_new("Title", "en");
  d->run = "0123456789abcdef";
  tenter_block *section = tenter_document_section(d, NULL, "one", "Section", TENTER_SECTION_PLAIN);
  tenter_document_paragraph(d, section, "A paragraph.");
  tenter_block *table = tenter_document_table(d, section, "t", "", columns, 4);
  add_row(d, table, "S-1", 17.42, 1, "short");
  add_row(d, table, "S-10", 8, 0, "a sentence that has to go over two lines");
  add_row(d, table, "<b>\x1b", -0.257, 2, "");
  tenter_block *caution = tenter_document_caution(d, NULL, "Mind:");
  tenter_document_item(d, caution, "the corners & <edges>");
  return d;
}

static void text_of_a_document(void **state) {
  (void)state;
  tenter_document *d = sample();
  tenter_buffer out = {0};
  assert_int_equal(tenter_render_text(d, 40, &out, NULL), TENTER_OK);
  assert_string_equal(tenter_buffer_string(&out), "Title\n"
                                                  "=====\n"
                                                  "\n"
                                                  "Section\n"
                                                  "-------\n"
                                                  "A paragraph.\n"
                                                  "\n"
                                                  "Screen   N/cm  Do   Why\n"
                                                  "------  -----  ---  --------------------\n"
                                                  "S-1     17.4   USE  short\n"
                                                  "S-10     8     USE  a sentence that has\n"
                                                  "                    to go over two lines\n"
                                                  "<b>\xEF\xBF\xBD    -0.26  USE\n"
                                                  "\n"
                                                  "! Mind:\n"
                                                  "  - the corners & <edges>\n");
  tenter_buffer_release(&out);
  tenter_document_free(d);
}

/* A word wider than its column is broken; a table that can't be had is written cell by cell. */
static void text_never_leaves_the_page(void **state) {
  (void)state;
  tenter_document *d = tenter_document_new("T", "en");
  enum { WIDE = 16 };
  tenter_table_column many[WIDE];
  for (int i = 0; i < WIDE; i++)
    many[i] = (tenter_table_column){"header", TENTER_CELLS_NUMBER, true};
  tenter_block *table = tenter_document_table(d, NULL, "w", "", many, WIDE);
  tenter_cell *row = tenter_document_row(d, table);
  for (int i = 0; i < WIDE; i++)
    row[i] = tenter_cell_number(i, 0);
  tenter_block *narrow = tenter_document_table(d, NULL, "n", "", columns, 4);
  add_row(d, narrow, "an-id-of-a-screen-that-never-seems-to-come-to-its-end-but-does", 1, 0,
          "網目網目網目網目網目網目網目網目網目網目網目網目網目網目網目網目網目網目");
  tenter_buffer out = {0};
  assert_int_equal(tenter_render_text(d, 60, &out, NULL), TENTER_OK);
  const char *text = tenter_buffer_string(&out);
  assert_non_null(strstr(text, "header: 15"));
  for (const char *line = text; *line != '\0';) {
    size_t length = strcspn(line, "\n"), wide = 0;
    for (size_t i = 0; i < length; i++) /* each of these ideographs: 3 bytes, 2 columns */
      wide += (unsigned char)line[i] == 0xE7;
    assert_true(length - wide <= 60);
    line += length + (line[length] == '\n');
  }
  tenter_buffer_release(&out);
  tenter_document_free(d);
}

static void html_of_a_document(void **state) {
  (void)state;
  tenter_document *d = sample();
  tenter_buffer out = {0};
  assert_int_equal(tenter_render_html(d, &out, NULL), TENTER_OK);
  const char *page = tenter_buffer_string(&out);
  const char *expected[] = {
      "<html lang=\"en\">", "<title>Title</title>", "default-src 'none'",
      "<meta name=\"run\" content=\"0123456789abcdef\">", "<section id=\"one\">\n<h2>Section</h2>",
      /* a sort key, and figure spaces (U+2008, U+2007) that keep the points in line */
      "<td class=\"n\" data-k=\"17.42\" data-h=\"N/cm\">17.4\u2007</td>",
      "<td class=\"n\" data-k=\"8\" data-h=\"N/cm\">8\u2008\u2007\u2007</td>",
      "<td class=\"n\" data-k=\"-0.257\" data-h=\"N/cm\">\u22120.26</td>",
      "<td class=\"v v1\" data-k=\"0\" data-h=\"Do\">USE</td>", "&lt;b&gt;\xEF\xBF\xBD</th>",
      "<li>the corners &amp; &lt;edges&gt;</li>"};
  for (size_t i = 0; i < sizeof expected / sizeof *expected; i++)
    if (strstr(page, expected[i]) == NULL)
      fail_msg("not in the page: %s", expected[i]);
  assert_null(strstr(page, "<b>\x1b"));
  tenter_buffer_release(&out);
  tenter_document_free(d);
}

/* Only columns without anything go; the first names the rows and stays. */
static void empty_columns_go(void **state) {
  (void)state;
  tenter_document *d = tenter_document_new("T", "en");
  const tenter_table_column five[] = {{"a", TENTER_CELLS_TEXT, true},
                                      {"b", TENTER_CELLS_TEXT, true},
                                      {"c", TENTER_CELLS_NUMBER, true},
                                      {"d", TENTER_CELLS_BLANK, true},
                                      {"e", TENTER_CELLS_TIME, true}};
  tenter_block *table = tenter_document_table(d, NULL, "t", "", five, 5);
  tenter_cell *first = tenter_document_row(d, table);
  first[2] = tenter_cell_number(NAN, 1);
  tenter_cell *second = tenter_document_row(d, table);
  second[1] = tenter_cell_text("x");
  tenter_document_prune(table);
  assert_int_equal(table->column_count, 3);
  assert_string_equal(table->columns[1].header, "b");
  assert_string_equal(table->columns[2].header, "d");
  assert_string_equal(table->cells[1 * 3 + 1].text, "x");
  tenter_document_free(d);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(decimals_follow_the_uncertainty),
      cmocka_unit_test(a_value_with_its_uncertainty),
      cmocka_unit_test(empty_columns_go),
      cmocka_unit_test(text_of_a_document),
      cmocka_unit_test(text_never_leaves_the_page),
      cmocka_unit_test(html_of_a_document),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
