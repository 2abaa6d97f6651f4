/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `command` calls: reports of a review, of the lots and of a check, as text, as JSON and as a
 * set of files. Nothing is decided here: everything said stands in the review or the tables. All of
 * them give TENTER_FAILED when memory runs out or the sink fails. */
#ifndef TENTER_REPORT_REPORT_H
#define TENTER_REPORT_REPORT_H

#include <stdbool.h>

#include "tenter/base/output.h"
#include "tenter/base/pool.h"
#include "tenter/judge/interval.h"
#include "tenter/judge/screen.h"
#include "tenter/report/document.h"

/* Where a report goes, piece by piece. */
typedef tenter_status tenter_sink_write(void *context, const void *bytes, size_t length,
                                        tenter_error *error);
typedef struct tenter_sink {
  tenter_sink_write *write;
  void *context;
} tenter_sink;

tenter_sink tenter_sink_to_buffer(tenter_buffer *buffer);
tenter_sink tenter_sink_to_output(tenter_output *output); /* the file begun last */

typedef enum tenter_paper { TENTER_PAPER_A4, TENTER_PAPER_LETTER, TENTER_PAPERS } tenter_paper;

typedef struct tenter_report_options {
  const char *version; /* of the program */
  tenter_pool *pool;   /* NULL: one thread; the bytes are the same */
  bool pdf;            /* the set gets NAME.pdf, too */
  tenter_paper paper;
  const char
      *press; /* the program that prints; NULL: tenter-pdf, where tenter_child_find finds it */
  const tenter_finding *slips; /* for `check`: what looks written down wrong (of a review) */
  size_t slip_count;
} tenter_report_options;

/* The pages of a set: NAME.html and, with options->pdf, NAME.pdf. Takes document and frees it; NULL
 * (or one that failed) is memory that ran out. */
tenter_status tenter_report_put_pages(tenter_document *document,
                                      const tenter_report_options *options, tenter_output *output,
                                      const char *name, tenter_error *error);

/* document as a PDF, by the program that prints. TENTER_FAILED with a sentence on what to do when
 * it is missing, fails or dies; then nothing is added to out. The same document gives the same
 * bytes, on one machine with the same fonts and libraries. */
tenter_status tenter_report_pdf(const tenter_document *document,
                                const tenter_report_options *options, tenter_buffer *out,
                                tenter_error *error);

/* The run id: 16 hex digits made of the hashes of the inputs and of the config, the settings,
 * as_of and the version; the same in every file of a set. */
enum { TENTER_RUN_SIZE = 17 };
void tenter_report_run_id(const tenter_shop *shop, const char *version, char run[TENTER_RUN_SIZE]);

/* The review for a terminal, 80 columns: what needs action first, then the summary. */
tenter_status tenter_report_review_text(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error);

/* review.json, to the byte. Written in pieces: no more than a few blocks of screens stand in
 * memory at once. */
tenter_status tenter_report_review_json(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error);

/* The set of files into folder: review.html, screens.csv, lots.csv, worklist.csv,
 * worklist.ics, reading-sheet.csv, rejected.csv and, last, review.json. Whole or not at all. *note
 * (when not NULL) gets a sentence when the pictures had to be left out, "" else. */
tenter_status tenter_report_review_files(const tenter_review *review,
                                         const tenter_report_options *options, const char *folder,
                                         char note[TENTER_MESSAGE_SIZE], tenter_error *error);

/* Lots that relax fast, for a terminal, 80 columns. */
tenter_status tenter_report_lots_text(const tenter_review *review,
                                      const tenter_report_options *options, tenter_sink sink,
                                      tenter_error *error);

/* `meter`: what moved, each meter, studies, budgets. JSON: {"tenter", "run", "as_of", "meters",
 * "shifts", "studies", "budgets"}. Files: meter.html and, last, meter.json. */
tenter_status tenter_report_meter_text(const tenter_review *review,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error);
tenter_status tenter_report_meter_json(const tenter_review *review,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error);
tenter_status tenter_report_meter_files(const tenter_review *review,
                                        const tenter_report_options *options, const char *folder,
                                        tenter_error *error);

/* {"tenter", "run", "as_of", "lots", "populations"}: the same objects as in review.json. */
tenter_status tenter_report_lots_json(const tenter_review *review,
                                      const tenter_report_options *options, tenter_sink sink,
                                      tenter_error *error);

/* lots.html, lots.csv and, last, lots.json into folder; *note as above. */
tenter_status tenter_report_lots_files(const tenter_review *review,
                                       const tenter_report_options *options, const char *folder,
                                       char note[TENTER_MESSAGE_SIZE], tenter_error *error);

/* Control charts of a review with its weeks: for a terminal, 80 columns, with plots; charts.json,
 * with every point. */
tenter_status tenter_report_charts_text(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error);
tenter_status tenter_report_charts_json(const tenter_review *review,
                                        const tenter_report_options *options, tenter_sink sink,
                                        tenter_error *error);

/* charts.html, charts.csv and, last, charts.json into folder; *note as above. */
tenter_status tenter_report_charts_files(const tenter_review *review,
                                         const tenter_report_options *options, const char *folder,
                                         char note[TENTER_MESSAGE_SIZE], tenter_error *error);

/* The limits of all charts that have some into the file path, whole or not at all; *count of them.
 * Where there are none nothing is written. */
tenter_status tenter_report_charts_freeze(const tenter_review *review,
                                          const tenter_report_options *options, const char *path,
                                          size_t *count, tenter_error *error);

/* How long meshes and lots may go, and the plan of the next weeks: text of 80 columns;
 * interval.json to the byte; or interval.html, intervals.csv, plan.csv, worklist.ics and, last,
 * interval.json into folder (note: as above). */
tenter_status tenter_report_interval_text(const tenter_interval_study *study,
                                          const tenter_report_options *options, tenter_sink sink,
                                          tenter_error *error);
tenter_status tenter_report_interval_json(const tenter_interval_study *study,
                                          const tenter_report_options *options, tenter_sink sink,
                                          tenter_error *error);
tenter_status tenter_report_interval_files(const tenter_interval_study *study,
                                           const tenter_report_options *options, const char *folder,
                                           char note[TENTER_MESSAGE_SIZE], tenter_error *error);

/* The stories of screens, in the order given: text of 80 columns; screen.json to the byte; or
 * screen.html and, last, screen.json into folder (note: as above). */
tenter_status tenter_report_screens_text(const tenter_review *review,
                                         const tenter_screen_story *const *stories, size_t count,
                                         const tenter_report_options *options, tenter_sink sink,
                                         tenter_error *error);
tenter_status tenter_report_screens_json(const tenter_review *review,
                                         const tenter_screen_story *const *stories, size_t count,
                                         const tenter_report_options *options, tenter_sink sink,
                                         tenter_error *error);
tenter_status tenter_report_screens_files(const tenter_review *review,
                                          const tenter_screen_story *const *stories, size_t count,
                                          const tenter_report_options *options, const char *folder,
                                          char note[TENTER_MESSAGE_SIZE], tenter_error *error);

/* What was understood of the files, what was not, and what looks wrong in them. */
tenter_status tenter_report_check_text(const tenter_shop *shop,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error);
tenter_status tenter_report_check_json(const tenter_shop *shop,
                                       const tenter_report_options *options, tenter_sink sink,
                                       tenter_error *error);

/* check.html, rejected.csv and, last, check.json into folder. */
tenter_status tenter_report_check_files(const tenter_shop *shop,
                                        const tenter_report_options *options, const char *folder,
                                        tenter_error *error);

#endif
