/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is believed of a line where the mixed model can't tell: a mesh without slopes of its own, a
 * mounting of unknown age, sessions too young to be fitted.
 *
 * The loss is then a share of the tension with a wide doubt (published relaxation of polyester: 3
 * to 7 % per decade), the level what the mesh's mountings were read at. Everything is normal, and
 * taking data in is Bayes' rule for two numbers (tenter_nested_line_update). */
#include "population_inner.h"

static const double usual_spread =
    0.10; /* of levels between mountings, as a share: common practice */
static const double wide_spread = 0.30; /* of the level of a mesh that was never fitted */
static const double ages_hours[AGES] = {48, 240, 1200,
                                        6000}; /* at the first session, unknown zero */
static const double least_young_hours = 6, most_doubt = 0.5; /* decades */

static double loss_at(const judge *j, const population *p, double level) {
  return j->settings->prior_loss_share * (p->log ? 1 : level);
}

/* ---- levels --------------------------------------------------------------------------------- */

/* A mounting's level at 24 h by its own fitted sessions and the prior's loss. */
static bool own_level(const judge *j, const population *p, const tenter_mounting *m,
                      double *level) {
  double sum = 0, weights = 0;
  for (size_t i = judge__level_begin(j, m); i < m->first_session + m->session_count; i++) {
    const session_value *value = &j->sessions[i];
    if (!judge__is_fitted(value))
      continue;
    double y = scale_to(p, value->adjusted);
    sum += value->weight * (y + loss_at(j, p, y) * tenter_clock_u(p->clock, value->u));
    weights += value->weight;
  }
  *level = sum / weights;
  return weights > 0;
}

void judge__prior_blocks(judge *j, population *p) {
  struct population_inner *in = p->inner;
  for (size_t i = 0; i < in->placed_count; i++) {
    double level;
    block_state *block = &in->blocks[in->placed[i].group >> 33];
    if (!block->prior || !own_level(j, p, &j->shop->mountings[in->placed[i].mounting], &level))
      continue;
    double off = level - block->level; /* Welford's update */
    block->level += off / (double)++block->counted;
    block->squares += off * (level - block->level);
  }
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++) {
    block_state *block = &in->blocks[slot];
    double n = (double)block->counted;
    double usual = squared(usual_spread * (p->log ? 1 : block->level));
    block->level_spread = (block->squares + 4 * usual) / (fmax(n - 1, 0) + 4);
  }
}

bool judge__prior_line(const judge *j, const population *p, uint32_t slot, double hint,
                       tenter_nested_line *line) {
  const block_state *block = &p->inner->blocks[slot];
  double level = block->level, variance;
  if (block->counted > 0) {
    variance = block->level_spread * (1 + 1 / (double)block->counted);
  } else if (!isnan(hint)) {
    level = scale_to(p, hint);
    variance = squared(wide_spread * (p->log ? 1 : hint));
  } else {
    return false;
  }
  double loss = loss_at(j, p, level);
  *line =
      (tenter_nested_line){.level = level,
                           .slope = -loss,
                           .cov = {.level = variance, .slope = squared(PRIOR_LOSS_DOUBT * loss)}};
  return true;
}

/* ---- one session at a time ------------------------------------------------------------------ */

/* Takes one session in; returns the logarithm of how likely it was. */
static double take(tenter_nested_line *line, double residual, double u, double y, double weight) {
  double off = y - (line->level + line->slope * u);
  double variance =
      line->cov.level + 2 * u * line->cov.cross + u * u * line->cov.slope + residual / weight;
  tenter_nested_line_update(line, residual, 1, &u, &y, &weight);
  return -0.5 * (off * off / variance + log(variance));
}

static double plain_weight(const judge *j, const population *p, size_t session, double more) {
  const session_value *value = &j->sessions[session];
  double variance = value->variance + squared(j->noise.session) + more;
  return (p->log ? squared(value->adjusted) : 1) / variance;
}

/* Sd of u: of an age that is vague, rectangular; of one that is too young for the law, the most. */
static double young_doubt(const judge *j, const tenter_mounting *m, size_t session) {
  const tenter_session *s = &j->shop->sessions[session];
  double age = tenter_mounting_age_hours(m, s->taken),
         hours = tenter_mounting_age_doubt_hours(m, s);
  if (age < least_young_hours)
    return most_doubt;
  return fmin(most_doubt, hours / age / M_LN10 / sqrt(3));
}

void judge__prior_young(const judge *j, const population *p, const tenter_mounting *m, size_t node,
                        tenter_nested_line *line) {
  for (size_t i = judge__level_begin(j, m); i < m->first_session + m->session_count; i++) {
    double age = tenter_mounting_age_hours(m, j->shop->sessions[i].taken);
    if (isnan(age) || age < 0 || j->sessions[i].state & SESSION_MISREAD)
      continue;
    double tension = j->sessions[i].adjusted - judge__shift(j, i);
    double doubt = young_doubt(j, m, i) * j->settings->prior_loss_share * tension;
    double u = tenter_clock_u(p->node_clock[node], age_u(fmax(age, least_young_hours)));
    take(line, p->residual[node], u, scale_to(p, tension), plain_weight(j, p, i, squared(doubt)));
  }
}

size_t judge__prior_ages(const judge *j, const population *p, const tenter_mounting *m,
                         const tenter_nested_line *before, double residual, aged_line out[AGES]) {
  double likely[AGES], most = -INFINITY, total = 0;
  double first = j->shop->sessions[m->first_session].taken;
  for (size_t a = 0; a < AGES; a++) {
    out[a] = (aged_line){.zero = first - ages_hours[a] * TENTER_HOUR, .line = *before};
    likely[a] = 0;
    for (size_t i = judge__level_begin(j, m); i < m->first_session + m->session_count; i++) {
      if (j->sessions[i].state & SESSION_MISREAD)
        continue;
      double age = (j->shop->sessions[i].taken - out[a].zero) / TENTER_HOUR;
      likely[a] +=
          take(&out[a].line, residual, tenter_clock_u(p->clock, age_u(age)),
               scale_to(p, j->sessions[i].adjusted - judge__shift(j, i)), plain_weight(j, p, i, 0));
    }
    most = fmax(most, likely[a]);
  }
  for (size_t a = 0; a < AGES; a++)
    total += out[a].weight = exp(likely[a] - most);
  for (size_t a = 0; a < AGES; a++)
    out[a].weight /= total;
  return AGES;
}
