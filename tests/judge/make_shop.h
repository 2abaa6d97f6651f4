/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shops built in memory, for tests of the judge. Times are hours after Monday 2026-01-05T08:00.
 *
 *   maker *k = maker_new();
 *   maker_screen(k, "S-1", &(screen_made){.mesh = "120-34", .target = 25, ...});   optional
 *   maker_reading(k, "S-1", 48, "C", TENTER_WARP, "M1", 22.5);
 *   tenter_review *r = maker_judge(k, 200);
 *   maker_free(k);
 */
#ifndef TEST_JUDGE_MAKE_SHOP_H
#define TEST_JUDGE_MAKE_SHOP_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>

#include "close.h"
#include "tenter/judge/review.h"

enum { MAKER_START = 1767600000 /* 2026-01-05T08:00:00 */ };

typedef struct maker {
  tenter_tables *tables;
  tenter_config config;
  tenter_spec spec;
  tenter_meter_spec meters[8];
  size_t reading_room, register_room, event_room, check_room;
  uint32_t line;
  tenter_shop *shop;
  tenter_review *review;
  tenter_pool *pool;
  uint64_t random;
} maker;

/* What is known of a screen; 0 and NULL: not given. */
typedef struct screen_made {
  const char *mesh, *lot, *set, *station, *customer, *order;
  double target, minus, plus, floor, coarse_floor, maximum;
  tenter_frame frame;
  double stretched; /* hours; NAN or 0: unknown */
  double needed_on; /* the same */
  bool date_only;
} screen_made;

static inline tenter_time maker_time(double hours) {
  return MAKER_START + llround(hours * 3600);
}

static inline maker *maker_new(void) {
  gsl_set_error_handler_off();
  maker *k = calloc(1, sizeof *k);
  k->tables = tenter_tables_new();
  k->tables->sources = tenter_arena_alloc(k->tables->arena, 1, sizeof *k->tables->sources);
  k->tables->sources[0] = (tenter_source){.file = "readings.csv"};
  k->tables->source_count = 1;
  k->tables->positions = tenter_arena_alloc(k->tables->arena, 64, sizeof *k->tables->positions);
  k->spec = tenter_spec_default();
  k->config = (tenter_config){.file = "",
                              .settings = tenter_settings_default(),
                              .specs = &k->spec,
                              .spec_count = 1,
                              .meters = k->meters};
  k->line = 1;
  k->random = 20260105;
  return k;
}

static inline void maker_free(maker *k) {
  tenter_review_free(k->review);
  tenter_shop_free(k->shop);
  tenter_tables_free(k->tables);
  tenter_pool_free(k->pool);
  free(k);
}

static inline uint32_t maker_name(maker *k, tenter_name_kind kind, const char *text) {
  return text ? tenter_names_add(k->tables->names[kind], tenter_text_of(text)) : TENTER_NO_NAME;
}

/* ---- positions: C, the four corners NW NE SW SE, the four sides N E S W, or x.. elsewhere ---- */

static inline uint16_t maker_position(maker *k, const char *label) {
  tenter_tables *t = k->tables;
  if (!label)
    return TENTER_NO_NAME16;
  for (size_t i = 0; i < t->position_count; i++)
    if (strcmp(t->positions[i].label, label) == 0)
      return (uint16_t)i;
  tenter_position p = {.label = label, .x = 0, .y = 0, .x_cm = NAN, .y_cm = NAN};
  for (const char *c = label; *c; c++) {
    p.x += *c == 'E' ? 0.8 : *c == 'W' ? -0.8 : 0;
    p.y += *c == 'N' ? 0.8 : *c == 'S' ? -0.8 : 0;
  }
  p.kind = *label == 'C'        ? TENTER_PLACE_CENTRE
           : strlen(label) == 2 ? TENTER_PLACE_CORNER
                                : TENTER_PLACE_SIDE;
  t->positions[t->position_count] = p;
  return (uint16_t)t->position_count++;
}

#define MAKER_GROW(array, count, room)                                                             \
  do {                                                                                             \
    if ((count) == (room)) {                                                                       \
      size_t more_ = (room) ? 2 * (room) : 64;                                                     \
      void *grown_ = tenter_arena_alloc(k->tables->arena, more_, sizeof *(array));                 \
      if (count)                                                                                   \
        memcpy(grown_, (array), (count) * sizeof *(array));                                        \
      (array) = grown_;                                                                            \
      (room) = more_;                                                                              \
    }                                                                                              \
  } while (0)

