/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An invented shop made in memory, for tests of reports: tables by hand, settled, judged. Some of
 * its names are written to break out of every format. */
#ifndef TEST_REPORT_SHARED_SHOP_H
#define TEST_REPORT_SHARED_SHOP_H

#include "tenter/report/report.h"

typedef struct report_shop {
  tenter_tables *tables;
  tenter_config config;
  tenter_spec spec;
  tenter_shop *shop;
  tenter_review *review;
} report_shop;

extern const char *const report_shop_nasty[]; /* ends with NULL */
enum { REPORT_SHOP_NASTY = 9 };

/* A shop of screens (at least REPORT_SHOP_NASTY); exits where it can't be made. The review gets a
 * finding of each kind, so that every part of a report has something to say. Its settings have a
 * horizon of 7 days and are otherwise the defaults. */
void report_shop_make(report_shop *made, size_t screens, tenter_pool *pool);
void report_shop_release(report_shop *made);

#endif
