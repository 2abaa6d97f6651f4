/* SPDX-License-Identifier: GPL-3.0-or-later */
/* write_pdf PRESS: documents made by hand, printed by the program PRESS into the folder in which
 * this runs: one of everything (A4, again, and Letter), and one whose texts are hostile. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tenter/report/report.h"

static const char picture[] = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"216\" "
                              "height=\"150\" viewBox=\"0 0 216 150\">"
                              "<path d=\"M10,10 L200,140\" stroke=\"var(--ink)\" fill=\"none\"/>"
                              "<text x=\"20\" y=\"60\" font-family=\"inherit\">inside</text></svg>";

/* A number with no decimals up to one with three, again and again, under one mark. */
static void numbers(tenter_document *d, tenter_block *section, size_t rows) {
  const tenter_table_column columns[] = {{"Screen", TENTER_CELLS_TEXT, true},
                                         {"Tension", TENTER_CELLS_NUMBER, true},
                                         {"Do", TENTER_CELLS_VERDICT, true},
                                         {"Why", TENTER_CELLS_TEXT, false}};
  static const double values[] = {7, 18.5, 118.25, -3.125};
  static const char *const words[] = {"as it is", "USE", "READ", "STRETCH", "STOP"};
  tenter_block *table = tenter_document_table(d, section, "t", "Caption of it", columns, 4);
  for (size_t i = 0; i < rows; i++) {
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return;
    row[0] = tenter_cell_text(tenter_document_print(d, "N-%zu", i));
    row[1] = tenter_cell_number(values[i % 4], (int)(i % 4));
    row[2] = tenter_cell_verdict(words[i % 5], (tenter_tone)(i % 5), (double)(i % 5));
    row[3] = tenter_cell_text("because of this and that, which takes more words than one line of "
                              "this column holds, so that it is broken");
  }
}

static void sheet(tenter_document *d) {
  const tenter_table_column columns[] = {{"Sheet", TENTER_CELLS_TEXT, true},
                                         {"C warp", TENTER_CELLS_BLANK, true},
                                         {"C weft", TENTER_CELLS_BLANK, true}};
  tenter_block *section =
      tenter_document_section(d, NULL, "sheet", "To fill in", TENTER_SECTION_SHEET);
  tenter_block *table = tenter_document_table(d, section, "s", "", columns, 3);
  for (int i = 0; i < 40; i++) {
    tenter_cell *row = tenter_document_row(d, table);
    if (row != NULL)
      row[0] = tenter_cell_text(tenter_document_print(d, "B-%d", i));
  }
}

static tenter_document *everything(void) {
  tenter_document *d = tenter_document_new("One of everything", "de-CH");
  d->subtitle = "As of then";
  d->pages = "Seite {1} von {2}";
  d->footer = "fingerprint 0123456789abcdef";
  d->made = 1793750399; /* 2026-11-03T23:59:59 */
  d->house = (tenter_house){.name = "The house", .address = "Some street 1", .accent = 0x204060};
  tenter_document_paragraph(d, NULL, "The lead.");
  tenter_block *section = tenter_document_section(d, NULL, "a", "A section", TENTER_SECTION_PLAIN);
  tenter_document_item(d, tenter_document_caution(d, section, "Careful"), "mesh under tension");
  numbers(d, section, 100);
  tenter_block *figures = tenter_document_figures(d, section);
  for (int i = 0; i < 4; i++)
    tenter_document_figure(
        d, figures,
        (tenter_figure){.title = "Picture",
                        .caption = "of it",
                        .alternative = "in words",
                        .svg = i < 3 ? tenter_text_of(picture) : (tenter_text){NULL, 0},
                        .width = 216,
                        .height = 150});
  tenter_document_define(d, tenter_document_definitions(d, section), "Term", "Meaning");
  sheet(d);
  tenter_block *after = tenter_document_section(d, NULL, "z", "After", TENTER_SECTION_FOLDED);
  tenter_block *signature = tenter_document_signature(d, after, "Signed for the house:");
  tenter_document_item(d, signature, "Date");
  tenter_document_item(d, signature, "Name");
  return d;
}

