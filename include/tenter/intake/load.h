/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From files to tables: every row typed and accounted for. */
#ifndef TENTER_INTAKE_LOAD_H
#define TENTER_INTAKE_LOAD_H

#include "tenter/base/pool.h"
#include "tenter/shop/tables.h"

/* Reads count files, folders (their *.csv, *.tsv and *.txt, not those below, none that begins with
 * a full stop) and "-" (standard input) into fresh tables. The same file by another name is read
 * once, under the name that is first by bytes.
 *
 * Each file is told from its header row: which table it is, its delimiter, encoding, decimal mark,
 * units and date order. What a sample suggests is confirmed by the whole file; where a later row
 * says otherwise the file is read again, so that nothing depends on where the evidence stands.
 *
 * Rows. A row of blanks only is blank, and so is a row of a wide table without any reading. A
 * row is rejected when a cell that its table needs is missing, unreadable or outside what can be
 * true, when its direction is no known word, or when it has more cells than the header. A cell
 * that is not needed and can't be read is taken as not given, with a note on the row; so is one
 * cell of a wide row among others that can be read. On return, in every source, rows = accepted +
 * rejected + blank (tenter_tables_settle moves repetitions from accepted to repeated).
 * Of the first 100,000 problems the row's text is kept, of the others only line and kind.
 *
 * Files that can't be used (missing, no table, no rows, a workbook, an archive, a picture, two
 * columns for one thing, dates that can be read in two ways): TENTER_INPUT, and tables hold
 * nothing that may be used. Memory at most about 60 bytes a reading at any time; the result does
 * not depend on the number of threads (for ids, once settled). */
tenter_status tenter_intake_load(const char *const *paths, size_t count,
                                 const tenter_config *config, tenter_tables *tables,
                                 tenter_pool *pool, tenter_error *error);

/* What can only be said of settled tables: many equal repetitions that look deliberate (more than
 * a fifth of a file's rows, and no `trial` column) become a note on the file. Once, after
 * tenter_tables_settle. */
tenter_status tenter_intake_notes(tenter_tables *tables, tenter_error *error);

#endif
