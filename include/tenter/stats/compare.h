/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain comparisons of the means of groups, each on its own: one against the mean of the others,
 * and every pair at once.
 *
 * Model: y = mean of its group + error, errors normal with one variance for all groups, which is
 * estimated from within the groups. A group is known by its size, mean and standard deviation. */
#ifndef TENTER_STATS_COMPARE_H
#define TENTER_STATS_COMPARE_H

#include <stddef.h>

enum { TENTER_COMPARE_GROUPS = 100 }; /* the most that are compared in pairs */

/* P(Q > q), Q the range of count standard normals over s, s^2 an independent chi-square over its df
 * degrees of freedom (df > 0): the studentised range (Student 1927, Biometrika 19:151). 1 for q <=
 * 0; NaN for count < 2 or NaN. To about 1e-10; some 30 us. */
double tenter_studentized_range_above(size_t count, double df, double q);

/* One group. What is not known of the outcome is NaN. */
typedef struct tenter_compared {
  size_t count;    /* 0: left out */
  double mean, sd; /* sd is not looked at with count 1 */
  /* outcome */
  double p;    /* one-sided, Student's t: so far above the mean of the other groups (each weighed
                  alike) by luck */
  double pair; /* the least p of a pair with a group below it, adjusted for all pairs: Tukey 1953,
                  Kramer 1956 (Biometrics 12:307) for unequal counts; 1 for the lowest */
  size_t above, others; /* groups that it is shown to lie above at the level of pairs; groups it was
                           compared with */
} tenter_compared;

/* Compares the groups; level, as 0.05, of the pairs. Nothing is told where fewer than two groups
 * are left, where they leave no degree of freedom or no variance; nothing of pairs with more groups
 * than TENTER_COMPARE_GROUPS. Nothing is allocated. O(groups), in pairs O(groups^2). */
void tenter_compare_groups(tenter_compared *group, size_t count, double level);

#endif
