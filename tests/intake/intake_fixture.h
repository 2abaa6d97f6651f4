/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loading files as the program does, and writing what was read as text that can be compared. */
#ifndef TEST_INTAKE_FIXTURE_H
#define TEST_INTAKE_FIXTURE_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../src/intake/load.h"
#include "close.h"
#include "folder.h"
#include "tenter/intake/config.h"
#include "tenter/intake/load.h"

/* One load, settled. */
typedef struct loaded {
  tenter_arena *arena;
  tenter_config config;
  tenter_tables *tables;
  tenter_pool *pool;
  tenter_status status;
  tenter_error error;
} loaded;

static inline loaded load_with(const char *const *paths, size_t count, const char *config,
                               size_t threads, size_t size) {
  loaded l = {.arena = tenter_arena_new(), .tables = tenter_tables_new()};
  l.pool = tenter_pool_new(threads);
  assert_non_null(l.arena);
  assert_non_null(l.tables);
  l.status = tenter_config_read(config, paths, config ? 0 : count, l.arena, &l.config, &l.error);
  if (l.status == TENTER_OK)
    l.status = tenter__intake_load(paths, count, &l.config, l.tables, l.pool, size, &l.error);
  if (l.status == TENTER_OK)
    l.status = tenter_tables_settle(l.tables, &l.config.settings, l.pool, &l.error);
  if (l.status == TENTER_OK)
    l.status = tenter_intake_notes(l.tables, &l.error);
  return l;
}

static inline loaded load_path(const char *path) {
  return load_with(&path, 1, NULL, 2, CHUNK_SIZE);
}

static inline void unload(loaded *l) {
  tenter_tables_free(l->tables);
  tenter_arena_free(l->arena);
  tenter_pool_free(l->pool);
}

/* Fails the test with the message where the load failed. */
static inline void assert_loaded(const loaded *l) {
  if (l->status != TENTER_OK)
    fail_msg("%s", l->error.message);
}

static inline const char *name_at(const tenter_tables *t, tenter_name_kind kind, uint32_t id) {
  return id == TENTER_NO_NAME ? "-" : tenter_names_get(t->names[kind], id);
}

static inline const char *name16_at(const tenter_tables *t, tenter_name_kind kind, uint16_t id) {
  return id == TENTER_NO_NAME16 ? "-" : tenter_names_get(t->names[kind], id);
}

static inline void print_when(tenter_buffer *b, tenter_when when) {
  char text[TENTER_TIME_SIZE];
  tenter_buffer_print(b, " %s", when.at == TENTER_NO_TIME ? "-" : tenter_when_print(when, text));
}

static inline void print_attributes(tenter_buffer *b, const tenter_tables *t,
                                    const tenter_attributes *is) {
  tenter_buffer_print(
      b, " mesh=%s lot=%s station=%s place=%s set=%s customer=%s order=%s frame=%d",
      name_at(t, TENTER_NAME_MESH, is->mesh), name_at(t, TENTER_NAME_LOT, is->lot),
      name_at(t, TENTER_NAME_STATION, is->station), name_at(t, TENTER_NAME_PLACE, is->place),
      name_at(t, TENTER_NAME_SET, is->set), name_at(t, TENTER_NAME_CUSTOMER, is->customer),
      name_at(t, TENTER_NAME_ORDER, is->order), (int)is->frame);
  print_when(b, is->stretched);
  print_when(b, is->needed_on);
  tenter_buffer_print(b, " %g %g %g %g %g %g %g %g", is->target, is->minus, is->plus, is->floor,
                      is->coarse_floor, is->maximum, is->width_cm, is->height_cm);
}

static inline void print_reading(tenter_buffer *b, const tenter_tables *t, size_t i) {
  const tenter_readings *r = &t->readings;
  tenter_when taken = {r->taken[i], (r->flags[i] & TENTER_READING_DATE_ONLY) != 0};
  const char *directions[] = {"-", "warp", "weft"};
  tenter_buffer_print(b, "%u:%u %s", tenter_reading_row(r, i).file, r->line[i],
                      name_at(t, TENTER_NAME_SCREEN, r->screen[i]));
  print_when(b, taken);
  tenter_buffer_print(b, " %s %s %s %s trial=%u flags=%u %.17g",
                      r->position[i] == TENTER_NO_NAME16 ? "-" : t->positions[r->position[i]].label,
                      directions[r->direction[i]], name16_at(t, TENTER_NAME_METER, r->meter[i]),
                      name16_at(t, TENTER_NAME_OPERATOR, tenter_reading_operator(r, i)),
                      tenter_reading_trial(r, i), r->flags[i], r->tension[i]);
  if (r->note)
    tenter_buffer_print(b, " note=%s", name_at(t, TENTER_NAME_NOTE, r->note[i]));
  if (r->row)
    tenter_buffer_print(b, " row=%u", r->row[i]);
  if (r->attributes)
    print_attributes(b, t, &t->attributes[r->attributes[i]]);
  tenter_buffer_byte(b, '\n');
}

