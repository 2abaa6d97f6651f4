/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every mounting's line from all mountings together.
 *
 * Outline: mountings are put in order of mesh and lot; their fitted sessions enter the nested model
 * as cross-products; the model is fitted on tension and on its logarithm and the likelier scale is
 * kept; the variance components are integrated over by a few nodes (shops large enough that the
 * components are as good as known take the optimum alone); then every screen, lot and mesh is asked
 * for its line. A mesh whose loss the data tell less well than the prior does takes the prior's
 * (population_prior.c). */
#include <stdlib.h>
#include <string.h>

#include "population_inner.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/nested_nodes.h"

enum {
  BLOCK_SESSIONS = 4096,
  BLOCK_SCREENS = 512,
  BLOCK_UNITS = 1024,
  PLUG_IN_UNITS = 4000,
  SCALE_UNITS = 3000
};

static const double log_scale_margin = 2; /* by which the logarithm must be likelier */

/* ---- what is fitted ------------------------------------------------------------------------- */

/* What half a day of doubt about an age does to u: rectangular. */
static double u_variance(double doubt_hours, double age_hours) {
  return squared(doubt_hours / age_hours / M_LN10) / 3;
}

/* Sessions before the zero, younger than two days by a date alone, or younger than the least age
 * are kept but not fitted; nor are misread ones. */
static void prepare(judge *j, const tenter_mounting *m, size_t session) {
  session_value *value = &j->sessions[session];
  const tenter_session *s = &j->shop->sessions[session];
  double age = tenter_mounting_age_hours(m, s->taken);
  double doubt = tenter_mounting_age_doubt_hours(m, s);
  bool vague = doubt > 0 && age < 48;
  if (value->state & SESSION_MISREAD || isnan(age) || vague || age <= 0 ||
      age * 60 < j->settings->least_age_minutes) {
    value->u = NAN;
    return;
  }
  double loss = j->settings->prior_loss_share * value->adjusted;
  double variance = value->variance + squared(j->noise.session);
  value->weight = (float)(1 / (variance + squared(loss) * u_variance(doubt, age)));
}

static void prepare_block(void *context, size_t task, size_t worker) {
  (void)worker;
  judge *j = context;
  size_t end = (task + 1) * BLOCK_SESSIONS;
  for (size_t i = task * BLOCK_SESSIONS; i < end && i < j->shop->session_count; i++)
    prepare(j, mounting_of(j, &j->shop->sessions[i]), i);
}

void judge__fittable(judge *j) {
  size_t blocks = (j->shop->session_count + BLOCK_SESSIONS - 1) / BLOCK_SESSIONS;
  tenter_pool_run(j->pool, blocks, prepare_block, j);
}

bool judge__data_room(line_data *d, size_t count) {
  if (count <= d->room)
    return true;
  judge__data_release(d);
  d->u = tenter_alloc(count, sizeof *d->u);
  d->y = tenter_alloc(count, sizeof *d->y);
  d->weight = tenter_alloc(count, sizeof *d->weight);
  if (d->u && d->y && d->weight)
    d->room = count;
  else
    judge__data_release(d);
  return d->room == count;
}

void judge__data_release(line_data *d) {
  tenter_free(d->u);
  tenter_free(d->y);
  tenter_free(d->weight);
  *d = (line_data){0};
}

void judge__data_gather(const judge *j, const population *p, const tenter_mounting *m, size_t end,
                        line_data *d) {
  d->count = 0;
  for (size_t i = judge__level_begin(j, m); i < end; i++) {
    const session_value *value = &j->sessions[i];
    if (isnan(value->u))
      continue;
    d->u[d->count] = value->u;
    d->y[d->count] = scale_to(p, value->adjusted);
    d->weight[d->count++] = value->weight * (p->log ? squared(value->adjusted) : 1);
  }
}

/* ---- order ---------------------------------------------------------------------------------- */

