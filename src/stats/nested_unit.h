/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The arithmetic of one unit of the nested model, shared by the passes and the predictions. Inline,
 * so that the passes unroll it for the usual small q. */
#ifndef TENTER_STATS_NESTED_UNIT_H
#define TENTER_STATS_NESTED_UNIT_H

#include "nested_internal.h"

#define NESTED_INLINE static inline __attribute__((always_inline))

/* A unit seen from shift and reference. */
typedef struct nested_view {
  double u;    /* its mean u */
  double a, b; /* information of level there, and slope */
  sym2 p;      /* P, there */
  double d;    /* |I + t D| */
} nested_view;

/* P and the determinant; with the factor of t moved to the unit's mean u every term is a sum of
 * squares, so that nothing cancels. */
NESTED_INLINE nested_view nested_look(const double *record, double shift, const double l[3]) {
  nested_view v = {.u = record[UNIT_MEAN_U] - shift, .a = record[UNIT_A], .b = record[UNIT_B]};
  double f0 = l[0] + v.u * l[1], f1 = v.u * l[2], root = l[0] * l[2];
  double t00 = f0 * f0 + f1 * f1, t01 = f0 * l[1] + f1 * l[2], t11 = l[1] * l[1] + l[2] * l[2];
  double ab = v.a * v.b;
  v.d = 1 + v.a * t00 + v.b * t11 + ab * root * root;
  double over = 1 / v.d;
  v.p.level = (v.a + ab * t11) * over;
  v.p.cross = -ab * t01 * over;
  v.p.slope = (v.b + ab * t00) * over;
  return v;
}

/* Lines of the q columns about the reference: level at the unit's mean u, slope. */
NESTED_INLINE void nested_lines(const double *record, double u, const double *reference, size_t q,
                                double *level, double *slope) {
  for (size_t k = 0; k < q; k++) {
    slope[k] = record[UNIT_LINES + q + k] - reference[q + k];
    level[k] = record[UNIT_LINES + k] - reference[k] - u * reference[q + k];
  }
}

/* H'PH: the unit's share of K. */
NESTED_INLINE sym2 nested_share(const nested_view *v) {
  double cross = v->p.cross + v->u * v->p.level;
  return (sym2){v->p.level, cross, v->p.slope + v->u * (v->p.cross + cross)};
}

#endif
