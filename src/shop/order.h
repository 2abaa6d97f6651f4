/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comparators that settle.c chains: each gives -1, 0 or 1. */
#ifndef TENTER_SHOP_ORDER_H
#define TENTER_SHOP_ORDER_H

#include <math.h>
#include <stdint.h>

#include "tenter/shop/tables.h"

static inline int order_whole(int64_t a, int64_t b) {
  return (a > b) - (a < b);
}

#define CHAIN(comparison)                                                                          \
  do {                                                                                             \
    int order_ = (comparison);                                                                     \
    if (order_)                                                                                    \
      return order_;                                                                               \
  } while (0)

/* Unknown (NaN) after all numbers, and equal to itself. */
static inline int order_number(double a, double b) {
  if (isnan(a) || isnan(b))
    return (int)isnan(a) - (int)isnan(b);
  return (a > b) - (a < b);
}

static inline int order_when(tenter_when a, tenter_when b) {
  int order = order_whole(a.at, b.at);
  return order ? order : order_whole(a.date_only, b.date_only);
}

static inline int order_row(tenter_row a, tenter_row b) {
  int order = order_whole(a.file, b.file);
  return order ? order : order_whole(a.line, b.line);
}

/* By content: 0 only where every field is the same. */
int tenter__attributes_order(const tenter_attributes *a, const tenter_attributes *b);

#endif
