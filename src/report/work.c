/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Order and words of what to do. Name ids stand in natural order, so ids compare as names do, and
 * "none" comes last. */
#include "work.h"

#include <math.h>
#include <stdlib.h>

#include "tenter/words/words.h"

static const tenter_reason *leading_reason(const tenter_review_screen *screen) {
  for (size_t i = 0; i < screen->reason_count; i++)
    if (screen->reasons[i].action == screen->action)
      return &screen->reasons[i];
  return NULL;
}

static tenter_time horizon_end(const tenter_review *review) {
  double days = review->shop->config->settings.horizon_days;
  return review->shop->as_of + (tenter_time)(days * TENTER_DAY);
}

/* A screen that falls below its floor has until it may have done so. */
static void due_for_restretch(const tenter_review *review, work_item *item) {
  bool falling = item->reason != NULL && item->reason->code == TENTER_REASON_FALLS_BELOW_FLOOR;
  tenter_time early = item->screen->forecast.early, end = horizon_end(review);
  if (!falling || (early != TENTER_NO_TIME && early <= review->shop->as_of))
    return;
  item->due = WORK_BY;
  item->at = early != TENTER_NO_TIME && early < end ? early : end;
}

/* Doubt about the floor or the maximum is settled before the screen is used; the rest has a week.
 */
static bool doubt_is_urgent(tenter_reason_code code) {
  return code == TENTER_REASON_BELOW_FLOOR || code == TENTER_REASON_POINT_BELOW_FLOOR ||
         code == TENTER_REASON_OVER_MAXIMUM || code == TENTER_REASON_MAXIMUM_UNDECIDED ||
         code == TENTER_REASON_DOUBTED_READING;
}

static void due_for_reread(const tenter_review *review, work_item *item) {
  tenter_reason_code code = item->reason != NULL ? item->reason->code : TENTER_REASON_NOTE;
  if (code == TENTER_REASON_SETTLING && item->mounting->zero.at != TENTER_NO_TIME) {
    double hours = review->shop->config->settings.settling_hours;
    item->due = WORK_AFTER;
    item->at = item->mounting->zero.at + (tenter_time)(hours * TENTER_HOUR);
  } else if (!doubt_is_urgent(code)) {
    item->due = WORK_BY;
    item->at = horizon_end(review);
  }
}

static work_item item_of(const tenter_review *review, const tenter_review_screen *screen) {
  work_item item = {.screen = screen,
                    .mounting = &review->shop->mountings[screen->mounting],
                    .reason = leading_reason(screen),
                    .due = WORK_NOW,
                    .at = TENTER_NO_TIME};
  if (screen->action == TENTER_ACTION_RESTRETCH)
    due_for_restretch(review, &item);
  else if (screen->action == TENTER_ACTION_REREAD)
    due_for_reread(review, &item);
  return item;
}

static int compare_ids(uint32_t a, uint32_t b) {
  return (a > b) - (a < b);
}

static int by_action(const work_item *a, const work_item *b) {
  return (int)b->screen->action - (int)a->screen->action;
}

static int by_place(const work_item *a, const work_item *b) {
  return compare_ids(a->mounting->is.place, b->mounting->is.place);
}

static int worst_first(const void *a, const void *b) {
  const work_item *x = a, *y = b;
  int order = by_action(x, y);
  if (order == 0)
    order = by_place(x, y);
  return order != 0 ? order : compare_ids(x->screen->screen, y->screen->screen);
}

static int place_first(const void *a, const void *b) {
  const work_item *x = a, *y = b;
  int order = by_place(x, y);
  if (order == 0)
    order = by_action(x, y);
  return order != 0 ? order : compare_ids(x->screen->screen, y->screen->screen);
}

static int place_then_screen(const void *a, const void *b) {
  const work_item *x = a, *y = b;
  int order = by_place(x, y);
  return order != 0 ? order : compare_ids(x->screen->screen, y->screen->screen);
}

static int sheet_order(const void *a, const void *b) {
  const work_item *x = a, *y = b;
  if (x->group != y->group)
    return x->group < y->group ? -1 : 1;
  return place_then_screen(a, b);
}

static void sort(work_item *items, size_t count, int (*compare)(const void *, const void *)) {
  if (count > 1)
    qsort(items, count, sizeof *items, compare);
}

bool work_list_new(const tenter_review *review, tenter_arena *arena, work_list *list) {
  *list = (work_list){tenter_arena_alloc(arena, review->screen_count, sizeof(work_item)), 0};
  if (list->items == NULL)
    return false;
  for (size_t i = 0; i < review->screen_count; i++)
    if (review->screens[i].action != TENTER_ACTION_USE)
      list->items[list->count++] = item_of(review, &review->screens[i]);
  sort(list->items, list->count, worst_first);
  for (size_t i = 0; i < list->count; i++)
    list->items[i].order = i + 1;
  return true;
}

void work_list_by_place(work_list *list) {
  sort(list->items, list->count, place_first);
}

const char *work_due_words(const work_item *item, tenter_form form, tenter_arena *arena) {
  char words[TENTER_WORDS_SIZE];
  switch (item->due) {
  case WORK_BY:
    return tenter_say_fill(arena, TENTER_SAY_DUE_BY, tenter_say_day(form, item->at, words),
                           (const char *)NULL);
  case WORK_AFTER:
    return tenter_say_fill(arena, TENTER_SAY_DUE_AFTER, tenter_say_day(form, item->at, words),
                           (const char *)NULL);
  default:
    return tenter_say_text(TENTER_SAY_DUE_NOW);
  }
}

