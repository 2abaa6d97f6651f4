/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A row on its way from cells to a typed record. */
#ifndef TENTER_INTAKE_ROWS_H
#define TENTER_INTAKE_ROWS_H

#include "tenter/words/words.h"
#include "worker.h"

/* What the functions that take rows of each table share: the row at hand and where it goes. */
typedef struct reader {
  const intake *all;
  const input *in;
  chunk *out;
  worker *memory;
  lexicon *words;
  const tenter_text *cells; /* of the row at hand: one for each column, empty where missing */
  size_t cell_count;        /* as they stood */
  const char *row, *row_end;
  bool plain;        /* the row has no quotation marks */
  uint32_t line;     /* within the chunk */
  uint64_t row_hash; /* of what else the row holds, so far */
  bool lean;         /* keep neither texts nor details of problems */
  bool failed;       /* memory ran out */
  int at[ROLE_COUNT_ALL];
} reader;

/* The cell of a role, blanks off; empty where there is none. */
static inline tenter_text cell_trim(tenter_text text) {
  if (text.length == 0)
    return text;
  unsigned char first = (unsigned char)text.start[0];
  unsigned char last = (unsigned char)text.start[text.length - 1];
  if (first > ' ' && first < 0x80 && last > ' ' && last < 0x80)
    return text;
  return tenter_text_trim(text);
}

static inline tenter_text cell_of(const reader *r, column_role role) {
  int at = r->at[role];
  return at < 0 ? (tenter_text){"", 0} : cell_trim(r->cells[at]);
}

static inline const column *column_of(const reader *r, column_role role) {
  return &r->in->layout.columns[r->at[role]];
}

/* ---- problems (problems.c) ---- */

/* What is wrong with a cell: in general, and here. */
typedef struct row_fault {
  tenter_say kind;
  char detail[200];
} row_fault;

/* Rejects the row at hand. kind says what is wrong in general, the entry with its values, which end
 * with NULL, what it is here. */
void tenter__reject(reader *r, tenter_say kind, tenter_say id, ...) __attribute__((sentinel));

/* A note on the row at hand, which stays. */
void tenter__remark(reader *r, tenter_say kind, tenter_say id, ...) __attribute__((sentinel));

#define END ((const char *)NULL)

/* A count or a number as it stands in a message. */
enum { FIGURE_SIZE = 32 };
const char *tenter__figure(double number, char figure[FIGURE_SIZE]);

/* text as it may stand in a message: at most 60 bytes of it, the rest as "...". */
enum { SHOWN_SIZE = 68 };
const char *tenter__shown(tenter_text text, char shown[SHOWN_SIZE]);

/* ---- cells (cells.c) ---- */

bool tenter__row_is_blank(const reader *r);

/* A needed time of the row: rejects it and returns false where it can't be read or can't be true.
 * The time of day may stand in a column of its own. */
bool tenter__take_taken(reader *r, const char *what, tenter_when *when);

/* A number of N/cm within least .. most. On failure *fault says why. */
typedef struct bounds {
  double least, most;
} bounds;
bool tenter__read_scaled(reader *r, tenter_text text, const column *of, bounds within,
                         double *value, row_fault *fault);

/* A needed number, or the row is rejected. */
bool tenter__take_number(reader *r, column_role role, const char *what, bounds within,
                         double *value);

/* Adds an unreadable or unmatched cell to the row's hash. */
void tenter__hash_cell(reader *r, const column *of, tenter_text text);

/* The row's hash over all unmatched cells; 0 where there are none. */
uint32_t tenter__row_hash(reader *r, bool always);

/* The register's columns in the row at hand. */
void tenter__read_attributes(reader *r, tenter_attributes *attributes);

/* The id of a name of the row; TENTER_NO_NAME where the cell is empty. A name that holds a NUL is
 * taken as not given, with a note. */
uint32_t tenter__take_name(reader *r, column_role role, tenter_name_kind kind);
uint32_t tenter__take_mesh(reader *r);

/* Whether a text may be a name (no NUL in it). */
bool tenter__is_name(tenter_text text);

/* Room for one more item; NULL when memory ran out (r->failed is set). */
void *tenter__new_item(reader *r);

/* ---- one row of each table ---- */

void tenter__take_session(reader *r);  /* rows_wide.c */
void tenter__take_register(reader *r); /* rows_small.c */
void tenter__take_event(reader *r);
void tenter__take_check(reader *r);

/* Types the rows that begin in at .. limit. end: how far the buffer goes; whole: the file ends
 * there. Returns where the next row begins; where the last row runs on behind end, its start, with
 * *unfinished set. */
const char *tenter__take_rows(reader *r, const char *at, const char *limit, const char *end,
                              bool whole, bool *unfinished);

/* What only rows.c and rows_wide.c share. */
typedef struct reading_head { /* all of a row of readings but the tension */
  staged base;
  staged_more more;
  setup how;
  tenter_text screen, position, meter, operator;
  tenter_direction direction;
} reading_head;
bool tenter__take_head(reader *r, reading_head *head);
bool tenter__intern_head(reader *r, reading_head *head); /* sets all but base.setup's id */
uint32_t tenter__intern_setup(reader *r, const setup *how);
void tenter__keep_reading(reader *r, const staged *one, const staged_more *more);

#endif
