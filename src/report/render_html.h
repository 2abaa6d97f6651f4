/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the two halves of the HTML renderer share. */
#ifndef TENTER_SRC_REPORT_RENDER_HTML_H
#define TENTER_SRC_REPORT_RENDER_HTML_H

#include "tenter/report/document.h"

void html_table(tenter_buffer *out, const tenter_block *table, tenter_form form);

/* ` name="escaped text"` */
void html_attribute(tenter_buffer *out, const char *name, const char *text);

/* `<tag>escaped text</tag>`; nothing where text is "". */
void html_element(tenter_buffer *out, const char *tag, const char *text);

#endif
