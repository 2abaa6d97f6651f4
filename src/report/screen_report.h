/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that tell the story of screens. */
#ifndef TENTER_SRC_REPORT_SCREEN_REPORT_H
#define TENTER_SRC_REPORT_SCREEN_REPORT_H

#include "review_parts.h"
#include "tenter/judge/screen.h"

/* The pictures of one screen; svg empty where it was not drawn, alternative "" where there is none
 * to draw. */
typedef struct screen_picture {
  tenter_text svg;
  const char *alternative;
  int width, height;
} screen_picture;

typedef struct screen_pictures {
  screen_picture map, relaxation, residuals;
} screen_pictures;

typedef struct screen_parts {
  review_parts parts; /* its document and review */
  const tenter_screen_story *const *stories;
  size_t count;
  screen_pictures *pictures; /* one a story; NULL for a text */
  char missing[TENTER_MESSAGE_SIZE];
} screen_parts;

/* Draws the pictures of all stories, by one process. */
void screen_pictures_draw(screen_parts *parts);

/* The document; NULL when memory runs out. pictures: for a page. note: why they are missing; NULL
 * is allowed. */
tenter_document *screen_document(const tenter_review *review,
                                 const tenter_screen_story *const *stories, size_t count,
                                 const tenter_report_options *options, bool pictures, char *note);

#endif
