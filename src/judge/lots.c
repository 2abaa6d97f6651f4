/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lots that relax fast (methods: lots): the excess of a lot over its mesh at the mesh's level, the
 * chance that it matters, and a list in which the share of false names is held.
 *
 * What always went together in the data can't be told apart by a formula: a lot that shares no
 * meter, or no station, or no fortnight with any other lot of its mesh is named with these
 * candidates and not flagged. */
#include <stdlib.h>

#include "population.h"
#include "relaxation.h"
#include "sets.h"
#include "tenter/base/alloc.h"

enum { FORTNIGHT = 14 * TENTER_DAY, MOST_CONFOUNDERS = 3 };

static const uint32_t nobody = UINT32_MAX, many = UINT32_MAX - 1;

/* ---- excess --------------------------------------------------------------------------------- */

/* By node: loss beyond the mesh's, the part that goes with the level taken out. */
typedef struct excess {
  double mean, sd;
} excess;

static excess excess_of(const population *p, const tenter_line *mesh, const tenter_line *effect) {
  if (p->log) { /* a share of the level already */
    double level = exp(mesh->at_24h);
    return (excess){effect->loss * level, sqrt(effect->var_loss) * level};
  }
  double share = mesh->loss / mesh->at_24h;
  double variance = effect->var_loss - 2 * share * effect->cov + share * share * effect->var_at_24h;
  return (excess){effect->loss - share * effect->at_24h, sqrt(fmax(variance, 0))};
}

