/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The two halves of review.json. */
#ifndef TENTER_SRC_REPORT_REVIEW_JSON_H
#define TENTER_SRC_REPORT_REVIEW_JSON_H

#include "tenter/report/json.h"
#include "tenter/report/report.h"

/* The elements of "screens", in blocks written by the tasks of the pool and put together in order.
 */
tenter_status review_json_screens(const tenter_review *review, tenter_pool *pool, unsigned depth,
                                  tenter_sink sink, tenter_error *error);

/* "lots" and "populations", the same in lots.json. */
void review_json_lots(tenter_json *json, const tenter_review *review);
void review_json_populations(tenter_json *json, const tenter_review *review);

/* A verdict's word, or NULL. */
const char *review_json_verdict(tenter_verdict verdict, const char *good, const char *bad);

#endif
