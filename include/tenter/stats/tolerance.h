/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Statistical tolerance intervals: between which limits lies at least a share `content` of all
 * that is made in this way, with a stated confidence, seen `count` of it (ISO 16269-6).
 *
 * For a normal law with mean and sd unknown: mean - k sd, mean + k sd. content and confidence
 * strictly between 0 and 1, count >= 2; else NaN. Nothing is allocated. */
#ifndef TENTER_STATS_TOLERANCE_H
#define TENTER_STATS_TOLERANCE_H

#include <stddef.h>

/* k of a one-sided interval (below mean + k sd, or above mean - k sd): exact, the quantile of the
 * noncentral t with n - 1 degrees of freedom and noncentrality z(content) sqrt(n), over sqrt(n)
 * (Owen 1958; e-Handbook of NIST/SEMATECH, 7.2.6.3). To 1e-10. About 1 ms. */
double tenter_tolerance_one_sided(size_t count, double content, double confidence);

/* k of a two-sided interval: exact, by integration over the mean,
 *   integral of density(z) P(chi-square(n - 1) >= (n - 1) r(z)^2 / k^2) dz = confidence,
 * r(z) with P(z / sqrt(n) - r <= Z <= z / sqrt(n) + r) = content (Odeh, Owen 1980; ISO 16269-6). To
 * 1e-9. A few milliseconds. */
double tenter_tolerance_two_sided(size_t count, double content, double confidence);

/* Whatever the law: the share of all that lies between the least and the greatest of count values
 * is at least this, with that confidence: the root of 1 - n c^(n-1) + (n-1) c^n = confidence
 * (Wilks 1941, Ann. Math. Statist. 12:91). */
double tenter_tolerance_range_content(size_t count, double confidence);

#endif
