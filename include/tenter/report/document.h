/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A report as a tree, before it has a format: sections, paragraphs, tables with typed columns,
 * figures, lists, definitions, cautions. One renderer a format reads it; what is said is decided
 * before, how it looks after. All in one arena: texts handed in are borrowed until the document is
 * freed. When memory runs out a document or its arena is marked failed, later calls do nothing, and
 * the renderers say so: a builder need not check each call. */
#ifndef TENTER_REPORT_DOCUMENT_H
#define TENTER_REPORT_DOCUMENT_H

#include <stdbool.h>
#include <stddef.h>

#include "tenter/base/arena.h"
#include "tenter/base/buffer.h"
#include "tenter/base/civil.h"
#include "tenter/base/form.h"
#include "tenter/base/status.h"

/* What a verdict means; formats give each a colour and a shape, beside its words. */
typedef enum tenter_tone {
  TENTER_TONE_PLAIN,
  TENTER_TONE_GOOD,
  TENTER_TONE_WATCH, /* look again */
  TENTER_TONE_ACT,   /* do something */
  TENTER_TONE_STOP   /* danger, out of use */
} tenter_tone;

typedef enum tenter_column_kind {
  TENTER_CELLS_TEXT,
  TENTER_CELLS_RAW,    /* text as it stood in a file: may be broken anywhere */
  TENTER_CELLS_NUMBER, /* aligned at the decimal point */
  TENTER_CELLS_TIME,
  TENTER_CELLS_VERDICT,
  TENTER_CELLS_BLANK /* to be filled in by hand */
} tenter_column_kind;

/* One cell; which fields hold is the kind of its column. */
typedef struct tenter_cell {
  const char *text; /* TEXT, RAW, VERDICT: the words; NUMBER, TIME: a word in place of the value */
  double number;    /* NUMBER: NaN is not known (an empty cell) */
  int decimals;     /* NUMBER: places shown */
  bool sign;        /* NUMBER: with a plus where positive */
  tenter_tone tone;
  tenter_when when; /* TIME: at = TENTER_NO_TIME is not known */
  double rank;      /* TEXT, VERDICT: sorts by it where it is not NaN */
} tenter_cell;

typedef struct tenter_table_column {
  const char *header;
  tenter_column_kind kind;
  bool nowrap; /* TEXT: keep on one line where there is room */
} tenter_table_column;

typedef struct tenter_block tenter_block;

typedef enum tenter_block_kind {
  TENTER_BLOCK_SECTION,
  TENTER_BLOCK_PARAGRAPH,
  TENTER_BLOCK_LIST,
  TENTER_BLOCK_TABLE,
  TENTER_BLOCK_FIGURES,
  TENTER_BLOCK_DEFINITIONS,
  TENTER_BLOCK_CAUTION,
  TENTER_BLOCK_SIGNATURE, /* room to sign by hand */
  TENTER_BLOCK_KINDS
} tenter_block_kind;

typedef enum tenter_section_style {
  TENTER_SECTION_PLAIN,
  TENTER_SECTION_FOLDED, /* out of the way until asked for */
  TENTER_SECTION_SHEET   /* a page of its own, wide, to be printed and filled in */
} tenter_section_style;

typedef struct tenter_figure {
  const char *title, *caption; /* "" for none */
  const char *alternative;     /* what the picture shows, in words */
  tenter_text svg;             /* one <svg> element, or empty where it could not be drawn */
  int width, height;           /* px */
} tenter_figure;

struct tenter_block {
  tenter_block_kind kind;
  tenter_block *next;
  const char *id;   /* SECTION: of the link to it; TABLE: name; "" for none */
  const char *text; /* SECTION, CAUTION: heading; PARAGRAPH: the text; TABLE: caption; SIGNATURE:
                       the sentence above */
  tenter_section_style style;
  tenter_block *first, *last; /* SECTION: what it holds */
  const char **items; /* LIST, CAUTION: sentences; DEFINITIONS: term, text, term, text; SIGNATURE:
                         what stands under each line ("Date", "Name") */
  size_t item_count, item_room;
  tenter_table_column *columns; /* TABLE */
  size_t column_count;
  tenter_cell *cells; /* TABLE: row by row */
  size_t row_count, row_room;
  tenter_figure *figures; /* FIGURES: small multiples, side by side */
  size_t figure_count, figure_room;
};

