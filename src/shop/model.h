/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files that make the model share: a block of screens is built by one task into arrays of
 * its own (draft), and shop.c strings the drafts together. */
#ifndef TENTER_SHOP_MODEL_H
#define TENTER_SHOP_MODEL_H

#include "tenter/shop/shop.h"
#include "tenter/words/words.h"

enum {
  STAGE_SECONDS = 4 * TENTER_HOUR
}; /* stretch events nearer than this are stages of one mounting */

/* One screen's stretches of the settled tables. */
typedef struct screen_rows {
  uint32_t screen;
  uint32_t reading, reading_end,
      reading_late; /* [reading, reading_end) up to as_of, then later ones */
  uint32_t event, event_end, event_late;
  uint32_t reg, reg_end; /* register rows */
} screen_rows;

/* What a block of screens makes; heap arrays that grow. */
typedef struct draft {
  const tenter_tables *tables;
  const tenter_config *config;
  const tenter_shop *later; /* of the same tables, to take over what was the same then; or NULL */
  tenter_time as_of;
  tenter_arena *arena; /* texts of the findings */
  tenter_mounting *mountings;
  size_t mounting_count;
  tenter_session *sessions;
  size_t session_count, session_room;
  tenter_finding *findings;
  size_t finding_count;
  uint32_t *seen; /* a stamp per (position, direction), to count distinct points */
  uint32_t stamp;
  size_t reading_count;                                      /* in its sessions */
  size_t mountings_before, sessions_before, findings_before; /* in the shop: its place */
  bool failed;                                               /* memory ran out */
} draft;

/* Makes room for one more of an array that grows at the powers of two; false when memory ran out.
 */
bool tenter__grow(void **array, size_t count, size_t size);

/* Adds a finding: an entry of the catalogue with its values. */
void tenter__find(draft *d, uint32_t screen, tenter_row a, tenter_row b, tenter_say id,
                  const tenter_value *values, size_t count);

/* mountings.c: the mountings of one screen, without what holds for them and without sessions. */
void tenter__mountings(draft *d, const screen_rows *rows);

/* sessions.c: the sessions of the screen's mountings [first, mounting_count) of the draft; drops
 * mountings of unknown zero that have none (unless it is the only one); marks full ones. */
void tenter__sessions(draft *d, const screen_rows *rows, size_t first);

/* properties.c: what holds for the mountings [first, mounting_count) of the screen. */
void tenter__properties(draft *d, const screen_rows *rows, size_t first);

#endif