/* The first mounting of the piece of mesh that this one is on. */
static uint32_t piece_of(const judge *j, uint32_t mounting) {
  uint32_t back = j->shop->mountings[mounting].cycle;
  uint32_t ordinal = j->shop->mountings[mounting].ordinal;
  return mounting - (back < ordinal ? back : ordinal);
}

static uint64_t group_key(const judge *j, uint32_t mounting) {
  const tenter_mounting *m = &j->shop->mountings[mounting];
  bool known = m->is.lot != TENTER_NO_NAME;
  uint64_t slot = mesh_slot(j, m->is.mesh);
  return slot << 33 | (uint64_t)!known << 32 | (known ? m->is.lot : piece_of(j, mounting));
}

static int placed_order(const void *a, const void *b) {
  const placed *p = a, *q = b;
  if (p->group != q->group)
    return p->group < q->group ? -1 : 1;
  return (p->mounting > q->mounting) - (p->mounting < q->mounting);
}

/* Mountings in use, and older ones with sessions, in order of groups. */
static bool place_mountings(judge *j, struct population_inner *in) {
  size_t count = j->shop->mounting_count;
  in->placed = tenter_alloc(count + 1, sizeof *in->placed);
  in->unit = tenter_alloc(count + 1, sizeof *in->unit);
  in->group = tenter_alloc(count + 1, sizeof *in->group);
  in->fitted = tenter_alloc(count + 1, sizeof *in->fitted);
  if (!in->placed || !in->unit || !in->group || !in->fitted)
    return false;
  for (uint32_t i = 0; i < count; i++) {
    in->unit[i] = UINT32_MAX;
    const tenter_mounting *m = &j->shop->mountings[i];
    if (m->session_count > 0 || j->shop->screens[m->screen].current == i)
      in->placed[in->placed_count++] = (placed){group_key(j, i), i};
  }
  qsort(in->placed, in->placed_count, sizeof *in->placed, placed_order);
  for (uint32_t i = 0; i < in->placed_count; i++) {
    in->unit[in->placed[i].mounting] = i;
    if (i > 0 && in->placed[i].group != in->placed[i - 1].group)
      in->group_count++;
    in->group[i] = (uint32_t)in->group_count;
  }
  in->group_count += in->placed_count > 0;
  return true;
}

size_t judge__most_sessions(const judge *j) {
  size_t most = 1;
  for (size_t i = 0; i < j->shop->mounting_count; i++)
    if (j->shop->mountings[i].session_count > most)
      most = j->shop->mountings[i].session_count;
  return most;
}

/* ---- the fit on one scale ------------------------------------------------------------------- */

typedef struct trial {
  bool fitted;
  tenter_nested_products *products;
  tenter_nested_fit fit;
  double loglik; /* of the tensions: with the Jacobian of the scale */
} trial;

static void trial_release(trial *t) {
  if (t->fitted)
    tenter_nested_fit_release(&t->fit);
  tenter_nested_products_free(t->products);
  *t = (trial){0};
}

/* Too few data are no failure: the trial is then not fitted. */
static tenter_status try_scale(judge *j, population *p, bool log, size_t stride, trial *t,
                               tenter_error *error) {
  double jacobian;
  p->log = log;
  *t = (trial){0};
  tenter_status status =
      judge__products(j, p, &(product_columns){0}, stride, &t->products, &jacobian, error);
  if (status)
    return status;
  tenter_nested_options options = {
      .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE, .pool = j->pool};
  tenter_error reason;
  tenter_status fitted = tenter_nested_fit_run(t->products, &options, &t->fit, &reason);
  if (fitted == TENTER_OK) {
    t->fitted = true;
    t->loglik = t->fit.loglik + jacobian;
    return TENTER_OK;
  }
  return fitted == TENTER_INPUT ? TENTER_OK : tenter_fail(error, fitted, "%s", reason.message);
}

