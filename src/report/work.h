/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The week's work as a review asks for it: what to do with which screen, by when, in which order;
 * and what to read. */
#ifndef TENTER_SRC_REPORT_WORK_H
#define TENTER_SRC_REPORT_WORK_H

#include "tenter/base/form.h"
#include "tenter/judge/review.h"

typedef enum work_due {
  WORK_NOW,  /* before the screen is used again */
  WORK_BY,   /* at the latest at */
  WORK_AFTER /* not before at: it has to rest */
} work_due;

typedef struct work_item {
  const tenter_review_screen *screen;
  const tenter_mounting *mounting;
  const tenter_reason *reason; /* the first that asks for the screen's action; NULL without any */
  work_due due;
  tenter_time at; /* of BY and AFTER */
  size_t order;   /* 1 is the most urgent */
  int group;      /* of a sheet: what comes first */
} work_item;

typedef struct work_list {
  work_item *items;
  size_t count;
} work_list;

/* Every screen whose action is not `use`, the worst action first, then by place, then by screen;
 * order is the place in that list. False when memory runs out. */
bool work_list_new(const tenter_review *review, tenter_arena *arena, work_list *list);

/* Puts a list into the order of places, then worst action, then screen: the way one walks. */
void work_list_by_place(work_list *list);

/* "now", "by Thu 5 Nov", "after Thu 5 Nov, 14:05". */
const char *work_due_words(const work_item *item, tenter_form form, tenter_arena *arena);

/* One point of a screen that is read. */
typedef struct work_point {
  uint16_t position; /* TENTER_NO_NAME16: the screen as a whole */
  tenter_direction direction;
} work_point;

/* What to read this week: screens to be read again, those whose latest session grows stale within
 * the horizon, and those whose reading is worth it; what the shop can read this week before the
 * rest, in each what a reading may well change (a chance above the risk) first, then in the order
 * of places. Points: all that their latest full sessions cover. */
typedef struct work_sheet {
  work_item *items;
  size_t count;
  work_point *points;
  size_t point_count;
} work_sheet;

bool work_sheet_new(const tenter_review *review, tenter_arena *arena, work_sheet *sheet);

/* Whether a reading changes what is to be done with a chance above the risk. */
bool work_reading_matters(const tenter_review *review, const tenter_review_screen *screen);

/* "2026-W47" of a week of the plan, counted from 0; "" for -1. */
const char *work_week_words(const tenter_review *review, int week, tenter_arena *arena);

/* "centre warp", as intake reads it again. */
const char *work_point_words(const tenter_tables *tables, work_point point, tenter_arena *arena);

#endif
