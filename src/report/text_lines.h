/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text broken into lines of so many columns of a terminal. */
#ifndef TENTER_SRC_REPORT_TEXT_LINES_H
#define TENTER_SRC_REPORT_TEXT_LINES_H

#include <locale.h>
#include <stdbool.h>

#include "tenter/base/text.h"

typedef struct text_ruler {
  locale_t locale, before; /* the C library's widths of characters need a UTF-8 locale */
} text_ruler;

/* From start to end the calling thread's character widths are those of UTF-8. Where the C library
 * has no such locale every character counts as one column. */
text_ruler text_ruler_start(void);
void text_ruler_end(text_ruler *ruler);

/* Columns that text (safe for a terminal) takes. */
int text_width(tenter_text text);

/* Columns of the widest run without a blank. */
int text_widest_word(tenter_text text);

/* Takes the next line of at most width columns off *rest: broken at a blank, or within a word that
 * is wider by itself. Never empty while *rest holds something but blanks. */
tenter_text text_next_line(tenter_text *rest, int width);

#endif