/* Tries both scales (on a part of a large shop) and keeps the likelier in *kept. */
static tenter_status choose_scale(judge *j, population *p, size_t stride, trial *kept,
                                  tenter_error *error) {
  trial logs = {0};
  tenter_status status = try_scale(j, p, false, stride, kept, error);
  if (!status)
    status = try_scale(j, p, true, stride, &logs, error);
  bool log =
      !status && kept->fitted && logs.fitted && logs.loglik > kept->loglik + log_scale_margin;
  p->log = log;
  trial other = log ? *kept : logs;
  *kept = log ? logs : *kept;
  trial_release(&other);
  return status;
}

static tenter_status fit(judge *j, population *p, tenter_error *error) {
  trial kept = {0};
  tenter_status status = TENTER_OK;
  size_t stride = 1 + p->inner->placed_count / SCALE_UNITS;
  bool fixed = j->settings->scale != TENTER_SCALE_AUTO;
  p->log = j->settings->scale == TENTER_SCALE_LOG;
  if (!fixed)
    status = choose_scale(j, p, stride, &kept, error);
  if (!status && (fixed || stride > 1)) {
    trial_release(&kept);
    status = try_scale(j, p, p->log, 1, &kept, error);
  }
  if (status) {
    trial_release(&kept);
    return status;
  }
  p->inner->products = kept.products;
  if (kept.fitted)
    p->inner->fit = kept.fit;
  return TENTER_OK;
}

/* ---- what the data tell --------------------------------------------------------------------- */

typedef struct counting {
  judge *j;
  struct population_inner *in;
  double *weights; /* by unit: sum of its fitted sessions */
} counting;

/* Which sessions are fitted, and what they are worth. */
static void count_units(void *context, size_t task, size_t worker) {
  (void)worker;
  const counting *c = context;
  judge *j = c->j;
  size_t end = (task + 1) * BLOCK_UNITS;
  for (size_t i = task * BLOCK_UNITS; i < end && i < c->in->placed_count; i++) {
    const tenter_mounting *m = &j->shop->mountings[c->in->placed[i].mounting];
    for (size_t k = judge__level_begin(j, m); k < m->first_session + m->session_count; k++)
      if (!isnan(j->sessions[k].u)) {
        j->sessions[k].state |= SESSION_FITTED;
        c->weights[i] += j->sessions[k].weight;
        c->in->fitted[i]++;
      }
  }
}

static void count_blocks(const counting *c) {
  const struct population_inner *in = c->in;
  for (size_t i = 0; i < in->placed_count; i++) {
    block_state *block = &in->blocks[in->placed[i].group >> 33];
    block->weights += c->weights[i];
    block->sessions += in->fitted[i];
    block->mountings += in->fitted[i] > 0;
    bool known = !(in->placed[i].group >> 32 & 1);
    bool opens = i == 0 || in->placed[i].group != in->placed[i - 1].group;
    block->lots += known && opens;
  }
}

static bool count_fitted(judge *j, struct population_inner *in) {
  counting c = {j, in, tenter_alloc(in->placed_count + 1, sizeof *c.weights)};
  if (!c.weights)
    return false;
  tenter_pool_run(j->pool, (in->placed_count + BLOCK_UNITS - 1) / BLOCK_UNITS, count_units, &c);
  count_blocks(&c);
  tenter_free(c.weights);
  return true;
}

/* Where no lot of a mesh tells its loss better than the prior does, it is the prior's; what that
 * needs is then worked out. */
static void flag_blocks(judge *j, population *p, const tenter_nested_solution *solution) {
  const struct population_inner *in = p->inner;
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++)
    in->blocks[slot].prior = true;
  for (size_t i = 0; solution && i < in->placed_count; i++) {
    tenter_nested_line line;
    block_state *block = &in->blocks[in->placed[i].group >> 33];
    bool opens = i == 0 || in->placed[i].group != in->placed[i - 1].group;
    if (!opens || !block->prior || !tenter_nested_group_line(solution, in->group[i], NULL, &line))
      continue;
    double scale = p->log ? 1 : line.level;
    double doubt = PRIOR_LOSS_DOUBT * j->settings->prior_loss_share * scale;
    block->prior = !(sqrt(line.cov.slope) <= doubt);
  }
  bool any = false;
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++)
    any |= in->blocks[slot].prior && in->blocks[slot].mountings > 0;
  if (any)
    judge__prior_blocks(j, p);
}

