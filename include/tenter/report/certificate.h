/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The certificate as text, JSON and files. Nothing is decided here. All give TENTER_FAILED when
 * memory runs out or the sink fails.
 *
 * certificate.json is { "tenter", "run", "as_of", "data", "fingerprint", "files", "seal" }:
 *   data         all that the certificate says, inputs and settings included
 *   fingerprint  SHA-256 of the bytes of data's value; it stands on every page
 *   files        the files issued with it, each with its SHA-256
 *   seal         SHA-256 of all bytes of the file before the line of the seal
 * so that one changed digit anywhere shows (intake/vouch.h checks it). */
#ifndef TENTER_REPORT_CERTIFICATE_H
#define TENTER_REPORT_CERTIFICATE_H

#include "tenter/judge/certificate.h"
#include "tenter/report/report.h"

/* SHA-256 of bytes as 64 hexadecimal digits and a NUL; false when memory runs out. Handed in, for
 * this layer has no cryptography. */
typedef bool tenter_certificate_hash(const void *bytes, size_t length, char digits[65]);

typedef struct tenter_certificate_report {
  const tenter_certificate *certificate;
  const tenter_report_options *options;
  tenter_certificate_hash *hash;
} tenter_certificate_report;

/* For a terminal, 80 columns. */
tenter_status tenter_report_certificate_text(const tenter_certificate_report *report,
                                             tenter_sink sink, tenter_error *error);

/* certificate.json without files, into buffer. */
tenter_status tenter_report_certificate_json(const tenter_certificate_report *report,
                                             tenter_buffer *buffer, tenter_error *error);

/* certificate.html, certificate.pdf where it can be printed, certificate.csv and, last,
 * certificate.json into folder; the JSON's bytes into buffer, too. Whole or not at all. *note
 * (TENTER_MESSAGE_SIZE bytes) gets a sentence when pictures or the PDF had to be left out, "" else.
 */
tenter_status tenter_report_certificate_files(const tenter_certificate_report *report,
                                              const char *folder, tenter_buffer *buffer,
                                              char note[TENTER_MESSAGE_SIZE], tenter_error *error);

#endif
