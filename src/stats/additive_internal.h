/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the additive model share.
 *
 *   additive.c           the fit step by step, errors of the effects
 *   additive_pass.c      the passes over readings: matrix, starts, one step
 *   additive_variance.c  reading and pattern
 *   additive_solve.c     the points x points system
 *
 * Sums are made block by block, a block being sessions of whole groups, and added in order of
 * blocks. Matrices are p x p, row by row; of symmetric ones all is kept. */
#ifndef TENTER_STATS_ADDITIVE_INTERNAL_H
#define TENTER_STATS_ADDITIVE_INTERNAL_H

#include <math.h>

#include "tenter/stats/additive.h"

static const double huber_k = 1.345;

/* Sums of one block. Which are used depends on the pass. */
typedef struct block_sums {
  double *right;            /* p */
  double *matrix, *squares; /* p x p */
  size_t *readings;         /* p */
  size_t count, sessions;   /* readings; sessions with readings */
  double inside_squares;    /* of the residuals not clipped */
  size_t outside, left_out;
  double moved;               /* the most a level moved */
  double rest, within, trace; /* variance: see additive_variance.c */
  size_t rest_df, rank;
  size_t bad; /* session + 1 of the first reading that can't be used; 0: none */
  uint32_t bad_reading;
} block_sums;

/* Scratch of one worker. */
typedef struct worker_room {
  double *values;                /* as many as the longest session has readings */
  double *weight, *sum;          /* p: by place within a session */
  double *matrix, *right;        /* p x p, p: of one group */
  double *diagonal;              /* p */
  uint16_t *place, *group_point; /* p: point -> place + 1 in the group, and back */
  uint16_t *touched;             /* p: places a session has readings at */
  size_t group_points;
} worker_room;

typedef struct additive {
  const tenter_additive_data *data;
  tenter_pool *pool;
  tenter_additive_fit *fit;
  size_t p, blocks, workers;
  size_t *begin; /* blocks + 1 sessions */
  block_sums *sums;
  worker_room *rooms;
  double *matrix; /* D - sum of w w' / W over sessions; later its Moore-Penrose inverse */
  double *right, *step;
  uint16_t *part; /* by point */
  double scale;   /* of clipping; infinite: none */
  double df;
  size_t count, sessions, inside, outside;
} additive;

static inline double additive__weight(const additive *a, size_t reading) {
  return a->data->weight ? a->data->weight[reading] : 1;
}

/* ---- additive_pass.c ---- */

/* Memory of blocks and workers; false when it runs out. */
bool additive__open(additive *a);
void additive__close(additive *a);

/* Runs a task for each block. */
void additive__run(additive *a, tenter_task *task);

/* Matrix, counts, starting levels (session medians) of a block. */
void additive__gather_block(void *context, size_t task, size_t worker);

/* Huber's modified residuals at the effects, levels and scale of the fit: moves the levels of the
 * block's sessions; right, inside_squares, outside, moved. */
void additive__step_block(void *context, size_t task, size_t worker);

/* ---- additive_variance.c ---- */

/* left_out, sd_reading, sd_pattern of the fit, from the readings within reach. Of those, kept (p
 * zeros) receives how many by point, squares (p x p zeros) the sum of A_g^2, and a->matrix their
 * A^+. False where that can't be had. */
bool additive__variances(additive *a, size_t *kept, double *squares);

/* ---- additive_solve.c ---- */

/* Numbers the parts of the points by the links in matrix; 0 for points without readings. Returns
 * how many there are. */
size_t additive__parts(const double *matrix, const size_t *readings, size_t p, uint16_t *part,
                       uint16_t *queue);

/* Replaces the matrix, whose null vectors are 1 on each part, by its Moore-Penrose inverse. False
 * where it can't be had (weights too far apart). */
bool additive__invert(double *matrix, const size_t *readings, const uint16_t *part, size_t p);

/* Solves the semidefinite system matrix x = right (m x m in rows of stride, destroyed) as far as
 * needed for right' x: that, and the rank. */
double additive__eliminate(double *matrix, size_t stride, double *right, double *diagonal, size_t m,
                           size_t *rank);

#endif