/* ---- lines ---------------------------------------------------------------------------------- */

static const tenter_line no_line = {NAN, NAN, NAN, NAN, NAN};

/* Where all lines of one node go. */
typedef struct asking {
  judge *j;
  population *p;
  const tenter_nested_solution *solution; /* NULL: prior only */
  size_t node;
  tenter_line *screens, *groups, *effects, *meshes; /* node_count each: by screen of the review;
                                                        group; slot */
} asking;

/* The line of a mounting where the prior tells the loss of its mesh. */
static tenter_line ask_prior(const asking *a, const tenter_mounting *m, line_data *d) {
  const judge *j = a->j;
  tenter_nested_line line;
  double hint = NAN;
  if (m->session_count > 0)
    hint = j->sessions[m->first_session + m->session_count - 1].adjusted;
  if (!judge__prior_line(j, a->p, mesh_slot(j, m->is.mesh), hint, &line))
    return no_line;
  judge__data_gather(j, a->p, m, m->first_session + m->session_count, d);
  if (d->count > 0)
    tenter_nested_line_update(&line, a->p->residual[a->node], d->count, d->u, d->y, d->weight);
  else
    judge__prior_young(j, a->p, m, a->p->residual[a->node], &line);
  return line_of(&line);
}

static tenter_line ask_screen(const asking *a, uint32_t mounting, line_data *d) {
  const tenter_mounting *m = &a->j->shop->mountings[mounting];
  const struct population_inner *in = a->p->inner;
  tenter_nested_line line;
  uint32_t unit = in->unit[mounting];
  if (!a->solution || in->blocks[mesh_slot(a->j, m->is.mesh)].prior ||
      !tenter_nested_unit_line(a->solution, unit, NULL, &line))
    return ask_prior(a, m, d);
  if (tenter_nested_unit_count(in->products, unit) == 0)
    judge__prior_young(a->j, a->p, m, a->p->residual[a->node], &line);
  return line_of(&line);
}

static void ask_block(void *context, size_t task, size_t worker) {
  (void)worker;
  const asking *a = context;
  const tenter_review *review = a->j->review;
  size_t end = (task + 1) * BLOCK_SCREENS, most = 1;
  if (end > review->screen_count)
    end = review->screen_count;
  for (size_t i = task * BLOCK_SCREENS; i < end; i++) {
    size_t sessions = a->j->shop->mountings[review->screens[i].mounting].session_count;
    most = sessions > most ? sessions : most;
  }
  line_data d = {0};
  a->j->failed[task] = !judge__data_room(&d, most);
  for (size_t i = task * BLOCK_SCREENS; i < end && !a->j->failed[task]; i++)
    a->screens[i * review->node_count + a->node] =
        ask_screen(a, (uint32_t)review->screens[i].mounting, &d);
  judge__data_release(&d);
}

static void ask_meshes(const asking *a) {
  for (uint32_t slot = 0; slot < a->j->mesh_slots; slot++) {
    tenter_nested_line line;
    bool told = a->solution && !a->p->inner->blocks[slot].prior &&
                tenter_nested_block_line(a->solution, slot, NULL, &line);
    a->meshes[slot * a->j->review->node_count + a->node] = told ? line_of(&line) : no_line;
  }
}

static void ask_groups(const asking *a) {
  const struct population_inner *in = a->p->inner;
  for (size_t i = 0; i < in->placed_count; i++) {
    tenter_nested_line line, effect;
    if (i > 0 && in->group[i] == in->group[i - 1])
      continue;
    size_t at = in->group[i] * a->j->review->node_count + a->node;
    bool told = a->solution && !in->blocks[in->placed[i].group >> 33].prior &&
                tenter_nested_group_line(a->solution, in->group[i], NULL, &line);
    if (told)
      tenter_nested_group_effect(a->solution, in->group[i], &effect, NULL);
    a->groups[at] = told ? line_of(&line) : no_line;
    a->effects[at] = told ? line_of(&effect) : no_line;
  }
}