/* length times what; NULL-terminated. */
static const char *repeat(tenter_document *d, const char *what, size_t count) {
  char *text = tenter_arena_alloc(d->arena, count * strlen(what) + 1, 1);
  for (size_t i = 0; text != NULL && i < count; i++)
    memcpy(text + i * strlen(what), what, strlen(what));
  return text != NULL ? text : "";
}

static tenter_document *hostile(void) {
  tenter_document *d = tenter_document_new("<b>bold</b> & \"title\" %s (paren\\) \x1b[31m", "en");
  const char *const texts[] = {"<span foreground='red' size='99999'>markup</span>",
                               "\xe2\x80\xae"
                               "desrever\xe2\x80\xac",
                               "\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d right to left",
                               "bell\x07 null-free \x1b[2J \x7f",
                               "bad utf-8 \xff\xc0\xaf\xed\xa0\x80",
                               "no glyph \xf0\x93\x80\x80\xf0\x9f\x96\xa8 \xee\x80\x80",
                               "/JavaScript (app.alert) endobj endstream stream",
                               repeat(d, "W", 10000),
                               repeat(d, "e\xcc\x81\xcc\x82\xcc\x83\xcc\x84", 500),
                               repeat(d, "\xcc\x81", 3000),
                               repeat(d, "word ", 20000)};
  static const tenter_table_column columns[] = {{"Id", TENTER_CELLS_TEXT, true},
                                                {"Raw", TENTER_CELLS_RAW, false},
                                                {"N", TENTER_CELLS_NUMBER, true}};
  tenter_document_paragraph(d, NULL, "");
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
    tenter_document_section(d, NULL, "s", texts[i], TENTER_SECTION_PLAIN);
  tenter_block *table = tenter_document_table(d, NULL, "t", texts[0], columns, 3);
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      break;
    row[0] = tenter_cell_text(texts[i]);
    row[1] = tenter_cell_text(texts[i]);
    row[2] = tenter_cell_number(i == 0 ? 1e300 : i == 1 ? INFINITY : -0.0, 1);
  }
  static tenter_table_column many[120];
  for (size_t i = 0; i < 120; i++)
    many[i] = (tenter_table_column){texts[i % 3], TENTER_CELLS_TEXT, true};
  tenter_cell *row = tenter_document_row(d, tenter_document_table(d, NULL, "m", "Many", many, 120));
  for (size_t i = 0; row != NULL && i < 120; i++)
    row[i] = tenter_cell_text(i % 2 ? "Donaudampfschifffahrtsgesellschaft" : "x");
  tenter_document_figure(d, tenter_document_figures(d, NULL),
                         (tenter_figure){.title = texts[7],
                                         .caption = "",
                                         .alternative = "x",
                                         .svg = tenter_text_of("<svg><broken"),
                                         .width = 10,
                                         .height = 10000});
  return d;
}

static int print(tenter_document *d, const char *press, tenter_paper paper, const char *name) {
  tenter_report_options options = {.version = "9.9.9", .paper = paper, .press = press};
  tenter_buffer pdf = {0};
  tenter_error error;
  if (tenter_report_pdf(d, &options, &pdf, &error) != TENTER_OK) {
    fprintf(stderr, "%s: %s\n", name, error.message);
    return 1;
  }
  FILE *file = fopen(name, "wb");
  int failed = file == NULL || fwrite(pdf.bytes, 1, pdf.length, file) != pdf.length;
  failed |= file == NULL || fclose(file) != 0;
  tenter_buffer_release(&pdf);
  return failed;
}

int main(int argc, char **argv) {
  if (argc != 2)
    return 2;
  tenter_document *d = everything(), *bad = hostile();
  int failed = print(d, argv[1], TENTER_PAPER_A4, "a4.pdf") +
               print(d, argv[1], TENTER_PAPER_A4, "again.pdf") +
               print(d, argv[1], TENTER_PAPER_LETTER, "letter.pdf") +
               print(bad, argv[1], TENTER_PAPER_A4, "hostile.pdf");
  tenter_document_free(d);
  tenter_document_free(bad);
  return failed > 0;
}
