/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page on control charts, and the plots of the terminal. */
#ifndef TENTER_SRC_REPORT_CHARTS_DOCUMENT_H
#define TENTER_SRC_REPORT_CHARTS_DOCUMENT_H

#include "tenter/report/document.h"
#include "tenter/report/report.h"

/* whole: the page, with pictures; else for a terminal. NULL when memory runs out. note (may be
 * NULL): why there are no pictures. */
tenter_document *charts_document(const tenter_review *review, const tenter_report_options *options,
                                 bool whole, char note[TENTER_MESSAGE_SIZE]);

/* The charts with new signals, drawn with letters, 80 columns wide. */
void charts_plots(const tenter_review *review, tenter_buffer *out);

/* The charts to be drawn, those with new signals first; returns how many (at most most). */
size_t charts_to_draw(const tenter_review *review, const tenter_review_chart **list, size_t most);

size_t chart_new_signals(const tenter_review_chart *chart);

#endif
