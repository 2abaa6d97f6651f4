/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A document set as a PDF: pages of A4 or Letter with running heads and page numbers, tables that
 * break over pages under a repeated header, pictures as vectors, text that can be selected, fonts
 * embedded. Text of data goes to pango as text, never as markup, through the same door as to a
 * terminal.
 *
 * cairo, pango and glib end the process when memory runs out: for a program of its own (tenter-pdf)
 * only. The same document gives the same bytes with the same fonts and libraries. */
#ifndef TENTER_PRESS_PRESS_H
#define TENTER_PRESS_PRESS_H

#include "tenter/report/document.h"
#include "tenter/report/report.h"

/* Adds the PDF of document to out. TENTER_FAILED when memory of ours runs out or cairo refuses. */
tenter_status tenter_press_pdf(const tenter_document *document, tenter_paper paper,
                               tenter_buffer *out, tenter_error *error);

#endif
