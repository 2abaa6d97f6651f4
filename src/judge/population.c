/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every mounting's line from all mountings together.
 *
 * Outline: mountings are put in order of mesh and lot; their fitted sessions enter the nested model
 * as cross-products; the model is fitted on tension and on its logarithm and the likelier scale is
 * kept; the laws that remain plausible are weighed (population_clock.c); laws and variance
 * components are integrated over by a few nodes (shops large enough that they are as good as known
 * take the optimum alone); then every screen, lot and mesh is asked
 * for its line. A mesh whose loss the data tell less well than the prior does takes the prior's
 * (population_prior.c). */
#include <stdlib.h>
#include <string.h>

#include "population_inner.h"
#include "tenter/base/alloc.h"

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
 * are kept but not fitted; nor are misread ones, nor (is_fitted) those of a meter that has shifted.
 */
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

void judge__data_gather(const judge *j, const population *p, tenter_clock clock,
                        const tenter_mounting *m, size_t end, line_data *d) {
  d->count = 0;
  for (size_t i = judge__level_begin(j, m); i < end; i++) {
    const session_value *value = &j->sessions[i];
    if (!judge__is_fitted(value))
      continue;
    d->u[d->count] = tenter_clock_u(clock, value->u);
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
  tenter_status status = judge__products(j, p, p->clock, &(product_columns){0}, stride,
                                         &t->products, &jacobian, error);
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
  if (!status)
    status = judge__clocks(j, p, error);
  if (!status && !fixed && !tenter_clock_is_log(p->clock)) {
    trial_release(&kept);
    status = choose_scale(j, p, stride, &kept, error);
  }
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
      if (judge__is_fitted(&j->sessions[k])) {
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

/* ---- all of it ------------------------------------------------------------------------------ */

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
  tenter_status status = fit(j, p, error);
  if (!status)
    status = judge__use(j, p, error);
  if (!status)
    status = judge__population_lines(j, p, error);
  if (!status)
    status = judge__population_report(j, p, error);
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
