/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the search of the nested model begins: one-way moments of the units' own levels and slopes,
 * about their block's line and about their cluster's mean, the known part of the error taken off.
 * With weight c = a / (a + mean a) a unit that tells little adds no more than a bounded error:
 * sum of c var(v) = sum of c T + c sigma^2 / a, and c / a = 1 / (a + mean a). Slopes likewise with
 * b. Rough on purpose: covariates are left in, level and slope are taken apart. */
#include <math.h>

#include "nested_internal.h"

/* Moments of one number a unit. */
typedef struct moments {
  double weight, square, error; /* sum of c, c v^2, c / information */
  double inside, inside_weight; /* sum over clusters of c (v - mean)^2, of C - sum c^2 / C */
  double c, cc, cv, cvv;        /* of the cluster being summed */
} moments;

static void add(moments *m, double information, double typical, double v) {
  if (information <= 0)
    return;
  double c = information / (information + typical);
  m->weight += c;
  m->square += c * v * v;
  m->error += 1 / (information + typical);
  m->c += c;
  m->cc += c * c;
  m->cv += c * v;
  m->cvv += c * v * v;
}

static void close_moments(moments *m) {
  if (m->c > 0) {
    m->inside += fmax(m->cvv - m->cv * m->cv / m->c, 0);
    m->inside_weight += fmax(m->c - m->cc / m->c, 0);
  }
  m->c = m->cc = m->cv = m->cvv = 0;
}

/* Standard deviations relative to sigma, of groups and units; at least a tenth of a typical unit's
 * own error, so that the search does not begin on the boundary. */
static void relative_sds(const moments *m, double residual, double typical, double *group,
                         double *unit) {
  double least = 0.01 / typical, error = m->weight > 0 ? m->error / m->weight : 0;
  double all = m->weight > 0 ? m->square / m->weight : 0;
  double inside = m->inside_weight > 0 ? m->inside / m->inside_weight : all;
  *unit = sqrt(fmax(inside / residual - error, least));
  *group = sqrt(fmax((all - inside) / residual, least));
}

void nested_start(const nested_plan *plan, double residual, double start[NESTED_PARAMETERS]) {
  size_t q = plan->q, c = q - 1;
  moments level = {0}, slope = {0};
  for (size_t k = 0; k < plan->segment_count; k++) {
    const nested_segment *segment = &plan->segment[k];
    const double *reference = plan->reference + segment->block * 2 * q;
    if (segment->opens) {
      close_moments(&level);
      close_moments(&slope);
    }
    for (size_t i = segment->first; i < segment->end; i++) {
      const double *record = nested_unit(plan->products, i);
      double u = record[UNIT_MEAN_U] - plan->shift;
      add(&level, record[UNIT_A], plan->unit_level,
          record[UNIT_LINES + c] - reference[c] - u * reference[q + c]);
      add(&slope, record[UNIT_B], plan->unit_slope, record[UNIT_LINES + q + c] - reference[q + c]);
    }
  }
  close_moments(&level);
  close_moments(&slope);
  start[1] = start[4] = 0;
  relative_sds(&level, residual, plan->unit_level, &start[0], &start[3]);
  relative_sds(&slope, residual, plan->unit_slope, &start[2], &start[5]);
}
