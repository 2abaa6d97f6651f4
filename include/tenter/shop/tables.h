/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was read, typed and accounted for, before anyone asks what it means: the readings as
 * columns, the register, events, meter checks, and the account of the files. Plain structs that
 * intake fills; tenter_tables_settle puts them into the one order that does not depend on how they
 * came.
 *
 * Names: every text of the data is interned once in the table of its kind and stands as a uint32
 * (or uint16) id; TENTER_NO_NAME (or TENTER_NO_NAME16) where there is none. */
#ifndef TENTER_SHOP_TABLES_H
#define TENTER_SHOP_TABLES_H

#include <stdbool.h>
#include <stdint.h>

#include "tenter/base/arena.h"
#include "tenter/base/civil.h"
#include "tenter/base/names.h"
#include "tenter/base/pool.h"
#include "tenter/base/status.h"
#include "tenter/shop/settings.h"

#define TENTER_NO_NAME16 UINT16_MAX

typedef enum tenter_name_kind {
  TENTER_NAME_SCREEN,
  TENTER_NAME_METER,
  TENTER_NAME_OPERATOR,
  TENTER_NAME_MESH, /* as given: "120-34", "305/in" */
  TENTER_NAME_LOT,
  TENTER_NAME_STATION,
  TENTER_NAME_PLACE,
  TENTER_NAME_SET,
  TENTER_NAME_CUSTOMER,
  TENTER_NAME_ORDER,
  TENTER_NAME_NOTE, /* notes and unknown event words */
  TENTER_NAME_KINDS
} tenter_name_kind;

typedef enum tenter_direction {
  TENTER_DIRECTION_NONE,
  TENTER_WARP,
  TENTER_WEFT,
  TENTER_DIRECTIONS
} tenter_direction;

typedef enum tenter_place_kind { /* where a position lies */
                                 TENTER_PLACE_UNKNOWN,
                                 TENTER_PLACE_CENTRE,
                                 TENTER_PLACE_CORNER,
                                 TENTER_PLACE_SIDE
} tenter_place_kind;

/* A place on the screen. Labels that mean the same place ("NW", "top left", "r1c1") are one
 * position; its label is the one the shop uses (the first in natural order where it uses several).
 */
typedef struct tenter_position {
  const char *label;
  tenter_place_kind kind;
  double x, y;       /* from the middle, -1 .. 1 to the right and up (half widths); NaN unknown */
  double x_cm, y_cm; /* where given in cm; NaN else */
} tenter_position;

enum {
  TENTER_READING_DATE_ONLY = 1,    /* taken is a date alone */
  TENTER_READING_MISNAMED_UNIT = 2 /* its header misnames the unit; taken as N/cm */
};

/* Columns that are there only where a file has something for them. */
enum {
  TENTER_READINGS_ATTRIBUTES = 1,
  TENTER_READINGS_NOTE = 2,
  TENTER_READINGS_ROW = 4,
  TENTER_READINGS_OPERATOR = 8,
  TENTER_READINGS_TRIAL = 16,
  TENTER_READINGS_FILE = 32,
  TENTER_READINGS_ALL = 63
};

/* One row an element in every column; all columns have count entries. Optional columns are NULL. */
typedef struct tenter_readings {
  size_t count;
  double *tension;      /* N/cm */
  uint32_t *taken;      /* civil seconds since 1970 */
  uint32_t *screen;     /* TENTER_NAME_SCREEN */
  uint32_t *line;       /* 1-based line of its row */
  uint32_t *attributes; /* index into tables->attributes, 0 = none; NULL when no file has any */
  uint32_t *note;       /* TENTER_NAME_NOTE; NULL when no file has any */
  uint32_t *row;        /* 0, or a hash of what else its row holds (unmatched cells; the other
                           readings of a wide row): two readings repeat each other only where it is equal;
                           NULL: all 0 */
  uint16_t *file;       /* index into tables->sources; NULL when all are of only_file */
  uint16_t *position;   /* index into tables->positions, TENTER_NO_NAME16 where not given */
  uint16_t *meter;      /* TENTER_NAME_METER */
  uint16_t *operator;   /* TENTER_NAME_OPERATOR; NULL when no file has any */
  uint16_t *trial;      /* 0 where not given; NULL when no file has any */
  uint8_t *direction;   /* tenter_direction */
  uint8_t *flags;
  uint16_t only_file;
} tenter_readings;

