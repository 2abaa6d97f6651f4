/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the columns of a table are, told from its header row. */
#ifndef TENTER_INTAKE_COLUMNS_H
#define TENTER_INTAKE_COLUMNS_H

#include "places.h"

/* The tables in which a column has a meaning, as a set. */
enum { IN_READINGS = 1, IN_REGISTER = 2, IN_EVENTS = 4, IN_CHECKS = 8 };

typedef enum unit_class { UNIT_NONE, UNIT_TENSION, UNIT_LENGTH, UNIT_COUNT } unit_class;

#define U_TENSION                                                                                  \
  "(?<unit>n/?cm|n/?m|kn/?m|lb[fs]?/in(ch)?|n/cm[2²]|n/cm\\^2|n/in[2²]|newtons?(/cm)?|n)?"
#define NUMBER_WORD "(id|no|nr|num|number|name|code|#)?"

/* X(constant, name, tables, unit, pattern): the pattern is matched against the folded header (lower
 * case; blanks, '_', '.' and what stands in brackets off). */
// clang-format off
#define COLUMN_ROLES(X)                                                                            \
  X(SCREEN, "screen", IN_READINGS | IN_REGISTER | IN_EVENTS, UNIT_NONE,                            \
    "^screens?[-/]?" NUMBER_WORD "$|^(frame|stencil)[-/]?(id|no|nr|number)$")                      \
  X(TAKEN, "taken", IN_READINGS | IN_EVENTS | IN_CHECKS, UNIT_NONE,                                \
    "^(taken|read|measured|tested|checked)?[-/]?(on|at|when|date)$|^(taken|when|day|timestamp)$"   \
    "|^(date|day)[-/&+]?(and)?time$|^time[-/&+]?(and)?date$|^date(of)?(reading|test|check|event)$" \
    "|^(reading|event|check)(date|time|at)$")                                                      \
  X(CLOCK, "time of day", IN_READINGS | IN_EVENTS | IN_CHECKS, UNIT_NONE,                          \
    "^(time|timeofday|clock|hour)$")                                                               \
  X(TENSION, "tension", IN_READINGS | IN_CHECKS, UNIT_TENSION,                                     \
    "^(mesh|screen)?tension(reading|value)?" U_TENSION "$|^(reading|value|measured|measurement)"   \
    "(value)?" U_TENSION "$|^(?<unit>n/cm|n/m|kn/m)$")                                             \
  X(POSITION, "position", IN_READINGS, UNIT_NONE,                                                  \
    "^(measuring)?(pos|position|point|spot)" NUMBER_WORD "$|^placeonscreen$")                      \
  X(X_CM, "x", IN_READINGS, UNIT_LENGTH, "^x(pos|position)?(?<unit>cm|mm|in)?$")                   \
  X(Y_CM, "y", IN_READINGS, UNIT_LENGTH, "^y(pos|position)?(?<unit>cm|mm|in)?$")                   \
  X(DIRECTION, "direction", IN_READINGS, UNIT_NONE,                                                \
    "^(thread)?(dir|direction|axis)$|^threads?$|^warp[-/]?(or|and)?weft$")                         \
  X(METER, "meter", IN_READINGS | IN_CHECKS, UNIT_NONE,                                            \
    "^(tension)?-?(meter|metre|gauge|gage|instrument|device)(used)?" NUMBER_WORD "$|^tensiometer$") \
  X(OPERATOR, "operator", IN_READINGS | IN_EVENTS | IN_CHECKS, UNIT_NONE,                          \
    "^(operator|user|by|who|person|initials|inspector|technician)" NUMBER_WORD "$"                 \
    "|^(measured|read|taken|checked|done|stretched)by$")                                           \
  X(TRIAL, "trial", IN_READINGS, UNIT_NONE, "^(trial|repeat|repetition|replicate|rep)" NUMBER_WORD "$") \
  X(NOTE, "note", IN_READINGS, UNIT_NONE, "^(notes?|comments?|remarks?)$")                         \
  X(MESH, "mesh", IN_READINGS | IN_REGISTER | IN_EVENTS, UNIT_COUNT,                               \
    "^(mesh|fabric|cloth)-?(count|type|spec|id|no|nr|number)?$|^threadcount$")                     \
  X(LOT, "lot", IN_READINGS | IN_REGISTER | IN_EVENTS, UNIT_NONE,                                  \
    "^(mesh|fabric|roll)?-?(lot|batch|roll)" NUMBER_WORD "$")                                      \
  X(STRETCHED, "stretched", IN_READINGS | IN_REGISTER, UNIT_NONE,                                  \
    "^(last)?stretch(ed)?(on|at|date|time)?$|^date(of)?stretch(ed|ing)?$|^tensioned(on|at)$")      \
  X(TARGET, "target", IN_READINGS | IN_REGISTER | IN_EVENTS, UNIT_TENSION,                         \
    "^(target|aim|desired|wanted|required)(tension|value)?" U_TENSION "$")                         \
  X(MINUS, "minus", IN_READINGS | IN_REGISTER, UNIT_TENSION,                                       \
    "^(minus|(tol|tolerance)(minus|lower|below|-)|(minus|lower|-)(tol|tolerance))" U_TENSION "$")  \
  X(PLUS, "plus", IN_READINGS | IN_REGISTER, UNIT_TENSION,                                         \
    "^(plus|(tol|tolerance)(plus|upper|above|\\+)|(plus|upper|\\+)(tol|tolerance))" U_TENSION "$") \
  X(FLOOR, "floor", IN_READINGS | IN_REGISTER, UNIT_TENSION,                                       \
    "^(floor|lowest|min|minimum)(tension)?" U_TENSION "$")                                         \
  X(COARSE_FLOOR, "coarse_floor", IN_READINGS | IN_REGISTER, UNIT_TENSION,                         \
    "^(coarse-?(floor|min|minimum)|(floor|min|minimum)-?coarse)" U_TENSION "$")                    \
  X(MAXIMUM, "maximum", IN_READINGS | IN_REGISTER, UNIT_TENSION,                                   \
    "^(highest|max|maximum)(tension)?" U_TENSION "$")                                              \
  X(STATION, "station", IN_READINGS | IN_REGISTER | IN_EVENTS, UNIT_NONE,                          \
    "^(stretching|stretch)?-?(station|stretcher|machine)" NUMBER_WORD "$")                         \
  X(FRAME, "frame", IN_READINGS | IN_REGISTER, UNIT_NONE, "^frame-?(type|kind)?$")                 \
  X(WIDTH, "width_cm", IN_READINGS | IN_REGISTER, UNIT_LENGTH,                                     \
    "^(frame|screen)?width(?<unit>cm|mm|m|in)?$")                                                  \
  X(HEIGHT, "height_cm", IN_READINGS | IN_REGISTER, UNIT_LENGTH,                                   \
    "^(frame|screen)?(height|length)(?<unit>cm|mm|m|in)?$")                                        \
  X(PLACE, "place", IN_READINGS | IN_REGISTER, UNIT_NONE,                                          \
    "^(place|location|rack|shelf|storage|bin)(place|location)?(id|no|nr|number)?$|^stored(in|at)?$") \
  X(SET, "set", IN_READINGS | IN_REGISTER, UNIT_NONE, "^(screen|colou?r)?-?set" NUMBER_WORD "$")   \
  X(CUSTOMER, "customer", IN_READINGS | IN_REGISTER, UNIT_NONE, "^(customer|client)" NUMBER_WORD "$") \
  X(ORDER, "order", IN_READINGS | IN_REGISTER, UNIT_NONE,                                          \
    "^(sales|work)?-?(order|job)" NUMBER_WORD "$")                                                 \
  X(NEEDED_ON, "needed_on", IN_READINGS | IN_REGISTER, UNIT_NONE,                                  \
    "^needed(on|by|at|for)?$|^due(on|by|date)?$|^dateneeded$|^deadline$")                          \
  X(EVENT, "event", IN_EVENTS, UNIT_NONE, "^(event|action|activity)(type|kind|name)?$")            \
  X(COUNT, "count", IN_EVENTS, UNIT_NONE,                                                          \
    "^(count|impressions?|prints|copies|quantity|qty)$|^(number|no|nr)of(prints|impressions|copies)$") \
  X(NOMINAL, "nominal", IN_CHECKS, UNIT_TENSION,                                                   \
    "^(nominal|reference|standard|plate|certified)(tension|value)?" U_TENSION "$")                 \
  X(INDICATED, "indicated", IN_CHECKS, UNIT_TENSION,                                               \
    "^(indicated|indication|shown|displayed)(tension|value)?" U_TENSION "$")
