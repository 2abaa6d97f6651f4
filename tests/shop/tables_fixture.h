/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small tables built by hand for the tests of shop. Times are "2026-03-01T10:00" or dates alone. */
#ifndef TEST_SHOP_TABLES_FIXTURE_H
#define TEST_SHOP_TABLES_FIXTURE_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "close.h"
#include "tenter/shop/shop.h"

enum { MOST_READINGS = 4096, MOST_ROWS = 64 };

static inline tenter_when when(const char *text) {
  tenter_when result = {.at = TENTER_NO_TIME};
  if (*text)
    assert_true(tenter_when_parse_iso(tenter_text_of(text), &result));
  return result;
}

static inline uint32_t name(tenter_tables *t, tenter_name_kind kind, const char *text) {
  return *text ? tenter_names_add(t->names[kind], tenter_text_of(text)) : TENTER_NO_NAME;
}

/* Tables with room for everything and files source_count sources called f0.csv, f1.csv ... */
static inline tenter_tables *tables_make(size_t sources) {
  static const char *const files[] = {"f0.csv", "f1.csv", "f2.csv"};
  tenter_tables *t = tenter_tables_new();
  assert_non_null(t);
  assert_int_equal(tenter_readings_reserve(&t->readings, MOST_READINGS, TENTER_READINGS_ALL, NULL),
                   0);
  t->readings.count = 0;
  t->sources = tenter_arena_alloc(t->arena, sources, sizeof *t->sources);
  t->source_count = sources;
  for (size_t i = 0; i < sources; i++)
    t->sources[i].file = files[i];
  t->positions = tenter_arena_alloc(t->arena, 16, sizeof *t->positions);
  t->registers = tenter_arena_alloc(t->arena, MOST_ROWS, sizeof *t->registers);
  t->events = tenter_arena_alloc(t->arena, MOST_ROWS, sizeof *t->events);
  t->checks = tenter_arena_alloc(t->arena, MOST_ROWS, sizeof *t->checks);
  tenter_attributes *attributes = tenter_arena_alloc(t->arena, MOST_ROWS, sizeof *attributes);
  attributes[0] = tenter_attributes_none();
  t->attributes = attributes;
  return t;
}

static inline uint16_t position(tenter_tables *t, const char *label, double x, double y) {
  for (size_t i = 0; i < t->position_count; i++)
    if (strcmp(t->positions[i].label, label) == 0)
      return (uint16_t)i;
  t->positions[t->position_count] =
      (tenter_position){.label = label, .x = x, .y = y, .x_cm = NAN, .y_cm = NAN};
  return (uint16_t)t->position_count++;
}

/* One row with one reading; returns its index. */
static inline size_t add_reading(tenter_tables *t, const char *screen, const char *taken,
                                 uint16_t place, tenter_direction direction, double tension) {
  tenter_readings *r = &t->readings;
  size_t i = r->count++;
  tenter_when at = when(taken);
  r->tension[i] = tension;
  r->taken[i] = (uint32_t)at.at;
  r->screen[i] = name(t, TENTER_NAME_SCREEN, screen);
  r->line[i] = (uint32_t)t->sources[0].rows + 2;
  r->position[i] = place;
  r->meter[i] = r->operator[i] = TENTER_NO_NAME16;
  r->direction[i] = (uint8_t)direction;
  r->flags[i] = at.date_only ? TENTER_READING_DATE_ONLY : 0;
  r->attributes[i] = 0;
  r->note[i] = TENTER_NO_NAME;
  r->row[i] = 0;
  r->file[i] = 0;
  t->sources[0].rows++;
  t->sources[0].accepted++;
  return i;
}

static inline tenter_event *add_event(tenter_tables *t, const char *screen, const char *at,
                                      tenter_event_kind kind) {
  tenter_event *event = &t->events[t->event_count++];
  *event = (tenter_event){.screen = name(t, TENTER_NAME_SCREEN, screen),
                          .at = when(at),
                          .kind = kind,
                          .count = NAN,
                          .lot = TENTER_NO_NAME,
                          .mesh = TENTER_NO_NAME,
                          .station = TENTER_NO_NAME,
                          .operator= TENTER_NO_NAME,
                          .word = TENTER_NO_NAME,
                          .target = NAN,
                          .row = {1, (uint32_t)t->event_count + 1}};
  t->sources[1].rows++;
  t->sources[1].accepted++;
  return event;
}

static inline tenter_register_row *add_register(tenter_tables *t, const char *screen) {
  tenter_register_row *row = &t->registers[t->register_count++];
  *row = (tenter_register_row){.screen = name(t, TENTER_NAME_SCREEN, screen),
                               .attributes = tenter_attributes_none(),
                               .row = {2, (uint32_t)t->register_count + 1}};
  t->sources[2].rows++;
  t->sources[2].accepted++;
  return row;
}

#endif
