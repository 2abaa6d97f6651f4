/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Printing with the k-th allocation or child failing: a clean status, no leak, nothing added to
 * what was there. The program that prints is cat, which gives back what it was sent: so what comes
 * out is the document as bytes, and it is read again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <sys/stat.h>

#include "doors.h"
#include "folder.h"
#include "tenter/report/report.h"
#include "tenter/report/wire.h"

static tenter_status fill(tenter_document *d, tenter_error *error) {
  static const tenter_table_column columns[] = {{"Screen", TENTER_CELLS_TEXT, true},
                                                {"N/cm", TENTER_CELLS_NUMBER, true}};
  tenter_block *section = tenter_document_section(d, NULL, "s", "Section", TENTER_SECTION_PLAIN);
  tenter_block *table = tenter_document_table(d, section, "t", "Table", columns, 2);
  for (int i = 0; i < 40; i++) {
    tenter_cell *row = tenter_document_row(d, table);
    if (row == NULL)
      return tenter_fail_memory(error);
    row[0] = tenter_cell_text(tenter_document_print(d, "S-%d", i));
    row[1] = tenter_cell_number(i, 1);
  }
  tenter_document_item(d, tenter_document_list(d, NULL), "item");
  return tenter_document_failed(d) ? tenter_fail_memory(error) : TENTER_OK;
}

/* There and back: as printed, then read. */
static tenter_status print_and_read(void *context) {
  (void)context;
  tenter_error error;
  tenter_report_options options = {.version = "9.9.9", .press = "./press"};
  tenter_document *d = tenter_document_new("Title", "en"), *again = NULL;
  tenter_buffer out = {0};
  tenter_buffer_text(&out, "kept");
  tenter_status status = d == NULL || out.failed ? tenter_fail_memory(&error) : fill(d, &error);
  if (status == TENTER_OK)
    status = tenter_report_pdf(d, &options, &out, &error);
  if (status != TENTER_OK && out.length > 0)
    assert_int_equal(out.length, 4);
  if (status == TENTER_OK)
    status = tenter_wire_read((tenter_text){out.bytes + 4, out.length - 4}, &again, &error);
  if (status == TENTER_OK)
    assert_int_equal(again->first->first->row_count, 40);
  tenter_document_free(again);
  tenter_document_free(d);
  tenter_buffer_release(&out);
  return status;
}

static void no_memory(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_MEMORY, false, print_and_read, NULL) > 10);
}

static void no_child(void **state) {
  (void)state;
  assert_true(fault_sweep(FAULT_CHILD, false, print_and_read, NULL) >= 4);
}

int main(void) {
  test_write_file("press", "#!/bin/sh\nexec cat\n");
  if (chmod("press", S_IRWXU) != 0)
    return 1;
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(no_memory),
      cmocka_unit_test(no_child),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
