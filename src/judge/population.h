/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The seam of the population model: what the rest of the judge asks of it. How lots, mountings and
 * covariates are modelled is decided behind it (population.c); in front of it there are only lines.
 *
 * Lines are on the scale of the population (tension, or its natural logarithm), one for each node
 * of what is not known of the law and of the variance components: review->node_weight. A line is
 * straight on its node's clock (stats/clock.h); its loss is that from 24 h to 240 h. */
#ifndef TENTER_JUDGE_POPULATION_H
#define TENTER_JUDGE_POPULATION_H

#include "judge.h"
#include "tenter/stats/clock.h"

/* Fitted sessions of one mounting as arrays. */
typedef struct line_data {
  double *u, *y, *weight;
  size_t count, room;
} line_data;

bool judge__data_room(line_data *d, size_t count); /* false when memory runs out */
void judge__data_release(line_data *d);

/* Of a mounting of the shop; at least 1. */
size_t judge__most_sessions(const judge *j);

/* A lot of a mesh as the population sees it. */
typedef struct population_lot {
  uint32_t lot, mesh;         /* names */
  size_t mountings, sessions; /* with fitted sessions; those sessions */
  size_t first, count;        /* see judge__lot_mounting */
  const tenter_line *nodes;   /* its mean line; NaN where the prior tells its mesh's loss */
  const tenter_line *effects; /* its deviation from its mesh's line */
  const tenter_line *mesh_nodes;
} population_lot;

typedef struct population {
  bool log;
  tenter_clock clock;          /* the law that is said: lines of the fit are straight on it */
  tenter_clocks clocks;        /* the laws that remain plausible, over which forecasts average */
  tenter_clock node_clock[64]; /* by node: its lines are straight on this one */
  double residual[64];         /* by node: variance of a session of weight 1 */
  tenter_line among_lots[64], among_mountings[64]; /* by node: variances of deviations; mean 0 */
  size_t mountings, groups; /* that were placed; of one lot, or one piece of mesh of unknown lot */
  population_lot *lots;
  size_t lot_count;
  /* by lot: the effect and its mesh's line with the covariates taken off; NULL without covariates
   */
  struct lot_adjusted {
    tenter_line effect, mesh;
  } * adjusted;
  struct population_inner *inner;
} population;

/* Fits the model and takes every line that is wanted: fills j->population, review->populations,
 * review->node_*, the posterior of every screen. Marks the sessions that entered. */
tenter_status judge__population(judge *j, tenter_error *error);

/* The name of the law that is said (stats/laws.h). */
const char *judge__law_name(const population *p);

/* The i-th of a lot's count mountings. */
const tenter_mounting *judge__lot_mounting(const judge *j, const population_lot *lot, size_t i);

/* A mounting that is yet to be made. */
typedef struct new_mounting {
  tenter_line mean;   /* the line of all such mountings together, and what is not known of it */
  tenter_line spread; /* how single ones lie about it: variances; mean 0 */
} new_mounting;

/* From a lot (NULL: from one that is not known yet) of a mesh, by slot, at a node of the variance
 * components. False where nothing is known of it. While the population is being judged. */
bool judge__new_mounting(const judge *j, uint32_t slot, const population_lot *lot, size_t node,
                         new_mounting *out);

/* Mean line over the nodes, with all that is not known in its variances. */
tenter_line judge__mean_line(size_t count, const double *weight, const tenter_line *nodes);

/* The line as tensions: at_24h in N/cm, loss in N/cm per decade at the tension `level` (NaN: its
 * own). */
tenter_line judge__in_tension(const population *p, tenter_line line, double level);

/* What is kept beyond the arena. */
void judge__population_release(judge *j);

/* u and weight of every session: what may be fitted. */
void judge__fittable(judge *j);

/* Forecasts of the sessions of j taken in [from, to), each from the earlier sessions of its
 * mounting and from `past`, the same shop judged as of an earlier moment (or j itself), alone:
 * fills their entries of j->foreseen. O(sessions). TENTER_FAILED when memory runs out. */
tenter_status judge__foresee(judge *j, const judge *past, tenter_time from, tenter_time to,
                             tenter_error *error);

/* What is lost per decade on a mounting of this lot, N/cm at the tension given. */
double judge__usual_loss(const judge *j, size_t mounting, double tension);

/* to and from the scale of the population */
static inline double scale_to(const population *p, double tension) {
  return p->log ? log(tension) : tension;
}
static inline double scale_from(const population *p, double value) {
  return p->log ? exp(value) : value;
}

#endif
