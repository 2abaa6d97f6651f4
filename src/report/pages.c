/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pages of a report: HTML here, PDF by a child (src/press). The libraries that set pages end
 * the process when memory runs out; a child's death is an error like another. */
#include "tenter/base/child.h"
#include "tenter/report/report.h"
#include "tenter/report/wire.h"

enum { SECONDS = 300, MOST_OUTPUT = 256 << 20 };

static tenter_status refuse_missing(tenter_error *error) {
  return tenter_fail(error, TENTER_FAILED,
                     "without PDF: the program tenter-pdf is not beside this one. Install "
                     "libcairo2-dev, libpango1.0-dev and librsvg2-dev, build again, or leave --pdf "
                     "out");
}

/* The bytes of the tree through the child at path. */
static tenter_status print(const char *path, const tenter_document *document, tenter_paper paper,
                           tenter_buffer *out, tenter_error *error) {
  static const char *const papers[TENTER_PAPERS] = {"a4", "letter"};
  const char *const argv[] = {path, papers[paper], NULL};
  tenter_buffer wire = {0};
  tenter_error why;
  size_t before = out->length;
  tenter_status status = tenter_wire_write(document, &wire, error);
  if (status == TENTER_OK && tenter_child_run(argv, (tenter_text){wire.bytes, wire.length}, SECONDS,
                                              MOST_OUTPUT, out, &why) != TENTER_OK) {
    out->length = before;
    status = tenter_fail(error, TENTER_FAILED, "no PDF: %s. Without --pdf the report is written",
                         why.message);
  }
  tenter_buffer_release(&wire);
  return status;
}

tenter_status tenter_report_pdf(const tenter_document *document,
                                const tenter_report_options *options, tenter_buffer *out,
                                tenter_error *error) {
  tenter_arena *arena = options->press == NULL ? tenter_arena_new() : NULL;
  const char *path = options->press;
  if (arena != NULL)
    path = tenter_child_find("tenter-pdf", arena);
  tenter_status status = path == NULL      ? tenter_fail_memory(error)
                         : path[0] == '\0' ? refuse_missing(error)
                                           : print(path, document, options->paper, out, error);
  tenter_arena_free(arena);
  return status;
}

typedef tenter_status render(const tenter_document *document, const tenter_report_options *options,
                             tenter_buffer *out, tenter_error *error);

static tenter_status as_html(const tenter_document *document, const tenter_report_options *options,
                             tenter_buffer *out, tenter_error *error) {
  (void)options;
  return tenter_render_html(document, out, error);
}

static tenter_status put(const tenter_document *document, const tenter_report_options *options,
                         render *renderer, const char *ending, tenter_output *output,
                         const char *name, tenter_error *error) {
  tenter_buffer page = {0}, file = {0};
  tenter_buffer_print(&file, "%s.%s", name, ending);
  const char *file_name = tenter_buffer_string(&file);
  tenter_status status =
      file_name != NULL ? renderer(document, options, &page, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = tenter_output_put(output, file_name, &page, error);
  tenter_buffer_release(&page);
  tenter_buffer_release(&file);
  return status;
}

tenter_status tenter_report_put_pages(tenter_document *document,
                                      const tenter_report_options *options, tenter_output *output,
                                      const char *name, tenter_error *error) {
  tenter_status status = document != NULL && !tenter_document_failed(document)
                             ? put(document, options, as_html, "html", output, name, error)
                             : tenter_fail_memory(error);
  if (status == TENTER_OK && options->pdf)
    status = put(document, options, tenter_report_pdf, "pdf", output, name, error);
  tenter_document_free(document);
  return status;
}