/* Whose paper it is: the head of the first page. All zero is none. */
typedef struct tenter_house {
  const char *name, *address; /* NULL or "" for none */
  tenter_text logo;           /* bytes of a PNG or SVG that tenter_logo_check let pass */
  unsigned accent;            /* 0xrrggbb: colour of the title; 0 for none */
} tenter_house;

typedef struct tenter_document {
  tenter_arena *arena;
  const char *title, *subtitle, *language; /* language: BCP 47 */
  const char *run, *program;               /* run id; name and version of what made it */
  const char *header; /* at the head of each page but the first; "": title and subtitle */
  const char *footer; /* at the foot of each page, beside its number; "": program and run */
  const char *pages;  /* the words of the page number: {1} of {2} */
  tenter_time made;   /* the date of the file: as_of, so that the bytes stay the same */
  tenter_house house;
  tenter_form form; /* of numbers and dates */
  tenter_block *first, *last;
  bool failed; /* memory ran out */
} tenter_document;

/* An empty document; NULL when memory runs out. */
tenter_document *tenter_document_new(const char *title, const char *language);
void tenter_document_free(tenter_document *document);
bool tenter_document_failed(const tenter_document *document); /* memory ran out while building */

/* Every builder below adds to parent, or to the document itself where parent is NULL, and returns
 * what it added (NULL when memory ran out; all of them take a NULL block and do nothing). */
tenter_block *tenter_document_section(tenter_document *document, tenter_block *parent,
                                      const char *id, const char *heading,
                                      tenter_section_style style);
tenter_block *tenter_document_paragraph(tenter_document *document, tenter_block *parent,
                                        const char *text);
tenter_block *tenter_document_list(tenter_document *document, tenter_block *parent);
tenter_block *tenter_document_caution(tenter_document *document, tenter_block *parent,
                                      const char *heading);
tenter_block *tenter_document_definitions(tenter_document *document, tenter_block *parent);
tenter_block *tenter_document_figures(tenter_document *document, tenter_block *parent);

/* Lines to sign on, side by side; what stands under each is added by tenter_document_item. */
tenter_block *tenter_document_signature(tenter_document *document, tenter_block *parent,
                                        const char *sentence);

/* A table with columns (copied). */
tenter_block *tenter_document_table(tenter_document *document, tenter_block *parent, const char *id,
                                    const char *caption, const tenter_table_column *columns,
                                    size_t column_count);

/* One more sentence of a LIST or CAUTION, or line of a SIGNATURE; one more pair of DEFINITIONS. */
void tenter_document_item(tenter_document *document, tenter_block *block, const char *text);
void tenter_document_define(tenter_document *document, tenter_block *block, const char *term,
                            const char *text);

/* One more row, all cells empty: column_count cells to be filled in at once, or NULL. */
tenter_cell *tenter_document_row(tenter_document *document, tenter_block *table);

/* Takes out the columns of a table in which every cell is empty (those to be filled in by hand
 * stay): a shop that knows no places needs no column of them. */
void tenter_document_prune(tenter_block *table);

void tenter_document_figure(tenter_document *document, tenter_block *figures, tenter_figure figure);

/* A formatted text in the document's arena; "" when memory runs out. */
const char *tenter_document_print(tenter_document *document, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Cells. */
tenter_cell tenter_cell_text(const char *text);
tenter_cell tenter_cell_number(double number, int decimals);
tenter_cell tenter_cell_time(tenter_when when);
tenter_cell tenter_cell_verdict(const char *words, tenter_tone tone, double rank);

/* How many decimals a value with this standard uncertainty bears: as many as show the first digit
 * of the uncertainty, 0 .. 3; 1 where the uncertainty is not known or 0. */
int tenter_decimals_of(double uncertainty);

/* The value and the decimals of its uncertainty as one text, "17.4 ± 0.3", into the arena. */
const char *tenter_document_uncertain(tenter_document *document, double value, double uncertainty);

/* Plain text, no line over columns (40 .. 400) wide, for a terminal or a mail. */
tenter_status tenter_render_text(const tenter_document *document, int columns, tenter_buffer *out,
                                 tenter_error *error);

/* One HTML page that needs nothing else: style and script are inside, and nothing is loaded. */
tenter_status tenter_render_html(const tenter_document *document, tenter_buffer *out,
                                 tenter_error *error);

#endif
