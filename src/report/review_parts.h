/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of the review as a document; each adds one section (or nothing where there is nothing
 * to say) to parts->document. */
#ifndef TENTER_SRC_REPORT_REVIEW_PARTS_H
#define TENTER_SRC_REPORT_REVIEW_PARTS_H

#include "tenter/report/document.h"
#include "tenter/report/report.h"
#include "tenter/words/words.h"
#include "work.h"

enum {
  MOST_PICTURES = 12,
  MOST_MAPS = 6,
  MOST_STATION_MAPS = 9,
  MOST_ROWS = 2000,
  MOST_PROBLEMS = 60
};

/* A picture of one screen. */
typedef struct review_picture {
  const tenter_review_screen *screen;
  tenter_text svg;         /* empty where it was not drawn */
  const char *alternative; /* the same in words */
} review_picture;

enum { WEEK_PICTURES = 2, WEEK_WIDTH = 448 };

/* The average map of a station. */
typedef struct station_picture {
  const tenter_review_station *station;
  tenter_text svg;
  const char *alternative;
} station_picture;

typedef struct review_pictures {
  review_picture relaxation[MOST_PICTURES], maps[MOST_MAPS];
  station_picture stations[MOST_STATION_MAPS];
  size_t relaxation_count, map_count, station_count;
  tenter_text weeks[WEEK_PICTURES];
  char missing[TENTER_MESSAGE_SIZE]; /* why none was drawn; "" */
} review_pictures;

enum { PICTURE_WIDTH = 216, PICTURE_HEIGHT = 150, MAP_WIDTH = 216, MAP_HEIGHT = 150 };

enum { MOST_MESHES = 12, MOST_LOTS_DRAWN = 12 };

/* The lots of one mesh. */
typedef struct lot_picture {
  uint32_t name; /* of the mesh */
  int height;
  tenter_text svg;
  const char *alternative;
} lot_picture;

typedef struct lot_pictures {
  lot_picture mesh[MOST_MESHES];
  size_t count;
  char missing[TENTER_MESSAGE_SIZE];
} lot_pictures;

typedef struct review_parts {
  tenter_document *document;
  const tenter_review *review;
  const char *version;
  work_list work;
  work_sheet sheet;
  review_pictures pictures;
  lot_pictures lots;
} review_parts;

/* The first lines: how many screens need what. */
void part_headline(review_parts *parts);
void part_todo(review_parts *parts, size_t most); /* rows */
void part_week(review_parts *parts, bool brief);
void part_weeks(review_parts *parts, tenter_block *section);
void part_charts(review_parts *parts, bool brief);
void part_sets(review_parts *parts);
void part_relaxation(review_parts *parts);
void part_evenness(review_parts *parts);
void part_lots(review_parts *parts, bool brief);
void part_meshes(review_parts *parts);
void part_meters(review_parts *parts, bool brief);
void part_stations(review_parts *parts, bool brief);
void part_screens(review_parts *parts);
void part_missing(review_parts *parts);

/* Parts of the page on lots; most: rows. */
void part_lots_headline(review_parts *parts);
void part_lot_pictures(review_parts *parts);
void part_lot_costs(review_parts *parts, size_t most);
void part_lot_check(review_parts *parts, size_t most);
void part_lot_unpooled(review_parts *parts, size_t most);
void part_population(review_parts *parts, size_t most);
void part_lot_terms(review_parts *parts);

/* What the review and the page on lots have in common. */
const char *part_lots_lead(review_parts *parts);
void part_lot_table(review_parts *parts, tenter_block *section, size_t most);
void part_mesh_table(review_parts *parts, tenter_block *section);

/* What the review and the page on meters have in common. */
void part_shifts(review_parts *parts, tenter_block *section);
void part_meter_table(review_parts *parts, tenter_block *section, bool brief);

void part_cautions(review_parts *parts);
void part_sheet(review_parts *parts);

/* Picks the screens that matter and draws them, all by one process. */
void pictures_draw(review_parts *parts);
/* Draws the lots of each mesh: parts->lots. */
void lot_pictures_draw(review_parts *parts);

/* The whole review (HTML, later PDF), and its first page (text); NULL when memory runs out. */
tenter_document *review_document_whole(const tenter_review *review,
                                       const tenter_report_options *options,
                                       char note[TENTER_MESSAGE_SIZE]);
tenter_document *review_document_brief(const tenter_review *review,
                                       const tenter_report_options *options);

/* Parts that need no more than the shop: shared with `check`. */
void part_files(tenter_document *document, const tenter_shop *shop);
void part_quality(tenter_document *document, const tenter_shop *shop, const tenter_finding *slips,
                  size_t slip_count, size_t most);
void part_provenance(tenter_document *document, const tenter_shop *shop, const char *version);
/* What it is made of: program, run, config and files with their hashes, into a DEFINITIONS. */
void part_sources(tenter_document *document, tenter_block *list, const tenter_shop *shop,
                  const char *version);

/* A document with title, run and program set; NULL when memory runs out. */
tenter_document *document_of(const tenter_shop *shop, tenter_say title, const char *version);

/* Small helpers. */
const char *part_name(const tenter_review *review, tenter_name_kind kind, uint32_t id);
const char *part_count(tenter_document *document, size_t count);
/* A number with that many decimals; "–" where it is not known. */
const char *part_fixed(tenter_document *document, double value, int decimals);
/* "a, b, c" */
const char *part_joined(tenter_document *document, const char *const *texts, size_t count);
tenter_tone part_tone(tenter_action action);
tenter_cell part_action_cell(tenter_action action);
tenter_cell part_percent(double share);
/* The text of a reason (NULL: ""), without the caution that ends it: a report says that once. */
const char *part_reason(tenter_document *document, const tenter_reason *reason);
void part_say(tenter_document *document, tenter_block *parent, tenter_say id);

#endif