static tenter_status ask_all(const asking *a, tenter_error *error) {
  size_t blocks = (a->j->review->screen_count + BLOCK_SCREENS - 1) / BLOCK_SCREENS;
  tenter_pool_run(a->j->pool, blocks, ask_block, (void *)a);
  ask_meshes(a);
  ask_groups(a);
  for (size_t i = 0; i < blocks; i++)
    if (a->j->failed[i])
      return tenter_fail_memory(error);
  return TENTER_OK;
}

/* ---- nodes ---------------------------------------------------------------------------------- */

/* Weak priors where the trade knows more than nothing: losses differ by a share of what is usual;
 * a session scatters about as its weight says. */
static tenter_nested_prior weak_prior(const judge *j, const population *p) {
  double level = 0, meshes = 0;
  for (uint32_t slot = 0; slot < j->mesh_slots; slot++)
    if (p->inner->blocks[slot].mountings > 0 && j->pattern[slot]) {
      level += j->pattern_inner[slot].level;
      meshes++;
    }
  double scale = p->log || meshes == 0 ? 1 : level / meshes;
  double loss = PRIOR_LOSS_DOUBT * j->settings->prior_loss_share * scale;
  return (tenter_nested_prior){.group_slope_scale = loss,
                               .unit_slope_scale = loss,
                               .residual_df = 4,
                               .residual_variance = 1};
}

/* In a large shop the components are as good as known, and the optimum stands for all nodes. */
static bool plug_in(const population *p) {
  const tenter_nested_fit *fitted = &p->inner->fit;
  return fitted->solution && (p->inner->placed_count > PLUG_IN_UNITS);
}

static void keep_components(population *p, size_t node, const tenter_nested_components *c) {
  p->residual[node] = c->residual;
  p->among_lots[node] = (tenter_line){
      .var_at_24h = c->group.level, .var_loss = c->group.slope, .cov = -c->group.cross};
  p->among_mountings[node] =
      (tenter_line){.var_at_24h = c->unit.level, .var_loss = c->unit.slope, .cov = -c->unit.cross};
}

static void single_node(judge *j, population *p) {
  static const tenter_nested_components none = {.residual = 1};
  j->review->node_count = 1;
  j->review->node_weight[0] = 1;
  keep_components(p, 0, p->inner->fit.solution ? &p->inner->fit.components : &none);
}

static tenter_status make_room(judge *j, const population *p, asking *a, tenter_error *error) {
  size_t nodes = j->review->node_count;
  a->screens = tenter_arena_alloc(j->arena, j->review->screen_count * nodes, sizeof *a->screens);
  a->groups = tenter_arena_alloc(j->arena, p->inner->group_count * nodes, sizeof *a->groups);
  a->effects = tenter_arena_alloc(j->arena, p->inner->group_count * nodes, sizeof *a->effects);
  a->meshes = tenter_arena_alloc(j->arena, j->mesh_slots * nodes, sizeof *a->meshes);
  size_t blocks = (j->review->screen_count + BLOCK_SCREENS - 1) / BLOCK_SCREENS;
  j->failed = tenter_arena_alloc(j->arena, blocks, sizeof *j->failed);
  bool done = a->screens && a->groups && a->effects && a->meshes && j->failed;
  return done ? TENTER_OK : tenter_fail_memory(error);
}