static inline void maker_grow_readings(maker *k) {
  tenter_readings *r = &k->tables->readings, more;
  size_t count = r->count, room = k->reading_room ? 2 * k->reading_room : 1024;
  assert_int_equal(tenter_readings_reserve(&more, room,
                                           TENTER_READINGS_OPERATOR | TENTER_READINGS_TRIAL |
                                               TENTER_READINGS_FILE,
                                           NULL),
                   0);
#define MAKER_COPY(column)                                                                         \
  if (count)                                                                                       \
  memcpy(more.column, r->column, count * sizeof *r->column)
  MAKER_COPY(tension);
  MAKER_COPY(taken);
  MAKER_COPY(screen);
  MAKER_COPY(line);
  MAKER_COPY(file);
  MAKER_COPY(position);
  MAKER_COPY(meter);
  MAKER_COPY(operator);
  MAKER_COPY(trial);
  MAKER_COPY(direction);
  MAKER_COPY(flags);
  tenter_readings_release(r);
  *r = more;
  r->count = count;
  k->reading_room = room;
}

static inline void maker_reading(maker *k, const char *screen, double hours, const char *position,
                                 tenter_direction direction, const char *meter, double tension) {
  tenter_readings *r = &k->tables->readings;
  if (r->count == k->reading_room)
    maker_grow_readings(k);
  size_t i = r->count++;
  r->tension[i] = tension;
  r->taken[i] = (uint32_t)maker_time(hours);
  r->screen[i] = maker_name(k, TENTER_NAME_SCREEN, screen);
  r->line[i] = ++k->line;
  r->file[i] = 0;
  r->position[i] = maker_position(k, position);
  r->meter[i] = meter ? (uint16_t)maker_name(k, TENTER_NAME_METER, meter) : TENTER_NO_NAME16;
  r->operator[i] = TENTER_NO_NAME16;
  r->trial[i] = 0;
  r->direction[i] = (uint8_t)direction;
  r->flags[i] = 0;
  k->tables->sources[0].rows++;
  k->tables->sources[0].accepted++;
}

static inline void maker_date_only(maker *k) { /* the reading just made */
  tenter_readings *r = &k->tables->readings;
  r->taken[r->count - 1] = (uint32_t)(tenter_day_start(r->taken[r->count - 1]) + 12 * TENTER_HOUR);
  r->flags[r->count - 1] = TENTER_READING_DATE_ONLY;
}

static inline void maker_screen(maker *k, const char *screen, const screen_made *made) {
  tenter_tables *t = k->tables;
  MAKER_GROW(t->registers, t->register_count, k->register_room);
  tenter_attributes a = tenter_attributes_none();
  a.mesh = maker_name(k, TENTER_NAME_MESH, made->mesh);
  a.lot = maker_name(k, TENTER_NAME_LOT, made->lot);
  a.set = maker_name(k, TENTER_NAME_SET, made->set);
  a.station = maker_name(k, TENTER_NAME_STATION, made->station);
  a.customer = maker_name(k, TENTER_NAME_CUSTOMER, made->customer);
  a.order = maker_name(k, TENTER_NAME_ORDER, made->order);
  if (made->needed_on > 0)
    a.needed_on = (tenter_when){maker_time(made->needed_on), false};
  a.frame = made->frame;
#define MAKER_GIVEN(field) a.field = made->field > 0 ? made->field : NAN
  MAKER_GIVEN(target);
  MAKER_GIVEN(minus);
  MAKER_GIVEN(plus);
  MAKER_GIVEN(floor);
  MAKER_GIVEN(coarse_floor);
  MAKER_GIVEN(maximum);
  if (made->stretched > 0) {
    a.stretched = (tenter_when){maker_time(made->stretched), made->date_only};
    if (made->date_only)
      a.stretched.at = tenter_day_start(a.stretched.at) + 12 * TENTER_HOUR;
  }
  t->registers[t->register_count++] = (tenter_register_row){
      .screen = maker_name(k, TENTER_NAME_SCREEN, screen), .attributes = a, .row = {0, ++k->line}};
}

