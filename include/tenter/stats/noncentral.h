/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The noncentral t distribution: T = (Z + delta) / sqrt(V / freedom) with Z standard normal and V
 * chi-square, independent. On it rest one-sided tolerance factors, acceptance by variables and
 * intervals of capability indices.
 *
 * freedom > 0 (may be broken), delta finite. NaN in, NaN out. Nothing is allocated. Full relative
 * accuracy in both tails (1e-11 against the integral in 40 digits), where sums of beta functions
 * (AS 243: Lenth 1989, Appl. Statist. 38:185) lose the small tail: the definition is integrated,
 *   P(T <= t) = integral over s > 0 of P(Z <= t s - delta) * density of sqrt(V / freedom) at s,
 * in log s from the mode outward by the trapezoidal rule, halved until it stands still, which
 * converges geometrically for such a function (Trefethen, Weideman 2014, SIAM Review 56:385). About
 * 30 us. */
#ifndef TENTER_STATS_NONCENTRAL_H
#define TENTER_STATS_NONCENTRAL_H

/* P(T <= t), P(T > t). */
double tenter_noncentral_t_below(double t, double freedom, double delta);
double tenter_noncentral_t_above(double t, double freedom, double delta);

/* t with P(T <= t) = p, to about 1e-11; -inf at 0, inf at 1, NaN outside. About 1 ms. */
double tenter_noncentral_t_quantile(double p, double freedom, double delta);

/* delta with P(T <= t) = p: the end of an interval for the noncentrality when t was seen. p
 * strictly between 0 and 1, else NaN. About 1 ms. */
double tenter_noncentral_t_delta(double t, double freedom, double p);

#endif