static tenter_status ask_nodes(judge *j, population *p, const tenter_nested_nodes *nodes, asking *a,
                               tenter_error *error) {
  j->review->node_count = nodes->count;
  tenter_status status = make_room(j, p, a, error);
  for (size_t k = 0; k < nodes->count && !status; k++) {
    tenter_nested_solution *solution = NULL;
    j->review->node_weight[k] = nodes->node[k].weight;
    keep_components(p, k, &nodes->node[k].components);
    status = tenter_nested_solve(p->inner->products, &nodes->node[k].components, j->pool, &solution,
                                 error);
    if (status)
      break;
    if (k == 0)
      flag_blocks(j, p, solution);
    a->solution = solution;
    a->node = k;
    status = ask_all(a, error);
    if (k == 0 && !p->inner->fit.solution)
      p->inner->heaviest = solution;
    else
      tenter_nested_solution_free(solution);
  }
  return status;
}

static tenter_status ask_optimum(judge *j, population *p, asking *a, tenter_error *error) {
  single_node(j, p);
  flag_blocks(j, p, p->inner->fit.solution);
  a->solution = p->inner->fit.solution;
  tenter_status status = make_room(j, p, a, error);
  return status ? status : ask_all(a, error);
}

static tenter_status ask(judge *j, population *p, asking *a, tenter_error *error) {
  if (plug_in(p) || tenter_nested_observations(p->inner->products) == 0)
    return ask_optimum(j, p, a, error);
  tenter_nested_options options = {
      .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE, .pool = j->pool};
  tenter_nested_prior prior = weak_prior(j, p);
  tenter_nested_nodes nodes = {0};
  tenter_error reason;
  tenter_status status =
      tenter_nested_nodes_run(p->inner->products, &options, &prior, &nodes, &reason);
  if (status == TENTER_INPUT)
    return ask_optimum(j, p, a, error); /* no mode: what the fit has, or the prior */
  if (status)
    return tenter_fail(error, status, "%s", reason.message);
  status = ask_nodes(j, p, &nodes, a, error);
  tenter_nested_nodes_release(&nodes);
  return status;
}

/* ---- all of it ------------------------------------------------------------------------------ */

static void give_lines(judge *j, const population *p, const asking *a) {
  size_t nodes = j->review->node_count;
  for (size_t i = 0; i < j->review->screen_count; i++) {
    tenter_review_screen *screen = &j->review->screens[i];
    bool aged = j->shop->mountings[screen->mounting].zero.at != TENTER_NO_TIME;
    const tenter_line *lines = &a->screens[i * nodes];
    screen->posterior.nodes = aged && !isnan(lines->at_24h) ? lines : NULL;
  }
  p->inner->group_lines = a->groups;
  p->inner->group_effects = a->effects;
  p->inner->mesh_lines = a->meshes;
}

tenter_status judge__population(judge *j, tenter_error *error) {
  population *p = tenter_arena_alloc(j->arena, 1, sizeof *p);
  struct population_inner *in = tenter_arena_alloc(j->arena, 1, sizeof *in);
  if (!p || !in)
    return tenter_fail_memory(error);
  p->inner = in;
  j->population = p;
  in->blocks = tenter_arena_alloc(j->arena, j->mesh_slots, sizeof *in->blocks);
  if (!in->blocks || !place_mountings(j, in))
    return tenter_fail_memory(error);
  judge__fittable(j);
  if (!count_fitted(j, in))
    return tenter_fail_memory(error);
  asking a = {.j = j, .p = p};
  tenter_status status = fit(j, p, error);
  if (!status)
    status = ask(j, p, &a, error);
  if (!status) {
    give_lines(j, p, &a);
    status = judge__population_report(j, p, error);
  }
  return status;
}

void judge__population_release(judge *j) {
  struct population_inner *in = j->population ? j->population->inner : NULL;
  if (!in)
    return;
  tenter_nested_solution_free(in->heaviest);
  if (in->fit.solution)
    tenter_nested_fit_release(&in->fit);
  tenter_nested_products_free(in->products);
  tenter_free(in->placed);
  tenter_free(in->unit);
  tenter_free(in->group);
  tenter_free(in->fitted);
  *in = (struct population_inner){0};
}
