/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What chart constants, limits and run lengths share: nodes, roots, the normal law. */
#ifndef TENTER_STATS_CHART_NUMERIC_H
#define TENTER_STATS_CHART_NUMERIC_H

#include <stddef.h>

/* Gauss-Legendre nodes (rising) and weights on [low, high]. */
void chart_nodes(size_t count, double low, double high, double *node, double *weight);

/* The root of a continuous function between low and high, where its signs differ; the better end
 * where they do not. A NaN value ends the search with NaN. To about 1e-14 relative. */
typedef double chart_function(double x, void *context);
double chart_root(chart_function *f, void *context, double low, double high);

/* Standard normal: density, P(Z <= z), P(Z > z). */
double chart_density(double z);
double chart_below(double z);
double chart_above(double z);

#endif
