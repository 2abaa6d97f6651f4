/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shop as it stood at one moment: screens, their mountings, their sessions, and what holds for
 * each. Made from settled tables, which it borrows and does not change: a review of last week is
 * the same code with an earlier as_of. Knows no files and no statistics. */
#ifndef TENTER_SHOP_SHOP_H
#define TENTER_SHOP_SHOP_H

#include "tenter/shop/tables.h"

typedef enum tenter_mounting_end {
  TENTER_END_NONE,    /* in use */
  TENTER_END_RENEWED, /* the next mounting began */
  TENTER_END_BURST,
  TENTER_END_RETIRED
} tenter_mounting_end;

/* One life of the mesh on a screen. */
typedef struct tenter_mounting {
  uint32_t screen;
  uint32_t ordinal;        /* mountings of this screen before this one (0 for the first known) */
  uint32_t cycle;          /* re-tensions since this mesh was put on (0 for fresh mesh) */
  tenter_event_kind began; /* STRETCHED, RETENSIONED, REMESHED; NOTE where unknown */
  tenter_when stretched;   /* the last stage of the stretch */
  tenter_when
      zero; /* age zero: glued where known, else stretched; at = TENTER_NO_TIME where unknown */
  tenter_time begins,
      ends; /* readings with begins <= taken < ends belong to it; INT64_MIN / INT64_MAX open */
  tenter_mounting_end end;
  tenter_attributes is;   /* what holds for it, resolved by rank (see tenter_shop_new) */
  bool floor_from_target; /* floor is floor_share * target */
  double evenness_point, evenness_spread, warp_weft; /* N/cm, of its mesh */
  size_t first_session, session_count;
  size_t first_event,
      event_count;    /* of shop->tables->events: those from its begin to its end, up to as_of */
  bool stencil;       /* coated since the last reclaim */
  double impressions; /* printed so far */
  uint32_t reclaims, haze_removals;
  tenter_row source; /* what began it; line 0 where nothing says */
} tenter_mounting;

/* All readings of one screen taken together. */
typedef struct tenter_session {
  uint32_t screen, mounting;
  uint32_t first, count;    /* readings [first, first + count) of the settled columns */
  uint32_t taken;           /* of the first reading */
  uint16_t meter, operator; /* TENTER_NO_NAME16 where none or not all the same */
  uint16_t points;          /* distinct (position, direction) */
  bool date_only, full;     /* full: covers the layout usual for the screen */
} tenter_session;

typedef struct tenter_screen {
  uint32_t first_mounting, mounting_count; /* at least 1 */
  uint32_t
      current; /* the mounting in use at as_of, or UINT32_MAX (burst, retired, not yet there) */
} tenter_screen;

/* A thing about the shop that a person should know (contradiction, missing event ...), on the
 * rows it comes from. */
typedef struct tenter_finding {
  uint32_t screen;
  const char *text, *shown; /* for programs; in the reader's form */
  tenter_row rows[2];       /* line 0 where not used */
} tenter_finding;

typedef struct tenter_shop {
  const tenter_tables *tables;
  const tenter_config *config;
  tenter_arena *arena;
  tenter_time as_of;
  size_t reading_count;   /* up to as_of */
  tenter_screen *screens; /* by id of TENTER_NAME_SCREEN; a screen that is not known yet has
                             mounting_count 0 */
  size_t screen_count;
  tenter_mounting *mountings; /* by screen, then time */
  size_t mounting_count;
  tenter_session *sessions; /* by screen, then time */
  size_t session_count;
  tenter_finding *findings;
  size_t finding_count;
  uint64_t *later; /* per source: rows after as_of (accepted, set aside) */
} tenter_shop;

/* The end of the last day that has a reading (or, without readings, the last event or stretch). */
tenter_time tenter_tables_last_day_end(const tenter_tables *tables);

/* Makes the model of settled tables as of as_of. Rules:
 *  - Rows after as_of are set aside.
 *  - Stretch events (stretched, retensioned, remeshed) within 4 h of each other are stages of one
 * mounting; `stretched` of a reading's row or of the register that no event explains (nearer than 4
 * h; same day where either is a date) starts one too. A `glued` event sets the age zero of the
 * mounting it falls into. burst and retired end one; readings after that without a stretch begin a
 * mounting of unknown zero, with a finding. Readings before the first known stretch belong to a
 * mounting of unknown zero.
 *  - What holds for a mounting, first known rank wins: the event that started it; columns in its
 * own readings' rows; the register (current mounting only); [mesh] of the config; [spec]. A
 * re-tension keeps mesh and lot of the mounting before. Values that contradict each other at one
 * rank are taken as unknown (not the next rank's), with a finding that names both rows. floor:
 * floor_share * target where no rank gives one. Limits in the wrong order (floor over target,
 * coarse floor over floor, target over maximum) are kept, with a finding.
 *  - Sessions: readings of one screen with gaps of at most session_gap_hours; dates alone: one day.
 * A new mounting always begins a new session. full: all (position, direction) points of the most
 * frequent set of points among the sessions of the screen (the larger of equals). O(readings); the
 * same for any number of threads. The shop is freed with tenter_shop_free; tables and config must
 * outlive it. */
tenter_status tenter_shop_new(const tenter_tables *tables, const tenter_config *config,
                              tenter_time as_of, tenter_pool *pool, tenter_shop **shop,
                              tenter_error *error);

/* The shop as of an earlier moment: what tenter_shop_new would make of later's tables and config,
 * with sessions taken over from later where they were the same then. later may be freed after. */
tenter_status tenter_shop_earlier(const tenter_shop *later, tenter_time as_of, tenter_pool *pool,
                                  tenter_shop **shop, tenter_error *error);
void tenter_shop_free(tenter_shop *shop);

/* Hours since the mounting's age zero; NaN where that is unknown. */
double tenter_mounting_age_hours(const tenter_mounting *mounting, tenter_time at);

/* Half-width in hours of what is not known about the age at a session: 12 for each date without a
 * time. */
double tenter_mounting_age_doubt_hours(const tenter_mounting *mounting,
                                       const tenter_session *session);

#endif
