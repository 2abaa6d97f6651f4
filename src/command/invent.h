/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An invented shop with known truth, for training and for checking the other commands.
 *
 * What is drawn is on purpose not what the review assumes: the loss is a share of each mounting's
 * own tension, mountings of one lot differ, a first print and each reclaim take a step, reading
 * noise grows with the square of the tension, and each screen has a pattern of its own. Nothing of
 * the judge is used, so that the data owe nothing to the models they are to try. */
#ifndef TENTER_COMMAND_INVENT_H
#define TENTER_COMMAND_INVENT_H

#include <gsl/gsl_rng.h>

#include "invention.h"
#include "tenter/base/arena.h"
#include "tenter/base/buffer.h"
#include "tenter/base/civil.h"
#include "tenter/base/status.h"

typedef struct invented_mesh {
  const char *name;
  double target, floor, maximum, loss; /* loss: share of the one-minute tension a decade */
} invented_mesh;

typedef struct invented_lot {
  size_t mesh;
  double factor; /* its loss as a multiple of the mesh's */
  bool fast;
} invented_lot;

enum { INVENT_POINTS = 5 };

typedef struct invented_screen {
  size_t mesh, lot, station;
  tenter_time zero;              /* when the mesh was glued */
  double one_minute, loss, lost; /* N/cm; loss a decade; taken by print and reclaims */
  double pattern[INVENT_POINTS];
  double warp_minus_weft;
  bool printed;
  tenter_time due; /* to be stretched again; TENTER_NO_TIME: not */
} invented_screen;

typedef struct invented_shop {
  const invention *plan;
  gsl_rng *rng;
  tenter_arena *arena;
  invented_lot *lots;
  invented_screen *screens;
  double *meter_bias, *station_tilt;
  tenter_time start, end, shift_at;
  tenter_buffer readings, reg, events, checks; /* CSV */
} invented_shop;

extern const invented_mesh invented_meshes[4];

/* Works through the weeks and fills the four buffers. TENTER_FAILED when memory runs out. The shop
 * is released with invented_release in any case. */
tenter_status invent(const invention *plan, invented_shop *shop, tenter_error *error);
void invented_release(invented_shop *shop);

/* The true mean tension of a screen. */
double invented_tension(const invented_shop *shop, const invented_screen *screen, tenter_time at);

/* What a meter shows too much at a moment. */
double invented_bias(const invented_shop *shop, size_t meter, tenter_time at);

#endif
