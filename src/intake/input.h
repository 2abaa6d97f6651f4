/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One file on its way into the tables: how it is written (dialect), what its columns are (layout),
 * and its chunks, each of which is read and typed by one task.
 *
 * A chunk owns the rows that begin in its stretch of bytes. Where it does not know the true start
 * of its first row it takes the first line end before it for one; when the chunk before ends
 * elsewhere (a line end inside a quoted cell), the chunk is read again from there. */
#ifndef TENTER_INTAKE_INPUT_H
#define TENTER_INTAKE_INPUT_H

#include "columns.h"
#include "encoding.h"
#include "lexicon.h"
#include "slab.h"
#include "tenter/base/file.h"
#include "values.h"

typedef struct dialect {
  encoding encoding;
  char delimiter, newline, mark; /* mark: decimal */
  uint64_t data_start;           /* byte of the file at which the first row begins */
  uint32_t first_line;           /* its line number */
  uint32_t header_line;
} dialect;

/* A reading as a chunk holds it; ids are those of the chunk's lexicon. */
typedef struct staged {
  double tension;
  uint32_t taken, screen, line; /* line: within the chunk, from 0 */
  uint32_t setup;               /* id of a setup << 8 | flags */
} staged;

typedef struct staged_more {
  uint32_t attributes, note, row;
} staged_more;

typedef struct row_problem {
  uint32_t line;
  bool rejected;
  const char *reason, *text; /* text NULL: not kept */
} row_problem;

/* What dates that are not ISO 8601 say about their order: by set of orders that they fit. */
typedef struct order_evidence {
  uint64_t count[ORDERS];
  struct {
    uint32_t line;
    char text[32];
  } first[ORDERS];
} order_evidence;

typedef struct chunk {
  uint64_t begin, end;  /* its stretch of the file */
  uint64_t first, next; /* where its first row began; where the row after its last begins */
  void *items;          /* staged, or rows of the register, events or checks */
  staged_more *more;    /* of staged; NULL where the file has none of it */
  slab *items_in;       /* where items lie; NULL where they are a block of their own */
  size_t count, room;
  uint32_t lines;
  uint64_t rows, accepted, rejected, blank;
  row_problem *problems;
  size_t problem_count, problem_room;
  tenter_arena *arena; /* of the problems' texts */
  order_evidence orders;
  uint64_t marks[2]; /* numbers with a decimal mark: the file's, the other */
  bool not_utf8;     /* a byte that is not ASCII; then, that it is no UTF-8 */
  bool check_utf8;   /* each row, since the chunk is not all UTF-8 and the config insists */
  bool has_nul;
  size_t worker; /* whose lexicon */
  tenter_status status;
  tenter_error error;
} chunk;

typedef struct hasher hasher;

typedef struct input {
  tenter_file *file;
  const char *name;
  dialect dialect;
  layout layout;
  size_t text_start;                 /* of the first row, in the text of the file's head */
  bool forced_encoding, forced_mark; /* by the config */
  unsigned order;                    /* in which dates are read */
  bool forced_order;
  bool has_attributes, has_note, has_row; /* what chunk->more must hold */
  int run_first, run_last; /* columns side by side that make up the setup; run_first -1: none */
  size_t item_size;
  size_t row_bytes, row_items; /* of the sample: bytes a row, at least 1; items a row, at most */
  chunk *chunks;
  size_t chunk_count;
  lexicon **lexicons; /* by worker */
  hasher *hasher;
  unsigned generation; /* counts how often it was read */
  bool discarded;      /* lexicons may hold what no row uses */
  bool again;          /* must be read again */
  char sha256[65];
} input;

/* What all tasks share. */
typedef struct intake {
  const tenter_config *config;
  const tenter_settings *settings;
  tenter_tables *tables;
  tenter_pool *pool;
  tenter_arena *arena;
  columns *patterns;
  number_layout numbers;
  tenter_time least_at, most_at, now_limit; /* what time stamps may be */
  size_t chunk_size;
  input *inputs;
  size_t input_count;
  struct worker **workers;
  size_t worker_count;
} intake;

/* Reads the head of the file and tells dialect and layout; then what the rows there suggest:
 * decimal mark, length of rows, and the order of dates (added to *orders). assumed: the encoding
 * where no byte-order mark says it. TENTER_INPUT with the file's name. */
tenter_status tenter__dialect_find(intake *all, input *in, encoding assumed, order_evidence *orders,
                                   tenter_error *error);

/* Adds evidence from lines that come line_base later. */
void tenter__evidence_add(order_evidence *to, const order_evidence *from, uint32_t line_base);

#endif
