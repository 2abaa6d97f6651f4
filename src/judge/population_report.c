/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the population model found, for the report and for the lots; and forecasts of sessions from
 * the past alone. */
#include "population_inner.h"
#include "tenter/base/alloc.h"

tenter_line judge__mean_line(size_t count, const double *weight, const tenter_line *nodes) {
  tenter_line mean = {0};
  for (size_t k = 0; k < count; k++) {
    mean.at_24h += weight[k] * nodes[k].at_24h;
    mean.loss += weight[k] * nodes[k].loss;
  }
  for (size_t k = 0; k < count; k++) {
    double level = nodes[k].at_24h - mean.at_24h, loss = nodes[k].loss - mean.loss;
    mean.var_at_24h += weight[k] * (nodes[k].var_at_24h + level * level);
    mean.var_loss += weight[k] * (nodes[k].var_loss + loss * loss);
    mean.cov += weight[k] * (nodes[k].cov + level * loss);
  }
  return mean;
}

tenter_line judge__in_tension(const population *p, tenter_line line, double level) {
  if (!p->log) {
    double share = isnan(level) ? 1 : level / line.at_24h;
    line.loss *= share;
    line.var_loss *= share * share;
    line.cov *= share;
    return line;
  }
  double own = exp(line.at_24h), at = isnan(level) ? own : level;
  return (tenter_line){.at_24h = own,
                       .loss = line.loss * at,
                       .var_at_24h = line.var_at_24h * own * own,
                       .var_loss = line.var_loss * at * at,
                       .cov = line.cov * own * at};
}

/* ---- structure in words --------------------------------------------------------------------- */

static const char *structure_words(const population *p, const block_state *block) {
  static const tenter_say words[3][3] = {
      /* by what is random among lots, then among mountings */
      {TENTER_SAY_FITTED_NONE, TENTER_SAY_FITTED_MOUNTING_LEVEL, TENTER_SAY_FITTED_MOUNTING},
      {TENTER_SAY_FITTED_LOT_LEVEL, TENTER_SAY_FITTED_LEVEL, TENTER_SAY_FITTED_LOT_LEVEL_MOUNTING},
      {TENTER_SAY_FITTED_LOT, TENTER_SAY_FITTED_LOT_MOUNTING_LEVEL, TENTER_SAY_FITTED_ALL}};
  if (block->prior)
    return tenter_say_text(TENTER_SAY_FITTED_PRIOR);
  if (!p->inner->fit.solution)
    return tenter_say_text(TENTER_SAY_FITTED_WEAK_PRIORS);
  const tenter_nested_structure *s = &p->inner->fit.structure;
  return tenter_say_text(words[s->group][s->unit]);
}

/* ---- populations ---------------------------------------------------------------------------- */

/* Sd's of level or loss in N/cm, and a correlation. */
static void fill_components(const population *p, double level, double weight,
                            tenter_review_population *out) {
  const tenter_nested_components *c = &p->inner->fit.components;
  double scale = p->log ? level : 1;
  out->sd_lot_at_24h = sqrt(c->group.level) * scale;
  out->sd_lot_loss = sqrt(c->group.slope) * scale;
  out->lot_correlation = -c->group.cross / sqrt(c->group.level * c->group.slope);
  out->sd_mounting_at_24h = sqrt(c->unit.level) * scale;
  out->sd_mounting_loss = sqrt(c->unit.slope) * scale;
  out->mounting_correlation = -c->unit.cross / sqrt(c->unit.level * c->unit.slope);
  out->sd_session = sqrt(c->residual / weight);
}

static void fill_population(const judge *j, const population *p, uint32_t slot,
                            tenter_review_population *out) {
  const block_state *block = &p->inner->blocks[slot];
  bool unknown = slot + 1 == j->mesh_slots;
  *out = (tenter_review_population){.mesh = unknown ? TENTER_NO_NAME : slot,
                                    .mountings = block->mountings,
                                    .lots = block->lots,
                                    .sessions = block->sessions,
                                    .reml_log_likelihood = NAN,
                                    .structure = structure_words(p, block),
                                    .scale = p->log ? "log" : "tension",
                                    .law = judge__law_name(p),
                                    .law_beta = NAN,
                                    .law_tau_hours = tenter_clock_tau_hours(p->clock),
                                    .levels_off = 1};
  if (!tenter_clock_is_log(p->clock))
    out->law_beta = p->clock.growth;
  if (tenter_clock_is_log(p->clocks.clock[0]))
    out->levels_off -= p->clocks.weight[0];
  double nan = NAN;
  out->loss_at_rest = out->loss_at_rest_se = nan;
  out->sd_lot_at_24h = out->sd_lot_loss = out->lot_correlation = out->sd_mounting_at_24h =
      out->sd_mounting_loss = out->mounting_correlation = out->sd_session = nan;
  tenter_line line;
  if (block->prior) {
    double loss = j->settings->prior_loss_share * (p->log ? 1 : block->level);
    line = (tenter_line){block->level, loss, block->level_spread / (double)block->counted,
                         squared(PRIOR_LOSS_DOUBT * loss), 0};
  } else {
    line = judge__mean_line(j->review->node_count, j->review->node_weight,
                            &p->inner->mesh_lines[slot * j->review->node_count]);
  }
  line = judge__in_tension(p, line, NAN);
  out->at_24h = line.at_24h;
  out->at_24h_se = sqrt(line.var_at_24h);
  out->loss_per_decade = line.loss;
  out->loss_per_decade_se = sqrt(line.var_loss);
  if (p->inner->fit.solution) {
    out->reml_log_likelihood = p->inner->fit.loglik;
    fill_components(p, out->at_24h, block->weights / (double)block->sessions, out);
  }
}

