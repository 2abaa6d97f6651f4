/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the two halves of the text renderer share. */
#ifndef TENTER_SRC_REPORT_RENDER_TEXT_H
#define TENTER_SRC_REPORT_RENDER_TEXT_H

#include "tenter/report/document.h"

typedef struct text_page {
  tenter_buffer *out;
  int columns;
  tenter_form form;   /* of numbers and dates */
  tenter_buffer safe; /* scratch: text on its way through the door */
} text_page;

/* text wrapped to the page; first stands before the first line, as many blanks before the others.
 */
void text_page_wrap(text_page *page, const char *first, const char *text);

void text_page_table(text_page *page, const tenter_block *table);

#endif