/* A used screen is due when its latest session would be stale before the horizon. */
static bool grows_stale(const tenter_review *review, const tenter_review_screen *screen) {
  if (!screen->read)
    return true;
  const tenter_session *latest = &review->shop->sessions[screen->latest.session];
  double days = review->shop->config->settings.stale_days;
  return (tenter_time)latest->taken + (tenter_time)(days * TENTER_DAY) < horizon_end(review);
}

static bool belongs_on_sheet(const tenter_review *review, const tenter_review_screen *screen) {
  return screen->action == TENTER_ACTION_REREAD ||
         (screen->action == TENTER_ACTION_USE &&
          (grows_stale(review, screen) || work_reading_matters(review, screen)));
}

bool work_reading_matters(const tenter_review *review, const tenter_review_screen *screen) {
  return screen->turn.value > review->shop->config->settings.risk;
}

const char *work_week_words(const tenter_review *review, int week, tenter_arena *arena) {
  int year, number;
  if (week < 0)
    return "";
  tenter_iso_week(review->plan_start + week * (tenter_time)TENTER_WEEK, &year, &number);
  const char *words = tenter_arena_print(arena, "%04d-W%02d", year, number);
  return words != NULL ? words : "";
}

static int compare_points(const void *a, const void *b) {
  const work_point *x = a, *y = b;
  int order = compare_ids(x->position, y->position);
  return order != 0 ? order : compare_ids(x->direction, y->direction);
}

typedef struct point_set {
  bool *seen; /* by position (the last: none) and direction */
  size_t positions;
} point_set;

static void mark_points(const tenter_review *review, const tenter_session *session,
                        point_set *set) {
  const tenter_readings *readings = &review->shop->tables->readings;
  for (uint32_t i = 0; i < session->count; i++) {
    size_t row = session->first + i, position = readings->position[row];
    if (position > set->positions)
      position = set->positions;
    set->seen[position * TENTER_DIRECTIONS + readings->direction[row]] = true;
  }
}

/* The latest full session of the screen, of this mounting or an earlier one; NULL without any. */
static const tenter_session *latest_full(const tenter_review *review,
                                         const tenter_review_screen *screen) {
  const tenter_shop *shop = review->shop;
  const tenter_screen *is = &shop->screens[screen->screen];
  for (uint32_t m = is->mounting_count; m-- > 0;) {
    const tenter_mounting *mounting = &shop->mountings[is->first_mounting + m];
    for (size_t s = mounting->session_count; s-- > 0;)
      if (shop->sessions[mounting->first_session + s].full)
        return &shop->sessions[mounting->first_session + s];
  }
  return NULL;
}

static void list_points(const point_set *set, work_sheet *sheet) {
  for (size_t i = 0; i < (set->positions + 1) * TENTER_DIRECTIONS; i++) {
    if (!set->seen[i])
      continue;
    size_t position = i / TENTER_DIRECTIONS;
    sheet->points[sheet->point_count++] =
        (work_point){position == set->positions ? TENTER_NO_NAME16 : (uint16_t)position,
                     (tenter_direction)(i % TENTER_DIRECTIONS)};
  }
  if (sheet->point_count > 1)
    qsort(sheet->points, sheet->point_count, sizeof *sheet->points, compare_points);
}

bool work_sheet_new(const tenter_review *review, tenter_arena *arena, work_sheet *sheet) {
  point_set set = {.positions = review->shop->tables->position_count};
  size_t points = (set.positions + 1) * TENTER_DIRECTIONS;
  set.seen = tenter_arena_alloc(arena, points, sizeof *set.seen);
  *sheet = (work_sheet){.items = tenter_arena_alloc(arena, review->screen_count, sizeof(work_item)),
                        .points = tenter_arena_alloc(arena, points, sizeof(work_point))};
  if (set.seen == NULL || sheet->items == NULL || sheet->points == NULL)
    return false;
  for (size_t i = 0; i < review->screen_count; i++) {
    const tenter_review_screen *screen = &review->screens[i];
    if (!belongs_on_sheet(review, screen))
      continue;
    sheet->items[sheet->count] = item_of(review, screen);
    sheet->items[sheet->count++].group =
        2 * (screen->turn.read_week != 0) + !work_reading_matters(review, screen);
    const tenter_session *session = latest_full(review, screen);
    if (session != NULL)
      mark_points(review, session, &set);
  }
  list_points(&set, sheet);
  sort(sheet->items, sheet->count, sheet_order);
  return true;
}

const char *work_point_words(const tenter_tables *tables, work_point point, tenter_arena *arena) {
  static const char *const directions[TENTER_DIRECTIONS] = {"", "warp", "weft"};
  const char *direction = directions[point.direction];
  if (point.position >= tables->position_count)
    return direction[0] != '\0' ? direction : "tension";
  const char *label = tables->positions[point.position].label;
  if (direction[0] == '\0')
    return label;
  const char *words = tenter_arena_print(arena, "%s %s", label, direction);
  return words != NULL ? words : "";
}
