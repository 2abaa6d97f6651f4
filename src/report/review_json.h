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

/* "intervals", the same in interval.json. */
void review_json_intervals(tenter_json *json, const tenter_review *review);

/* "file:line" needs no more than the file's name to be escaped; that is done once a file. */
typedef struct review_json_names {
  tenter_buffer *names; /* one a source, without its final quote */
  size_t count;
} review_json_names;

bool review_json_names_new(const tenter_tables *tables, review_json_names *files);
void review_json_names_release(review_json_names *files);

/* The keys of one screen, into an object that is open. */
void review_json_screen(tenter_json *json, const tenter_review *review,
                        const review_json_names *files, const tenter_review_screen *screen);

/* A verdict's word, or NULL. */
const char *review_json_verdict(tenter_verdict verdict, const char *good, const char *bad);

/* The "meters" and "shifts" arrays. */
void review_json_meters(tenter_json *json, const tenter_review *review);
void review_json_shifts(tenter_json *json, const tenter_review *review);

#endif
