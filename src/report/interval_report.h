/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that report on intervals. */
#ifndef TENTER_SRC_REPORT_INTERVAL_REPORT_H
#define TENTER_SRC_REPORT_INTERVAL_REPORT_H

#include "review_parts.h"
#include "tenter/judge/interval.h"
#include "work_plan.h"

enum { INTERVAL_PICTURE_HEIGHT = 150, MOST_INTERVAL_MESHES = 8 };

typedef struct interval_picture {
  tenter_text survival, cost;
  const char *survival_words, *cost_words; /* NULL: not drawn */
} interval_picture;

typedef struct interval_parts {
  review_parts common;
  const tenter_interval_study *study;
  work_plan restretch, read;
  interval_picture pictures[MOST_INTERVAL_MESHES];
  size_t picture_count;
  char missing[TENTER_MESSAGE_SIZE]; /* why no picture was drawn; "" */
} interval_parts;

/* interval_tables.c: sections, in the order in which they are read. */
void interval_part_days(interval_parts *parts);
void interval_part_past(interval_parts *parts);
void interval_part_costs(interval_parts *parts);
void interval_part_sensitivity(interval_parts *parts);
void interval_part_plan(interval_parts *parts);

/* interval_pictures.c */
void interval_pictures_draw(interval_parts *parts);
void interval_part_pictures(interval_parts *parts);

/* interval_json.c: interval.json, and the tables intervals.csv and plan.csv. */
void interval_json(const tenter_interval_study *study, const char *version, tenter_buffer *out);

#endif
