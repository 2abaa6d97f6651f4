/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long a new mounting of a mesh or a lot may go (methods: re-stretch interval).
 *
 * A mounting yet to be made has the line mean + deviation. The mean line is known with an error;
 * deviations scatter with the variance components, of which the nodes tell what is known. What is
 * asked of all of it together is a prediction: the chance that the next mounting is below its floor
 * at an age (stats/crossing.h on the mixture of the nodes), and the age at which that reaches the
 * risk.
 *
 * The true age at which the risk is reached is another matter: with the mean line and the
 * components known it is where mean(u) - z sd(u) = floor, z the normal score of the risk. It has
 * come by u with the chance that mean(u) < floor + z sd(u), which at each node is a normal's. So
 * the distribution of that age is had in closed form; as for a tolerance bound, what single
 * mountings do widens the bound and what is not known of their mean widens the interval. */
#include "interval_study.h"

#include "tenter/base/alloc.h"
#include "tenter/stats/crossing.h"
#include "tenter/stats/moments.h"

enum { MOST_NODES = 64, STEPS = 64 };

static const double most_hours = 24 * 3652.5; /* 10 years, as for screens */
static const double inner_share = 0.05;       /* each side of a 90 % interval */
static const double least_start_hours = 1;    /* where the settling time is set to nothing */

double judge__interval_start(const judge *j) {
  return fmax(j->settings->settling_hours, least_start_hours);
}

/* ---- prediction ----------------------------------------------------------------------------- */

static void predictive(const judge *j, const interval_inner *of,
                       tenter_crossing_line lines[MOST_NODES]) {
  for (size_t k = 0; k < j->review->node_count; k++) {
    const tenter_line *mean = &of->nodes[k].mean, *spread = &of->nodes[k].spread;
    lines[k] = (tenter_crossing_line){of->weight[k],
                                      judge__interval_start(j),
                                      mean->at_24h,
                                      mean->loss,
                                      mean->var_at_24h + spread->var_at_24h,
                                      mean->var_loss + spread->var_loss,
                                      mean->cov + spread->cov,
                                      j->population->node_clock[k]};
  }
}

double judge__interval_below(const judge *j, const interval_inner *of, double floor,
                             double age_hours) {
  tenter_crossing_line lines[MOST_NODES];
  predictive(j, of, lines);
  return tenter_crossing_probability(lines, j->review->node_count, scale_to(j->population, floor),
                                     fmax(0, age_hours - judge__interval_start(j)));
}

double judge__interval_days(const judge *j, const interval_inner *of, double floor, double risk) {
  tenter_crossing_line lines[MOST_NODES];
  predictive(j, of, lines);
  double most = most_hours - judge__interval_start(j);
  double hours = tenter_crossing_time(lines, j->review->node_count, scale_to(j->population, floor),
                                      risk, most, NULL);
  if (hours <= 0)
    return 0;
  return isfinite(hours) ? (hours + judge__interval_start(j)) / 24 : NAN;
}

/* ---- what is not known of it ---------------------------------------------------------------- */

static double sd_at(const tenter_line *line, double u) {
  return sqrt(fmax(0, line->var_at_24h - 2 * u * line->cov + u * u * line->var_loss));
}

double judge__interval_reached(const judge *j, const interval_inner *of, double floor, double risk,
                               double age_hours) {
  double limit = scale_to(j->population, floor), z = -tenter_normal_quantile(risk), reached = 0;
  for (size_t k = 0; k < j->review->node_count; k++) {
    double u = tenter_clock_u(j->population->node_clock[k], age_u(age_hours));
    const tenter_line *mean = &of->nodes[k].mean;
    double off = limit + z * sd_at(&of->nodes[k].spread, u) - (mean->at_24h - mean->loss * u);
    double sd = sd_at(mean, u);
    reached += of->weight[k] * (sd > 0 ? tenter_normal_below(off / sd) : off > 0);
  }
  return reached;
}

double judge__interval_share(const judge *j, const interval_inner *of, double floor, double p,
                             double age_hours) {
  double low = 1e-9, high = 1 - 1e-9; /* the share is over s with a chance that falls with s */
  for (int i = 0; i < 40; i++) {
    double middle = 0.5 * (low + high);
    *(judge__interval_reached(j, of, floor, middle, age_hours) > 1 - p ? &low : &high) = middle;
  }
  return 0.5 * (low + high);
}

/* The first age by which the risk is reached with chance p, in days; 0 where it is at the start,
 * NaN where not within 10 years. In steps even in log age, then by halving. */
static double reached_days(const judge *j, const interval_inner *of,
                           const tenter_review_interval *interval, double p) {
  double first = log(judge__interval_start(j)), step = (log(most_hours) - first) / STEPS;
  double floor = interval->floor, risk = interval->risk;
  for (int i = 0; i <= STEPS; i++) {
    double high = first + step * i, low = high - step;
    if (judge__interval_reached(j, of, floor, risk, exp(high)) < p)
      continue;
    for (int k = 0; k < 30 && i > 0; k++) {
      double middle = 0.5 * (low + high);
      *(judge__interval_reached(j, of, floor, risk, exp(middle)) < p ? &low : &high) = middle;
    }
    return i == 0 ? 0 : exp(high) / 24;
  }
  return NAN;
}

/* ---- weights of the nodes ------------------------------------------------------------------- */

/* The nodes are weighted anew, so that the stated risk comes true.
 *
 * Their priors are flat in each standard deviation near 0; that of a level and a loss together, as
 * they meet at an age, is then about in proportion to itself. Such a prior costs degrees of freedom
 * where lots are few: a flat one alone gives 6 lots Student's t with 4 degrees of freedom in place
 * of 5, so that 3 % come true where 5 % are stated. A prior of 1 / sd gives a prediction its stated
 * risk (probability matching: Datta, Mukerjee, Ghosh, Sweeting 2000, Ann. Statist. 28:1414, from
 * memory). The sd that lots tell is that of their mean lines, which holds a share of the scatter of
 * mountings too and is never 0; dividing by its square takes the nodes' prior to that one.
 * (tools/bench simulate-interval shows what comes true.) */
