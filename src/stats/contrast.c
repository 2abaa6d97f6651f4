/* SPDX-License-Identifier: GPL-3.0-or-later */
/* GSL's inverse and distribution, behind plain arrays. */
#include "tenter/stats/contrast.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

bool tenter_symmetric_invert(double *a, size_t n) {
  gsl_matrix_view m = gsl_matrix_view_array(a, n, n);
  return !gsl_linalg_cholesky_decomp1(&m.matrix) && !gsl_linalg_cholesky_invert(&m.matrix);
}

double tenter_student_two_sided(double t, double df) {
  return 2 * gsl_cdf_tdist_Q(fabs(t), df);
}
