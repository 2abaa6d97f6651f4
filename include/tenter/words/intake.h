/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a row was rejected, and notes on rows, headers and files: a part of the catalogue of words.h.
 * Names of columns are put in as the tables have them. */
#ifndef TENTER_WORDS_INTAKE_H
#define TENTER_WORDS_INTAKE_H

// clang-format off
#define TENTER_WORDS_INTAKE(X) \
  /* in general: what stands where there are too many to keep their texts */ \
  X(KIND_NUL, "a text holds a NUL byte") \
  X(KIND_TIME, "a time can't be read") \
  X(KIND_TIME_RANGE, "a time can't be true") \
  X(KIND_CLOCK, "a time of day can't be read") \
  X(KIND_NO_TIME, "no time") \
  X(KIND_NUMBER, "a number can't be read") \
  X(KIND_MARK, "a number has the other decimal mark") \
  X(KIND_NUMBER_RANGE, "a number can't be true") \
  X(KIND_NO_NUMBER, "a number is missing") \
  X(KIND_FRAME, "a frame is neither glued nor retensionable") \
  X(KIND_DIRECTION, "a direction is neither warp nor weft") \
  X(KIND_TRIAL, "a trial is no number") \
  X(KIND_NO_SCREEN, "no screen") \
  X(KIND_NO_NAME, "a name is missing") \
  X(KIND_COUNT, "a count can't be read") \
  X(KIND_CELLS, "more cells than the header has") \
  X(KIND_UTF8, "a row is not UTF-8") \
  X(KIND_QUOTE, "a quotation mark is never closed") \
  /* of this row: {1} is what stands there, or a column */ \
  X(ROW_NUL, "a text holds a NUL byte") \
  X(ROW_NAME_NUL, "the {1} holds a NUL byte") \
  X(ROW_NAME_NUL_LEFT, "the {1} holds a NUL byte: taken as not given") \
  X(ROW_NOTHING, "no {1}") \
  X(ROW_NO_SCREEN, "no screen") \
  X(ROW_TIME, "'{1}' is no date or time") \
  X(ROW_TIME_ORDER, "'{1}' is no date in the order {2} (time_order in tenter.ini)") \
  X(ROW_TIME_YEAR, "'{1}': the year is outside {2} to {3}") \
  X(ROW_TIME_FUTURE, "'{1}' lies in the future") \
  X(ROW_CLOCK, "'{1}' is no time of day") \
  X(ROW_CLOCK_FUTURE, "the time lies in the future") \
  X(ROW_NUMBER, "'{1}' is no number") \
  X(ROW_MARK_COMMA, "'{1}' has a decimal comma, but the numbers of this file have a decimal point") \
  X(ROW_MARK_POINT, "'{1}' has a decimal point, but the numbers of this file have a decimal comma") \
  X(ROW_NUMBER_RANGE, "{1} {2} is outside what can be true, {3} to {4}") \
  X(ROW_FRAME, "'{1}' is neither glued nor retensionable") \
  X(ROW_DIRECTION, "direction '{1}' is neither warp nor weft") \
  X(ROW_TRIAL, "trial '{1}' is no whole number from 1: taken as not given") \
  X(ROW_COUNT, "count '{1}' is no whole number: taken as not given (write thousands without a mark)") \
  X(ROW_CELLS, \
    "{1} cells, but the header has {2} (a delimiter in a text must stand in quotation marks)") \
  X(ROW_CELLS_TAB, "{1} cells, but the header has {2} (a tab in a text must stand in quotation marks)") \
  X(ROW_UTF8, "the row is not UTF-8") \
  X(ROW_QUOTE, "a quotation mark opens in this row and is not closed") \
  /* a column, and one of those above */ \
  X(ROW_AS_SAID, "{1}") \
  X(ROW_COLUMN, "{1} {2}") \
  X(ROW_COLUMN_LEFT, "{1} {2}: taken as not given") \
  X(ROW_ONE_LEFT, "{1}: {2}: this one reading was left out") \
  X(ROW_NO_READING, "no reading can be used; {1}: {2}") \
  /* headers and files */ \
  X(NOTE_TITLE, "what stands above the header was not read: '{1}'") \
  X(NOTE_TITLES, "what stands above the header was not read: '{1}' ...") \
  X(NOTE_DATE_COLUMN, \
    "the column '{1}' was not read, since it does not say what happened on that date; if the mesh was " \
    "stretched then, call it stretched") \
  X(NOTE_OTHER_COLUMN, "the column '{1}' was not read, since '{2}' is read as {3}") \
  X(NOTE_UNIT, "the column '{1}' is headed {2}, which is no unit of tension: taken as N/cm, not converted") \
  X(NOTE_EVENT, "the event '{1}' is no known word: kept as a note (1 row)") \
  X(NOTE_EVENTS, "the event '{1}' is no known word: kept as a note ({2} rows)") \
  X(NOTE_POSITION, "the position '{1}' is no known place: kept as it stands (1 reading)") \
  X(NOTE_POSITIONS, "the position '{1}' is no known place: kept as it stands ({2} readings)") \
  X(NOTE_NUMBERED, \
    "{1}; say in tenter.ini which places the numbers stand for: [intake] layout = NW, N, NE") \
  X(NOTE_LEAN, "from here on {1} more problems are listed without the text of their rows") \
  X(NOTE_REPEATS, \
    "{1} of {2} rows repeat an earlier row exactly, as a second export of the same readings does; if " \
    "each place was read twice on purpose, add a column trial, or put into tenter.ini: [intake] " \
    "repeats = keep")
// clang-format on

#endif
