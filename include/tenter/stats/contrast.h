/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a comparison of means needs: the inverse of a small normal matrix, Student's t. */
#ifndef TENTER_STATS_CONTRAST_H
#define TENTER_STATS_CONTRAST_H

#include <stdbool.h>
#include <stddef.h>

/* Replaces a symmetric positive definite n x n matrix (row by row, n at least 1) by its inverse, by
 * Cholesky's factor. False where it is not positive definite; a is then spoilt. Nothing is
 * allocated. */
bool tenter_symmetric_invert(double *a, size_t n);

/* P(|T| > |t|) for Student's t with df > 0 degrees of freedom; NaN for NaN. */
double tenter_student_two_sided(double t, double df);

#endif
