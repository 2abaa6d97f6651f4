/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lots that relax fast (methods: lots): the excess of a lot over its mesh at the mesh's level, the
 * chance that it matters, and a list in which the share of false names is held. */
#include <stdlib.h>

#include "lots.h"
#include "relaxation.h"
#include "sets.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/moments.h"

/* ---- excess --------------------------------------------------------------------------------- */

lot_excess judge__lot_excess(const population *p, const tenter_line *mesh,
                             const tenter_line *effect) {
  if (p->log) { /* a share of the level already */
    double level = exp(mesh->at_24h);
    return (lot_excess){effect->loss * level, sqrt(effect->var_loss) * level};
  }
  double share = mesh->loss / mesh->at_24h;
  double variance = effect->var_loss - 2 * share * effect->cov + share * share * effect->var_at_24h;
  return (lot_excess){effect->loss - share * effect->at_24h, sqrt(fmax(variance, 0))};
}

static void judge_excess(const judge *j, const population_lot *lot, tenter_review_lot *out) {
  const tenter_review *review = j->review;
  tenter_line mesh = judge__in_tension(
      j->population, judge__mean_line(review->node_count, review->node_weight, lot->mesh_nodes),
      NAN);
  double margin = fmax(j->settings->margin_share * mesh.loss, j->settings->margin_loss);
  double mean = 0, square = 0, fast = 0;
  for (size_t k = 0; k < review->node_count; k++) {
    lot_excess e = judge__lot_excess(j->population, &lot->mesh_nodes[k], &lot->effects[k]);
    double w = review->node_weight[k];
    mean += w * e.mean;
    square += w * (e.mean * e.mean + e.sd * e.sd);
    fast += w * (e.sd > 0 ? tenter_normal_below((e.mean - margin) / e.sd) : e.mean > margin);
  }
  out->mesh_loss_per_decade = mesh.loss;
  out->excess = mean;
  out->excess_se = sqrt(fmax(square - mean * mean, 0));
  out->probability_fast = fast;
  tenter_line own = judge__mean_line(review->node_count, review->node_weight, lot->nodes);
  out->loss_per_decade = mesh.loss + mean;
  out->loss_per_decade_se = sqrt(judge__in_tension(j->population, own, mesh.at_24h).var_loss);
}

/* The plain mean of its mountings' own slopes, and its standard error. */
static void raw_loss(const judge *j, const population_lot *lot, double *room,
                     tenter_review_lot *out) {
  size_t count = 0;
  for (size_t i = 0; i < lot->count; i++) {
    own_line own = judge__own_line(j, judge__lot_mounting(j, lot, i));
    if (!isnan(own.loss_se))
      room[count++] = own.loss;
  }
  tenter_moments slopes = tenter_moments_of(room, count);
  out->raw_screens = count;
  out->raw_loss_per_decade = slopes.mean;
  out->raw_loss_per_decade_se = slopes.sd / sqrt((double)count);
}

/* ---- the list ------------------------------------------------------------------------------- */

static int names_order(const tenter_review_lot *a, const tenter_review_lot *b) {
  if (a->lot != b->lot)
    return a->lot < b->lot ? -1 : 1;
  return (a->mesh > b->mesh) - (a->mesh < b->mesh);
}

/* Falling probability, those without one last. */
static int probability_order(const void *a, const void *b) {
  const tenter_review_lot *x = a, *y = b;
  double p = isnan(x->probability_fast) ? -1 : x->probability_fast;
  double q = isnan(y->probability_fast) ? -1 : y->probability_fast;
  return p != q ? (p > q ? -1 : 1) : names_order(x, y);
}

static int fast_order(const void *a, const void *b) {
  const tenter_review_lot *x = a, *y = b;
  return x->fast != y->fast ? (x->fast ? -1 : 1) : probability_order(a, b);
}

/* The running mean of what may be wrong with the names so far. */
static void list_fast(const judge *j, tenter_review_lot *lots, size_t count) {
  double wrong = 0;
  qsort(lots, count, sizeof *lots, probability_order);
  for (size_t i = 0; i < count; i++) {
    if (isnan(lots[i].probability_fast))
      continue;
    wrong += 1 - lots[i].probability_fast;
    lots[i].q_value = wrong / (double)(i + 1);
    lots[i].fast =
        lots[i].q_value <= j->settings->false_discovery_rate && lots[i].confounded_count == 0;
  }
  qsort(lots, count, sizeof *lots, fast_order);
}

static void judge_lot(const judge *j, const population_lot *lot, double *room,
                      tenter_review_lot *out) {
  double no = NAN;
  *out = (tenter_review_lot){
      .lot = lot->lot, .mesh = lot->mesh, .screens = lot->mountings, .sessions = lot->sessions};
  out->loss_per_decade = out->loss_per_decade_se = out->mesh_loss_per_decade = no;
  out->excess = out->excess_se = out->probability_fast = out->q_value = no;
  out->extra_loss_at_30_days = out->extra_loss_at_30_days_se = out->floor = no;
  out->days_to_floor = out->days_to_floor_early = out->days_to_floor_late = no;
  out->mesh_days_to_floor = out->days_lost = no;
  out->adjusted_excess = out->adjusted_excess_se = no;
  raw_loss(j, lot, room, out);
  if (isnan(lot->nodes->at_24h))
    return;
  judge_excess(j, lot, out);
  judge__lot_cost(j, lot, room, out);
}

/* A lot a task. */
typedef struct judging {
  const judge *j;
  tenter_review_lot *lots;
  bool *failed;
} judging;

static void judge_task(void *context, size_t task, size_t worker) {
  (void)worker;
  const judging *all = context;
  const population *p = all->j->population;
  double *room = tenter_alloc(p->lots[task].count + 1, sizeof *room);
  all->failed[task] = !room;
  if (room)
    judge_lot(all->j, &p->lots[task], room, &all->lots[task]);
  tenter_free(room);
}

static bool judge_lots(const judge *j, tenter_review_lot *lots) {
  const population *p = j->population;
  judging all = {j, lots, tenter_alloc(p->lot_count + 1, sizeof *all.failed)};
  bool done = all.failed != NULL;
  if (done)
    tenter_pool_run(j->pool, p->lot_count, judge_task, &all);
  for (size_t i = 0; done && i < p->lot_count; i++)
    done = !all.failed[i];
  tenter_free(all.failed);
  return done;
}

tenter_status judge__lots(judge *j, tenter_error *error) {
  const population *p = j->population;
  tenter_review_lot *lots = tenter_arena_alloc(j->arena, p->lot_count, sizeof *lots);
  if (!lots || !judge_lots(j, lots))
    return tenter_fail_memory(error);
  for (size_t i = 0; p->adjusted && i < p->lot_count; i++) {
    lot_excess e = judge__lot_excess(p, &p->adjusted[i].mesh, &p->adjusted[i].effect);
    lots[i].adjusted_excess = e.mean;
    lots[i].adjusted_excess_se = e.sd;
  }
  if (!judge__lot_unpooled(lots, p->lot_count) || !judge__lot_confounding(j, lots))
    return tenter_fail_memory(error);
  list_fast(j, lots, p->lot_count);
  j->review->lots = lots;
  j->review->lot_count = p->lot_count;
  return TENTER_OK;
}