static void judge_excess(const judge *j, const population_lot *lot, tenter_review_lot *out) {
  const tenter_review *review = j->review;
  tenter_line mesh = judge__in_tension(
      j->population, judge__mean_line(review->node_count, review->node_weight, lot->mesh_nodes),
      NAN);
  double margin = fmax(j->settings->margin_share * mesh.loss, j->settings->margin_loss);
  double mean = 0, square = 0, fast = 0;
  for (size_t k = 0; k < review->node_count; k++) {
    excess e = excess_of(j->population, &lot->mesh_nodes[k], &lot->effects[k]);
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

/* The plain mean of its mountings' own slopes. */
static double raw_loss(const judge *j, const population_lot *lot) {
  double sum = 0, count = 0;
  for (size_t i = 0; i < lot->count; i++) {
    own_line own = judge__own_line(j, judge__lot_mounting(j, lot, i));
    if (!isnan(own.loss_se)) {
      sum += own.loss;
      count++;
    }
  }
  return count > 0 ? sum / count : NAN;
}

/* ---- what goes together --------------------------------------------------------------------- */

/* Who used what, within one mesh: the one lot, or `many`. */
typedef struct owners {
  uint32_t *meter, *station; /* by id */
  size_t meters, stations;
} owners;

static void own(uint32_t *owner, uint32_t lot) {
  if (*owner == nobody)
    *owner = lot;
  else if (*owner != lot)
    *owner = many;
}

typedef void visit_use(void *context, uint32_t meter, uint32_t station);

/* Visits the meter of each fitted session and the station of each mounting; TENTER_NO_NAME where
 * not known. */
static void visit(const judge *j, const population_lot *lot, visit_use *use, void *context) {
  for (size_t i = 0; i < lot->count; i++) {
    const tenter_mounting *m = judge__lot_mounting(j, lot, i);
    for (size_t k = m->first_session; k < m->first_session + m->session_count; k++) {
      uint16_t meter = j->shop->sessions[k].meter;
      if (j->sessions[k].state & SESSION_FITTED)
        use(context, meter == TENTER_NO_NAME16 ? TENTER_NO_NAME : meter, m->is.station);
    }
  }
}

typedef struct using {
  owners *owners;
  uint32_t lot;
  bool meter_shared, station_shared; /* something of it is another lot's too, or not known */
}
using;

static void note_use(void *context, uint32_t meter, uint32_t station) {
  using *u = context;
  if (meter != TENTER_NO_NAME)
    own(&u->owners->meter[meter], u->lot);
  if (station != TENTER_NO_NAME)
    own(&u->owners->station[station], u->lot);
}

static void check_use(void *context, uint32_t meter, uint32_t station) {
  using *u = context;
  u->meter_shared |= meter == TENTER_NO_NAME || u->owners->meter[meter] == many;
  u->station_shared |= station == TENTER_NO_NAME || u->owners->station[station] == many;
}

/* The stretches of a lot; false where one is not known. */
static bool stretched_between(const judge *j, const population_lot *lot, tenter_time *from,
                              tenter_time *to) {
  *from = INT64_MAX;
  *to = INT64_MIN;
  for (size_t i = 0; i < lot->count; i++) {
    tenter_time at = judge__lot_mounting(j, lot, i)->stretched.at;
    if (at == TENTER_NO_TIME)
      return false;
    *from = at < *from ? at : *from;
    *to = at > *to ? at : *to;
  }
  return lot->count > 0;
}

/* All of it stretched within a fortnight in which nothing else of the mesh was. */
static bool own_fortnight(const judge *j, const population_lot *lots, size_t count, size_t at) {
  tenter_time from, to;
  if (!stretched_between(j, &lots[at], &from, &to) || to - from > FORTNIGHT)
    return false;
  for (size_t i = 0; i < count; i++)
    for (size_t k = 0; i != at && k < lots[i].count; k++) {
      tenter_time other = judge__lot_mounting(j, &lots[i], k)->stretched.at;
      if (other == TENTER_NO_TIME || (other >= to - FORTNIGHT && other <= from + FORTNIGHT))
        return false;
    }
  return true;
}

static bool name_confounders(const judge *j, const population_lot *lots, size_t count, size_t at,
                             const using *u, tenter_review_lot *out) {
  const char **names = tenter_arena_alloc(j->arena, MOST_CONFOUNDERS, sizeof *names);
  if (!names)
    return false;
  out->confounded_with = names;
  if (!u->meter_shared)
    names[out->confounded_count++] = "meter";
  if (!u->station_shared)
    names[out->confounded_count++] = "station";
  if (own_fortnight(j, lots, count, at))
    names[out->confounded_count++] = "fortnight of the stretch";
  return true;
}

/* The lots of one mesh. */
static bool confounded(const judge *j, owners *o, const population_lot *lots, size_t count,
                       tenter_review_lot *out) {
  for (size_t i = 0; i < o->meters; i++)
    o->meter[i] = nobody;
  for (size_t i = 0; i < o->stations; i++)
    o->station[i] = nobody;
  for (size_t i = 0; i < count; i++)
    visit(j, &lots[i], note_use, &(using){.owners = o, .lot = lots[i].lot});
  for (size_t i = 0; i < count && count > 1; i++) {
    using u = {.owners = o, .lot = lots[i].lot};
    if (lots[i].sessions == 0 || !(out[i].probability_fast > 0.1))
      continue; /* nothing is claimed of it */
    visit(j, &lots[i], check_use, &u);
    if (!name_confounders(j, lots, count, i, &u, &out[i]))
      return false;
  }
  return true;
}

static bool find_confounded(const judge *j, tenter_review_lot *out) {
  const population *p = j->population;
  owners o = {.meters = tenter_names_count(j->tables->names[TENTER_NAME_METER]),
              .stations = tenter_names_count(j->tables->names[TENTER_NAME_STATION])};
  o.meter = tenter_alloc(o.meters + 1, sizeof *o.meter);
  o.station = tenter_alloc(o.stations + 1, sizeof *o.station);
  bool done = o.meter && o.station;
  for (size_t from = 0, to; done && from < p->lot_count; from = to) {
    for (to = from; to < p->lot_count && p->lots[to].mesh == p->lots[from].mesh; to++)
      ;
    done = confounded(j, &o, &p->lots[from], to - from, &out[from]);
  }
  tenter_free(o.meter);
  tenter_free(o.station);
  return done;
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

tenter_status judge__lots(judge *j, tenter_error *error) {
  const population *p = j->population;
  tenter_review_lot *lots = tenter_arena_alloc(j->arena, p->lot_count, sizeof *lots);
  if (!lots)
    return tenter_fail_memory(error);
  for (size_t i = 0; i < p->lot_count; i++) {
    double no = NAN;
    lots[i] = (tenter_review_lot){.lot = p->lots[i].lot,
                                  .mesh = p->lots[i].mesh,
                                  .screens = p->lots[i].mountings,
                                  .sessions = p->lots[i].sessions,
                                  .raw_loss_per_decade = raw_loss(j, &p->lots[i])};
    lots[i].loss_per_decade = lots[i].loss_per_decade_se = lots[i].mesh_loss_per_decade = no;
    lots[i].excess = lots[i].excess_se = lots[i].probability_fast = lots[i].q_value = no;
    if (!isnan(p->lots[i].nodes->at_24h))
      judge_excess(j, &p->lots[i], &lots[i]);
  }
  if (!find_confounded(j, lots))
    return tenter_fail_memory(error);
  list_fast(j, lots, p->lot_count);
  j->review->lots = lots;
  j->review->lot_count = p->lot_count;
  return TENTER_OK;
}
