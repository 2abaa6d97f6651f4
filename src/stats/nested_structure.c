/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What structure the data carry: the steps by which the nested model falls back.
 * Relies on: base/alloc. */
#include <math.h>

#include "nested_internal.h"
#include "tenter/base/alloc.h"

/* What is counted in one walk. "Sloped": more than one u. */
typedef struct tally {
  size_t units, sloped_units;   /* with observations; with a line of their own */
  size_t groups, sloped_groups; /* with observations; whose observations have more than one u */
  size_t blocks, sloped_blocks; /* with such groups */
  size_t spare_units;           /* sum over groups of units - 1 */
  size_t left;                  /* observations beyond a line (or level) a unit */
} tally;

/* Counts one group's units. */
static void tally_group(const tenter_nested_products *p, size_t g, tally *t, bool *some,
                        bool *sloped) {
  size_t units = 0;
  double u = NAN;
  *some = *sloped = false;
  for (size_t i = p->group[g].first; i < nested_group_end(p, g); i++) {
    const double *record = nested_unit(p, i);
    if (p->unit_observations[i] == 0)
      continue;
    bool line = record[UNIT_B] > 0;
    units++;
    t->sloped_units += line;
    t->left += p->unit_observations[i] - 1U - line;
    *sloped = *sloped || line || (!isnan(u) && p->terms == 2 && record[UNIT_MEAN_U] != u);
    u = record[UNIT_MEAN_U];
  }
  *some = units > 0;
  t->units += units;
  t->spare_units += units > 1 ? units - 1 : 0;
}

/* A block's flags. */
enum { SEEN = 1, SEEN_SLOPED = 2 };

static void count(const tenter_nested_products *p, unsigned char *block_seen, tally *t) {
  for (size_t g = 0; g < p->group_count; g++) {
    bool some, sloped;
    tally_group(p, g, t, &some, &sloped);
    unsigned char *seen = &block_seen[p->group[g].block];
    t->groups += some;
    t->sloped_groups += sloped;
    t->blocks += some && !(*seen & SEEN);
    t->sloped_blocks += sloped && !(*seen & SEEN_SLOPED);
    *seen |= (unsigned char)((some ? SEEN : 0) | (sloped ? SEEN_SLOPED : 0));
  }
}

/* At most `most`, with why where it is less. */
static tenter_nested_terms cap(tenter_nested_terms most, bool level, bool line,
                               tenter_nested_reason no_level, tenter_nested_reason *reason) {
  tenter_nested_terms can = !level  ? TENTER_NESTED_NONE
                            : !line ? TENTER_NESTED_LEVEL
                                    : TENTER_NESTED_LINE;
  *reason = can >= most ? TENTER_NESTED_AS_ASKED : level ? TENTER_NESTED_NO_SLOPES : no_level;
  return can < most ? can : most;
}

tenter_status tenter_nested_structure_find(const tenter_nested_products *p,
                                           const tenter_nested_options *options,
                                           tenter_nested_structure *structure,
                                           tenter_error *error) {
  tally t = {0};
  unsigned char *seen = tenter_alloc(p->blocks + 1, 1);
  if (!seen)
    return tenter_fail_memory(error);
  count(p, seen, &t);
  tenter_free(seen);
  tenter_nested_structure s;
  bool alone = t.spare_units == 0 && options->unit_max != TENTER_NESTED_NONE;
  s.group = cap(
      options->group_max, t.groups > t.blocks && !alone, t.sloped_groups >= t.sloped_blocks + 2,
      t.groups > t.blocks ? TENTER_NESTED_ONE_UNIT_EACH : TENTER_NESTED_ONE_GROUP, &s.group_reason);
  bool within = s.group != TENTER_NESTED_NONE;
  size_t above = within ? t.groups : t.blocks;
  size_t sloped_above = within ? t.sloped_groups : t.sloped_blocks;
  s.unit =
      cap(options->unit_max, t.left > 0 && t.units > above, t.sloped_units >= sloped_above + 2,
          t.left > 0 ? TENTER_NESTED_FEW_UNITS : TENTER_NESTED_ONE_READING_EACH, &s.unit_reason);
  *structure = s;
  return TENTER_OK;
}
