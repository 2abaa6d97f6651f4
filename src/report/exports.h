/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The CSV files of a review: RFC 4180, comma, decimal point, UTF-8 without BOM, CRLF, a header. */
#ifndef TENTER_SRC_REPORT_EXPORTS_H
#define TENTER_SRC_REPORT_EXPORTS_H

#include "tenter/judge/certificate.h"
#include "tenter/report/report.h"
#include "work.h"

void export_screens(const tenter_review *review, tenter_buffer *out);
void export_lots(const tenter_review *review, tenter_buffer *out);
void export_worklist(const tenter_review *review, work_list list, tenter_arena *arena,
                     tenter_buffer *out);
void export_reading_sheet(const tenter_review *review, const work_sheet *sheet, tenter_arena *arena,
                          tenter_buffer *out);
void export_certificate(const tenter_certificate *certificate, tenter_buffer *out);

void export_intervals(const tenter_review *review, tenter_buffer *out);

/* plan.csv: the turns of the next weeks, in the order in which they are taken. */
void export_plan(const tenter_review *review, tenter_buffer *out);

/* worklist.ics: the next weeks as calendar entries (RFC 5545). */
void export_calendar(const tenter_review *review, tenter_buffer *out);

void export_rejected(const tenter_tables *tables, tenter_buffer *out);

#endif
