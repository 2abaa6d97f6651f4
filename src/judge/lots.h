/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files on lots: lots.c (the list of fast ones), lot_cost.c (what a fast one costs),
 * lot_unpooled.c (the comparison with unpooled means),
 * lot_confounding.c (what always went together). */
#ifndef TENTER_JUDGE_LOTS_H
#define TENTER_JUDGE_LOTS_H

#include "population.h"

/* Loss per decade beyond the mesh's, at the mesh's level, the part that goes with the lot's own
 * level taken out; at one node. */
typedef struct lot_excess {
  double mean, sd;
} lot_excess;
lot_excess judge__lot_excess(const population *p, const tenter_line *mesh,
                             const tenter_line *effect);

/* extra_loss_at_30_days, floor and days of a lot whose losses are filled in. room: for as many
 * numbers as it has mountings. */
void judge__lot_cost(const judge *j, const population_lot *lot, double *room,
                     tenter_review_lot *out);

/* The comparison with unpooled means (raw_p_value to raw_compared) of lots whose raw losses are
 * filled in, those of a mesh together. False when memory runs out. */
bool judge__lot_unpooled(tenter_review_lot *lots, size_t count);

/* confounded_with of all lots: out is in the order of the population. False when memory runs out.
 */
bool judge__lot_confounding(const judge *j, tenter_review_lot *out);

#endif
