/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that make the report on meters. */
#ifndef TENTER_REPORT_METER_REPORT_H
#define TENTER_REPORT_METER_REPORT_H

#include "review_parts.h"
#include "tenter/judge/study.h"
#include "tenter/report/json.h"

/* Check plates: bias, linearity, drift; and meters compared on the same screens. Nothing without.
 */
void meter_part_plates(review_parts *parts, const tenter_meter_studies *studies, bool pictures);
void meter_part_pairs(review_parts *parts, const tenter_meter_studies *studies);
void meter_json_plates(tenter_json *json, const tenter_review *review,
                       const tenter_meter_studies *studies);

#endif