static inline void print_event(tenter_buffer *b, const tenter_tables *t, const tenter_event *e) {
  tenter_buffer_print(b, "%u:%u %s", e->row.file, e->row.line,
                      name_at(t, TENTER_NAME_SCREEN, e->screen));
  print_when(b, e->at);
  tenter_buffer_print(
      b, " %s %g lot=%s mesh=%s station=%s operator=%s word=%s %g\n", tenter_event_word(e->kind),
      e->count, name_at(t, TENTER_NAME_LOT, e->lot), name_at(t, TENTER_NAME_MESH, e->mesh),
      name_at(t, TENTER_NAME_STATION, e->station), name_at(t, TENTER_NAME_OPERATOR, e->operator),
      name_at(t, TENTER_NAME_NOTE, e->word), e->target);
}

static inline void print_rows(tenter_buffer *b, const tenter_tables *t) {
  for (size_t i = 0; i < t->readings.count; i++)
    print_reading(b, t, i);
  for (size_t i = 0; i < t->register_count; i++) {
    const tenter_register_row *row = &t->registers[i];
    tenter_buffer_print(b, "%u:%u %s", row->row.file, row->row.line,
                        name_at(t, TENTER_NAME_SCREEN, row->screen));
    print_attributes(b, t, &row->attributes);
    tenter_buffer_byte(b, '\n');
  }
  for (size_t i = 0; i < t->event_count; i++)
    print_event(b, t, &t->events[i]);
  for (size_t i = 0; i < t->check_count; i++) {
    const tenter_meter_check *check = &t->checks[i];
    tenter_buffer_print(b, "%u:%u %s", check->row.file, check->row.line,
                        name_at(t, TENTER_NAME_METER, check->meter));
    print_when(b, check->at);
    tenter_buffer_print(b, " %g %g %s\n", check->nominal, check->indicated,
                        name_at(t, TENTER_NAME_OPERATOR, check->operator));
  }
}

/* All that was read, or the message; release the buffer. */
static inline tenter_buffer print_loaded(const loaded *l) {
  tenter_buffer b = {0};
  const tenter_tables *t = l->tables;
  if (l->status != TENTER_OK) {
    tenter_buffer_print(&b, "status %d: %s", (int)l->status, l->error.message);
    return b;
  }
  for (size_t i = 0; i < t->source_count; i++) {
    const tenter_source *s = &t->sources[i];
    tenter_buffer_print(&b, "%s %s %d%d %llu = %llu + %llu + %llu + %llu\n", s->file, s->sha256,
                        (int)s->table, s->wide, (unsigned long long)s->rows,
                        (unsigned long long)s->accepted, (unsigned long long)s->rejected,
                        (unsigned long long)s->blank, (unsigned long long)s->repeated);
  }
  for (int kind = 0; kind < TENTER_NAME_KINDS; kind++)
    tenter_buffer_print(&b, "%u ", tenter_names_count(t->names[kind]));
  for (size_t i = 0; i < t->position_count; i++)
    tenter_buffer_print(&b, "%s@%g,%g ", t->positions[i].label, t->positions[i].x,
                        t->positions[i].y);
  tenter_buffer_byte(&b, '\n');
  print_rows(&b, t);
  for (size_t i = 0; i < t->problem_count; i++)
    tenter_buffer_print(&b, "%u:%u %s %s [%s]\n", t->problems[i].row.file, t->problems[i].row.line,
                        t->problems[i].rejected ? "rejected" : "note", t->problems[i].reason,
                        t->problems[i].text);
  return b;
}

/* Writes bytes to a file of the test's folder. */
static inline void write_bytes(const char *path, const void *bytes, size_t length) {
  FILE *file = fopen(path, "wb");
  assert_non_null(file);
  assert_int_equal(fwrite(bytes, 1, length, file), length);
  assert_int_equal(fclose(file), 0);
}

/* A file's account and problems, as the tests state them: "rows accepted rejected blank repeated"
 * and then "line: reason" for each problem, rejected ones with "!" before. */
static inline tenter_buffer account_of(const loaded *l) {
  tenter_buffer b = {0};
  const tenter_tables *t = l->tables;
  if (l->status != TENTER_OK) {
    tenter_buffer_text(&b, l->error.message);
    return b;
  }
  for (size_t i = 0; i < t->source_count; i++)
    tenter_buffer_print(
        &b, "%llu %llu %llu %llu %llu\n", (unsigned long long)t->sources[i].rows,
        (unsigned long long)t->sources[i].accepted, (unsigned long long)t->sources[i].rejected,
        (unsigned long long)t->sources[i].blank, (unsigned long long)t->sources[i].repeated);
  for (size_t i = 0; i < t->problem_count; i++)
    tenter_buffer_print(&b, "%s%u: %s\n", t->problems[i].rejected ? "!" : "",
                        t->problems[i].row.line, t->problems[i].reason);
  return b;
}

#endif