/* ---- lots ----------------------------------------------------------------------------------- */

static bool known_lot(const struct population_inner *in, size_t i) {
  return !(in->placed[i].group >> 32 & 1);
}

static void add_lot(const judge *j, population *p, size_t i) {
  const struct population_inner *in = p->inner;
  const tenter_mounting *m = &j->shop->mountings[in->placed[i].mounting];
  size_t nodes = j->review->node_count, slot = in->placed[i].group >> 33;
  p->lots[p->lot_count++] = (population_lot){.lot = m->is.lot,
                                             .mesh = m->is.mesh,
                                             .first = i,
                                             .nodes = &in->group_lines[in->group[i] * nodes],
                                             .effects = &in->group_effects[in->group[i] * nodes],
                                             .mesh_nodes = &in->mesh_lines[slot * nodes]};
}

static void list_lots(const judge *j, population *p) {
  const struct population_inner *in = p->inner;
  for (size_t i = 0; i < in->placed_count; i++) {
    if (!known_lot(in, i))
      continue;
    bool opens = i == 0 || in->placed[i].group != in->placed[i - 1].group;
    if (opens)
      add_lot(j, p, i);
    population_lot *lot = &p->lots[p->lot_count - 1];
    lot->sessions += in->fitted[i];
    lot->mountings += in->fitted[i] > 0;
    lot->count++;
  }
}

const tenter_mounting *judge__lot_mounting(const judge *j, const population_lot *lot, size_t i) {
  return &j->shop->mountings[j->population->inner->placed[lot->first + i].mounting];
}

tenter_status judge__population_report(judge *j, population *p, tenter_error *error) {
  tenter_review *review = j->review;
  review->populations = tenter_arena_alloc(j->arena, j->mesh_slots, sizeof *review->populations);
  p->lots = tenter_arena_alloc(j->arena, p->inner->group_count, sizeof *p->lots);
  if (!review->populations || !p->lots)
    return tenter_fail_memory(error);
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++)
    if (p->inner->blocks[slot].mountings > 0)
      fill_population(j, p, slot, &review->populations[review->population_count++]);
  list_lots(j, p);
  p->mountings = p->inner->placed_count;
  p->groups = p->inner->group_count;
  return j->texts ? judge__covariates(j, p, error) : TENTER_OK;
}

/* ---- mountings yet to be made --------------------------------------------------------------- */

static void add_spread(tenter_line *sum, const tenter_line *more) {
  sum->var_at_24h += more->var_at_24h;
  sum->var_loss += more->var_loss;
  sum->cov += more->cov;
}

/* Where the prior tells the loss: the mesh's level is known from its mountings, its loss is not. */
static bool new_by_prior(const judge *j, uint32_t slot, new_mounting *out) {
  const block_state *block = &j->population->inner->blocks[slot];
  tenter_nested_line line;
  if (block->counted == 0 || !judge__prior_line(j, j->population, slot, NAN, &line))
    return false;
  out->mean = line_of(&line);
  out->mean.var_at_24h = block->level_spread / (double)block->counted;
  out->spread = (tenter_line){.var_at_24h = block->level_spread};
  return true;
}

bool judge__new_mounting(const judge *j, uint32_t slot, const population_lot *lot, size_t node,
                         new_mounting *out) {
  const population *p = j->population;
  const tenter_line *mesh = &p->inner->mesh_lines[slot * j->review->node_count];
  if (isnan(mesh[node].at_24h))
    return !lot && new_by_prior(j, slot, out);
  out->mean = lot ? lot->nodes[node] : mesh[node];
  out->spread = p->among_mountings[node];
  if (!lot)
    add_spread(&out->spread, &p->among_lots[node]);
  return !isnan(out->mean.at_24h);
}

/* ---- ages that are not known ----------------------------------------------------------------- */

size_t judge__unknown_age(const judge *j, size_t mounting, aged_line out[AGES]) {
  const population *p = j->population;
  const struct population_inner *in = p->inner;
  const tenter_mounting *m = &j->shop->mountings[mounting];
  const tenter_nested_solution *s = in->fit.solution ? in->fit.solution : in->heaviest;
  uint32_t slot = mesh_slot(j, m->is.mesh);
  double hint = j->sessions[m->first_session + m->session_count - 1].adjusted;
  tenter_nested_line line;
  bool told = s && !in->blocks[slot].prior && in->blocks[slot].mountings > 0 &&
              tenter_nested_unit_line(s, in->unit[mounting], NULL, &line);
  if (!told && !judge__prior_line(j, p, slot, hint, &line))
    return 0;
  return judge__prior_ages(j, p, m, &line, p->residual[0], out);
}
