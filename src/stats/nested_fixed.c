/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fixed effects of the nested model: two columns a block bordered by the covariates. With
 * S = C'V^-1C and y beside it, blocks are eliminated first (U = K^-1 F), then the covariates:
 *
 *   covariates  gamma = S^-1 s, S = E - sum F'U;   block line = U_y - U_C gamma;
 *   inverse     [ K^-1 + U_C S^-1 U_C'   -U_C S^-1 ; .   S^-1 ].
 *
 * Columns that the plan found aliased stay out: zero in every result. */
#include <math.h>
#include <string.h>

#include "nested_internal.h"

/* K^-1 on the columns that the block's data tell; adds log|K|. */
static void invert_local(const double *K, int rank, double *inverse, double *log_x) {
  inverse[0] = inverse[1] = inverse[2] = 0;
  if (rank == 1) {
    inverse[0] = 1 / K[0];
    *log_x += log(K[0]);
  } else if (rank == 2) {
    double rest = K[2] - K[1] / K[0] * K[1];
    inverse[2] = 1 / rest;
    inverse[1] = -K[1] / K[0] / rest;
    inverse[0] = 1 / K[0] - K[1] / K[0] * inverse[1];
    *log_x += log(K[0]) + log(rest);
  }
}

/* U = K^-1 F of every block; energy becomes the covariates' and y's own part. */
static void eliminate_blocks(nested_state *s) {
  size_t q = s->plan->q;
  for (size_t b = 0; b < s->plan->blocks; b++) {
    const double *K = s->local + b * nested_sums(q), *F0 = K + 3, *F1 = F0 + q;
    double *inverse = s->local_inverse + 3 * b, *U0 = s->solved + b * 2 * q, *U1 = U0 + q;
    invert_local(K, s->plan->rank[b], inverse, &s->log_x);
    for (size_t k = 0; k < q; k++) {
      U0[k] = inverse[0] * F0[k] + inverse[1] * F1[k];
      U1[k] = inverse[1] * F0[k] + inverse[2] * F1[k];
      for (size_t j = 0; j <= k; j++)
        s->energy[k * q + j] -= U0[k] * F0[j] + U1[k] * F1[j];
    }
  }
}

/* Cholesky of energy over the covariates kept and y, the others' rows set to zero; the last pivot
 * squared is r^2. */
static void factor_energy(nested_state *s) {
  size_t q = s->plan->q;
  double *L = s->energy;
  for (size_t k = 0; k < q; k++) {
    bool last = k + 1 == q, kept = last || s->plan->kept[k];
    for (size_t i = 0; i < k; i++) {
      double f = L[k * q + i];
      for (size_t j = 0; j < i; j++)
        f -= L[k * q + j] * L[i * q + j];
      L[k * q + i] = kept && s->plan->kept[i] ? f / L[i * q + i] : 0;
      L[k * q + k] -= L[k * q + i] * L[k * q + i];
    }
    if (last)
      s->square = fmax(L[k * q + k], 0);
    else if (kept)
      s->log_x += log(L[k * q + k]);
    L[k * q + k] = kept && L[k * q + k] > 0 ? sqrt(L[k * q + k]) : 0;
  }
}

/* gamma and S^-1 = (L^-1)'L^-1. */
static void solve_covariates(nested_state *s) {
  size_t q = s->plan->q, c = q - 1;
  const double *L = s->energy;
  double R[NESTED_Q * NESTED_Q] = {0}; /* L^-1 */
  memset(s->gamma, 0, sizeof s->gamma);
  memset(s->gamma_cov, 0, sizeof s->gamma_cov);
  for (size_t k = 0; k < c; k++) {
    if (!s->plan->kept[k])
      continue;
    R[k * q + k] = 1 / L[k * q + k];
    for (size_t i = 0; i < k; i++) {
      double f = 0;
      for (size_t j = i; j < k; j++)
        f += L[k * q + j] * R[j * q + i];
      R[k * q + i] = -f / L[k * q + k];
    }
  }
  for (size_t k = 0; k < c; k++)
    for (size_t i = 0; i <= k; i++) {
      s->gamma[i] += L[c * q + k] * R[k * q + i];
      for (size_t j = 0; j <= k; j++)
        s->gamma_cov[i * q + j] += R[k * q + i] * R[k * q + j];
    }
}

/* The block's fixed line, and its part of the inverse. */
static void solve_block(nested_state *s, size_t b) {
  size_t q = s->plan->q, c = q - 1, m = s->plan->m;
  const double *U = s->solved + b * 2 * q, *own = s->local_inverse + 3 * b;
  double *inverse = s->inverse + b * m * m, *line = s->line + 2 * b;
  for (size_t r = 0; r < 2; r++) {
    line[r] = U[r * q + c];
    for (size_t j = 0; j < c; j++) {
      double f = 0;
      for (size_t k = 0; k < c; k++)
        f += U[r * q + k] * s->gamma_cov[k * q + j];
      inverse[r * m + 2 + j] = inverse[(2 + j) * m + r] = -f;
      line[r] -= U[r * q + j] * s->gamma[j];
    }
  }
  for (size_t r = 0; r < 2; r++)
    for (size_t t = 0; t < 2; t++) {
      double f = own[r + t];
      for (size_t j = 0; j < c; j++)
        f -= inverse[r * m + 2 + j] * U[t * q + j];
      inverse[r * m + t] = f;
    }
  for (size_t i = 0; i < c; i++)
    for (size_t j = 0; j < c; j++)
      inverse[(2 + i) * m + 2 + j] = s->gamma_cov[i * q + j];
}

void nested_fixed_solve(nested_state *s) {
  s->log_x = 0;
  eliminate_blocks(s);
  factor_energy(s);
  solve_covariates(s);
  for (size_t b = 0; b < s->plan->blocks; b++)
    solve_block(s, b);
}

void nested_fixed_project(nested_state *s, const double *shared) {
  size_t q = s->plan->q, c = q - 1;
  double left[NESTED_Q * NESTED_PARAMETERS]; /* shared, blocks eliminated */
  memcpy(left, shared, c * NESTED_PARAMETERS * sizeof *left);
  for (size_t b = 0; b < s->plan->blocks; b++) {
    const double *l0 = s->cross + b * 2 * NESTED_PARAMETERS, *l1 = l0 + NESTED_PARAMETERS;
    const double *U0 = s->solved + b * 2 * q, *U1 = U0 + q, *own = s->local_inverse + 3 * b;
    for (size_t k = 0; k < NESTED_PARAMETERS; k++) {
      double y0 = own[0] * l0[k] + own[1] * l1[k], y1 = own[1] * l0[k] + own[2] * l1[k];
      for (size_t j = 0; j < NESTED_PARAMETERS; j++)
        s->information[j * NESTED_PARAMETERS + k] -= l0[j] * y0 + l1[j] * y1;
      for (size_t j = 0; j < c; j++)
        left[j * NESTED_PARAMETERS + k] -= U0[j] * l0[k] + U1[j] * l1[k];
    }
  }
  for (size_t k = 0; k < NESTED_PARAMETERS; k++)
    for (size_t j = 0; j < NESTED_PARAMETERS; j++)
      for (size_t i = 0; i < c; i++)
        for (size_t h = 0; h < c; h++)
          s->information[j * NESTED_PARAMETERS + k] -= left[i * NESTED_PARAMETERS + j] *
                                                       s->gamma_cov[i * q + h] *
                                                       left[h * NESTED_PARAMETERS + k];
}