static inline tenter_event *maker_event(maker *k, const char *screen, double hours,
                                        tenter_event_kind kind) {
  tenter_tables *t = k->tables;
  MAKER_GROW(t->events, t->event_count, k->event_room);
  t->events[t->event_count] = (tenter_event){.screen = maker_name(k, TENTER_NAME_SCREEN, screen),
                                             .at = {maker_time(hours), false},
                                             .kind = kind,
                                             .count = NAN,
                                             .lot = TENTER_NO_NAME,
                                             .mesh = TENTER_NO_NAME,
                                             .station = TENTER_NO_NAME,
                                             .operator= TENTER_NO_NAME,
                                             .word = TENTER_NO_NAME,
                                             .target = NAN,
                                             .row = {0, ++k->line}};
  return &t->events[t->event_count++];
}

static inline void maker_check(maker *k, const char *meter, double hours, double nominal,
                               double indicated) {
  tenter_tables *t = k->tables;
  MAKER_GROW(t->checks, t->check_count, k->check_room);
  t->checks[t->check_count++] =
      (tenter_meter_check){.meter = maker_name(k, TENTER_NAME_METER, meter),
                           .operator= TENTER_NO_NAME,
                           .at = {maker_time(hours), false},
                           .nominal = nominal,
                           .indicated = indicated,
                           .row = {0, ++k->line}};
}

/* ---- sessions ---- */

static const char *const maker_nine[] = {"C", "N", "NE", "E", "SE", "S", "SW", "W", "NW"};
static const char *const maker_five[] = {"C", "NE", "SE", "SW", "NW"};

static inline double maker_uniform(maker *k) { /* splitmix64: Steele, Lea and Flood 2014 */
  uint64_t x = k->random += 0x9e3779b97f4a7c15U;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebU;
  return ((double)((x ^ (x >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double maker_normal(maker *k) { /* Box and Muller 1958 */
  return sqrt(-2 * log(maker_uniform(k))) * cos(2 * M_PI * maker_uniform(k));
}

/* Five points in both directions, tension with noise of sd, rounded to 0.1 when sd > 0. */
static inline void maker_session(maker *k, const char *screen, double hours, const char *meter,
                                 double tension, double sd) {
  for (int d = TENTER_WARP; d <= TENTER_WEFT; d++)
    for (size_t i = 0; i < 5; i++) {
      double t = tension + (sd > 0 ? sd * maker_normal(k) : 0);
      maker_reading(k, screen, hours, maker_five[i], (tenter_direction)d, meter,
                    sd > 0 ? round(t * 10) / 10 : t);
    }
}

/* ---- judging ---- */

static inline const tenter_review *maker_judge_at(maker *k, double as_of_hours, bool before) {
  tenter_error error = {0};
  if (tenter_tables_settle(k->tables, &k->config.settings, k->pool, &error) ||
      tenter_shop_new(k->tables, &k->config, maker_time(as_of_hours), k->pool, &k->shop, &error) ||
      tenter_review_new(k->shop, before, k->pool, &k->review, &error))
    fail_msg("%s", error.message);
  return k->review;
}

static inline const tenter_review *maker_judge(maker *k, double as_of_hours) {
  return maker_judge_at(k, as_of_hours, false);
}

static inline const tenter_review_screen *maker_find(const maker *k, const char *screen) {
  uint32_t id = tenter_names_find(k->tables->names[TENTER_NAME_SCREEN], tenter_text_of(screen));
  for (size_t i = 0; i < k->review->screen_count; i++)
    if (k->review->screens[i].screen == id)
      return &k->review->screens[i];
  fail_msg("no screen %s in the review", screen);
  return NULL;
}

static inline const tenter_reason *maker_reason(const tenter_review_screen *s,
                                                tenter_reason_code code) {
  for (size_t i = 0; i < s->reason_count; i++)
    if (s->reasons[i].code == code)
      return &s->reasons[i];
  return NULL;
}

/* All reasons of a screen to standard output, for a person who looks. */
static inline void maker_show(const maker *k, const char *screen) {
  const tenter_review_screen *s = maker_find(k, screen);
  printf("%s: %s  now %.2f se %.2f  P %.3f %.3f  even %.3f\n", screen,
         tenter_action_words(s->action), s->forecast.now, s->forecast.now_se,
         s->forecast.below_floor_now, s->forecast.below_floor_at_horizon, s->evenness_probability);
  for (size_t i = 0; i < s->reason_count; i++)
    printf("   [%s %s] %s (%u rows, %u more)\n", tenter_action_code(s->reasons[i].action),
           tenter_reason_word(s->reasons[i].code), s->reasons[i].text, s->reasons[i].source_count,
           s->reasons[i].more_sources);
}

#endif
