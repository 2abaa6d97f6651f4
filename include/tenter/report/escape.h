/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The doors through which text from data leaves the program: one a format. Whatever the text
 * holds, it comes out as text of that format and never as markup, command or control code. Text
 * that is not well-formed UTF-8 is shown with U+FFFD for what is not. */
#ifndef TENTER_REPORT_ESCAPE_H
#define TENTER_REPORT_ESCAPE_H

#include "tenter/base/buffer.h"
#include "tenter/base/text.h"

/* HTML text and quoted attributes: & < > " ' as references; control characters and characters
 * that turn the direction of writing as U+FFFD; a line end or tab as a blank. */
void tenter_escape_html(tenter_buffer *buffer, const char *string);

/* A terminal: control characters (C0, C1, DEL), line and paragraph separators and characters that
 * turn the direction of writing as U+FFFD; a line end or tab as a blank. */
void tenter_escape_terminal(tenter_buffer *buffer, const char *string);

/* A JSON string with its quotes (RFC 8259). */
void tenter_escape_json(tenter_buffer *buffer, const char *string);

/* One CSV cell (RFC 4180): in quotes where it holds a comma, quote, line end or outer blank, or
 * starts with = + - or @. The bytes are kept: a spreadsheet may still take such a cell for a
 * formula, so import these files as text. */
void tenter_escape_csv(tenter_buffer *buffer, const char *string);

/* A gnuplot string with its quotes: single quotes (nothing is run or replaced within), control
 * characters left out, a single quote as an apostrophe (U+2019). Doubling it, as the manual has it,
 * does not do: gnuplot 5.4 takes '''x' for an empty string and another one. */
void tenter_escape_gnuplot(tenter_buffer *buffer, const char *string);

/* A TEXT value of a calendar (RFC 5545, 3.3.11): \ ; , with a backslash, a line end as \n; other
 * control characters and characters that turn the direction of writing as U+FFFD. Not folded. */
void tenter_escape_calendar(tenter_buffer *buffer, const char *string);

/* The next character of UTF-8 text at *at (before end), stepping over it; U+FFFD, one byte on, for
 * what is not well formed. */
unsigned tenter_escape_next(const char **at, const char *end);

/* Adds a character as UTF-8. */
void tenter_escape_character(tenter_buffer *buffer, unsigned character);

#endif
