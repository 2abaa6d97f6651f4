/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A solution of the nested model at given components, and what can be asked of it. With the fixed
 * effects f = (block's line, gamma) and everything relative to sigma^2:
 *
 *   group's effect   A = W (F_y - [K F_C] f),              error  W
 *   unit's effect    a = t P (v_y - [H v_C] f - A),        error  t - tPt  (A known)
 *   A + a            = (I - tP) A + tP (v_y - [H v_C] f),  error  t - tPt + (I - tP) W (I - tP)'
 *
 * and with M the derivative of the prediction by f, M A_b M' is added for the fixed effects, A_b
 * the block's part of the inverse (Henderson 1975, Biometrics 31:423). Relies on: base/alloc. */
#include <math.h>
#include <string.h>

#include "nested_unit.h"
#include "tenter/base/alloc.h"

/* Where the origin of u was moved, level and cross are differences: known to rounding of the slope,
 * not of themselves. */
bool nested_factor(sym2 s, double l[3]) {
  const double rounding = 1e-12;
  double tiny = rounding * (fabs(s.level) + fabs(s.slope));
  if (!(s.level >= -tiny) || !(s.slope >= -tiny) || !isfinite(s.level + s.cross + s.slope))
    return false;
  double level = fmax(s.level, 0), slope = fmax(s.slope, 0);
  l[0] = sqrt(level);
  l[1] = l[0] > 0 ? fmax(-sqrt(slope), fmin(sqrt(slope), s.cross / l[0])) : 0;
  double left = slope - l[1] * l[1];
  l[2] = left > rounding * slope ? sqrt(left) : 0;
  return s.cross * s.cross - level * slope <= 1e3 * tiny * (level + slope);
}

/* ---- making ---- */

/* The first segment of each group. */
static uint32_t *group_segments(const nested_plan *plan) {
  uint32_t *opening = tenter_alloc(plan->products->group_count + 1, sizeof *opening);
  for (size_t i = 0, g = 0; opening && plan->grouped && i < plan->segment_count; i++)
    if (plan->segment[i].opens)
      opening[g++] = (uint32_t)i;
  return opening;
}

tenter_status nested_solution_new(nested_plan *plan, const nested_point *at, double residual,
                                  tenter_pool *pool, tenter_nested_solution **result,
                                  tenter_error *error) {
  tenter_nested_solution *s = tenter_alloc(1, sizeof *s);
  if (!s) {
    nested_plan_free(plan);
    return tenter_fail_memory(error);
  }
  *s = (tenter_nested_solution){.plan = plan, .residual = residual};
  tenter_status status = nested_state_new(plan, pool, &s->state, error);
  if (status == TENTER_OK && !(s->opening = group_segments(plan)))
    status = tenter_fail_memory(error);
  if (status) {
    tenter_nested_solution_free(s);
    return status;
  }
  nested_evaluate(s->state, at);
  s->state->pool = NULL;
  *result = s;
  return TENTER_OK;
}

tenter_status tenter_nested_solve(const tenter_nested_products *products,
                                  const tenter_nested_components *components, tenter_pool *pool,
                                  tenter_nested_solution **solution, tenter_error *error) {
  nested_point at;
  nested_plan *plan;
  double residual = components->residual;
  sym2 G = components->group, H = components->unit;
  if (!(residual > 0) || !isfinite(residual) || !nested_factor(G, at.factor) ||
      !nested_factor(H, at.factor))
    return tenter_fail(error, TENTER_USAGE, "the components of a nested model are no variances");
  if (products->observations == 0)
    return tenter_fail(error, TENTER_INPUT, "a nested model without observations");
  bool grouped = G.level > 0 || G.slope > 0;
  tenter_status status = nested_plan_new(products, grouped, &plan, error);
  if (status)
    return status;
  nested_factor(move2(scale2(G, 1 / residual), plan->shift), at.factor);
  nested_factor(move2(scale2(H, 1 / residual), plan->shift), at.factor + 3);
  return nested_solution_new(plan, &at, residual, pool, solution, error);
}

void tenter_nested_solution_free(tenter_nested_solution *s) {
  if (!s)
    return;
  nested_state_free(s->state);
  nested_plan_free(s->plan);
  tenter_free(s->opening);
  tenter_free(s);
}

/* ---- fixed effects ---- */

double tenter_nested_loglik(const tenter_nested_solution *s, bool ml) {
  return -nested_deviance(s->state, ml, &s->residual) / 2;
}

size_t tenter_nested_rank(const tenter_nested_solution *s) {
  return s->plan->fixed;
}

double tenter_nested_covariate_cov(const tenter_nested_solution *s, size_t first, size_t second) {
  bool known = s->plan->kept[first] && s->plan->kept[second];
  return known ? s->residual * s->state->gamma_cov[first * s->plan->q + second] : NAN;
}

double tenter_nested_covariate_inflation(const tenter_nested_solution *s, size_t covariate) {
  size_t q = s->plan->q;
  double alone = 0; /* S = LL' of the covariates; its diagonal is the information of each alone */
  for (size_t k = 0; k <= covariate; k++)
    alone += s->state->energy[covariate * q + k] * s->state->energy[covariate * q + k];
  return s->plan->kept[covariate] ? alone * s->state->gamma_cov[covariate * q + covariate] : NAN;
}

bool tenter_nested_covariate(const tenter_nested_solution *s, size_t covariate, double *value,
                             double *se) {
  bool known = s->plan->kept[covariate];
  *value = known ? s->state->gamma[covariate] : NAN;
  *se = sqrt(tenter_nested_covariate_cov(s, covariate, covariate));
  return known;
}

void tenter_nested_slope_prior(tenter_nested_solution *s, double mean, double sd) {
  s->slope_prior = true;
  s->prior_mean = mean;
  s->prior_variance = sd * sd;
}

/* ---- lines ---- */

/* A prediction about shift, relative: mean of its random part, its error with the fixed effects
 * known, and the weights of the fixed effects in it beside the line's own (2 x m). */
typedef struct prediction {
  double mean[2];
  sym2 error;
  double weights[2 * NESTED_M];
} prediction;

/* error += M A M'. */
static void add_fixed_error(const nested_state *s, size_t block, const double *M, sym2 *error) {
  size_t m = s->plan->m;
  const double *A = s->inverse + block * m * m;
  for (size_t i = 0; i < m; i++)
    for (size_t k = 0; k < m; k++) {
      double a = A[i * m + k];
      error->level += M[i] * a * M[k];
      error->cross += M[i] * a * M[m + k];
      error->slope += M[m + i] * a * M[m + k];
    }
}

/* Adds the fixed line at the covariates to a prediction. Estimates are about the reference lines,
 * so M counts covariates from theirs; at u = shift a line's x is level + shift slope. */
static void add_fixed(const nested_state *s, size_t block, const tenter_nested_at *at,
                      prediction *to) {
  const nested_plan *plan = s->plan;
  size_t q = plan->q, c = q - 1, m = plan->m;
  const double *reference = plan->reference + block * 2 * q;
  double *M = to->weights;
  for (size_t r = 0; r < 2; r++) {
    M[r * m + r] += 1;
    to->mean[r] += s->line[2 * block + r] + reference[r * q + c];
  }
  for (size_t k = 0; k < c; k++) {
    double level = at && at->level ? at->level[k] : 0, slope = at && at->slope ? at->slope[k] : 0;
    double x0 = level + plan->shift * slope - reference[k], x1 = slope - reference[q + k];
    M[2 + k] += x0;
    M[m + 2 + k] += x1;
    to->mean[0] += x0 * s->gamma[k];
    to->mean[1] += x1 * s->gamma[k];
  }
  add_fixed_error(s, block, M, &to->error);
}

/* ---- random effects ---- */

static void group_effect(const tenter_nested_solution *s, size_t group, prediction *to) {
  const nested_state *st = s->state;
  size_t q = st->plan->q, m = st->plan->m, block = st->plan->products->group[group].block;
  double *weights = to->weights;
  *to = (prediction){.error = st->group};
  if (!st->plan->grouped)
    return;
  const double *sums = st->sums + s->opening[group] * nested_sums(q);
  const double *F0 = sums + 3, *F1 = F0 + q, *line = st->line + 2 * block;
  sym2 K = {sums[0], sums[1], sums[2]};
  sym2 W = shrink2(st->group, K, det_one_plus2(K, st->group));
  for (size_t k = 0; k < m; k++) {
    double z0 = k < 2 ? sums[k] : F0[k - 2], z1 = k < 2 ? sums[k + 1] : F1[k - 2];
    double f = k < 2 ? line[k] : st->gamma[k - 2];
    weights[k] = -W.level * z0 - W.cross * z1;
    weights[m + k] = -W.cross * z0 - W.slope * z1;
    to->mean[0] += weights[k] * f;
    to->mean[1] += weights[m + k] * f;
  }
  to->mean[0] += W.level * F0[q - 1] + W.cross * F1[q - 1];
  to->mean[1] += W.cross * F0[q - 1] + W.slope * F1[q - 1];
  to->error = W;
}

/* What a unit's observations say, for its effect given its group's: tPH about shift (B), and
 * tP [v_C v_y] (2 x q); the effect is  tP (v_y - v_C gamma) - B (line + A). */
typedef struct unit_share {
  double B[2][2];
  double v[2][NESTED_Q];
} unit_share;

static void look_at_unit(const tenter_nested_solution *s, size_t unit, size_t block,
                         unit_share *share) {
  const nested_plan *plan = s->plan;
  size_t q = plan->q;
  const double *record = nested_unit(plan->products, unit);
  double level[NESTED_Q], slope[NESTED_Q];
  nested_view v = nested_look(record, plan->shift, s->state->at.factor + 3);
  nested_lines(record, v.u, plan->reference + block * 2 * q, q, level, slope);
  sym2 t = s->state->unit, k = nested_share(&v);
  share->B[0][0] = t.level * k.level + t.cross * k.cross;
  share->B[0][1] = t.level * k.cross + t.cross * k.slope;
  share->B[1][0] = t.cross * k.level + t.slope * k.cross;
  share->B[1][1] = t.cross * k.cross + t.slope * k.slope;
  for (size_t i = 0; i < q; i++) {
    double p0 = v.p.level * level[i] + v.p.cross * slope[i];
    double p1 = v.u * p0 + v.p.cross * level[i] + v.p.slope * slope[i];
    share->v[0][i] = t.level * p0 + t.cross * p1;
    share->v[1][i] = t.cross * p0 + t.slope * p1;
  }
}

/* t - tPt = (t^-1 + S)^-1, S the unit's information about shift. */
static sym2 unit_error(const tenter_nested_solution *s, size_t unit) {
  const double *record = nested_unit(s->plan->products, unit);
  double u = record[UNIT_MEAN_U] - s->plan->shift, a = record[UNIT_A], b = record[UNIT_B];
  sym2 S = {a, a * u, b + a * u * u};
  nested_view v = nested_look(record, s->plan->shift, s->state->at.factor + 3);
  sym2 t = s->state->unit;
  double dt = s->state->at.factor[3] * s->state->at.factor[5];
  return (sym2){(t.level + dt * dt * S.slope) / v.d, (t.cross - dt * dt * S.cross) / v.d,
                (t.slope + dt * dt * S.level) / v.d};
}

/* C s C' for a 2 x 2 C. */
static sym2 sandwich(double C[2][2], sym2 s) {
  double x0 = C[0][0] * s.level + C[0][1] * s.cross, x1 = C[0][0] * s.cross + C[0][1] * s.slope;
  double y0 = C[1][0] * s.level + C[1][1] * s.cross, y1 = C[1][0] * s.cross + C[1][1] * s.slope;
  return (sym2){x0 * C[0][0] + x1 * C[0][1], x0 * C[1][0] + x1 * C[1][1],
                y0 * C[1][0] + y1 * C[1][1]};
}

/* The unit's effect (whole 0), or group's and unit's together (whole 1). */
static void unit_effect(const tenter_nested_solution *s, size_t unit, int whole, prediction *to) {
  const nested_state *st = s->state;
  size_t q = st->plan->q, c = q - 1, m = st->plan->m;
  size_t group = tenter_nested_unit_group(st->plan->products, unit);
  size_t block = st->plan->products->group[group].block;
  prediction A = {0};
  unit_share share = {0};
  group_effect(s, group, &A);
  look_at_unit(s, unit, block, &share);
  double C[2][2] = {{whole - share.B[0][0], -share.B[0][1]},
                    {-share.B[1][0], whole - share.B[1][1]}};
  for (size_t r = 0; r < 2; r++) {
    to->mean[r] = share.v[r][c] + C[r][0] * A.mean[0] + C[r][1] * A.mean[1];
    for (size_t k = 0; k < m; k++) {
      double direct = k < 2 ? share.B[r][k] : share.v[r][k - 2];
      double f = k < 2 ? st->line[2 * block + k] : st->gamma[k - 2];
      to->weights[r * m + k] = C[r][0] * A.weights[k] + C[r][1] * A.weights[m + k] - direct;
      to->mean[r] -= direct * f;
    }
  }
  to->error = add2(unit_error(s, unit), sandwich(C, A.error));
}

/* ---- answers ---- */

/* From about shift to about 0, in absolute units. */
static void finish(const tenter_nested_solution *s, const prediction *p, tenter_nested_line *line) {
  line->slope = p->mean[1];
  line->level = p->mean[0] - s->plan->shift * p->mean[1];
  line->cov = move2(scale2(p->error, s->residual), -s->plan->shift);
}

/* A line with its fixed part. Where the block has one u only it was fitted as a flat line; a slope
 * known beforehand turns that about this u. */
static bool finish_line(const tenter_nested_solution *s, size_t block, const tenter_nested_at *at,
                        prediction *p, tenter_nested_line *line) {
  const nested_plan *plan = s->plan;
  bool turned = plan->rank[block] == 1 && plan->products->terms == 2;
  if (plan->rank[block] == 0 || (turned && !s->slope_prior)) {
    *line = (tenter_nested_line){NAN, NAN, {NAN, NAN, NAN}};
    return false;
  }
  add_fixed(s->state, block, at, p);
  finish(s, p, line);
  if (turned) {
    double u = plan->center[block], variance = s->prior_variance;
    line->slope += s->prior_mean;
    line->level -= u * s->prior_mean;
    line->cov = add2(line->cov, (sym2){u * u * variance, -u * variance, variance});
  }
  return true;
}

bool tenter_nested_block_line(const tenter_nested_solution *s, size_t block,
                              const tenter_nested_at *at, tenter_nested_line *line) {
  prediction p = {0};
  return finish_line(s, block, at, &p, line);
}

bool tenter_nested_new_group_line(const tenter_nested_solution *s, size_t block,
                                  const tenter_nested_at *at, tenter_nested_line *line) {
  prediction p = {.error = add2(s->state->group, s->state->unit)};
  return finish_line(s, block, at, &p, line);
}

static bool group_line(const tenter_nested_solution *s, size_t group, const tenter_nested_at *at,
                       bool with_unit, tenter_nested_line *line) {
  prediction p = {0};
  group_effect(s, group, &p);
  if (with_unit)
    p.error = add2(p.error, s->state->unit);
  return finish_line(s, s->plan->products->group[group].block, at, &p, line);
}

bool tenter_nested_group_line(const tenter_nested_solution *s, size_t group,
                              const tenter_nested_at *at, tenter_nested_line *line) {
  return group_line(s, group, at, false, line);
}

bool tenter_nested_new_unit_line(const tenter_nested_solution *s, size_t group,
                                 const tenter_nested_at *at, tenter_nested_line *line) {
  return group_line(s, group, at, true, line);
}

bool tenter_nested_unit_line(const tenter_nested_solution *s, size_t unit,
                             const tenter_nested_at *at, tenter_nested_line *line) {
  const tenter_nested_products *data = s->plan->products;
  prediction p = {0};
  unit_effect(s, unit, 1, &p);
  return finish_line(s, data->group[tenter_nested_unit_group(data, unit)].block, at, &p, line);
}

/* An effect by itself: no fixed line, but the error that comes from estimating it. */
static void finish_effect(const tenter_nested_solution *s, size_t group, prediction *p,
                          tenter_nested_line *line, tenter_nested_cov *given) {
  if (given)
    *given = move2(scale2(p->error, s->residual), -s->plan->shift);
  add_fixed_error(s->state, s->plan->products->group[group].block, p->weights, &p->error);
  finish(s, p, line);
}

void tenter_nested_group_effect(const tenter_nested_solution *s, size_t group,
                                tenter_nested_line *line, tenter_nested_cov *given) {
  prediction p = {0};
  group_effect(s, group, &p);
  finish_effect(s, group, &p, line, given);
}

void tenter_nested_unit_effect(const tenter_nested_solution *s, size_t unit,
                               tenter_nested_line *line, tenter_nested_cov *given) {
  prediction p = {0};
  unit_effect(s, unit, 0, &p);
  finish_effect(s, tenter_nested_unit_group(s->plan->products, unit), &p, line, given);
}

/* One observation at a time: gain k = C z / (z'Cz + sigma^2 / w). */
void tenter_nested_line_update(tenter_nested_line *line, double residual, size_t count,
                               const double *u, const double *y, const double *weight) {
  for (size_t j = 0; j < count; j++) {
    double x = u ? u[j] : 0;
    sym2 c = line->cov;
    double c0 = c.level + x * c.cross, c1 = c.cross + x * c.slope;
    double total = c0 + x * c1 + residual / (weight ? weight[j] : 1);
    double miss = y[j] - line->level - line->slope * x;
    line->level += c0 / total * miss;
    line->slope += c1 / total * miss;
    line->cov =
        (sym2){c.level - c0 * c0 / total, c.cross - c0 * c1 / total, c.slope - c1 * c1 / total};
  }
}