static void weigh(const judge *j, interval_inner *of, bool any_lot, double floor) {
  const population *p = j->population;
  double sum = 0, a_lot = (double)p->mountings / (double)p->groups;
  size_t count = j->review->node_count;
  for (size_t k = 0; k < count; k++)
    of->weight[k] = j->review->node_weight[k];
  double days = judge__interval_days(j, of, floor, j->settings->risk);
  double decades = age_u(fmax(judge__interval_start(j), isnan(days) ? most_hours : 24 * days));
  for (size_t k = 0; k < count; k++) {
    double u = tenter_clock_u(p->node_clock[k], decades);
    double own = squared(sd_at(&p->among_mountings[k], u)), lots = sd_at(&p->among_lots[k], u);
    double told = any_lot ? squared(lots) + own / a_lot : own;
    sum += of->weight[k] /= fmax(told, 1e-12);
  }
  for (size_t k = 0; k < count; k++)
    of->weight[k] /= sum;
}

/* ---- one interval --------------------------------------------------------------------------- */

/* Takes its lines; it is worked out later. Nothing is added where nothing is known. False when
 * memory runs out. */
static bool add_interval(judge *j, uint32_t slot, const population_lot *lot, double floor) {
  tenter_review *review = j->review;
  new_mounting *nodes = tenter_arena_alloc(j->arena, review->node_count, sizeof *nodes);
  double *weight = tenter_arena_alloc(j->arena, review->node_count, sizeof *weight);
  if (!nodes || !weight)
    return false;
  for (size_t k = 0; k < review->node_count; k++)
    if (!judge__new_mounting(j, slot, lot, k, &nodes[k]))
      return true;
  j->intervals[review->interval_count] = (interval_inner){nodes, weight};
  review->intervals[review->interval_count++] =
      (tenter_review_interval){.mesh = slot + 1 == j->mesh_slots ? TENTER_NO_NAME : slot,
                               .lot = lot ? lot->lot : TENTER_NO_NAME,
                               .risk = j->settings->risk,
                               .floor = floor};
  return true;
}

static void work_out(void *context, size_t task, size_t worker) {
  (void)worker;
  const judge *j = context;
  tenter_review_interval *interval = &j->review->intervals[task];
  interval_inner *inner = &j->intervals[task];
  double floor = interval->floor;
  weigh(j, inner, interval->lot == TENTER_NO_NAME, floor);
  interval->below_at_start = judge__interval_below(j, inner, floor, judge__interval_start(j));
  interval->days = judge__interval_days(j, inner, floor, interval->risk);
  interval->days_early = reached_days(j, inner, interval, inner_share);
  interval->days_late = reached_days(j, inner, interval, 1 - inner_share);
  interval->days_early = fmin(interval->days_early, interval->days);
}

/* ---- floors --------------------------------------------------------------------------------- */

typedef struct mesh_floor {
  size_t first, count; /* in a list of all floors by mesh */
} mesh_floor;

/* Of each mesh: the median floor of its mountings in use; NaN without one. */
static bool usual_floors(const judge *j, double *usual) {
  const tenter_review *review = j->review;
  double *floors = tenter_alloc(review->screen_count + 1, sizeof *floors);
  mesh_floor *of = tenter_alloc(j->mesh_slots, sizeof *of);
  bool done = floors && of;
  for (int pass = 0; done && pass < 2; pass++) { /* count, then fill */
    for (size_t i = 0; i < review->screen_count; i++) {
      const tenter_attributes *is = &j->shop->mountings[review->screens[i].mounting].is;
      mesh_floor *f = &of[mesh_slot(j, is->mesh)];
      if (isnan(is->floor))
        continue;
      if (pass == 1)
        floors[f->first + f->count] = is->floor;
      f->count++;
    }
    for (size_t slot = 0, first = 0; pass == 0 && slot < j->mesh_slots; slot++) {
      of[slot].first = first;
      first += of[slot].count;
      of[slot].count = 0;
    }
  }
  for (size_t slot = 0; done && slot < j->mesh_slots; slot++)
    usual[slot] = tenter_median_of(&floors[of[slot].first], of[slot].count);
  tenter_free(floors);
  tenter_free(of);
  return done;
}

/* ---- all of them ---------------------------------------------------------------------------- */

tenter_status judge__intervals(judge *j, tenter_error *error) {
  const population *p = j->population;
  size_t most = j->mesh_slots + p->lot_count, lot = 0;
  double *floors = tenter_arena_alloc(j->arena, j->mesh_slots, sizeof *floors);
  j->review->intervals = tenter_arena_alloc(j->arena, most, sizeof *j->review->intervals);
  j->intervals = tenter_arena_alloc(j->arena, most, sizeof *j->intervals);
  if (!floors || !j->review->intervals || !j->intervals || !usual_floors(j, floors))
    return tenter_fail_memory(error);
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++) {
    bool known = !isnan(floors[slot]);
    if (known && !add_interval(j, slot, NULL, floors[slot]))
      return tenter_fail_memory(error);
    for (; lot < p->lot_count && mesh_slot(j, p->lots[lot].mesh) == slot; lot++)
      if (known && !add_interval(j, slot, &p->lots[lot], floors[slot]))
        return tenter_fail_memory(error);
  }
  tenter_pool_run(j->pool, j->review->interval_count, work_out, j);
  return TENTER_OK;
}
