/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a lot that relaxes fast costs, in plain figures: tension lost by 30 days beyond what its
 * mesh loses, and days from 24 h to the floor. Both start at the mesh's mean level, so that the
 * figures differ by the loss alone. */
#include "lots.h"
#include "tenter/stats/moments.h"

static const double decades_to_30_days = 1.4771212547196624; /* log10(30 days / 24 h) */
static const double most_days = 3652.5;                      /* 10 years, as for screens */

/* Mean and variance of the extra loss at one node. */
static void extra_loss(const population *p, tenter_clock clock, const tenter_line *mesh,
                       const tenter_line *effect, double *mean, double *variance) {
  double u = tenter_clock_u(clock, decades_to_30_days);
  lot_excess e = judge__lot_excess(p, mesh, effect);
  *mean = e.mean * u;
  *variance = e.sd * e.sd * u * u;
  if (!p->log)
    return;
  /* the tension left is exp(at_24h - (mesh + effect) u): a lognormal of the effect */
  double norm = exp(mesh->at_24h - mesh->loss * u), v = effect->var_loss * u * u;
  double kept = exp(-effect->loss * u + v / 2);
  *mean = norm * (1 - kept);
  *variance = norm * norm * kept * kept * expm1(v);
}

/* The floor of most of its mountings: the median of those that have one. */
static double usual_floor(const judge *j, const population_lot *lot, double *room) {
  size_t known = 0;
  for (size_t i = 0; i < lot->count; i++) {
    double floor = judge__lot_mounting(j, lot, i)->is.floor;
    if (!isnan(floor))
      room[known++] = floor;
  }
  return tenter_median_of(room, known);
}

/* Days from the level at 24 h to the floor at a loss per decade; NaN beyond ten years. */
static double days_to_floor(const population *p, double level, double floor, double loss) {
  double u = p->log ? level * log(level / floor) / loss : (level - floor) / loss;
  double days = pow(10, tenter_clock_decades(p->clock, u));
  return loss > 0 && days <= most_days ? days : NAN;
}

void judge__lot_cost(const judge *j, const population_lot *lot, double *room,
                     tenter_review_lot *out) {
  const tenter_review *review = j->review;
  double mean = 0, square = 0;
  for (size_t k = 0; k < review->node_count; k++) {
    double m, v, w = review->node_weight[k];
    extra_loss(j->population, j->population->node_clock[k], &lot->mesh_nodes[k], &lot->effects[k],
               &m, &v);
    mean += w * m;
    square += w * (v + m * m);
  }
  out->extra_loss_at_30_days = mean;
  out->extra_loss_at_30_days_se = sqrt(fmax(square - mean * mean, 0));
  tenter_line mesh = judge__in_tension(
      j->population, judge__mean_line(review->node_count, review->node_weight, lot->mesh_nodes),
      NAN);
  double floor = out->floor = usual_floor(j, lot, room);
  double margin = 1.645 * out->loss_per_decade_se; /* of a 90 % interval */
  out->days_to_floor = days_to_floor(j->population, mesh.at_24h, floor, out->loss_per_decade);
  out->days_to_floor_early =
      days_to_floor(j->population, mesh.at_24h, floor, out->loss_per_decade + margin);
  out->days_to_floor_late =
      days_to_floor(j->population, mesh.at_24h, floor, out->loss_per_decade - margin);
  out->mesh_days_to_floor = days_to_floor(j->population, mesh.at_24h, floor, mesh.loss);
  out->days_lost = out->mesh_days_to_floor - out->days_to_floor;
}
