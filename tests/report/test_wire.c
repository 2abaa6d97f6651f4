/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Documents as bytes: what was written is read back whole, and no other bytes are taken for one. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tenter/report/wire.h"

/* A document with something in every field that a format can lose. */
static tenter_document *full_document(void) {
  tenter_document *d = tenter_document_new("Title", "en-GB");
  static const tenter_table_column columns[] = {{"Screen", TENTER_CELLS_TEXT, true},
                                                {"N/cm", TENTER_CELLS_NUMBER, false},
                                                {"Do", TENTER_CELLS_VERDICT, true},
                                                {"When", TENTER_CELLS_TIME, false}};
  d->subtitle = "sub";
  d->header = "head";
  d->footer = "foot";
  d->made = 1793750399;
  d->house = (tenter_house){"A shop", NULL, tenter_text_of("<svg/>"), 0x123456};
  d->form = (tenter_form){TENTER_MARK_COMMA, TENTER_DATES_ISO};
  tenter_block *s = tenter_document_section(d, NULL, "s", "Section", TENTER_SECTION_SHEET);
  tenter_block *t = tenter_document_table(d, s, "t", "Table", columns, 4);
  tenter_cell *row = tenter_document_row(d, t);
  row[0] = tenter_cell_text("S-1");
  row[1] = tenter_cell_number(-1.25, 2);
  row[1].sign = true;
  row[2] = tenter_cell_verdict("STOP", TENTER_TONE_STOP, 3);
  row[3] = tenter_cell_time((tenter_when){1793750399, true});
  tenter_document_row(d, t);
  tenter_document_define(d, tenter_document_definitions(d, s), "term", "");
  tenter_document_item(d, tenter_document_signature(d, s, "signed"), "Date");
  tenter_document_item(d, tenter_document_caution(d, NULL, "careful"), "very");
  tenter_document_figure(
      d, tenter_document_figures(d, NULL),
      (tenter_figure){"title", "caption", "words", tenter_text_of("<svg>1</svg>"), 216, 150});
  return d;
}

static tenter_text bytes_of(const tenter_buffer *buffer) {
  return (tenter_text){buffer->bytes, buffer->length};
}

static void comes_back_whole(void **state) {
  (void)state;
  tenter_document *d = full_document(), *again = NULL;
  tenter_buffer first = {0}, second = {0};
  tenter_error error;
  assert_int_equal(tenter_wire_write(d, &first, &error), TENTER_OK);
  assert_int_equal(tenter_wire_read(bytes_of(&first), &again, &error), TENTER_OK);
  assert_int_equal(tenter_wire_write(again, &second, &error), TENTER_OK);
  assert_int_equal(first.length, second.length);
  assert_memory_equal(first.bytes, second.bytes, first.length);
  /* what the bytes alone could both get wrong */
  const tenter_block *table = again->first->first;
  assert_string_equal(again->house.name, "A shop");
  assert_null(again->house.address);
  assert_int_equal(again->house.accent, 0x123456);
  assert_int_equal(again->made, 1793750399);
  assert_int_equal(again->form.mark, TENTER_MARK_COMMA);
  assert_int_equal(again->first->style, TENTER_SECTION_SHEET);
  assert_int_equal(table->row_count, 2);
  assert_true(table->cells[1].number == -1.25 && table->cells[1].decimals == 2);
  assert_true(table->cells[1].sign && isnan(table->cells[4].number));
  assert_null(table->cells[4].text);
  assert_int_equal(table->cells[2].tone, TENTER_TONE_STOP);
  assert_true(table->cells[3].when.date_only && table->cells[3].when.at == 1793750399);
  assert_int_equal(table->cells[0].when.at, TENTER_NO_TIME);
  assert_string_equal(again->first->next->items[0], "very");
  assert_int_equal(again->first->next->next->figures[0].svg.length, 12);
  tenter_buffer_release(&first);
  tenter_buffer_release(&second);
  tenter_document_free(again);
  tenter_document_free(d);
}

/* Every head of the bytes is refused, and so is one byte more. */
static void cut_short(void **state) {
  (void)state;
  tenter_document *d = full_document(), *again = NULL;
  tenter_buffer bytes = {0};
  tenter_error error;
  assert_int_equal(tenter_wire_write(d, &bytes, &error), TENTER_OK);
  for (size_t length = 0; length < bytes.length; length++)
    assert_int_equal(tenter_wire_read((tenter_text){bytes.bytes, length}, &again, &error),
                     TENTER_INPUT);
  tenter_buffer_byte(&bytes, '\0');
  assert_int_equal(tenter_wire_read(bytes_of(&bytes), &again, &error), TENTER_INPUT);
  tenter_buffer_release(&bytes);
  tenter_document_free(d);
}

/* Any byte changed: refused, or a whole document that can be written again; never a crash (this
 * runs under the sanitizers) nor a length believed. */
static void bytes_changed(void **state) {
  (void)state;
  tenter_document *d = full_document();
  tenter_buffer bytes = {0};
  tenter_error error;
  assert_int_equal(tenter_wire_write(d, &bytes, &error), TENTER_OK);
  static const unsigned char others[] = {0, 1, 0x7F, 0x80, 0xFF};
  for (size_t i = 0; i < bytes.length; i++)
    for (size_t k = 0; k < sizeof others; k++) {
      char was = bytes.bytes[i];
      tenter_document *again = NULL;
      tenter_buffer rewritten = {0};
      bytes.bytes[i] = (char)others[k];
      if (tenter_wire_read(bytes_of(&bytes), &again, &error) == TENTER_OK) {
        assert_int_equal(tenter_wire_write(again, &rewritten, &error), TENTER_OK);
        assert_int_equal(rewritten.length, bytes.length);
        assert_memory_equal(rewritten.bytes, bytes.bytes, bytes.length);
      }
      bytes.bytes[i] = was;
      tenter_buffer_release(&rewritten);
      tenter_document_free(again);
    }
  tenter_buffer_release(&bytes);
  tenter_document_free(d);
}

/* Deeper sections and wider tables than the reader takes are refused by the writer. */
static void too_deep_or_wide(void **state) {
  (void)state;
  tenter_document *d = tenter_document_new("t", "en");
  tenter_buffer bytes = {0};
  tenter_error error;
  tenter_block *parent = NULL;
  for (int i = 0; i < TENTER_WIRE_MOST_DEPTH; i++)
    parent = tenter_document_section(d, parent, "", "s", TENTER_SECTION_PLAIN);
  assert_int_equal(tenter_wire_write(d, &bytes, &error), TENTER_FAILED);
  assert_non_null(strstr(error.message, "deeper"));
  tenter_document_free(d);
  d = tenter_document_new("t", "en");
  static tenter_table_column columns[TENTER_WIRE_MOST_COLUMNS + 1];
  for (size_t i = 0; i <= TENTER_WIRE_MOST_COLUMNS; i++)
    columns[i].header = "c";
  tenter_document_table(d, NULL, "", "", columns, TENTER_WIRE_MOST_COLUMNS + 1);
  tenter_buffer_clear(&bytes);
  assert_int_equal(tenter_wire_write(d, &bytes, &error), TENTER_FAILED);
  tenter_buffer_release(&bytes);
  tenter_document_free(d);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(comes_back_whole),
      cmocka_unit_test(cut_short),
      cmocka_unit_test(bytes_changed),
      cmocka_unit_test(too_deep_or_wide),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
