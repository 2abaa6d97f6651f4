/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files that print a certificate:
 *   certificate_document.c  the document: head, screens, refusals, signature
 *   certificate_process.c   its part on how the shop stretched
 *   certificate_words.c     refusals and limits in words, shared with JSON and CSV
 *   certificate_pictures.c  maps, relaxation, probability plots, drawn by one process
 *   certificate_json.c      the data
 *   certificate_files.c     the files and their hashes */
#ifndef TENTER_SRC_REPORT_CERTIFICATE_PARTS_H
#define TENTER_SRC_REPORT_CERTIFICATE_PARTS_H

#include "review_parts.h"
#include "tenter/report/certificate.h"

enum { MOST_CERTIFIED_DRAWN = 100 };

typedef struct cert_picture {
  tenter_text svg;         /* empty where it was not drawn */
  const char *alternative; /* NULL where there is none to draw */
  int width, height;
} cert_picture;

typedef struct cert_parts {
  review_parts parts; /* its document and review */
  const tenter_certificate *c;
  const char *fingerprint;
  cert_picture *maps, *curves; /* one a screen; NULL for a text */
  cert_picture *plots;         /* one a group */
  size_t drawn;                /* screens with pictures */
  char missing[TENTER_MESSAGE_SIZE];
} cert_parts;

/* Draws all pictures. */
void cert_pictures_draw(cert_parts *p);

/* The section on capability, tolerance interval, normality and acceptance. */
void cert_part_process(cert_parts *p);

/* A refusal as a sentence. */
const char *cert_refusal_words(tenter_document *d, const tenter_certificate *c,
                               const tenter_refusal *refusal);
/* All refusals of a screen. */
const char *cert_refusals_words(tenter_document *d, const tenter_certificate *c,
                                const tenter_certificate_screen *screen);

/* Whether all screens of a set are listed, so that its spread is that of what the buyer gets. */
bool cert_has_set(const tenter_certificate *c, const tenter_review_set *set);

/* The whole document; NULL when memory runs out. pictures: for a page. */
tenter_document *cert_document(const tenter_certificate_report *report, const char *fingerprint,
                               bool pictures, char note[TENTER_MESSAGE_SIZE]);

/* The value of "data", into an empty buffer. */
void cert_data_json(const tenter_certificate_report *report, tenter_document *d,
                    tenter_buffer *out);

#endif