typedef enum tenter_frame {
  TENTER_FRAME_UNKNOWN,
  TENTER_FRAME_GLUED,
  TENTER_FRAME_RETENSIONABLE
} tenter_frame;

/* The columns of the register, wherever they stand; ids TENTER_NO_NAME, numbers NaN, times
 * TENTER_NO_TIME where not given. */
typedef struct tenter_attributes {
  uint32_t mesh, lot, station, place, set, customer, order;
  tenter_frame frame;
  tenter_when stretched, needed_on;
  double target, minus, plus, floor, coarse_floor, maximum; /* N/cm; minus and plus >= 0 */
  double width_cm, height_cm;
} tenter_attributes;

/* A row of an input file, for messages and sources. */
typedef struct tenter_row {
  uint16_t file; /* index into tables->sources */
  uint32_t line;
} tenter_row;

static inline tenter_row tenter_reading_row(const tenter_readings *readings, size_t i) {
  return (tenter_row){readings->file ? readings->file[i] : readings->only_file, readings->line[i]};
}

/* The id of a reading's operator; TENTER_NO_NAME16 where not given. */
static inline uint16_t tenter_reading_operator(const tenter_readings *readings, size_t i) {
  return readings->operator? readings->operator[i] : TENTER_NO_NAME16;
}

/* The trial of a reading from 1; 0 where not given. */
static inline uint16_t tenter_reading_trial(const tenter_readings *readings, size_t i) {
  return readings->trial ? readings->trial[i] : 0;
}

typedef struct tenter_register_row {
  uint32_t screen;
  tenter_attributes attributes;
  tenter_row row;
} tenter_register_row;

/* X(constant, word) */
#define TENTER_EVENT_KINDS(X)                                                                      \
  X(STRETCHED, "stretched")                                                                        \
  X(RETENSIONED, "retensioned")                                                                    \
  X(REMESHED, "remeshed")                                                                          \
  X(GLUED, "glued")                                                                                \
  X(COATED, "coated")                                                                              \
  X(PRINTED, "printed")                                                                            \
  X(RECLAIMED, "reclaimed")                                                                        \
  X(HAZE_REMOVED, "haze_removed")                                                                  \
  X(BURST, "burst")                                                                                \
  X(RETIRED, "retired")                                                                            \
  X(NOTE, "note") /* any other word: kept as a note */
#define TENTER_EVENT_CONSTANT(constant, word) TENTER_EVENT_##constant,
typedef enum tenter_event_kind {
  TENTER_EVENT_KINDS(TENTER_EVENT_CONSTANT) TENTER_EVENT_COUNT
} tenter_event_kind;
const char *tenter_event_word(tenter_event_kind kind);

typedef struct tenter_event {
  uint32_t screen;
  tenter_when at;
  tenter_event_kind kind;
  double count;                                /* impressions; NaN not given */
  uint32_t lot, mesh, station, operator, word; /* word: TENTER_NAME_NOTE of an unknown event */
  double target;
  tenter_row row;
} tenter_event;

typedef struct tenter_meter_check {
  uint32_t meter, operator;
  tenter_when at;
  double nominal, indicated; /* N/cm */
  tenter_row row;
} tenter_meter_check;

typedef enum tenter_table_kind {
  TENTER_TABLE_READINGS,
  TENTER_TABLE_REGISTER,
  TENTER_TABLE_EVENTS,
  TENTER_TABLE_METER_CHECKS
} tenter_table_kind;

/* One input file and what became of its rows: rows = accepted + rejected + blank + repeated. */
typedef struct tenter_source {
  const char *file; /* as found: path, or "standard input" */
  char sha256[65];
  tenter_table_kind table;
  bool wide;
  uint64_t rows, accepted, rejected, blank, repeated;
} tenter_source;

/* Something a person should know about a row (or a file: line 0). Rejected rows are problems with
 * rejected set; all others are notes and warnings. */
typedef struct tenter_problem {
  tenter_row row;
  bool rejected;
  const char *reason; /* a sentence */
  const char *text;   /* the row's text as it stood (UTF-8), or "" */
} tenter_problem;

