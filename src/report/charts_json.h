/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The control charts in review.json and charts.json, and the weeks' trends. */
#ifndef TENTER_SRC_REPORT_CHARTS_JSON_H
#define TENTER_SRC_REPORT_CHARTS_JSON_H

#include "tenter/report/json.h"
#include "tenter/report/report.h"

/* "charts" and "chart_alarms"; whole: with every point of every chart. */
void charts_json(tenter_json *json, const tenter_review *review, bool whole);

/* "trends" */
void trends_json(tenter_json *json, const tenter_review *review);

/* The names of a chart's mesh and of its station, lot, operator or meter; "" for none. */
const char *chart_mesh(const tenter_review *review, const tenter_review_chart *chart);
const char *chart_key(const tenter_review *review, const tenter_review_chart *chart);
const char *chart_key_word(tenter_stream stream); /* "station", "lot" ... */

/* The chart's limits as they are kept. */
tenter_chart_limits chart_limits_of(const tenter_review *review, const tenter_review_chart *chart);

#endif
