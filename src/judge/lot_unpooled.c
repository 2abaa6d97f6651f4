/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The comparison with unpooled means: the plain means of the lots of a mesh, each of its screens'
 * own slopes, held against each other by tests of long standing. A check beside the rule for fast
 * lots, which leans on the mesh and asks whether a difference matters. */
#include "lots.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/compare.h"
#include "tenter/stats/trend.h"

static const double level_of_pairs = 0.05; /* the usual one: common practice */

typedef struct comparing {
  tenter_compared *group;
  double *p, *q;
  size_t *order;
} comparing;

/* The lots of one mesh. */
static void compare(const comparing *c, tenter_review_lot *lots, size_t count) {
  for (size_t i = 0; i < count; i++) {
    double screens = (double)lots[i].raw_screens;
    c->group[i] = (tenter_compared){.count = lots[i].raw_screens,
                                    .mean = lots[i].raw_loss_per_decade,
                                    .sd = lots[i].raw_loss_per_decade_se * sqrt(screens)};
  }
  tenter_compare_groups(c->group, count, level_of_pairs);
  for (size_t i = 0; i < count; i++) {
    lots[i].raw_p_value = c->group[i].p;
    lots[i].raw_pair_p_value = c->group[i].pair;
    lots[i].raw_above = c->group[i].above;
    lots[i].raw_compared = c->group[i].others;
  }
}

static void adjust(const comparing *c, tenter_review_lot *lots, size_t count) {
  for (size_t i = 0; i < count; i++)
    c->p[i] = lots[i].raw_p_value;
  tenter_benjamini_hochberg(c->p, count, c->q, c->order);
  for (size_t i = 0; i < count; i++)
    lots[i].raw_q_value = c->q[i];
}

bool judge__lot_unpooled(tenter_review_lot *lots, size_t count) {
  comparing c = {.group = tenter_alloc(count + 1, sizeof *c.group),
                 .p = tenter_alloc(count + 1, sizeof *c.p),
                 .q = tenter_alloc(count + 1, sizeof *c.q),
                 .order = tenter_alloc(count + 1, sizeof *c.order)};
  bool done = c.group && c.p && c.q && c.order;
  for (size_t from = 0, to; done && from < count; from = to) {
    for (to = from; to < count && lots[to].mesh == lots[from].mesh; to++)
      continue;
    compare(&c, lots + from, to - from);
  }
  if (done)
    adjust(&c, lots, count);
  tenter_free(c.group);
  tenter_free(c.p);
  tenter_free(c.q);
  tenter_free(c.order);
  return done;
}
