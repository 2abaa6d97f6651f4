/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The certificate as text and as a set of files that vouch for each other: the data's fingerprint
 * stands on the pages, the pages' hashes stand in certificate.json, which ends with a seal of its
 * own. */
#include <stdio.h>
#include <string.h>

#include "account_json.h"
#include "certificate_parts.h"
#include "exports.h"

enum { MOST_FILES = 4, DIGITS = 65 };

/* The files issued, in the order in which they are written. */
typedef struct issued {
  const char *file[MOST_FILES];
  char sha256[MOST_FILES][DIGITS];
  size_t count;
} issued;

static tenter_status hash(const tenter_certificate_report *report, const tenter_buffer *bytes,
                          char digits[DIGITS], tenter_error *error) {
  bool done = !bytes->failed && report->hash(bytes->bytes, bytes->length, digits);
  return done ? TENTER_OK : tenter_fail_memory(error);
}

/* ---- certificate.json ----------------------------------------------------------------------- */

/* The data and its fingerprint. */
static tenter_status make_data(const tenter_certificate_report *report, tenter_buffer *data,
                               char fingerprint[DIGITS], tenter_error *error) {
  tenter_document *scratch = tenter_document_new("", "en");
  if (scratch == NULL)
    return tenter_fail_memory(error);
  cert_data_json(report, scratch, data);
  data->failed |= scratch->failed;
  tenter_document_free(scratch);
  return hash(report, data, fingerprint, error);
}

/* What intake/vouch.h reads: one line each for data, files and seal. */
static tenter_status put_together(const tenter_certificate_report *report,
                                  const tenter_buffer *data, const char *fingerprint,
                                  const issued *files, tenter_buffer *out, tenter_error *error) {
  const tenter_shop *shop = report->certificate->review->shop;
  tenter_json json = tenter_json_start(out);
  tenter_json_open(&json, NULL, '{');
  inputs_json_head(&json, shop, report->options->version);
  tenter_buffer_text(out, ",\n\"data\":");
  tenter_buffer_add(out, data->bytes, data->length);
  tenter_buffer_print(out, ",\n\"fingerprint\":\"%s\",\n\"files\":[", fingerprint);
  for (size_t i = 0; i < files->count; i++)
    tenter_buffer_print(out, "%s{\"file\":\"%s\",\"sha256\":\"%s\"}", i > 0 ? "," : "",
                        files->file[i], files->sha256[i]);
  tenter_buffer_text(out, "],\n");
  char seal[DIGITS];
  tenter_status status = hash(report, out, seal, error);
  if (status != TENTER_OK)
    return status;
  tenter_buffer_print(out, "\"seal\":\"%s\"}\n", seal);
  return out->failed ? tenter_fail_memory(error) : TENTER_OK;
}

tenter_status tenter_report_certificate_json(const tenter_certificate_report *report,
                                             tenter_buffer *buffer, tenter_error *error) {
  tenter_buffer data = {0};
  char fingerprint[DIGITS];
  issued none = {.count = 0};
  tenter_status status = make_data(report, &data, fingerprint, error);
  if (status == TENTER_OK)
    status = put_together(report, &data, fingerprint, &none, buffer, error);
  tenter_buffer_release(&data);
  return status;
}

tenter_status tenter_report_certificate_text(const tenter_certificate_report *report,
                                             tenter_sink sink, tenter_error *error) {
  tenter_document *document = cert_document(report, "", false, NULL);
  tenter_buffer text = {0};
  tenter_status status =
      document != NULL ? tenter_render_text(document, 80, &text, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = sink_flush(sink, &text, error);
  tenter_buffer_release(&text);
  tenter_document_free(document);
  return status;
}

/* ---- the files ------------------------------------------------------------------------------ */

/* Writes one file of the set and notes its hash. */
static tenter_status put(const tenter_certificate_report *report, tenter_output *output,
                         const char *file, const tenter_buffer *bytes, issued *files,
                         tenter_error *error) {
  tenter_status status = hash(report, bytes, files->sha256[files->count], error);
  if (status == TENTER_OK)
    status = tenter_output_put(output, file, bytes, error);
  files->file[files->count++] = file;
  return status;
}

/* The PDF is part of a certificate wherever it can be printed; it is missed aloud where it was
 * asked for, and in *note else. */
static tenter_status put_pdf(const tenter_certificate_report *report,
                             const tenter_document *document, tenter_output *output, issued *files,
                             char *note, tenter_error *error) {
  tenter_buffer pdf = {0};
  tenter_error why;
  tenter_status status = tenter_report_pdf(document, report->options, &pdf, &why);
  if (status == TENTER_OK)
    status = put(report, output, "certificate.pdf", &pdf, files, error);
  else if (report->options->pdf)
    status = tenter_fail(error, status, "%s", why.message);
  else {
    size_t said = strlen(note);
    snprintf(note + said, TENTER_MESSAGE_SIZE - said, "%s%s", said > 0 ? "; " : "", why.message);
    status = TENTER_OK;
  }
  tenter_buffer_release(&pdf);
  return status;
}

static tenter_status put_pages(const tenter_certificate_report *report, const char *fingerprint,
                               tenter_output *output, issued *files, char *note,
                               tenter_error *error) {
  tenter_document *document = cert_document(report, fingerprint, true, note);
  tenter_buffer page = {0};
  tenter_status status =
      document != NULL ? tenter_render_html(document, &page, error) : tenter_fail_memory(error);
  if (status == TENTER_OK)
    status = put(report, output, "certificate.html", &page, files, error);
  if (status == TENTER_OK)
    status = put_pdf(report, document, output, files, note, error);
  tenter_buffer_release(&page);
  tenter_document_free(document);
  return status;
}

static tenter_status put_all(const tenter_certificate_report *report, tenter_output *output,
                             tenter_buffer *buffer, char *note, tenter_error *error) {
  tenter_buffer data = {0}, table = {0};
  char fingerprint[DIGITS];
  issued files = {.count = 0};
  tenter_status status = make_data(report, &data, fingerprint, error);
  if (status == TENTER_OK)
    status = put_pages(report, fingerprint, output, &files, note, error);
  export_certificate(report->certificate, &table);
  if (status == TENTER_OK)
    status = put(report, output, "certificate.csv", &table, &files, error);
  if (status == TENTER_OK)
    status = put_together(report, &data, fingerprint, &files, buffer, error);
  if (status == TENTER_OK)
    status = tenter_output_put(output, "certificate.json", buffer, error);
  tenter_buffer_release(&data);
  tenter_buffer_release(&table);
  return status;
}

tenter_status tenter_report_certificate_files(const tenter_certificate_report *report,
                                              const char *folder, tenter_buffer *buffer,
                                              char note[TENTER_MESSAGE_SIZE], tenter_error *error) {
  tenter_output *output = NULL;
  tenter_status status = tenter_output_open(folder, &output, error);
  if (status == TENTER_OK)
    status = put_all(report, output, buffer, note, error);
  if (status == TENTER_OK)
    status = tenter_output_commit(output, error);
  tenter_output_free(output);
  return status;
}
