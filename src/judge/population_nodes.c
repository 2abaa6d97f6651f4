/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every mounting's, lot's and mesh's line at each node: laws that remain plausible and variance
 * components, integrated over together. A shop so large that both are as good as known takes the
 * optimum alone. */
#include "population_inner.h"
#include "tenter/base/alloc.h"
#include "tenter/stats/nested_nodes.h"

enum { BLOCK_SCREENS = 512, PLUG_IN_UNITS = 4000 };

/* ---- which meshes tell their loss ----------------------------------------------------------- */

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
  const tenter_nested_products *products; /* on the node's clock */
  const tenter_nested_solution *solution; /* of those; NULL: prior only */
  const design *use;                      /* the columns of products, on the node's clock */
  const use_rates *rates;                 /* of those */
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
  judge__data_gather(j, a->p, a->p->node_clock[a->node], m, m->first_session + m->session_count, d);
  if (d->count > 0)
    tenter_nested_line_update(&line, a->p->residual[a->node], d->count, d->u, d->y, d->weight);
  else
    judge__prior_young(j, a->p, m, a->node, &line);
  return line_of(&line);
}

/* A law that levels off is known by its curve alone, and others like it may go on otherwise: the
 * loss beyond the ages that were read is in doubt, by a share of it. */
static void doubt_law(const asking *a, uint32_t unit, tenter_line *line) {
  if (tenter_clock_is_log(a->p->node_clock[a->node]))
    return;
  double u = tenter_nested_unit_mean_u(a->products, unit);
  double variance = squared(a->j->settings->law_doubt * line->loss);
  line->var_loss += variance;
  line->cov += u * variance;
  line->var_at_24h += u * u * variance;
}

/* Where a screen's line is taken: what has been done to it by now, and what is usually done to
 * screens from there on; how far single screens differ in that is in doubt. */
static bool ask_used(const asking *a, uint32_t mounting, tenter_nested_line *line) {
  const tenter_mounting *m = &a->j->shop->mountings[mounting];
  uint32_t unit = a->p->inner->unit[mounting];
  double level[MOST_COLUMNS], slope[MOST_COLUMNS], doubt = 0;
  double age = tenter_mounting_age_hours(m, a->j->shop->as_of);
  double u = tenter_clock_u(a->use->clock, age_u(fmax(age, 1)));
  double then = fmax(age, 1) + 24 * a->j->settings->horizon_days;
  double ahead = tenter_clock_u(a->use->clock, age_u(then)) - u;
  if (a->use->columns == 0 || isnan(u))
    return tenter_nested_unit_line(a->solution, unit, NULL, line);
  judge__causes_at(a->j, a->use, m, a->j->shop->as_of, level, slope);
  double gamma[MOST_COLUMNS] = {0}, se;
  for (size_t c = 0; c < a->use->columns && ahead > 1e-9; c++) {
    bool once = a->use->column[c] == CAUSE_PRINTED && level[c] > 0;
    double rate = once ? 0 : a->rates->gain[c] / ahead;
    slope[c] += rate;
    level[c] -= rate * u;
    if (!tenter_nested_covariate(a->solution, c, &gamma[c], &se) || once)
      gamma[c] = 0;
  }
  for (size_t c = 0; c < a->use->columns && ahead > 1e-9; c++)
    for (size_t k = 0; k < a->use->columns; k++)
      doubt += gamma[c] * gamma[k] * a->rates->spread[c * a->use->columns + k] / (ahead * ahead);
  if (!tenter_nested_unit_line(a->solution, unit, &(tenter_nested_at){level, slope}, line))
    return false;
  line->cov.slope += doubt;
  line->cov.cross -= u * doubt;
  line->cov.level += u * u * doubt;
  return true;
}

/* What the use of mountings adds to the scatter of their losses, at the node. */
static void scatter_use(const asking *a) {
  double gamma[MOST_COLUMNS], se, variance = 0;
  size_t columns = a->use->columns;
  for (size_t c = 0; c < columns; c++)
    if (!tenter_nested_covariate(a->solution, c, &gamma[c], &se))
      gamma[c] = 0;
  for (size_t c = 0; c < columns; c++)
    for (size_t k = 0; k < columns; k++)
      variance += gamma[c] * gamma[k] * a->rates->scatter[c * columns + k];
  a->p->among_mountings[a->node].var_loss += fmax(variance, 0);
}