// clang-format on

#define COLUMN_CONSTANT(constant, ...) ROLE_##constant,
typedef enum column_role {
  COLUMN_ROLES(COLUMN_CONSTANT) ROLE_CELL, /* of a wide table */
  ROLE_NONE,
  ROLE_COUNT_ALL
} column_role;

typedef struct column {
  column_role role;
  const char *header;         /* as it stands, blanks off */
  const char *read_as;        /* "" where nothing matched */
  const char *unit;           /* as it stands; "" */
  double multiply, divide;    /* to N/cm or cm */
  bool misnamed;              /* a unit that misnames N/cm */
  int count_unit;             /* TENTER_COUNT_...: of a mesh column */
  bool own, exact;            /* found by a pattern of the config; by its very name */
  uint32_t hash;              /* of the folded header, for what stands in unmatched cells */
  uint32_t thing_hash;        /* of read_as */
  tenter_direction direction; /* of ROLE_CELL; NONE where not named */
  bool placed;                /* of ROLE_CELL: place holds */
  tenter_position place;      /* its label is the header's */
} column;

/* The header row understood. */
typedef struct layout {
  column *columns;
  size_t count;
  int at[ROLE_COUNT_ALL]; /* the column of each role, or -1 */
  tenter_table_kind table;
  bool wide;
  size_t matched, cells; /* columns that mean something; columns of ROLE_CELL */
  const char *group;     /* equal for headers that are read as the same columns */
  const char *notes[8];  /* sentences about the header */
  size_t note_count;
  bool failed; /* memory ran out on the way */
} layout;

enum { MOST_COLUMNS = 4096 };

/* All patterns, compiled. */
typedef struct columns columns;

/* TENTER_USAGE for a pattern of the config that does not compile (config read checks this, too). */
tenter_status tenter__columns_new(const tenter_config *config, columns **made, tenter_error *error);
void tenter__columns_free(columns *patterns);

/* TENTER_USAGE, with the place, where a pattern of the config is none, or name is no column. */
tenter_status tenter__pattern_check(const char *name, const char *pattern, tenter_error *error);

/* Reads count header cells. TENTER_INPUT where they are no table: *error holds a sentence without
 * the file's name. The layout is in the arena; matched is set in any case, so that delimiters can
 * be compared. */
tenter_status tenter__layout_of(const columns *patterns, const tenter_text *cells, size_t count,
                                const tenter_config *config, const number_layout *numbers,
                                tenter_arena *arena, layout *found, tenter_error *error);

#endif
