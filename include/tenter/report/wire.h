/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document as bytes, on its way to the program that prints it (src/press). A format of this build
 * only: both ends are built together, and neither keeps such bytes.
 *
 * Eight letters of magic, then the fields of the tree in the order of document.h: whole numbers as
 * 8 bytes, least first; doubles as the 8 bytes of their bits; texts as length, bytes and a NUL.
 * Whatever bytes come in, reading them gives a whole document or a failure: every length is held
 * against what is left, every choice against its words, and the depth of sections is bounded. */
#ifndef TENTER_REPORT_WIRE_H
#define TENTER_REPORT_WIRE_H

#include "tenter/report/document.h"

enum { TENTER_WIRE_MOST_COLUMNS = 256, TENTER_WIRE_MOST_DEPTH = 32 };

/* Adds document to out. TENTER_FAILED when memory runs out, or for more columns or deeper sections
 * than that. */
tenter_status tenter_wire_write(const tenter_document *document, tenter_buffer *out,
                                tenter_error *error);

/* The document that bytes hold, all of them. Its texts lie in bytes, which have to outlive it.
 * TENTER_INPUT where they are no document of this build, TENTER_FAILED when memory runs out. */
tenter_status tenter_wire_read(tenter_text bytes, tenter_document **document, tenter_error *error);

#endif