static tenter_line ask_screen(const asking *a, uint32_t mounting, line_data *d) {
  const tenter_mounting *m = &a->j->shop->mountings[mounting];
  const struct population_inner *in = a->p->inner;
  tenter_nested_line line;
  uint32_t unit = in->unit[mounting];
  if (!a->solution || in->blocks[mesh_slot(a->j, m->is.mesh)].prior ||
      !ask_used(a, mounting, &line))
    return ask_prior(a, m, d);
  if (tenter_nested_unit_count(in->products, unit) == 0)
    judge__prior_young(a->j, a->p, m, a->node, &line);
  tenter_line out = line_of(&line);
  doubt_law(a, unit, &out);
  return out;
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
  tenter_nested_at usual = {a->rates->level, a->rates->slope};
  for (uint32_t slot = 0; slot < a->j->mesh_slots; slot++) {
    tenter_nested_line line;
    bool told = a->solution && !a->p->inner->blocks[slot].prior &&
                tenter_nested_block_line(a->solution, slot, &usual, &line);
    a->meshes[slot * a->j->review->node_count + a->node] = told ? line_of(&line) : no_line;
  }
}

static void ask_groups(const asking *a) {
  tenter_nested_at usual = {a->rates->level, a->rates->slope};
  const struct population_inner *in = a->p->inner;
  for (size_t i = 0; i < in->placed_count; i++) {
    tenter_nested_line line, effect;
    if (i > 0 && in->group[i] == in->group[i - 1])
      continue;
    size_t at = in->group[i] * a->j->review->node_count + a->node;
    bool told = a->solution && !in->blocks[in->placed[i].group >> 33].prior &&
                tenter_nested_group_line(a->solution, in->group[i], &usual, &line);
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
 * no two mountings lose quite alike; a session scatters about as its weight says. */
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
                               .residual_variance = 1,
                               .unit_slope_power = 1};
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
  p->node_clock[0] = p->clock;
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

/* One clock with one node of the components. */
typedef struct pair {
  size_t clock, node;
  double weight;
} pair;

/* Each clock with some of the nodes, so that both keep their weights: walks along clocks and nodes
 * at once, one pair for each stretch. Nodes come in an order that has nothing to do with their
 * weights (steps of the golden section), so that a clock doesn't get the central ones alone. */
static size_t pair_up(const tenter_clocks *clocks, const tenter_nested_nodes *nodes, pair *pairs) {
  const double golden = 0.6180339887498949, nothing = 1e-9;
  size_t order[64] = {0}, count = 0, c = 0, n = 0;
  for (size_t k = 0; k < nodes->count; k++) {
    double place = fmod((double)k * golden, 1);
    size_t i = k;
    for (; i > 0 && fmod((double)order[i - 1] * golden, 1) > place; i--)
      order[i] = order[i - 1];
    order[i] = k;
  }
  double clock_left = clocks->weight[0], node_left = nodes->node[order[0]].weight;
  while (c < clocks->count && n < nodes->count) {
    double weight = fmin(clock_left, node_left);
    if (weight > nothing)
      pairs[count++] = (pair){c, order[n], weight};
    clock_left -= weight;
    node_left -= weight;
    if (clock_left <= nothing && ++c < clocks->count)
      clock_left += clocks->weight[c];
    else if (node_left <= nothing && ++n < nodes->count)
      node_left += nodes->node[order[n]].weight;
    else if (clock_left > nothing && node_left > nothing)
      break;
  }
  return count;
}

/* Lines of one pair, which becomes node k of the review. */
static tenter_status ask_pair(judge *j, population *p, const tenter_nested_products *products,
                              const tenter_nested_components *components, asking *a,
                              tenter_error *error) {
  tenter_nested_solution *solution = NULL;
  keep_components(p, a->node, components);
  tenter_status status = tenter_nested_solve(products, components, j->pool, &solution, error);
  if (status)
    return status;
  if (a->node == 0)
    flag_blocks(j, p, solution);
  a->products = products;
  a->solution = solution;
  scatter_use(a);
  status = ask_all(a, error);
  if (a->node == 0 && !p->inner->fit.solution)
    p->inner->heaviest = solution; /* without a fit no columns are used: its products are kept */
  else
    tenter_nested_solution_free(solution);
  return status;
}

/* Products on a clock: those of the fit where it is the fit's. *made is to be freed. */
static tenter_status products_on(judge *j, population *p, tenter_clock clock, design *use,
                                 tenter_nested_products **made,
                                 const tenter_nested_products **products, tenter_error *error) {
  double jacobian;
  *made = NULL;
  *products = p->inner->products;
  *use = p->inner->use;
  use->clock = clock;
  if (use->columns == 0 && clock.growth == p->clock.growth && clock.ease == p->clock.ease)
    return TENTER_OK;
  product_columns columns = {use->columns, use->columns > 0 ? judge__cause_rows : NULL, use};
  tenter_status status = judge__products(j, p, clock, &columns, 1, made, &jacobian, error);
  *products = *made;
  return status;
}

static tenter_status ask_nodes(judge *j, population *p, const tenter_nested_nodes *nodes, asking *a,
                               tenter_error *error) {
  pair pairs[sizeof p->residual / sizeof *p->residual];
  size_t count = j->review->node_count = pair_up(&p->clocks, nodes, pairs);
  tenter_nested_products *made = NULL;
  const tenter_nested_products *products = NULL;
  design use;
  use_rates rates;
  tenter_status status = make_room(j, p, a, error);
  a->use = &use;
  a->rates = &rates;
  for (size_t k = 0; k < count; k++) {
    j->review->node_weight[k] = pairs[k].weight;
    p->node_clock[k] = p->clocks.clock[pairs[k].clock];
  }
  for (a->node = 0; a->node < count && !status; a->node++) {
    const pair *at = &pairs[a->node];
    if (a->node == 0 || at->clock != pairs[a->node - 1].clock) {
      tenter_nested_products_free(made);
      made = NULL;
      status = products_on(j, p, p->node_clock[a->node], &use, &made, &products, error);
      if (!status)
        status = judge__use_rates(j, p, &use, &rates, error);
    }
    if (!status)
      status = ask_pair(j, p, products, &nodes->node[at->node].components, a, error);
  }
  tenter_nested_products_free(made);
  a->use = NULL;
  a->rates = NULL;
  return status;
}

static tenter_status ask_optimum(judge *j, population *p, asking *a, tenter_error *error) {
  static const design no_use = {.columns = 0};
  static const use_rates no_rates = {.level = {0}};
  p->inner->use.columns = 0; /* the fit has none */
  a->use = &no_use;
  a->rates = &no_rates;
  single_node(j, p);
  flag_blocks(j, p, p->inner->fit.solution);
  a->products = p->inner->products;
  a->solution = p->inner->fit.solution;
  tenter_status status = make_room(j, p, a, error);
  return status ? status : ask_all(a, error);
}

/* The nodes of the components on the likeliest clock, which stand for those on all others. */
static tenter_status find_nodes(judge *j, population *p, tenter_nested_nodes *nodes,
                                tenter_error *error) {
  tenter_nested_options options = {
      .group_max = TENTER_NESTED_LINE, .unit_max = TENTER_NESTED_LINE, .pool = j->pool};
  tenter_nested_prior prior = weak_prior(j, p);
  tenter_nested_products *made = NULL;
  const tenter_nested_products *products = NULL;
  size_t heaviest = 0;
  design use;
  for (size_t c = 1; c < p->clocks.count; c++)
    if (p->clocks.weight[c] > p->clocks.weight[heaviest])
      heaviest = c;
  tenter_status status =
      products_on(j, p, p->clocks.clock[heaviest], &use, &made, &products, error);
  if (!status)
    status = tenter_nested_nodes_run(products, &options, &prior, nodes, error);
  tenter_nested_products_free(made);
  return status;
}

static tenter_status ask(judge *j, population *p, asking *a, tenter_error *error) {
  if (plug_in(p) || tenter_nested_observations(p->inner->products) == 0)
    return ask_optimum(j, p, a, error);
  if (!p->inner->fit.solution) /* no likelihood to weigh laws by */
    p->clocks = (tenter_clocks){.count = 1, .clock = {p->clock}, .weight = {1}};
  tenter_nested_nodes nodes = {0};
  tenter_error reason;
  tenter_status status = find_nodes(j, p, &nodes, &reason);
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
    const tenter_line *lines = a->screens ? &a->screens[i * nodes] : NULL;
    screen->posterior.nodes = aged && lines && !isnan(lines->at_24h) ? lines : NULL;
  }
  p->inner->group_lines = a->groups;
  p->inner->group_effects = a->effects;
  p->inner->mesh_lines = a->meshes;
}

tenter_status judge__population_lines(judge *j, population *p, tenter_error *error) {
  asking a = {.j = j, .p = p};
  tenter_status status = ask(j, p, &a, error);
  if (!status)
    give_lines(j, p, &a);
  return status;
}