typedef struct tenter_column {
  uint16_t file;
  const char *header,
      *read_as; /* read_as: "screen", "tension warp centre", "" where nothing matched */
} tenter_column;

/* [meter NAME] of the config; NaN where not given. */
typedef struct tenter_meter_spec {
  const char *name;
  double resolution, expanded_uncertainty, coverage_factor, checked_every_days;
} tenter_meter_spec;

/* [spec] and [mesh NAME]; NaN where not given. */
typedef struct tenter_spec {
  const char *mesh; /* "" for [spec] */
  double target, minus, plus, floor, coarse_floor, maximum;
  double evenness_point, evenness_spread, warp_weft; /* N/cm */
} tenter_spec;

/* [columns] NAME = pattern */
typedef struct tenter_column_pattern {
  const char *name, *pattern;
} tenter_column_pattern;

/* All of the config. */
typedef struct tenter_config {
  const char *file; /* "" where there is none */
  char sha256[65];
  tenter_settings settings;
  tenter_text logo;   /* bytes of [report] logo; empty for none */
  unsigned accent;    /* [report] accent, 0xrrggbb; 0 for none */
  tenter_spec *specs; /* the first is [spec] */
  size_t spec_count;
  tenter_meter_spec *meters;
  size_t meter_count;
  tenter_column_pattern *columns;
  size_t column_count;
} tenter_config;

/* Built-in values of [spec]: evenness_point 1.5, evenness_spread 5, warp_weft 2, all else NaN. */
tenter_spec tenter_spec_default(void);

typedef struct tenter_tables {
  tenter_arena *arena; /* owns the texts and the small arrays; the columns and the problems are heap
                                   blocks of their own */
  tenter_names *names[TENTER_NAME_KINDS];
  tenter_position *positions;
  size_t position_count;
  tenter_readings readings;
  tenter_attributes *attributes; /* [0] is "nothing given"; distinct */
  size_t attribute_count;
  tenter_register_row *registers;
  size_t register_count;
  tenter_event *events;
  size_t event_count;
  tenter_meter_check *checks;
  size_t check_count;
  tenter_source *sources;
  size_t source_count;
  tenter_problem *problems; /* a heap block of its own */
  size_t problem_count;
  tenter_column *columns;
  size_t column_count;
  bool settled;
} tenter_tables;

/* Empty tables with all names tables made; NULL when memory runs out. */
tenter_tables *tenter_tables_new(void);
void tenter_tables_free(tenter_tables *tables);

/* A row of "nothing given". */
tenter_attributes tenter_attributes_none(void);

/* Room for count readings in all columns that are not optional, and in those of `optional` (bits
 * TENTER_READINGS_...). */
tenter_status tenter_readings_reserve(tenter_readings *readings, size_t count, unsigned optional,
                                      tenter_error *error);
void tenter_readings_release(tenter_readings *readings);

/* Puts everything into canonical order, once, after all files are read:
 *  - names in natural order, positions by place and label, sources by name, attributes by content;
 *    all ids renumbered;
 *  - readings by screen, taken, position, direction, trial, meter, operator, tension, then all
 * else, file and line last; register, events and checks likewise;
 *  - unless repeats are kept, exact repetitions of a row removed and counted in its source's
 *    `repeated` (taken off `accepted`): readings equal in everything but file and line, row-wise
 * for wide rows (their `row` hash is equal); register, event and check rows likewise;
 *  - problems by file and line; kinds of x,y positions settled.
 * O(n log k); at most about 12 bytes a reading of scratch. The result is the same for any order of
 * rows and files (but for lines, and for which of two equal rows is kept: the first by source name
 * and line) and for any number of threads. */
tenter_status tenter_tables_settle(tenter_tables *tables, const tenter_settings *settings,
                                   tenter_pool *pool, tenter_error *error);

/* "name:line", in the arena. */
char *tenter_row_print(const tenter_tables *tables, tenter_row row, tenter_arena *arena);

/* Adds a problem (reason is copied into the arena). */
tenter_status tenter_tables_note(tenter_tables *tables, tenter_row row, bool rejected,
                                 const char *reason, const char *text, tenter_error *error);

#endif
