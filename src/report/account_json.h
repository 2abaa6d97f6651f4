/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What review.json and check.json have in common. */
#ifndef TENTER_SRC_REPORT_ACCOUNT_JSON_H
#define TENTER_SRC_REPORT_ACCOUNT_JSON_H

#include "tenter/report/json.h"
#include "tenter/report/report.h"

/* The program, the run, and the "inputs" array. */
void inputs_json_head(tenter_json *json, const tenter_shop *shop, const char *version);
void inputs_json(tenter_json *json, const tenter_shop *shop);

/* "readings", "register", "events", "meter checks". */
const char *inputs_table_word(tenter_table_kind table);

/* Empties buffer into sink; what failed before comes out here. */
tenter_status sink_flush(tenter_sink sink, tenter_buffer *buffer, tenter_error *error);

#endif
