/* SPDX-License-Identifier: GPL-3.0-or-later */
/* EWMA and CUSUM, point by point. Relies on the C library. */
#include <math.h>

#include "tenter/stats/charts.h"

void tenter_ewma_start(tenter_ewma *chart, double lambda, double width) {
  *chart = (tenter_ewma){lambda, width, 0, 1};
}

/* The average of i points has variance lambda / (2 - lambda) (1 - (1 - lambda)^(2 i)). */
tenter_ewma_point tenter_ewma_step(tenter_ewma *chart, double z) {
  bool missing = !isfinite(z);
  if (!missing) {
    double keep = 1 - chart->lambda;
    chart->value += chart->lambda * (z - chart->value);
    chart->decay *= keep * keep;
  }
  double variance = chart->lambda / (2 - chart->lambda) * (1 - chart->decay);
  tenter_ewma_point point = {chart->value, chart->width * sqrt(variance), 0};
  if (!missing)
    point.signal = (chart->value > point.limit) - (chart->value < -point.limit);
  return point;
}

void tenter_cusum_start(tenter_cusum *chart, double reference, double decision, double head_start) {
  *chart = (tenter_cusum){reference, decision, head_start, head_start, head_start, 0, 0};
}

static double add(double sum, double step, size_t *run) {
  double next = fmax(sum + step, 0);
  *run = next > 0 ? *run + 1 : 0;
  return next;
}

tenter_cusum_point tenter_cusum_step(tenter_cusum *chart, double z) {
  bool missing = !isfinite(z);
  if (!missing) {
    chart->up = add(chart->up, z - chart->reference, &chart->up_run);
    chart->down = add(chart->down, -z - chart->reference, &chart->down_run);
  }
  tenter_cusum_point point = {chart->up, chart->down, chart->up_run, chart->down_run, 0};
  if (!missing)
    point.signal = chart->up > chart->decision ? 1 : chart->down > chart->decision ? -1 : 0;
  return point;
}
