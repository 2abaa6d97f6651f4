/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that put the story of one screen into a document: what each needs, and the
 * sections that stand in files of their own. */
#ifndef TENTER_SRC_REPORT_SCREEN_TELLING_H
#define TENTER_SRC_REPORT_SCREEN_TELLING_H

#include "screen_report.h"

/* One story on its way into the document. */
typedef struct screen_telling {
  tenter_document *d;
  const tenter_review *review;
  const tenter_shop *shop;
  const tenter_screen_story *story;
  const tenter_mounting *m;
  const screen_pictures *pictures; /* NULL for a text */
  tenter_block *section;           /* of the screen */
} screen_telling;

/* Words and blocks of it. A time or name that is not known is said to be so; ids are made the
 * screen's own. */
void screen_paragraph(const screen_telling *t, tenter_block *parent, const char *text);
const char *screen_fixed(const screen_telling *t, double value, int decimals);
const char *screen_when(const screen_telling *t, tenter_when time);
const char *screen_name(const screen_telling *t, tenter_name_kind kind, uint32_t id);
tenter_block *screen_subsection(const screen_telling *t, const char *id, tenter_say heading);
tenter_block *screen_table(const screen_telling *t, tenter_block *parent, const char *id,
                           const tenter_table_column *columns, size_t count);
void screen_figure(const screen_telling *t, tenter_block *parent, const screen_picture *picture,
                   tenter_say title);

/* screen_course.c */
void screen_tell_leaving(const screen_telling *t);
void screen_tell_relaxation(const screen_telling *t);
void screen_tell_sessions(const screen_telling *t);

/* screen_laws.c */
const char *screen_law_of_shop(const screen_telling *t); /* by which forecasts go: a sentence */
void screen_tell_laws(const screen_telling *t);

#endif
