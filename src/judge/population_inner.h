/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between the files behind the seam: population.c (the mixed model),
 * population_products.c (what goes into it), population_prior.c (what is
 * believed where it can't be fitted, ages that are not known), population_report.c. */
#ifndef TENTER_JUDGE_POPULATION_INNER_H
#define TENTER_JUDGE_POPULATION_INNER_H

#include "population.h"
#include "tenter/stats/nested.h"

/* A mounting in its place: groups are lots of a mesh (or one piece of mesh where the lot is not
 * known), in order. */
typedef struct placed {
  uint64_t group;
  uint32_t mounting;
} placed;

/* What is believed of a mesh from its own data and the prior, without the mixed model. */
typedef struct block_state {
  size_t mountings, sessions, lots;    /* fitted */
  double weights;                      /* sum over the fitted sessions, on the scale of tension */
  bool prior;                          /* the slope comes from the prior */
  size_t counted;                      /* mountings behind level */
  double level, squares, level_spread; /* at 24 h: mean, sum of squares, variance of mountings */
} block_state;

/* What may be a column of the model besides the meters; the names are keys of JSON, the words for
 * people are in tenter/words/judge.h. X(constant, name, unit) */
#define CAUSES(X)                                                                                  \
  X(CYCLE, "re-tensions before: level", "N/cm")                                                    \
  X(CYCLE_LOSS, "re-tensions before: loss", "N/cm per decade")                                     \
  X(COATED, "coated", "N/cm")                                                                      \
  X(PRINTED, "printed at all", "N/cm")                                                             \
  X(IMPRESSIONS, "1000 impressions", "N/cm")                                                       \
  X(RECLAIMS, "a reclaim", "N/cm")
#define CAUSE_CONSTANT(constant, ...) CAUSE_##constant,
enum { CAUSES(CAUSE_CONSTANT) CAUSE_COUNT };
enum { MOST_METERS = 12, MOST_COLUMNS = MOST_METERS + CAUSE_COUNT };

/* Columns of the model. A column is a cause, or CAUSE_COUNT + the index of a meter. */
typedef struct design {
  tenter_clock clock;              /* of the product with u */
  uint16_t meter[MOST_METERS + 1]; /* [0] is the one used most: no column of its own */
  size_t meters;                   /* with a column: [1] .. [meters] */
  size_t column[MOST_COLUMNS], columns;
} design;

struct population_inner {
  placed *placed; /* in order of groups */
  size_t placed_count;
  uint32_t *unit;   /* by mounting: index into placed and unit of products; UINT32_MAX none */
  uint32_t *group;  /* by unit */
  uint32_t *fitted; /* by unit: sessions that are fitted */
  size_t group_count;
  tenter_nested_products *products;
  tenter_nested_fit fit;            /* solution NULL where nothing could be fitted */
  tenter_nested_solution *heaviest; /* of the nodes, where there is no fit; owned */
  const tenter_line *group_lines, *group_effects, *mesh_lines; /* node_count each */
  block_state *blocks;                                         /* by mesh slot */
  design use; /* the columns that the lines rest on; without any, the total loss alone */
};

/* How far losses differ from the prior's, as a share of it: the published 3 to 7 % about 5 %. */
#define PRIOR_LOSS_DOUBT 0.4

/* The fitted sessions of a mounting's last level, up to (not including) session `end`, on a clock.
 */
void judge__data_gather(const judge *j, const population *p, tenter_clock clock,
                        const tenter_mounting *m, size_t end, line_data *d);

/* ---- population_clock.c ---- */

/* p->clocks and p->clock, on the scale of p. */
tenter_status judge__clocks(judge *j, population *p, tenter_error *error);

/* ---- population_products.c ---- */

/* Columns of the model beside the line: fill writes a row of count each for the fitted sessions of
 * a mounting from its last level on, up to (not including) session `end`. */
typedef struct product_columns {
  size_t count;
  void (*fill)(const judge *j, const void *context, const tenter_mounting *m, size_t end,
               double *x); /* NULL: no columns */
  const void *context;
} product_columns;

/* The products of every stride-th mounting on a clock, owned by the caller. *jacobian: of the
 * change of measure from tension to the scale, and of the weights with it. */
tenter_status judge__products(const judge *j, const population *p, tenter_clock clock,
                              const product_columns *columns, size_t stride,
                              tenter_nested_products **products, double *jacobian,
                              tenter_error *error);

/* ---- population_nodes.c ---- */

/* review->node_*, the posterior of every screen, the lines of lots and meshes. */
tenter_status judge__population_lines(judge *j, population *p, tenter_error *error);

/* ---- population_prior.c ---- */

/* Level and spread of each mesh from its mountings' own data, with the prior's loss. */
void judge__prior_blocks(judge *j, population *p);

/* The line of a mounting under the prior before its own data; false where nothing is known of its
 * level. hint: a tension it was read at, NaN none. */
bool judge__prior_line(const judge *j, const population *p, uint32_t slot, double hint,
                       tenter_nested_line *line);

/* A mounting of unknown zero, under each age it may have; returns how many (0: nothing is known).
 */
typedef struct aged_line {
  double weight;
  double zero; /* civil seconds */
  tenter_nested_line line;
} aged_line;
enum { AGES = 4 };
size_t judge__unknown_age(const judge *j, size_t mounting, aged_line out[AGES]);

/* The same from the line before any data. */
size_t judge__prior_ages(const judge *j, const population *p, const tenter_mounting *m,
                         const tenter_nested_line *before, double residual, aged_line out[AGES]);

/* Takes sessions too young to be fitted into a line, at one node, that has no other data. */
void judge__prior_young(const judge *j, const population *p, const tenter_mounting *m, size_t node,
                        tenter_nested_line *line);

/* ---- population_report.c ---- */

/* review->populations and p->lots. */
tenter_status judge__population_report(judge *j, population *p, tenter_error *error);

/* ---- population_covariates.c ---- */

/* What else moves the tension: covariates and loss at rest of review->populations, p->adjusted. */
tenter_status judge__covariates(judge *j, population *p, tenter_error *error);

/* Decides in->use: the columns that can be told, where together they are clearly more than chance.
 */
tenter_status judge__use(judge *j, population *p, tenter_error *error);

/* Rows of a design (a product_columns.fill), and its values at a moment as at + slope u, as the
 * mean meter reads. */
void judge__cause_rows(const judge *j, const void *design, const tenter_mounting *m, size_t end,
                       double *x);
void judge__causes_at(const judge *j, const design *d, const tenter_mounting *m, tenter_time time,
                      double *level, double *slope);

/* What the columns gain while a mounting goes on for `hours`, over all its life in such stretches
 * from 24 h to as_of: added to count, sums and products (columns squared). */
void judge__causes_gained(const judge *j, const design *d, const tenter_mounting *m, double hours,
                          double *count, double *sum, double *product);

/* ---- population_use.c ---- */

/* How screens are used as they age, on one clock. */
typedef struct use_rates {
  double level[MOST_COLUMNS], slope[MOST_COLUMNS]; /* of all mountings together */
  double scatter[MOST_COLUMNS * MOST_COLUMNS]; /* covariances of a mounting's slopes about those */
  double gain[MOST_COLUMNS];                   /* of a mounting within the horizon; mean */
  double spread[MOST_COLUMNS * MOST_COLUMNS];  /* covariances of that */
} use_rates;
tenter_status judge__use_rates(const judge *j, const population *p, const design *d,
                               use_rates *rates, tenter_error *error);

/* What has happened to a mounting by each of its fitted sessions up to `end`, that may have let it
 * step down: coated, printed at all, 1000 impressions, reclaims. x: rows of STEP_CAUSES. */
enum { STEP_CAUSES = 4 };
void judge__step_causes(const judge *j, const tenter_mounting *m, size_t end, double *x);

static inline tenter_line line_of(const tenter_nested_line *l) {
  return (tenter_line){.at_24h = l->level,
                       .loss = -l->slope,
                       .var_at_24h = l->cov.level,
                       .var_loss = l->cov.slope,
                       .cov = -l->cov.cross};
}

#endif
