/* SPDX-License-Identifier: GPL-3.0-or-later */
/* tenter-pdf: reads a document (tenter/report/wire.h) from standard input and prints it as PDF to
 * standard output. Started by tenter; its exit status is that of tenter's. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tenter/press/press.h"
#include "tenter/report/wire.h"

enum { PIECE = 1 << 16, MOST_INPUT = 1 << 28 };

static tenter_status read_all(tenter_buffer *input, tenter_error *error) {
  while (!feof(stdin) && !ferror(stdin) && input->length <= MOST_INPUT) {
    char *room = tenter_buffer_room(input, PIECE);
    if (room == NULL)
      return tenter_fail_memory(error);
    input->length += fread(room, 1, PIECE, stdin);
  }
  if (ferror(stdin) || input->length > MOST_INPUT)
    return tenter_fail(error, TENTER_INPUT, "standard input can't be read, or is too long");
  return TENTER_OK;
}

static tenter_status print(tenter_paper paper, tenter_error *error) {
  tenter_buffer input = {0}, pdf = {0};
  tenter_document *document = NULL;
  tenter_status status = read_all(&input, error);
  if (status == TENTER_OK)
    status = tenter_wire_read((tenter_text){input.bytes, input.length}, &document, error);
  if (status == TENTER_OK)
    status = tenter_press_pdf(document, paper, &pdf, error);
  if (status == TENTER_OK &&
      (fwrite(pdf.bytes, 1, pdf.length, stdout) != pdf.length || fflush(stdout) != 0))
    status = tenter_fail(error, TENTER_FAILED, "standard output could not be written");
  tenter_document_free(document);
  tenter_buffer_release(&pdf);
  tenter_buffer_release(&input);
  return status;
}

#ifdef __SANITIZE_ADDRESS__
/* What these libraries keep until the end of the process is no leak of ours. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) {
  return "leak:libfontconfig\nleak:libpango\nleak:libglib\nleak:librsvg\nleak:libcairo\n";
}
#endif

int main(int argc, char **argv) {
  /* No files but those of the report: fontconfig keeps no cache of its own in the home folder. */
  setenv("XDG_CACHE_HOME", "/dev/null", 1);
  tenter_error error;
  tenter_status status;
  if (argc == 2 && strcmp(argv[1], "a4") == 0)
    status = print(TENTER_PAPER_A4, &error);
  else if (argc == 2 && strcmp(argv[1], "letter") == 0)
    status = print(TENTER_PAPER_LETTER, &error);
  else
    status = tenter_fail(&error, TENTER_USAGE,
                         "usage: tenter-pdf a4|letter, with a document of tenter on standard "
                         "input");
  if (status != TENTER_OK)
    fprintf(stderr, "%s\n", error.message);
  return (int)status;
}
